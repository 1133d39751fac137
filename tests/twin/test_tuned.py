"""Tuning to synthetic readings whose truth is known; with ``-m long``; a few seeds first."""

import numpy as np
import pytest
from twin.tuned_tables import KNOWN, drawn_truths, recover

from hayweather.learning.tune import tuning_at

FEW, ALL = 3, 100


def by_name(found):
    return {each.name: each for each in found}


@pytest.fixture(scope="module")
def few():
    return by_name(recover(drawn_truths(FEW)))


@pytest.mark.long
def test_bars_hold_the_truth_in_a_few_seeds(few):
    for name in ("windrow_mass", "dew_point_offset", "leaf_moisture"):
        assert few[name].fitted == FEW
        assert few[name].held >= 2
    assert few["windrow_mass"].bar < 0.8
    assert few["dew_point_offset"].bar < 0.6


@pytest.mark.long
def test_without_the_right_kind_of_reading_it_says_so(few):
    assert few["sky_view"].kept == {"needs_skin": FEW}
    assert few["rig_efficiency"].kept == {"needs_rig": FEW}


@pytest.mark.long
def test_two_readings_leave_most_untold():
    found = by_name(recover([tuning_at(0 * KNOWN)], readings=2))
    kept = {name for name, each in found.items() if each.fitted == 0}
    assert {"stem_moisture", "sky_view", "rig_efficiency"} <= kept
    assert found["stem_moisture"].kept == {"unclear": 1}


@pytest.mark.long
def test_bars_hold_truths_drawn_from_the_priors():
    found = by_name(recover(drawn_truths(ALL)))
    for each in found.values():
        if each.fitted:
            assert 0.88 <= each.held / each.fitted <= 0.99, each
    assert found["windrow_mass"].bar < 0.6
    assert found["dew_point_offset"].bar < 0.6


@pytest.mark.long
def test_bars_are_narrow_for_a_known_truth():
    found = by_name(recover([tuning_at(KNOWN)] * ALL))
    for name in ("windrow_mass", "dew_point_offset"):
        assert found[name].fitted == ALL
        assert found[name].held >= 88
        assert np.isfinite(found[name].bar)
        assert found[name].widest < 0.6
