"""The independent inspector: finds nothing wrong with plans, and every limit that is broken."""

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from support.fields_farm import case_for, farm_with, field, random_farm, weather_of

from hayweather.baling.calls import Call
from hayweather.farm.records import Baler, Rig, Road, Shift
from hayweather.plan.candidates import choose, inspected, jobs_of
from hayweather.plan.check import broken, late_kg
from hayweather.plan.results import blocks_of
from hayweather.plan.task import IDLE
from hayweather.plan.work import carried_out
from hayweather.weather.record import HOUR
from hayweather.windrow.trajectory import QUARTER

ZONE = "America/Denver"
QUICK, ALL = 4, 40
SEEDS = [*range(QUICK), *(pytest.param(n, marks=pytest.mark.long) for n in range(QUICK, ALL))]


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_is_broken_on_random_farms(seed):
    case = case_for(random_farm(seed), weather_of(seed))
    chosen = choose(case, 1.0)
    assert inspected(case, chosen.schedule) == []
    for schedule in chosen.rules.values():
        assert inspected(case, schedule) == []
        assert chosen.schedule.value(case.task) >= schedule.value(case.task)


@pytest.mark.slow
def test_one_rig_serves_two_balers_of_a_field_where_water_is_cheap_and_leaf_dear():
    balers = {name: Baler(name, capacity_kg_h=18_000.0) for name in "bc"}
    rig = Rig("rig", 8000.0, 8.0, 90.0, 200.0, 20.0)
    farm = farm_with({"a": field("a", 150)}, balers, {"rig": rig})
    money = replace(farm.money, lost_leaf_cost_per_kg=1.5, rig_cost_per_h=5.0, wage_per_h=5.0)
    case = case_for(replace(farm, money=money), weather_of(4), nights=1, members=60)
    schedule = choose(case, 5.0).schedule
    assert inspected(case, schedule) == []
    together = (schedule.mode == 1).all(axis=0)
    assert together.sum() >= 8
    for block in blocks_of(case, *carried_out(case, schedule)):
        if block.rig is not None:
            low, high = block.water_l_t
            assert 8.0 <= low <= high <= 90.0
            least, most = (rate * block.kg / 1000 for rate in (low, high))
            assert least * (1 - 1e-9) <= block.water_l <= most * (1 + 1e-9)
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


def found(jobs, farm=None, nights=None):
    """What the inspector says of changed jobs."""
    own, _, course_of = planned()
    return " | ".join(broken(jobs, farm or own, ZONE, course_of, nights))


def test_the_jobs_as_they_are():
    assert found(planned()[1]) == ""


def test_more_hay_than_the_baler_takes():
    first, *rest = planned()[1]
    assert "kg in 0.25 h" in found([replace(first, kg=3 * first.kg + 10_000), *rest])


def test_more_hay_than_lies_there():
    farm, jobs, _ = planned()
    small = replace(farm.fields[jobs[0].field], area_m2=1000.0)
    text = found(jobs, replace(farm, fields={**farm.fields, small.name: small}))
    assert "more than lies there" in text


@pytest.mark.parametrize("due", ["finish_before", "irrigation_due"])
def test_hay_after_a_due_time_is_late_not_broken(due):
    """With irrigation the last bale is made four hours before it."""
    farm, jobs, _ = planned()
    last = jobs[-1]
    haul = 4 * HOUR if due == "irrigation_due" else 0 * HOUR
    field = replace(farm.fields[last.field], **{due: last.end - QUARTER + haul})
    other = replace(farm, fields={**farm.fields, field.name: field})
    assert found(jobs, other) == ""
    own = [job.kg for job in jobs if job.field == last.field]
    lies = field.area_m2 * field.yield_kg_m2 - sum(own) + last.kg
    assert late_kg(jobs, other, last.field, last.end + HOUR) == pytest.approx(lies)
    assert late_kg(jobs, farm, last.field, last.end + HOUR) == 0.0


def test_a_visit_too_short_for_the_drive():
    farm, jobs, _ = planned()
    few = jobs[:2]
    assert few[0].field == few[1].field
    assert few[1].start == few[0].end
    assert "30 min in" in found(few, nights=2)
    assert found(few) == ""
    balers = {"b": replace(farm.balers["b"], least_visit_h=0.5)}
    assert found(few, replace(farm, balers=balers), 2) == ""
    assert "out for 15 min" in found(few[:1], replace(farm, balers=balers), 2)
    small = replace(farm.fields[few[0].field], area_m2=sum(job.kg for job in few) / 0.33)
    assert found(few, replace(farm, fields={**farm.fields, small.name: small}), 2) == ""


def test_more_visits_than_fields_and_nights():
    _, jobs, _ = planned()
    other = {"near": "far", "far": "near"}
    swapped = [
        replace(job, field=other[job.field] if i % 2 else job.field) for i, job in enumerate(jobs)
    ]
    count = 1 + sum(one.field != two.field for one, two in pairwise(swapped))
    assert count > 4
    assert f"b: {count} visits" in found(swapped, nights=2)


def test_a_road_is_longer_than_the_map_says():
    farm, jobs, _ = planned()
    first = jobs[0]
    there = replace(first, field={"near": "far", "far": "near"}[first.field])
    later = replace(there, start=first.end + 2 * HOUR, end=first.end + 2 * HOUR + QUARTER)
    assert "in 120 min" not in found([first, later])
    long = replace(farm, roads=(Road("away", "near", 150.0),))
    assert "in 120 min" in found([first, later], long)


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
    assert "in -15 min" in found([*jobs, jobs[0]])


def test_hours_that_are_not_fit():
    _, jobs, course_of = planned()
    course = course_of(jobs[0].field, "b", None)
    wrong = ~np.isin(course.quarters.call[:, 0], (Call.NATURAL_DEW, Call.TOO_DRY))
    assert wrong.any()
    start = course.weather.start[0] + int(np.argmax(wrong)) * QUARTER
    moved = replace(jobs[0], rig=None, start=start, end=start + QUARTER)
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
            ZONE,
            lambda name, baler, rig: course_of(name, "b", rig),
        )
    )
    assert "rig: near to far in -15 min" in text


def test_more_water_than_the_rig_gives():
    farm, jobs, course_of = planned()
    course = course_of("near", "b", "rig")
    helped = course.may_bale(True)
    assert helped.any()
    start = course.weather.start[0] + int(helped.argmax()) * QUARTER
    job = replace(jobs[0], field="near", rig="rig", start=start, end=start + QUARTER, kg=4500.0)
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
