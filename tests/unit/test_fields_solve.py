"""Plans for fields: against every schedule there is, against the rules, on time and late.

The tasks are invented; the yardstick is brute force, which shares no code.
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize
from support.brute import best_value
from support.tasks import random_task, rules_of, summer_task

from hayweather.plan import solve as solving
from hayweather.plan.candidates import best_of
from hayweather.plan.solve import gap_of, solve
from hayweather.plan.task import IDLE, nothing, with_amounts

TINY = [(1, 3, 5, 1), (2, 2, 4, 0), (1, 2, 6, 1), (2, 2, 3, 1), (1, 4, 4, 0)]
LIMIT_S = 20.0


def broken(task, schedule):
    """Limits of a task that a schedule breaks, looked up slot by slot."""
    found = []
    for b, slot in np.argwhere(schedule.field != IDLE):
        f, mode, kg = schedule.field[b, slot], schedule.mode[b, slot], schedule.kg[b, slot]
        if kg > task.rate_kg[b, f, slot, mode] + 1e-6:
            found.append(("rate", b, slot))
        for later in range(slot + 1, task.slots):
            to = schedule.field[b, later]
            if to not in (IDLE, f) and later - slot - 1 < task.moves[b, f, to]:
                found.append(("move", b, slot))
        for other, later in np.argwhere(schedule.mode == mode):
            to = schedule.field[other, later]
            near = mode > 0 and abs(later - slot) - 1 < task.rig_moves[mode - 1, f, to]
            if near and to != f:
                found.append(("rig", b, slot))
    for rig in range(task.rigs):
        for slot in range(task.slots):
            here = schedule.mode[:, slot] == 1 + rig
            fields = schedule.field[here, slot]
            if (
                here.any()
                and schedule.kg[here, slot].sum() > task.rig_kg[rig, fields[0], slot] + 1e-6
            ):
                found.append(("flow", rig, slot))
    if (schedule.baled_kg(task.fields) > task.mass_kg + 1e-6).any():
        found.append(("hay",))
    return found


def few_then(first, past):
    """The first of a range in every run, the rest in the long one."""
    late = [pytest.param(n, marks=pytest.mark.long) for n in range(first, past)]
    return [*range(first), *late]


@pytest.mark.parametrize("seed", few_then(15, 50))
def test_it_equals_every_schedule_there_is_on_tiny_tasks(seed):
    task = random_task(seed, *TINY[seed % len(TINY)])
    solved = solve(task, LIMIT_S)
    assert solved.value == pytest.approx(best_value(task), rel=1e-5, abs=1e-6)
    assert solved.bound >= solved.value - 1e-6
    assert broken(task, solved.schedule) == []


@pytest.mark.parametrize("seed", range(5))
def test_the_way_of_large_tasks_finds_the_same_on_tiny_ones(seed, monkeypatch):
    """Walk and parts solved anew, as on a large farm; to the end, not to a bound."""
    for name, value in {"SMALL": 0, "GAP": -1.0, "ROUNDS": 1, "STALE": 6}.items():
        monkeypatch.setattr(solving, name, value)
    task = random_task(300 + seed, *TINY[seed])
    solved = solve(task, LIMIT_S)
    assert solved.value == pytest.approx(best_value(task), rel=1e-4, abs=1e-6)
    assert broken(task, solved.schedule) == []


@pytest.mark.parametrize("rigs", [0, 1])
def test_fields_in_a_row_with_the_ends_further_apart(rigs):
    """From the first to the second and on takes a slot each, right across three."""
    moves = np.array([[0, 1, 3], [1, 0, 1], [3, 1, 0]])
    for seed in range(2):
        task = random_task(400 + seed, 1, 3, 6, rigs)
        each = np.repeat(moves[None], max(rigs, 1), axis=0)
        row = replace(task, moves=each[:1], rig_moves=each[:rigs])
        solved = solve(row, LIMIT_S)
        assert solved.value == pytest.approx(best_value(row), rel=1e-5, abs=1e-6)
        assert broken(row, solved.schedule) == []


def test_without_a_relaxed_bound_a_small_task_is_proven_all_the_same(monkeypatch):
    monkeypatch.setattr(
        optimize, "linprog", lambda *_, **__: optimize.OptimizeResult(status=1, fun=None)
    )
    task = random_task(2, *TINY[2])
    solved = solve(task, LIMIT_S)
    assert solved.bound == pytest.approx(solved.value, rel=1e-5)
    monkeypatch.undo()
    assert solved.value == pytest.approx(best_value(task), rel=1e-5)


def test_parts_that_are_not_solved_in_time_leave_what_the_walk_found(monkeypatch):
    given_up = optimize.OptimizeResult(x=None, mip_dual_bound=None)
    monkeypatch.setattr(optimize, "milp", lambda *_, **__: given_up)
    task = random_task(2, *TINY[2])
    solved = solve(task, 1.0)
    monkeypatch.undo()
    assert 0 < solved.value <= best_value(task) * (1 + 1e-6) <= solved.bound * (1 + 2e-6)
    assert broken(task, solved.schedule) == []


@pytest.mark.parametrize("block", few_then(3, 20))
def test_it_is_never_worse_than_a_rule(block):
    """Two hundred random farms: the plan alone, before the best of all is taken."""
    for seed in range(10 * block, 10 * block + 10):
        task = random_task(1000 + seed, 1 + seed % 3, 2 + seed % 4, 6, seed % 3 % 2)
        rules = rules_of(task, seed)
        solved = solve(task, LIMIT_S)
        assert broken(task, solved.schedule) == []
        for schedule in rules.values():
            assert broken(task, schedule) == []
            assert solved.value >= schedule.value(task) - 1e-6 * abs(solved.value)
        assert solved.gap < 1e-4


def test_without_time_the_better_rule_is_returned_and_named():
    task = summer_task(1, fields=4, balers=1, days=2)
    rules = rules_of(task, 1)
    values = {name: schedule.value(task) for name, schedule in rules.items()}
    chosen = best_of(task, rules, 0.0)
    assert chosen.source == max(values, key=values.get)
    assert chosen.schedule.value(task) == max(values.values()) > 0
    assert chosen.solved.timed_out
    assert chosen.solved.gap == np.inf


def test_with_time_the_plan_is_returned():
    task = summer_task(1, fields=4, balers=1, days=2)
    chosen = best_of(task, rules_of(task, 1), LIMIT_S)
    assert chosen.source == "plan"
    assert not chosen.solved.timed_out
    assert broken(task, chosen.schedule) == []


def test_a_task_with_nothing_to_do_is_left_alone():
    task = random_task(3, 1, 2, 4, 1)
    idle = replace(task, rate_kg=0 * task.rate_kg)
    solved = solve(idle, LIMIT_S)
    assert (solved.value, solved.bound, solved.gap) == (0.0, 0.0, 0.0)
    assert (solved.schedule.field == nothing(idle).field).all()


def test_amounts_fill_a_field_with_its_best_hours():
    task = random_task(7, 1, 1, 6, 0)
    where = np.where(task.rate_kg[:, 0, :, 0] > 0, 0, IDLE)
    schedule = with_amounts(task, where, np.where(where == 0, 0, IDLE))
    assert schedule.value(task) == pytest.approx(best_value(task))


def test_gap():
    assert gap_of(100.0, 103.0) == pytest.approx(0.03)
    assert gap_of(0.0, 5.0) == np.inf
    assert gap_of(5.0, 5.0) == 0.0


def test_the_inspection_here_sees_what_is_broken():
    task = random_task(5, 2, 3, 6, 1)
    schedule = solve(task, LIMIT_S).schedule
    assert schedule.kg.max() > 0
    heavy = replace(schedule, kg=3 * schedule.kg)
    assert {item[0] for item in broken(task, heavy)} >= {"rate"}
