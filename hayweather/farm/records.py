"""What a farm file says, as frozen records in SI units.

Moistures are percent wet basis, as people say them; the name tells. A field
that was not given and has no default is None.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from hayweather.catalog import DEFAULT_BALER, DEFAULT_CROP, rigs
from hayweather.catalog.balers import SOFT_SHARE, WET_SHARE

Ground = Literal["dry", "damp", "wet"]
UnitSystem = Literal["us", "metric"]
Language = Literal["en", "es"]
HourConvention = Literal["start", "center", "end"]
Decimals = Literal["point", "comma"]
PriceBy = Literal["leaf", "rfv", "class"]


@dataclass(frozen=True)
class Site:
    """A place with its own weather. North and east are positive degrees."""

    name: str
    latitude: float
    longitude: float
    elevation_m: float | None = None
    timezone: str | None = None
    dew_point_offset_k: float = 0.0
    clear_night_air_offset_k: float = 0.0
    ground: Ground = "dry"


@dataclass(frozen=True)
class WeatherChoice:
    """Where the weather is taken from: a service or a file, never both.

    `now` is only ever set together with `invented`; `forecast_runs` asks the
    service for its runs beside the forecast; `contact` tells the service who asks;
    `believe` names checks of the weather (`hayweather.weather.catalog.CHECKS`) that
    shall caution, not refuse; `refresh_min` is the time after which a page that is
    served live asks again; `columns` is a map of the file's columns: a table,
    the name of a shipped map, or the path of a file.
    """

    service: str | None = None
    file: Path | None = None
    terms: Literal["non-commercial"] | None = None
    contact: str | None = None
    forecast_runs: bool = False
    timezone: str | None = None
    wind_height_m: float | None = None
    hour: HourConvention | None = None
    invented: bool = False
    now: np.datetime64 | None = None
    believe: tuple[str, ...] = ()
    refresh_min: float = 60.0
    columns: object = None


@dataclass(frozen=True)
class Station:
    """Something that measures the air: a file that grows, an official station, or a sensor.

    One of `file`, `observed` and `topic` is set.

    Attributes
    ----------
    observed
        Service whose observing station nearest the field is asked; `id` names another one.
    broker, port, topic, user, tls
        Where messages of a sensor come from.
    latitude, longitude, elevation_m
        Of the station; None: it stands in the field.
    timezone, hour, dates, units, temperature_unit, wind_unit, rain_unit
        What the file or message does not say.
    temperature, humidity, dew_point, wind, rain, time
        Names of the columns or keys, where their own do not tell.
    """

    name: str
    file: Path | None = None
    observed: str | None = None
    id: str | None = None
    broker: str | None = None
    port: int = 1883
    topic: str | None = None
    user: str | None = None
    tls: bool = False
    latitude: float | None = None
    longitude: float | None = None
    elevation_m: float | None = None
    timezone: str | None = None
    hour: HourConvention | None = None
    dates: Literal["month first", "day first"] | None = None
    wind_height_m: float | None = None
    units: UnitSystem | None = None
    temperature_unit: str | None = None
    wind_unit: str | None = None
    rain_unit: str | None = None
    temperature: str | None = None
    humidity: str | None = None
    dew_point: str | None = None
    wind: str | None = None
    rain: str | None = None
    time: str | None = None


@dataclass(frozen=True)
class Field:
    """One field and its cutting. Times are UTC.

    Attributes
    ----------
    crop
        One of `hayweather.catalog.CROPS`.
    cured
        True: cured by the grower's word; a time: cured from then on; None:
        worked out from `cut_at`.
    windrow_mass_kg_m2
        Dry matter per square meter of windrow; given, or from yield and widths.
    crude_protein_percent, ndf_percent, adf_percent
        Of the standing crop, % of dry matter; None where not known.
    baler, rig
        Name of the one that works there; None for any of the farm.
    station
        Name of the station that measures its air; None: the nearest of the farm's.
    baled_m2
        What of its area has been baled this night by the log; `area_m2` is what is left.
    baled_before_m2
        What the log has as baled the night before; nobody knows whether `area_m2` says so.
    """

    name: str
    site: str
    crop: str = DEFAULT_CROP
    cutting: int | None = None
    area_m2: float | None = None
    yield_kg_m2: float | None = None
    swath_width_m: float | None = None
    swaths_per_windrow: int = 1
    windrow_width_m: float | None = None
    windrow_mass_kg_m2: float = 1.5
    conditioned: bool = True
    cut_at: np.datetime64 | None = None
    raked_at: np.datetime64 | None = None
    cured: bool | np.datetime64 | None = None
    moisture_now_wb: float | None = None
    ground: Ground | None = None
    irrigated_at: np.datetime64 | None = None
    irrigation_due: np.datetime64 | None = None
    finish_before: np.datetime64 | None = None
    crude_protein_percent: float | None = None
    ndf_percent: float | None = None
    adf_percent: float | None = None
    baler: str | None = None
    rig: str | None = None
    station: str | None = None
    baled_m2: float = 0.0
    baled_before_m2: float = 0.0

    @property
    def all_baled(self) -> bool:
        """Whether nothing of it is left to bale, by the log."""
        return self.baled_m2 > 0 and not self.area_m2


@dataclass(frozen=True)
class Preservative:
    """A preservative by its label: rate in its own words, moisture it allows.

    Attributes
    ----------
    rate
        As the label writes it.
    ceiling_wb
        Moisture up to which the label allows baling [% wb].
    """

    rate: str
    ceiling_wb: float


@dataclass(frozen=True)
class Baler:
    """A baler; None means the default of its `kind`, one of `hayweather.catalog.BALERS`.

    Moistures: `hayweather.farm.bands`; field efficiency [-] and speeds:
    `hayweather.baling.machines`. `windrow_limit_kg_m2` is the heaviest windrow
    it takes, dry matter; None where none is known. `soft_share` is the least share of
    the leaf that is soft [-], `wet_share` the largest share of the hay above the bale's
    ceiling [-]. `leaf_loss` is what the farm's own trial found beside the catalog's loss
    curve [-], with its range. `move_minutes` is from one
    field to another of the same site, set-up included, `road_speed_m_s` between sites.
    `least_visit_h` is the work for which it goes to a field, where that does not finish it.
    """

    name: str
    kind: str = DEFAULT_BALER
    bale_size: str | None = None
    bale_mass_kg: float | None = None
    capacity_kg_h: float | None = None
    band_wb: tuple[float, float] | None = None
    leaf_minimum_wb: float | None = None
    stem_limit_wb: float | None = None
    preservative: Preservative | None = None
    market: Literal["domestic", "export"] = "domestic"
    useful_hours: float = 2.0
    soft_share: float = SOFT_SHARE
    wet_share: float = WET_SHARE
    leaf_loss: float | None = None
    leaf_loss_range: tuple[float, float] | None = None
    field_efficiency: float | None = None
    speed_min_m_s: float | None = None
    speed_max_m_s: float | None = None
    windrow_limit_kg_m2: float | None = None
    move_minutes: float = 30.0
    road_speed_m_s: float = 7.0
    least_visit_h: float = 1.0


@dataclass(frozen=True)
class Rig:
    """A rewetting rig.

    Attributes
    ----------
    fill_minutes
        For an empty tank, the way there and back too.
    efficiency
        Part of the water that stays in the hay on a calm damp night [-].
    vapor_loss, wind_loss, lag_loss
        How that part falls (`hayweather.baling.machines`), all assumed.
    lag_minutes
        From the rig to the baler behind it.
    rate_step_l_t
        Smallest change of the rate that can be dialed.
    burner_efficiency
        Part of the fuel's heat that reaches the water [-], assumed.
    leaf_share, top_share
        Part of the water that the leaf takes, and that falls on the upper half of the
        windrow [-]; None: not known, so assumed and drawn (`hayweather.baling.water`).
    water_in_c, water_out_c
        Water before and after the burner, and the most it may be there; the latter
        None where not known.
    in_tank_l
        Water aboard now; None: the tank is full.
    """

    name: str
    tank_l: float
    rate_min_l_t: float
    rate_max_l_t: float
    flow_max_l_min: float
    fill_minutes: float
    heated: bool = False
    fuel_rate_l_h: float | None = None
    efficiency: float = rigs.DEFAULTS["efficiency"].value
    spray_wind_limit_m_s: float | None = None
    target_wb: float | None = None
    vapor_loss: float = rigs.DEFAULTS["vapor_loss"].value
    wind_loss: float = rigs.DEFAULTS["wind_loss"].value
    lag_loss: float = rigs.DEFAULTS["lag_loss"].value
    lag_minutes: float = rigs.DEFAULTS["lag_minutes"].value
    rate_step_l_t: float = rigs.DEFAULTS["rate_step_l_t"].value
    leaf_share: float | None = None
    top_share: float | None = None
    speed_min_m_s: float | None = None
    speed_max_m_s: float | None = None
    burner_efficiency: float = rigs.DEFAULTS["burner_efficiency"].value
    water_in_c: float = rigs.DEFAULTS["water_in_c"].value
    water_out_c: float | None = None
    in_tank_l: float | None = None


@dataclass(frozen=True)
class Shift:
    """Hours that a crew works, as minutes after local midnight; may pass midnight.

    Attributes
    ----------
    start_minute, end_minute
        After local midnight [min].
    crew
        Its name, empty for nobody in particular.
    """

    start_minute: int
    end_minute: int
    crew: str = ""


@dataclass(frozen=True)
class Road:
    """The way between two places, either way round.

    Attributes
    ----------
    origin, goal
        Names of fields or sites.
    minutes
        From leaving the one to being ready in the other [min].
    """

    origin: str
    goal: str
    minutes: float


@dataclass(frozen=True)
class Money:
    """Prices and costs; None is "not given", a default elsewhere is called assumed.

    All amounts are in one currency, the farm's own. Percents are a year;
    `taxes_and_insurance_percent` and `repairs_percent` are of the rig's price.
    `price_by` says what hay is paid by (`hayweather.baling.value.HayPrice`): `price_rfv`
    is the relative feed value that the price is for, `rfv_prices` pairs of feed value and
    price [/kg], `class_prices` pairs of class and price [/kg].
    `late_cost_per_kg_day` is for a day after what a field is due for. `allow_dry` lets the
    plan offer dry hay at a loss of leaf, down to a leaf
    moisture of `never_dry_below_wb`.
    """

    currency: str | None = None
    price_per_kg: float | None = None
    price_by: PriceBy = "leaf"
    price_rfv: float | None = None
    rfv_prices: tuple[tuple[float, float], ...] | None = None
    class_prices: tuple[tuple[str, float], ...] | None = None
    lost_leaf_cost_per_kg: float | None = None
    wet_bale_cost_per_kg: float | None = None
    fuel_price_per_l: float | None = None
    water_price_per_l: float | None = None
    wage_per_h: float | None = None
    wait_cost_per_kg_day: float | None = None
    late_cost_per_kg_day: float | None = None
    rain_loss_percent: float | None = None
    baler_cost_per_h: float | None = None
    rig_cost_per_h: float | None = None
    rig_price: float | None = None
    rig_salvage: float | None = None
    rig_years: float | None = None
    interest_percent: float | None = None
    taxes_and_insurance_percent: float | None = None
    repairs_percent: float | None = None
    allow_dry: bool = False
    never_dry_below_wb: float | None = None


@dataclass(frozen=True)
class RiskLimits:
    """When hay counts as sure enough to go [%]; None takes what is usual.

    Attributes
    ----------
    ready_percent
        Least chance of ready hay.
    wet_percent
        Largest chance of too wet or not cured.
    """

    ready_percent: float | None = None
    wet_percent: float | None = None


@dataclass(frozen=True)
class Tuning:
    """Multipliers and offsets that `hayweather tune` fitted to readings."""

    windrow_mass: float = 1.0
    sky_view: float | None = None
    dew_point_offset_k: float = 0.0
    leaf_moisture: float = 1.0
    stem_moisture: float = 1.0
    rig_efficiency: float | None = None


@dataclass(frozen=True)
class Farm:
    """A whole farm file.

    `rest_h` is the rest in one piece that a crew needs; between two of them lie
    at most 24 h less it. `decimals` is the sign before tenths in what people read;
    None: as the language and units have it. `path` is the file it came from, for
    messages, `log` the file of its log; both None when built in code.
    `notes` are sentences in the farm's language: what was taken as given,
    resolved or assumed while reading. `out_of_order` are machines that do not run, and
    since when (UTC), by the log.
    """

    name: str
    sites: dict[str, Site]
    fields: dict[str, Field]
    balers: dict[str, Baler]
    weather: WeatherChoice
    units: UnitSystem = "us"
    language: Language = "en"
    rigs: dict[str, Rig] | None = None
    shifts: tuple[Shift, ...] = ()
    roads: tuple[Road, ...] = ()
    rest_h: float = 8.0
    money: Money = Money()
    risk: RiskLimits = RiskLimits()
    tuning: Tuning = Tuning()
    path: Path | None = None
    notes: tuple[str, ...] = ()
    log: Path | None = None
    decimals: Decimals | None = None
    stations: tuple[Station, ...] = ()
    out_of_order: tuple[tuple[str, np.datetime64], ...] = ()
