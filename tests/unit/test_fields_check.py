"""The independent inspector: finds nothing wrong with plans, and every limit that is broken."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.fields import HOME
from support.fields_farm import AWAY, case_for, farm_with, field, random_farm, weather_of

from hayweather.baling.calls import Call
from hayweather.farm.records import Baler, Rig, Shift
from hayweather.plan.candidates import choose, inspected, jobs_of
from hayweather.plan.check import broken
from hayweather.plan.results import blocks_of
from hayweather.plan.task import IDLE
from hayweather.weather.record import HOUR

SITES = {"home": HOME, "away": AWAY}
QUICK, ALL = 4, 40
SEEDS = [*range(QUICK), *(pytest.param(n, marks=pytest.mark.long) for n in range(QUICK, ALL))]


@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_is_broken_on_random_farms(seed):
    case = case_for(random_farm(seed), weather_of(seed))
    chosen = choose(case, 1.0)
    assert inspected(case, chosen.schedule) == []
    for schedule in chosen.rules.values():
        assert inspected(case, schedule) == []
        assert chosen.schedule.value(case.task) >= schedule.value(case.task)


def test_one_rig_serves_two_balers_of_a_field_where_water_is_cheap_and_leaf_dear():
    balers = {name: Baler(name, capacity_kg_h=18_000.0) for name in "bc"}
    rig = Rig("rig", 8000.0, 8.0, 90.0, 200.0, 20.0)
    farm = farm_with({"a": field("a", 150)}, balers, {"rig": rig})
    money = replace(farm.money, lost_leaf_cost_per_kg=1.5, rig_cost_per_h=5.0, wage_per_h=5.0)
    case = case_for(replace(farm, money=money), weather_of(4), nights=1)
    schedule = choose(case, 5.0).schedule
    assert inspected(case, schedule) == []
    together = (schedule.mode == 1).all(axis=0)
    assert together.sum() >= 4
    for block in blocks_of(case, schedule):
        if block.rig is not None:
            low, high = block.water_l_t
            assert 8.0 <= low <= high <= 90.0
            assert low * block.kg / 1000 <= block.water_l <= high * block.kg / 1000
    served = schedule.kg[:, together].sum(axis=0)
    assert (served <= case.task.rig_kg[0, 0, together] * (1 + 1e-9)).all()


@cache
def planned():
    """A farm with everything: two fields, a rig, a shift; its jobs; its courses."""
    fields = {"near": field("near", 60), "far": field("far", 60, "away")}
    balers = {"b": Baler("b", capacity_kg_h=18_000.0)}
    rigs = {"rig": Rig("rig", 3000.0, 8.0, 90.0, 40.0, 20.0)}
    farm = farm_with(fields, balers, rigs, (Shift(18 * 60, 10 * 60, "night"),))
    case = case_for(farm, weather_of(4))
    schedule = choose(case, 3.0).schedule
    assert (schedule.field != IDLE).sum() > 4

    @cache
    def course_of(name, baler, rig):
        chosen = None if rig is None else farm.rigs[rig]
        return case.night[name].course(farm.balers[baler], chosen)

    return farm, sorted(jobs_of(case, schedule), key=lambda job: job.start), course_of


def found(jobs, farm=None):
    """What the inspector says of changed jobs."""
    own, _, course_of = planned()
    return " | ".join(broken(jobs, farm or own, SITES, course_of))


def test_the_jobs_as_they_are():
    assert found(planned()[1]) == ""


def test_more_hay_than_the_baler_takes():
    first, *rest = planned()[1]
    assert "kg in 0.50 h" in found([replace(first, kg=3 * first.kg + 10_000), *rest])


def test_more_hay_than_lies_there():
    farm, jobs, _ = planned()
    small = replace(farm.fields[jobs[0].field], area_m2=1000.0)
    text = found(jobs, replace(farm, fields={**farm.fields, small.name: small}))
    assert "more than lies there" in text


@pytest.mark.parametrize("due", ["finish_before", "irrigation_due"])
def test_work_after_a_due_time(due):
    farm, jobs, _ = planned()
    last = jobs[-1]
    late = replace(farm.fields[last.field], **{due: last.end - HOUR})
    text = found(jobs, replace(farm, fields={**farm.fields, late.name: late}))
    assert "work until" in text


def test_an_irrigation_that_leaves_no_time_to_haul():
    farm, jobs, _ = planned()
    last = max(
        (job for job in jobs if job.field == "near"), key=lambda job: job.end, default=jobs[-1]
    )
    soon = replace(farm.fields[last.field], irrigation_due=last.end + 3 * HOUR)
    assert "irrigation" in found(jobs, replace(farm, fields={**farm.fields, soon.name: soon}))


def test_work_outside_every_shift():
    farm, jobs, _ = planned()
    assert "outside every shift" in found(jobs, replace(farm, shifts=(Shift(12 * 60, 13 * 60),)))


def test_a_field_taken_without_time_to_move():
    _, jobs, _ = planned()
    other = {"near": "far", "far": "near"}
    pairs = [i for i in range(1, len(jobs)) if jobs[i].start == jobs[i - 1].end]
    assert pairs
    i = next(i for i in pairs if jobs[i].field == jobs[i - 1].field)
    moved = [*jobs[:i], replace(jobs[i], field=other[jobs[i].field], rig=None), *jobs[i + 1 :]]
    assert f"{jobs[i].field} to {other[jobs[i].field]} in 0 min" in found(moved)


def test_two_jobs_at_once():
    _, jobs, _ = planned()
    assert "in -30 min" in found([*jobs, jobs[0]])


def test_hours_that_are_not_fit():
    _, jobs, course_of = planned()
    course = course_of(jobs[0].field, "b", None)
    calls = course.quarters.call[:, 0].reshape(-1, 2)
    wrong = ~np.isin(calls, (Call.NATURAL_DEW, Call.TOO_DRY)).all(axis=1)
    assert wrong.any()
    start = course.weather.start[0] + int(np.argmax(wrong)) * (HOUR // 2)
    moved = replace(jobs[0], rig=None, start=start, end=start + HOUR // 2)
    assert "not for this way" in found([moved])


def test_a_rig_where_none_is_wanted():
    _, jobs, _ = planned()
    plain = [job for job in jobs if job.rig is None]
    texts = [found([replace(job, rig="rig")]) for job in plain]
    assert any("not for this way" in text for text in texts)


def test_a_rig_in_two_fields_at_once():
    farm, jobs, course_of = planned()
    two = replace(farm, balers={**farm.balers, "c": replace(farm.balers["b"], name="c")})
    one = replace(jobs[0], rig="rig")
    text = " | ".join(
        broken(
            [replace(one, field="near"), replace(one, field="far", baler="c")],
            two,
            SITES,
            lambda name, baler, rig: course_of(name, "b", rig),
        )
    )
    assert "rig: near to far in -30 min" in text


def test_more_water_than_the_rig_gives():
    farm, jobs, course_of = planned()
    course = course_of("near", "b", "rig")
    helped = (course.quarters.call[:, 0].reshape(-1, 2) == Call.ADD_MOISTURE).all(axis=1)
    assert helped.any()
    start = course.weather.start[0] + int(helped.argmax()) * (HOUR // 2)
    job = replace(jobs[0], field="near", rig="rig", start=start, end=start + HOUR // 2, kg=9000.0)
    weak = replace(farm.rigs["rig"], flow_max_l_min=1.0)
    assert " L from " in found([job], replace(farm, rigs={"rig": weak}))


def test_a_crew_without_its_rest():
    farm, jobs, _ = planned()
    start = jobs[0].start
    day = [replace(jobs[0], start=start + i * HOUR, end=start + (i + 1) * HOUR) for i in range(20)]
    assert "without its rest" in found(day, replace(farm, shifts=()))
    assert "without its rest" not in found(day[:16], replace(farm, shifts=()))


def test_a_windrow_too_heavy_for_the_baler():
    farm, jobs, _ = planned()
    weak = replace(farm.balers["b"], windrow_limit_kg_m2=0.5)
    assert "too heavy" in found(jobs, replace(farm, balers={"b": weak}))
