"""Free water: what rain is caught, how it soaks in and drips."""

import numpy as np
import pytest

from hayweather.windrow.exchange import FULL_DB
from hayweather.windrow.film import drip, rain_caught, soak
from hayweather.windrow.parameters import WindrowParameters

WINDROW = WindrowParameters()
MASS = WINDROW.organ_mass()
THAWED = np.zeros((3, 1), dtype=bool)


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
    moisture = np.broadcast_to(np.array([0.1, 0.1])[None, :, None], (3, 2, 1))
    film = np.full((3, 1), 0.2)
    wetter, left = soak(moisture, film, MASS, THAWED, WINDROW, 300.0)
    gained = ((wetter - moisture) * MASS).sum(axis=1)
    np.testing.assert_allclose(gained + left, film)
    assert (wetter[:, 0] > wetter[:, 1]).all()  # leaf is faster
    for _ in range(500):
        wetter, left = soak(wetter, left + 1.0, MASS, THAWED, WINDROW, 3600.0)
    np.testing.assert_allclose(wetter, np.broadcast_to(FULL_DB, wetter.shape))


def test_frost_neither_soaks_in_nor_drips():
    moisture, film = np.full((3, 2, 1), 0.1), np.full((3, 1), 5.0)
    frozen = ~THAWED
    wetter, left = soak(moisture, film, MASS, frozen, WINDROW, 3600.0)
    np.testing.assert_array_equal(wetter, moisture)
    after, runoff = drip(left, MASS.sum(axis=1), frozen, WINDROW, 3600.0)
    np.testing.assert_array_equal(after, film)
    assert runoff == 0.0


def test_only_what_a_layer_cannot_hold_drips_and_nothing_is_lost():
    mass = MASS.sum(axis=1)
    held = mass.copy()
    after, runoff = drip(held, mass, THAWED, WINDROW, 3600.0)
    np.testing.assert_array_equal(after, held)
    assert runoff == 0.0
    heavy = held + 1.0
    after, runoff = drip(heavy, mass, THAWED, WINDROW, 3600.0)
    assert after.sum() + runoff.sum() == pytest.approx(heavy.sum())
    share = 1 - np.exp(-1 / 0.8)
    assert runoff == pytest.approx(share)
    assert heavy[0] - after[0] == pytest.approx(share)


def test_no_film_no_drip():
    after, runoff = drip(np.zeros((3, 1)), MASS.sum(axis=1), THAWED, WINDROW, 3600.0)
    assert after.sum() == runoff.sum() == 0.0
