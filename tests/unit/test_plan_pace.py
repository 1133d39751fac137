"""What is dialed and how fast it goes, quarter by quarter, and the ways between fields.

Hay of 10 % wants 1000 (13 - 10)/87/0.8 = 43.1 L/t; 16 t/h in the field are 20 moving, 3 kg/m.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import calls_of, hay, setting_of
from support.fields_farm import farm_with, field
from support.made_sheets import BALER, DAMP, FIELD, RIG

from hayweather.farm.records import Road
from hayweather.plan.pace import (
    answers_of,
    baler_rate_kg_h,
    can_work,
    keeps_pace,
    machines_of,
    move_h,
    pace_of,
    team_pace,
)

STEP_2 = replace(RIG, rate_step_l_t=2.5)
NEED_L_T = 1000 * 3 / 87 / 0.8


def machines(rig=STEP_2, baler=BALER, land=FIELD):
    return machines_of(setting_of(land, rig, baler), "us", "")


def quarters(run, rig=STEP_2, baler=BALER, land=FIELD):
    """Quarters in calm damp air: 0.8 of the water stays."""
    return calls_of(run, setting_of(land, rig, baler), **DAMP)


def with_rate(found, exact):
    """The same quarters, as if the forecast runs together put on another rate."""
    dose = replace(found.dose, applied_l_t=np.full_like(found.dose.applied_l_t, exact))
    return replace(found, dose=dose)


# The dial


def test_the_nearer_step_of_the_dial_is_taken_of_equals_the_lower():
    one = quarters(hay(10.0))
    assert one.dose.applied_l_t[0, 0] == pytest.approx(NEED_L_T)
    for exact, dialed in ((43.7, 42.5), (43.8, 45.0), (43.75, 42.5), (45.0, 45.0)):
        assert pace_of(machines(), with_rate(one, exact), 0).rate_l_t == dialed


def test_of_two_steps_the_one_that_keeps_the_limits_is_dialed():
    """28.4 L/t bring 10 % to 12 % and 29 are wanted: 28 is nearer, 35 is enough."""
    rig = replace(RIG, rate_step_l_t=7.0)
    found = with_rate(quarters(hay(10.0), rig), 29.0)
    assert pace_of(machines(rig), found, 0).rate_l_t == 35.0


def test_a_rate_of_the_runs_is_dialed_though_the_forecasts_own_hay_is_not_brought_in():
    """20 L/t leave the middle forecast's hay at 11.4 %: the runs together say so."""
    found = with_rate(quarters(hay(10.0)), 20.9)
    pace = pace_of(machines(), found, 0)
    assert pace.rate_l_t == 20.0
    assert pace.after_wb == pytest.approx(100 * (100 + 16) / 1016)


def test_flow_at_the_slowest_speed_is_the_most_that_can_be_dialed():
    """3 kg/m at 0.5 m/s are 5.4 t/h: 3.5 L/min give 38.9 L/t, dialed 37.5, in the band."""
    rig = replace(STEP_2, flow_max_l_min=3.5, speed_min_m_s=0.5)
    pace = pace_of(machines(rig), quarters(hay(10.0), rig), 0)
    assert pace.rate_l_t == 37.5
    assert pace.flow_l_min == pytest.approx(3.5)
    weak = replace(rig, flow_max_l_min=2.5)  # 27.8 L/t: 11.96 %
    assert pace_of(machines(weak), quarters(hay(10.0), weak), 0) is None


def test_a_step_just_above_what_flow_allows_is_not_dialed():
    """3.357 L/min on 5.4 t/h are 37.3 L/t."""
    rig = replace(STEP_2, flow_max_l_min=3.357, speed_min_m_s=0.5)
    assert pace_of(machines(rig), quarters(hay(10.0), rig), 0).rate_l_t == 35.0


def test_flow_that_ends_below_the_least_rate_gives_none():
    rig = replace(STEP_2, flow_max_l_min=3.5, speed_min_m_s=0.5, rate_min_l_t=40.0)
    assert pace_of(machines(rig), quarters(hay(10.0), rig), 0) is None
    rig = replace(rig, rate_min_l_t=36.0, rate_step_l_t=50.0)  # only the end of the dial is left
    assert pace_of(machines(rig), quarters(hay(10.0), rig), 0).rate_l_t == 36.0


def test_a_step_that_flow_allows_below_the_least_rate_is_not_dialed():
    """3.375 L/min on 5.4 t/h are 37.5 L/t, a step of the dial; the rig begins at 37.9."""
    rig = replace(STEP_2, flow_max_l_min=3.375, speed_min_m_s=0.5, rate_min_l_t=37.9)
    assert pace_of(machines(rig), quarters(hay(10.0), rig), 0) is None
    rig = replace(rig, rate_min_l_t=37.0)
    assert pace_of(machines(rig), quarters(hay(10.0), rig), 0).rate_l_t == pytest.approx(37.5)


def test_hay_baled_as_it_lies_gets_nothing():
    pace = pace_of(machines(), quarters(hay(14.0)), 0)
    assert (pace.rate_l_t, pace.flow_l_min) == (0.0, 0.0)
    assert pace.after_wb == pytest.approx(14.0)
    assert pace.moving_kg_h == pytest.approx(20_000)
    assert pace.speed_m_s == pytest.approx(20_000 / 3 / 3600)


# What to dial where the meter reads otherwise


def answer(reads, run, rig=STEP_2, baler=BALER):
    (found,) = answers_of([machines(rig, baler)], quarters(run, rig, baler), 0, [reads])
    return found


def test_hay_in_its_band_that_is_wet_in_parts_is_left():
    """14 % on the whole, its top 15 % at 28 %: above 20 % the bale heats."""
    run = hay(14.0, 14.0, 14.0)
    film = run.layers.film_db.copy()
    film[:, 0] += 0.25
    wet = replace(run, layers=replace(run.layers, film_db=film))
    choosy = replace(BALER, wet_share=0.05)
    assert answer(14.0, run, baler=choosy).kind == "none"
    assert answer(14.0, wet, baler=choosy).kind == "leave"


def test_hay_in_its_band_with_hard_leaf_is_wetted():
    """13 % on the whole, leaf of 10 %: the rig brings it to 12 % and more."""
    soft, hard = hay(13.0, 13.0), hay(13.0, 10.0)
    assert answer(13.0, soft).kind == "none"
    found = answer(13.0, hard)
    assert found.kind == "rate"
    assert found.water_l_t > 10


@pytest.mark.parametrize(("reads", "kind"), [(16.0, "none"), (16.1, "leave"), (12.0, "none")])
def test_both_ends_of_the_band_need_no_water(reads, kind):
    assert answer(reads, hay(14.0, 14.0, 14.0)).kind == kind


def test_hay_that_reads_drier_is_drier_in_every_layer():
    """Leaf of 14 % in hay of 10 %: where the meter reads 8 %, leaf has 12.1 % of water left."""
    found = answer(8.0, hay(10.0, 14.0))
    assert found.water_l_t == 72.5  # 1000 (13 - 8)/87/0.8 = 71.8
    assert found.kind == "rate"
    assert found.reads_wb == 8.0


@pytest.mark.parametrize(
    ("reads", "lies", "leaf", "kind"),
    [
        (13.0, 14.0, 12.5, "rate"),
        (14.0, 14.0, 12.05, "none"),
        (14.0, 14.0, 11.95, "rate"),
        (15.0, 13.5, 11.5, "none"),
    ],
)
def test_leaf_is_as_much_drier_or_damper_as_the_meter_says(reads, lies, leaf, kind):
    """A point on the whole is about a point in the leaf; soft from 12 % on."""
    assert answer(reads, hay(lies, leaf)).kind == kind


def test_answers_are_those_of_their_quarter():
    """Leaf hard in the first quarters, soft in the last."""
    found = quarters(hay(13.0, np.array([10.0, 10, 10, 14, 14])))
    kinds = [answers_of([machines()], found, row, [13.0])[0].kind for row in (0, 1, 3)]
    assert kinds == ["rate", "rate", "none"]


def test_no_answers_without_a_rig_or_where_nothing_is_known():
    assert answers_of([machines(rig=None)], quarters(hay(10.0), rig=None), 0, [9.0]) == ()
    assert answers_of([machines()], quarters(hay(np.nan)), 0, [9.0]) == ()
    blown = quarters(hay(10.0))
    lost = replace(blown, dose=replace(blown.dose, efficiency=np.full((4, 1), np.nan)))
    assert answers_of([machines()], lost, 0, [9.0]) == ()


def test_each_reading_has_its_answer_in_order():
    found = answers_of([machines()], quarters(hay(10.0)), 0, [9.0, 13.0, 17.0])
    assert [(one.reads_wb, one.kind) for one in found] == [
        (9.0, "rate"), (13.0, "none"), (17.0, "leave"),
    ]  # fmt: skip


# Teams


def test_a_team_goes_as_fast_as_all_its_balers_and_its_rig():
    """20 and 10 t/h moving; 15 L/min at 42.5 L/t are 21.2: each slows to the same share."""
    slow = replace(BALER, name="slow", capacity_kg_h=8_000.0)
    team, found = [machines(), machines(baler=slow)], quarters(hay(10.0))
    free = team_pace(team, found, 0)
    assert [pace.moving_kg_h for pace in free.each] == pytest.approx([20_000, 10_000])
    assert free.kg_h == pytest.approx(24_000)
    assert free.litres_h == pytest.approx(24 * 42.5)
    assert free.rig_speed_m_s == pytest.approx(30_000 / 3 / 3600)
    rig = replace(STEP_2, flow_max_l_min=15.0)
    team = [machines(rig), machines(rig, slow)]
    held = team_pace(team, quarters(hay(10.0), rig), 0)
    moving = 15 * 60 / 42.5 * 1000
    assert sum(pace.moving_kg_h for pace in held.each) == pytest.approx(moving)
    assert held.each[0].moving_kg_h == pytest.approx(2 * held.each[1].moving_kg_h)
    assert held.flow_l_min == pytest.approx(15.0)
    assert held.kg_h == pytest.approx(0.8 * moving)
    assert held.each[0].speed_m_s == pytest.approx(moving * 2 / 3 / 3 / 3600)


def test_a_rig_of_a_slow_pace_leads_both_balers():
    """1 m/s on 3 kg/m is 10.8 t/h, each half; on dew a thin windrow goes at the balers' fastest."""
    rig = replace(STEP_2, speed_max_m_s=1.0)
    found = team_pace([machines(rig), machines(rig)], quarters(hay(10.0), rig), 0)
    assert [pace.moving_kg_h for pace in found.each] == pytest.approx([5_400] * 2, rel=1e-6)
    assert found.rig_speed_m_s == pytest.approx(1.0)
    fast, thin = replace(BALER, speed_max_m_s=2.0), replace(FIELD, yield_kg_m2=0.1)
    dew = pace_of(machines(baler=fast, land=thin), quarters(hay(14.0), baler=fast, land=thin), 0)
    assert dew.moving_kg_h == pytest.approx(2.0 * 1.0 * 3600, rel=1e-6)


def test_a_team_on_dew_is_held_by_no_rig():
    rig = replace(STEP_2, flow_max_l_min=1.0, speed_max_m_s=0.5)
    found = team_pace([machines(rig), machines(rig)], quarters(hay(14.0), rig), 0)
    assert found.kg_h == pytest.approx(32_000)
    assert found.litres_h == found.flow_l_min == 0.0


def test_of_an_unknown_pace_only_the_rate_is_known():
    bare = replace(BALER, capacity_kg_h=None)
    found = team_pace([machines(), machines(baler=bare)], quarters(hay(10.0)), 0)
    assert (found.rate_l_t, found.kg_h, found.flow_l_min, found.rig_speed_m_s) == (
        42.5, None, None, None,
    )  # fmt: skip
    assert found.litres_h is None
    dew = team_pace([machines(baler=bare)], quarters(hay(14.0), baler=bare), 0)
    assert (dew.kg_h, dew.litres_h) == (None, 0.0)


# Hay of an area, and machines that cannot


def test_hay_of_an_area_by_its_yield_else_by_its_windrow():
    assert machines().mass_of_area_kg(1000.0) == pytest.approx(300)
    assert machines().mass_of_area_kg(None) is None
    by_windrow = replace(FIELD, yield_kg_m2=None, windrow_mass_kg_m2=1.76, windrow_width_m=1.5)
    assert machines(land=by_windrow).mass_of_area_kg(1005.0) == pytest.approx(301.5)  # 3 kg/m, 10 m
    assert machines(land=replace(by_windrow, swath_width_m=None)).mass_of_area_kg(1.0) is None
    bare = replace(FIELD, yield_kg_m2=None, windrow_width_m=None)
    assert machines(land=bare).mass_of_area_kg(1.0) is None


def test_a_windrow_at_the_limit_of_the_pickup_is_taken():
    mass = float(np.max(setting_of(FIELD, STEP_2, BALER).windrow.dry_matter_kg_m2))
    for limit, takes in ((mass, True), (0.99 * mass, False), (1.01 * mass, True)):
        baler = replace(BALER, windrow_limit_kg_m2=limit)
        assert can_work(setting_of(FIELD, STEP_2, baler), "us") == takes
        land = replace(FIELD, windrow_mass_kg_m2=mass)
        assert bool(baler_rate_kg_h(baler, land, None, 12.0)) == takes


def test_a_baler_at_its_slowest_that_takes_the_windrow_can_work():
    """20 t/h moving on 3 kg/m is 1.85 m/s."""
    speed = 20_000 / 3 / 3600
    for slowest, takes in ((speed, True), (1.01 * speed, False)):
        baler = replace(BALER, speed_min_m_s=slowest)
        assert can_work(setting_of(FIELD, STEP_2, baler), "us") == takes


def test_the_rig_ahead_holds_a_thin_windrow_down():
    rig = replace(STEP_2, speed_max_m_s=1.0)
    assert baler_rate_kg_h(BALER, FIELD, rig, 12.0) == pytest.approx(1.0 * 3 * 3600 * 0.8)
    assert baler_rate_kg_h(BALER, FIELD, None, 12.0) == 16_000
    unknown = replace(BALER, capacity_kg_h=None)
    assert baler_rate_kg_h(unknown, field("bare"), None, 12.0) == 0.0


def test_a_pace_just_at_the_slowest_speed_is_kept():
    """3 kg/m at 0.5 m/s in the field is 4.32 t/h; 3 L/min moving wet that at 33.3 L/t."""
    rig = replace(STEP_2, speed_min_m_s=0.5, flow_max_l_min=3.0)
    rates = 3.0 * 60 / 5.4 * np.array([1 - 1e-9, 1.001])
    assert keeps_pace(16_000.0, BALER, rig, FIELD, rates, 12.0).tolist() == [True, False]
    bare = replace(FIELD, swath_width_m=None)
    assert keeps_pace(1.0, BALER, rig, bare, rates, 12.0).tolist() == [True, True]


# Ways


def test_a_way_is_the_set_up_and_the_road_at_the_balers_speed():
    """0.1 degrees of latitude, 11.1 km, a third longer by road; at half the speed twice as long."""
    fields = {"a": field("a"), "c": field("c", site="away")}
    farm, baler = farm_with(fields, {}, {}), replace(BALER, move_minutes=12.0)
    at = {
        speed: move_h(replace(baler, road_speed_m_s=speed), farm, fields["a"], fields["c"])
        for speed in (5.0, 10.0)
    }
    assert at[10.0] - 0.2 == pytest.approx(1.3 * 11_119 / 10 / 3600, rel=1e-3)
    assert at[5.0] - 0.2 == pytest.approx(2 * (at[10.0] - 0.2))
    assert move_h(baler, farm, fields["a"], fields["a"]) == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("said", "minutes"),
    [
        ([("a", "c", 5), ("a", "away", 6), ("c", "home", 7), ("home", "away", 8)], 5),
        ([("a", "away", 6), ("home", "away", 8)], 6),
        ([("home", "c", 7), ("home", "away", 8)], 7),
        ([("away", "home", 8), ("b", "c", 9)], 8),
    ],
)
def test_a_road_between_fields_before_one_to_a_site_before_one_between_sites(said, minutes):
    fields = {"a": field("a"), "b": field("b"), "c": field("c", site="away")}
    farm = replace(farm_with(fields, {}, {}), roads=tuple(Road(*each) for each in said))
    for pair in (("a", "c"), ("c", "a")):
        one, two = (fields[name] for name in pair)
        assert move_h(BALER, farm, one, two) == pytest.approx(minutes / 60)
