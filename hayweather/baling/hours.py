"""HourCall: one hour of the outlook, as tables and data show it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import READY, Call
from hayweather.baling.cautions import (
    Dangers,
    dangers_of,
    hour_cautions,
    relative_humidity,
    stop_reasons,
)
from hayweather.baling.chances import hour_chances
from hayweather.baling.course import Course
from hayweather.baling.reasons import facts_of, reasons_for
from hayweather.baling.setting import Setting
from hayweather.weather.record import HOUR, Booleans, Floats, HourlyWeather
from hayweather.windrow.trajectory import QUARTERS, WindrowTrajectory
from hayweather.windrow.vapor import wind_at_two_meters
from hayweather.words import Remark

_GENERAL = ("reason_run_broken", "reason_still_drying")
# How a run began, where that says more than a general reason.
_EXPLAINING = (
    "start_too_late",
    "start_after_rain",
    "start_cut_before_weather",
    "start_not_cut",
    "start_still_drying",
    "start_drying_unknown",
)
LOW_CONFIDENCE = 0.5  # a call that fewer members share is said to be unsure (assumed)

CAUTIOUS_FIRST = (
    Call.NO_DATA,
    Call.NOT_CURED,
    Call.TOO_WET,
    Call.TOO_DRY,
    Call.ADD_MOISTURE,
    Call.NATURAL_DEW,
)


@dataclass(frozen=True)
class AirHour:
    """The weather of an hour; instants at its start, NaN where unknown."""

    temperature_c: float
    dew_point_c: float
    relative_humidity: float
    wind_2m_m_s: float
    rain_mm: float


@dataclass(frozen=True)
class HayHour:
    """The windrow in an hour, means over it, NaN where unknown.

    Moistures are % wet basis, the windrow's with its free water; skin humidity
    is percent, at most 100.
    """

    windrow_wb: float
    leaf_wb: float
    stem_wb: float
    free_water_mm: float
    skin_temperature_c: float
    skin_humidity: float


@dataclass(frozen=True)
class HourCall:
    """One hour: the call that holds longest in it, and why.

    Attributes
    ----------
    start
        UTC.
    call
        The call that holds longest.
    humid_air
        Ready without having taken up water since sunset.
    stop
        Work stops in this hour; the first reasons say why.
    reasons, cautions
        Texts with values.
    air, hay
        Weather and windrow.
    water_l_t, after_wb
        Water to add [L/t] and moisture after it [% wb]; only with "add
        moisture", else NaN.
    chance
        Chance of each call, or None while there is one forecast only.
    """

    start: np.datetime64
    call: Call
    humid_air: bool
    stop: bool
    reasons: tuple[Remark, ...]
    cautions: tuple[Remark, ...]
    air: AirHour
    hay: HayHour
    water_l_t: float = float("nan")
    after_wb: float = float("nan")
    chance: dict[Call, float] | None = None


def hour_calls(course: Course, setting: Setting, count: int | None = None) -> list[HourCall]:
    """Every hour shown: call, reasons, cautions, water, chances.

    Parameters
    ----------
    course
        The hours in full; lane 0 is shown.
    setting
        Field, band, rig.
    count
        Only so many of the hours; cautions still see the weather after them.
    """
    dangers = dangers_of(course.weather)
    sure = course.weights.weights.any()
    chances = hour_chances(course.chances) if sure else None
    return [
        _hour_call(course, setting, dangers, hour, chances[hour] if chances else None)
        for hour in range(course.weather.hours if count is None else count)
    ]


def _hour_call(
    course: Course,
    setting: Setting,
    dangers: Dangers,
    hour: int,
    chance: dict[Call, float] | None,
) -> HourCall:
    """One hour shown."""
    quarters, weather = course.quarters, course.weather
    call = longest_call(quarters.call[:, 0], hour)
    rows = np.zeros(quarters.call.shape[0], dtype=bool)
    rows[QUARTERS * hour : QUARTERS * (hour + 1)] = True
    facts = facts_of(quarters, rows & (quarters.call[:, 0] == call), setting.band)
    rig_runs = call == Call.ADD_MOISTURE
    stops = stop_reasons(dangers, hour, setting, rig_runs=rig_runs)
    cautions = hour_cautions(weather, course.trajectory, dangers, setting, hour)
    middle = longest_call(course.middle, hour)
    if middle == call:
        reasons = reasons_for(call, facts, setting, weather, hour)
    else:
        facts_there = facts_of(quarters, rows & (course.middle == middle), setting.band)
        why = reasons_for(middle, facts_there, setting, weather, hour)
        reasons = [_differs(middle, call, course, rows), *why]
    cautions += unsure(call, chance)
    return HourCall(
        start=weather.start[0] + hour * HOUR,
        call=call,
        humid_air=call == Call.NATURAL_DEW and facts.humid_air,
        stop=bool(stops),
        reasons=(*stops, *reasons),
        cautions=tuple(cautions),
        air=_air_hour(weather, hour),
        hay=_hay_hour(course.trajectory, hour),
        water_l_t=facts.applied_l_t if rig_runs else float("nan"),
        after_wb=facts.after_wb if rig_runs else float("nan"),
        chance=chance,
    )


def unsure(call: Call, chance: Mapping[Call, float] | None) -> list[Remark]:
    """A caution where fewer forecast runs than half make this call; nothing without chances."""
    if chance is None or call == Call.NO_DATA or chance[call] >= LOW_CONFIDENCE:
        return []
    return [Remark("caution_low_confidence", {"chance": f"{100 * chance[call]:.0f}"})]


def _differs(middle: Call, call: Call, course: Course, rows: Booleans) -> Remark:
    """Why the call shown is not the middle forecast's, in the quarters that hold it."""
    shown = rows & (course.quarters.call[:, 0] == call)
    wet = float(course.chances[[Call.TOO_WET, Call.NOT_CURED]][:, shown].sum(axis=0).mean())
    values: dict[str, object] = {"middle": Remark(f"call_{middle.name.lower()}")}
    if wet > course.fence:
        values |= {"wet": f"{100 * wet:.0f}", "limit": f"{100 * course.fence:.0f}"}
        return Remark("reason_differs_wet", values)
    return Remark("reason_differs_likelier" if call in READY else "reason_differs_cost", values)


def longest_call(calls: NDArray[np.int8], hour: int) -> Call:
    """The call that holds longest in an hour; of two equal ones the more cautious.

    Parameters
    ----------
    calls
        Of every quarter, (4 * hours,).
    hour
        Which hour.
    """
    held = np.bincount(calls[QUARTERS * hour : QUARTERS * (hour + 1)], minlength=len(Call))
    return max(CAUTIOUS_FIRST, key=lambda call: held[call])


def with_remarks(hour: HourCall, remarks: tuple[Remark, ...]) -> HourCall:
    """An hour without data or not cured says how its run began, each thing once."""
    if hour.call not in (Call.NO_DATA, Call.NOT_CURED):
        return hour
    explained = any(remark.key in _EXPLAINING for remark in remarks)
    kept = [item for item in hour.reasons if not (explained and item.key in _GENERAL)]
    added = [remark for remark in remarks if remark not in kept]
    return replace(hour, reasons=(*kept, *added))


def _air_hour(weather: HourlyWeather, hour: int) -> AirHour:
    """The weather of an hour, lane 0."""
    now = weather.between(hour, hour + 1)
    wind = wind_at_two_meters(now.columns["wind_speed_m_s"], now.wind_height_m)
    rain = now.get("rain_mm")
    return AirHour(
        temperature_c=float(now.columns["air_temperature_c"][0, 0]),
        dew_point_c=float(now.columns["dew_point_c"][0, 0]),
        relative_humidity=float(relative_humidity(now)[0, 0]),
        wind_2m_m_s=float(wind[0, 0]),
        rain_mm=float("nan") if rain is None else float(rain[0, 0]),
    )


def _hay_hour(trajectory: WindrowTrajectory, hour: int) -> HayHour:
    """The windrow in an hour, lane 0; of the quarter-hour boundaries the ends count half."""

    def mean(boundaries: Floats) -> float:
        block = boundaries[QUARTERS * hour : QUARTERS * (hour + 1) + 1, 0]
        return float((block[:-1] + block[1:]).mean() / 2)

    return HayHour(
        windrow_wb=mean(trajectory.windrow_wb),
        leaf_wb=mean(trajectory.leaf_wb),
        stem_wb=mean(trajectory.stem_wb),
        free_water_mm=mean(trajectory.free_water_mm),
        skin_temperature_c=mean(trajectory.skin_temperature_c),
        skin_humidity=mean(100 * np.minimum(trajectory.skin_humidity, 1.0)),
    )
