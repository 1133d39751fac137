"""Sun and sky: extraterrestrial and clear-sky shortwave, cloud, longwave.

Angles are in radians inside. Longitudes are positive east. Times are UTC.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Floats, Times
from hayweather.windrow.vapor import KELVIN, Values

STEFAN_BOLTZMANN_W_M2_K4 = 5.670374e-8  # CODATA 2018
SOLAR_CONSTANT_W_M2 = 0.0820 * 1e6 / 60  # FAO-56, 0.0820 MJ/m2/min
DAY_S = 86400
YEAR = np.arange(367.0)  # days of a year; the first counts as 1
CLOUD_LOW_SUN_RAD = 0.3  # FAO-56 and ASCE-EWRI: no cloud from a sun lower than this
CLOUD_KEPT_BY_NIGHT = 0.7  # of what the day gave (fit: 0.73 at each of two measured sites)
CLOUD_UNKNOWN = 0.3  # assumed where nothing tells the cloud
CLOUD_KEPT_H = 24  # cloud seen so long ago tells nothing any more (assumed)


def day_and_second(times: Times) -> tuple[NDArray[np.int64], Floats]:
    """Day of the year and second of the day; the calendar is asked once a day, not once a time."""
    number, second = np.divmod(times.astype("datetime64[s]").astype(np.int64), DAY_S)
    if not number.size:
        return number, second.astype(np.float64)
    first = number.min()
    days = np.arange(first, number.max() + 1).astype("datetime64[D]")
    since = days - days.astype("datetime64[Y]").astype("datetime64[D]")
    return since.astype(np.int64)[number - first] + 1, second.astype(np.float64)


def _angle(day: NDArray[np.int64], second: Floats, longitude: float | Floats) -> Floats:
    """Hour angle of the sun [rad]; what the day fixes is worked out once a day."""
    return hour_angle(0.0, YEAR, 0.0)[day] + np.pi / 12 * (second / 3600 + longitude / 15)


def declination(day: Floats) -> Floats:
    """Declination of the sun [rad] on a day of the year, FAO-56 Eq 24 (published)."""
    return 0.409 * np.sin(2 * np.pi * day / 365 - 1.39)


def hour_angle(seconds: float | Floats, day: Floats, longitude: float | Floats) -> Floats:
    """Hour angle of the sun [rad], not wrapped, at UTC seconds of a day, FAO-56 Eq 31-33."""
    phase = 2 * np.pi * (day - 81) / 364
    seasonal_h = 0.1645 * np.sin(2 * phase) - 0.1255 * np.cos(phase) - 0.025 * np.sin(phase)
    solar_hour = seconds / 3600 + longitude / 15 + seasonal_h
    return np.pi / 12 * (solar_hour - 12)


def sun_elevation(times: Times, latitude: float | Floats, longitude: float | Floats) -> Floats:
    """Elevation of the sun's center [rad], FAO-56 Eq 3-15 of annex (published).

    Negative below the horizon; no refraction.

    Parameters
    ----------
    times
        UTC, (times, lanes).
    latitude, longitude
        Degrees north and east, a number or (lanes,).
    """
    return np.arcsin(np.clip(sun_sine(times, latitude, longitude), -1.0, 1.0))


def sun_sine(times: Times, latitude: float | Floats, longitude: float | Floats) -> Floats:
    """Sine of `sun_elevation` [-], which is what shortwave goes by."""
    day, second = day_and_second(times)
    phi, tilt, angle = np.deg2rad(latitude), declination(YEAR), _angle(day, second, longitude)
    straight, swinging = np.sin(phi) * np.sin(tilt)[day], np.cos(phi) * np.cos(tilt)[day]
    return np.asarray(straight + swinging * np.cos(angle))


def extraterrestrial_shortwave(
    times: Times, latitude: float | Floats, longitude: float | Floats, hours: float = 1.0
) -> Floats:
    """Mean shortwave above the atmosphere [W/m2] over the period after each time.

    FAO-56 Eq 28 with the sunset limits of ASCE-EWRI 2005 (published).

    Parameters
    ----------
    times
        UTC start of each period.
    latitude, longitude
        Degrees, north and east positive.
    hours
        Length of the period.
    """
    height, day = mean_heights(times, latitude, longitude, hours)
    distance = 1 + 0.033 * np.cos(2 * np.pi * YEAR / 365)
    return np.asarray((SOLAR_CONSTANT_W_M2 * distance)[day] * height[0])


def mean_heights(
    times: Times,
    latitude: float | Floats,
    longitude: float | Floats,
    hours: float = 1.0,
    parts: int = 1,
) -> tuple[Floats, NDArray[np.int64]]:
    """Mean sine of the sun's height over each part of a period, 0 while it is down [-].

    The declination is that of the period's middle.

    Parameters
    ----------
    times, latitude, longitude, hours
        As in `extraterrestrial_shortwave`.
    parts
        Equal parts of the period.

    Returns
    -------
    heights, day
        (parts, ...), and the day of the year of each period.
    """
    day, second = day_and_second(times + np.timedelta64(round(hours * 1800), "s"))
    angle, half = _angle(day, second, longitude), np.pi * hours / 24
    phi, tilt = np.deg2rad(latitude), declination(YEAR)
    one = np.ndim(latitude) == 0  # place: its sunset is worked out once a day
    lower = -np.tan(phi) * (np.tan(tilt) if one else np.tan(tilt)[day])
    sunset = np.arccos(np.clip(lower, -1.0, 1.0))
    sunset = np.where(sunset < np.pi, sunset, np.inf)  # the sun of a polar day passes midnight
    sunset = sunset[day] if one else sunset
    straight, swinging = np.sin(phi) * np.sin(tilt)[day], np.cos(phi) * np.cos(tilt)[day]
    wrapped = angle - 2 * np.pi * np.floor((angle + np.pi) / (2 * np.pi))
    bounds = half * np.linspace(-1, 1, parts + 1).reshape(-1, *(1,) * wrapped.ndim)
    ends = np.clip(wrapped + bounds, -sunset, sunset)
    swung = np.diff(ends, axis=0) * straight + swinging * np.diff(np.sin(ends), axis=0)
    return np.maximum(swung * (parts / (2 * half)), 0.0), day


def clear_sky_shortwave(extraterrestrial_w_m2: Values, elevation_m: float | Floats) -> Floats:
    """Clear-sky shortwave [W/m2], FAO-56 Eq 37: ``(0.75 + 2e-5 z) Ra`` (published)."""
    return np.asarray((0.75 + 2e-5 * elevation_m) * extraterrestrial_w_m2)


def cloudy_shortwave(clear_w_m2: Values, cloud_fraction: Values) -> Floats:
    """Shortwave under cloud [W/m2], Kasten & Czeplak 1980 (published)."""
    return clear_w_m2 * (1 - 0.75 * cloud_fraction**3.4)


def cloud_from_shortwave(shortwave_w_m2: Floats, clear_w_m2: Floats) -> Floats:
    """Cloud fraction from measured and clear-sky shortwave, ASCE-EWRI 2005 Eq 45 (published).

    One minus its cloudiness function ``1.35 Rs/Rso - 0.35``, clipped to 0-1; the
    sun above 0.3 rad only. On clear evenings it stays near 0, where turning
    Kasten & Czeplak 1980 round gives half a sky of cloud from a low sun.
    """
    return np.clip(1.35 * (1 - shortwave_w_m2 / clear_w_m2), 0.0, 1.0)


def clear_sky_emissivity(air_temperature_c: Values, vapor_pressure_kpa: Values) -> Floats:
    """Emissivity of a clear sky [-], mean of Prata 1996 and Dilley & O'Brien 1998.

    Both published, coefficients from memory. At two measured sites the first is
    0.019 and 0.005 high, the second 0.002 and 0.014 low, their mean 0.009 high and
    0.004 low (``python -m measured --both`` in tests).

    Examples
    --------
    >>> round(float(clear_sky_emissivity(10.0, 1.0)), 4)
    0.7716
    """
    black = STEFAN_BOLTZMANN_W_M2_K4 * (air_temperature_c + KELVIN) ** 4
    other = dilley_longwave(air_temperature_c, vapor_pressure_kpa) / black
    return (prata_emissivity(air_temperature_c, vapor_pressure_kpa) + other) / 2.0


def prata_emissivity(air_temperature_c: Values, vapor_pressure_kpa: Values) -> Floats:
    """Emissivity of a clear sky [-], Prata 1996."""
    water = 465.0 * vapor_pressure_kpa / (air_temperature_c + KELVIN)  # precipitable, g/cm2
    return 1.0 - (1.0 + water) * np.exp(-np.sqrt(1.2 + 3.0 * water))


def dilley_longwave(air_temperature_c: Values, vapor_pressure_kpa: Values) -> Floats:
    """Longwave of a clear sky [W/m2], Dilley & O'Brien 1998."""
    kelvin = air_temperature_c + KELVIN
    water = 4650.0 * vapor_pressure_kpa / kelvin  # precipitable, kg/m2
    return 59.38 + 113.7 * (kelvin / 273.16) ** 6 + 96.96 * np.sqrt(water / 25.0)


def sky_longwave(
    air_temperature_c: Values, vapor_pressure_kpa: Values, cloud_fraction: Values
) -> Floats:
    """Longwave from the sky [W/m2]; cloud by Unsworth & Monteith 1975 (published)."""
    clear = clear_sky_emissivity(air_temperature_c, vapor_pressure_kpa)
    emissivity = (1.0 - 0.84 * cloud_fraction) * clear + 0.84 * cloud_fraction
    return emissivity * STEFAN_BOLTZMANN_W_M2_K4 * (air_temperature_c + KELVIN) ** 4


def derive_cloud(
    shortwave_w_m2: Floats, clear_w_m2: Floats, sun_elevation_rad: Floats
) -> tuple[Floats, Floats]:
    """Hourly cloud fraction where none was given, and where nothing told it.

    From the last three hours with the sun above 0.3 rad, by day; of that
    `CLOUD_KEPT_BY_NIGHT` while the sun is down; `CLOUD_UNKNOWN` before any such hour,
    and `CLOUD_KEPT_H` after the last.

    Parameters
    ----------
    shortwave_w_m2, clear_w_m2, sun_elevation_rad
        (hours, lanes); elevation at the middle of the hour.

    Returns
    -------
    cloud, unknown
        Cloud fraction of each hour, and 1 where it is the assumed value, both
        (hours, lanes).
    """
    seen = (sun_elevation_rad > CLOUD_LOW_SUN_RAD) & np.isfinite(shortwave_w_m2)
    cloud, unknown = np.full(seen.shape, CLOUD_UNKNOWN), np.ones(seen.shape)
    recent = [np.zeros((2, *seen.shape[1:]))] * 3
    held, age_h = np.full(seen.shape[1:], CLOUD_UNKNOWN), np.full(seen.shape[1:], np.inf)
    for hour, fresh in enumerate(seen):
        age_h = np.where(fresh, 0.0, age_h + 1)
        if fresh.any():
            now = np.stack([shortwave_w_m2[hour], clear_w_m2[hour]])
            later = [*recent[1:], now]
            recent = [np.where(fresh, new, old) for old, new in zip(recent, later, strict=True)]
            total, clear = recent[0] + recent[1] + recent[2]
            told = cloud_from_shortwave(total, np.where(fresh, clear, 1.0))
            held = np.where(fresh, told, held)
        known = age_h < CLOUD_KEPT_H
        kept = np.where(sun_elevation_rad[hour] < 0, CLOUD_KEPT_BY_NIGHT, 1.0)
        cloud[hour] = np.where(known, kept * held, CLOUD_UNKNOWN)
        unknown[hour] = ~known
    return cloud, unknown
