"""Work walked through by hand: hay, water and minutes of spans, and what is known at a time.

16 t/h in the field; hay of 10 % takes 42.5 L/t, 680 L/h, so 4,000 L last 352 full minutes.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.made_sheets import BALER, FIELD, RIG
from support.made_work import NORTH, SOUTH, at, made_field, minute, span, worked

from hayweather.baling.calls import Call
from hayweather.farm.records import Road, Shift

STEP_2 = replace(RIG, rate_step_l_t=2.5)
SECOND = replace(BALER, name="second", capacity_kg_h=8_000.0)
LITERS_H = 680.0


def area_for(minutes: float) -> float:
    """The area that takes so many minutes."""
    return minutes / 60 * 16_000 / 0.3


# What is known of work at a time.


def test_before_a_tank_runs_dry_nothing_is_cut_short():
    """Dry at minute 345 of 360, too late for a fill: known from the quarter after it on."""
    rig = replace(STEP_2, tank_l=LITERS_H * 345 / 60 + 1)
    whole = worked([span(0, 360)], rigs=[rig])
    assert {name: minute(time) for name, time in whole.walk.cut_short.items()} == {"north": 345}
    assert whole.until(at(345)).walk.cut_short == {}
    assert list(whole.until(at(360)).walk.cut_short) == ["north"]


def test_before_a_fill_begins_it_is_not_told():
    rig = replace(STEP_2, tank_l=LITERS_H * 345 / 60 + 1)
    whole = worked([span(0, 480)], [made_field(NORTH, rig=rig, hours=8)], rigs=[rig])
    assert [minute(fill.step.start) for fill in whole.walk.fills] == [345]
    assert whole.until(at(345)).walk.fills == []
    assert len(whole.until(at(360)).walk.fills) == 1


def test_a_visit_left_out_is_not_told_before_its_time():
    whole = worked([span(120, 135)])
    assert whole.walk.stretches == []
    assert len(whole.walk.left_out) == 1
    assert whole.until(at(120)).walk.left_out == []
    assert len(whole.until(at(135)).walk.left_out) == 1


def test_hours_without_a_rate_and_off_duty_are_those_gone_by_and_of_the_field():
    """1 L/min is too little at the slowest speed; the crew is there from 21:00 to 02:00."""
    weak = replace(RIG, name="weak", flow_max_l_min=1.0)
    shifts = (Shift(21 * 60, 2 * 60, "one"),)
    spans = [span(0, 240, rig="weak"), span(240, 360, "south")]
    made = [made_field(NORTH, rig=weak), made_field(SOUTH)]
    whole = worked(spans, made, rigs=[RIG, weak], shifts=shifts)
    assert (whole.off_duty_h("north"), whole.off_duty_h("south")) == (1.0, 0.0)
    assert (whole.beyond_h("north"), whole.beyond_h("south")) == (3.0, 0.0)
    part = whole.until(at(30))
    assert (part.off_duty_h("north"), part.beyond_h("north")) == (0.5, 0.0)
    part = whole.until(at(120))
    assert (part.off_duty_h("north"), part.beyond_h("north")) == (1.0, 1.0)


def test_a_field_done_at_the_time_is_done_then():
    field = replace(FIELD, area_m2=area_for(60))
    whole = worked([span(0, 120)], [made_field(field)], rigs=[STEP_2])
    assert minute(whole.walk.done_at["north"]) == 60
    assert whole.until(at(45)).walk.done_at == {}
    assert whole.until(at(45)).walk.left_kg["north"] == pytest.approx(4_000)
    assert list(whole.until(at(60)).walk.done_at) == ["north"]
    assert whole.until(at(60)).walk.left_kg["north"] == 0.0


def test_time_to_work_in_ends_there_too():
    """The slots: a sheet of tonight asks them which readings its rig may meet."""
    whole = worked([span(0, 360)])
    part = whole.until(at(90))
    assert [minute(slot.start) for slot in part.slots] == [0, 15, 30, 45, 60, 75]
    assert len(whole.slots) == 24


def test_hay_of_unknown_amount_stays_so():
    assert worked([span(0, 120)]).until(at(60)).walk.left_kg == {"north": None, "south": None}
    bare = replace(BALER, capacity_kg_h=None)
    field = made_field(FIELD, baler=bare)
    part = worked([span(0, 120)], [field], balers=[bare]).until(at(60))
    assert part.walk.left_kg == {"north": None}


# What a baler does in a span.


def test_each_of_two_balers_in_a_field_has_its_own_hay_and_water():
    """One behind the rig, the other dry beside it; then both behind the rig: a third is his."""
    balers = [BALER, SECOND]
    alone = [span(0, 60), span(0, 60, baler="second", rig=None, way="dry")]
    work = worked(alone, balers=balers, rigs=[STEP_2])
    inside, kg, water = work.done_of(alone[0])
    assert {item.slot.team.balers for item in inside} == {("baler",)}
    assert (kg, water) == (pytest.approx(16_000), pytest.approx(680))
    inside, kg, water = work.done_of(alone[1])
    assert {item.slot.team.balers for item in inside} == {("second",)}
    assert (kg, water) == (pytest.approx(8_000), 0.0)
    both = [span(0, 60), span(0, 60, baler="second")]
    work = worked(both, balers=balers, rigs=[STEP_2])
    assert work.done_of(both[0])[1:] == (pytest.approx(16_000), pytest.approx(680))
    assert work.done_of(both[1])[1:] == (pytest.approx(8_000), pytest.approx(340))


def test_what_is_done_in_a_span_lies_between_its_ends_and_in_its_field():
    """An hour north, half an hour's way, half an hour south."""
    spans = [span(0, 60), span(60, 120, "south")]
    work = worked(spans, rigs=[STEP_2])
    assert work.done_of(spans[0])[1] == pytest.approx(16_000)
    assert work.done_of(spans[1])[1] == pytest.approx(8_000)
    assert work.done_of(replace(spans[0], end=at(30)))[1] == pytest.approx(8_000)
    assert work.done_of(replace(spans[0], start=at(45), end=at(120)))[1] == pytest.approx(4_000)
    assert work.done_of(replace(spans[0], start=at(60)))[0] == []


def test_hay_of_an_unknown_pace_is_unknown_hay():
    bare = replace(BALER, capacity_kg_h=None)
    work = worked([span(0, 60)], [made_field(FIELD, baler=bare)], balers=[bare])
    inside, kg, water = work.done_of(span(0, 60))
    assert len(inside) == 4
    assert (kg, water) == (None, None)


def test_hay_of_every_quarter_goes_to_its_baler():
    balers = [BALER, SECOND]
    spans = [span(15, 45), span(30, 60, baler="second")]
    done = worked(spans, balers=balers).done_kg(["second", "baler"], 6)
    assert done[0] == pytest.approx([0, 0, 2000, 2000, 0, 0])
    assert done[1] == pytest.approx([0, 4000, 4000, 0, 0, 0])


# Time to work in.


def test_time_is_cut_at_the_quarters_and_at_now():
    """Asked at 20:06:20: the next full minute is 20:07."""
    work = worked([span(0, 40)], now=at(6 + 1 / 3))
    assert [(minute(s.start), minute(s.end)) for s in work.slots] == [(7, 15), (15, 30), (30, 40)]
    assert [s.row for s in work.slots] == [0, 1, 2]
    assert minute(worked([span(0, 40)], now=at(6)).slots[0].start) == 6


def test_a_shift_that_ends_within_a_quarter_ends_the_work_there():
    """From 20:20 to 21:10; the crew after it comes at 21:20."""
    shifts = (Shift(20 * 60 + 20, 21 * 60 + 10, "one"), Shift(21 * 60 + 20, 22 * 60, "two"))
    work = worked([span(0, 90)], shifts=shifts)
    times = [(minute(slot.start), minute(slot.end)) for slot in work.slots]
    assert times == [(20, 30), (30, 45), (45, 60), (60, 70), (80, 90)]
    assert work.off_duty_h("north") == pytest.approx(0.5)
    assert [slot.window for slot in work.slots] == [0, 0, 0, 0, 1]


def test_hay_that_changes_its_call_is_another_window():
    """Baled dry for seven quarters, then ready as it lies, without a break."""
    moisture = np.append(np.repeat([10.0, 14.0], 8), 14.0)
    made = [made_field(NORTH, moisture_wb=moisture, hours=4)]
    work = worked([span(0, 240, rig=None, way="dry")], made)
    assert [slot.call for slot in work.slots] == [Call.TOO_DRY] * 7 + [Call.READY] * 9
    assert [slot.window for slot in work.slots] == [0] * 7 + [1] * 9


def test_a_span_beyond_the_weather_has_no_time():
    work = worked([span(300, 500)])
    assert minute(work.slots[-1].end) == 360


def test_a_baler_named_twice_works_once():
    work = worked([span(0, 60), span(0, 60)])
    assert {slot.team.balers for slot in work.slots} == {("baler",)}
    assert work.done_of(span(0, 60))[1] == pytest.approx(16_000)


# Ways and visits.


def test_a_rig_moves_as_the_slowest_baler():
    slow = replace(BALER, name="slow", move_minutes=50.0)
    work = worked([], balers=[BALER, slow])
    minutes = {name: work.travel(name, "north", "south") / np.timedelta64(60, "s")
               for name in (("baler", "baler"), ("baler", "slow"), ("rig", "rig"))}  # fmt: skip
    assert minutes == {("baler", "baler"): 30, ("baler", "slow"): 50, ("rig", "rig"): 50}


def test_a_way_takes_whole_minutes_begun():
    for said, takes in ((20.0, 20), (20.2, 21)):
        work = worked([], roads=(Road("north", "south", said),))
        assert work.travel(("baler", "baler"), "south", "north") == np.timedelta64(takes, "m")


@pytest.mark.parametrize(("minutes", "worth"), [(19, False), (20, True)])
def test_twenty_minutes_are_worth_the_drive(minutes, worth):
    work = worked([span(120, 120 + minutes)])
    assert bool(work.walk.stretches) == worth
    assert bool(work.walk.left_out) != worth


@pytest.mark.parametrize(("minutes", "worth"), [(4, False), (5, True)])
def test_five_minutes_are_where_they_finish_the_field(minutes, worth):
    field = replace(FIELD, area_m2=area_for(minutes))
    work = worked([span(120, 150)], [made_field(field)])
    assert ("north" in work.walk.done_at) == worth


@pytest.mark.parametrize(("now", "worth"), [(120, True), (119, True), (118, False)])
def test_machines_that_may_stand_there_go_on_for_less(now, worth):
    work = worked([span(120, 130)], now=at(now))
    assert bool(work.walk.stretches) == worth


@pytest.mark.parametrize(("pause", "visits"), [(30, 1), (31, 2)])
def test_a_pause_of_half_an_hour_is_still_the_same_visit(pause, visits):
    """Ten minutes and ten more: together worth the drive, each alone not."""
    work = worked([span(120, 130), span(130 + pause, 140 + pause)])
    assert len(work.walk.left_out) == (0 if visits == 1 else 2)


def test_a_short_visit_given_up_leaves_the_baler_where_it_was():
    """Ten minutes in the south between two hours in the north: no way there and back."""
    work = worked([span(0, 120), span(150, 160, "south"), span(160, 240)])
    assert {item.slot.team.field for item in work.walk.stretches} == {"north"}
    assert [minute(visit[0].start) for visit in work.walk.left_out] == [150]
    back = [item for item in work.walk.stretches if item.start >= at(150)]
    assert minute(back[0].start) == 160


# Tanks and fills.


@pytest.mark.parametrize(("left", "fills"), [(9, 0), (10, 1)])
def test_ten_minutes_of_work_are_worth_a_fill(left, fills):
    """Dry at minute 60, back at 80."""
    rig = replace(STEP_2, tank_l=LITERS_H + 1)
    work = worked([span(0, 80 + left)], rigs=[rig])
    assert len(work.walk.fills) == fills
    assert minute(work.walk.stretches[-1].end) == (80 + left if fills else 60)


def test_a_tank_for_the_whole_window_is_not_filled_before_it():
    """An hour takes 680 L; with less aboard the rig fills in the time it has before."""
    enough = replace(STEP_2, in_tank_l=681.0)
    assert worked([span(60, 120)], rigs=[enough]).walk.fills == []
    short = replace(STEP_2, in_tank_l=670.0)
    (fill,) = worked([span(60, 120)], rigs=[short]).walk.fills
    assert (minute(fill.step.start), minute(fill.step.end)) == (25, 45)  # 15 more to set up
    assert (fill.balers, fill.step.baler_waits) == ((), False)


def test_a_rig_fills_on_its_way_to_another_field():
    """An hour north takes 680 of 1,360 L; 50 minutes till the south, half an hour's way."""
    rig = replace(STEP_2, tank_l=2 * LITERS_H)
    work = worked([span(0, 60), span(110, 230, "south")], rigs=[rig])
    fill = work.walk.fills[0]
    assert (minute(fill.step.start), minute(fill.step.end)) == (60, 80)
    south = [item for item in work.walk.stretches if item.slot.team.field == "south"]
    assert minute(south[0].start) == 110
    late = worked([span(0, 60), span(109, 229, "south")], rigs=[rig])
    assert all(fill.step.start > at(109) for fill in late.walk.fills)


def test_a_tank_all_but_empty_is_filled_first_though_the_baler_waits():
    """113.4 L are ten minutes of work: with less it fills at once, with more it begins."""
    low = replace(STEP_2, in_tank_l=113.0)
    work = worked([span(0, 120)], rigs=[low])
    assert [minute(fill.step.start) for fill in work.walk.fills] == [0]
    assert work.walk.fills[0].balers == ("baler",)
    assert minute(work.walk.stretches[0].start) == 20
    more = replace(STEP_2, in_tank_l=114.0)
    work = worked([span(0, 120)], rigs=[more])
    assert [minute(fill.step.start) for fill in work.walk.fills] == [10]
    assert minute(work.walk.stretches[0].start) == 0


def test_water_used_leaves_the_tank():
    work = worked([span(0, 60)], rigs=[STEP_2])
    assert work.walk.tank_l["rig"] == pytest.approx(4000 - 680)
    assert sum(item.water_l for item in work.walk.stretches) == pytest.approx(680)
    assert work.walk.place["rig", "rig"] == work.walk.place["baler", "baler"] == "north"


def test_hay_ready_as_it_lies_takes_no_water():
    made = [made_field(NORTH, moisture_wb=14.0)]
    work = worked([span(0, 60, rig=None)], made, rigs=[STEP_2])
    assert work.walk.tank_l["rig"] == 4000
    assert {item.water_l for item in work.walk.stretches} == {0.0}


def test_the_last_hay_of_a_field_takes_its_seconds():
    """16 t/h and 4 kg more than an hour's hay: a second more."""
    field = replace(FIELD, area_m2=16_004 / 0.3)
    work = worked([span(0, 120)], [made_field(field)], rigs=[STEP_2])
    assert (work.walk.done_at["north"] - at(60)) / np.timedelta64(1, "s") == 1
    assert sum(item.mass_kg for item in work.walk.stretches) == pytest.approx(16_004)
    assert work.walk.left_kg["north"] == 0.0


@pytest.mark.parametrize("capacity", [15_700.0, 16_000.0, 17_300.0])
def test_a_tank_that_just_lasts_is_neither_filled_nor_short(capacity):
    """The water of exactly so many quarters, whatever the last digits of its parts."""
    baler = replace(BALER, capacity_kg_h=capacity)
    made = [made_field(NORTH, baler, STEP_2)]
    for count in range(2, 25):
        rig = replace(STEP_2, tank_l=capacity / 1000 * 42.5 * count / 4 * (1 - 1e-12))
        walk = worked([span(0, 15 * count)], made, balers=[baler], rigs=[rig]).walk
        assert minute(walk.stretches[-1].end) == 15 * count
        assert sum(item.hours for item in walk.stretches) == pytest.approx(count / 4)
        assert (walk.fills, walk.cut_short) == ([], {})


def test_a_tank_just_enough_is_not_filled_before_work():
    rig = replace(STEP_2, in_tank_l=LITERS_H)
    assert worked([span(60, 120)], rigs=[rig]).walk.fills == []


def test_a_pause_of_twenty_minutes_in_the_field_is_enough_to_fill():
    """An hour takes half of the tank; two more need all of it, after a pause on the spot."""
    rig = replace(STEP_2, tank_l=2 * LITERS_H)
    for pause, waits in ((20, False), (19, True)):
        work = worked([span(0, 60), span(60 + pause, 180 + pause)], rigs=[rig])
        fill = work.walk.fills[0]
        assert (fill.step.baler_waits, minute(fill.step.start) == 60) == (waits, not waits)


def test_dew_takes_no_water_at_an_unknown_pace():
    bare = replace(BALER, capacity_kg_h=None)
    made = [made_field(NORTH, bare, moisture_wb=14.0)]
    stretches = worked([span(0, 60, rig=None)], made, balers=[bare]).walk.stretches
    assert {(item.mass_kg, item.water_l) for item in stretches} == {(None, 0.0)}
