"""From cutting to cured; the rate itself is checked in tests/published."""

import numpy as np
import pytest
from support.nights import HIGH_PLACE, hourly

from hayweather.windrow.column import organ_mass
from hayweather.windrow.drying import (
    CUT_MOISTURE_DB,
    HAND_OVER_DB,
    dry_down,
    drying_rate,
    hand_over,
    hand_over_state,
)
from hayweather.windrow.forcing import prepare
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.sorption import wet_basis

SUNNY = np.where((np.arange(96) % 24 >= 13) | (np.arange(96) % 24 < 2), 600.0, 0.0)
DENSITY_G_M2 = 450.0


def summer(**changed):
    named = {"air_temperature_c": 28.0, "dew_point_c": 8.0, "shortwave_w_m2": SUNNY, **changed}
    return prepare(hourly(96, **named), HIGH_PLACE)


def test_cut_hay_cures_within_days_of_summer():
    moisture = dry_down(summer(), 0, DENSITY_G_M2)
    assert moisture[0, 0] == CUT_MOISTURE_DB
    assert (np.diff(moisture, axis=0) <= 0).all()
    assert 18 <= hand_over(moisture) <= 72


def test_before_the_cutting_nothing_is_known():
    moisture = dry_down(summer(), 10, DENSITY_G_M2)
    assert np.isnan(moisture[:10]).all()
    assert moisture[10, 0] == CUT_MOISTURE_DB


def test_rain_and_a_heavier_swath_hold_it_back():
    plain = dry_down(summer(), 0, DENSITY_G_M2)[-1]
    rained = dry_down(summer(rain_mm=np.where(np.arange(96) < 24, 0.5, 0.0)), 0, DENSITY_G_M2)
    assert (rained[24] == CUT_MOISTURE_DB).all()
    assert rained[-1] > plain
    assert dry_down(summer(), 0, 2 * DENSITY_G_M2)[-1] > plain


def test_a_missing_value_is_unknown_from_there_on():
    air = np.full(96, 28.0)
    air[20] = np.nan
    moisture = dry_down(summer(air_temperature_c=air), 0, DENSITY_G_M2)
    assert np.isfinite(moisture[:19]).all()
    assert np.isnan(moisture[21:]).all()


def test_first_day_dries_faster_and_sun_and_dry_air_help():
    rate = drying_rate(500.0, 2.0, DENSITY_G_M2, first_day=True)
    assert rate > drying_rate(500.0, 2.0, DENSITY_G_M2, first_day=False)
    assert rate > drying_rate(100.0, 2.0, DENSITY_G_M2, first_day=True)
    assert rate > drying_rate(500.0, 0.5, DENSITY_G_M2, first_day=True)


def test_never_cured_is_none():
    cold = summer(shortwave_w_m2=0.0, air_temperature_c=5.0, dew_point_c=5.0)
    assert hand_over(dry_down(cold, 0, DENSITY_G_M2)) is None


def test_windrow_takes_over_at_twenty_percent():
    windrow = WindrowParameters()
    state = hand_over_state(summer(), 40, windrow)
    whole = state.water(organ_mass(windrow)) / windrow.dry_matter_kg_m2
    assert whole == pytest.approx(HAND_OVER_DB)
    assert wet_basis(whole) == pytest.approx(20.0)
    assert (state.moisture_db[1] > state.moisture_db[0]).all()
