"""HourCall: one hour as tables and data show it, and why it has its call."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import (
    FREE_WATER_LIMIT_MM,
    RAIN_LIMIT_MM_H,
    READY,
    Call,
    QuarterCalls,
)
from hayweather.baling.cautions import (
    Dangers,
    dangers_of,
    hour_cautions,
    relative_humidity,
    stop_reasons,
)
from hayweather.baling.course import Course, hour_chances
from hayweather.baling.setting import Setting
from hayweather.farm.bands import Band
from hayweather.weather.record import COLUMN_KINDS, HOUR, NEEDED, Booleans, Floats, HourlyWeather
from hayweather.windrow.trajectory import QUARTERS, WindrowTrajectory
from hayweather.windrow.vapor import wind_at_two_meters
from hayweather.words import Remark


@dataclass(frozen=True)
class Facts:
    """Means of an hour over the quarters of its call, lane 0; NaN where unknown.

    The dry and wet ones are means over those of these quarters that are beyond
    the limit, NaN where none is: a quarter's reason is never lost in the mean.
    """

    windrow_wb: float
    leaf_wb: float
    bottom_wb: float
    stem_driest_wb: float
    rain_mm_h: float
    dry_windrow_wb: float
    dry_leaf_wb: float
    wet_windrow_wb: float
    wet_film_mm: float
    needed_l_t: float
    applied_l_t: float
    after_wb: float
    humid_air: bool


def facts_of(quarters: QuarterCalls, rows: Booleans, band: Band) -> Facts:
    """The facts of some quarters, lane 0.

    Parameters
    ----------
    quarters
        Calls and what they rest on.
    rows
        Which quarters, (4 * hours,).
    band
        Limits that hold.
    """

    def mean(values: Floats, chosen: Booleans | bool = True) -> float:
        known = values[rows & np.broadcast_to(chosen, values.shape)[:, 0], 0]
        known = known[np.isfinite(known)]
        return float(known.mean()) if known.size else float("nan")

    windrow, leaf, free = quarters.windrow_wb, quarters.leaf_wb, quarters.free_water_mm
    minimum = -np.inf if band.leaf_minimum_wb is None else band.leaf_minimum_wb
    water = quarters.dose
    unknown = float("nan")
    return Facts(
        windrow_wb=mean(windrow),
        leaf_wb=mean(leaf),
        bottom_wb=mean(quarters.bottom_wb),
        stem_driest_wb=mean(quarters.stem_driest_wb),
        rain_mm_h=mean(quarters.rain_mm_h),
        dry_windrow_wb=mean(windrow, windrow < band.low_wb),
        dry_leaf_wb=mean(leaf, leaf < minimum),
        wet_windrow_wb=mean(windrow, windrow > band.high_wb),
        wet_film_mm=mean(free, free > FREE_WATER_LIMIT_MM),
        needed_l_t=unknown if water is None else mean(water.needed_l_t),
        applied_l_t=unknown if water is None else mean(water.applied_l_t),
        after_wb=unknown if water is None else mean(water.after_wb),
        humid_air=bool(quarters.humid_air[rows, 0].any()),
    )


def reasons_for(
    call: Call, facts: Facts, setting: Setting, weather: HourlyWeather, hour: int
) -> list[Remark]:
    """All reasons of an hour's call."""
    if call == Call.NO_DATA:
        return _no_data(weather, hour)
    if call == Call.NOT_CURED:
        return _not_cured(facts, setting, weather.start[0] + hour * HOUR)
    reasons: list[Remark] = _BY_CALL[call](facts, setting)
    if call in READY and facts.bottom_wb < setting.band.low_wb:
        reasons.append(_against("reason_bottom_dry", facts.bottom_wb, setting.band.low_wb))
    return reasons


def _against(key: str, value: float, limit: float) -> Remark:
    """A moisture and the limit it is held against."""
    return Remark(key, {"value": (value, "percent"), "limit": (limit, "percent")})


def _no_data(weather: HourlyWeather, hour: int) -> list[Remark]:
    """What is missing in this hour (an instant: at either end), or that the run is broken."""
    names = [*NEEDED, *(["rain_mm"] if weather.get("rain_mm") is not None else [])]
    reasons = []
    for name in names:
        ends = 1 if COLUMN_KINDS[name] == "sum" else 2
        if np.isnan(weather.columns[name][hour : hour + ends, 0]).any():
            reasons.append(Remark(f"reason_missing_{name}"))
    return reasons or [Remark("reason_run_broken")]


def _not_cured(facts: Facts, setting: Setting, time: np.datetime64) -> list[Remark]:
    """Why the hay is not cured at a time (UTC)."""
    cured, cut_at = setting.field.cured, setting.field.cut_at
    if isinstance(cured, np.datetime64):
        return [Remark("reason_cured_from", {"time": cured})]
    if cut_at is not None and cut_at > time:
        return [Remark("start_not_cut", {"time": cut_at})]
    if np.isfinite(facts.stem_driest_wb):
        limit = setting.band.stem_limit_wb
        return [_against("reason_stem_wet", facts.stem_driest_wb, limit)]
    return [Remark("reason_still_drying")]


def _natural_dew(facts: Facts, setting: Setting) -> list[Remark]:
    """What makes the hay ready as it lies."""
    reasons = [_in_band(facts.windrow_wb, setting)]
    if setting.band.leaf_minimum_wb is not None:
        reasons.append(_against("reason_leaf_soft", facts.leaf_wb, setting.band.leaf_minimum_wb))
    if facts.humid_air:
        reasons.append(Remark("reason_humid_air"))
    return reasons


def _in_band(windrow_wb: float, setting: Setting) -> Remark:
    """The windrow between bottom and top of its band."""
    band = setting.band
    values: dict[str, object] = {
        "value": (windrow_wb, "percent"),
        "low": (band.low_wb, "percent"),
        "high": (band.high_wb, "percent"),
    }
    return Remark("reason_in_band", values)


def _dry_parts(facts: Facts, setting: Setting) -> list[Remark]:
    """Windrow and leaf where they are below their limits."""
    band, reasons = setting.band, []
    if np.isfinite(facts.dry_windrow_wb):
        reasons.append(_against("reason_windrow_dry", facts.dry_windrow_wb, band.low_wb))
    if band.leaf_minimum_wb is not None and np.isfinite(facts.dry_leaf_wb):
        reasons.append(_against("reason_leaf_dry", facts.dry_leaf_wb, band.leaf_minimum_wb))
    return reasons


def _add_moisture(facts: Facts, setting: Setting) -> list[Remark]:
    """What is dry, and what the water brings."""
    values: dict[str, object] = {
        "water": (facts.applied_l_t, "water_rate"),
        "after": (facts.after_wb, "percent"),
    }
    return [*_dry_parts(facts, setting), Remark("reason_water", values)]


def _too_dry(facts: Facts, setting: Setting) -> list[Remark]:
    """What is dry, and why no rig helps."""
    reasons = _dry_parts(facts, setting)
    if setting.rig is None:
        return [*reasons, Remark("reason_no_rig")]
    if facts.needed_l_t == 0 and setting.rig.rate_min_l_t == 0:
        return reasons
    if facts.needed_l_t > setting.rig.rate_max_l_t:
        values: dict[str, object] = {
            "needed": (facts.needed_l_t, "water_rate"),
            "most": (setting.rig.rate_max_l_t, "water_rate"),
        }
        return [*reasons, Remark("reason_beyond_rig", values)]
    least = (setting.rig.rate_min_l_t, "water_rate")
    return [*reasons, Remark("reason_no_room", {"least": least})]


def _too_wet(facts: Facts, setting: Setting) -> list[Remark]:
    """What is too wet."""
    reasons = []
    if np.isfinite(facts.wet_windrow_wb):
        reasons.append(_against("reason_windrow_wet", facts.wet_windrow_wb, setting.band.high_wb))
    if np.isfinite(facts.wet_film_mm):
        value = (facts.wet_film_mm, "film")
        limit = (FREE_WATER_LIMIT_MM, "film")
        reasons.append(Remark("reason_free_water", {"value": value, "limit": limit}))
    if facts.rain_mm_h >= RAIN_LIMIT_MM_H:
        reasons.append(Remark("reason_rain", {"value": (facts.rain_mm_h, "rain")}))
    return reasons or [Remark("reason_partly_wet")]


_BY_CALL: dict[Call, Callable[[Facts, Setting], list[Remark]]] = {
    Call.NATURAL_DEW: _natural_dew,
    Call.ADD_MOISTURE: _add_moisture,
    Call.TOO_DRY: _too_dry,
    Call.TOO_WET: _too_wet,
}


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
