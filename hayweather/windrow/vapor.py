"""Air and its vapor: published relations on plain arrays.

Every function takes floats or arrays that broadcast together and returns NaN
where an input is NaN.
"""

from __future__ import annotations

from typing import cast

import numpy as np

from hayweather.weather.record import Floats

Values = float | Floats
Real = type[np.float64] | type[np.float32]

KELVIN = 273.15
AIR_HEAT_CAPACITY_J_KG_K = 1013.0  # FAO-56 Eq 8
VAPOR_RATIO = 0.622  # water to dry air, molecular masses; FAO-56 Eq 8


def in_precision(values: Floats, real: Real) -> Floats:
    """The numbers as `real`; they keep the name of the double numbers that they stand for."""
    return cast(Floats, values.astype(real, copy=False))


def saturation_vapor_pressure(temperature_c: Values) -> Floats:
    """Saturation vapor pressure over water [kPa], FAO-56 Eq 11 (Tetens 1930).

    Published; within 0.13 % of IAPWS from 5 to 40 C. Argument in C.

    Parameters
    ----------
    temperature_c
        Any shape; NaN stays.

    Examples
    --------
    >>> round(float(saturation_vapor_pressure(24.5)), 3)
    3.075
    """
    return 0.6108 * np.exp(17.27 * temperature_c / (temperature_c + 237.3))


def saturation_vapor_pressure_ice(temperature_c: Values) -> Floats:
    """Saturation vapor pressure over ice [kPa], Murray 1967.

    Published, coefficients from memory; meant for -40 to 0 C.

    Examples
    --------
    >>> round(float(saturation_vapor_pressure_ice(-5.0)), 3)
    0.401
    """
    return 0.6108 * np.exp(21.8745584 * temperature_c / (temperature_c + 265.5))


def slope_of(temperature_c: Values, saturation_kpa: Floats) -> Floats:
    """Slope of the saturation curve over water [kPa/K] from the saturation, FAO-56 Eq 13."""
    return 4098.0 * saturation_kpa / (temperature_c + 237.3) / (temperature_c + 237.3)


def dew_point(vapor_pressure_kpa: Values) -> Floats:
    """Dew point [C] of a vapor pressure [kPa], the inverse of FAO-56 Eq 11.

    Examples
    --------
    >>> round(float(dew_point(saturation_vapor_pressure(7.0))), 6)
    7.0
    """
    ratio = np.log(vapor_pressure_kpa / 0.6108)
    return 237.3 * ratio / (17.27 - ratio)


def standard_pressure(elevation_m: Values) -> Floats:
    """Pressure of the standard atmosphere [kPa] at an elevation [m], FAO-56 Eq 7 (published).

    Examples
    --------
    >>> round(float(standard_pressure(1800.0)), 1)
    81.8
    """
    return 101.3 * ((293.0 - 0.0065 * elevation_m) / 293.0) ** 5.26


def latent_heat(temperature_c: Values) -> Floats:
    """Latent heat of vaporization [J/kg], Harrison 1963 as in FAO-56 annex 3 (published)."""
    return np.asarray((2.501 - 0.002361 * temperature_c) * 1e6)


def air_density(temperature_c: Values, pressure_kpa: Values) -> Floats:
    """Density of moist air [kg/m3], FAO-56 annex 3 (Tv about 1.01 T; published)."""
    return np.asarray(pressure_kpa * 1000.0 / (287.05 * 1.01 * (temperature_c + KELVIN)))


def vapor_coefficient(temperature_c: Values, pressure_kpa: Values) -> Floats:
    """Vapor density per vapor pressure [kg/m3/kPa], ``0.622 rho / P``."""
    return VAPOR_RATIO * air_density(temperature_c, pressure_kpa) / pressure_kpa


def wind_at_two_meters(wind_speed_m_s: Values, height_m: float) -> Floats:
    """Wind at 2 m [m/s] from wind at `height_m` over short grass, FAO-56 Eq 47 (published).

    Parameters
    ----------
    wind_speed_m_s
        At `height_m`, any shape.
    height_m
        Of the wind's mast above the ground [m].

    Examples
    --------
    >>> round(float(wind_at_two_meters(3.2, 10.0)), 1)
    2.4
    """
    if height_m == 2.0:
        return np.asarray(wind_speed_m_s, dtype=np.float64)
    return wind_speed_m_s * 4.87 / np.log(67.8 * height_m - 5.42)
