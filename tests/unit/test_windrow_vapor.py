"""Air relations at their edges; their values are checked in tests/published."""

import numpy as np
import pytest

from hayweather.windrow import vapor

GRID_C = np.linspace(-30, 50, 81)


def test_dew_point_turns_saturation_round():
    saturated = vapor.saturation_vapor_pressure(GRID_C)
    np.testing.assert_allclose(vapor.dew_point(saturated), GRID_C, atol=1e-9)


def test_slope_is_the_slope():
    step = 1e-4
    rise = vapor.saturation_vapor_pressure(GRID_C + step) - vapor.saturation_vapor_pressure(
        GRID_C - step
    )
    slope = vapor.slope_of(GRID_C, vapor.saturation_vapor_pressure(GRID_C))
    np.testing.assert_allclose(slope, rise / (2 * step), rtol=1e-4)


def test_ice_and_water_meet_at_freezing_and_ice_is_lower_below():
    frozen = GRID_C[GRID_C < 0]
    ice, water = (
        vapor.saturation_vapor_pressure_ice(frozen),
        vapor.saturation_vapor_pressure(frozen),
    )
    assert (ice < water).all()
    both = vapor.saturation_vapor_pressure_ice(0.0), vapor.saturation_vapor_pressure(0.0)
    assert both[0] == pytest.approx(both[1])


def test_wind_at_two_meters_is_left_alone_and_falls_toward_the_ground():
    assert vapor.wind_at_two_meters(3.0, 2.0) == 3.0
    assert vapor.wind_at_two_meters(3.0, 10.0) == pytest.approx(2.244, abs=0.001)  # FAO-56 Eq 47
    assert vapor.wind_at_two_meters(0.0, 10.0) == 0.0


def test_thinner_air_holds_less_mass_but_the_same_vapor_per_pressure():
    low, high = vapor.air_density(15.0, 101.3), vapor.air_density(15.0, 81.8)
    assert high / low == pytest.approx(81.8 / 101.3)
    assert vapor.vapor_coefficient(15.0, 101.3) == pytest.approx(
        vapor.vapor_coefficient(15.0, 81.8)
    )


@pytest.mark.parametrize(
    "function",
    [
        vapor.saturation_vapor_pressure,
        vapor.dew_point,
        vapor.standard_pressure,
        vapor.latent_heat,
    ],
)
def test_unknown_stays_unknown(function):
    assert np.isnan(function(np.array([np.nan]))).all()
