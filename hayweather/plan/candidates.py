"""The plan and the rules of growers, under the same charges; the best one is taken."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.cautions import RAIN_AHEAD_MM
from hayweather.baling.course import Course
from hayweather.baling.value import loss_ends
from hayweather.plan.case import Case, case_of, due_times
from hayweather.plan.check import Job, broken
from hayweather.plan.record import Comparison, Source
from hayweather.plan.rules import by_order
from hayweather.plan.solve import Solved, solve
from hayweather.plan.task import IDLE, Schedule, Task, Whole
from hayweather.windrow.trajectory import QUARTER, QUARTERS

RAIN_MM = RAIN_AHEAD_MM / QUARTERS
"""Rain of a quarter that counts."""
RANGE = (10.0, 90.0)
_FAR = np.datetime64("2200-01-01", "s")
Rules = dict[Source, Schedule]


@dataclass(frozen=True)
class Chosen:
    """The schedule taken.

    Attributes
    ----------
    source, schedule
        Which, and what it does.
    solved
        The plan, its bound and time; None where nothing had to be chosen.
    rules
        Schedules of the rules.
    """

    source: Source
    schedule: Schedule
    solved: Solved | None
    rules: Rules


def choose(case: Case, seconds: float) -> Chosen:
    """The best of the plan and the rules for a farm."""
    return best_of(case.task, rule_schedules(case), seconds)


def best_of(task: Task, rules: Mapping[Source, Schedule], seconds: float) -> Chosen:
    """The best of the plan and the rules; a rule is named where nothing better was found.

    Parameters
    ----------
    task, rules
        The task, and what the rules would do.
    seconds
        Time for the plan.
    """
    names = list(rules)
    solved = solve(task, seconds, list(rules.values()))
    source: Source = "plan" if solved.start is None else names[solved.start]
    return Chosen(source, solved.schedule, solved, dict(rules))


def rule_schedules(case: Case) -> Rules:
    """What the two rules of growers would do."""
    fields = range(len(case.fields))
    cured = [_cured_at(case, f) for f in fields]
    threat = [_threatened_at(case, f) for f in fields]
    return {
        "longest_cured": by_order(case.task, sorted(fields, key=lambda f: cured[f])),
        "rain_first": by_order(case.task, sorted(fields, key=lambda f: (threat[f], cured[f]))),
    }


def _cured_at(case: Case, f: int) -> np.datetime64:
    """Since when a field is cured, as far as it is known; cured hay by its cutting."""
    field = case.fields[f]
    if isinstance(field.cured, np.datetime64):
        return field.cured
    good = case.as_it_lies(f).call > Call.NOT_CURED
    first = case.starts[int(good.argmax())] if good.any() else _FAR
    if first > case.starts[0] or field.cut_at is None:
        return first
    return min(first, field.cut_at)


def _threatened_at(case: Case, f: int) -> np.datetime64:
    """When rain or what a field is due for comes first."""
    rain = case.as_it_lies(f).rain_mm >= RAIN_MM
    times = [time for _, time in due_times(case.fields[f])]
    if rain.any():
        times.append(case.starts[int(rain.argmax())])
    return min(times, default=_FAR)


def windows_schedule(case: Case) -> Schedule | None:
    """Every field worked in its hours of go from the first on; None where machines clash.

    Only where each field has one baler, and at most one rig, does that need no choice.
    """
    task = case.task
    field = np.full((task.balers, task.quarters), IDLE)
    mode, kg = field.copy(), np.zeros(field.shape)
    for f, item in enumerate(case.night):
        if len(item.balers) != 1 or len(item.rigs) > 1:
            return None
        b = case.balers.index(item.balers[0])
        left = float(task.mass_kg[f])
        for t in np.flatnonzero(task.fit[b, f]):
            if left <= 1e-9:
                break
            if field[b, t] != IDLE:
                return None
            how = int(task.rate_kg[b, f, t].argmax())
            amount = min(float(task.rate_kg[b, f, t, how]), left)
            field[b, t], mode[b, t], kg[b, t] = f, how, amount
            left -= amount
    schedule = Schedule(field, mode, kg)
    return schedule if _in_time(task, schedule) else None


def _in_time(task: Task, schedule: Schedule) -> bool:
    """Whether every machine is in one place at a time, with time to move."""
    balers = [(schedule.field[b], task.moves[b]) for b in range(task.balers)]
    for r in range(task.rigs):
        for t in range(task.quarters):
            if np.unique(schedule.field[schedule.mode[:, t] == 1 + r, t]).size > 1:
                return False
        balers.append((schedule.rig_field(r), task.rig_moves[r]))
    return all(_apart(places, moves) for places, moves in balers)


def _apart(places: Whole, moves: Whole) -> bool:
    """Whether one machine has time to move between the fields that it works in."""
    at = np.flatnonzero(places != IDLE)
    one, two = places[at[:-1]], places[at[1:]]
    return bool((np.diff(at) - 1 >= np.where(one == two, 0, moves[one, two])).all())


def inspected(case: Case, schedule: Schedule, *, visits: bool = True) -> list[str]:
    """Hard limits that a schedule breaks, by the independent inspector.

    Parameters
    ----------
    case, schedule
        The farm, and what is done.
    visits
        False where the windows of one field are taken as they come: no least visit holds.
    """
    rigs = {rig.name: rig for rig in case.rigs}

    @cache
    def course(field: str, baler: str, rig: str | None) -> Course:
        behind = None if rig is None else rigs[rig]
        return case.night[field].course(case.farm.balers[baler], behind)

    jobs, night = jobs_of(case, schedule), case.night
    return broken(jobs, case.farm, night.timezone, course, night.days if visits else None)


def jobs_of(case: Case, schedule: Schedule) -> list[Job]:
    """A schedule as jobs, one a quarter."""
    jobs = []
    for baler, quarter in np.argwhere(schedule.field != IDLE):
        mode = int(schedule.mode[baler, quarter])
        jobs.append(
            Job(
                baler=case.balers[baler].name,
                field=case.fields[int(schedule.field[baler, quarter])].name,
                rig=None if mode == 0 else case.rigs[mode - 1].name,
                start=case.time(int(quarter)),
                end=case.starts[quarter] + QUARTER,
                kg=float(schedule.kg[baler, quarter]),
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


def gain_range(case: Case, schedule: Schedule, gain: float) -> tuple[float, float]:
    """What the same work brings with the least and with the most loss of leaf, least loss first.

    Both beside leaving everything, valued with the same loss: hay left to lie is
    baled dry later, and loses leaf too.

    Parameters
    ----------
    case, schedule
        The farm as a task with the usual loss, and what every baler does.
    gain
        What the plan is said to bring; what does not hang on leaf stays in it.
    """
    if case.prices is None:
        raise ValueError("a plan without prices has no gain in money")
    usual = float(case.member_gains(schedule).mean())
    least, most = (
        gain + float(case_of(case.night, end).member_gains(schedule).mean()) - usual
        for end in loss_ends(case.prices)
    )
    return least, most


@dataclass(frozen=True)
class Saver:
    """Something that would let a field meet its date: key of its text, and names in it."""

    key: str
    task: Task
    names: str = ""


def savers(case: Case, f: int) -> list[Saver]:
    """What might save the date of a field, as the task that it would make."""
    task, field, options = case.task, case.fields[f], case.options
    due = case.due(f)
    after = np.zeros(task.quarters, dtype=bool)
    if due is not None:
        after = case.starts + QUARTER > due
    dear = (
        task.gain
        - 10.0
        * float(np.abs(task.gain).max())
        * after[None, None, :, None]
        * (np.arange(task.fields) == f)[None, :, None, None]
    )
    found = [Saver("fields_saves_choice", replace(task, gain=dear))]
    if case.farm.shifts:
        found.append(Saver("fields_saves_hours", replace(task, rate_kg=options.any_hour)))
    if field.baler is not None or field.rig is not None:
        others = [baler.name for baler in case.balers] + [rig.name for rig in case.rigs]
        names = ", ".join(name for name in others if name not in (field.baler, field.rig))
        if names:
            free = replace(task, rate_kg=options.any_machine)
            found.append(Saver("fields_saves_machine", free, names))
    if not case.farm.money.allow_dry and bool((options.dry > task.rate_kg).any()):
        found.append(Saver("fields_saves_dry", replace(task, rate_kg=options.dry)))
    found.append(
        Saver("fields_saves_baler", _with_one_more(case, f), case.night.fields[f].balers[0].name)
    )
    return found


def _with_one_more(case: Case, f: int) -> Task:
    """The task with a second baler like the one that works in a field."""
    task = case.task
    b = case.balers.index(case.night.fields[f].balers[0])
    twice = np.append(np.arange(task.balers), b)
    return replace(
        task,
        rate_kg=task.rate_kg[twice],
        gain=task.gain[twice],
        moves=task.moves[twice],
        move_cost=task.move_cost[twice],
        first_cost=task.first_cost[twice],
        least=task.least[twice],
    )
