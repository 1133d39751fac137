"""Leaf and stem against the air of their layer, and free water on them."""

import numpy as np
import pytest

from hayweather.windrow.column import column_of, sink
from hayweather.windrow.hay import FULL_LEAF_DB, FULL_STEM_DB, exchange, rain_caught
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.sorption import ALFALFA_LEAF, equilibrium_moisture

WINDROW = WindrowParameters()
COLUMN = column_of(WINDROW, 3)
STEP_S = 300.0


def layers(value: float) -> np.ndarray:
    return np.full((3, 1), float(value))


def hay(leaf: float, stem: float) -> np.ndarray:
    return np.stack([layers(leaf), layers(stem)])


def gained(moisture, humidity, temperature_c=15.0, seconds=STEP_S):
    """What leaf and stem take up in one step [kg/kg], (2, 3, 1)."""
    c = COLUMN
    pull, activity = exchange(
        moisture, layers(humidity), layers(temperature_c), c.amount, c.exponent, c.wetting_odds,
        c.full_share, c.full_db, seconds / 3600 / c.time_h,
    )  # fmt: skip
    return pull * (humidity - activity)


def test_moist_air_is_taken_up_and_dry_air_takes():
    for humidity, sign in ((0.9, 1), (0.15, -1)):
        assert (np.sign(gained(hay(0.12, 0.12), humidity)) == sign).all()


def test_between_the_branches_hay_rests():
    drying = equilibrium_moisture(0.6, 15.0, WINDROW.leaf)
    wetting = equilibrium_moisture(0.6, 15.0, WINDROW.leaf, wetting=True)
    assert (gained(hay((drying + wetting) / 2, 0.15), 0.6)[0] == 0).all()


def test_leaf_is_faster_than_stem_and_heat_speeds_both():
    cool, warm = (gained(hay(0.10, 0.10), 0.9, temperature_c=t) for t in (15.0, 30.0))
    assert (cool[0] > 4 * cool[1]).all()
    assert (warm > cool).all()


def test_long_step_near_balance_ends_at_the_wetting_curve():
    """Far longer than its time constant, a leaf close to balance goes all the way."""
    target = equilibrium_moisture(0.5, 15.0, ALFALFA_LEAF, wetting=True)
    moisture = hay(target * 0.98, 0.2)
    after = moisture + gained(moisture, 0.5, seconds=36_000.0)
    assert after[0] == pytest.approx(np.full((3, 1), target), rel=2e-3)


@pytest.mark.parametrize("leaf", [0.05, 0.3, 0.7, 0.79, 0.8, 1.1])
def test_saturated_air_never_carries_hay_past_full(leaf):
    moisture = hay(leaf, 0.3)
    after = moisture + gained(moisture, 1.0, seconds=3600.0)
    full = np.stack([layers(FULL_LEAF_DB), layers(FULL_STEM_DB)])
    assert (after <= np.maximum(moisture, full) + 1e-12).all()


def test_a_wet_leaf_in_hot_dry_air_dries_in_one_step():
    """A leaf at 31 % wb at 39 C in air of 45 %: it must dry, not rest."""
    moisture = hay(0.443, 0.19)
    after = moisture + gained(moisture, 0.45, temperature_c=39.0)
    assert 0.02 <= after[0, 0, 0] < 0.443


def one(value: float) -> np.ndarray:
    return np.array([float(value)])


def test_catch_by_hand():
    """USDA-ARS manual: (4 - M)(1 - exp(-150 R/(1000 m))) m, 5 mm on 1.5 kg/m2 at M 0.1."""
    expected = (4 - 0.1) * (1 - np.exp(-150 * 5 / 1500)) * 1.5
    assert rain_caught(one(5), one(0.15), one(1.5)) == pytest.approx(expected)


def test_rain_in_parts_is_caught_as_in_one():
    dry_matter, water = one(1.5), one(0.2)
    whole = rain_caught(one(6), water, dry_matter)
    first = rain_caught(one(2), water, dry_matter)
    second = rain_caught(one(4), water + first, dry_matter)
    assert first + second == pytest.approx(whole)


@pytest.mark.parametrize("rain_mm", [0.01, 0.5, 5.0, 80.0])
def test_never_more_than_the_rain_nor_the_room(rain_mm):
    caught = rain_caught(one(rain_mm), one(0.15), one(1.5))
    assert 0 < caught <= rain_mm
    assert caught <= 4 * 1.5 - 0.15
    assert rain_caught(one(rain_mm), one(9.0), one(1.5)) == 0.0


def test_soaking_keeps_the_water_and_stops_at_full():
    moisture, film = hay(0.1, 0.1), layers(0.05)
    wetter, left, runoff = sink(moisture, film, layers(15.0), COLUMN, 300.0)
    taken = ((wetter - moisture) * COLUMN.organ_mass).sum()
    assert taken + left.sum() + runoff.sum() == pytest.approx(film.sum(), abs=1e-12)
    assert (wetter[0] > wetter[1]).all()  # leaf is faster
    for _ in range(500):
        wetter, left, _ = sink(wetter, left + 1.0, layers(15.0), COLUMN, 3600.0)
    np.testing.assert_allclose(wetter, hay(FULL_LEAF_DB, FULL_STEM_DB))


def test_frost_neither_soaks_in_nor_drips():
    moisture, film = hay(0.1, 0.1), layers(5.0)
    wetter, after, runoff = sink(moisture, film, layers(-1.0), COLUMN, 3600.0)
    np.testing.assert_array_equal(wetter, moisture)
    np.testing.assert_array_equal(after, film)
    assert runoff == 0.0


@pytest.mark.parametrize("count", [3, 6, 20])
@pytest.mark.parametrize("seconds", [60.0, 600.0])
def test_water_that_a_full_windrow_cannot_hold_leaves_in_its_time(count, seconds):
    """0.8 h on the way (Pitt & McGechan 1990), whatever the layers and the step."""
    column = column_of(WINDROW, count)
    full = np.stack([np.full((count, 1), FULL_LEAF_DB), np.full((count, 1), FULL_STEM_DB)])
    film = column.layer_mass.copy()
    film[0] += 1.0
    left, late = 0.0, 0.0
    for number in range(int(36_000 / seconds)):
        _, film, runoff = sink(full, film, np.full((count, 1), 15.0), column, seconds)
        left, late = left + runoff[0], late + number * seconds / 3600 * runoff[0]
    assert left == pytest.approx(1.0, abs=1e-3)
    assert late / left == pytest.approx(0.8, abs=0.02)


def test_no_film_no_drip():
    _, after, runoff = sink(hay(0.1, 0.1), layers(0.0), layers(15.0), COLUMN, 3600.0)
    assert after.sum() == runoff.sum() == 0.0
