"""Published forms that the model does not use, to set beside it."""

import numpy as np

from hayweather.windrow.vapor import (
    AIR_HEAT_CAPACITY_J_KG_K,
    KELVIN,
    VAPOR_RATIO,
    latent_heat,
    saturation_vapor_pressure,
    slope_of,
)

HOUR_S = 3600


def brunt_emissivity(temperature_c, vapor_pressure_kpa):
    """Clear-sky emissivity, Brunt 1932 (coefficients from memory)."""
    return 0.52 + 0.065 * np.sqrt(10 * vapor_pressure_kpa) + 0 * temperature_c


def brutsaert_emissivity(temperature_c, vapor_pressure_kpa):
    """Clear-sky emissivity, Brutsaert 1975 (coefficients from memory)."""
    return 1.24 * (10 * vapor_pressure_kpa / (temperature_c + KELVIN)) ** (1 / 7)


def condensation_ceiling(temperature_c, pressure_kpa, net_radiation_w_m2):
    """Most dew of an hour [mm] for an isothermal net loss [W/m2], Garratt & Segal 1988."""
    heat = latent_heat(temperature_c)
    gamma = AIR_HEAT_CAPACITY_J_KG_K * pressure_kpa / (VAPOR_RATIO * heat)
    slope = slope_of(temperature_c, saturation_vapor_pressure(temperature_c))
    return slope / (slope + gamma) * net_radiation_w_m2 / heat * HOUR_S
