"""Farms, weather and windrows that the tests of the calls start from; no claim on nature."""

from dataclasses import replace

import numpy as np
from support.nights import hourly

from hayweather.baling.advice import Risk
from hayweather.baling.calls import QuarterCalls, call_quarters
from hayweather.baling.cautions import dangers_of
from hayweather.baling.course import Course, course_of
from hayweather.baling.setting import Setting, setting_for
from hayweather.baling.windows import stopped_quarters
from hayweather.farm.records import Baler, Farm, Field, Rig, Site, WeatherChoice
from hayweather.weather.record import HOUR, HourlyWeather, Source
from hayweather.windrow.column import State
from hayweather.windrow.readings import Weights
from hayweather.windrow.sorption import dry_basis
from hayweather.windrow.trajectory import QUARTERS, Layers, WindrowTrajectory

HOME = Site("home", 40.0, -105.0, 1500.0, "America/Denver")
TURN = np.datetime64("2024-07-01T20:00", "s")  # 14:00 in Denver
EVENING = TURN + 29 * HOUR  # 19:00 of the next day, after one night of spin-up
RIG = Rig("rig", 3000.0, 10.0, 80.0, 40.0, 20.0)
BALER = Baler("baler", capacity_kg_h=18_000.0)
LEAF_SHARE = 0.47
CURED = Field("north", "home", cured=True, area_m2=400_000.0, yield_kg_m2=0.3)


def farm_of(field: Field = CURED, rig: Rig | None = RIG, baler: Baler = BALER, **named) -> Farm:
    """A farm of one field at one site; `named` goes into the record as it is."""
    values = {
        "sites": {"home": HOME},
        "fields": {field.name: field},
        "balers": {baler.name: baler},
        "weather": WeatherChoice(),
        "rigs": {} if rig is None else {rig.name: rig},
        **named,
    }
    return Farm("Sagebeck", **values)


def setting_of(
    field: Field = CURED, rig: Rig | None = RIG, baler: Baler = BALER, site: Site = HOME
) -> Setting:
    """What holds for one field on the evening."""
    return setting_for(farm_of(field, rig, baler), field, site, EVENING)


def days(hours: int = 100, start: np.datetime64 = TURN, **changed: object) -> HourlyWeather:
    """Clear days from 14:00 on, 12 to 30 C, dew point 9 C, 1.5 m/s; `changed` columns win.

    A column given as None is left out.
    """
    local = np.arange(hours) + 14
    named = {
        "air_temperature_c": 21 + 9 * np.cos((local - 15) * np.pi / 12),
        "dew_point_c": 9.0,
        "wind_speed_m_s": 1.5,
        "shortwave_w_m2": None,
        **changed,
    }
    weather = hourly(hours, **{name: value for name, value in named.items() if value is not None})
    left_out = {name for name, value in named.items() if value is None}
    kept = {name: values for name, values in weather.columns.items() if name not in left_out}
    return replace(weather, start=np.array([start]), columns=kept, source=Source("days"))


def with_blanks(weather: HourlyWeather, name: str, first: int, past: int) -> HourlyWeather:
    """The weather with hours `first` to `past - 1` of one column missing."""
    values = weather.columns[name].copy()
    values[first:past] = np.nan
    return replace(weather, columns={**weather.columns, name: values})


def hay(
    windrow_wb: object, leaf_wb: object = 14.0, stem_wb: object = 10.0, **changed: object
) -> WindrowTrajectory:
    """A windrow that simply is as said at every depth, on quarter-hour boundaries.

    Nothing brought its water: what lies in its limits is "ready".

    Moistures are numbers, (boundaries,) or (boundaries, lanes). Changed may be
    `hours`, `lanes`, `start`, `free_water_mm`, `bottom_wb`, `skin_temperature_c`.
    """
    count = QUARTERS * int(changed.get("hours", 1)) + 1
    lanes = int(changed.get("lanes", 1))
    start = changed.get("start", hourly(1).start[0])

    def column(value: object) -> np.ndarray:
        given = np.asarray(value, dtype=float)
        shaped = given[:, None] if given.ndim == 1 else given
        return np.broadcast_to(shaped, (count, lanes)).copy()

    sums = np.zeros((count // QUARTERS, lanes))
    leaf, stem, whole = (dry_basis(column(value)) for value in (leaf_wb, stem_wb, windrow_wb))
    film = whole - LEAF_SHARE * leaf - (1 - LEAF_SHARE) * stem
    even = [np.repeat(values[:, None], 3, axis=1) for values in (leaf, stem, film, film)]
    unknown = np.full((3, lanes), np.nan)
    return WindrowTrajectory(
        start=np.full(lanes, start),
        leaf_db=dry_basis(column(leaf_wb)),
        stem_db=dry_basis(column(stem_wb)),
        windrow_db=dry_basis(column(windrow_wb)),
        bottom_db=dry_basis(column(changed.get("bottom_wb", windrow_wb))),
        free_water_mm=column(changed.get("free_water_mm", 0.0)),
        skin_temperature_c=column(changed.get("skin_temperature_c", 15.0)),
        skin_humidity=column(0.7),
        **{f"{name}_mm": sums for name in ("dew", "internal", "from_air", "from_ground")},
        rain_caught_mm=sums,
        runoff_mm=sums,
        ledger_kg_m2=sums,
        started=np.zeros((count // QUARTERS, lanes), dtype=bool),
        assumed=(),
        final=State(np.full((3, 2, lanes), np.nan), unknown, unknown, unknown[0], unknown[0]),
        layers=Layers(np.array([0.15, 0.35, 0.5]), np.array([LEAF_SHARE]), *even),
    )


def calls_of(
    trajectory: WindrowTrajectory,
    setting: Setting | None = None,
    weather: HourlyWeather | None = None,
    **weather_columns: object,
) -> QuarterCalls:
    """The calls of a windrow that is as said, in mild dry weather."""
    lanes = trajectory.windrow_db.shape[1]
    hourly_weather = weather or hourly(trajectory.hours, lanes, **weather_columns)
    return call_quarters(hourly_weather, trajectory, setting or setting_of())


def course_with(
    trajectory: WindrowTrajectory,
    setting: Setting,
    weather: HourlyWeather | None = None,
    shown: object = None,
) -> Course:
    """The course of a windrow that is as said; lanes after the first are members of one weight.

    Lane 0 shows what its own moistures give, or the calls `shown`: chances and
    costs decide nothing here.
    """
    lanes = trajectory.windrow_db.shape[1]
    begin = trajectory.start
    weather = weather or replace(hourly(trajectory.hours, lanes), start=begin)
    uncured = np.zeros((QUARTERS * trajectory.hours, lanes), dtype=bool)
    weights = np.full(lanes, 1.0 / max(lanes - 1, 1))
    weights[0] = 0.0
    weighed = Weights(weights, float(lanes - 1))
    course = course_of(weather, trajectory, setting, uncured, weighed, Risk())
    call = course.quarters.call.copy()
    call[:, 0] = course.middle if shown is None else shown
    quarters = replace(course.quarters, call=call)
    stopped = stopped_quarters(quarters, dangers_of(weather), setting)
    return replace(course, quarters=quarters, stopped=stopped)
