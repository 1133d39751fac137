"""The plan and the rules of growers, held against each other; the best one is taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from hayweather.baling.calls import AS_IT_LIES, Call
from hayweather.baling.cautions import RAIN_AHEAD_MM
from hayweather.baling.course import Course
from hayweather.plan.case import Case, due_times
from hayweather.plan.check import Job, broken
from hayweather.plan.record import Comparison, Source
from hayweather.plan.solve import Solved, solve
from hayweather.plan.task import IDLE, SLOT, Schedule, Task, with_amounts
from hayweather.weather.record import Booleans, Floats

Fit = Booleans
"""Where hay is fit, on dew or behind a rig: (balers, fields, slots, modes)."""


def by_order(task: Task, fit: Fit, order: Sequence[int]) -> Schedule:
    """The schedule of a rule.

    Parameters
    ----------
    task
        Rates and moves.
    fit
        Slots and ways that the rule would use.
    order
        Fields, the first one first.
    """
    work = _Work(task, fit)
    for slot in range(task.slots):
        for baler in range(task.balers):
            work.place(baler, slot, order)
    return with_amounts(task, work.field, work.mode)


class _Work:
    """Who is where, filled slot by slot."""

    def __init__(self, task: Task, fit: Fit) -> None:
        self.task = task
        self.may = fit & (task.rate_kg > 0)
        self.left: Floats = task.mass_kg.copy()
        self.field = np.full((task.balers, task.slots), IDLE)
        self.mode = self.field.copy()
        self.last: list[tuple[int, int] | None] = [None] * task.balers
        self.rig_last: list[tuple[int, int] | None] = [None] * task.rigs
        self.served = np.zeros((task.rigs, task.slots))

    def place(self, baler: int, slot: int, order: Sequence[int]) -> None:
        """Put a baler to work in a slot: where it is, else in the first field that is fit."""
        last = self.last[baler]
        here = [] if last is None else [last[0]]
        for field in [*here, *order]:
            if self.left[field] <= 1e-9 or not self._reaches(baler, field, slot):
                continue
            for mode in range(self.may.shape[3]):
                if self.may[baler, field, slot, mode] and self._take(baler, field, slot, mode):
                    return

    def _reaches(self, baler: int, field: int, slot: int) -> bool:
        """Whether a baler can be in a field by a slot."""
        return _in_time(self.last[baler], field, slot, self.task.moves[baler])

    def _take(self, baler: int, field: int, slot: int, mode: int) -> bool:
        """Bale there if the rig can serve it; whether it did."""
        amount = min(float(self.task.rate_kg[baler, field, slot, mode]), float(self.left[field]))
        if mode > 0:
            rig = mode - 1
            room = self.task.rig_kg[rig, field, slot] - self.served[rig, slot]
            amount = min(amount, float(room))
            moves = self.task.rig_moves[rig]
            if amount <= 1e-9 or not _in_time(self.rig_last[rig], field, slot, moves):
                return False
            self.served[rig, slot] += amount
            self.rig_last[rig] = (field, slot)
        self.field[baler, slot], self.mode[baler, slot] = field, mode
        self.left[field] -= amount
        self.last[baler] = (field, slot)
        return True


def _in_time(last: tuple[int, int] | None, field: int, slot: int, moves: np.ndarray) -> bool:
    """Whether a machine last seen in a field and slot can be in another field by a slot."""
    if last is None or last[0] == field:
        return True
    return slot - last[1] - 1 >= int(moves[last[0], field])


RANGE = (10.0, 90.0)
_FAR = np.datetime64("2200-01-01", "s")


@dataclass(frozen=True)
class Chosen:
    """The schedule taken.

    Attributes
    ----------
    source, schedule
        Which, and what it does.
    solved
        The plan, its bound and time.
    rules
        Schedules of the rules.
    """

    source: Source
    schedule: Schedule
    solved: Solved
    rules: dict[Source, Schedule]


def choose(case: Case, seconds: float) -> Chosen:
    """The best of the plan and the rules for a farm."""
    return best_of(case.task, rule_schedules(case), seconds)


def best_of(task: Task, rules: dict[Source, Schedule], seconds: float) -> Chosen:
    """The best of the plan and the rules; the plan where they are equal.

    Parameters
    ----------
    task, rules
        The task, and what the rules would do.
    seconds
        Time for the plan.
    """
    solved = solve(task, seconds)
    found: list[tuple[Source, Schedule]] = [("plan", solved.schedule), *rules.items()]
    source, schedule = max(found, key=lambda item: item[1].value(task))
    return Chosen(source, schedule, solved, rules)


def rule_schedules(case: Case) -> dict[Source, Schedule]:
    """What the two rules of growers would do."""
    fit = _fit(case)
    fields = range(len(case.fields))
    cured = [_cured_at(case, f) for f in fields]
    threat = [_threatened_at(case, f) for f in fields]
    return {
        "longest_cured": by_order(case.task, fit, sorted(fields, key=lambda f: cured[f])),
        "rain_first": by_order(case.task, fit, sorted(fields, key=lambda f: (threat[f], cured[f]))),
    }


def _fit(case: Case) -> Booleans:
    """On dew or behind a rig: (balers, fields, slots, modes)."""
    fit = np.zeros(case.task.rate_kg.shape, dtype=bool)
    for (b, f, mode), way in case.ways.items():
        fit[b, f, :, mode] = np.isin(way.look.call, AS_IT_LIES) | (mode > 0)
    return fit


def _cured_at(case: Case, f: int) -> np.datetime64:
    """Since when a field is cured, as far as it is known; cured hay by its cutting."""
    field = case.fields[f]
    if isinstance(field.cured, np.datetime64):
        return field.cured
    good = case.as_it_lies(f).call > Call.NOT_CURED
    first = case.slots[int(good.argmax())] if good.any() else _FAR
    if first > case.slots[0] or field.cut_at is None:
        return first
    return min(first, field.cut_at)


def _threatened_at(case: Case, f: int) -> np.datetime64:
    """When rain or what a field is due for comes first."""
    rain = case.as_it_lies(f).rain_mm >= RAIN_AHEAD_MM / 2
    times = [time for _, time in due_times(case.fields[f])]
    if rain.any():
        times.append(case.slots[int(rain.argmax())])
    return min(times, default=_FAR)


def inspected(case: Case, schedule: Schedule) -> list[str]:
    """Hard limits that a schedule breaks, by the independent inspector."""
    rigs = {rig.name: rig for rig in case.rigs}

    @cache
    def course(field: str, baler: str, rig: str | None) -> Course:
        behind = None if rig is None else rigs[rig]
        return case.night[field].course(case.farm.balers[baler], behind)

    sites = {item.setting.site.name: item.setting.site for item in case.night}
    return broken(jobs_of(case, schedule), case.farm, sites, course)


def jobs_of(case: Case, schedule: Schedule) -> list[Job]:
    """A schedule as jobs, one a slot."""
    jobs = []
    for baler, slot in np.argwhere(schedule.field != IDLE):
        mode = int(schedule.mode[baler, slot])
        start = case.slots[slot]
        jobs.append(
            Job(
                baler=case.balers[baler].name,
                field=case.fields[int(schedule.field[baler, slot])].name,
                rig=None if mode == 0 else case.rigs[mode - 1].name,
                start=start,
                end=start + SLOT,
                kg=float(schedule.kg[baler, slot]),
            )
        )
    return jobs


def compared(case: Case, unseen: Case, chosen: Chosen) -> tuple[Comparison, ...]:
    """The schedule beside each rule on members it was not made with.

    Parameters
    ----------
    case, unseen
        The same farm with the members planned with, and with others.
    chosen
        The schedule and the rules'.
    """
    mine = unseen.member_gains(chosen.schedule)
    found = []
    for rule, schedule in chosen.rules.items():
        more = mine - unseen.member_gains(schedule)
        low, high = np.percentile(more, RANGE)
        expected = schedule.value(case.task)
        found.append(Comparison(rule, expected, float(more.mean()), float(low), float(high)))
    return tuple(found)


def spread_of(gains: Sequence[float] | np.ndarray) -> tuple[float, float, float]:
    """Mean, and the range of eight in ten."""
    low, high = np.percentile(gains, RANGE)
    return float(np.mean(gains)), float(low), float(high)
