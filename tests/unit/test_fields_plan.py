"""The one plan of a night: plain farms get the plain order, dates missed are told, money or not.

The farms and their weather are invented; what a practitioner would do is plain in each.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import EVENING, days
from support.fields_farm import case_for, farm_with, field, weather_of

from hayweather.farm.records import Baler, Rig, Shift
from hayweather.nights import night_of
from hayweather.plan.candidates import rule_schedules
from hayweather.plan.make import plan_of_night, plan_work
from hayweather.plan.record import FieldsPlan
from hayweather.plan.solve import solve
from hayweather.show.plan_data import plan_csv, plan_form
from hayweather.show.plan_text import plan_text
from hayweather.weather.record import HOUR

BALER = Baler("b", capacity_kg_h=18_000.0)
STRONG = Rig("rig", 8000.0, 8.0, 90.0, 200.0, 20.0)
CLEAR = {"home": days(76, dew_point_c=7.0), "away": days(76, dew_point_c=7.0)}
"""Two nights of some hours for the rig and one of dew; the second from 8 pm on."""


def rained(first: int) -> np.ndarray:
    """Eight millimeters of rain from an hour of the weather on."""
    rain = np.zeros(76)
    rain[first : first + 4] = 2.0
    return rain


def night_with(farm, weather=CLEAR, nights=2, members=8):
    """A night with few members, of the grower who bales no dry hay."""
    money = replace(farm.money, allow_dry=False)
    return night_of(replace(farm, money=money), weather, EVENING, days=nights, members=members)


def planned(farm, weather=CLEAR, nights=2, members=8) -> FieldsPlan:
    """Its plan."""
    return plan_work(night_with(farm, weather, nights, members), seconds=5.0, unseen=0)


def order_of(plan: FieldsPlan, baler: str = "b") -> list[str]:
    """Fields that a baler goes to, one after another."""
    return [visit.field for visit in plan.visits if visit.baler == baler]


def within_limits(plan: FieldsPlan) -> bool:
    """Whether no baler has more visits than fields and nights."""
    most = len(plan.night) + plan.days
    return all(len(order_of(plan, name)) <= most for name in plan.farm.balers)


@pytest.mark.slow
@pytest.mark.parametrize("west", ["a", "z"])
def test_rain_from_the_west_the_western_field_first(west):
    """Two fields alike, a night each; the western site's rain comes before its second night."""
    east = "az".replace(west, "")
    fields = {name: field(name, 35, "away" if name == west else "home") for name in "az"}
    weather = {
        "away": days(76, dew_point_c=7.0, rain_mm=rained(46)),
        "home": days(76, dew_point_c=7.0, rain_mm=rained(70)),
    }
    plan = planned(farm_with(fields, {"b": BALER}, {"rig": STRONG}), weather)
    assert order_of(plan)[0] == west
    assert east in order_of(plan)
    assert all(block.start < EVENING + 17 * HOUR for block in plan.blocks if block.field == west)
    assert within_limits(plan)


@pytest.mark.parametrize("due", ["z", pytest.param("a", marks=pytest.mark.slow)])
def test_an_irrigation_date_comes_before_a_field_that_can_wait(due):
    """Last bale of the one by noon of the next day, nothing of the other."""
    fields = {name: field(name, 35) for name in "az"}
    fields[due] = replace(fields[due], irrigation_due=EVENING + 21 * HOUR)
    plan = planned(farm_with(fields, {"b": BALER}, {"rig": STRONG}))
    assert order_of(plan)[0] == due
    assert plan.missed == ()
    assert within_limits(plan)


@pytest.mark.slow
def test_one_rig_for_two_balers_takes_one_field_after_the_other():
    """A night too dry for dew: whoever bales follows the rig, so both balers go where it goes."""
    fields = {name: field(name, 45) for name in "az"}
    balers = {name: Baler(name, capacity_kg_h=18_000.0) for name in "bc"}
    weather = {name: days(76, dew_point_c=4.0) for name in CLEAR}
    farm = farm_with(fields, balers, {"rig": STRONG})
    money = replace(farm.money, lost_leaf_cost_per_kg=1.0)  # so that both fields pay their drives
    plan = planned(replace(farm, money=money), weather, nights=1, members=60)
    assert {block.way for block in plan.blocks} == {"rig"}
    assert order_of(plan, "b") == order_of(plan, "c")
    assert sorted(order_of(plan, "b")) == ["a", "z"]
    assert all(item.left_kg == 0 for item in plan.fields)
    assert within_limits(plan)


def test_a_date_that_cannot_be_met_is_the_first_line_of_every_output():
    fields = {"bench": field("bench", 300, finish_before=EVENING + 16 * HOUR)}
    farm = farm_with(fields, {"b": BALER}, {}, (Shift(20 * 60, 6 * 60, "night"),))
    plan = planned(replace(farm, money=replace(farm.money, allow_dry=False)))
    [missed] = plan.missed
    late = fields["bench"].area_m2 * 0.33
    late -= sum(block.kg for block in plan.blocks if block.end <= missed.time)
    assert missed.late_kg == pytest.approx(late)
    first = plan_text(plan, "us").splitlines()[0]
    assert first == "BENCH MISSES ITS DATE (Wed 11 am)"
    assert plan_form(plan, "us")["headline"].startswith(first)
    assert plan_csv(plan, "us").splitlines()[0] == f"# {first}"
    assert plan_form(plan, "us")["missed"][0]["late_t"] == pytest.approx(late / 1000, rel=0.01)
    spanish = replace(plan, night=replace(plan.night, farm=replace(plan.farm, language="es")))
    assert plan_text(spanish, "metric").startswith("BENCH NO LLEGA A SU PLAZO")


@pytest.mark.slow
def test_what_would_save_a_date_is_found_by_deciding_again():
    """Two hours of dew and hay for three by two balers: one more saves it, being first does not."""
    fields = {
        "due": field("due", 60, finish_before=EVENING + 17 * HOUR),
        "late": field("late", 60),
    }
    case = case_for(farm_with(fields, {"b": BALER}, {}), CLEAR)
    alone = case.task.useful[0, 0].any(axis=1)
    in_time = alone & (case.starts < fields["due"].finish_before)
    assert in_time.any()
    plan = planned(farm_with(fields, {"b": BALER}, {}))
    for missed in plan.missed:
        assert missed.tried
        keys = {remark.key for remark in missed.saves}
        if "fields_saves_baler" in keys:
            two = {**plan.farm.balers, "c": replace(BALER, name="c")}
            again = planned(replace(plan.farm, balers=two))
            assert again.missed == ()
    assert plan.missed


def test_late_work_is_done_at_its_price():
    """Half of it is late whatever is done; it is baled all the same, and costs late_cost a day."""
    fields = {"a": field("a", 90, finish_before=EVENING + 16 * HOUR)}
    farm = farm_with(fields, {"b": BALER}, {})
    cheap, dear = (
        planned(replace(farm, money=replace(farm.money, late_cost_per_kg_day=cost), rest_h=0.0))
        for cost in (0.001, 0.02)
    )
    for plan in (cheap, dear):
        [missed] = plan.missed
        assert any(block.end > missed.time for block in plan.blocks)
    assert dear.missed[0].cost > 5 * cheap.missed[0].cost > 0


def test_without_a_clash_the_plan_is_the_windows():
    """Those that are longer than the quarter hour in which a baler is set up."""
    fields = {"a": field("a", 400), "z": field("z", 400)}
    fields = {name: replace(each, baler=name) for name, each in fields.items()}
    balers = {name: Baler(name, capacity_kg_h=18_000.0) for name in "az"}
    night = night_with(farm_with(fields, balers, {}))
    for price in (None, 0.2):
        money = replace(night.farm.money, price_per_kg=price)
        plan = plan_of_night(replace(night, farm=replace(night.farm, rest_h=0.0, money=money)))
        assert plan.source == "windows"
        for item in night:
            mine = [(b.start, b.end) for b in plan.blocks if b.field == item.name]
            long = [w for w in item.windows if w.end - w.start > np.timedelta64(900, "s")]
            assert mine == [(w.start, w.end) for w in long]
        assert np.isnan(plan.gain) == (price is None)
        assert plan_text(plan, "us")


def test_a_window_that_is_open_now_begins_at_this_minute():
    night = night_with(farm_with({"a": field("a", 400)}, {"b": BALER}, {}))
    window = night["a"].windows[0]
    now = window.start + np.timedelta64(37 * 60, "s")
    later = night_of(night.farm, CLEAR, now, days=2, members=8)
    plan = plan_of_night(later)
    assert plan.blocks[0].start == now == later["a"].windows[0].start
    quarters = [(b.start - night.start) % np.timedelta64(900, "s") for b in plan.blocks[1:]]
    assert not any(quarters)


def test_a_clash_without_a_price_goes_by_the_rule_and_says_so():
    fields = {"a": field("a", 35), "z": field("z", 35, irrigation_due=EVENING + 21 * HOUR)}
    night = night_with(farm_with(fields, {"b": BALER}, {}))
    bare = replace(night.farm, money=replace(night.farm.money, price_per_kg=None))
    plan = plan_of_night(replace(night, farm=bare))
    assert plan.source == "rain_first"
    assert order_of(plan)[0] == "z"
    assert plan.cautions[0].key == "fields_without_price"
    assert "no price of hay" in plan_text(plan, "us").lower()
    assert "nan" not in plan_text(plan, "us").lower().split()
    assert plan_form(plan, "us")["gain"] is None


@pytest.mark.parametrize("lacking", ["area_m2", "yield_kg_m2", "capacity_kg_h"])
def test_without_amounts_the_hours_of_go_are_shown_and_it_is_said(lacking):
    fields = {"a": field("a", 35), "z": field("z", 35)}
    baler = BALER
    if lacking == "capacity_kg_h":
        baler = replace(BALER, capacity_kg_h=None)
    else:
        fields["a"] = replace(fields["a"], **{lacking: None})
    plan = plan_of_night(night_with(farm_with(fields, {"b": baler}, {})))
    assert plan.source == "windows"
    assert plan.cautions[0].key.startswith("fields_without_")
    assert {block.field for block in plan.blocks} == {"a", "z"}
    assert all(block.kg is None for block in plan.blocks)
    json_form = plan_form(plan, "us")
    assert json_form["blocks"][0]["hay_t"] is None
    assert "plan" in plan_text(plan, "us")


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(3))
def test_reasons_hold_when_it_is_decided_again_without_the_visit(seed):
    """What a visit brings is never less than nothing, nor more than its hay."""
    fields = {"a": field("a", 30 + 10 * seed), "z": field("z", 55)}
    plan = planned(farm_with(fields, {"b": BALER}, {"rig": STRONG}))
    told = {}
    for block in plan.blocks:
        for remark in block.reasons:
            if remark.key == "fields_reason_without":
                told[block.field, block.start] = remark.values["less"][0]
    assert told  # a visit that another would replace at no loss has no such reason
    for visit in plan.visits:
        if (visit.field, visit.start) not in told:
            continue
        inside = [b for b in plan.blocks if b.field == visit.field and b.start >= visit.start]
        most = sum(block.kg * block.gain_per_kg for block in inside)
        assert 0 < told[visit.field, visit.start] <= most + 1e-6


def test_a_field_that_is_left_says_why():
    fields = {name: field(name, 200) for name in "az"}
    farm = farm_with(fields, {"b": BALER}, {}, (Shift(20 * 60, 3 * 60, "night"),))
    plan = planned(farm)
    assert plan.visits
    for visit in plan.visits:
        assert visit.left_kg > 0
        again = any(v.field == visit.field and v.start >= visit.end for v in plan.visits)
        assert again or visit.why_left is not None


def test_visits_add_up_to_the_blocks_and_drives_to_what_is_paid():
    sites = (("a", "home"), ("y", "away"), ("z", "home"))
    fields = {name: field(name, 20, site) for name, site in sites}
    plan = planned(farm_with(fields, {"b": BALER}, {"rig": STRONG}))
    for name in fields:
        visits = [v for v in plan.visits if v.field == name]
        assert sum(v.kg for v in visits) == pytest.approx(
            sum(b.kg for b in plan.blocks if b.field == name)
        )
        assert sum(v.hours for v in visits) == pytest.approx(
            sum(b.hours for b in plan.blocks if b.field == name)
        )
    drives = sum(visit.drive_cost for visit in plan.visits)
    assert 0 < drives <= plan.moves_cost
    hourly = plan.prices.baler_h + plan.prices.wage_h
    for visit in plan.visits:
        assert visit.drive_cost == pytest.approx(visit.drive_h * hourly)
    hay = sum(block.kg * block.gain_per_kg for block in plan.blocks)
    assert plan.gain == pytest.approx(hay - plan.moves_cost)


@pytest.mark.slow
def test_the_answer_is_as_good_as_both_rules_on_the_same_charges():
    fields = {name: field(name, 30 + 7 * i) for i, name in enumerate("abcd")}
    balers = {name: Baler(name, capacity_kg_h=15_000.0) for name in "bc"}
    case = case_for(farm_with(fields, balers, {"rig": STRONG}), weather_of(5), nights=3)
    rules = rule_schedules(case)
    solved = solve(case.task, 2.0, list(rules.values()))
    values = [rule.value(case.task) for rule in rules.values()]
    assert solved.value >= max(values) - 1e-6
    assert solved.bound >= solved.value
    assert len(solved.schedule.stays()) <= 2 * (4 + 3)
