"""Curves of leaf and stem: inverse, branches, limits; values are in tests/published."""

import numpy as np
import pytest

from hayweather.windrow.sorption import (
    ALFALFA_LEAF,
    ALFALFA_STEM,
    GRASS,
    HUMIDITY_RANGE,
    MIXED_LEAF,
    MIXED_STEM,
    dry_basis,
    equilibrium_moisture,
    pace,
    water_activity,
    wet_basis,
)

CURVES = [ALFALFA_LEAF, ALFALFA_STEM, GRASS, MIXED_LEAF, MIXED_STEM]
HUMIDITY = np.linspace(0.05, 0.95, 19)


@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize("wetting", [True, False])
def test_activity_turns_moisture_round(curve, wetting):
    moisture = equilibrium_moisture(HUMIDITY, 17.0, curve, wetting=wetting)
    found = water_activity(moisture, 17.0, curve, wetting=wetting)
    np.testing.assert_allclose(found, HUMIDITY, atol=1e-12)


@pytest.mark.parametrize("curve", CURVES)
def test_moisture_rises_with_humidity_and_falls_with_heat(curve):
    assert (np.diff(equilibrium_moisture(HUMIDITY, 20.0, curve)) > 0).all()
    warm = equilibrium_moisture(0.6, np.array([5.0, 20.0, 35.0]), curve)
    assert (np.diff(warm) < 0).all()


@pytest.mark.parametrize("curve", CURVES)
def test_hysteresis_the_wetting_branch_lies_below(curve):
    wetting = equilibrium_moisture(HUMIDITY, 20.0, curve, wetting=True)
    drying = equilibrium_moisture(HUMIDITY, 20.0, curve)
    np.testing.assert_allclose(wetting / drying, curve.wetting)


def test_beyond_the_range_of_the_fit_nothing_moves():
    low, high = HUMIDITY_RANGE
    ends = equilibrium_moisture(np.array([0.0, low, high, 1.0]), 20.0, ALFALFA_LEAF)
    assert ends[0] == ends[1]
    assert ends[2] == ends[3]
    hot = equilibrium_moisture(0.5, np.array([38.0, 60.0]), ALFALFA_LEAF)
    assert hot[0] == hot[1]


def test_amount_is_a_plain_factor():
    more = ALFALFA_LEAF.__class__(ALFALFA_LEAF.exponent, amount=1.1)
    ratio = equilibrium_moisture(0.6, 20.0, more) / equilibrium_moisture(0.6, 20.0, ALFALFA_LEAF)
    assert ratio == pytest.approx(1.1)


def test_leaf_swings_wider_than_stem():
    leaf, stem = (equilibrium_moisture(HUMIDITY, 20.0, c) for c in (ALFALFA_LEAF, ALFALFA_STEM))
    assert leaf[0] < stem[0]
    assert leaf[-1] > stem[-1]


def test_pace_is_one_at_fifteen_and_clipped():
    assert pace(15.0) == 1.0
    assert pace(np.array([-40.0, 60.0])).tolist() == [0.5, 2.0]


@pytest.mark.parametrize(("wet", "dry"), [(0.0, 0.0), (20.0, 0.25), (50.0, 1.0), (80.0, 4.0)])
def test_wet_and_dry_basis(wet, dry):
    assert dry_basis(wet) == pytest.approx(dry)
    assert wet_basis(dry) == pytest.approx(wet)


def test_unknown_stays_unknown():
    assert np.isnan(equilibrium_moisture(np.nan, 20.0, ALFALFA_LEAF))
    assert np.isnan(water_activity(np.nan, 20.0, ALFALFA_LEAF))


@pytest.mark.parametrize(
    ("temperature_c", "as_at_c"), [(-0.5, 0.0), (-20.0, 0.0), (38.5, 38.0), (55.0, 38.0)]
)
def test_temperature_counts_as_the_end_of_the_fit_beyond_it(temperature_c, as_at_c):
    found = equilibrium_moisture(0.5, temperature_c, ALFALFA_LEAF)
    # By hand at half humidity: (16.4 - 0.12 T) / 100.
    assert found == pytest.approx((16.4 - 0.12 * as_at_c) / 100)


@pytest.mark.parametrize("temperature_c", [0.5, 37.5])
def test_temperature_counts_as_it_is_up_to_the_ends_of_the_fit(temperature_c):
    found = equilibrium_moisture(0.5, temperature_c, ALFALFA_LEAF)
    assert found == pytest.approx((16.4 - 0.12 * temperature_c) / 100)


@pytest.mark.parametrize(
    ("mixed", "alfalfa"), [(MIXED_LEAF, ALFALFA_LEAF), (MIXED_STEM, ALFALFA_STEM)]
)
def test_mixed_hay_lies_halfway_between_alfalfa_and_grass(mixed, alfalfa):
    for name in ("exponent", "amount", "wetting"):
        half = (getattr(alfalfa, name) + getattr(GRASS, name)) / 2
        assert getattr(mixed, name) == pytest.approx(half, abs=0.004)


def test_activity_is_that_of_the_drying_branch_unless_said():
    moisture = equilibrium_moisture(0.6, 20.0, ALFALFA_LEAF)
    assert water_activity(moisture, 20.0, ALFALFA_LEAF) == pytest.approx(0.6)
