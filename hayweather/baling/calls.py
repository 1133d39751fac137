"""The six calls, each quarter hour, all lanes at once.

A quarter's moisture is the mean of its two ends. Where more than one call would
fit, the first of this order holds: no data, not cured, too wet, natural dew,
add moisture, too dry.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import IntEnum
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.machines import application_efficiency, quarter_air
from hayweather.baling.setting import Setting
from hayweather.baling.water import Dose, dose
from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.sky import sun_elevation
from hayweather.windrow.trajectory import QUARTERS, WindrowTrajectory

Value = TypeVar("Value", bound=np.generic)

FREE_WATER_LIMIT_MM = 0.02  # assumed
RAIN_LIMIT_MM_H = 0.1


class Call(IntEnum):
    """What an hour is good for; the words stand in the text table as ``call_<name>``."""

    NO_DATA = 0
    NOT_CURED = 1
    TOO_WET = 2
    NATURAL_DEW = 3
    ADD_MOISTURE = 4
    TOO_DRY = 5

    @property
    def word(self) -> str:
        """The word used in data: ``"natural dew"``."""
        return self.name.lower().replace("_", " ")


READY = (Call.NATURAL_DEW, Call.ADD_MOISTURE)


@dataclass(frozen=True)
class QuarterCalls:
    """Calls of every quarter hour and what they rest on, (4 * hours, lanes).

    Attributes
    ----------
    call
        `Call` as integer.
    windrow_wb, leaf_wb, stem_wb, bottom_wb
        Moisture [% wet basis], NaN where unknown.
    stem_driest_wb
        The stem's driest moisture since cutting.
    free_water_mm
        Free water in the windrow.
    rain_mm_h
        Rain of the hour.
    humid_air
        In the band without having taken up water since sunset.
    dose
        What the rig would put on; None without a rig.
    """

    call: NDArray[np.int8]
    windrow_wb: Floats
    leaf_wb: Floats
    stem_wb: Floats
    bottom_wb: Floats
    stem_driest_wb: Floats
    free_water_mm: Floats
    rain_mm_h: Floats
    humid_air: Booleans
    dose: Dose | None

    def between(self, first: int, last: int) -> QuarterCalls:
        """The quarters of the hours ``first`` to ``last - 1``."""
        rows = slice(QUARTERS * first, QUARTERS * last)
        cut = {item.name: getattr(self, item.name) for item in fields(self) if item.name != "dose"}
        dose = None if self.dose is None else self.dose.rows(rows)
        return QuarterCalls(**{name: values[rows] for name, values in cut.items()}, dose=dose)


def call_quarters(
    weather: HourlyWeather,
    trajectory: WindrowTrajectory,
    setting: Setting,
    uncured: Booleans | None = None,
) -> QuarterCalls:
    """The call of every quarter hour.

    Parameters
    ----------
    weather, trajectory
        The weather and the windrow's run through it, the same hours and lanes.
    setting
        Field, band, rig.
    uncured
        True in quarters that are not cured whatever the stem says: before the
        time that the grower named, or while the swath still dries, (4 * hours,
        lanes). Missing weather stays "no data" there too.
    """
    windrow, leaf = middles(trajectory.windrow_wb), middles(trajectory.leaf_wb)
    free = middles(trajectory.free_water_mm)
    rain = quarterly(rain_or_none(weather))
    stem = trajectory.stem_wb
    driest = np.fmin.accumulate(stem, axis=0)[1:]
    water = _dose(weather, windrow, setting)
    call = _decide(setting, windrow, leaf, free, rain, water)
    wet_stem = driest > setting.band.stem_limit_wb
    not_cured = wet_stem if setting.field.cured is None else np.zeros_like(wet_stem)
    missing = quarterly(weather.missing())
    unknown = np.isnan(windrow) | np.isnan(leaf) | missing
    call[unknown] = Call.NO_DATA
    call[not_cured & ~unknown] = Call.NOT_CURED
    if uncured is not None:
        call[uncured & ~missing] = Call.NOT_CURED
    return QuarterCalls(
        call=call,
        windrow_wb=windrow,
        leaf_wb=leaf,
        stem_wb=middles(stem),
        bottom_wb=middles(trajectory.bottom_wb),
        stem_driest_wb=driest,
        free_water_mm=free,
        rain_mm_h=rain,
        humid_air=(call == Call.NATURAL_DEW) & ~_taken_up(trajectory, setting),
        dose=water,
    )


def _dose(weather: HourlyWeather, windrow_wb: Floats, setting: Setting) -> Dose | None:
    """What the rig would put on in the air of each quarter; None without a rig."""
    if setting.rig is None:
        return None
    deficit, wind = quarter_air(weather, setting.place)
    stays = application_efficiency(setting.rig, deficit, wind)
    band = setting.band
    return dose(windrow_wb, setting.rig, band.low_wb, band.high_wb, setting.target_wb, stays)


def _decide(
    setting: Setting, windrow: Floats, leaf: Floats, free: Floats, rain: Floats, water: Dose | None
) -> NDArray[np.int8]:
    """The call of cured hay with known weather."""
    band = setting.band
    wet = (windrow > band.high_wb) | (free > FREE_WATER_LIMIT_MM) | ~(rain < RAIN_LIMIT_MM_H)
    leafy = np.ones_like(wet) if band.leaf_minimum_wb is None else leaf >= band.leaf_minimum_wb
    helped = np.zeros_like(wet) if water is None else np.isfinite(water.applied_l_t)
    call = np.where(helped, Call.ADD_MOISTURE, Call.TOO_DRY).astype(np.int8)
    call[leafy & (windrow >= band.low_wb)] = Call.NATURAL_DEW
    call[wet] = Call.TOO_WET
    return call


def middles(boundaries: Floats) -> Floats:
    """Mean of the two ends of every quarter, (quarters + 1, ...) to (quarters, ...)."""
    return (boundaries[:-1] + boundaries[1:]) / 2


def quarterly(hourly: NDArray[Value]) -> NDArray[Value]:
    """Hourly values for each of their quarters."""
    return np.repeat(hourly, QUARTERS, axis=0)


def rain_or_none(weather: HourlyWeather) -> Floats:
    """Rain of each hour [mm], taken as none where the source has no rain at all."""
    rain = weather.get("rain_mm")
    return np.zeros((weather.hours, weather.lanes)) if rain is None else rain


def _taken_up(trajectory: WindrowTrajectory, setting: Setting) -> Booleans:
    """True where the windrow holds more water than at the last sunset (or its start)."""
    place = setting.place
    up = sun_elevation(trajectory.times(), place.latitude, place.longitude) > 0
    sunset = up[:-1] & ~up[1:]
    rows = np.arange(1, up.shape[0])[:, None]
    last = np.maximum.accumulate(np.where(sunset, rows, 0), axis=0)
    at_sunset = np.take_along_axis(trajectory.windrow_db, last, axis=0)
    first = np.nan_to_num(at_sunset, nan=-np.inf)
    return np.asarray(middles(trajectory.windrow_db) > first)
