"""Bondville, Illinois, 1998: skin by infrared thermometer, a wetness sensor, longwave, soil.

NOAA/ARL surface-flux site of T. Meyers, 40.01 N 88.37 W, 213 m, as carried by the
public repository of the Noah land-surface model (US government data). Half-hours,
standard time UTC-6, stamped at their end; air at 3 m, wind at 6 and 10 m, ground
heat positive into the ground. Soybean and stubble, not hay. 18 June to 17 July ride
with the tests (tests/data/README.md); April to July lie in ``measured`` of the folder that
HAYWEATHER_RECORDED names.

Left out: the skin of 31 July from 03:00, where the thermometer reads a constant
-0.03 C, and two half-hours of 14 July 16:30 and 17:00, 9 and 20 K below the air in
full sun. The soil thermometers lie in soil only from 15 July on: before that all
three follow the skin, without damping or delay by depth.
"""

import os
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
from measured.balance import Nights

from hayweather.weather.record import HourlyWeather, Source
from hayweather.windrow.forcing import Place, soil_temperature
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.sky import (
    clear_sky_shortwave,
    derive_cloud,
    extraterrestrial_shortwave,
    sun_elevation,
)
from hayweather.windrow.trajectory import WindrowTrajectory
from hayweather.windrow.vapor import dew_point, saturation_vapor_pressure, wind_at_two_meters

EXTRACT = Path(__file__).parents[1] / "data" / "bondville_1998_june_july.csv.gz"
PLACE = Place(40.01, -88.37, 213.0)
BEHIND_UTC = pd.Timedelta("6h")
WIND_HEIGHT_M = 10.0
HOUR, QUARTER = pd.Timedelta("1h"), pd.Timedelta("15min")
SPIN_UP_H, START_H = 24, 14
DUSK, DAWN, NOON = 18, 30, 36  # hours from midnight of the evening's day
EVENING, MORNING = 21, 29
WET_V = 0.10  # fixed before any run; 0.08 and 0.12 are shown beside it
SATURATED = 1 - 1e-9
WET_FILM_DB = 1e-4  # kg of free water per kg of the top layer
STUCK_SKIN_FROM = pd.Timestamp("1998-07-31T03:00")
BAD_SKIN = (pd.Timestamp("1998-07-14T16:30"), pd.Timestamp("1998-07-14T17:00"))


def recorded_file() -> Path | None:
    """The whole series, where HAYWEATHER_RECORDED has it."""
    named = os.environ.get("HAYWEATHER_RECORDED")
    path = Path(named, "measured", "bondville_1998_apr_jul.csv.gz") if named else None
    return path if path and path.exists() else None


@cache
def read(path: Path) -> pd.DataFrame:
    """Half-hours by their end in standard time, units as in the file, faulty skin as missing."""
    table = pd.read_csv(path, parse_dates=["time_end_lst"]).set_index("time_end_lst")
    faulty = (table.index >= STUCK_SKIN_FROM) | table.index.isin(BAD_SKIN)
    table.loc[faulty, "skin_c"] = np.nan
    sun = table.shortwave_w_m2  # two half-hours are missing
    return table.assign(shortwave_w_m2=sun.interpolate(limit=2, limit_area="inside"))


def vapor_kpa(table: pd.DataFrame) -> np.ndarray:
    """Vapor pressure; humidity of the sensor above 100 % counts as 100."""
    humidity = table.rh_pct.clip(upper=100.0).to_numpy() / 100
    return humidity * saturation_vapor_pressure(table.air_c.to_numpy())


def hours_of(table: pd.DataFrame) -> pd.DataFrame:
    """The weather as a forecast would give it: hours by their start, standard time.

    Instants are the mean of the half-hours on both sides; no cloud, no longwave.
    """
    instants = pd.DataFrame(
        {
            "air_temperature_c": table.air_c,
            "dew_point_c": pd.Series(dew_point(vapor_kpa(table)), table.index),
            "wind_speed_m_s": table.wind10_m_s.clip(lower=0.0),
            "pressure_kpa": table.pressure_hpa / 10,
        }
    )
    hours = instants.rolling(2).mean().shift(-1)
    hours = hours[hours.index.minute == 0]
    sun = table.shortwave_w_m2.clip(lower=0.0).rolling(2).mean()
    rain = table.rain_mm.rolling(2).sum()
    for name, values in (("shortwave_w_m2", sun), ("rain_mm", rain)):
        hours[name] = values.set_axis(values.index - HOUR).reindex(hours.index)
    return hours


@dataclass(frozen=True)
class Evenings:
    """Nights as lanes of 48 hours from 14:00 of the day before the evening's day."""

    days: tuple[pd.Timestamp, ...]
    weather: HourlyWeather

    def quarters(self, lane: int) -> pd.DatetimeIndex:
        """Quarter-hour boundaries of a lane, standard time."""
        begin = self.days[lane] + (START_H - SPIN_UP_H) * HOUR
        return pd.date_range(begin, periods=4 * self.weather.hours + 1, freq=QUARTER)


def evenings(table: pd.DataFrame) -> Evenings:
    """Every evening of the series that has its two days."""
    hours = hours_of(table)
    length = SPIN_UP_H + 24
    days = pd.date_range(table.index[0].normalize() + 24 * HOUR, table.index[-1], freq="D")
    kept, frames = [], []
    for day in days:
        begin = day + (START_H - SPIN_UP_H) * HOUR
        frame = hours.reindex(pd.date_range(begin, periods=length, freq=HOUR))
        if not frame.isna().any(axis=None):
            kept.append(day)
            frames.append(frame)
    columns = {name: np.stack([each[name] for each in frames], axis=1) for name in hours}
    starts = [frame.index[0] + BEHIND_UTC for frame in frames]
    weather = HourlyWeather(
        np.array(starts, dtype="datetime64[s]"), columns, WIND_HEIGHT_M, Source("Bondville 1998")
    )
    return Evenings(tuple(kept), weather)


def run_windrow(nights: Evenings, place: Place = PLACE, **changed) -> WindrowTrajectory:
    """The whole windrow as by a forecast, from equilibrium at 14:00."""
    begins = np.zeros((nights.weather.hours, nights.weather.lanes), dtype=bool)
    begins[0] = True
    windrow = WindrowParameters(**changed)
    return run(nights.weather, place, windrow, equilibrium_starts=begins)


def half_hours_of_nights(table: pd.DataFrame) -> Nights:
    """21 to 05 h where everything that the balance needs was measured."""
    middle = table.index - pd.Timedelta("15min")
    dark = (middle.hour >= EVENING) | (middle.hour < MORNING - 24)
    needed = ["air_c", "rh_pct", "wind10_m_s", "longwave_in_w_m2", "skin_c", "ground_heat_w_m2"]
    chosen = dark & table[needed].notna().all(axis=1).to_numpy()
    part = table[chosen]
    wind = part.wind10_m_s.clip(lower=0.0).to_numpy()
    return Nights(
        period=part.index.month.to_numpy(),
        air_c=part.air_c.to_numpy(),
        vapor_kpa=vapor_kpa(part),
        wind_2m_m_s=wind_at_two_meters(wind, WIND_HEIGHT_M),
        pressure_kpa=part.pressure_hpa.to_numpy() / 10,
        longwave_w_m2=part.longwave_in_w_m2.to_numpy(dtype=float),
        skin_c=part.skin_c.to_numpy(),
        soil_heat_w_m2=part.ground_heat_w_m2.to_numpy(dtype=float),
        latent_heat_flux_w_m2=part.latent_w_m2.to_numpy(dtype=float),
        cloud_of_the_day=cloud_of_the_day(table)[chosen],
        cloud_held=cloud_of_the_day(table, held=True)[chosen],
    )


def cloud_of_the_day(table: pd.DataFrame, held: bool = False) -> np.ndarray:
    """Cloud of each half-hour as the model derives it from the sun; or just held from dusk on."""
    hours = hours_of(table)
    times = (hours.index + BEHIND_UTC).to_numpy(dtype="datetime64[s]")[:, None]
    above = extraterrestrial_shortwave(times, PLACE.latitude, PLACE.longitude)
    height = sun_elevation(times + np.timedelta64(1800, "s"), PLACE.latitude, PLACE.longitude)
    clear = clear_sky_shortwave(above, PLACE.elevation_m)
    height = np.maximum(height, 0.0) if held else height
    derived = derive_cloud(hours[["shortwave_w_m2"]].to_numpy(), clear, height)[0][:, 0]
    series = pd.Series(derived, hours.index)
    return series.reindex(table.index - HOUR / 2, method="ffill").bfill().to_numpy()


@dataclass(frozen=True)
class SkinErrors:
    """Modelled less measured skin, 21 to 05 h [K]."""

    bias: float
    spread: float
    count: int


def windrow_skin(table: pd.DataFrame, nights: Evenings, made: WindrowTrajectory) -> SkinErrors:
    """Skin of the run beside the thermometer: means of half-hours, the spin-up left out."""
    errors = []
    for lane, day in enumerate(nights.days):
        skin = pd.Series(made.skin_temperature_c[:, lane], nights.quarters(lane))
        means = skin.rolling(3).mean()
        seen = table.skin_c[day + EVENING * HOUR + HOUR / 2 : day + MORNING * HOUR]
        errors.append((means.reindex(seen.index) - seen).dropna().to_numpy())
    error = np.concatenate(errors)
    return SkinErrors(float(error.mean()), float(np.sqrt((error**2).mean())), error.size)


def dry_nights(table: pd.DataFrame, nights: Evenings) -> np.ndarray:
    """True where no rain fell from midnight before the evening until the noon after it."""
    span = (table.rain_mm[day + HOUR / 2 : day + NOON * HOUR] for day in nights.days)
    return np.array([each.sum() == 0 for each in span])


@dataclass(frozen=True)
class Wetness:
    """When a surface was wet in each night, hours from midnight of its day; NaN where never.

    `wet` counts until 06 h, `onset` from 18 h on, `dry_off` the last before noon.
    """

    wet: np.ndarray
    onset: np.ndarray
    dry_off: np.ndarray


def wetness_of(states: list[pd.Series], days: tuple[pd.Timestamp, ...], step_h: float) -> Wetness:
    """From series of True and False; a stamp speaks of the `step_h` before it."""
    rows = []
    for state, day in zip(states, days, strict=True):
        hours = ((state.index - day) / HOUR).to_numpy()
        at = hours[state.to_numpy() & (hours > DUSK) & (hours <= NOON)]
        wet = bool(at.size) and at[0] <= DAWN
        rows.append((wet, at[0] - step_h if wet else np.nan, at[-1] if wet else np.nan))
    wet, onset, dry_off = (np.array(column) for column in zip(*rows, strict=True))
    return Wetness(wet.astype(bool), onset.astype(float), dry_off.astype(float))


def measured_wetness(table: pd.DataFrame, nights: Evenings, wet_v: float = WET_V) -> Wetness:
    """By the sensor's volts."""
    spans = [table.wetness_v[day + DUSK * HOUR : day + NOON * HOUR] > wet_v for day in nights.days]
    return wetness_of(spans, nights.days, 0.5)


def windrow_wetness(nights: Evenings, made: WindrowTrajectory) -> Wetness:
    """By the run: its top layer is wet where the air is saturated at it, or free water lies there.

    A sensor takes nothing up, so it wets when the skin reaches the dew point, not
    when the hay is full.
    """
    saturated = made.skin_humidity >= SATURATED
    wet = saturated | (made.every_layer.film_db[:, 0] > WET_FILM_DB)
    states = []
    for lane, day in enumerate(nights.days):
        series = pd.Series(wet[:, lane], nights.quarters(lane))
        states.append(series[day + DUSK * HOUR : day + NOON * HOUR])
    return wetness_of(states, nights.days, 0.25)


@dataclass(frozen=True)
class DewNights:
    """Nights without rain: wet in both, by the sensor alone, by the model alone, in neither.

    `onset_h` and `dry_off_h` are medians of model less sensor over the nights
    that are wet in both, `dry_off_mean_h` the mean: of few nights in half-hours the
    finer measure.
    """

    both: int
    missed: int
    false: int
    neither: int
    onset_h: float
    dry_off_h: float
    dry_off_mean_h: float

    @property
    def kappa(self) -> float:
        """Agreement beyond chance, Cohen 1960."""
        total = self.both + self.missed + self.false + self.neither
        seen, said = self.both + self.missed, self.both + self.false
        chance = (seen * said + (total - seen) * (total - said)) / total**2
        return ((self.both + self.neither) / total - chance) / (1 - chance)

    @property
    def false_share(self) -> float:
        """Nights wet by the model alone among those dry by the sensor."""
        return self.false / (self.false + self.neither)


def compare(measured: Wetness, modelled: Wetness, counted: np.ndarray) -> DewNights:
    """The contingency of the nights that count, and when dew came and went."""
    seen, said = measured.wet[counted], modelled.wet[counted]
    hit = measured.wet & modelled.wet & counted
    return DewNights(
        int((seen & said).sum()),
        int((seen & ~said).sum()),
        int((~seen & said).sum()),
        int((~seen & ~said).sum()),
        float(np.median((modelled.onset - measured.onset)[hit])),
        float(np.median((modelled.dry_off - measured.dry_off)[hit])),
        float((modelled.dry_off - measured.dry_off)[hit].mean()),
    )


@dataclass(frozen=True)
class SoilFit:
    """The windrow's soil beside the mean of the thermometers at 2 and 4 cm [K]."""

    bias: float
    spread: float
    swing_ratio: float


def soil_beside(table: pd.DataFrame, first: str, past: str, **changed) -> SoilFit:
    """`soil_temperature` from the air alone, from the first of the series on, between two stamps.

    The swing is the daily range of the hourly means, ours over theirs.
    """
    hours = table[["air_c", "soil_2cm_c", "soil_4cm_c"]]
    hours = hours.resample("1h", label="left", closed="right").mean().interpolate()
    instants = hours_of(table).air_temperature_c.dropna()
    found = soil_temperature(instants.to_numpy()[:, None], WindrowParameters(**changed))[:, 0]
    ours = pd.Series((found[:-1] + found[1:]) / 2, instants.index[:-1])[first:past]
    theirs = ((hours.soil_2cm_c + hours.soil_4cm_c) / 2).reindex(ours.index)
    error = ours - theirs
    swing = [each.resample("D").agg(np.ptp).mean() for each in (ours, theirs)]
    spread = float(np.sqrt((error**2).mean()))
    return SoilFit(float(error.mean()), spread, float(swing[0] / swing[1]))
