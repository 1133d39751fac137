"""Plans for fields: against every schedule there is, against the rules, on time and late.

The tasks are invented; the yardstick is brute force, which shares no code.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from support.brute import best_value
from support.tasks import random_task, rules_of, summer_task

from hayweather.plan.bound import Bound
from hayweather.plan.candidates import best_of
from hayweather.plan.solve import gap_of, solve
from hayweather.plan.task import IDLE, nothing, sessions, too_short, with_amounts

TINY = [(1, 3, 5, 1), (2, 2, 4, 0), (1, 2, 6, 1), (2, 2, 3, 1), (1, 4, 4, 0)]
LIMIT_S = 20.0


def broken(task, schedule):
    """Limits of a task that a schedule breaks, looked up quarter by quarter."""
    found = []
    for b in range(task.balers):
        work = np.flatnonzero(schedule.field[b] != IDLE)
        for t in work:
            f, mode, kg = schedule.field[b, t], schedule.mode[b, t], schedule.kg[b, t]
            if kg > task.rate_kg[b, f, t, mode] + 1e-6:
                found.append(("rate", b, t))
        for t, later in pairwise(work):
            here, there = schedule.field[b, t], schedule.field[b, later]
            if here != there and later - t - 1 < task.moves[b, here, there]:
                found.append(("move", b, t))
    for rig in range(task.rigs):
        uses = [(t, schedule.field[b, t]) for b, t in np.argwhere(schedule.mode == 1 + rig)]
        for t, here in uses:
            for later, there in uses:
                near = later >= t and later - t - 1 < task.rig_moves[rig, here, there]
                if here != there and near:
                    found.append(("rig", rig, t))
        for t, here in set(uses):
            served = schedule.kg[schedule.mode[:, t] == 1 + rig, t].sum()
            if served > task.rig_kg[rig, here, t] + 1e-6:
                found.append(("flow", rig, t))
    if (schedule.baled_kg(task.fields) > task.mass_kg + 1e-6).any():
        found.append(("hay",))
    stays = schedule.stays()
    found += [("short", *item) for item in too_short(task, schedule, stays)]
    for b in range(task.balers):
        if sum(stay.baler == b for stay in stays) > task.most_stays:
            found.append(("visits", b))
    return found


def few_then(first, past):
    """The first of a range in every run, the rest in the long one."""
    late = [pytest.param(n, marks=pytest.mark.long) for n in range(first, past)]
    return [*range(first), *late]


@pytest.mark.slow
@pytest.mark.parametrize("least", [1, 3])
@pytest.mark.parametrize("seed", few_then(10, 50))
def test_it_equals_every_schedule_there_is_on_tiny_tasks(seed, least):
    """With a least of three quarters, of which some can only be kept together, near it."""
    task = random_task(seed, *TINY[seed % len(TINY)], least=least)
    rules = rules_of(task, seed)
    solved = solve(task, LIMIT_S, list(rules.values()))
    best = best_value(task)
    assert broken(task, solved.schedule) == []
    assert solved.bound >= best - 1e-6
    assert solved.value <= best * (1 + 1e-6) + 1e-6
    if least == 1:
        assert solved.value == pytest.approx(best, rel=0.005, abs=1e-6)


@pytest.mark.parametrize("seed", range(3))
def test_whatever_the_prices_the_bound_holds(seed):
    """A bound taken after few steps is above the best there is, as one after many."""
    task = random_task(600 + seed, *TINY[seed])
    best = best_value(task)
    for steps in (1, 5, 60):
        bound = Bound(task)
        bound.lower(best, lambda taken, steps=steps: taken < steps)
        assert bound.value >= best * (1 - 1e-9)


@pytest.mark.slow
@pytest.mark.parametrize("rigs", [0, 1])
def test_fields_in_a_row_with_the_ends_further_apart(rigs):
    """From the first to the second and on takes a quarter each, right across three."""
    moves = np.array([[0, 1, 3], [1, 0, 1], [3, 1, 0]])
    for seed in range(2):
        task = random_task(400 + seed, 1, 3, 6, rigs)
        each = np.repeat(moves[None], max(rigs, 1), axis=0)
        row = replace(task, moves=each[:1], rig_moves=each[:rigs])
        solved = solve(row, LIMIT_S)
        assert solved.value == pytest.approx(best_value(row), rel=0.005, abs=1e-6)
        assert broken(row, solved.schedule) == []


@pytest.mark.parametrize("block", few_then(2, 20))
def test_it_is_never_worse_than_a_rule(block):
    """Two hundred random farms, each with little time."""
    for seed in range(10 * block, 10 * block + 10):
        task = random_task(1000 + seed, 1 + seed % 3, 2 + seed % 4, 8, seed % 3 % 2, 2)
        rules = rules_of(task, seed)
        solved = solve(task, 0.15, list(rules.values()))
        assert broken(task, solved.schedule) == []
        for schedule in rules.values():
            assert broken(task, schedule) == []
            assert solved.value >= schedule.value(task) - 1e-6 * abs(solved.value)
        assert solved.bound >= solved.value - 1e-6


def test_without_time_the_better_rule_is_returned_and_named():
    task = summer_task(1, fields=4, balers=1, days=2)
    rules = rules_of(task, 1)
    values = {name: schedule.value(task) for name, schedule in rules.items()}
    chosen = best_of(task, rules, 0.0)
    assert chosen.source == max(values, key=values.get)
    assert chosen.schedule.value(task) == max(values.values()) > 0
    assert chosen.solved.timed_out
    assert chosen.solved.gap == np.inf


@pytest.mark.slow
def test_with_time_the_plan_is_returned_and_beats_the_rules():
    task = summer_task(1, fields=3, balers=1)
    rules = rules_of(task, 1)
    chosen = best_of(task, rules, LIMIT_S)
    assert chosen.source == "plan"
    assert not chosen.solved.timed_out
    assert chosen.solved.value > max(rule.value(task) for rule in rules.values())
    assert broken(task, chosen.schedule) == []


def test_a_task_with_nothing_to_do_is_left_alone():
    task = random_task(3, 1, 2, 4, 1)
    idle = replace(task, rate_kg=0 * task.rate_kg)
    solved = solve(idle, LIMIT_S)
    assert (solved.value, solved.bound, solved.gap) == (0.0, 0.0, 0.0)
    assert (solved.schedule.field == nothing(idle).field).all()


def test_amounts_fill_a_field_with_its_best_hours():
    task = random_task(7, 1, 1, 6, 0)
    free = replace(task, first_cost=np.zeros(1))
    where = np.where(task.rate_kg[:, 0, :, 0] > 0, 0, IDLE)
    schedule = with_amounts(free, where, np.where(where == 0, 0, IDLE))
    assert schedule.value(free) == pytest.approx(best_value(free))


def test_dear_drives_keep_a_baler_where_it_is():
    """Two fields that take turns at bringing most: driving to and fro pays only while it is cheap.

    Worked by hand: in each quarter one field brings 200 more than the other, so that six
    changes bring 1,200 more than staying.
    """
    gain = np.full((1, 2, 14, 1), 0.1)
    for pair in range(7):
        gain[0, pair % 2, 2 * pair : 2 * pair + 2] = 0.2
    task = replace(
        random_task(1, 1, 2, 14, 0),
        rate_kg=np.full((1, 2, 14, 1), 1000.0),
        gain=gain,
        mass_kg=np.full(2, 1e6),
        moves=np.zeros((1, 2, 2), dtype=int),
        first_cost=np.zeros(1),
        most_stays=20,
    )
    away = 1 - np.eye(2)
    for cost, visits in ((100.0, 7), (400.0, 1)):
        solved = solve(replace(task, move_cost=cost * away[None]), LIMIT_S)
        assert len(solved.schedule.stays()) == visits
        assert solved.value == pytest.approx(1400 + 100 * 8 if visits == 1 else 2800 - 6 * cost)


def test_nobody_comes_out_for_a_quarter_unless_it_finishes_the_field():
    task = replace(
        random_task(1, 1, 1, 24, 0),
        rate_kg=np.zeros((1, 1, 24, 1)),
        gain=np.full((1, 1, 24, 1), 0.1),
        first_cost=np.zeros(1),
        least=np.array([1]),
        alone=2,
    )
    task.rate_kg[0, 0, [2, 3, 4, 20]] = 1000.0
    left = solve(replace(task, mass_kg=np.array([9e9])), LIMIT_S).schedule
    assert [len(part) for part in sessions(left.stays()[0].work)] == [3]
    done = solve(replace(task, mass_kg=np.array([3500.0])), LIMIT_S).schedule
    assert [len(part) for part in sessions(done.stays()[0].work)] == [3, 1]
    assert done.baled_kg(1)[0] == pytest.approx(3500.0)


@pytest.mark.slow
def test_an_outing_that_does_not_pay_the_crews_way_is_left_out():
    """Two quarters of 100 each far from the rest: worth it at 150 for the way, not at 250."""
    task = replace(
        random_task(1, 1, 1, 30, 0),
        rate_kg=np.zeros((1, 1, 30, 1)),
        gain=np.full((1, 1, 30, 1), 0.1),
        first_cost=np.zeros(1),
        mass_kg=np.array([9e9]),
    )
    task.rate_kg[0, 0, [2, 3, 4, 20, 21]] = 1000.0
    for cost, value in ((150.0, 350.0), (250.0, 300.0)):
        assert solve(replace(task, out_cost=cost), LIMIT_S).value == pytest.approx(value)


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
