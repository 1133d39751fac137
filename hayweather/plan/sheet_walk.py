"""Walk through the work of all machines in order of time: drives, tanks, fills, hay that is left.

A machine that changes fields needs its way. A rig sets out with what is in its
tank, and fills first where that is next to nothing. When it runs dry it goes for
water and the balers behind it wait, unless the rest of the work there is too
short for that; where the rig is not needed meanwhile, it fills without costing
an hour.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from hayweather.baling.calls import Call
from hayweather.farm.records import Rig
from hayweather.plan.pace import Machines, TeamPace
from hayweather.plan.record import WayName
from hayweather.plan.sheet_record import Step

SECOND = np.timedelta64(1, "s")
MINUTE_S = 60
WORTH_FILLING_S = 10 * MINUTE_S  # less work than this after a fill is not worth it (assumed)
WORTH_DRIVING_S = 20 * MINUTE_S  # less work than this is not worth the drive (assumed)
WORTH_FINISHING_S = 5 * MINUTE_S  # nor less than this, although the field is done (assumed)
SAME_VISIT = np.timedelta64(30 * MINUTE_S, "s")  # a longer pause is another visit (assumed)
SET_UP = np.timedelta64(15 * MINUTE_S, "s")  # to set up in a field and look at the hay (assumed)
GRAIN = 1e-6  # liters and kilograms that count as nothing


@dataclass(frozen=True)
class Team:
    """Who works together in a field; `machines` are what each baler can do there."""

    field: str
    balers: tuple[str, ...]
    rig: str | None
    way: WayName
    machines: tuple[Machines, ...]

    @property
    def names(self) -> tuple[tuple[str, str], ...]:
        """Kind and name of every machine in it."""
        rig = () if self.rig is None else (("rig", self.rig),)
        return (*(("baler", name) for name in self.balers), *rig)

    def machines_of(self, kind: str, name: str) -> tuple[Machines, ...]:
        """What a baler of it can do, or for a rig what all balers behind it can."""
        return self.machines if kind == "rig" else (self.machines[self.balers.index(name)],)


@dataclass(frozen=True)
class Slot:
    """Time in which a team can work at one pace, UTC; `window` numbers its unbroken work."""

    start: np.datetime64
    end: np.datetime64
    row: int
    call: Call
    team: Team
    pace: TeamPace
    window: int


@dataclass(frozen=True)
class Stretch:
    """Work done by a team in a slot or a part of it; None where not known."""

    slot: Slot
    start: np.datetime64
    end: np.datetime64
    mass_kg: float | None
    water_l: float | None

    @property
    def hours(self) -> float:
        """Length [h]."""
        return float((self.end - self.start) / SECOND) / 3600

    def mass_of_kg(self, baler: str) -> float | None:
        """The part of one baler."""
        if self.mass_kg is None:
            return None
        pace, team = self.slot.pace, self.slot.team
        hourly = [
            m.efficiency * (p.moving_kg_h or 0.0)
            for m, p in zip(team.machines, pace.each, strict=True)
        ]
        return self.mass_kg * hourly[team.balers.index(baler)] / sum(hourly)


@dataclass(frozen=True)
class RigFill:
    """A fill of a rig, and the balers that wait for it."""

    rig: str
    balers: tuple[str, ...]
    step: Step


@dataclass
class Walk:
    """All work and fills in order of time; when fields are done, and what was cut short.

    Attributes
    ----------
    tank_l, rig_free
        Of every rig: water aboard, and when it is back from the last fill.
    left_kg
        Hay of every field; None where not known, then it does not end.
    place, last
        Where every machine worked last, and until when.
    cut_short
        Fields in which the rest was too short for a fill, and since when.
    left_out
        Visits that are not worth the drive.
    """

    tank_l: dict[str, float]
    left_kg: dict[str, float | None]
    now: np.datetime64
    stretches: list[Stretch] = field(default_factory=list)
    fills: list[RigFill] = field(default_factory=list)
    done_at: dict[str, np.datetime64] = field(default_factory=dict)
    cut_short: dict[str, np.datetime64] = field(default_factory=dict)
    rig_free: dict[str, np.datetime64] = field(default_factory=dict)
    place: dict[tuple[str, str], str] = field(default_factory=dict)
    last: dict[tuple[str, str], np.datetime64] = field(default_factory=dict)
    left_out: list[list[Stretch]] = field(default_factory=list)


Travel = Callable[[tuple[str, str], str, str], np.timedelta64]


def walk(
    slots: Sequence[Slot],
    rigs: Mapping[str, Rig],
    hay_kg: Mapping[str, float | None],
    travel: Travel,
    now: np.datetime64,
) -> Walk:
    """Work through some slots, and leave out visits that are not worth the drive.

    Parameters
    ----------
    slots
        In order of time; those of one machine do not overlap.
    rigs
        By name.
    hay_kg
        Hay that lies on every field; None where not known.
    travel
        Time of a machine from one field to another, setting up there included.
    now
        UTC; nothing is done before.
    """
    kept = list(slots)
    left_out: list[list[Stretch]] = []
    while True:
        found = _walked(kept, rigs, hay_kg, travel, now)
        short = next(_short_visits(found, now), None)
        if short is None:
            found.left_out = left_out
            return found
        left_out.append(short)
        gone = {id(item.slot) for item in short}
        kept = [slot for slot in kept if id(slot) not in gone]


def _walked(
    slots: Sequence[Slot],
    rigs: Mapping[str, Rig],
    hay_kg: Mapping[str, float | None],
    travel: Travel,
    now: np.datetime64,
) -> Walk:
    """Work through all of some slots."""
    aboard = {n: r.tank_l if r.in_tank_l is None else r.in_tank_l for n, r in rigs.items()}
    state = Walk(aboard, dict(hay_kg), now)
    for index, slot in enumerate(slots):
        if slot.team.field not in state.done_at and state.left_kg.get(slot.team.field) != 0:
            ahead = [
                each
                for each in slots[index:]
                if each.team.rig == slot.team.rig and each.window == slot.window
            ]
            _work(ahead, state, None if slot.team.rig is None else rigs[slot.team.rig], travel)
    state.fills.sort(key=lambda item: item.step.start)
    return state


def visits_of(stretches: Sequence[Stretch]) -> list[list[Stretch]]:
    """The stretches of one machine, parted where it leaves a field or pauses long."""
    visits: list[list[Stretch]] = []
    for item in stretches:
        last = visits[-1][-1] if visits else None
        same = last is not None and last.slot.team.field == item.slot.team.field
        if last is not None and same and item.start - last.end <= SAME_VISIT:
            visits[-1].append(item)
        else:
            visits.append([item])
    return visits


def _short_visits(found: Walk, now: np.datetime64) -> Iterator[list[Stretch]]:
    """Visits of a baler that are not worth the drive; a few minutes more count that finish."""
    balers = {name for item in found.stretches for name in item.slot.team.balers}
    for baler in sorted(balers):
        own = [item for item in found.stretches if baler in item.slot.team.balers]
        for visit in visits_of(own):
            seconds = sum(int((item.end - item.start) / SECOND) for item in visit)
            ends = found.done_at.get(visit[0].slot.team.field)
            begun = visit[0].start <= now + MINUTE_S * SECOND  # the machines may be there
            least = WORTH_FINISHING_S if ends == visit[-1].end else WORTH_DRIVING_S
            if seconds < least and not begun:
                yield visit


def _work(ahead: Sequence[Slot], state: Walk, rig: Rig | None, travel: Travel) -> None:
    """What gets done in the first of some slots of a team's window, fills between."""
    slot = ahead[0]
    team = slot.team
    at = max(slot.start, *(_there(each, team.field, state, travel) for each in team.names))
    if rig is not None:
        at = max(at, _fill_before(ahead, at, state, rig, travel))
    while at < slot.end and team.field not in state.done_at:
        end = min(_tank_end(slot, at, state, rig), slot.end)
        if end > at:
            at = _worked(slot, at, end, state)
        elif rig is None or not _go_for_water(ahead, at, state, rig):
            break
        else:
            at = state.rig_free[rig.name]


def _there(machine: tuple[str, str], field_name: str, state: Walk, travel: Travel) -> np.datetime64:
    """When a machine can work in a field at the earliest."""
    kind, name = machine
    back = state.rig_free.get(name, state.now) if kind == "rig" else state.now
    if machine not in state.last:
        return max(state.now, back)
    free = max(state.last[machine], back)
    before = state.place[machine]
    return free if before == field_name else free + travel(machine, before, field_name)


def _tank_end(slot: Slot, at: np.datetime64, state: Walk, rig: Rig | None) -> np.datetime64:
    """When the tank runs dry, in whole minutes of work; the slot's end where it does not."""
    litres_h = slot.pace.litres_h
    if rig is None or not litres_h:
        return slot.end
    seconds = state.tank_l[rig.name] / litres_h * 3600
    if seconds + GRAIN >= int((slot.end - at) / SECOND):
        return slot.end
    return at + int(seconds // MINUTE_S) * MINUTE_S * SECOND


def _worked(slot: Slot, at: np.datetime64, end: np.datetime64, state: Walk) -> np.datetime64:
    """Work from `at` to `end`, or until the hay is all baled; when it ended."""
    team, kg_h = slot.team, slot.pace.kg_h
    mass: float | None = None
    water = 0.0 if slot.pace.litres_h == 0.0 else None
    if kg_h is not None:
        mass = kg_h * float((end - at) / SECOND) / 3600
        left = state.left_kg[team.field]
        if left is not None and mass >= left - GRAIN:
            mass = left
            end = min(end, at + max(int(np.ceil(mass / kg_h * 3600)), 1) * SECOND)
            state.done_at[team.field] = end
        if left is not None:
            state.left_kg[team.field] = left - mass
        water = mass / 1000 * slot.pace.rate_l_t
        if team.rig is not None:
            state.tank_l[team.rig] = max(state.tank_l[team.rig] - water, 0.0)
    state.stretches.append(Stretch(slot, at, end, mass, water))
    for machine in team.names:
        state.place[machine], state.last[machine] = team.field, end
    return end


def _needed_l(ahead: Sequence[Slot], at: np.datetime64) -> float:
    """Water for the rest of a window from a time on [L]."""
    return sum(
        (each.pace.litres_h or 0.0) * max(float((each.end - max(each.start, at)) / SECOND), 0.0)
        for each in ahead
    ) / 3600  # fmt: skip


def _go_for_water(ahead: Sequence[Slot], at: np.datetime64, state: Walk, rig: Rig) -> bool:
    """Fill at `at` where enough work of this window is left after it; whether it was done."""
    team = ahead[0].team
    back = at + _minutes(rig.fill_minutes)
    after = [max(int((each.end - max(each.start, back)) / SECOND), 0) for each in ahead]
    if sum(after) < WORTH_FILLING_S:
        state.cut_short.setdefault(team.field, at)
        state.rig_free[rig.name] = ahead[-1].end
        return False
    _fill(rig, team, at, state, waits=True)
    return True


def _minutes(minutes: float) -> np.timedelta64:
    return np.timedelta64(round(60 * minutes), "s")


def _fill(rig: Rig, team: Team, at: np.datetime64, state: Walk, *, waits: bool) -> None:
    """A way to the water and back."""
    end = at + _minutes(rig.fill_minutes)
    step = Step("fill", at, end, team.field, baler_waits=waits)
    state.fills.append(RigFill(rig.name, team.balers if waits else (), step))
    state.tank_l[rig.name], state.rig_free[rig.name] = rig.tank_l, end


def _fill_before(
    ahead: Sequence[Slot], at: np.datetime64, state: Walk, rig: Rig, travel: Travel
) -> np.datetime64:
    """Fill before a window that the tank would not last; when work can begin.

    In the time that the rig has before it. Where it has none, a tank that is all
    but empty is filled first all the same.
    """
    slot, machine = ahead[0], ("rig", rig.name)
    goes_on = any(s.slot.window == slot.window for s in state.stretches if s.slot.team == slot.team)
    needed = min(_needed_l(ahead, at), rig.tank_l)
    aboard = state.tank_l[rig.name]
    if goes_on or aboard >= needed - GRAIN:
        return at
    back = at - _approach(machine, slot.team.field, state, travel)
    begin = back - _minutes(rig.fill_minutes)
    times = (state.last.get(machine), state.rig_free.get(rig.name))
    free = max([state.now, *(time for time in times if time is not None)])
    if begin >= free:
        _fill(rig, slot.team, begin, state, waits=False)
        return at
    litres_h = slot.pace.litres_h
    if litres_h and aboard / litres_h * 3600 < WORTH_FILLING_S:
        _fill(rig, slot.team, free, state, waits=True)
        return max(at, _there(machine, slot.team.field, state, travel), state.rig_free[rig.name])
    return at


def _approach(
    machine: tuple[str, str], field_name: str, state: Walk, travel: Travel
) -> np.timedelta64:
    """Time between the last fill and work: the way to another field, or setting up."""
    before = state.place.get(machine)
    if before is None:
        return SET_UP
    if before == field_name:
        return np.timedelta64(0, "s")
    return travel(machine, before, field_name)
