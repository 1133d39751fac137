"""Planned work as the machines do it, with their drives, tanks and fills, and what it comes to.

A schedule takes a rig's fills as spread evenly over its work, so that quarters can be
compared. What is told of a plan is what comes of carrying it out: here, once, for every
output.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import replace

import numpy as np

from hayweather.baling.calls import AS_IT_LIES, Call, QuarterCalls, limits_of
from hayweather.baling.setting import all_machines, with_machines
from hayweather.nights import FieldNight, Night
from hayweather.plan.case import Case
from hayweather.plan.crews import Duty, duties_of
from hayweather.plan.pace import Machines, machines_of, move_h, team_pace
from hayweather.plan.record import Span, WayName
from hayweather.plan.sheet_walk import SECOND, Slot, Stretch, Team, Walk, walk
from hayweather.plan.task import IDLE, SPARE, Schedule, Whole
from hayweather.weather.record import HOUR, Floats
from hayweather.windrow.trajectory import QUARTER

MINUTE = np.timedelta64(60, "s")
MOST_LONGER = 3
_Key = tuple[np.datetime64, np.datetime64, str, str, WayName]


class Work:
    """Spans of a night worked through once, in order of time.

    Work ends when a field is done, keeps to the farm's shifts where it names some, and
    begins at no time before now.

    Parameters
    ----------
    night
        Of the farm.
    spans
        Time to work in; those of one machine do not overlap.
    shifts
        False to work at any hour.

    Attributes
    ----------
    balers, rigs
        By name.
    duties
        Crews on shift; None where none are named.
    slots
        Time to work in, by quarters.
    walk
        What is done in it.

    Raises
    ------
    FarmFileError
        If a baler takes nothing, or a windrow is heavier than it takes.
    """

    def __init__(self, night: Night, spans: Sequence[Span], *, shifts: bool = True) -> None:
        self.night, self.farm = night, night.farm
        balers, rigs = all_machines(night.farm)
        self.balers = {baler.name: baler for baler in balers}
        self.rigs = {rig.name: rig for rig in rigs}
        self._machines: dict[tuple[str, str, str | None], Machines] = {}
        self._quarters: dict[tuple[str, str, str | None], QuarterCalls] = {}
        self._beyond: list[tuple[str, np.datetime64, float]] = []
        self._off_duty: list[tuple[str, np.datetime64, float]] = []
        last = max(field.span.last for field in night)
        self.duties = duties_of(night.farm, night.timezone, night.start, last) if shifts else None
        self.slots = self._slots(spans)
        self.hay_kg = {field.name: self._hay_kg(field) for field in night}
        self.walk: Walk = walk(self.slots, self.rigs, self.hay_kg, self.travel, begin_of(night.now))

    def until(self, ends: np.datetime64) -> Work:
        """The same work as far as it is done by a time that is a full quarter, UTC."""
        found, whole = copy(self), self.walk
        found.slots = [slot for slot in self.slots if slot.start < ends]
        stretches = [item for item in whole.stretches if item.start < ends]
        found.walk = replace(
            whole,
            stretches=stretches,
            fills=[fill for fill in whole.fills if fill.step.start < ends],
            left_kg={name: _left(name, kg, stretches) for name, kg in self.hay_kg.items()},
            done_at={name: time for name, time in whole.done_at.items() if time <= ends},
            cut_short={name: time for name, time in whole.cut_short.items() if time < ends},
            left_out=[visit for visit in whole.left_out if visit[0].start < ends],
        )
        found._beyond = [item for item in self._beyond if item[1] < ends]
        found._off_duty = [item for item in self._off_duty if item[1] < ends]
        return found

    def beyond_h(self, field: str) -> float:
        """Hours of a field in which no rate served."""
        return sum(hours for name, _, hours in self._beyond if name == field)

    def off_duty_h(self, field: str) -> float:
        """Hours of a field in which no crew was on shift."""
        return sum(hours for name, _, hours in self._off_duty if name == field)

    def done_of(self, span: Span) -> tuple[list[Stretch], float | None, float | None]:
        """What its baler does in a span: stretches, hay [kg] and water [L], None if not known."""
        inside = [
            item
            for item in self.walk.stretches
            if span.start <= item.start < span.end
            and item.slot.team.field == span.field
            and span.baler in item.slot.team.balers
        ]
        kg = [item.mass_of_kg(span.baler) for item in inside]
        water = [
            None if part is None else part / 1000 * item.slot.pace.rate_l_t
            for part, item in zip(kg, inside, strict=True)
        ]
        return inside, _sum(kg), _sum(water)

    def rates_l_t(self, span: Span) -> tuple[float, ...]:
        """The rates dialed in a span, in order of time [L/t]; none without a rig."""
        inside, _, _ = self.done_of(span)
        slots = [item.slot for item in inside if item.slot.team.rig == span.rig]
        return tuple(slot.pace.rate_l_t for slot in slots if slot.pace.rate_l_t)

    def done_kg(self, balers: Sequence[str], quarters: int) -> Floats:
        """Hay that each baler bales in every quarter of the night [kg], (balers, quarters)."""
        done = np.zeros((len(balers), quarters))
        for item in self.walk.stretches:
            row = int((item.start - self.night.start) // QUARTER)
            for baler in item.slot.team.balers:
                done[balers.index(baler), row] += item.mass_of_kg(baler) or 0.0
        return done

    def _hay_kg(self, field: FieldNight) -> float | None:
        """Hay that lies on a field."""
        machines = machines_of(field.setting, self.farm.units, "")
        return machines.mass_of_area_kg(field.setting.field.area_m2)

    def machines(self, field: FieldNight, baler: str, rig: str | None) -> Machines:
        """What a baler can do in a field, behind a rig or without."""
        key = (field.name, baler, rig)
        if key not in self._machines:
            ahead = None if rig is None else self.rigs[rig]
            setting = with_machines(field.setting, self.balers[baler], ahead)
            self._machines[key] = machines_of(setting, self.farm.units, str(self.farm.path or ""))
        return self._machines[key]

    def quarters(self, field: FieldNight, baler: str, rig: str | None) -> QuarterCalls:
        """The quarters as these machines find them."""
        key = (field.name, baler, rig)
        if key not in self._quarters:
            own = field.setting.rig
            shown = baler == field.setting.baler.name
            if shown and (rig is None or (own is not None and own.name == rig)):
                self._quarters[key] = field.shown.quarters
            else:
                ahead = None if rig is None else self.rigs[rig]
                self._quarters[key] = field.course(self.balers[baler], ahead).quarters
        return self._quarters[key]

    def _slots(self, spans: Sequence[Span]) -> list[Slot]:
        """Time to work in: quarters of the spans from now on, balers of one rig together."""
        begin = begin_of(self.night.now)
        found: dict[_Key, list[str]] = {}
        for span in sorted(spans, key=lambda item: (item.start, item.baler)):
            first = self.night[span.field].shown.weather.start[0]
            for start, end in _quarter_parts(max(span.start, begin), span.end, first):
                on = list(_on_duty(start, end, self.duties))
                lost = float((end - start) / HOUR) - sum(float((b - a) / HOUR) for a, b in on)
                self._off_duty.append((span.field, start, lost))
                for a, b in on:
                    key: _Key = (a, b, span.field, span.rig or "", span.way)
                    found.setdefault(key, []).append(span.baler)
        slots: list[Slot] = []
        for (start, end, name, rig, way), balers in sorted(found.items()):
            slot = self._slot(start, end, self.night[name], tuple(dict.fromkeys(balers)), rig, way)
            if slot is not None:
                slots.append(_numbered(slot, slots))
        return slots

    def _slot(
        self,
        start: np.datetime64,
        end: np.datetime64,
        field: FieldNight,
        balers: tuple[str, ...],
        rig_name: str,
        way: WayName,
    ) -> Slot | None:
        """A part of a quarter with its team's pace; None where no rate serves."""
        rig = rig_name or None
        row = int((start - field.shown.weather.start[0]) / QUARTER)
        machines = {baler: self.machines(field, baler, rig) for baler in balers}
        if rig is not None:
            machines = _of_one_rate(machines)
            balers = tuple(machines)
        team = Team(field.name, balers, rig, way, tuple(machines.values()))
        quarters = self.quarters(field, balers[0], rig)
        if row >= quarters.call.shape[0]:
            return None
        pace = team_pace(team.machines, quarters, row)
        if pace is None:
            self._beyond.append((field.name, start, float((end - start) / HOUR)))
            return None
        call = Call(int(quarters.call[row, 0]))
        if rig is None and call not in AS_IT_LIES:
            call = Call.TOO_DRY if way == "dry" else Call.NATURAL_DEW
        return Slot(start, end, row, call, team, pace, 0)

    def travel(self, machine: tuple[str, str], before: str, after: str) -> np.timedelta64:
        """Time of a machine from one field to another; a rig moves as the slowest baler."""
        kind, name = machine
        balers = [self.balers[name]] if kind == "baler" else list(self.balers.values())
        one, other = (self.farm.fields[each] for each in (before, after))
        hours = max(move_h(baler, self.farm, one, other) for baler in balers)
        return np.timedelta64(int(np.ceil(60 * hours - 1e-6)), "m").astype("timedelta64[s]")


def _of_one_rate(machines: Mapping[str, Machines]) -> dict[str, Machines]:
    """Those of some balers that can work behind one rig at once: one rate is printed, and it
    brings the hay into the limits of the first and of its like."""
    limits = {baler: limits_of(each.setting) for baler, each in machines.items()}
    first = next(iter(limits.values()))
    return {baler: machines[baler] for baler, each in limits.items() if each == first}


def begin_of(now: np.datetime64) -> np.datetime64:
    """The next whole minute."""
    return (now + MINUTE - SECOND).astype("datetime64[m]").astype("datetime64[s]")


def _left(field: str, hay_kg: float | None, stretches: Sequence[Stretch]) -> float | None:
    """Hay of a field that is left after some stretches [kg]."""
    done = _sum([item.mass_kg for item in stretches if item.slot.team.field == field])
    return None if hay_kg is None or done is None else max(hay_kg - done, 0.0)


def _sum(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) if len(known) == len(values) else None


def _quarter_parts(
    start: np.datetime64, end: np.datetime64, first: np.datetime64
) -> Iterator[tuple[np.datetime64, np.datetime64]]:
    """A time cut at the quarters of the hour."""
    at = start
    while at < end:
        row = int((at - first) / QUARTER)
        until = min(first + (row + 1) * QUARTER, end)
        yield at, until
        at = until


def _on_duty(
    start: np.datetime64, end: np.datetime64, duties: Sequence[Duty] | None
) -> Iterator[tuple[np.datetime64, np.datetime64]]:
    """The parts of a time in which a crew works."""
    if duties is None:
        yield start, end
        return
    for duty in duties:
        first, last = max(start, duty.start), min(end, duty.end)
        if last > first:
            yield first, last


def _numbered(slot: Slot, before: Sequence[Slot]) -> Slot:
    """A slot with the number of the unbroken work it belongs to."""
    last = next((s for s in reversed(before) if s.team == slot.team and s.end == slot.start), None)
    if last is not None and last.call == slot.call:
        return replace(slot, window=last.window)
    return replace(slot, window=max((each.window for each in before), default=-1) + 1)


# A schedule carried out.


def carried_out(case: Case, schedule: Schedule) -> tuple[Schedule, Work]:
    """A schedule with the hay that its work comes to, fills as they fall, and that work.

    Where fills leave hay of a field that was to be finished, its last stay goes on while
    hay and machines allow it. Quarters in which nothing comes to be done are given up, but
    for fills and drives within a stay.

    Parameters
    ----------
    case
        The farm as a task.
    schedule
        Of it, fills spread evenly.
    """
    field, mode = schedule.field, schedule.mode
    names = [baler.name for baler in case.balers]
    planned = schedule.baled_kg(case.task.fields)
    to_finish = planned >= case.task.mass_kg * (1 - SPARE)
    for more in range(MOST_LONGER + 1):
        work = Work(case.night, list(spans_of(case, field, mode)))
        kg = work.done_kg(names, case.task.quarters)
        done = np.array([kg[field == f].sum() for f in range(case.task.fields)])
        left = np.where(to_finish, case.task.mass_kg - done, 0.0)
        longer = _longer(case, field, mode, left) if more < MOST_LONGER else None
        if longer is None:
            break
        field, mode = longer
    field, mode = _trimmed(case, field, mode, kg)
    return Schedule(field, mode, np.where(field != IDLE, kg, 0.0)), work


def spans_done(case: Case, spans: Sequence[Span]) -> tuple[Schedule, Work]:
    """What is done in some spans, as a schedule, and that work.

    Parameters
    ----------
    case
        The farm as a task.
    spans
        In the hours of the night; no two want a machine at once.
    """
    work = Work(case.night, spans)
    balers, rigs = ([item.name for item in each] for each in (case.balers, case.rigs))
    fields = [item.name for item in case.fields]
    field = np.full((case.task.balers, case.task.quarters), IDLE)
    mode = field.copy()
    for span in spans:
        inside, _, _ = work.done_of(span)
        if inside:
            ends = (inside[0].start, inside[-1].start)
            first, last = (int((time - case.night.start) // QUARTER) for time in ends)
            at = (balers.index(span.baler), slice(first, last + 1))
            field[at] = fields.index(span.field)
            mode[at] = 0 if span.rig is None else 1 + rigs.index(span.rig)
    kg = work.done_kg(balers, case.task.quarters)
    return Schedule(field, mode, np.where(field != IDLE, kg, 0.0)), work


def spans_of(case: Case, field: Whole, mode: Whole) -> Iterator[Span]:
    """Where each baler is without a break, one way at a time."""
    for baler, f, first, past, way in runs_of(case, field, mode):
        rig = int(mode[baler, first])
        yield Span(
            baler=case.balers[baler].name,
            field=case.fields[f].name,
            rig=None if rig == 0 else case.rigs[rig - 1].name,
            way=way,
            start=case.time(first),
            end=case.starts[past - 1] + QUARTER,
        )


Run = tuple[int, int, int, int, WayName]
"""Baler, field, first quarter, the one after the last, way."""


def runs_of(case: Case, field: Whole, mode: Whole) -> Iterator[Run]:
    """Quarters without a break in one field and way."""
    for baler in range(case.task.balers):
        kinds: list[tuple[int, int, WayName] | None] = []
        for t in range(case.task.quarters):
            f, m = int(field[baler, t]), int(mode[baler, t])
            kinds.append((f, m, way_name(case, baler, f, t, m)) if f != IDLE else None)
        first = 0
        for t in range(1, case.task.quarters + 1):
            if t == case.task.quarters or kinds[t] != kinds[first]:
                kind = kinds[first]
                if kind is not None:
                    yield baler, kind[0], first, t, kind[2]
                first = t


def way_name(case: Case, baler: int, field: int, quarter: int, mode: int) -> WayName:
    """Whether hay is baled on dew, behind the rig, or dry."""
    if mode > 0:
        return "rig"
    call = case.ways[baler, field, 0].look.call[quarter]
    return "dew" if call in AS_IT_LIES else "dry"


def _longer(case: Case, field: Whole, mode: Whole, left_kg: Floats) -> tuple[Whole, Whole] | None:
    """The same with quarters behind the last stays of fields that have hay left; None if none."""
    field, mode, found = field.copy(), mode.copy(), False
    for f in np.flatnonzero(left_kg > SPARE * case.task.mass_kg):
        last = np.argwhere((field == f).T)
        if not last.size:
            continue
        end, b = int(last[-1][0]) + 1, int(last[-1][1])
        how, left = int(mode[b, end - 1]), float(left_kg[f])
        for t in range(end, case.task.quarters):
            if left <= 0 or not _free(case, field, mode, (b, int(f), t, how)):
                break
            field[b, t], mode[b, t], found = f, how, True
            left -= float(case.task.rate_kg[b, f, t, how])
    return (field, mode) if found else None


def _free(case: Case, field: Whole, mode: Whole, at: tuple[int, int, int, int]) -> bool:
    """Whether a baler may go on in a field in a quarter, and its machines are free for it."""
    task, (b, f, t, how) = case.task, at
    if field[b, t] != IDLE or not task.useful[b, f, t, how]:
        return False
    machines = [(field[b], task.moves[b])]
    if how:
        behind = (mode == how).any(axis=0)
        if behind[t]:
            return False
        places = np.where(mode == how, field, IDLE).max(axis=0)
        machines.append((places, task.rig_moves[how - 1]))
    for places, moves in machines:
        later = np.flatnonzero((places[t:] != IDLE) & (places[t:] != f))
        if later.size and later[0] - 1 < moves[f, int(places[t + later[0]])]:
            return False
    return True


def _trimmed(case: Case, field: Whole, mode: Whole, kg: Floats) -> tuple[Whole, Whole]:
    """Without the quarters at both ends of each run in which nothing is done."""
    kept = np.zeros(field.shape, dtype=bool)
    for baler, _, first, past, _ in runs_of(case, field, mode):
        busy = first + np.flatnonzero(kg[baler, first:past] > 0)
        if busy.size:
            kept[baler, busy[0] : busy[-1] + 1] = True
    return np.where(kept, field, IDLE), np.where(kept, mode, IDLE)
