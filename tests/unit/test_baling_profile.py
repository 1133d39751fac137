"""Shares by depth, against sums over a fine grid, and what a rig's water does to layers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hayweather.baling.profile import Layers, middles_of, share_above

SHARES = np.array([0.15, 0.35, 0.5])
moistures = st.lists(st.floats(0.02, 1.5), min_size=3, max_size=3)


def by_grid(values, limit, shares, count=20_000):
    """The share by looking at many depths, straight lines between middles and beyond."""
    middle = middles_of(shares)
    depth = (np.arange(count) + 0.5) / count
    inside = np.interp(depth, middle, values)
    first = (values[1] - values[0]) / (middle[1] - middle[0])
    last = (values[-1] - values[-2]) / (middle[-1] - middle[-2])
    inside = np.where(depth < middle[0], values[0] + first * (depth - middle[0]), inside)
    inside = np.where(depth > middle[-1], values[-1] + last * (depth - middle[-1]), inside)
    return float((inside >= limit).mean())


@given(moistures, st.floats(0.05, 1.0))
def test_share_is_that_of_many_depths(values, limit):
    found = float(share_above(np.array(values), limit, SHARES))
    assert found == pytest.approx(by_grid(values, limit, SHARES), abs=2e-4)


@given(moistures, st.floats(0.05, 1.0), st.integers(0, 2), st.floats(0, 0.5))
def test_more_water_never_lowers_the_share_by_more_than_a_line_drawn_beyond(
    values, limit, layer, more
):
    wetter = np.array(values)
    wetter[layer] += more
    before, after = (float(share_above(np.array(v), limit, SHARES)) for v in (values, wetter))
    # A wetter neighbour tilts the line drawn on to the edge; the edge is half a layer.
    assert after >= before - max(middles_of(SHARES)[0], 1 - middles_of(SHARES)[-1]) - 1e-9


def test_share_does_not_jump():
    top = np.linspace(0.05, 0.4, 2001)
    values = np.stack([top, np.full_like(top, 0.1), np.full_like(top, 0.1)])
    found = share_above(values, 0.136, SHARES)
    assert np.abs(np.diff(found)).max() < 0.01
    assert found[0] == 0


def test_unknown_layers_are_unknown():
    assert np.isnan(share_above(np.array([0.2, np.nan, 0.2]), 0.1, SHARES))


def hay(leaf, stem=0.11, film=0.0):
    return Layers(
        np.array(leaf, dtype=float),
        np.full(3, stem),
        np.array([film, 0.0, 0.0]),
        SHARES,
        0.47,
    )


def test_wet_on_top_and_dry_beneath_is_not_soft():
    # 37 % on top, 10 % in the lower 85 %: 0.587 and 0.111 per dry matter.
    dewy = hay([0.587, 0.111, 0.111])
    assert dewy.soft_share(12.0) < 0.4
    assert dewy.wet_share(17.0) > 0.1


def test_a_crop_without_a_leaf_minimum_is_soft():
    assert float(hay([0.05, 0.05, 0.05]).soft_share(None)) == 1


def test_all_the_water_of_a_rig_is_in_the_hay():
    dry = hay([0.06, 0.07, 0.08])
    for top_share in (0.0, 0.3, 0.5, 1.0):
        wet = dry.sprayed(np.array(0.05), 0.8, top_share)
        assert float(wet.mean_db) == pytest.approx(float(dry.mean_db) + 0.05, abs=1e-12)


def test_the_leaf_takes_its_share_first():
    dry = hay([0.06, 0.06, 0.06])
    even = dry.sprayed(np.array(0.04), 0.8, 0.5)
    assert even.leaf_db == pytest.approx(np.full(3, 0.06 + 0.04 * 0.8 / 0.47))
    assert even.stem_db == pytest.approx(np.full(3, 0.11 + 0.04 * 0.2 / 0.53))
    above = dry.sprayed(np.array(0.04), 0.8, 1.0)
    assert above.leaf_db[0] == pytest.approx(0.06 + 2 * 0.04 * 0.8 / 0.47)
    assert above.leaf_db[2] == 0.06
