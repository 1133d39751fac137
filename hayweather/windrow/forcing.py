"""Weather as the windrow feels it: completed, moved to the field, cut into steps."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeAlias, TypeGuard

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import HOUR, Assumption, Booleans, Floats, HourlyWeather, Times
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air
from hayweather.windrow.sky import (
    clear_sky_shortwave,
    cloudy_shortwave,
    derive_cloud,
    extraterrestrial_shortwave,
    mean_heights,
    sky_longwave,
    sun_elevation,
)
from hayweather.windrow.vapor import (
    in_precision,
    saturation_vapor_pressure,
    standard_pressure,
    wind_at_two_meters,
)

HALF_HOUR = np.timedelta64(1800, "s")
CALM_OFFSET_WIND_M_S = 3.0  # the clear-night offset acts below this
WEATHER_AT = 0.7
"""Where in a step its weather is taken [-]: beyond the middle, since an implicit step lags.

Chosen by tests/regression/test_step.py.
"""
SHAPED_STEPS = 12  # the sun of an hour is worked out in as many parts, fewer taken from these
MOVING_HUMIDITY = 0.08  # air whose relative humidity changes by more in an hour moves the hay


Lanes: TypeAlias = "NDArray[np.int64] | slice"
EVERY_LANE = slice(None)


@dataclass(frozen=True)
class Place:
    """Where the windrow lies; numbers or arrays (lanes,).

    Attributes
    ----------
    latitude, longitude
        Degrees, north and east positive.
    elevation_m
        Above sea level.
    dew_point_offset_k
        Field less forecast, added to the dew point.
    clear_night_air_offset_k
        Added to the air temperature at night, times (1 - cloud), below 3 m/s.
    """

    latitude: float | Floats
    longitude: float | Floats
    elevation_m: float | Floats
    dew_point_offset_k: float | Floats = 0.0
    clear_night_air_offset_k: float | Floats = 0.0


@dataclass(frozen=True)
class Forcing:
    """Hourly weather at the field, complete but for what is needed and missing.

    Instants have a row for the end of the last hour, (hours + 1, lanes); means
    and sums (hours, lanes).

    Attributes
    ----------
    temperature_c, dew_point_c, wind_2m_m_s, pressure_kpa
        Instants at the hour starts.
    cloud_start, cloud_end
        Cloud fraction at both ends of each hour, (hours, lanes).
    sky_unknown
        Where nothing tells the cloud and it is assumed, (hours, lanes).
    shortwave_w_m2, rain_mm
        Mean and sum of each hour.
    soil_c
        Soil under the hay (`soil_temperature`), an instant.
    assumed
        What was derived or assumed here.
    start, place
        UTC start of the first hour of each lane, and where it is: the sun of an
        hour is spread over its steps as the height of the sun asks.
    """

    temperature_c: Floats
    dew_point_c: Floats
    wind_2m_m_s: Floats
    pressure_kpa: Floats
    cloud_start: Floats
    cloud_end: Floats
    sky_unknown: Booleans
    shortwave_w_m2: Floats
    rain_mm: Floats
    soil_c: Floats
    assumed: tuple[Assumption, ...]
    start: Times
    place: Place

    @property
    def hours(self) -> int:
        """Number of hours."""
        return int(self.rain_mm.shape[0])

    @property
    def known(self) -> Booleans:
        """Where what is needed is known at both ends of an hour, (hours, lanes)."""
        needed = self.temperature_c + self.dew_point_c + self.wind_2m_m_s
        return np.asarray(np.isfinite(needed[:-1] + needed[1:]) & np.isfinite(self.rain_mm))

    @cached_property
    def moving(self) -> Booleans:
        """Where the air's humidity changes fast over an hour, (hours, lanes)."""
        over = saturation_vapor_pressure(self.temperature_c)
        humidity = saturation_vapor_pressure(self.dew_point_c) / over
        return np.asarray(np.abs(np.diff(humidity, axis=0)) > MOVING_HUMIDITY)

    def steps(self, hour: int, count: int, lanes: Lanes = EVERY_LANE) -> Air:
        """The weather of each of `count` steps of an hour, (count, lanes).

        Of all lanes, or of those numbered. The sun is the mean of a step, what else is an
        instant stands at `WEATHER_AT` of it.
        """
        part = ((np.arange(count) + WEATHER_AT) / count)[:, None].astype(self.soil_c.dtype)

        def between(start: Floats, end: Floats) -> Floats:
            return start[lanes] + (end[lanes] - start[lanes]) * part

        temperature = between(self.temperature_c[hour], self.temperature_c[hour + 1])
        vapor = saturation_vapor_pressure(
            between(self.dew_point_c[hour], self.dew_point_c[hour + 1])
        )
        cloud = between(self.cloud_start[hour], self.cloud_end[hour])
        whole = np.ones_like(temperature)
        shapes, places = self.sun_shapes(hour, count, lanes)
        return Air.of(
            temperature,
            vapor,
            between(self.wind_2m_m_s[hour], self.wind_2m_m_s[hour + 1]),
            between(self.pressure_kpa[hour], self.pressure_kpa[hour + 1]),
            sky_longwave(temperature, vapor, cloud),
            self.shortwave_w_m2[hour, lanes] * shapes[:, places[lanes]].astype(part.dtype),
            self.rain_mm[hour, lanes] * whole,
            between(self.soil_c[hour], self.soil_c[hour + 1]),
        )

    def in_single(self) -> Forcing:
        """The same in single precision."""
        narrow: dict[str, Any] = {
            name: in_precision(values, np.float32)
            for name, values in vars(self).items()
            if isinstance(values, np.ndarray) and values.dtype == np.float64
        }
        return replace(self, **narrow)

    def sun_shapes(
        self, hour: int, count: int, lanes: Lanes = EVERY_LANE
    ) -> tuple[Floats, NDArray[np.int64]]:
        """Sun of each step of an hour over the mean of the hour [-]; 1 in the dark.

        A table (count, any), and the place of each lane in it, (lanes,); of lanes that
        were not asked for it says nothing.
        """
        place = self.place
        if np.ndim(place.latitude) == np.ndim(place.longitude) == 0:
            return self._table(count), self._suns[1][hour]
        lit = np.flatnonzero(self.shortwave_w_m2[hour] != 0)
        if not isinstance(lanes, slice):
            lit = np.intersect1d(lit, lanes)
        latitude, longitude = (
            np.asarray(value)[lit] if np.ndim(value) else value
            for value in (place.latitude, place.longitude)
        )
        table = _sun_shapes(self.start[lit] + hour * HOUR, count, latitude, longitude)
        index = np.zeros(self.start.size, dtype=np.int64)
        index[lit] = np.arange(1, lit.size + 1)
        return np.concatenate([np.ones((count, 1)), table], axis=1), index

    def _table(self, count: int) -> Floats:
        """The sun's shapes of all hours of `_suns`, the dark first; few steps from finer ones."""
        if count not in self._tables:
            if count < SHAPED_STEPS and SHAPED_STEPS % count == 0:
                parts = self._table(SHAPED_STEPS).reshape(count, SHAPED_STEPS // count, -1)
                self._tables[count] = parts.mean(axis=1)
            else:
                place = self.place
                table = _sun_shapes(self._suns[0], count, place.latitude, place.longitude)
                self._tables[count] = np.concatenate([np.ones((count, 1)), table], axis=1)
        return self._tables[count]

    @cached_property
    def _suns(self) -> tuple[Times, NDArray[np.int64]]:
        """The different hours that any lane sees by day, and which it is in each, (hours, lanes).

        Counted from 1, 0 is an hour in the dark: many lanes share the hours of one site.
        """
        times = self.start + np.arange(self.hours)[:, None] * HOUR
        lit = self.shortwave_w_m2 != 0
        index = np.zeros(times.shape, dtype=np.int64)
        hours, found = np.unique(times[lit], return_inverse=True)
        index[lit] = found + 1
        return hours, index

    @cached_property
    def _tables(self) -> dict[int, Floats]:
        """`_table` by count of steps."""
        return {}


def _sun_shapes(
    hours: Times, count: int, latitude: float | Floats, longitude: float | Floats
) -> Floats:
    """Sun of each step over the mean of its hour [-], (count, hours); 1 in the dark."""
    above, _ = mean_heights(hours, latitude, longitude, parts=count)
    mean = above.mean(axis=0)
    return np.where(mean > 0, above / np.where(mean > 0, mean, 1.0), 1.0)


def soil_temperature(air_c: Floats, windrow: WindrowParameters) -> Floats:
    """Soil at 2-4 cm under the hay [C] at the hour starts and the last end, (hours + 1, lanes).

    A slow mean of the air, and a part of its daily wave, late:
    ``m + offset + swing (f - m)``, m and f first-order lags of the hour's air. The
    mean begins as that of the first day. Fitted to Bondville, July 1998, under
    leaves; under hay assumed. An hour without air temperature changes nothing.

    Parameters
    ----------
    air_c
        Instants, (hours + 1, lanes).
    windrow
        Swing, lag, memory and offset of its soil.
    """
    hourly = (air_c[:-1] + air_c[1:]) / 2
    known = np.isfinite(hourly)
    day = slice(0, 24)
    count = known[day].sum(axis=0)
    total = np.where(known[day], hourly[day], 0.0).sum(axis=0)
    mean = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    late = np.where(np.isfinite(air_c[0]), air_c[0], mean)
    slow, fast = (
        -np.expm1(-1 / np.asarray(h)) for h in (windrow.soil_memory_h, windrow.soil_lag_h)
    )
    found = np.empty_like(air_c)
    for hour in range(air_c.shape[0]):
        found[hour] = mean + windrow.soil_offset_k + windrow.soil_swing * (late - mean)
        if hour < hourly.shape[0]:
            air = np.where(known[hour], hourly[hour], mean)
            mean = mean + slow * (air - mean)
            late = late + fast * (np.where(known[hour], air, late) - late)
    return found


def prepare(
    weather: HourlyWeather, place: Place, windrow: WindrowParameters | None = None
) -> Forcing:
    """Complete the weather of a place and move it to the field.

    Parameters
    ----------
    weather
        Hourly weather; what is needed and missing stays NaN.
    place
        Position and offsets.
    windrow
        What soil lies under it; None is the standard one.
    """
    columns = weather.columns
    cloud_start, cloud_end, unknown, sun, notes = _cloud_and_sun(weather, place)
    temperature, dew_point = _at_field(weather, place, cloud_start)
    pressure, pressure_notes = _pressure(weather, place)
    rain = weather.get("rain_mm")
    if rain is None:
        rain, notes = np.zeros_like(sun), (*notes, Assumption("rain_unknown"))
    instants = _with_end(temperature)
    return Forcing(
        temperature_c=instants,
        dew_point_c=_with_end(np.minimum(dew_point, temperature)),
        wind_2m_m_s=_with_end(wind_at_two_meters(columns["wind_speed_m_s"], weather.wind_height_m)),
        pressure_kpa=_with_end(pressure),
        cloud_start=cloud_start,
        cloud_end=cloud_end,
        sky_unknown=unknown,
        shortwave_w_m2=sun,
        rain_mm=rain,
        soil_c=soil_temperature(instants, windrow or WindrowParameters()),
        assumed=(*notes, *pressure_notes, *_offset_notes(place)),
        start=weather.start,
        place=place,
    )


def air_at_field(weather: HourlyWeather, place: Place) -> tuple[Floats, Floats, Floats]:
    """Air temperature [C], dew point [C] and wind at 2 m [m/s] as `prepare` gives them.

    Hour starts and the end of the last hour, (hours + 1, lanes). The sky is
    worked out only where the place's clear-night offset asks for it.

    Parameters
    ----------
    weather, place
        As for `prepare`.
    """
    temperature = weather.columns["air_temperature_c"]
    asks = bool(np.any(place.clear_night_air_offset_k))
    cloud = _cloud_and_sun(weather, place)[0] if asks else np.zeros_like(temperature)
    temperature, dew_point = _at_field(weather, place, cloud)
    wind = wind_at_two_meters(weather.columns["wind_speed_m_s"], weather.wind_height_m)
    held = (temperature, np.minimum(dew_point, temperature), wind)
    return _with_end(held[0]), _with_end(held[1]), _with_end(held[2])


def cloud_at_starts(weather: HourlyWeather, place: Place) -> tuple[Floats, Booleans]:
    """Cloud at the hour starts as `prepare` gives it, and where nothing tells it and it is assumed.

    Both (hours, lanes).
    """
    found = _cloud_and_sun(weather, place)
    return found[0], found[2]


def _with_end(instants: Floats) -> Floats:
    """Instants with the last one held to the end of the last hour."""
    return np.concatenate([instants, instants[-1:]])


def _cloud_and_sun(
    weather: HourlyWeather, place: Place
) -> tuple[Floats, Floats, Booleans, Floats, tuple[Assumption, ...]]:
    """Cloud at both ends of each hour, where it is assumed, shortwave, and what was assumed."""
    given, sun = weather.get("cloud_fraction"), weather.get("shortwave_w_m2")
    if is_complete(given) and is_complete(sun):
        return given, _with_end(given)[1:], np.zeros(given.shape, dtype=bool), sun, ()
    extraterrestrial = extraterrestrial_shortwave(weather.times(), place.latitude, place.longitude)
    clear = clear_sky_shortwave(extraterrestrial, place.elevation_m)
    start, unknown = _cloud(weather, place, clear)
    later = start if given is None else _with_end(given)[1:]
    end = np.where(np.isnan(later), start, later)
    estimate = cloudy_shortwave(clear, np.clip((start + end) / 2, 0.0, 1.0))
    complete = estimate if sun is None else np.where(np.isnan(sun), estimate, sun)
    assumed = unknown > 0 if given is None else (unknown > 0) & np.isnan(given)
    return start, end, assumed, complete, _sky_notes(given, sun, unknown)


def is_complete(column: Floats | None) -> TypeGuard[Floats]:
    """True for a column that is there and has no gap."""
    return column is not None and not np.isnan(column).any()


def _cloud(weather: HourlyWeather, place: Place, clear_w_m2: Floats) -> tuple[Floats, Floats]:
    """Cloud at the hour starts, derived where it was not given, and 1 where nothing tells it."""
    given, sun = weather.get("cloud_fraction"), weather.get("shortwave_w_m2")
    if is_complete(given):
        return given, np.zeros_like(given)
    seen = np.full_like(clear_w_m2, np.nan) if sun is None else sun
    height = sun_elevation(weather.times() + HALF_HOUR, place.latitude, place.longitude)
    derived, unknown = derive_cloud(seen, clear_w_m2, height)
    return derived if given is None else np.where(np.isnan(given), derived, given), unknown


def _sky_notes(cloud: Floats | None, sun: Floats | None, unknown: Floats) -> tuple[Assumption, ...]:
    """What had to be assumed of the sky."""
    no_cloud = np.ones_like(unknown, dtype=bool) if cloud is None else np.isnan(cloud)
    keys = []
    if (no_cloud & (unknown > 0)).any():
        keys.append("cloud_unknown")
    if (no_cloud & (unknown == 0)).any():
        keys.append("cloud_from_sun")
    if sun is None or np.isnan(sun).any():
        keys.append("sun_from_cloud")
    return tuple(Assumption(key) for key in keys)


def _at_field(weather: HourlyWeather, place: Place, cloud: Floats) -> tuple[Floats, Floats]:
    """Air temperature and dew point at the field, the site's offsets applied."""
    temperature = weather.columns["air_temperature_c"]
    dew_point = weather.columns["dew_point_c"] + place.dew_point_offset_k
    if not np.any(place.clear_night_air_offset_k):
        return temperature, dew_point
    dark = sun_elevation(weather.times(), place.latitude, place.longitude) < 0
    wind = wind_at_two_meters(weather.columns["wind_speed_m_s"], weather.wind_height_m)
    acts = dark & (wind < CALM_OFFSET_WIND_M_S)
    offset = np.where(acts, place.clear_night_air_offset_k * (1 - cloud), 0.0)
    return temperature + offset, dew_point


def _pressure(weather: HourlyWeather, place: Place) -> tuple[Floats, tuple[Assumption, ...]]:
    """Pressure [kPa], from the elevation where it was not given."""
    standard = np.broadcast_to(
        standard_pressure(place.elevation_m), weather.columns["air_temperature_c"].shape
    )
    given = weather.get("pressure_kpa")
    if given is not None and not np.isnan(given).any():
        return given, ()
    note = (Assumption("pressure_from_elevation"),)
    return standard if given is None else np.where(np.isnan(given), standard, given), note


def _offset_notes(place: Place) -> tuple[Assumption, ...]:
    """The site's offsets, named where they are set."""
    notes = []
    for key in ("dew_point_offset", "clear_night_air_offset"):
        value = getattr(place, f"{key}_k")
        if np.any(value):
            shown = (float(np.mean(value)), "temperature_difference")
            notes.append(Assumption(key, {"offset": shown}))
    return tuple(notes)
