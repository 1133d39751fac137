"""Chances from members, the call shown and the advice beside it.

Members are lanes of which each simply is as wet as said, so that every chance
can be counted by hand.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import RIG, calls_of, hay, setting_of
from support.nights import hourly

from hayweather.baling.advice import Advice, Risk
from hayweather.baling.calls import Call
from hayweather.baling.course import (
    course_of,
    matching_runs,
    mean_chances,
    quarter_chances,
    shown_as_mean,
    with_chance,
)
from hayweather.baling.windows import Window
from hayweather.windrow.readings import Weights
from hayweather.windrow.trajectory import QUARTER

NO_DATA, NOT_CURED, TOO_WET, DEW, RIG_CALL, TOO_DRY, READY, DAMP_BELOW = Call
NO_RIG, WITH_RIG = setting_of(rig=None), setting_of(rig=RIG)
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


def test_chances_are_the_shares_of_the_members_by_weight():
    quarters = calls_of(members(14, [14, 14, 20, 9]), NO_RIG)
    found = quarter_chances(quarters, np.array([0, 0.4, 0.3, 0.2, 0.1]))
    np.testing.assert_allclose(found[:, 0], [0, 0, 0.2, 0, 0, 0.1, 0.7, 0])


def test_members_without_data_do_not_count():
    quarters = calls_of(members(14, [14, np.nan, np.nan, 20]), NO_RIG)
    found = quarter_chances(quarters, even(5))
    np.testing.assert_allclose(found[:, 0], [0, 0, 0.5, 0, 0, 0, 0.5, 0])


@pytest.mark.parametrize("weights", [even(3), np.zeros(3)])
def test_where_no_member_has_data_that_is_certain(weights):
    value = np.nan if weights.any() else 14
    found = quarter_chances(calls_of(members(14, [value, value]), NO_RIG), weights)
    np.testing.assert_allclose(found[:, 0], [1, 0, 0, 0, 0, 0, 0, 0])


def test_chances_of_an_hour_are_the_mean_of_its_quarters():
    lanes = np.array([[14.0, 14.0, 14.0]] * 3 + [[14.0, 9.0, 14.0]] * 2)
    quarters = calls_of(hay(lanes, lanes=3), NO_RIG)
    found = mean_chances(quarter_chances(quarters, even(3)))
    assert set(found) == set(Call)
    assert sum(found.values()) == pytest.approx(1.0)
    assert found[TOO_DRY] == pytest.approx(0.25)  # half the members, half the hour


def ready_runs(*lanes):
    """Calls in which each lane is on dew from its first to its past quarter, else too dry."""
    calls = np.full((16, len(lanes)), TOO_DRY, dtype=np.int8)
    for lane, runs in enumerate(lanes):
        for first, past in runs:
            calls[first:past, lane] = READY
    quarters = calls_of(hay(9.0, hours=4, lanes=len(lanes)), NO_RIG)
    return replace(quarters, call=calls)


def timed(quarters, first, past, weights=None, stopped=None):
    window = Window(READY, BEGIN + first * QUARTER, BEGIN + past * QUARTER)
    lanes = quarters.call.shape[1]
    stops = np.zeros((16, lanes), dtype=bool) if stopped is None else stopped
    good = (quarters.call == READY) & ~stops
    return with_chance(window, BEGIN, good, even(lanes) if weights is None else weights)


def test_a_member_has_a_window_where_it_shares_a_quarter_with_it():
    found = timed(ready_runs([(4, 8)], [(3, 7)], [(7, 12)], [(8, 12)], []), 4, 8)
    assert found.chance == pytest.approx(0.5)
    assert found.good_throughout == 0
    assert found.half_good == pytest.approx(0.25)
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
    both = np.stack([ready, np.zeros(16, dtype=bool), ready], axis=1)
    for first, past, expected in ((2, 6, (4, 7)), (9, 12, (9, 10)), (10, 16, (np.nan, np.nan))):
        found = matching_runs(both, first, past)
        np.testing.assert_array_equal(found[:, 0], expected)
        np.testing.assert_array_equal(found[:, 2], expected)
        assert np.isnan(found[:, 1]).all()


def shown(trajectory, setting):
    """Call and advice of an hour in which nothing changes."""
    lanes = trajectory.windrow_db.shape[1]
    weights = Weights(even(lanes), lanes - 1.0)
    uncured = np.zeros((4, lanes), dtype=bool)
    course = course_of(hourly(1, lanes), trajectory, setting, uncured, weights, Risk())
    calls, advice = np.unique(course.quarters.call[:, 0]), np.unique(course.advice)
    assert calls.size == advice.size == 1
    return Call(int(calls[0])), Advice(int(advice[0]))


@pytest.mark.parametrize(
    ("wet", "call", "advice"),
    [(0, READY, "GO"), (1, READY, "GO"), (2, READY, "PROBE_FIRST"), (6, TOO_WET, "PROBE_FIRST"),
     (8, TOO_WET, "WAIT")],
)  # fmt: skip
def test_the_likeliest_call_is_shown_and_wet_runs_hold_the_advice_back(wet, call, advice):
    """Of ten members; go needs 40 in 100 ready and at most 15 too wet."""
    found = shown(members(14, [20] * wet + [14] * (10 - wet)), NO_RIG)
    assert found == (call, Advice[advice])


def test_the_likelier_of_ready_and_dry_is_shown():
    assert shown(members(11.5, [13] * 6 + [9] * 4), WITH_RIG) == (READY, Advice.GO)
    assert shown(members(14.0, [13] * 4 + [9] * 6), NO_RIG) == (TOO_DRY, Advice.PROBE_FIRST)
    assert shown(members(11.5, [11.5] * 10), WITH_RIG) == (RIG_CALL, Advice.GO)


def test_behind_the_rig_the_rate_printed_must_bring_every_run_in():
    """Water for hay at 9 % makes the runs at 14 % too wet: no go."""
    mixed = members(9.0, [9.0] * 6 + [14.0] * 4, leaf_wb=np.array([[9.0] * 7 + [14.0] * 4]))
    assert shown(mixed, WITH_RIG) == (RIG_CALL, Advice.PROBE_FIRST)


def test_without_data_it_is_unknown():
    assert shown(members(np.nan, [14] * 6), NO_RIG) == (NO_DATA, Advice.UNKNOWN)


def test_the_mean_of_the_members_that_count_is_shown():
    trajectory = members(9.0, [10.0, 12.0, 30.0])
    weights = Weights(np.array([0.0, 0.5, 0.5, 0.0]), 2.0)
    found = shown_as_mean(trajectory, weights)
    expected = trajectory.windrow_db[:, 1:3].mean(axis=1)
    np.testing.assert_allclose(found.windrow_db[:, 0], expected)
    np.testing.assert_array_equal(found.windrow_db[:, 1:], trajectory.windrow_db[:, 1:])
    none = Weights(np.zeros(4), 0.0)
    assert shown_as_mean(trajectory, none) is trajectory
