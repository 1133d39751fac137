"""The skin's balance: Richardson number by hand, slopes beside numerical derivatives."""

from dataclasses import replace

import numpy as np
import pytest

from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import (
    Air,
    TopAir,
    air_resistance,
    net_radiation,
    newton_pass,
    top_vapor_pressure,
)
from hayweather.windrow.sky import sky_longwave
from hayweather.windrow.vapor import AIR_HEAT_CAPACITY_J_KG_K, saturation_vapor_pressure

WINDROW = WindrowParameters(conduction_w_m2_k=7.0)
STEP_K = 1e-4


def lane(value: float) -> np.ndarray:
    return np.array([float(value)])


def air_of(temperature_c=17.0, dew_point_c=5.0, wind_m_s=3.0, sun_w_m2=0.0) -> Air:
    """One lane of clear air at 100 kPa."""
    air, vapor = lane(temperature_c), saturation_vapor_pressure(lane(dew_point_c))
    sky = sky_longwave(air, vapor, 0.0)
    return Air.of(air, vapor, lane(wind_m_s), lane(100.0), sky, lane(sun_w_m2), np.zeros(1))


def top_of(uptake=0.0, release=0.0, inflow=0.0, outflow=0.0, wet=False) -> TopAir:
    return TopAir(lane(inflow), lane(outflow), lane(uptake), lane(release), np.array([wet]))


@pytest.mark.parametrize("wind_m_s", [2.0, 3.0])
def test_resistance_by_hand(wind_m_s):
    # Ri = g z (Ta - Ts) / (T u^2) with g 9.81 m/s2, z 1.8 m, T 290.15 K; (1 - Ri/0.2)^-2.
    richardson = 9.81 * 1.8 * 0.5 / (290.15 * wind_m_s**2)
    by_hand = WINDROW.air_resistance_s / wind_m_s * (1 - richardson / 0.2) ** -2
    found, falls = air_resistance(air_of(wind_m_s=wind_m_s), lane(16.5), WINDROW)
    assert found == pytest.approx(by_hand, rel=1e-12)
    steepness = 2 / 0.2 / (1 - richardson / 0.2)
    assert falls == pytest.approx(steepness * 9.81 * 1.8 / (290.15 * wind_m_s**2), rel=1e-12)


@pytest.mark.parametrize("skin_c", [16.0, 19.0, 30.0])
def test_fall_of_the_resistance_is_its_derivative(skin_c):
    air = air_of()
    ends = [air_resistance(air, lane(skin_c + d), WINDROW)[0].item() for d in (-STEP_K, STEP_K)]
    slope = (np.log(ends[0]) - np.log(ends[1])) / (2 * STEP_K)
    assert air_resistance(air, lane(skin_c), WINDROW)[1] == pytest.approx(slope, rel=1e-6)


def test_a_resistance_at_its_ceiling_does_not_fall():
    low = replace(WINDROW, air_resistance_max_s_m=40.0)
    found, falls = air_resistance(air_of(), lane(16.0), low)
    assert (found.item(), falls.item()) == (40.0, 0.0)


def test_slope_of_the_vapor_of_a_dry_top_is_its_derivative():
    air, tie = air_of(), top_of(uptake=3e-4, release=5e-5, inflow=2e-5, outflow=1e-4)
    conductance = lane(4e-4)

    def vapor(skin_c):
        over_water = saturation_vapor_pressure(lane(skin_c))
        return top_vapor_pressure(air, tie, lane(skin_c), over_water, conductance)

    ends = [vapor(15.0 + d)[0].item() for d in (-STEP_K, STEP_K)]
    value, slope = vapor(15.0)
    assert value < saturation_vapor_pressure(lane(15.0))
    assert slope == pytest.approx((ends[1] - ends[0]) / (2 * STEP_K), rel=1e-4)
    supply = 4e-4 * air.vapor_pressure_kpa + 5e-5 + 2e-5
    demand = 4e-4 + 1e-4 + 3e-4 / saturation_vapor_pressure(lane(15.0))
    assert value == pytest.approx(supply / demand, rel=1e-12)


def excess(air: Air, tie: TopAir, skin_c: float, inside_c: float) -> float:
    """What a wet top gains at a skin temperature [W/m2], written out."""
    skin = lane(skin_c)
    resistance, _ = air_resistance(air, skin, WINDROW)
    vapor = saturation_vapor_pressure(skin)
    from_air = air.vapor_coefficient / resistance * (air.vapor_pressure_kpa - vapor)
    to_air = air.density_kg_m3 * AIR_HEAT_CAPACITY_J_KG_K / resistance * (skin - air.temperature_c)
    vapor_heat = air.latent_heat_j_kg * (from_air + tie.inflow - tie.outflow * vapor)
    conducted = WINDROW.conduction_w_m2_k * (inside_c - skin)
    return (net_radiation(air, skin, WINDROW) + conducted + vapor_heat - to_air).item()


@pytest.mark.parametrize(("outflow", "inside_c"), [(0.0, 20.0), (4e-5, 26.0)])
def test_a_pass_on_a_wet_top_in_the_sun_is_newtons(outflow, inside_c):
    # There every term of the slope counts, and nothing is left out of it.
    air, tie = air_of(sun_w_m2=500.0), top_of(outflow=outflow, inflow=2e-5, wet=True)
    skin_c = 21.0
    ends = [excess(air, tie, skin_c + d, inside_c) for d in (-STEP_K, STEP_K)]
    slope = (ends[0] - ends[1]) / (2 * STEP_K)
    expected = skin_c + excess(air, tie, skin_c, inside_c) / slope
    found = newton_pass(air, tie, lane(skin_c), lane(inside_c), WINDROW).item()
    assert abs(expected - skin_c) > 0.05
    assert found - skin_c == pytest.approx(expected - skin_c, rel=1e-4)


@pytest.mark.parametrize(("guess_c", "moved_k"), [(60.0, -6.0), (-30.0, 6.0)])
def test_a_pass_moves_the_skin_by_six_kelvin_at_most(guess_c, moved_k):
    found = newton_pass(air_of(), top_of(), lane(guess_c), lane(17.0), WINDROW).item()
    assert found - guess_c == pytest.approx(moved_k)
