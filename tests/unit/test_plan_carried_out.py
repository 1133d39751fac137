"""Plans carried out: tanks and fills as they fall, one set of figures for plan and run sheet."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.fields_farm import case_for, farm_with, field, weather_of

from hayweather.farm.records import Baler, Rig
from hayweather.plan.candidates import choose, inspected, rule_schedules
from hayweather.plan.case import Case
from hayweather.plan.check import Job, _flow
from hayweather.plan.make import plan_work
from hayweather.plan.sheet import make_runsheet
from hayweather.plan.task import IDLE, Schedule
from hayweather.plan.work import Work, carried_out, runs_of
from hayweather.windrow.trajectory import QUARTER

BALERS = {name: Baler(name, capacity_kg_h=18_000.0) for name in "bc"}
SLOW_FILLS = Rig("rig", 2500.0, 8.0, 90.0, 120.0, 40.0)


@cache
def case() -> Case:
    """Two fields, two balers, a rig that fills often and long, water cheap and leaf dear."""
    farm = farm_with({"a": field("a", 90), "z": field("z", 60)}, BALERS, {"rig": SLOW_FILLS})
    money = replace(farm.money, lost_leaf_cost_per_kg=1.5, rig_cost_per_h=5.0, wage_per_h=5.0)
    return case_for(replace(farm, money=money), weather_of(4), nights=1, members=40)


@cache
def chosen() -> Schedule:
    return choose(case(), 0.5).schedule


def test_the_rig_works_and_fills_in_it():
    assert (chosen().mode == 1).sum() >= 8
    assert len(carried_out(case(), chosen())[1].walk.fills) >= 2


def test_hay_of_the_schedule_is_that_of_the_work_in_every_field():
    done, work = carried_out(case(), chosen())
    by_field = done.baled_kg(2)
    for f, name in enumerate(("a", "z")):
        own = sum(s.mass_kg for s in work.walk.stretches if s.slot.team.field == name)
        assert by_field[f] == pytest.approx(own)
        assert by_field[f] <= case().task.mass_kg[f] * (1 + 1e-9)


def test_what_is_carried_out_breaks_no_limit():
    for schedule in (chosen(), *rule_schedules(case()).values()):
        done, _ = carried_out(case(), schedule)
        assert inspected(case(), done, visits=False) == []


def test_no_run_begins_or_ends_with_a_quarter_in_which_nothing_is_done():
    done, _ = carried_out(case(), chosen())
    runs = list(runs_of(case(), done.field, done.mode))
    assert runs
    for baler, _, first, past, _ in runs:
        assert done.kg[baler, first] > 0
        assert done.kg[baler, past - 1] > 0


def test_a_field_that_fills_would_leave_unfinished_is_gone_on_with():
    """All the hay in half of a run of useful quarters, as if no fill cost time."""
    task = case().task
    useful = np.flatnonzero(task.useful[0, 0, :, 1])
    run = max(np.split(useful, np.flatnonzero(np.diff(useful) > 1) + 1), key=len)
    assert run.size >= 8
    half = run[: run.size // 2]
    place = np.full(chosen().field.shape, IDLE)
    place[0, half] = 0
    mode = np.where(place == IDLE, IDLE, 1)

    def carried(kg: float) -> tuple[Schedule, Work]:
        return carried_out(case(), Schedule(place, mode, np.where(place == IDLE, 0.0, kg)))

    all_of_it, a_part = (carried(part * float(task.mass_kg[0]) / half.size) for part in (1.0, 0.5))
    ends = case().starts[half[-1]] + QUARTER
    assert a_part[1].walk.stretches[-1].end <= ends
    assert all_of_it[1].walk.stretches[-1].end > ends
    assert all_of_it[0].kg.sum() > a_part[0].kg.sum()


def test_work_until_a_time_knows_nothing_of_what_comes_after():
    whole = carried_out(case(), chosen())[1]
    done = sorted(whole.walk.done_at.values())
    middle = whole.walk.stretches[len(whole.walk.stretches) // 2].slot.start
    assert middle < done[-1]
    part = whole.until(middle)
    assert 0 < len(part.walk.stretches) < len(whole.walk.stretches)
    assert all(item.start < middle for item in part.walk.stretches)
    assert all(time <= middle for time in part.walk.done_at.values())
    for name, kg in part.hay_kg.items():
        own = [item.mass_kg for item in part.walk.stretches if item.slot.team.field == name]
        assert part.walk.left_kg[name] == pytest.approx(kg - sum(own))


def test_plan_and_run_sheet_tell_one_amount_and_one_end():
    plan = plan_work(case().night, seconds=0.5, unseen=0)
    assert any(block.way == "rig" for block in plan.blocks)
    sheet = make_runsheet(case().night, plan.work)
    steps = [
        (machine.name, step)
        for machine in sheet.machines
        if machine.kind == "baler"
        for step in machine.steps
        if step.kind == "work"
    ]
    for block in plan.blocks:
        own = [
            step
            for name, step in steps
            if (name, step.field, step.way) == (block.baler, block.field, block.way)
            and block.start <= step.start < block.end
        ]
        assert (own[0].start, own[-1].end) == (block.start, block.end)
        assert sum(step.mass_kg for step in own) == pytest.approx(block.kg)
        assert sum(step.area_m2 for step in own) == pytest.approx(block.area_m2)
    assert sum(step.mass_kg for _, step in steps) == pytest.approx(
        sum(result.baled_kg for result in plan.fields)
    )


def water_jobs(minutes_each: list[int], kg: float) -> list[Job]:
    """Jobs of a rig one after the other, so many kilograms each."""
    start = case().night.start + 8 * QUARTER
    jobs = []
    for minutes in minutes_each:
        end = start + np.timedelta64(60 * minutes, "s")
        jobs.append(Job("b", "a", "rig", start, end, kg))
        start = end
    return jobs


def test_a_tank_aboard_counts_once_and_every_other_costs_its_filling():
    """By hand: 120 L/min moving 80 % of the time is 5,760 L/h; a fill costs 40 min.

    A full tank of 2,500 L may go out at the pump's own pace, in 26 min; in 2 h with two
    fills on the way it is (2 + 2/3) / (2500/5760 + 2/3) tanks, 6,055 L.
    """

    class Course:
        """Every kilogram gets 100 L/t."""

        class quarters:
            class dose:
                applied_l_t = np.full((400, 1), 100.0 + SLOW_FILLS.rate_step_l_t)

        class weather:
            start = np.array([case().night.start])

    baler = replace(BALERS["b"], field_efficiency=0.8)
    farm = replace(case().farm, balers={"b": baler})

    def says(minutes: list[int], kg: float) -> bool:
        return bool(_flow(water_jobs(minutes, kg), farm, lambda *_: Course))

    assert not says([15], 1_430 * 10)  # 1,430 L in 15 min at 5,760 L/h
    assert says([15], 1_450 * 10)
    assert not says([15] * 8, 6_050 / 8 * 10)
    assert says([15] * 8, 6_070 / 8 * 10)
