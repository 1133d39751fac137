"""What is told of schedules made by hand, and what else might be chosen: added up beside it.

Fields, weather and hours are invented; the hours of work are put where each thing can be told.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.fields import EVENING, days
from support.fields_farm import case_for, farm_with, field

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.baling.windows import RakeWindow
from hayweather.farm.records import Baler, Rig, Road, Shift
from hayweather.plan.candidates import (
    Chosen,
    compared,
    rule_schedules,
    savers,
    spread_of,
    windows_schedule,
)
from hayweather.plan.case import Case
from hayweather.plan.record import Block
from hayweather.plan.results import blocks_of, missed_of, results_of, visits_of
from hayweather.plan.task import IDLE, Schedule, nothing
from hayweather.plan.work import Work, carried_out, runs_of, spans_done, spans_of
from hayweather.weather.record import HOUR
from hayweather.windrow.trajectory import QUARTER

BALERS = {name: Baler(name, capacity_kg_h=18_000.0, move_minutes=m) for name, m in zip(
    "bc", (30.0, 45.0), strict=True)}  # fmt: skip
RIG = Rig("rig", 8000.0, 8.0, 90.0, 200.0, 20.0)
A, Y, Z = range(3)
DUE = EVENING + 24 * HOUR
KG = 5000.0


def rained(first: int) -> dict:
    """Four hours of rain from an hour of the weather on, at both sites."""
    rain = np.zeros(76)
    rain[first : first + 4] = 2.0
    made = days(76, dew_point_c=7.0, rain_mm=rain)
    return {"home": made, "away": made}


@cache
def made() -> Case:
    """Three fields, two balers, a rig; one field is due a day from now, rain falls in 36 hours."""
    fields = {
        "a": field("a", 20, finish_before=DUE),
        "y": field("y", 30, "away"),
        "z": field("z", 40),
    }
    farm = farm_with(fields, BALERS, {"rig": RIG})
    money = replace(farm.money, late_cost_per_kg_day=0.02)
    return case_for(replace(farm, money=money), rained(65), members=4)


def work_at(case: Case, *works, kg: float = KG) -> Schedule:
    """Works as baler, field, mode, first quarter and the one after the last."""
    idle = nothing(case.task)
    where, how, amount = idle.field.copy(), idle.mode.copy(), idle.kg.copy()
    for baler, f, mode, first, past in works:
        where[baler, first:past], how[baler, first:past] = f, mode
        amount[baler, first:past] = kg
    return Schedule(where, how, amount)


def blocks_made(case: Case, schedule: Schedule) -> list[Block]:
    """A block for each span of a schedule, in which no more is told than where and when."""
    rest = dict.fromkeys(("kg", "area_m2", "gain_per_kg", "water_l_t", "water_l"))
    return [Block(**vars(span), **rest, reasons=())
            for span in spans_of(case, schedule.field, schedule.mode)]  # fmt: skip


def visits(case: Case, schedule: Schedule):
    return visits_of(case, schedule, blocks_made(case, schedule))


# Dates


def late(case: Case, schedule: Schedule):
    return missed_of(case, schedule, Work(case.night, []), schedule)


def test_hay_baled_after_its_date_is_late_to_the_quarter_and_costs_by_the_day():
    """Two quarters in time, the second to the minute; two after it; the rest is left lying."""
    case = made()
    due = int((DUE - case.starts[0]) / QUARTER)
    mass = float(case.task.mass_kg[A])
    (missed,) = late(case, work_at(case, (0, A, 0, due - 2, due + 2)))
    assert missed.late_kg == pytest.approx(mass - 2 * KG)
    assert missed.late_area_m2 == pytest.approx(missed.late_kg / 0.33)
    assert (missed.field, missed.due_for, missed.time) == ("a", "finish", DUE)
    after = float((case.night.end + 24 * HOUR - DUE) / (24 * HOUR))
    by_hand = 0.02 * (KG * 1 / 96 + KG * 2 / 96 + (mass - 4 * KG) * after)
    assert missed.cost == pytest.approx(by_hand)


def test_a_field_done_in_time_misses_nothing():
    case = made()
    due = int((DUE - case.starts[0]) / QUARTER)
    done = work_at(case, (0, A, 0, due - 2, due), kg=float(case.task.mass_kg[A]) / 2)
    assert late(case, done) == ()
    last = work_at(case, (0, A, 0, due - 1, due + 1), kg=float(case.task.mass_kg[A]) / 2)
    assert len(late(case, last)) == 1


def test_dates_beyond_the_plan_are_not_missed_and_earlier_ones_come_first():
    dates = {"a": EVENING + 30 * HOUR, "b": EVENING + 20 * HOUR, "c": EVENING + 500 * HOUR}
    fields = {name: field(name, 20, finish_before=due) for name, due in dates.items()}
    case = case_for(farm_with(fields, {"b": BALERS["b"]}, {}), rained(65), members=0)
    assert [item.field for item in late(case, nothing(case.task))] == ["b", "a"]


def test_without_prices_a_date_has_no_cost():
    case = replace(made(), prices=None)
    (missed,) = late(case, nothing(case.task))
    assert missed.cost is None
    assert missed.late_kg == pytest.approx(float(case.task.mass_kg[A]))


# Visits


def test_a_visit_tells_where_the_baler_came_from_and_what_it_leaves():
    """Out half an hour; from one field to another of the site half an hour as well."""
    case = made()
    schedule = work_at(case, (0, A, 0, 4, 6), (0, Z, 0, 10, 14), (1, Z, 0, 10, 12))
    first, over, other = visits(case, schedule)
    assert (first.baler, first.field, first.came_from, first.drive_h) == ("b", "a", None, 0.5)
    assert (first.start, first.end) == (case.starts[4], case.starts[6])
    assert (first.kg, first.hours) == (2 * KG, 0.5)
    assert first.left_kg == pytest.approx(float(case.task.mass_kg[A]) - 2 * KG)
    assert first.drive_cost == pytest.approx(float(case.task.first_cost[0]))
    assert (over.field, over.came_from, over.drive_h) == ("z", "a", 0.5)
    assert over.drive_cost == pytest.approx(float(case.task.move_cost[0, A, Z]))
    assert over.left_kg == pytest.approx(float(case.task.mass_kg[Z]) - 6 * KG)
    assert (other.baler, other.drive_h) == ("c", 0.75)
    assert other.left_kg == pytest.approx(float(case.task.mass_kg[Z]) - 4 * KG)


def test_visits_to_one_field_have_each_their_own_hours():
    case = made()
    schedule = work_at(case, (0, A, 0, 4, 6), (0, Z, 0, 9, 10), (0, A, 0, 14, 17))
    found = visits(case, schedule)
    assert [(visit.field, visit.hours, visit.came_from) for visit in found] == [
        ("a", 0.5, None), ("z", 0.25, "a"), ("a", 0.75, "z"),
    ]  # fmt: skip


def why(case: Case, schedule: Schedule) -> str | None:
    found = visits(case, schedule)[0].why_left
    return None if found is None else found.key


def open_at(case: Case, quarter: int, *, crew: bool) -> Case:
    """The case with one quarter in which field a may be baled, with a crew on shift or not."""
    rate = np.zeros_like(case.task.rate_kg)
    rate[0, A, quarter, 0] = KG
    task = replace(case.task, rate_kg=rate if crew else 0 * rate)
    return replace(case, task=task, options=replace(case.options, any_hour=rate))


def test_why_a_baler_leaves_hay():
    case, here = made(), (0, A, 0, 4, 6)
    fit = open_at(case, 6, crew=True)
    assert why(fit, work_at(fit, here)) == "fields_leaves_little"
    assert why(fit, work_at(fit, here, (0, Z, 0, 10, 12))) == "fields_leaves_other"
    assert why(fit, work_at(fit, here, (1, A, 0, 8, 9))) is None  # another is still there
    off = open_at(case, 6, crew=False)
    assert why(off, work_at(off, here)) == "fields_leaves_shift"
    end = case.task.quarters
    assert why(case, work_at(case, (0, A, 0, end - 2, end))) == "fields_leaves_end"
    whole = work_at(case, here, kg=float(case.task.mass_kg[A]) / 2)
    assert why(case, whole) is None
    assert visits(case, whole)[0].left_kg == 0.0


def test_rain_and_hay_too_dry_are_why_a_baler_leaves():
    case = open_at(made(), 0, crew=True)
    rain = int(np.flatnonzero(case.as_it_lies(A).rain_mm > 0)[0])
    assert why(case, work_at(case, (0, A, 0, rain - 2, rain))) == "fields_leaves_rain"
    shown = case.night.fields[A].shown
    dry = int(
        np.flatnonzero((shown.quarters.call[:, 0] == Call.TOO_DRY) & (shown.advice == Advice.WAIT))[
            -1
        ]
    )
    (visit,) = visits(case, work_at(case, (0, A, 0, dry - 2, dry)))
    assert visit.why_left.key == "fields_leaves_call"
    assert visit.why_left.values["call"].key == "call_too_dry"


def told(case: Case, schedule: Schedule) -> dict:
    """Remarks of the first baler's last visit, by key."""
    own = [visit for visit in visits(case, schedule) if visit.baler == "b"]
    return {remark.key: remark.values for remark in own[-1].remarks}


def test_where_a_rig_comes_from_and_who_shares_it():
    case = made()
    here = (0, A, 1, 10, 12)
    assert told(case, work_at(case, here)) == {}
    said = told(case, work_at(case, here, (1, Z, 1, 4, 6)))
    assert said["fields_visit_rig"] == {"rig": "rig", "field": "z", "time": case.starts[6]}
    assert told(case, work_at(case, here, (1, A, 1, 4, 6))) == {}  # it is there already
    assert told(case, work_at(case, here, (1, Z, 1, 14, 16))) == {}  # it goes there later
    said = told(case, work_at(case, here, (1, A, 1, 11, 13)))
    assert said == {"fields_visit_shared": {"rig": "rig", "baler": "c"}}
    assert told(case, work_at(case, here, (1, A, 0, 10, 12))) == {}
    assert told(case, work_at(case, here, (1, A, 1, 12, 13))) == {}


def test_raking_is_told_before_the_first_visit_only():
    base, here = made(), (0, A, 0, 10, 12)

    def raked(past: int, **changed) -> Case:
        starts = base.starts
        rake = RakeWindow(starts[past - 4], starts[past], starts[past - 2], 20.0, 20.0, 20.0)
        item = base.night.fields[A]
        setting = replace(item.setting, field=replace(item.setting.field, **changed))
        fields = (replace(item, rake=(rake,), setting=setting), *base.night.fields[1:])
        return replace(base, night=replace(base.night, fields=fields))

    case = raked(10)
    assert told(case, work_at(case, here))["fields_visit_rake"] == {
        "start": case.starts[6], "end": case.starts[10],
    }  # fmt: skip
    assert told(raked(11), work_at(base, here)) == {}
    assert told(case, work_at(case, here, (1, A, 0, 4, 6))) == {}
    assert told(raked(10, raked_at=EVENING), work_at(base, here)) == {}


# Blocks and fields


def test_a_block_is_worth_the_mean_of_its_hay():
    case = made()
    useful = np.flatnonzero(case.task.useful[0, Z, :, 0])
    run = max(np.split(useful, np.flatnonzero(np.diff(useful) > 1) + 1), key=len)[:6]
    schedule = work_at(case, (0, Z, 0, int(run[0]), int(run[-1]) + 1))
    done, work = carried_out(case, schedule)
    (block,) = blocks_of(case, done, work)
    kg, gain = done.kg[0, run], case.task.gain[0, Z, run, 0]
    assert block.gain_per_kg == pytest.approx(float((kg * gain).sum() / kg.sum()))
    assert gain.min() < block.gain_per_kg < gain.max()
    assert block.kg == pytest.approx(float(kg.sum()))
    assert block.area_m2 == pytest.approx(block.kg / 0.33)
    assert (block.water_l_t, block.water_l) == (None, 0.0)


def test_each_way_is_worth_its_best_quarter():
    case = made()
    found = results_of(case, nothing(case.task))[Z]
    gain = np.where(case.task.rate_kg[:, Z] > 0, case.task.gain[:, Z], -np.inf)
    waiting = float(case.left[Z].mean())
    by_way = {way.way: way for way in found.ways}
    assert by_way["rig"].value_per_kg == pytest.approx(float(gain[..., 1].max()) + waiting)
    assert max(way.value_per_kg for way in found.ways) == pytest.approx(float(gain.max()) + waiting)
    best = int(gain[..., 1].max(axis=0).argmax())
    assert by_way["rig"].time == case.time(best)
    assert found.waiting_per_kg == pytest.approx(waiting)


def test_hay_of_a_field_is_baled_or_left():
    case = made()
    schedule = work_at(case, (0, A, 0, 4, 6), (1, A, 0, 5, 6))
    found = results_of(case, schedule)[A]
    assert (found.baled_kg, found.left_kg) == (
        pytest.approx(3 * KG), pytest.approx(found.kg - 3 * KG),
    )  # fmt: skip
    assert found.left_area_m2 == pytest.approx(found.left_kg / 0.33)
    whole = work_at(case, (0, A, 0, 4, 5), kg=found.kg * (1 - 1e-9))
    assert results_of(case, whole)[A].left_kg == 0.0


# What else might be chosen


@cache
def own_machines() -> Case:
    """Two fields with a baler each, one rig for both."""
    fields = {"a": field("a", 20, baler="b"), "z": field("z", 40, baler="c")}
    return case_for(farm_with(fields, BALERS, {"rig": RIG}), rained(65), members=0)


def open_for(case: Case, *rates) -> Case:
    """The case with nothing but these: baler, field, mode, first and past quarter, kilograms."""
    rate = np.zeros_like(case.task.rate_kg)
    for baler, f, mode, first, past, kg in rates:
        rate[baler, f, first:past, mode] = kg
    return replace(case, task=replace(case.task, rate_kg=rate))


def test_hours_of_go_are_worked_from_the_first_on_until_the_hay_is_baled():
    """Field a holds 26.7 tonnes: two quarters of ten and the rest; the faster way is taken."""
    base = own_machines()
    mass = float(base.task.mass_kg[0])
    case = open_for(base, (0, 0, 0, 4, 9, 10_000.0), (0, 0, 1, 5, 6, 4_000.0),
                    (1, 1, 0, 2, 4, 9_000.0), (1, 1, 1, 3, 4, 9_500.0))  # fmt: skip
    found = windows_schedule(case)
    np.testing.assert_allclose(found.kg[0, 4:9], [10_000, 10_000, mass - 20_000, 0, 0])
    assert found.field[0, 4:9].tolist() == [0, 0, 0, IDLE, IDLE]
    assert found.mode[1, 2:5].tolist() == [0, 1, IDLE]
    assert found.kg[1, 2:5].tolist() == [9_000, 9_500, 0]


@pytest.mark.parametrize(("second", "clash"), [((5, 7), True), ((6, 8), True), ((8, 9), False)])
def test_hours_of_go_in_which_a_baler_has_no_time_to_move_are_no_plan(second, clash):
    """Half an hour's way is two quarters."""
    fields = {name: field(name, 90, baler="b") for name in "az"}
    base = case_for(farm_with(fields, {"b": BALERS["b"]}, {}), rained(65), members=0)
    case = open_for(base, (0, 0, 0, 2, 6, 1000.0), (0, 1, 0, *second, 1000.0))
    assert (windows_schedule(case) is None) == clash


@pytest.mark.parametrize(("second", "clash"), [((4, 6), True), ((8, 9), True), ((9, 10), False)])
def test_hours_of_go_in_which_a_rig_is_in_two_places_are_no_plan(second, clash):
    """The rig moves as the slower baler, 45 minutes."""
    case = open_for(own_machines(), (0, 0, 1, 2, 6, 1000.0), (1, 1, 1, *second, 1000.0))
    assert (windows_schedule(case) is None) == clash


def test_a_field_with_a_choice_of_balers_has_no_plain_order():
    assert windows_schedule(made()) is None


def order_of(case: Case, rule: str) -> list[int]:
    """Fields in the order in which a rule comes to them."""
    busy = rule_schedules(case)[rule].field[0]
    busy = busy[busy != IDLE]
    return list(dict.fromkeys(busy.tolist()))


def test_the_rules_take_what_is_threatened_or_cured_longest_first():
    """Rain on y in 36 hours, z due in 30, nothing on a; of hay cured already the oldest cut."""
    cut = {"a": 96, "y": 48, "z": 72}
    fields = {
        name: field(name, 8, "away" if name == "y" else "home", cut_at=EVENING - hours * HOUR)
        for name, hours in cut.items()
    }
    fields["z"] = replace(fields["z"], irrigation_due=EVENING + 34 * HOUR)
    weather = {"away": rained(65)["away"], "home": days(76, dew_point_c=7.0)}
    near = (Road("home", "away", 30.0),)
    farm = replace(farm_with(fields, {"b": BALERS["b"]}, {}), roads=near)
    case = case_for(farm, weather, members=0)
    assert order_of(case, "rain_first") == [Z, Y, A]
    assert order_of(case, "longest_cured") == [A, Z, Y]


def test_a_gain_is_told_with_the_range_of_eight_in_ten():
    assert spread_of(np.arange(101.0)) == (50.0, 10.0, 90.0)


def test_a_rule_is_compared_member_by_member_on_hay_not_planned_with():
    case = made()
    mine, rule = (work_at(case, (0, Z, 0, 4, 4 + n)) for n in (8, 4))
    (found,) = compared(case, case, Chosen("plan", mine, None, {"rain_first": rule}))
    more = case.member_gains(mine) - case.member_gains(rule)
    assert found.rule == "rain_first"
    assert found.expected == pytest.approx(rule.value(case.task))
    assert found.mean == pytest.approx(float(more.mean()))
    assert (found.low, found.high) == pytest.approx(tuple(np.percentile(more, (10, 90))))


def test_what_might_save_a_date_is_offered_where_it_is_not_so_already():
    plain = {saver.key: saver for saver in savers(made(), A)}
    assert set(plain) == {"fields_saves_choice", "fields_saves_baler"}
    fields = {"a": field("a", 20, finish_before=DUE, baler="b", rig="rig"), "z": field("z", 40)}
    farm = farm_with(fields, BALERS, {"rig": RIG}, (Shift(20 * 60, 22 * 60, "one"),))
    farm = replace(farm, money=replace(farm.money, allow_dry=False))
    case = case_for(farm, rained(65), members=0)
    found = {saver.key: saver for saver in savers(case, A)}
    assert set(found) == {f"fields_saves_{key}" for key in
                          ("choice", "hours", "machine", "dry", "baler")}  # fmt: skip
    assert found["fields_saves_machine"].names == "c"
    assert found["fields_saves_baler"].names == "b"
    assert (found["fields_saves_dry"].task.rate_kg >= case.task.rate_kg).all()
    assert found["fields_saves_hours"].task.rate_kg.sum() > case.task.rate_kg.sum()
    only = {"a": field("a", 20, rig="rig"), "z": field("z", 40)}
    one = farm_with(only, {"b": BALERS["b"]}, {"rig": RIG})
    names = {saver.key: saver.names for saver in savers(case_for(one, rained(65), members=0), A)}
    assert names["fields_saves_machine"] == "b"


def test_another_choice_makes_late_quarters_of_that_field_dear():
    case = made()
    task = next(item.task for item in savers(case, A) if item.key == "fields_saves_choice")
    due = int((DUE - case.starts[0]) / QUARTER)
    np.testing.assert_array_equal(task.gain[:, A, :due], case.task.gain[:, A, :due])
    assert (task.gain[:, A, due:] < -5 * np.abs(case.task.gain).max()).all()
    np.testing.assert_array_equal(task.gain[:, 1:], case.task.gain[:, 1:])


def test_one_baler_more_is_like_the_one_that_works_there():
    case = made()
    task = next(item.task for item in savers(case, A) if item.key == "fields_saves_baler")
    assert task.balers == case.task.balers + 1
    for name in ("rate_kg", "gain", "moves", "move_cost", "first_cost", "least"):
        own = getattr(case.task, name)
        np.testing.assert_array_equal(getattr(task, name), np.concatenate([own, own[:1]]))


# Schedules carried out


@cache
def small_tank() -> Case:
    """As `made`, with a rig that fills for 40 minutes every few quarters."""
    base = made().night.farm
    farm = replace(base, rigs={"rig": replace(RIG, tank_l=700.0, fill_minutes=40.0)})
    return case_for(farm, rained(65), members=0)


FIRST, PAST = 4, 10


def all_of_a(case: Case, *others, part: float = 1.0) -> Schedule:
    """The hay of field a, or a part of it, behind the rig in six quarters of the first evening."""
    kg = part * float(case.task.mass_kg[A]) / (PAST - FIRST)
    first, rest = work_at(case, (0, A, 1, FIRST, PAST), kg=kg), work_at(case, *others)
    busy = rest.field != IDLE
    return Schedule(*(np.where(busy, getattr(rest, name), getattr(first, name))
                      for name in ("field", "mode", "kg")))  # fmt: skip


def end_in_a(case: Case, schedule: Schedule) -> np.datetime64:
    done, work = carried_out(case, schedule)
    ends = [item.end for item in work.walk.stretches if item.slot.team.field == "a"]
    busy = np.flatnonzero((done.field == A).any(axis=0))
    assert case.starts[busy[-1]] < max(ends) <= case.starts[busy[-1]] + QUARTER
    return max(ends)


def test_fills_make_a_stay_longer_until_the_hay_is_baled():
    case = small_tank()
    done, work = carried_out(case, all_of_a(case))
    assert len(work.walk.fills) >= 2
    assert work.walk.done_at["a"] > case.starts[PAST]
    assert done.baled_kg(3)[A] == pytest.approx(float(case.task.mass_kg[A]))
    assert (done.mode[done.field == A] == 1).all()
    assert end_in_a(case, all_of_a(case)) == work.walk.done_at["a"]


def test_a_stay_that_was_to_leave_hay_is_made_no_longer():
    case = small_tank()
    assert end_in_a(case, all_of_a(case, part=0.9)) <= case.starts[PAST]


@pytest.mark.parametrize(
    ("other", "held"),
    [
        ((0, Z, 0, PAST + 2, PAST + 4), True),  # the baler needs two quarters on its way
        ((1, Z, 1, PAST + 3, PAST + 5), True),  # its rig needs three
        ((1, Z, 0, PAST, PAST + 4), False),
        ((1, Z, 1, PAST + 12, PAST + 14), False),
    ],
)
def test_a_stay_is_made_longer_only_while_its_machines_are_free(other, held):
    case = small_tank()
    assert (end_in_a(case, all_of_a(case, other)) <= case.starts[PAST]) == held


def test_a_stay_goes_on_up_to_the_way_to_the_next():
    """The baler leaves two quarters before it works elsewhere: one quarter more is free."""
    case = small_tank()
    end = end_in_a(case, all_of_a(case, (0, Z, 0, PAST + 3, PAST + 5)))
    assert case.starts[PAST] < end <= case.starts[PAST + 1]


def test_a_stay_is_made_longer_only_in_hours_that_pay():
    base = small_tank()
    gain = base.task.gain.copy()
    gain[0, A, PAST] = -1.0
    case = replace(base, task=replace(base.task, gain=gain))
    assert end_in_a(case, all_of_a(case)) <= case.starts[PAST]


def test_runs_end_where_field_or_way_or_time_does():
    case = made()
    schedule = work_at(case, (0, A, 1, 4, 6), (0, A, 0, 6, 8), (0, Z, 0, 8, 9), (0, Z, 0, 12, 13),
                       (1, Y, 1, 0, 2))  # fmt: skip
    found = [(*run[:4], run[4] == "rig") for run in runs_of(case, schedule.field, schedule.mode)]
    assert found == [
        (0, A, 4, 6, True), (0, A, 6, 8, False), (0, Z, 8, 9, False), (0, Z, 12, 13, False),
        (1, Y, 0, 2, True),
    ]  # fmt: skip
    end = case.task.quarters
    last = work_at(case, (0, A, 0, end - 2, end))
    assert [run[2:4] for run in runs_of(case, last.field, last.mode)] == [(end - 2, end)]


def test_work_of_spans_is_a_schedule_again():
    """Two rigs: the second is the second way; a span in which nothing is done is none."""
    base = made().night.farm
    rigs = {"rig": RIG, "two": replace(RIG, name="two")}
    case = case_for(replace(base, rigs=rigs), rained(65), members=0)
    schedule = work_at(case, (0, A, 2, 4, 6), (1, Z, 1, 5, 8))
    spans = list(spans_of(case, schedule.field, schedule.mode))
    assert [item.rig for item in spans] == ["two", "rig"]
    done, work = spans_done(case, [*spans, replace(spans[0], start=case.starts[-1])])
    assert done.field.tolist() == schedule.field.tolist()
    assert done.mode.tolist() == schedule.mode.tolist()
    own = sum(item.mass_kg for item in work.walk.stretches if item.slot.team.field == "z")
    assert done.kg[1].sum() == pytest.approx(own)
    assert done.kg[0, :4].sum() == 0.0
    assert done.kg[0, 4:6].sum() == done.kg[0].sum() > 0
