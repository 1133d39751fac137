"""Published forms that the model does not use, to set beside it."""

import numpy as np

from hayweather.windrow.vapor import (
    AIR_HEAT_CAPACITY_J_KG_K,
    KELVIN,
    VAPOR_RATIO,
    latent_heat,
    saturation_slope,
)

HOUR_S = 3600


def brunt_emissivity(temperature_c, vapor_pressure_kpa):
    """Clear-sky emissivity, Brunt 1932 (coefficients from memory)."""
    return 0.52 + 0.065 * np.sqrt(10 * vapor_pressure_kpa) + 0 * temperature_c


def brutsaert_emissivity(temperature_c, vapor_pressure_kpa):
    """Clear-sky emissivity, Brutsaert 1975 (coefficients from memory)."""
    return 1.24 * (10 * vapor_pressure_kpa / (temperature_c + KELVIN)) ** (1 / 7)


def dilley_longwave(temperature_c, vapor_pressure_kpa):
    """Longwave of a clear sky [W/m2], Dilley & O'Brien 1998 (coefficients from memory)."""
    kelvin = temperature_c + KELVIN
    water = 4650 * vapor_pressure_kpa / kelvin  # precipitable water, kg/m2
    return 59.38 + 113.7 * (kelvin / 273.16) ** 6 + 96.96 * np.sqrt(water / 25)


def condensation_ceiling(temperature_c, pressure_kpa, net_radiation_w_m2):
    """Most dew of an hour [mm] for an isothermal net loss [W/m2], Garratt & Segal 1988."""
    heat = latent_heat(temperature_c)
    gamma = AIR_HEAT_CAPACITY_J_KG_K * pressure_kpa / (VAPOR_RATIO * heat)
    slope = saturation_slope(temperature_c)
    return slope / (slope + gamma) * net_radiation_w_m2 / heat * HOUR_S


def usda_rewetting_wb(moisture_wb, humidity_percent, wind_m_s, density_g_m2, hours):
    """Moisture [% wb] after a night, USDA-ARS farm-model manual, Rotz et al. 2014."""
    dryness = 1 - humidity_percent / 100
    equilibrium = 0.4 + 3.6 * np.exp(-0.2 * wind_m_s) * np.exp(-2.5 * dryness)
    start = moisture_wb / (100 - moisture_wb)
    end = equilibrium + (start - equilibrium) * np.exp(-4 * hours / density_g_m2)
    return 100 * end / (1 + end)
