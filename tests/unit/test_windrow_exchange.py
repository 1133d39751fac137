"""Leaf and stem against the air of their layer: branch, rest, pace, limits."""

import numpy as np
import pytest

from hayweather.windrow.exchange import FULL_DB, activities, exchange_for
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.sorption import ALFALFA_LEAF, equilibrium_moisture

WINDROW = WindrowParameters()
MASS = WINDROW.organ_mass()
STEP_S = 300.0


def layers(value: float) -> np.ndarray:
    return np.full((3, 1), float(value))


def hay(leaf: float, stem: float) -> np.ndarray:
    return np.broadcast_to(np.array([leaf, stem])[None, :, None], (3, 2, 1)).copy()


def exchange(moisture, humidity, temperature_c=15.0, seconds=STEP_S):
    return exchange_for(moisture, layers(humidity), layers(temperature_c), WINDROW, MASS, seconds)


def test_moist_air_is_taken_up_and_dry_air_takes():
    moisture = hay(0.12, 0.12)
    for humidity, sign in ((0.9, 1), (0.15, -1)):
        found = exchange(moisture, humidity).uptake(layers(humidity))
        assert (np.sign(found) == sign).all()


def test_between_the_branches_hay_rests():
    drying = equilibrium_moisture(0.6, 15.0, WINDROW.leaf)
    wetting = equilibrium_moisture(0.6, 15.0, WINDROW.leaf, wetting=True)
    found = exchange(hay((drying + wetting) / 2, 0.15), 0.6)
    assert (found.conductance[:, 0] == 0).all()
    assert (found.uptake(layers(0.6))[:, 0] == 0).all()


def test_drying_activity_lies_below_the_wetting_one():
    drying, wetting, _ = activities(hay(0.15, 0.15), layers(15.0), WINDROW)
    assert (drying < wetting).all()


def test_leaf_is_faster_than_stem_and_heat_speeds_both():
    moisture = hay(0.10, 0.10)
    cool = exchange(moisture, 0.9).uptake(layers(0.9)) / MASS
    warm = exchange(moisture, 0.9, temperature_c=30.0).uptake(layers(0.9)) / MASS
    assert (cool[:, 0] > 4 * cool[:, 1]).all()
    assert (warm > cool).all()


def test_long_step_near_balance_ends_at_the_wetting_curve():
    """Far longer than its time constant, a leaf close to balance goes all the way."""
    target = equilibrium_moisture(0.5, 15.0, ALFALFA_LEAF, wetting=True)
    moisture = hay(target * 0.98, 0.2)
    found = exchange(moisture, 0.5, seconds=36_000.0)
    gained = found.uptake(layers(0.5))[0, 0] * 36_000.0 / MASS[0, 0]
    assert moisture[0, 0] + gained == pytest.approx(target, rel=2e-3)


@pytest.mark.parametrize("leaf", [0.05, 0.3, 0.7, 0.79, 0.8, 1.1])
def test_saturated_air_never_carries_hay_past_full(leaf):
    moisture = hay(leaf, 0.3)
    _, _, full = activities(moisture, layers(15.0), WINDROW)
    gained = exchange(moisture, 1.0, seconds=3600.0).uptake(layers(1.0)) * 3600.0 / MASS
    assert (moisture + gained <= np.maximum(moisture, full) + 1e-12).all()
    assert (full <= FULL_DB).all()


def test_branch_that_does_not_fit_what_came_out_is_told():
    chosen = exchange(hay(0.12, 0.12), 0.9)
    assert not chosen.against_branch(layers(0.9)).any()
    assert chosen.against_branch(layers(0.2)).all()
    rested = chosen.resting(chosen.against_branch(layers(0.2)))
    assert (rested.total() == 0).all()
    assert (rested.release() == 0).all()


def test_a_wet_leaf_in_hot_dry_air_dries_in_one_step():
    """A leaf at 31 % wb on a 39 C skin in air of 45 %: it must dry, not rest."""
    moisture = hay(0.443, 0.19)
    change = exchange(moisture, 0.45, temperature_c=39.0).uptake(layers(0.45)) * STEP_S / MASS
    assert 0.02 <= (moisture + change)[0, 0] < 0.443
