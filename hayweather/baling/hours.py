"""HourCall: one hour as tables and data show it, and why it has its call."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.advice import Advice, held_longest, likeliest
from hayweather.baling.calls import (
    BALED,
    CAUTIOUS_FIRST,
    DANGER,
    FREE_WATER_LIMIT_MM,
    RAIN_LIMIT_MM_H,
    Call,
    QuarterCalls,
)
from hayweather.baling.cause import Cause
from hayweather.baling.cautions import (
    Dangers,
    dangers_of,
    hour_cautions,
    relative_humidity,
    stop_reasons,
)
from hayweather.baling.course import Course, mean_chances
from hayweather.baling.setting import Setting
from hayweather.farm.bands import Band
from hayweather.weather.record import (
    COLUMN_KINDS,
    HOUR,
    NEEDED,
    ORIGINS,
    Booleans,
    Floats,
    HourlyWeather,
)
from hayweather.windrow.trajectory import QUARTERS, LayerKind, Part, WindrowTrajectory
from hayweather.windrow.vapor import wind_at_two_meters
from hayweather.words import Remark


@dataclass(frozen=True)
class Facts:
    """Means of an hour over the quarters of its call, lane 0; NaN where unknown.

    The dry and wet ones are means over those of these quarters that are beyond
    the limit, NaN where none is: a quarter's reason is never lost in the mean. Rates
    are every one that is dialed there.
    """

    windrow_wb: float
    leaf_wb: float
    bottom_wb: float
    stem_driest_wb: float
    rain_mm_h: float
    dry_windrow_wb: float
    wet_windrow_wb: float
    wet_film_mm: float
    needed_l_t: float
    applied_l_t: tuple[float, ...]
    after_wb: float
    soft_share: float
    wet_share: float
    least_soft: float
    most_wet: float
    cause: Cause
    off_dial: bool = False


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

    def known(values: Floats, chosen: Booleans | bool = True) -> tuple[float, ...]:
        inside = values[rows & chosen, 0]
        return tuple(float(value) for value in inside[~np.isnan(inside)])

    def mean(values: Floats, chosen: Booleans | bool = True) -> float:
        inside = known(values, chosen)
        return float(np.mean(inside)) if inside else float("nan")

    windrow, leaf, free = quarters.windrow_wb, quarters.leaf_wb, quarters.free_water_mm
    water = quarters.dose
    unknown = float("nan")
    return Facts(
        windrow_wb=mean(windrow),
        leaf_wb=mean(leaf),
        bottom_wb=mean(quarters.bottom_wb),
        stem_driest_wb=mean(quarters.stem_driest_wb),
        rain_mm_h=mean(quarters.rain_mm_h),
        dry_windrow_wb=mean(windrow, windrow[:, 0] < band.low_wb),
        wet_windrow_wb=mean(windrow, windrow[:, 0] > band.high_wb),
        wet_film_mm=mean(free, free[:, 0] > FREE_WATER_LIMIT_MM),
        needed_l_t=unknown if water is None else mean(water.needed_l_t),
        applied_l_t=() if water is None else known(water.applied_l_t),
        after_wb=unknown if water is None else mean(water.after_wb),
        soft_share=mean(quarters.soft_share),
        wet_share=mean(quarters.wet_share),
        least_soft=float(np.fmin.reduce(quarters.soft_share[rows, 0], initial=np.inf)),
        most_wet=float(np.fmax.reduce(quarters.wet_share[rows, 0], initial=-np.inf)),
        cause=Cause(int(np.bincount(quarters.cause[rows, 0], minlength=1).argmax())),
        off_dial=water is not None and bool(water.off_dial[rows, 0].any()),
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
    if call in BALED and facts.bottom_wb < setting.band.low_wb:
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
    if not np.isfinite(facts.stem_driest_wb):
        return [Remark("reason_still_drying")]
    return [_against("reason_stem_wet", facts.stem_driest_wb, setting.band.stem_limit_wb)]


def _as_it_lies(facts: Facts, setting: Setting) -> list[Remark]:
    """What makes the hay ready as it lies, and what brought it there."""
    reasons = [_in_band(facts.windrow_wb, setting)]
    if setting.band.leaf_minimum_wb is not None:
        reasons.append(_soft("reason_leaf_soft", facts, setting))
    return [*reasons, Remark(f"reason_cause_{facts.cause.name.lower()}")]


def _damp_below(facts: Facts, setting: Setting) -> list[Remark]:
    """Hay that the ground has made damp."""
    return [_in_band(facts.windrow_wb, setting), Remark("reason_damp_below")]


def _soft(key: str, facts: Facts, setting: Setting) -> Remark:
    """How much of the leaf is soft."""
    values: dict[str, object] = {
        "share": f"{100 * facts.least_soft:.0f}",
        "least": f"{100 * setting.baler.soft_share:.0f}",
        "limit": (setting.band.leaf_minimum_wb, "percent"),
    }
    return Remark(key, values)


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
    if band.leaf_minimum_wb is not None and facts.least_soft < setting.baler.soft_share:
        reasons.append(_soft("reason_leaf_dry", facts, setting))
    return reasons


def _add_moisture(facts: Facts, setting: Setting) -> list[Remark]:
    """What is dry, and what the water brings."""
    if not facts.applied_l_t:
        return [*_dry_parts(facts, setting), Remark("reason_water_not_wanted")]
    least, most = min(facts.applied_l_t), max(facts.applied_l_t)
    values: dict[str, object] = {
        "water": (most, "water_rate") if least == most else (least, most, "water_rate"),
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
    if np.isposinf(facts.needed_l_t):
        return [*reasons, Remark("reason_leaf_beyond_rig")]
    if facts.needed_l_t > setting.rig.rate_max_l_t:
        values: dict[str, object] = {
            "needed": (facts.needed_l_t, "water_rate"),
            "most": (setting.rig.rate_max_l_t, "water_rate"),
        }
        return [*reasons, Remark("reason_beyond_rig", values)]
    if facts.off_dial:
        step = (setting.rig.rate_step_l_t, "water_rate")
        return [*reasons, Remark("reason_off_dial", {"step": step})]
    least = (setting.rig.rate_min_l_t, "water_rate")
    return [*reasons, Remark("reason_no_room", {"least": least})]


def _too_wet(facts: Facts, setting: Setting) -> list[Remark]:
    """What is too wet."""
    reasons = []
    if np.isfinite(facts.wet_windrow_wb):
        reasons.append(_against("reason_windrow_wet", facts.wet_windrow_wb, setting.band.high_wb))
    if facts.most_wet > setting.baler.wet_share:
        values: dict[str, object] = {
            "share": f"{100 * facts.most_wet:.0f}",
            "most": f"{100 * setting.baler.wet_share:.0f}",
            "limit": (setting.band.ceiling_wb, "percent"),
        }
        reasons.append(Remark("reason_wet_share", values))
    if np.isfinite(facts.wet_film_mm):
        value = (facts.wet_film_mm, "film")
        limit = (FREE_WATER_LIMIT_MM, "film")
        reasons.append(Remark("reason_free_water", {"value": value, "limit": limit}))
    if facts.rain_mm_h >= RAIN_LIMIT_MM_H:
        reasons.append(Remark("reason_rain", {"value": (facts.rain_mm_h, "rain")}))
    return reasons or [Remark("reason_partly_wet")]


_BY_CALL: dict[Call, Callable[[Facts, Setting], list[Remark]]] = {
    Call.NATURAL_DEW: _as_it_lies,
    Call.READY: _as_it_lies,
    Call.DAMP_BELOW: _damp_below,
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


@dataclass(frozen=True)
class OriginHour:
    """Where each input of an hour comes from, words of `hayweather.weather.record.ORIGINS`."""

    air_temperature: str
    dew_point: str
    wind: str
    rain: str
    sky: str


@dataclass(frozen=True)
class AirHour:
    """The weather of an hour; instants at its start, NaN where unknown."""

    temperature_c: float
    dew_point_c: float
    relative_humidity: float
    wind_2m_m_s: float
    rain_mm: float
    origin: OriginHour


@dataclass(frozen=True)
class LayerHour:
    """A layer in an hour, means over it [% wet basis]; whole with its free water."""

    leaf_wb: float
    stem_wb: float
    whole_wb: float


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
    top: LayerHour
    middle: LayerHour
    bottom: LayerHour


@dataclass(frozen=True)
class HourCall:
    """One hour: the likeliest call in it, what to do, and why.

    Attributes
    ----------
    start
        UTC.
    call
        The likeliest by the mean of its quarters.
    advice
        Go, probe first, wait or unknown, as in most of its quarters.
    cause
        What brought the water that the hay holds.
    soft_share, wet_share
        Share of the leaf that is soft, and of the hay above the ceiling [-].
    stop
        Work stops in this hour; the first reasons say why.
    reasons, cautions
        Texts with values.
    air, hay
        Weather and windrow.
    water_l_t, after_wb
        Rate to dial [L/t], of those in the hour the one nearest their mean, and mean
        moisture after it [% wb]; only with "add moisture", else NaN.
    chance
        Chance of each call, or None while there is one forecast only.
    """

    start: np.datetime64
    call: Call
    advice: Advice
    cause: Cause
    soft_share: float
    wet_share: float
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
    shown = course.trajectory.lanes(slice(0, 1))
    found = []
    for hour in range(course.weather.hours if count is None else count):
        chance = mean_chances(course.chances[:, course.of_hour(hour)]) if sure else None
        found.append(_hour_call(course, setting, dangers, hour, chance, shown))
    return found


def _hour_call(
    course: Course,
    setting: Setting,
    dangers: Dangers,
    hour: int,
    chance: dict[Call, float] | None,
    shown: WindrowTrajectory,
) -> HourCall:
    """One hour shown."""
    quarters, weather = course.quarters, course.weather
    block = course.of_hour(hour)
    call = Call(int(likeliest(course.chances[:, block].mean(axis=1))))
    rows = np.zeros(quarters.call.shape[0], dtype=bool)
    rows[block] = True
    all_of_it = facts_of(quarters, rows, setting.band)
    held = rows & (quarters.call[:, 0] == call)
    facts = facts_of(quarters, held if held.any() else rows, setting.band)
    rig_runs = call == Call.ADD_MOISTURE
    stops = stop_reasons(dangers, hour, setting, rig_runs=rig_runs)
    cautions = hour_cautions(weather, course.trajectory, dangers, setting, hour)
    advice = held_longest(course.advice[block], call)
    middle = longest_call(course.middle[block])
    if middle == call:
        reasons = reasons_for(call, facts, setting, weather, hour)
    else:
        facts_there = facts_of(quarters, rows & (course.middle == middle), setting.band)
        why = reasons_for(middle, facts_there, setting, weather, hour)
        reasons = [
            Remark("reason_differs", {"middle": Remark(f"call_{middle.name.lower()}")}),
            *why,
        ]
        if rig_runs and not facts.applied_l_t:
            reasons.append(Remark("reason_water_not_wanted"))
    if not stops:
        near = [Remark("advice_near_ceiling")] if course.held[block].any() else []
        reasons = [*near, *_held_back(advice, call, course, block), *reasons]
    cautions += unsure(call, chance)
    return HourCall(
        start=weather.start[0] + hour * HOUR,
        call=call,
        advice=Advice.WAIT if stops and advice != Advice.UNKNOWN else advice,
        cause=all_of_it.cause,
        soft_share=all_of_it.soft_share,
        wet_share=all_of_it.wet_share,
        stop=bool(stops),
        reasons=(*stops, *reasons),
        cautions=tuple(cautions),
        air=_air_hour(weather, hour),
        hay=_hay_hour(shown, quarters, hour),
        water_l_t=_one_dialed(facts.applied_l_t if rig_runs else ()),
        after_wb=facts.after_wb if rig_runs else float("nan"),
        chance=chance,
    )


def _one_dialed(rates_l_t: Sequence[float]) -> float:
    """The rate that speaks for several: the one nearest their mean, so that it can be dialed."""
    if not rates_l_t:
        return float("nan")
    mean = float(np.mean(rates_l_t))
    return min(rates_l_t, key=lambda rate: (abs(rate - mean), rate))


def _held_back(advice: Advice, call: Call, course: Course, block: slice) -> list[Remark]:
    """Why hay that can be baled is not to be baled without a look; nothing where it is."""
    if call not in BALED or advice in (Advice.GO, Advice.UNKNOWN):
        return []
    ready = float((course.good(call)[block] @ _counted(course)).mean())
    wet = float(course.chances[list(DANGER), block].sum(axis=0).mean())
    reasons = []
    if wet > course.risk.wet:
        reasons.append(Remark("advice_may_be_wet", {"count": f"{100 * wet:.0f}"}))
    if ready < course.risk.ready:
        reasons.append(Remark("advice_rarely_ready", {"count": f"{100 * ready:.0f}"}))
    anew = [Remark("advice_begun_anew")] if course.anew[block].any() else []
    sky = [Remark("advice_sky_unknown")] if course.by_sky[block].any() else []
    return [*reasons, *course.limits_said, *anew, *sky]


def _counted(course: Course) -> Floats:
    """Weights of the lanes; all on the forecast where there are no members."""
    weights = course.weights.weights
    return weights if weights.any() else np.eye(1, weights.size)[0]


def unsure(call: Call, chance: Mapping[Call, float] | None) -> list[Remark]:
    """A caution where fewer forecast runs than half make this call; nothing without chances."""
    if chance is None or call == Call.NO_DATA or chance[call] >= LOW_CONFIDENCE:
        return []
    return [Remark("caution_low_confidence", {"chance": f"{100 * chance[call]:.0f}"})]


def longest_call(calls: NDArray[np.int8]) -> Call:
    """The call that holds longest; of two equal ones the more cautious.

    Parameters
    ----------
    calls
        Of some quarters, in a row.
    """
    held = np.bincount(calls, minlength=len(Call))
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

    def first(lanes: np.ndarray) -> float:
        return float(lanes[0, 0])

    return AirHour(
        temperature_c=first(now.columns["air_temperature_c"]),
        dew_point_c=first(now.columns["dew_point_c"]),
        relative_humidity=first(relative_humidity(now)),
        wind_2m_m_s=first(wind),
        rain_mm=float("nan") if rain is None else first(rain),
        origin=OriginHour(
            *(ORIGINS[now.origin(name)[0, 0]] for name in (*NEEDED, "rain_mm", "sky"))
        ),
    )


def _hay_hour(trajectory: WindrowTrajectory, quarters: QuarterCalls, hour: int) -> HayHour:
    """The windrow in an hour, lane 0; of the quarter-hour boundaries the ends count half."""
    block = slice(QUARTERS * hour, QUARTERS * (hour + 1))

    def mean(boundaries: Floats) -> float:
        ends = boundaries[QUARTERS * hour : QUARTERS * (hour + 1) + 1, 0]
        return float((ends[:-1] + ends[1:]).mean() / 2)

    hay = quarters.hay.cut(block, slice(0, 1))

    def layer(part: Part) -> LayerHour:
        kinds: tuple[LayerKind, ...] = ("leaf", "stem", "windrow")
        return LayerHour(*(float(hay.part_wb(part, kind).mean()) for kind in kinds))

    return HayHour(
        windrow_wb=mean(trajectory.windrow_wb),
        leaf_wb=mean(trajectory.leaf_wb),
        stem_wb=mean(trajectory.stem_wb),
        free_water_mm=mean(trajectory.free_water_mm),
        skin_temperature_c=mean(trajectory.skin_temperature_c),
        skin_humidity=mean(100 * np.minimum(trajectory.skin_humidity, 1.0)),
        top=layer("top"),
        middle=layer("middle"),
        bottom=layer("bottom"),
    )
