"""Why an hour has its call, in words with value and limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import (
    FREE_WATER_LIMIT_MM,
    RAIN_LIMIT_MM_H,
    READY,
    Call,
    QuarterCalls,
)
from hayweather.baling.setting import Setting
from hayweather.farm.bands import Band
from hayweather.weather.record import COLUMN_KINDS, HOUR, NEEDED, Booleans, Floats, HourlyWeather
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
