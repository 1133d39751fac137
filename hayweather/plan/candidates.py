"""The plan and the rules of growers, held against each other; the best one is taken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.cautions import RAIN_AHEAD_MM
from hayweather.baling.course import Course
from hayweather.plan.case import Case, due_times
from hayweather.plan.check import Job, broken
from hayweather.plan.record import Comparison, Source
from hayweather.plan.rules import by_order
from hayweather.plan.solve import Solved, solve
from hayweather.plan.task import IDLE, SLOT, Schedule, Task
from hayweather.weather.record import Booleans

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
        fit[b, f, :, mode] = (way.look.call == Call.NATURAL_DEW) | (mode > 0)
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
