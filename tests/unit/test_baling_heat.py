"""Burner, water flow and temperature: one energy balance.

137,381 Btu a gallon of diesel: US EIA, published. The rest is calculated.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.fields import RIG

from hayweather.baling.water import (
    DIESEL_J_L,
    WATER_J_KG_K,
    burner_fuel_l,
    fuel_for_water_l,
    full_burners_c,
    hottest_c,
    rise_from_fuel_k,
)
from hayweather.units import GALLON_L

FAHRENHEIT_K = 1 / 1.8
HEATED = replace(RIG, heated=True, water_in_c=15.6)


def test_sixty_to_a_hundred_and_eighty():
    """93.02 lb of water, 60 to 180 F at 80 %: 0.1016 gal of diesel (calculated)."""
    water_l = 93.02 / 8.345 * GALLON_L
    fuel = fuel_for_water_l(water_l, 120 * FAHRENHEIT_K, 0.8)
    assert fuel / GALLON_L == pytest.approx(0.1016, abs=0.00005)


def test_the_balance_of_burner_flow_and_temperature():
    """8 gal/h of diesel at 80 % heats 555 gal/h by 190 F, to 1 % (calculated)."""
    rise = rise_from_fuel_k(8 * GALLON_L, 555 * GALLON_L, 0.8)
    assert rise / FAHRENHEIT_K == pytest.approx(190, rel=0.01)


def test_constants_in_si():
    """Diesel near 38.3 MJ/L, water 4,187 J/kg/K (from memory)."""
    assert pytest.approx(38.3e6, rel=0.003) == DIESEL_J_L
    assert pytest.approx(4187, rel=0.001) == WATER_J_KG_K


@given(
    st.floats(0.5, 60.0), st.floats(60.0, 6000.0), st.floats(0.3, 1.0)
)  # fuel L/h, water L/h, efficiency
def test_the_balance_closes_both_ways(fuel, water, efficiency):
    rise = rise_from_fuel_k(fuel, water, efficiency)
    assert fuel_for_water_l(water, rise, efficiency) == pytest.approx(fuel, rel=1e-9)


@given(st.floats(1.0, 200.0), st.floats(1.0, 100.0), st.floats(20.0, 150.0))
def test_fuel_of_a_rig_closes_with_the_temperature_it_reaches(flow, rate, wanted):
    """To 1 %, whichever of burner and temperature is the limit."""
    rig = replace(HEATED, fuel_rate_l_h=rate, water_out_c=wanted)
    fuel = burner_fuel_l(rig, 60 * flow, 1.0)
    reached = min(full_burners_c(rig, flow), hottest_c(rig))
    rise = rise_from_fuel_k(fuel, 60 * flow, rig.burner_efficiency)
    assert rig.water_in_c + rise == pytest.approx(reached, rel=0.01)
    assert fuel <= rate + 1e-9


def test_what_is_known_of_the_burners():
    assert burner_fuel_l(RIG, 1000.0, 1.0) == 0.0
    assert burner_fuel_l(HEATED, 1000.0, 1.0) is None
    assert burner_fuel_l(replace(HEATED, fuel_rate_l_h=20.0), 1000.0, 0.4) == pytest.approx(8.0)
    assert burner_fuel_l(replace(HEATED, water_out_c=10.0), 1000.0, 1.0) == 0.0
    assert full_burners_c(RIG, 30.0) is None
    assert full_burners_c(HEATED, 30.0) is None
    assert full_burners_c(replace(HEATED, water_out_c=80.0), 30.0) == 80.0
    assert full_burners_c(replace(HEATED, fuel_rate_l_h=20.0), 0.0) is None


def test_burners_never_burn_for_more_than_the_water_may_have():
    """5.31 gal/h into 3.2 gal/min of 60 F at 80 %: 424 F by hand, above 250 F (assumed)."""
    rig = replace(HEATED, fuel_rate_l_h=5.31 * GALLON_L, water_in_c=60 * FAHRENHEIT_K - 160 / 9)
    flow = 3.2 * GALLON_L
    by_hand_f = 60 + 5.31 * 137_381 * 0.8 / (60 * 3.2 * 8.345)
    assert by_hand_f == pytest.approx(424, abs=0.5)
    assert full_burners_c(rig, flow) * 1.8 + 32 == pytest.approx(by_hand_f, rel=1e-3)
    assert hottest_c(rig) * 1.8 + 32 == pytest.approx(250)
    part = (250 - 60) / (by_hand_f - 60)
    burned = burner_fuel_l(rig, 60 * flow, 1.0)
    assert burned == pytest.approx(part * rig.fuel_rate_l_h, rel=1e-3)
    own = replace(rig, water_out_c=80.0)
    assert burner_fuel_l(own, 60 * flow, 1.0) < burned
