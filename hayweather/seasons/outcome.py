"""One block of nights through the windrow: what each night gave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import Call, QuarterCalls
from hayweather.baling.hours import CAUTIOUS_FIRST
from hayweather.baling.machines import field_efficiency, flow_limit_kg_h, with_fills_kg_h
from hayweather.baling.setting import Setting
from hayweather.baling.value import baling_loss_percent
from hayweather.farm.records import Rig
from hayweather.nights.drive import Loop, drive_calls
from hayweather.seasons.nights import LANE_HOURS, NightPlan, begins_of
from hayweather.seasons.record.nights import Missing, Nights
from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.trajectory import QUARTERS

QUARTER_H = 1 / QUARTERS


@dataclass(frozen=True)
class Block:
    """Nights that are run together, of one site or of many.

    Attributes
    ----------
    weather
        Lanes of `LANE_HOURS` hours.
    plan
        Where in its lane each night lies.
    setting
        What holds there; place and windrow may have a number for every lane.
    rain_before_mm, causes
        Rain of the 48 hours before sunset; `Missing` of each night, as far as
        the hours tell it.
    capacity_kg_h
        Of the baler.
    """

    weather: HourlyWeather
    plan: NightPlan
    setting: Setting
    rain_before_mm: Floats
    causes: NDArray[np.int16]
    capacity_kg_h: float


def nights_of(block: Block, loop: Loop = "auto") -> Nights:
    """What each night of a block gave; the same whatever else is in the block."""
    begins = begins_of(block.plan)
    trajectory, quarters, stopped = drive_calls(block.weather, block.setting, begins, loop)
    window = _window(block.plan)
    lanes = np.arange(block.plan.evening.size)
    started = trajectory.started[block.plan.starts[:, 1], lanes]
    return Nights(
        evening=block.plan.evening,
        missing=_missing(block, quarters, window),
        spun_up=~started,
        rain_before_mm=block.rain_before_mm,
        **_hours(block, quarters, window, stopped),
        **_rig(block, quarters, window & ~stopped),
        **_losses(block, quarters, window & ~stopped),
        hours=clock_hours(block.plan, quarters),
    )


def _window(plan: NightPlan) -> Booleans:
    """Quarters of each night from sunset to four hours after sunrise, (quarters, nights)."""
    rows = np.arange(QUARTERS * LANE_HOURS)[:, None]
    return np.asarray((rows >= plan.window[:, 0]) & (rows < plan.window[:, 1]))


def _missing(block: Block, quarters: QuarterCalls, window: Booleans) -> NDArray[np.int16]:
    """Why a night cannot be told: a quarter without data in it names what is blank."""
    unknown = (window & (quarters.call == Call.NO_DATA)).any(axis=0)
    unknown |= block.plan.window[:, 1] == 0
    own = np.where(unknown, block.causes & ~Missing.RAIN_BEFORE, 0)
    # A blank just before the night, so that no run could begin, leaves no cause of its own.
    own = np.where(unknown & (own == 0), Missing.NO_HOURS, own)
    return np.asarray(own | (block.causes & Missing.RAIN_BEFORE), dtype=np.int16)


def _hours(
    block: Block, quarters: QuarterCalls, window: Booleans, stopped: Booleans
) -> dict[str, Floats]:
    """Hours of each kind, and the first and last moment on dew [h after 14:00]."""
    call = quarters.call
    kinds = {"dew_h": Call.NATURAL_DEW, "rig_h": Call.ADD_MOISTURE}
    found = {name: _count(window & ~stopped & (call == kind)) for name, kind in kinds.items()}
    found["wet_h"] = _count(window & (call == Call.TOO_WET))
    found["dry_h"] = _count(window & (call == Call.TOO_DRY))
    ready = window & np.isin(call, list(kinds.values()))
    found["stop_h"] = _count(ready & stopped)
    dew = window & ~stopped & (call == Call.NATURAL_DEW)
    any_dew, rows = dew.any(axis=0), dew.shape[0]
    first, past = dew.argmax(axis=0), rows - dew[::-1].argmax(axis=0)
    turn = block.plan.turn
    found["first_h"] = np.where(any_dew, (first - turn) * QUARTER_H, np.nan)
    found["last_h"] = np.where(any_dew, (past - turn) * QUARTER_H, np.nan)
    return found


def _count(marks: Booleans) -> Floats:
    """Quarters that are True as hours, (nights,)."""
    return np.asarray(marks.sum(axis=0) * QUARTER_H)


def _rig(block: Block, quarters: QuarterCalls, open_: Booleans) -> dict[str, Floats]:
    """What a rig would put on and bale in the hours that it can help."""
    rig, water = block.setting.rig, quarters.dose
    if rig is None or water is None:
        raise ValueError("seasons are run with a rig")
    marks = open_ & (quarters.call == Call.ADD_MOISTURE)
    applied = np.where(marks, water.applied_l_t, 0.0)
    efficiency = field_efficiency(block.setting.baler)
    rate = np.where(marks, applied, 1.0)
    pace, flowing = rig_pace(rate, rig, block.capacity_kg_h, efficiency)
    baled_kg = np.where(marks, pace * QUARTER_H, 0.0)
    count = marks.sum(axis=0)
    mean = applied.sum(axis=0) / np.maximum(count, 1)
    return {
        "water_l_t": np.where(count > 0, mean, np.nan),
        "rig_kg": baled_kg.sum(axis=0),
        "water_l": (baled_kg / 1000 * applied).sum(axis=0),
        "flow_h": np.where(marks, flowing * QUARTER_H, 0.0).sum(axis=0),
    }


def rig_pace(
    applied_l_t: Floats, rig: Rig, capacity_kg_h: float, efficiency: float
) -> tuple[Floats, Floats]:
    """Hay baled behind a rig [kg/h], fills included, and the share of time that water flows.

    As on the run sheet: the baler's capacity or the rig's flow between turns is
    the limit; an empty tank takes its time to fill.

    Parameters
    ----------
    applied_l_t
        Water put on.
    rig, capacity_kg_h, efficiency
        The rig; what the baler does in an hour in the field, and its field
        efficiency [-].

    Examples
    --------
    >>> rig = Rig("rig", 4000.0, 10.0, 80.0, 40.0, 30.0)
    >>> pace, share = rig_pace(np.array([100.0, 200.0]), rig, 20_000.0, 0.8)
    >>> pace.round(1).tolist(), share.round(3).tolist()
    ([15483.9, 7741.9], [0.645, 0.645])
    """
    working = np.minimum(capacity_kg_h, efficiency * flow_limit_kg_h(rig, applied_l_t))
    pace = with_fills_kg_h(working, rig, applied_l_t)
    return pace, pace / working * efficiency


def _losses(block: Block, quarters: QuarterCalls, open_: Booleans) -> dict[str, Floats]:
    """Dry matter that the baler loses [%]: on dew, with the rig, and dry in the rig's hours."""
    names = ("dew_loss", "rig_loss", "dry_loss")
    if block.setting.field.crop != "alfalfa" or quarters.dose is None:
        return {name: np.full(block.plan.evening.size, np.nan) for name in names}
    kind = block.setting.baler.kind
    on_dew = open_ & (quarters.call == Call.NATURAL_DEW)
    with_rig = open_ & (quarters.call == Call.ADD_MOISTURE)
    gained = np.where(with_rig, quarters.dose.after_wb - quarters.windrow_wb, 0.0)
    as_it_lies = baling_loss_percent(quarters.leaf_wb, kind)
    helped = baling_loss_percent(quarters.leaf_wb + gained, kind)
    means = (_mean(as_it_lies, on_dew), _mean(helped, with_rig), _mean(as_it_lies, with_rig))
    return dict(zip(names, means, strict=True))


def _mean(values: Floats, marks: Booleans) -> Floats:
    """Mean over the quarters marked, NaN where none is, (nights,)."""
    count = marks.sum(axis=0)
    total = np.where(marks, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def clock_hours(plan: NightPlan, quarters: QuarterCalls) -> NDArray[np.int8]:
    """The call that holds longest in each hour from 14:00 local on, (nights, 24).

    As the outlook shows an hour: of two calls that hold equally long, the more
    cautious. -1 where the clock has no such hour.
    """
    count = plan.evening.size
    order = np.array([int(call) for call in CAUTIOUS_FIRST], dtype=np.int8)
    calls = quarters.call.reshape(-1, QUARTERS, count)
    held = np.stack([(calls == call).sum(axis=1, dtype=np.int8) for call in order])
    longest = order[held.argmax(axis=0)]
    shown = np.full((count, 24), -1, dtype=np.int8)
    lanes = np.arange(count)
    for hour in range(plan.clock.shape[1]):
        row = -(-plan.turn // QUARTERS) + hour
        there = plan.clock[:, hour] >= 0
        shown[lanes[there], plan.clock[there, hour]] = longest[row[there], lanes[there]]
    return shown
