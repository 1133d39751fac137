"""Chances from members, and the call shown: the likelier and cheaper one, behind a fence.

Members are lanes of which each simply is as wet as said, so that every chance
can be counted by hand.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, RIG, calls_of, hay, setting_of
from support.nights import hourly

from hayweather.baling.calls import Call
from hayweather.baling.course import (
    FENCE,
    Costs,
    decide,
    hour_chances,
    matching_run,
    quarter_chances,
    shown_as_mean,
    with_chance,
)
from hayweather.baling.windows import Window
from hayweather.farm.records import Money
from hayweather.windrow.readings import Weights
from hayweather.windrow.trajectory import QUARTER

NO_DATA, NOT_CURED, TOO_WET, DEW, RIG_CALL, TOO_DRY = Call
NO_RIG, WITH_RIG = setting_of(rig=None), setting_of(rig=RIG)
UNKNOWN = setting_of(replace(CURED, cured=None), rig=None)
BEGIN = hourly(1).start[0]


def members(first, others, leaf_wb=15.0, stem_wb=10.0):
    """Lane 0 at `first`, the members at `others` % wet basis for an hour."""
    values = np.array([first, *others], dtype=float)[None, :]
    return hay(values, leaf_wb, stem_wb, lanes=values.size)


def even(lanes):
    """Members of one weight, lane 0 without."""
    weights = np.full(lanes, 1 / (lanes - 1))
    weights[0] = 0.0
    return weights


def shown(trajectory, setting, money=None):
    """The call that is shown in an hour in which nothing changes."""
    quarters = calls_of(trajectory, setting)
    weights = even(quarters.call.shape[1])
    costs = Costs.of(money or Money())
    found = decide(quarters, quarter_chances(quarters, weights), weights, setting, costs)
    assert np.unique(found).size == 1
    return Call(int(found[0]))


def test_chances_are_the_shares_of_the_members_by_weight():
    quarters = calls_of(members(14, [14, 14, 20, 9]), NO_RIG)
    found = quarter_chances(quarters, np.array([0, 0.4, 0.3, 0.2, 0.1]))
    np.testing.assert_allclose(found[:, 0], [0, 0, 0.2, 0.7, 0, 0.1])


def test_members_without_data_do_not_count():
    quarters = calls_of(members(14, [14, np.nan, np.nan, 20]), NO_RIG)
    found = quarter_chances(quarters, even(5))
    np.testing.assert_allclose(found[:, 0], [0, 0, 0.5, 0.5, 0, 0])


@pytest.mark.parametrize("weights", [even(3), np.zeros(3)])
def test_where_no_member_has_data_that_is_certain(weights):
    value = np.nan if weights.any() else 14
    found = quarter_chances(calls_of(members(14, [value, value]), NO_RIG), weights)
    np.testing.assert_allclose(found[:, 0], [1, 0, 0, 0, 0, 0])


def test_chances_of_an_hour_are_the_mean_of_its_quarters():
    lanes = np.array([[14.0, 14.0, 14.0]] * 3 + [[14.0, 9.0, 14.0]] * 2)
    quarters = calls_of(hay(lanes, lanes=3), NO_RIG)
    found = hour_chances(quarter_chances(quarters, even(3)))
    assert len(found) == 1
    assert set(found[0]) == set(Call)
    assert sum(found[0].values()) == pytest.approx(1.0)
    assert found[0][TOO_DRY] == pytest.approx(0.25)  # half the members, half the hour


def ready_runs(*lanes):
    """Calls in which each lane is on dew from its first to its past quarter, else too dry."""
    calls = np.full((16, len(lanes)), TOO_DRY, dtype=np.int8)
    for lane, runs in enumerate(lanes):
        for first, past in runs:
            calls[first:past, lane] = DEW
    quarters = calls_of(hay(9.0, hours=4, lanes=len(lanes)), NO_RIG)
    return replace(quarters, call=calls)


def timed(quarters, first, past, weights=None, stopped=None):
    window = Window(DEW, BEGIN + first * QUARTER, BEGIN + past * QUARTER)
    lanes = quarters.call.shape[1]
    stops = np.zeros((16, lanes), dtype=bool) if stopped is None else stopped
    return with_chance(window, BEGIN, quarters, stops, even(lanes) if weights is None else weights)


def test_a_member_has_a_window_where_it_shares_a_quarter_with_it():
    found = timed(ready_runs([(4, 8)], [(3, 7)], [(7, 12)], [(8, 12)], []), 4, 8)
    assert found.chance == pytest.approx(0.5)
    assert found.start_range == (BEGIN + 3 * QUARTER, BEGIN + 7 * QUARTER)
    assert found.end_range == (BEGIN + 7 * QUARTER, BEGIN + 12 * QUARTER)


def test_a_window_that_few_members_have_is_not_timed():
    lanes = [[(4, 8)], [(4, 8)], [], [], [], [], []]
    found = timed(ready_runs(*lanes), 4, 8)
    assert found.chance == pytest.approx(1 / 6)
    assert found.start_range is None
    assert found.end_range is None


def test_members_without_weight_and_stopped_quarters_do_not_count():
    quarters = ready_runs([(4, 8)], [(4, 8)], [(4, 8)])
    assert timed(quarters, 4, 8, np.array([0.0, 1.0, 0.0])).chance == 1.0
    stopped = np.zeros((16, 3), dtype=bool)
    stopped[:, 2] = True
    assert timed(quarters, 4, 8, stopped=stopped).chance == pytest.approx(0.5)


def test_of_several_runs_the_one_that_shares_most_counts():
    ready = np.zeros(16, dtype=bool)
    ready[[1, 2, 4, 5, 6, 9]] = True
    assert matching_run(ready, 2, 6) == (4, 7)
    assert matching_run(ready, 9, 12) == (9, 10)
    assert matching_run(ready, 10, 16) is None


@pytest.mark.parametrize(("wet", "expected"), [(0, DEW), (1, DEW), (2, DEW), (3, TOO_WET)])
def test_the_fence_of_one_in_five(wet, expected):
    """Of ten members; a chance of too wet above 0.2 (assumed) is never shown ready.

    Wet bales cost next to nothing here, so that the fence alone decides.
    """
    assert FENCE == 0.2
    cheap = Money(wet_bale_cost_per_kg=0.001)
    assert shown(members(14, [20] * wet + [14] * (10 - wet)), NO_RIG, cheap) == expected


def test_behind_the_fence_the_likelier_of_too_wet_and_not_cured_is_said():
    stems = np.array([10.0] + [18.0] * 4 + [10.0] * 6)[None, :]
    assert shown(members(14, [14] * 10, stem_wb=stems), UNKNOWN) == NOT_CURED
    assert shown(members(14, [20] * 4 + [14] * 6), UNKNOWN) == TOO_WET


@pytest.mark.parametrize(
    ("first", "stem_wb", "expected"),
    [(20, 10, TOO_WET), (np.nan, 10, NO_DATA), (14, 18, NOT_CURED)],
)
def test_what_the_middle_forecast_forbids_no_member_allows(first, stem_wb, expected):
    stems = np.array([stem_wb] + [10.0] * 6, dtype=float)[None, :]
    assert shown(members(first, [14] * 6, stem_wb=stems), UNKNOWN) == expected


def test_rain_in_the_middle_forecast_is_never_ready():
    quarters = calls_of(members(14, [14] * 6), NO_RIG, rain_mm=np.array([[1.0] + [0.0] * 6]))
    weights = even(7)
    chances = quarter_chances(quarters, weights)
    assert set(decide(quarters, chances, weights, NO_RIG, Costs.of(Money()))) == {TOO_WET}


def test_the_likelier_of_dew_and_dry_is_shown():
    assert shown(members(11.5, [13] * 6 + [9] * 4), WITH_RIG) == DEW
    assert shown(members(14.0, [13] * 4 + [9] * 6), WITH_RIG) == RIG_CALL
    assert shown(members(14.0, [13] * 4 + [9] * 6), NO_RIG) == TOO_DRY
    assert shown(members(11.5, [11.5] * 10), WITH_RIG) == RIG_CALL


def test_a_rig_without_an_amount_is_never_shown():
    """No room by the middle forecast: the rig's least would pass 16 %."""
    strong = setting_of(rig=replace(RIG, rate_min_l_t=60.0))
    assert shown(members(14.0, [9] * 6 + [13] * 4), strong) == TOO_DRY


def test_dear_wet_bales_make_a_small_chance_of_them_too_wet():
    """One member in ten is too wet: behind the fence, yet waiting is cheaper."""
    dear = Money(wet_bale_cost_per_kg=10.0)
    lanes = members(14, [20] + [14] * 9)
    assert shown(lanes, NO_RIG) == DEW
    assert shown(lanes, NO_RIG, dear) == TOO_WET


def test_cheap_wet_bales_never_open_the_fence():
    cheap = Money(wet_bale_cost_per_kg=0.0, lost_leaf_cost_per_kg=10.0)
    assert shown(members(14, [20] * 3 + [14] * 7), NO_RIG, cheap) == TOO_WET


def test_other_crops_lose_no_leaf_that_could_be_reckoned():
    """Values are known for alfalfa only: grass is baled where that is likelier."""
    grass = setting_of(replace(CURED, crop="grass"), rig=None)
    assert shown(members(14, [14] * 6 + [9] * 4), grass) == DEW


def test_costs_of_the_farm_file_and_what_is_assumed():
    given = Costs.of(Money(lost_leaf_cost_per_kg=0.26, wet_bale_cost_per_kg=0.09))
    assert (given.lost_leaf, given.wet_bale) == pytest.approx((260.0, 90.0))
    assert not given.assumed
    assert Costs.of(Money(lost_leaf_cost_per_kg=0.3)).assumed
    assert Costs.of(Money()).assumed


def test_the_mean_of_the_members_that_count_is_shown():
    trajectory = members(9.0, [10.0, 12.0, 30.0])
    weights = Weights(np.array([0.0, 0.5, 0.5, 0.0]), 2.0)
    found = shown_as_mean(trajectory, weights)
    expected = trajectory.windrow_db[:, 1:3].mean(axis=1)
    np.testing.assert_allclose(found.windrow_db[:, 0], expected)
    np.testing.assert_array_equal(found.windrow_db[:, 1:], trajectory.windrow_db[:, 1:])
    none = Weights(np.zeros(4), 0.0)
    assert shown_as_mean(trajectory, none) is trajectory
