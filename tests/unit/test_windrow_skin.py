"""Energy balance of the skin: it closes, in every regime, and moves the right way."""

from dataclasses import replace

import numpy as np
import pytest

from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air, TopAir, air_resistance, solve_skin, stability_factor
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4, sky_longwave
from hayweather.windrow.vapor import AIR_HEAT_CAPACITY_J_KG_K, KELVIN, saturation_vapor_pressure

WINDROW = WindrowParameters()


def air_of(temperature_c=15.0, dew_point_c=5.0, wind_m_s=2.0, sun_w_m2=0.0, cloud=0.0) -> Air:
    """One lane of air at 100 kPa."""
    air = np.array([float(temperature_c)])
    vapor = saturation_vapor_pressure(np.array([float(dew_point_c)]))
    sky = sky_longwave(air, vapor, cloud)
    rest = [np.array([float(value)]) for value in (wind_m_s, 100.0)]
    return Air.of(air, vapor, *rest, sky, np.array([float(sun_w_m2)]), np.zeros(1))


def top(wet=False) -> TopAir:
    """A top layer that neither takes up nor passes on vapor."""
    zero = np.zeros(1)
    return TopAir(zero, zero, zero, zero, np.array([wet]))


def solve(air: Air, wet=False, passes=3, windrow=WINDROW, guess_c=None) -> float:
    """Skin temperature [C], the interior at air temperature."""
    first = air.temperature_c if guess_c is None else np.array([guess_c])
    return float(
        solve_skin(air, top(wet), first, air.temperature_c, windrow, passes).temperature_c[0]
    )


def imbalance(air: Air, skin_c: float, wet: bool) -> float:
    """What is left of the balance at a skin temperature [W/m2]."""
    skin = np.array([skin_c])
    resistance, _ = air_resistance(air, skin, WINDROW)
    longwave = WINDROW.emissivity * WINDROW.sky_view
    net = longwave * (air.longwave_w_m2 - STEFAN_BOLTZMANN_W_M2_K4 * (skin + KELVIN) ** 4)
    net += (1 - WINDROW.albedo) * air.shortwave_w_m2
    net += WINDROW.conduction_w_m2_k * (air.temperature_c - skin)
    heat = air.density_kg_m3 * AIR_HEAT_CAPACITY_J_KG_K / resistance * (skin - air.temperature_c)
    surface = saturation_vapor_pressure(skin)
    wets = wet or surface < air.vapor_pressure_kpa
    flux = air.vapor_coefficient / resistance * (air.vapor_pressure_kpa - surface) if wets else 0.0
    return float((net - heat + air.latent_heat_j_kg * flux).item())


@pytest.mark.parametrize(
    ("temperature_c", "dew_point_c", "wind_m_s", "sun_w_m2", "wet"),
    [
        (15, 5, 2.0, 0, False),
        (15, -5, 0.3, 0, False),
        (12, 11.5, 1.0, 0, False),
        (12, 11.5, 1.0, 0, True),
        (30, 5, 3.0, 800, False),
        (30, 5, 0.5, 800, False),
        (25, 15, 4.0, 500, True),
    ],
)
def test_balance_closes(temperature_c, dew_point_c, wind_m_s, sun_w_m2, wet):
    air = air_of(temperature_c, dew_point_c, wind_m_s, sun_w_m2)
    skin = solve(air, wet, passes=30)
    assert imbalance(air, skin, wet) == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize(
    ("temperature_c", "dew_point_c", "wind_m_s", "sun_w_m2"),
    [(18.9, 11.0, 0.5, 329.0), (20.0, 10.0, 1.0, 400.0), (10.0, 2.0, 0.5, 200.0)],
)
def test_balance_closes_on_a_wet_skin_in_calm_sun(temperature_c, dew_point_c, wind_m_s, sun_w_m2):
    air = air_of(temperature_c, dew_point_c, wind_m_s, sun_w_m2, cloud=0.3)
    skin = solve(air, wet=True, passes=30)
    assert imbalance(air, skin, wet=True) == pytest.approx(0.0, abs=0.5)


def test_three_passes_do_from_the_step_before():
    air = air_of(12.0, 8.0, 1.0)
    settled = solve(air, passes=40)
    assert solve(air, guess_c=settled + 0.3) == pytest.approx(settled, abs=0.02)


def test_skin_is_colder_by_night_and_warmer_in_the_sun():
    assert solve(air_of(sun_w_m2=0.0), passes=20) < 15.0
    assert solve(air_of(sun_w_m2=600.0), passes=20) > 15.0


@pytest.mark.parametrize(
    ("less", "more"),
    [({"wind_m_s": 1.0}, {"wind_m_s": 4.0}), ({"cloud": 0.0}, {"cloud": 1.0})],
)
def test_wind_and_cloud_keep_the_skin_near_the_air(less, more):
    assert solve(air_of(**less), passes=20) < solve(air_of(**more), passes=20) < 15.0


def test_a_wet_skin_in_dry_air_is_colder():
    air = air_of(20.0, 0.0, 3.0)
    assert solve(air, wet=True, passes=20) < solve(air, wet=False, passes=20)


def test_dew_warms_the_skin():
    dry, damp = air_of(10.0, -10.0, 1.0), air_of(10.0, 9.5, 1.0)
    damp = replace(damp, longwave_w_m2=dry.longwave_w_m2)
    assert solve(damp, passes=20) > solve(dry, passes=20) + 1.0


def test_stability_factor_regimes():
    factor, steepness = stability_factor(np.array([0.0, 0.04, 0.15, -0.1]), 2.0)
    assert factor[0] == pytest.approx(1.0)
    assert factor[1] == pytest.approx(0.8**-2)
    assert factor[2] == 2.0
    assert factor[3] == pytest.approx(2.6**-0.5)
    assert steepness[2] == 0.0  # at the cap nothing changes


@pytest.mark.parametrize("richardson", [0.03, -0.05, -2.0])
def test_steepness_is_the_slope_of_the_factor(richardson):
    step = 1e-6
    ends, _ = stability_factor(np.array([richardson - step, richardson + step]), 2.0)
    _, steepness = stability_factor(np.array([richardson]), 2.0)
    assert steepness[0] == pytest.approx(np.log(ends[1] / ends[0]) / (2 * step), rel=1e-5)


def test_air_resistance_has_its_floor_of_wind_and_its_ceiling():
    skin = np.array([15.0])
    calm, half = (air_resistance(air_of(wind_m_s=u), skin, WINDROW)[0] for u in (0.0, 0.5))
    assert calm == half == pytest.approx(143 / 0.5)
    open_ended = replace(WINDROW, air_resistance_max_s_m=1e9)
    cold = np.array([5.0])
    assert air_resistance(air_of(wind_m_s=0.5), cold, WINDROW)[0] == 300.0
    assert air_resistance(air_of(wind_m_s=0.5), cold, open_ended)[0] == pytest.approx(572.0)
