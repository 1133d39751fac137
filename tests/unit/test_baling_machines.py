"""Capacity, ground speed and application efficiency.

Capacity: University of Kentucky AEN-73, published. Kinds of baler: ASABE D497,
from memory. Application efficiency is assumed; the tests hold its form.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.fields import BALER, CURED, RIG, calls_of, hay, setting_of
from support.nights import HIGH_PLACE, hourly

from hayweather.baling.calls import Call
from hayweather.baling.machines import (
    LEAST_EFFICIENCY,
    application_efficiency,
    field_efficiency,
    mass_along_kg_m,
    quarter_air,
    speed_for_m_s,
    speed_limits,
)
from hayweather.baling.water import Limits, dose, water_to_add_l_t
from hayweather.catalog import kind_of
from hayweather.units import ACRE_M2, FOOT_M, GALLON_L, MPH_M_S, SHORT_TON_KG
from hayweather.windrow.vapor import saturation_vapor_pressure

YIELD_KG_M2 = 1.5 * SHORT_TON_KG / ACRE_M2


def test_speed_that_a_baler_of_twenty_tons_allows():
    """20 ton/h at 1.5 ton/acre and 30 ft: 3.667 mph (calculated)."""
    field = replace(CURED, yield_kg_m2=YIELD_KG_M2, swath_width_m=15 * FOOT_M, swaths_per_windrow=2)
    along = mass_along_kg_m(field, 12.0)
    speed = speed_for_m_s(20 * SHORT_TON_KG, along)
    assert speed / MPH_M_S == pytest.approx(3.667, abs=0.001)


@pytest.mark.parametrize(
    ("kind", "efficiency", "low", "high"),
    [("large-square", 80, 4, 8), ("small-square", 75, 2.5, 6), ("round", 65, 3, 8)],
)
def test_kinds_of_baler(kind, efficiency, low, high):
    """ASABE D497, from memory: typical field efficiency %, speeds mph."""
    pace = kind_of(kind).pace
    assert pace.field_efficiency == pytest.approx(efficiency / 100)
    assert pace.slow_m_s / MPH_M_S == pytest.approx(low)
    assert pace.fast_m_s / MPH_M_S == pytest.approx(high)
    assert field_efficiency(replace(BALER, kind=kind)) == pace.field_efficiency
    assert field_efficiency(replace(BALER, kind=kind, field_efficiency=0.6)) == 0.6


def test_mass_along_the_windrow():
    """From yield and width, else from the windrow's dry matter and width, else not known."""
    known = replace(CURED, yield_kg_m2=0.3, swath_width_m=5.0, swaths_per_windrow=2)
    assert mass_along_kg_m(known, 12.0) == pytest.approx(3.0)
    by_mass = replace(CURED, yield_kg_m2=None, windrow_mass_kg_m2=1.8, windrow_width_m=1.5)
    assert mass_along_kg_m(by_mass, 10.0) == pytest.approx(3.0)
    assert mass_along_kg_m(replace(known, swath_width_m=None), 12.0) is None


def test_both_machines_keep_their_speeds():
    slow = replace(BALER, speed_min_m_s=1.0, speed_max_m_s=3.0)
    rig = replace(RIG, speed_min_m_s=1.5, speed_max_m_s=2.5)
    alone, both = speed_limits(slow, None), speed_limits(slow, rig)
    assert (alone.slowest_m_s, alone.fastest_m_s) == (1.0, 3.0)
    assert (both.slowest_m_s, both.fastest_m_s) == (1.5, 2.5)
    assert speed_limits(BALER, RIG).fastest_m_s == pytest.approx(8 * MPH_M_S)
    creeping = speed_limits(replace(BALER, speed_max_m_s=0.4), None)
    assert creeping.slowest_m_s == creeping.fastest_m_s == 0.4


AIR = st.floats(0.0, 8.0)
WIND = st.floats(0.0, 15.0)


@given(AIR, WIND, st.floats(0, 60), st.floats(0.2, 1.0), st.floats(0.01, 3.0))
def test_efficiency_falls_with_dry_air_wind_and_lag(deficit, wind, lag, own, more):
    rig = replace(RIG, efficiency=own, lag_minutes=lag)
    found = float(application_efficiency(rig, deficit, wind))
    assert min(LEAST_EFFICIENCY, own) <= found <= own
    assert application_efficiency(rig, deficit + more, wind) <= found
    assert application_efficiency(rig, deficit, wind + more) <= found
    assert application_efficiency(replace(rig, lag_minutes=lag + more), deficit, wind) <= found


def test_efficiency_by_hand():
    """0.8 - 0.1 (2.5 - 1) - 0.03 (4 - 2) - 0.01 (9 - 5) 2.5 = 0.49."""
    rig = replace(RIG, lag_minutes=9.0)
    assert float(application_efficiency(rig, 2.5, 4.0)) == pytest.approx(0.49)
    assert float(application_efficiency(rig, 1.0, 2.0)) == pytest.approx(0.76)  # lag alone
    assert float(application_efficiency(RIG, 0.9, 1.9)) == RIG.efficiency
    assert np.isnan(application_efficiency(RIG, np.nan, 1.0))


def test_air_of_the_quarters():
    weather = hourly(2, air_temperature_c=[20.0, 12.0], dew_point_c=5.0, wind_speed_m_s=[1.0, 3.0])
    deficit, wind = quarter_air(weather, HIGH_PLACE)
    assert deficit.shape == wind.shape == (8, 1)
    expected = saturation_vapor_pressure(19.0) - saturation_vapor_pressure(5.0)
    assert deficit[0, 0] == pytest.approx(expected)
    assert wind[:, 0] == pytest.approx([1.25, 1.75, 2.25, 2.75, 3, 3, 3, 3])
    damper, _ = quarter_air(weather, replace(HIGH_PLACE, dew_point_offset_k=2.0))
    assert (damper < deficit).all()


def test_dose_with_the_efficiency_of_each_quarter():
    """10 to 14 % at 80 % needs 13.93 gal/ton (calculated); at 40 % twice that."""
    gallons = SHORT_TON_KG / 1000 / GALLON_L
    lying = hay(10.0, 10.0, lanes=2).every_layer.cut(slice(0, 1), slice(None))
    limits = Limits(12.0, 18.0, 14.0, 20.0, None, 0.6, 0.3)
    stays, windrow = np.array([[0.8, 0.6]]), np.full((1, 2), 10.0)
    found = dose(lying, windrow, windrow < 12, RIG, limits, stays)
    assert found.applied_l_t[0, 0] * gallons == pytest.approx(13.93, abs=0.01)
    assert found.applied_l_t[0, 1] == pytest.approx(found.applied_l_t[0, 0] * 0.8 / 0.6)
    assert found.after_wb == pytest.approx(np.array([[14.0, 14.0]]))
    assert found.rows(slice(0, 1)).efficiency.tolist() == stays.tolist()


def test_dry_windy_air_asks_for_more_water_and_may_be_beyond_the_rig():
    quiet = calls_of(hay(9.0), dew_point_c=16.0, wind_speed_m_s=1.0)
    windy = calls_of(hay(9.0), air_temperature_c=30.0, dew_point_c=0.0, wind_speed_m_s=5.0)
    needed = float(water_to_add_l_t(9.0, setting_of().target_wb))
    assert quiet.dose.needed_l_t == pytest.approx(needed / 0.8)
    assert (windy.dose.needed_l_t > 1.5 * quiet.dose.needed_l_t).all()
    assert (quiet.call == Call.ADD_MOISTURE).all()
    beyond = calls_of(hay(6.0), air_temperature_c=34.0, dew_point_c=0.0, wind_speed_m_s=6.0)
    assert (beyond.call == Call.TOO_DRY).all()
