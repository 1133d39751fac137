"""What the model says at a reading: between quarter hours, of bales, behind a rig, out of reach.

The windrow simply is as said; the water of the trade is worked by hand.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import hay

from hayweather.learning.past import FieldReading
from hayweather.learning.predict import at_reading, with_rig
from hayweather.units import GALLON_L, SHORT_TON_KG
from hayweather.windrow.trajectory import Layers

WINDROW = hay(np.array([10.0, 12.0, 14.0, 13.0, 12.0]), skin_temperature_c=[9, 8, 7, 6, 5])
START = WINDROW.start[0]
SECOND = np.timedelta64(1, "s")
LANE = np.array([0])


def reading(quarters, kind="windrow", **named):
    """A reading so many quarter hours after the start."""
    return FieldReading(START + int(900 * quarters) * SECOND, "north", kind, 0.0, 1.0, **named)


def said(quarters, kind="windrow"):
    return float(at_reading(reading(quarters, kind), WINDROW, LANE)[0])


def test_between_quarter_hours_it_is_a_line():
    assert said(0) == pytest.approx(10.0)
    assert said(4) == pytest.approx(12.0)
    assert said(0.5, "skin") == pytest.approx(8.5)
    assert 10.9 < said(0.5) < 11.1  # a line in dry basis


def test_a_bale_is_the_mean_of_the_quarter_hour_before():
    assert said(2, "bale") == pytest.approx((12.0 + 14.0) / 2)


def layered(parts):
    """The windrow above with six layers of their own moisture [% wet basis], the same all along."""
    levels = np.repeat(parts, 2)[None, :, None] / (100 - np.repeat(parts, 2)[None, :, None])
    there = np.repeat(levels, WINDROW.windrow_db.shape[0], axis=0).astype(np.float32)
    shares = np.array([0.05, 0.10, 0.15, 0.20, 0.25, 0.25])
    zero = np.zeros_like(there)
    return replace(WINDROW, layers=Layers(shares, np.array([0.45]), 1.5 * there, there, zero, zero))


@pytest.mark.parametrize(
    ("layer", "kind", "moisture"),
    [("top", "stem", 30.0), ("middle", "stem", 20.0), ("bottom", "stem", 10.0)],
)
def test_a_reading_of_a_layer_is_set_beside_that_layer(layer, kind, moisture):
    """Layers of 5 + 10, 15 + 20 and 25 + 25 % of the dry matter are the three named parts."""
    windrow = layered([30.0, 20.0, 10.0])
    there = reading(0.5, kind, layer=layer)
    assert at_reading(there, windrow, LANE)[0] == pytest.approx(moisture, abs=1e-4)
    leaf = at_reading(reading(0.5, "leaf", layer=layer), windrow, LANE)[0]
    stem_db = moisture / (100 - moisture)
    assert leaf == pytest.approx(100 * 1.5 * stem_db / (1 + 1.5 * stem_db), abs=1e-4)
    whole_db = (0.45 * 1.5 + 0.55) * stem_db
    whole = at_reading(reading(0.5, layer=layer), windrow, LANE)[0]
    assert whole == pytest.approx(100 * whole_db / (1 + whole_db), abs=1e-4)
    assert np.isnan(at_reading(reading(4.5, kind, layer=layer), windrow, LANE)[0])
    assert at_reading(reading(0.5), windrow, LANE)[0] == pytest.approx(said(0.5))


def test_out_of_the_run_nothing_is_said():
    for outside in (said(-0.5), said(4.5), said(0.5, "bale")):
        assert np.isnan(outside)


def test_the_water_of_a_rig_is_added_to_moisture_alone():
    """5.45 gal a ton bring hay from 10 to 12 % wet basis (mass balance, by hand)."""
    rate = 5.45 * GALLON_L / SHORT_TON_KG * 1000
    behind = reading(0, water_l_t=rate / 0.8)
    assert with_rig(behind, np.array([10.0]), np.array([0.8]))[0] == pytest.approx(12.0, abs=0.01)
    for plain in (reading(0), reading(0, "skin", water_l_t=rate)):
        assert with_rig(plain, np.array([10.0]), np.array([0.8]))[0] == 10.0
