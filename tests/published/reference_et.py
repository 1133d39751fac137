"""Reference evapotranspiration, to check our air and sky against published tables.

ASCE-EWRI 2005 (standardized form), hourly; built from the
windrow's own vapor and sky. Energy in MJ/m2 per hour, water in mm per hour. No
wind floor. Not used by the windrow model.
"""

from dataclasses import dataclass

import numpy as np

from hayweather.windrow.sky import clear_sky_shortwave, extraterrestrial_shortwave, sun_elevation
from hayweather.windrow.vapor import (
    saturation_vapor_pressure,
    slope_of,
    standard_pressure,
    wind_at_two_meters,
)

MJ_PER_W_HOUR = 0.0036
STEFAN_BOLTZMANN_MJ = 2.042e-10  # per hour, as in both publications
KELVIN = 273.16  # as in both publications
ALBEDO = 0.23
LOW_SUN_RAD = 0.3


@dataclass(frozen=True)
class Surface:
    """A reference surface: coefficients of ASCE-EWRI 2005 table 1."""

    numerator: float
    denominator: tuple[float, float]  # day, night
    soil_heat: tuple[float, float]  # share of net radiation, day, night


SHORT = Surface(37.0, (0.24, 0.96), (0.1, 0.5))
TALL = Surface(66.0, (0.25, 1.7), (0.04, 0.2))


def net_longwave(temperature_c, vapor_pressure_kpa, cloud_function):
    """Net outgoing longwave [MJ/m2/h], ASCE-EWRI 2005 Eq 44."""
    emissivity = 0.34 - 0.14 * np.sqrt(vapor_pressure_kpa)
    return STEFAN_BOLTZMANN_MJ * cloud_function * emissivity * (temperature_c + KELVIN) ** 4


def cloud_function(relative_shortwave):
    """Cloud function fcd from Rs/Rso held within 0.3 to 1, ASCE-EWRI 2005 Eq 45."""
    return 1.35 * np.clip(relative_shortwave, 0.3, 1.0) - 0.35


def reference_et(surface, temperature_c, vapor_pressure_kpa, net, wind_2m_m_s, pressure_kpa):
    """Reference evapotranspiration [mm/h], ASCE-EWRI 2005 Eq 1, from net radiation [MJ/m2/h]."""
    day = net > 0
    soil = net * np.where(day, *surface.soil_heat)
    drag = np.where(day, *surface.denominator)
    saturated = saturation_vapor_pressure(temperature_c)
    slope, gamma = slope_of(temperature_c, saturated), 0.000665 * pressure_kpa
    deficit = saturated - vapor_pressure_kpa
    wind_part = gamma * surface.numerator / (temperature_c + 273) * wind_2m_m_s * deficit
    return (0.408 * slope * (net - soil) + wind_part) / (slope + gamma * (1 + drag * wind_2m_m_s))


def hourly_et(
    surface, temperature_c, vapor_pressure_kpa, shortwave_mj, fcd, wind_m_s, height_m, elevation_m
):
    """Reference evapotranspiration [mm/h] from weather; wind at `height_m`."""
    net = (1 - ALBEDO) * shortwave_mj - net_longwave(temperature_c, vapor_pressure_kpa, fcd)
    wind = wind_at_two_meters(wind_m_s, height_m)
    pressure = standard_pressure(elevation_m)
    return reference_et(surface, temperature_c, vapor_pressure_kpa, net, wind, pressure)


def extraterrestrial_mj(times, latitude, longitude):
    """Extraterrestrial shortwave [MJ/m2/h] of the hour after each time."""
    return extraterrestrial_shortwave(times, latitude, longitude) * MJ_PER_W_HOUR


def own_cloud_function(times, latitude, longitude, elevation_m, shortwave_mj, first):
    """fcd of each hour by our own sun: held while the sun is below 0.3 rad."""
    clear = clear_sky_shortwave(extraterrestrial_mj(times, latitude, longitude), elevation_m)
    height = sun_elevation(times + np.timedelta64(1800, "s"), latitude, longitude)
    held, series = first, []
    for hour in range(len(times)):
        if height[hour] > LOW_SUN_RAD:
            held = cloud_function(shortwave_mj[hour] / clear[hour])
        series.append(held)
    return np.array(series)
