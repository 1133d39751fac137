"""The eight calls, each quarter hour, all lanes at once: what the hay is, judged by layer.

A quarter's moisture is the mean of its two ends. Where more than one call would
fit, the first of this order holds: no data, not cured, too wet, in limits as it
lies (damp below, natural dew or ready, by what brought it there), add moisture,
too dry.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import IntEnum
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.cause import causes_of
from hayweather.baling.machines import application_efficiency, quarter_air
from hayweather.baling.setting import Setting
from hayweather.baling.water import Dose, Landing, Limits, dose
from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.trajectory import (
    QUARTERS,
    Layers,
    WindrowTrajectory,
    soft_share,
    wet_share,
)

Value = TypeVar("Value", bound=np.generic)

FREE_WATER_LIMIT_MM = 0.02  # assumed
RAIN_LIMIT_MM_H = 0.1


class Call(IntEnum):
    """What the hay is; the words stand in the text table as ``call_<name>``."""

    NO_DATA = 0
    NOT_CURED = 1
    TOO_WET = 2
    NATURAL_DEW = 3
    ADD_MOISTURE = 4
    TOO_DRY = 5
    READY = 6
    DAMP_BELOW = 7

    @property
    def word(self) -> str:
        """The word used in data: ``"natural dew"``."""
        return self.name.lower().replace("_", " ")


AS_IT_LIES = (Call.NATURAL_DEW, Call.READY)
"""Ready without anything added."""
BALED = (Call.NATURAL_DEW, Call.READY, Call.ADD_MOISTURE)
"""Calls that a window may have."""
DANGER = (Call.TOO_WET, Call.NOT_CURED)
"""Calls that mould, or burn a stack."""
CAUTIOUS_FIRST = (
    Call.NO_DATA,
    Call.NOT_CURED,
    Call.TOO_WET,
    Call.DAMP_BELOW,
    Call.TOO_DRY,
    Call.ADD_MOISTURE,
    Call.READY,
    Call.NATURAL_DEW,
)
"""Of calls that are equally likely the first of these is shown."""


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
        The stem's driest moisture since cutting, or since rain made the hay uncured.
    free_water_mm
        Free water in the windrow.
    rain_mm_h
        Rain of the hour.
    soft_share
        Share of the leaf at or above the leaf minimum [-].
    wet_share
        Share of the hay above the bale's ceiling [-].
    cause
        `Cause` as integer: what brought the water.
    dose
        What the rig would put on; None without a rig.
    hay
        Every layer.
    """

    call: NDArray[np.int8]
    windrow_wb: Floats
    leaf_wb: Floats
    stem_wb: Floats
    bottom_wb: Floats
    stem_driest_wb: Floats
    free_water_mm: Floats
    rain_mm_h: Floats
    soft_share: Floats
    wet_share: Floats
    cause: NDArray[np.int8]
    dose: Dose | None
    hay: Layers

    def between(self, first: int, last: int) -> QuarterCalls:
        """The quarters of the hours ``first`` to ``last - 1``."""
        rows = slice(QUARTERS * first, QUARTERS * last)
        whole = ("dose", "hay")
        cut = {item.name: getattr(self, item.name) for item in fields(self)}
        rest = {name: values[rows] for name, values in cut.items() if name not in whole}
        dose = None if self.dose is None else self.dose.rows(rows)
        return QuarterCalls(**rest, dose=dose, hay=self.hay.cut(rows, slice(None)))


def call_quarters(
    weather: HourlyWeather,
    trajectory: WindrowTrajectory,
    setting: Setting,
    uncured: Booleans | None = None,
    landing: Landing | None = None,
    first: int = 0,
    every_need: bool = True,
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
    landing
        Where the rig's water lands in every lane; None: as the rig says.
    first
        Hour from which on calls are made; what went before only tells how the hay came
        there. The quarters of the answer begin with it.
    every_need
        As in `hayweather.baling.water.dose`.
    """
    driest, cause = _driest(trajectory.stem_wb, uncured), causes_of(trajectory, first)
    if first:
        driest = driest[QUARTERS * first :]
        uncured = None if uncured is None else uncured[QUARTERS * first :]
        trajectory = trajectory.between(first, trajectory.hours)
        weather = weather.between(first, weather.hours)
    windrow, leaf = middles(trajectory.windrow_wb), middles(trajectory.leaf_wb)
    free = middles(trajectory.free_water_mm)
    rain = quarterly(rain_or_none(weather))
    hay, band, baler = trajectory.every_layer.quarters(), setting.band, setting.baler
    soft, damp = soft_share(hay, band.leaf_minimum_wb), wet_share(hay, band.ceiling_wb)
    wet = (windrow > band.high_wb) | ~(damp <= baler.wet_share)
    wet |= (free > FREE_WATER_LIMIT_MM) | ~(rain < RAIN_LIMIT_MM_H)
    inside = ~wet & (soft >= baler.soft_share) & (windrow >= band.low_wb)
    water = _dose(weather, hay, windrow, ~wet & ~inside, setting, landing, every_need)
    helped = np.zeros_like(wet) if water is None else np.isfinite(water.applied_l_t)
    call = np.where(helped, Call.ADD_MOISTURE, Call.TOO_DRY).astype(np.int8)
    call[inside] = _BY_CAUSE[cause[inside]]
    call[wet] = Call.TOO_WET
    wet_stem = driest > band.stem_limit_wb
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
        stem_wb=middles(trajectory.stem_wb),
        bottom_wb=middles(trajectory.bottom_wb),
        stem_driest_wb=driest,
        free_water_mm=free,
        rain_mm_h=rain,
        soft_share=soft,
        wet_share=damp,
        cause=cause,
        dose=water,
        hay=hay,
    )


def _driest(stem_wb: Floats, uncured: Booleans | None) -> Floats:
    """Driest stem up to the end of each quarter since hay was last uncured, (quarters, lanes)."""
    if uncured is None or not uncured.any():
        return np.fmin.accumulate(stem_wb, axis=0)[1:]
    driest, running = np.empty_like(stem_wb[1:]), stem_wb[0]
    for row, stem in enumerate(stem_wb[1:]):
        running = np.where(uncured[row], stem, np.fmin(running, stem))
        driest[row] = running
    return driest


# What hay in limits is called, by `Cause`: drying, dew, humid air, damp ground, rain.
_BY_CAUSE = np.array(
    [Call.READY, Call.NATURAL_DEW, Call.NATURAL_DEW, Call.DAMP_BELOW, Call.READY], dtype=np.int8
)


def _dose(
    weather: HourlyWeather,
    hay: Layers,
    windrow_wb: Floats,
    dry: Booleans,
    setting: Setting,
    landing: Landing | None,
    every_need: bool,
) -> Dose | None:
    """What the rig would put on dry hay in the air of each quarter; None without a rig."""
    if setting.rig is None:
        return None
    deficit, wind = quarter_air(weather, setting.place)
    stays = application_efficiency(setting.rig, deficit, wind)
    return dose(hay, windrow_wb, dry, setting.rig, limits_of(setting), stays, landing, every_need)


def limits_of(setting: Setting) -> Limits:
    """What hay must keep behind the rig in a field."""
    return Limits.of(setting.band, setting.baler, setting.target_wb)


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
