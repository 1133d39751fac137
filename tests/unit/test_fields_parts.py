"""Parts of plans for fields: pace, moves, crews, quality, scores. Sources beside the checks."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.fields import EVENING
from support.fields_farm import case_for, farm_with, field, weather_of

from hayweather.baling.clock import span_ahead, span_of
from hayweather.farm.records import Baler, Rig, Road, Shift
from hayweather.plan.candidates import choose
from hayweather.plan.crews import ALL_DAY, crews_of
from hayweather.plan.pace import (
    baler_rate_kg_h,
    behind_rig_kg_h,
    keeps_pace,
    move_h,
)
from hayweather.plan.results import results_of
from hayweather.plan.task import DAY_QUARTERS, nothing
from hayweather.units import GALLON_L, SHORT_TON_KG

TON_RATE = GALLON_L / SHORT_TON_KG * 1000  # L/t of a gallon a short ton
BALER = Baler("b", capacity_kg_h=16 * SHORT_TON_KG)


def rig(tank_gal=1000.0, fill=30.0, flow_gal=50.0, **changed):
    return Rig("rig", tank_gal * GALLON_L, 5.0, 100.0, flow_gal * GALLON_L, fill, **changed)


def test_a_tank_lasts_as_long_as_it_should():
    """1,000 gal at 14 gal/ton is 71.4 tons, 4.46 h at 16 t/h (calculated by hand)."""
    water = np.array([14 * TON_RATE])
    free = float(behind_rig_kg_h(BALER.capacity_kg_h, 1.0, rig(fill=0.0), water)[0])
    assert free / SHORT_TON_KG == pytest.approx(16.0)
    filled = float(behind_rig_kg_h(BALER.capacity_kg_h, 1.0, rig(fill=30.0), water)[0])
    tank_h = 1000 / 14 / 16
    assert tank_h == pytest.approx(4.46, abs=0.005)
    assert filled / SHORT_TON_KG == pytest.approx(1000 / 14 / (tank_h + 0.5))


def test_the_flow_holds_the_pace_down():
    """2 gal a minute at 12 gal a ton wets 10 tons an hour."""
    water = np.array([12 * TON_RATE])
    machine = rig(fill=0.0, flow_gal=2.0)
    slow = float(behind_rig_kg_h(BALER.capacity_kg_h, 1.0, machine, water)[0])
    assert slow / SHORT_TON_KG == pytest.approx(10.0)
    turning = float(behind_rig_kg_h(BALER.capacity_kg_h, 0.8, machine, water)[0])
    assert turning / SHORT_TON_KG == pytest.approx(8.0)  # no water flows in the turns


def test_no_slower_than_the_machines_go():
    land = field("f", swath_width_m=5.0, swaths_per_windrow=2)
    water = np.array([14 * TON_RATE])
    pace = BALER.capacity_kg_h
    assert keeps_pace(pace, BALER, rig(), land, water, 12.0).all()
    assert not keeps_pace(pace, BALER, rig(flow_gal=0.5), land, water, 12.0).any()


def test_a_thin_windrow_is_baled_at_the_fastest_speed():
    """8 mph, 10 m, 0.1 kg/m2, field efficiency 0.8: worked by hand."""
    thin = field("f", yield_kg_m2=0.1, swath_width_m=5.0, swaths_per_windrow=2)
    by_hand = 8 * 0.44704 * 10 * 0.1 * 3600 * 0.8
    assert by_hand < BALER.capacity_kg_h
    assert baler_rate_kg_h(BALER, thin, None, 12.0) == pytest.approx(by_hand)
    assert baler_rate_kg_h(BALER, field("g"), None, 12.0) == BALER.capacity_kg_h
    heavy = replace(BALER, windrow_limit_kg_m2=1.0)
    assert baler_rate_kg_h(heavy, field("g"), None, 12.0) == 0.0


def test_a_tenth_of_a_degree_of_latitude_is_eleven_kilometers():
    fields = {"a": field("a"), "b": field("b"), "c": field("c", site="away")}
    farm = farm_with(fields, {"b": BALER}, {})
    there = move_h(BALER, farm, fields["a"], fields["c"])
    assert there == pytest.approx(0.5 + 1.3 * 11_119 / 7.0 / 3600, abs=1e-3)
    assert move_h(BALER, farm, fields["a"], fields["b"]) == 0.5


def test_a_road_says_how_long_it_takes_fields_before_sites_either_way():
    fields = {"a": field("a"), "b": field("b"), "c": field("c", site="away")}
    roads = (Road("away", "home", 50.0), Road("c", "b", 20.0), Road("a", "b", 5.0))
    farm = replace(farm_with(fields, {"b": BALER}, {}), roads=roads)
    one, two, far = fields.values()
    assert move_h(BALER, farm, one, far) == pytest.approx(50 / 60)
    assert move_h(BALER, farm, two, far) == move_h(BALER, farm, far, two) == pytest.approx(20 / 60)
    assert move_h(BALER, farm, one, two) == pytest.approx(5 / 60)


WORTH = np.arange(DAY_QUARTERS, dtype=float)


def test_a_night_shift_leaves_its_own_rest():
    crews = crews_of((Shift(20 * 60, 8 * 60, "night"),), 8.0, WORTH)
    assert crews.rests == (None,)
    assert crews.works.sum() == 48


def test_people_without_shifts_rest_in_the_hours_that_bring_least():
    crews = crews_of((), 8.0, WORTH)
    assert crews.rests == ((0, 8 * 60),)
    assert crews.works[0].sum() == 64
    assert not crews.works[0, :32].any()


def test_a_crew_of_two_shifts_has_one_rest():
    shifts = (Shift(0, 9 * 60, "a"), Shift(10 * 60, 20 * 60, "a"), Shift(20 * 60, 24 * 60 - 1, "b"))
    crews = crews_of(shifts, 8.0, WORTH)
    assert crews.names == ("a", "b")
    assert crews.rests[0] is not None
    assert crews.rests[1] is None
    assert crews_of((ALL_DAY,), 0.0, WORTH).works.all()


def test_a_shift_shorter_than_a_quarter_is_no_work():
    crews = crews_of((Shift(20 * 60 + 10, 20 * 60 + 25),), 8.0, WORTH)
    assert not crews.works.any()
    assert crews.rests == (None,)


def test_the_nights_of_a_plan():
    one, seven = (span_ahead(EVENING, "America/Denver", nights).last for nights in (1, 7))
    assert one < span_of(EVENING, "America/Denver").last
    assert seven - one == np.timedelta64(6, "D")


@cache
def planned():
    known = {"crude_protein_percent": 20.5, "ndf_percent": 37.0, "adf_percent": 29.0}
    fields = {"a": field("a", 60, **known), "b": field("b", 60)}
    farm = farm_with(fields, {"b": Baler("b", capacity_kg_h=18_000.0)}, {})
    case = case_for(farm, weather_of(4))
    return case, choose(case, 3.0).schedule


def test_what_is_expected_is_the_mean_of_the_members():
    case, schedule = planned()
    gains = case.member_gains(schedule)
    assert gains.shape == (8,)
    assert gains.mean() == pytest.approx(schedule.value(case.task), rel=1e-4)


def test_quality_falls_with_the_leaf_lost_and_is_given_where_it_is_known():
    case, schedule = planned()
    known, unknown = results_of(case, schedule)
    assert known.baled_kg > 0
    assert unknown.sheet is None
    assert 18.5 < known.sheet.crude_protein < 20.5
    assert 37.0 < known.sheet.ndf < 41.0
    assert known.hay_class in ("premium", "good")


def test_hay_left_costs_what_it_would_have_brought():
    case, _ = planned()
    idle = results_of(case, nothing(case.task))
    for item in idle:
        assert item.left_kg == item.kg
        assert item.left_cost_per_kg > 0
        assert item.left_cost == pytest.approx(item.kg * item.left_cost_per_kg)


def test_a_field_of_which_nothing_is_known_is_left_and_says_so():
    lost = field("lost", 60, cured=None, cut_at=EVENING - np.timedelta64(30, "D"))
    farm = farm_with({"a": field("a", 60), "lost": lost}, {"b": BALER}, {})
    case = case_for(farm, weather_of(4))
    schedule = choose(case, 3.0).schedule
    known, unknown = results_of(case, schedule)
    assert known.baled_kg > 0
    assert unknown.baled_kg == 0
    said = {remark.key for remark in unknown.remarks}
    assert {"start_cut_before_weather", "fields_none_known"} <= said
    assert np.isfinite(unknown.waiting_per_kg)


def test_without_members_the_forecast_alone_is_planned():
    farm = farm_with({"a": field("a", 60)}, {"b": BALER}, {})
    case = case_for(farm, weather_of(4), members=0)
    assert case.member_gains(choose(case, 3.0).schedule).shape == (1,)


def test_clocks_off_by_a_quarter_hour_keep_the_shift():
    crews = crews_of((Shift(20 * 60, 22 * 60),), 8.0, WORTH)
    starts = np.datetime64("2024-07-01T12:00", "s") + np.arange(24) * np.timedelta64(900, "s")
    works = crews.may_work(starts, "Asia/Kathmandu")  # UTC+5:45: 20:00 is 14:15
    assert starts[works][0] == np.datetime64("2024-07-01T14:15")
    assert works.sum() == 8
