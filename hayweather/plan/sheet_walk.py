"""Walk through the ready quarters: work, tank and fills, until the field is done.

The rig sets out with a full tank. When it runs dry the rig goes for water and
the baler waits, unless the rest of the window is too short for that; where the
baler works on dew or nobody works, the rig fills without costing an hour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hayweather.baling.calls import Call
from hayweather.farm.records import Rig
from hayweather.plan.pace import Machines, Pace
from hayweather.plan.sheet_record import Fill

SECOND = np.timedelta64(1, "s")
MINUTE_S = 60
WORTH_FILLING_S = 10 * MINUTE_S  # less work than this after a fill is not worth it (assumed)
GRAIN = 1e-6  # liters and kilograms that count as nothing


@dataclass(frozen=True)
class Slot:
    """Time in which work can go on at one pace, UTC; `window` numbers unbroken work."""

    start: np.datetime64
    end: np.datetime64
    row: int
    call: Call
    pace: Pace
    window: int

    @property
    def seconds(self) -> int:
        """Length [s]."""
        return int((self.end - self.start) / SECOND)


@dataclass(frozen=True)
class Stretch:
    """Work done in a slot or a part of it; None where not known."""

    slot: Slot
    start: np.datetime64
    end: np.datetime64
    mass_kg: float | None
    water_l: float | None

    @property
    def hours(self) -> float:
        """Length [h]."""
        return float((self.end - self.start) / SECOND) / 3600


@dataclass(frozen=True)
class Walk:
    """All work and fills of a field, in order; when it was done, where it was."""

    stretches: tuple[Stretch, ...]
    fills: tuple[Fill, ...]
    done_at: np.datetime64 | None
    cut_short: bool


@dataclass
class _State:
    """Where the walk stands: water aboard, hay left, when the rig is free again."""

    tank_l: float
    left_kg: float | None
    rig_free: np.datetime64
    done_at: np.datetime64 | None = None
    cut_short: bool = False


def walk(slots: Sequence[Slot], machines: Machines, mass_kg: float | None) -> Walk:
    """Work through some slots.

    Parameters
    ----------
    slots
        In order of time, not overlapping.
    machines
        Of the field; the rig's tank is full at first.
    mass_kg
        Hay that lies there; None where not known, then it does not end.
    """
    if not slots:
        return Walk((), (), None, False)
    rig = machines.setting.rig
    state = _State(0.0 if rig is None else rig.tank_l, mass_kg, slots[0].start)
    stretches: list[Stretch] = []
    fills: list[Fill] = []
    for index, slot in enumerate(slots):
        if state.done_at is not None:
            break
        if slot.call == Call.ADD_MOISTURE and rig is not None:
            _fill_while_idle(slots, index, stretches, fills, state, machines)
        stretches += _work(slots, index, fills, state, machines)
    return Walk(tuple(stretches), tuple(fills), state.done_at, state.cut_short)


def _work(
    slots: Sequence[Slot], index: int, fills: list[Fill], state: _State, machines: Machines
) -> list[Stretch]:
    """What gets done in one slot, fills between."""
    slot, rig, done = slots[index], machines.setting.rig, []
    with_rig = slot.call == Call.ADD_MOISTURE
    at = max(slot.start, state.rig_free) if with_rig else slot.start
    while at < slot.end and state.done_at is None:
        end = min(_tank_end(slot, at, state, machines), slot.end)
        if end > at:
            done.append(_stretch(slot, at, end, state, machines))
            at = done[-1].end
        elif rig is None or not _go_for_water(slots, index, at, fills, state, rig):
            break
        else:
            at = state.rig_free
    return done


def _litres_h(slot: Slot, machines: Machines) -> float | None:
    """Water that leaves the tank in an hour of work, turns included [L/h]; None if not known."""
    moving = slot.pace.moving_kg_h
    if moving is None:
        return None if slot.pace.rate_l_t else 0.0
    return moving / 1000 * slot.pace.rate_l_t * machines.efficiency


def _tank_end(slot: Slot, at: np.datetime64, state: _State, machines: Machines) -> np.datetime64:
    """When the tank runs dry, in whole minutes of work; the slot's end where it does not."""
    litres_h = _litres_h(slot, machines)
    if not litres_h:
        return slot.end
    seconds = state.tank_l / litres_h * 3600
    if seconds + GRAIN >= int((slot.end - at) / SECOND):
        return slot.end
    return at + int(seconds // MINUTE_S) * MINUTE_S * SECOND


def _stretch(
    slot: Slot, at: np.datetime64, end: np.datetime64, state: _State, machines: Machines
) -> Stretch:
    """Work from `at` to `end`, or until the hay is all baled."""
    moving, litres_h = slot.pace.moving_kg_h, _litres_h(slot, machines)
    if moving is None:
        return Stretch(slot, at, end, None, 0.0 if litres_h == 0.0 else None)
    kg_h = moving * machines.efficiency
    mass = kg_h * float((end - at) / SECOND) / 3600
    if state.left_kg is not None and mass >= state.left_kg - GRAIN:
        mass = state.left_kg
        end = min(end, at + max(int(np.ceil(mass / kg_h * 3600)), 1) * SECOND)
        state.done_at = end
    if state.left_kg is not None:
        state.left_kg -= mass
    water = mass / 1000 * slot.pace.rate_l_t
    state.tank_l = max(state.tank_l - water, 0.0)
    return Stretch(slot, at, end, mass, water)


def _go_for_water(
    slots: Sequence[Slot],
    index: int,
    at: np.datetime64,
    fills: list[Fill],
    state: _State,
    rig: Rig,
) -> bool:
    """Fill at `at` where enough work of this window is left after it; whether it was done."""
    fill = Fill(at, rig.fill_minutes, baler_waits=True)
    after = [
        max(int((slot.end - max(slot.start, fill.end)) / SECOND), 0)
        for slot in slots[index:]
        if slot.window == slots[index].window and slot.call == Call.ADD_MOISTURE
    ]
    if sum(after) < WORTH_FILLING_S:
        state.cut_short, state.rig_free = True, slots[index].end
        return False
    fills.append(fill)
    state.tank_l, state.rig_free = rig.tank_l, fill.end
    return True


def _fill_while_idle(
    slots: Sequence[Slot],
    index: int,
    stretches: Sequence[Stretch],
    fills: list[Fill],
    state: _State,
    machines: Machines,
) -> None:
    """Fill before a window that the tank would not last, if the rig had the time since."""
    rig, slot = machines.setting.rig, slots[index]
    first = index == 0 or slots[index - 1].window != slot.window
    worked = [item.end for item in stretches if item.slot.call == Call.ADD_MOISTURE]
    if rig is None or not first or not worked:
        return
    needed = sum(
        (_litres_h(each, machines) or 0.0) * each.seconds / 3600
        for each in slots[index:]
        if each.window == slot.window
    )
    fill = Fill(slot.start, rig.fill_minutes, baler_waits=False)
    fill = replace(fill, start=slot.start - (fill.end - fill.start))
    if state.tank_l < needed - GRAIN and fill.start >= max(worked[-1], state.rig_free):
        fills.append(fill)
        state.tank_l = rig.tank_l
