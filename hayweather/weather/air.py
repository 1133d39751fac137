"""Air from what files and services give: dew point, humidity, pressure.

MetPy does the work at this door and plain arrays leave it. It is loaded inside
the functions, so a file that brings its dew point never waits for it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from hayweather.weather.record import Floats

LOWEST_HUMIDITY_PERCENT = 1.0
"""Relative humidity below this, 0 included, is read as this: air is never quite dry."""

_MAGNUS_A, _MAGNUS_B_C, _MAGNUS_E0_KPA = 17.67, 243.5, 0.6112


def dew_point_from_humidity(air_temperature_c: Floats, humidity_percent: Floats) -> Floats:
    """Dew point [C] of air at a temperature [C] and relative humidity [%].

    Humidity is clipped to 1-100 % and the dew point capped at the air
    temperature, which it is at 100 %. NaN in, NaN out. Any shape, the same for both.

    Notes
    -----
    MetPy, ``dewpoint_from_relative_humidity``, over liquid water. Its two
    saturation curves differ by 0.1 %, so it gives 0.015 K less at 100 %.

    Examples
    --------
    ASHRAE Fundamentals 2017, chapter 1: 40 C and 14 % have a dew point of 7 C.

    >>> dew_point_from_humidity(np.array([40.0]), np.array([14.0])).round(0).tolist()
    [7.0]
    """
    from metpy.calc import dewpoint_from_relative_humidity
    from metpy.units import units

    humidity = np.clip(humidity_percent, LOWEST_HUMIDITY_PERCENT, 100.0) / 100.0
    known = ~(np.isnan(air_temperature_c) | np.isnan(humidity))
    dew_point = np.full(np.shape(air_temperature_c), np.nan)
    if known.any():
        air = units.Quantity(air_temperature_c[known], "degC")
        answer = dewpoint_from_relative_humidity(air, units.Quantity(humidity[known], ""))
        dew_point[known] = answer.to("degC").magnitude
    return np.where(humidity == 1.0, air_temperature_c, np.minimum(dew_point, air_temperature_c))


def station_pressure_from_altimeter(altimeter_kpa: Floats, elevation_m: float) -> Floats:
    """Pressure at the station [kPa] from an altimeter setting [kPa] and elevation [m].

    Notes
    -----
    MetPy, ``altimeter_to_station_pressure`` (Smithsonian tables 1951). NaN in,
    NaN out.
    """
    from metpy.calc import altimeter_to_station_pressure
    from metpy.units import units

    setting = units.Quantity(altimeter_kpa, "kPa")
    station = altimeter_to_station_pressure(setting, units.Quantity(elevation_m, "m"))
    return _plain(station.to("kPa").magnitude)


def station_pressure_from_sea_level(
    sea_level_kpa: Floats, elevation_m: float, air_temperature_c: Floats
) -> Floats:
    """Pressure at the station [kPa] from pressure reduced to sea level [kPa].

    Turns round the reduction ``p0 = p exp(g z / (R T))`` with the air
    temperature [C] of the hour, Hobbs & Wallace 1977 Eq 2.31 as in MetPy's
    ``altimeter_to_sea_level_pressure``. NaN in, NaN out.
    """
    from metpy import constants
    from metpy.units import units

    air = units.Quantity(air_temperature_c, "degC").to("kelvin")
    height = units.Quantity(elevation_m, "m")
    exponent = (constants.g * height / (constants.Rd * air)).to("").magnitude
    return _plain(sea_level_kpa * np.exp(-exponent))


def standard_pressure(elevation_m: float) -> float:
    """Pressure [kPa] of the standard air at an elevation [m]; FAO-56 Eq 7.

    Examples
    --------
    FAO-56, annex 2: 81.8 kPa at 1800 m.

    >>> round(standard_pressure(1800.0), 1)
    81.8
    """
    return float(101.3 * ((293 - 0.0065 * elevation_m) / 293) ** 5.26)


def vapor_pressure_from_dew_point(dew_point_c: Floats) -> Floats:
    """Vapor pressure [kPa] of air with a dew point [C], any shape.

    Used where vapor is averaged in time: only its curvature matters there.

    Notes
    -----
    Bolton 1980, Eq 10, within 0.3 % from -35 to 35 C.
    """
    return _plain(_MAGNUS_E0_KPA * np.exp(_MAGNUS_A * dew_point_c / (dew_point_c + _MAGNUS_B_C)))


def dew_point_from_vapor_pressure(vapor_pressure_kpa: Floats) -> Floats:
    """Dew point [C] of air with a vapor pressure [kPa]; Bolton 1980, Eq 11.

    Examples
    --------
    >>> there = vapor_pressure_from_dew_point(np.array([-20.0, 7.0]))
    >>> dew_point_from_vapor_pressure(there).round(9).tolist()
    [-20.0, 7.0]
    """
    log = np.log(vapor_pressure_kpa / _MAGNUS_E0_KPA)
    return _plain(_MAGNUS_B_C * log / (_MAGNUS_A - log))


def _plain(values: Any) -> Floats:
    """An array of plain floats, whatever MetPy or numpy hands back."""
    return np.asarray(values, dtype=np.float64)
