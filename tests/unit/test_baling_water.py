"""Water to add: the mass balance, the rig's range, the band.

Amounts in gallons are the design's, done by hand from ``2000 (m2 - m1)/(1 - m2)``
lb a short ton and 8.345 lb a gallon; tests/published holds the whole table.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import RIG, hay

from hayweather.baling.water import (
    Landing,
    Limits,
    dose,
    moisture_after,
    sprayed,
    water_to_add_l_t,
)
from hayweather.farm.bands import target_of
from hayweather.units import GALLON_L, SHORT_TON_KG
from hayweather.windrow.sorption import dry_basis, wet_basis

GALLONS_PER_TON = SHORT_TON_KG / 1000 / GALLON_L
LOW, HIGH, TARGET = 12.0, 16.0, 13.0


def one(moisture_wb, rig=RIG, low=LOW, high=HIGH, target=TARGET):
    found = dose_of([moisture_wb], rig, low, high, target)
    return tuple(float(x[0, 0]) for x in (found.applied_l_t, found.needed_l_t, found.after_wb))


def dose_of(moistures, rig=RIG, low=LOW, high=HIGH, target=TARGET, leaf_minimum=None):
    """The dose for hay that is as damp at every depth."""
    values = np.array([moistures], dtype=float)
    layers = hay(values, values, values, lanes=values.size).every_layer.quarters()
    layers = layers.cut(slice(0, 1), slice(None))
    limits = Limits(low, high, target, 17.0, leaf_minimum, 0.6, 0.3)
    dry = np.ones(values.shape, dtype=bool)
    return dose(layers, values, dry, rig, limits, np.full(values.shape, rig.efficiency))


def test_ten_to_fourteen_at_eighty_percent():
    """13.93 gal/ton (calculated); 93.0 lb must stay, not 80."""
    applied, needed, after = one(10.0, target=14.0)
    assert applied == needed
    assert applied * GALLONS_PER_TON == pytest.approx(13.93, abs=0.01)
    assert applied * RIG.efficiency * 2 == pytest.approx(93.02, abs=0.005)  # kg/t, lb/ton x 2
    assert after == pytest.approx(14.0)


def test_the_balance_closes_for_a_tonne():
    """A tonne at 9 % holds 910 kg dry; with the water kept it is at the target."""
    kept = float(water_to_add_l_t(9.0, 13.0))
    assert (90 + kept) / (1000 + kept) == pytest.approx(0.13)
    assert float(moisture_after(9.0, kept)) == pytest.approx(13.0)
    assert float(moisture_after(9.0, 0.0)) == pytest.approx(9.0)
    assert float(water_to_add_l_t(15.0, 13.0)) < 0


def test_what_the_rig_cannot_give_less_than():
    """At 12.5 % little is needed: the rig's least is put on, and the hay is then wetter."""
    applied, needed, after = one(12.5)
    assert needed == pytest.approx(1000 * 0.5 / 87 / 0.8)
    assert applied == RIG.rate_min_l_t > needed
    assert after == pytest.approx(float(moisture_after(12.5, 8.0)))
    assert 13.0 < after < 16.0


def test_what_the_rig_cannot_give_more_than():
    """At 6.4 % the target is out of reach, the bottom of the band is not."""
    applied, needed, after = one(6.4)
    assert needed > applied == RIG.rate_max_l_t
    assert 12.0 < after < 13.0


def test_beyond_reach_and_no_room_give_nothing_but_say_what_was_needed():
    applied, needed, after = one(4.0)
    assert np.isnan(applied)
    assert np.isnan(after)
    assert needed > RIG.rate_max_l_t
    applied, needed, after = one(15.9)
    assert np.isnan(applied)
    assert needed == 0.0


def test_the_rig_helps_up_to_the_very_limits():
    """From the bottom reached with the most, to the top reached with the least."""
    driest = (LOW * (1000 + 64) - 64 * 100) / 1000  # 80 L/t at 80 %
    wettest = (HIGH * (1000 + 8) - 8 * 100) / 1000  # 10 L/t at 80 %
    assert one(driest)[2] == pytest.approx(LOW)
    assert one(wettest)[2] == pytest.approx(HIGH)
    assert np.isnan(one(driest - 1e-3)[2])
    assert np.isnan(one(wettest + 1e-3)[2])


def test_a_rig_that_goes_down_to_zero_never_helps_with_nothing():
    from_zero = replace(RIG, rate_min_l_t=0.0)
    assert np.isnan(one(13.5, from_zero)[0])
    assert one(12.9, from_zero)[0] > 0


def test_unknown_moisture_gives_unknown_water():
    assert all(np.isnan(value) for value in one(np.nan))


def test_rows_are_cut_alike():
    whole = dose_of(np.arange(5.0, 15.0))
    part = whole.rows(slice(0, 1))
    for name in ("applied_l_t", "needed_l_t", "after_wb"):
        np.testing.assert_array_equal(getattr(part, name), getattr(whole, name))


def test_target_is_the_rigs_or_one_point_above_the_bottom():
    assert target_of(RIG, 12.0) == 13.0
    assert target_of(replace(RIG, target_wb=14.5), 12.0) == 14.5


def test_half_the_efficiency_needs_twice_the_water():
    """At 50 % twice what stays in the hay leaves the nozzles."""
    applied, needed, after = one(11.0, replace(RIG, efficiency=0.5))
    assert applied == needed == pytest.approx(2 * 1000 * 2 / 87)
    assert after == pytest.approx(13.0)


def test_less_than_a_liter_a_tonne_is_still_water():
    """0.05 points under the target: 1000 x 0.05 / (100 - 13) = 0.575 L/t at 80 % is 0.718."""
    from_zero = replace(RIG, rate_min_l_t=0.0, efficiency=0.8)
    applied, needed, after = one(12.95, from_zero, target=13.0)
    assert applied == pytest.approx(1000 * 0.05 / 87 / 0.8, rel=1e-9)
    assert needed == applied
    assert after == pytest.approx(13.0)


def test_the_least_water_that_softens_enough_of_the_leaf():
    """The leaf takes eight tenths of it: no more than brings it over its least."""
    found = dose_of([8.0], leaf_minimum=16.0, target=8.5, low=5.0)
    rate = float(found.applied_l_t[0, 0])
    assert rate > 1000 * 0.5 / 91.5 / RIG.efficiency
    before = dry_basis(8.0)
    leaf = before + rate * RIG.efficiency / 1000 / 0.92 * Landing.of(RIG).leaf / 0.47
    assert float(wet_basis(leaf)) == pytest.approx(16.0, abs=0.15)
    assert float(wet_basis(leaf)) >= 16.0 - 1e-4


def test_all_the_water_of_a_rig_is_in_the_hay():
    dry = hay(7.0, 7.0, 7.0).every_layer.quarters()
    for top_share in (0.0, 0.3, 0.5, 1.0):
        wet = sprayed(dry, np.full((4, 1), 0.05), Landing(0.8, top_share))
        gained = np.tensordot(wet.of_kind("windrow") - dry.of_kind("windrow"), wet.shares, (1, 0))
        np.testing.assert_allclose(gained, 0.05, atol=1e-7)
