"""A station in a field's night: its hours joined to the forecast, its differences carried on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from hayweather.weather.observed import INSTANTS, SENSOR_ERRORS, Observed
from hayweather.weather.record import (
    DERIVED,
    HOUR,
    MEASURED_THERE,
    NEEDED,
    Assumption,
    Floats,
    HourlyWeather,
)
from hayweather.windrow.carried import Measured, Shown, scaled
from hayweather.windrow.vapor import wind_at_two_meters
from hayweather.words import Remark

Observations = Mapping[str, Sequence[Observed]]
"""What stations measured, by field: the first is carried on, the others fill blanks."""

MOST_HOURS_BACK = 5 * 24
IN_FIELD_KM, IN_FIELD_M = 3.0, 60.0
"""A station so near stands in the field: its hours are the field's as they are (assumed)."""
LAST_OVER = np.timedelta64(600, "s")
"""The last difference is the mean of this time."""
BRIDGED_H = 3
WIND = "wind_speed_m_s"


@dataclass(frozen=True)
class StationNight:
    """What a station did in a night.

    Attributes
    ----------
    observed
        The station; `refused` says why it does not serve.
    forecast
        The hours as the forecast has them, one lane; NaN where none reaches.
    off
        Measured less forecast at the last value, by column; wind in m/s.
    age_minutes
        Of the last value of the air; None where there is none.
    carried
        Whether its differences are carried on.
    filled
        Hours of the night that no forecast has and it measured.
    """

    observed: Observed
    forecast: HourlyWeather
    off: Mapping[str, float] = field(default_factory=dict)
    age_minutes: float | None = None
    carried: bool = False
    filled: int = 0

    @property
    def damper_k(self) -> float:
        """How much nearer the air is to its dew point than forecast [K]; NaN unknown."""
        nothing = float("nan")
        air = self.off.get("air_temperature_c", nothing)
        return self.off.get("dew_point_c", nothing) - air

    def later_by(self, minutes: float) -> StationNight:
        """The same so many minutes later."""
        if self.age_minutes is None:
            return self
        return replace(self, age_minutes=self.age_minutes + minutes)

    def said(self) -> tuple[Remark, ...]:
        """What people should know of it: why it is left out, what of it is."""
        name = self.observed.station
        if self.observed.refused is not None:
            why = self.observed.refused
            return (Remark("station_left_out", {"station": name, "why": why}),)
        notes = self.observed.notes
        if not self.filled:  # how its rain is known matters where it serves
            notes = tuple(note for note in notes if note.key != "station_reports_rain")
        return tuple(Remark("station_note", {"station": name, "note": note}) for note in notes)


@dataclass(frozen=True)
class Joined:
    """A forecast with what stations measured.

    Attributes
    ----------
    weather
        The forecast, blank hours filled, from where a station or the forecast begins.
    measured
        What stations show of it, for members and lane 0.
    stations
        What each station did.
    """

    weather: HourlyWeather
    measured: Measured
    stations: tuple[StationNight, ...]


def joined_with(
    weather: HourlyWeather, observations: Sequence[Observed], now: np.datetime64
) -> Joined:
    """A forecast and the stations of its place up to now.

    Parameters
    ----------
    weather
        The forecast, lane 0, with its runs behind.
    observations
        Judged (`hayweather.weather.sensors`); the first that is neither refused nor
        only fills blanks is carried on.
    now
        UTC.
    """
    usable = [item.until(now) for item in observations if item.refused is None]
    if not usable:
        nights = [_night(item, weather, now) for item in observations]
        return Joined(weather, {}, tuple(nights))
    there = _extended(weather, usable, now)
    bare = there.between(0, there.hours)
    count = min(max(int((now - there.start[0]) // HOUR) + 1, 0), there.hours)
    measured: Measured = {}
    nights = []
    for item in observations:
        if item.refused is not None:
            nights.append(_night(item, bare, now))
            continue
        values = _on_hours(item.until(now), there, count)
        there, filled = _filled(there, values)
        carries = not item.fills_only and not measured
        if carries:
            measured = _shown(item.until(now), there, values)
            there = _measured_there(there, values)
        if in_field(item):
            there = _rained(there, values, replaced=carries)
        nights.append(_night(item, bare, now, carried=carries and bool(measured), filled=filled))
    there = _bridged(there, weather.start[0])
    told = tuple(_told(night) for night in nights if night.carried or night.filled)
    there = replace(there, assumed=(*there.assumed, *told))
    return Joined(there, measured, tuple(nights))


def in_field(observed: Observed) -> bool:
    """Whether a station stands in the field, as far as the farm file says."""
    near = observed.away_km < IN_FIELD_KM and abs(observed.higher_m) < IN_FIELD_M
    return near and not observed.official


def _told(night: StationNight) -> Assumption:
    """What the weather says of a station that it stands on."""
    item = night.observed
    if in_field(item):
        return Assumption("station_here", {"station": item.station})
    high = (abs(item.higher_m), "elevation")
    away = (1000 * item.away_km, "distance")
    key = "station_higher" if item.higher_m >= 0 else "station_lower"
    return Assumption(key, {"station": item.station, "away": away, "meters": high})


def _night(
    observed: Observed,
    forecast: HourlyWeather,
    now: np.datetime64,
    *,
    carried: bool = False,
    filled: int = 0,
) -> StationNight:
    """What is said of one station."""
    last = observed.last
    bare = replace(
        forecast, columns={name: values[:, :1] for name, values in forecast.columns.items()},
        start=forecast.start[:1], repaired=forecast.repaired[:, :1], basis=forecast.basis[:, :1],
        humidity_percent=None,
    )  # fmt: skip
    if last is None:
        return StationNight(observed, bare)
    age = float((now - last) / np.timedelta64(60, "s"))
    off = {}
    for name in NEEDED:
        final = _last_of(observed, bare, name)
        if final is not None:
            off[name] = final[2]
    return StationNight(observed, bare, off, age, carried, filled)


def _extended(
    weather: HourlyWeather, usable: Sequence[Observed], now: np.datetime64
) -> HourlyWeather:
    """The weather from the first hour that a station has before it, those hours blank."""
    begin = weather.start[0]
    limit = max(now.astype("datetime64[h]") - MOST_HOURS_BACK * HOUR, np.datetime64(0, "s"))
    for item in usable:
        whole = item.known("air_temperature_c") & item.known("dew_point_c") & item.known(WIND)
        if whole.any():
            first = item.times[whole][0].astype("datetime64[h]").astype("datetime64[s]")
            begin = min(begin, max(first, limit.astype("datetime64[s]")))
    added = int((weather.start[0] - begin) / HOUR)
    if added <= 0:
        return weather
    blank = np.full((added, weather.lanes), np.nan)
    return replace(
        weather,
        start=weather.start - added * HOUR,
        columns={name: np.concatenate([blank, v]) for name, v in weather.columns.items()},
        repaired=np.concatenate([np.zeros(blank.shape, dtype=bool), weather.repaired]),
        basis=np.concatenate([np.zeros(blank.shape, dtype=weather.basis.dtype), weather.basis]),
        humidity_percent=None,
    )


def _on_hours(observed: Observed, weather: HourlyWeather, count: int) -> dict[str, Floats]:
    """A station's values on the hours of the weather, (hours,), wind at the weather's height."""
    values = observed.on_hours(weather.start[0], count)
    if WIND in values:
        values[WIND] = values[WIND] * _wind_factor(observed, weather)
    rest = np.full(weather.hours - count, np.nan)
    return {name: np.concatenate([column, rest]) for name, column in values.items()}


def _wind_factor(observed: Observed, weather: HourlyWeather) -> float:
    """From the wind of a station to that at the height of the weather's."""
    station = wind_at_two_meters(np.ones(1), observed.wind_height_m)
    return float((station / wind_at_two_meters(np.ones(1), weather.wind_height_m))[0])


def _filled(weather: HourlyWeather, values: Mapping[str, Floats]) -> tuple[HourlyWeather, int]:
    """Blank hours of the weather with a station's values, and how many got air."""
    columns, basis = dict(weather.columns), weather.basis.astype(np.uint16)
    filled = np.zeros(weather.hours, dtype=bool)
    for name, told in values.items():
        if name not in columns:
            continue
        blank = np.isnan(columns[name]) & ~np.isnan(told)[:, None]
        columns[name] = np.where(blank, told[:, None], columns[name])
        basis |= np.where(blank, MEASURED_THERE[name], 0).astype(np.uint16)
        if name == "air_temperature_c":
            filled |= blank[:, 0]
    if not filled.any() and (basis == weather.basis).all():
        return weather, 0
    return replace(weather, columns=columns, basis=basis), int(filled.sum())


def _measured_there(weather: HourlyWeather, values: Mapping[str, Floats]) -> HourlyWeather:
    """The weather with its hours marked where a station measured their air."""
    basis = weather.basis.astype(np.uint16)
    for name, told in values.items():
        if name not in weather.columns or name == "rain_mm":
            continue
        here = ~np.isnan(told)[:, None]
        bits = np.uint16(MEASURED_THERE[name])
        lost = np.uint16(~DERIVED.get(name, 0) & 0xFFFF)
        basis = np.where(here, (basis & lost) | bits, basis)
    return replace(weather, basis=basis)


def _rained(
    weather: HourlyWeather, values: Mapping[str, Floats], *, replaced: bool
) -> HourlyWeather:
    """The weather with the rain that a gauge in the field measured.

    Of a station that is no more believed now, rain that it measured stays fallen: it may
    add to the forecast's and never take away.
    """
    told, rain = values.get("rain_mm"), weather.get("rain_mm")
    if told is None or rain is None:
        return weather
    here = ~np.isnan(told)[:, None] & (replaced | (told[:, None] > np.nan_to_num(rain)))
    bits = np.where(here, MEASURED_THERE["rain_mm"], 0).astype(np.uint16)
    columns = {**weather.columns, "rain_mm": np.where(here, told[:, None], rain)}
    return replace(weather, columns=columns, basis=weather.basis | bits)


def _shown(
    observed: Observed, weather: HourlyWeather, values: Mapping[str, Floats]
) -> dict[str, Shown]:
    """What a station shows of the weather, where that is known, by column."""
    found = {}
    for name in INSTANTS:
        if name not in values or name not in weather.columns:
            continue
        known = ~np.isnan(values[name] + weather.columns[name][:, 0])
        at, told = np.flatnonzero(known).astype(np.float64), scaled(values[name][known], name)
        last = _last_of(observed, weather, name)
        if last is not None and (not at.size or last[0] > at[-1] + 1 / 60):
            at, told = np.append(at, last[0]), np.append(told, scaled(last[1], name))
        if at.size:
            error = SENSOR_ERRORS[name]
            lasting = error.lasting_at(observed.away_km, observed.higher_m)
            found[name] = Shown(at, told, lasting, error.passing, in_field(observed))
    return found


def _last_of(
    observed: Observed, weather: HourlyWeather, name: str
) -> tuple[float, Floats, float] | None:
    """When, what and how much more than the weather the last of a column is, a mean of minutes.

    In hours of the weather, at its height of the wind; None where one is not known.
    """
    known = observed.known(name)
    if not known.any():
        return None
    times, values = observed.times[known], observed.columns[name][known]
    lately = times > times[-1] - LAST_OVER
    at = (times[lately] - weather.start[0]) / HOUR
    if name == WIND:
        values = values * _wind_factor(observed, weather)
    if at[-1] < 0 or at[-1] > weather.hours - 1:
        return None
    hours = np.arange(weather.hours, dtype=np.float64)
    off = float(np.mean(values[lately] - np.interp(at, hours, weather.columns[name][:, 0])))
    if not np.isfinite(off):
        return None
    return float(at.mean()), np.array([float(values[lately].mean())]), off


def _bridged(weather: HourlyWeather, forecast_start: np.datetime64) -> HourlyWeather:
    """Blanks of up to three hours in the air before the forecast, on a line between."""
    added = int((forecast_start - weather.start[0]) / HOUR)
    if added < 3:
        return weather
    columns, basis = dict(weather.columns), weather.basis.copy()
    repaired = weather.repaired.copy()
    for name in NEEDED:
        values = columns[name].copy()
        known = np.flatnonzero(~np.isnan(values[:, 0]))
        for left, right in pairwise(known.tolist()):
            if left < added and 1 < right - left <= BRIDGED_H + 1:
                rows = np.arange(left + 1, right)
                share = ((rows - left) / (right - left))[:, None]
                values[rows] = values[left] * (1 - share) + values[right] * share
                basis[rows] |= DERIVED[name]
                repaired[rows] = True
        columns[name] = values
    return replace(weather, columns=columns, basis=basis, repaired=repaired)


def from_hour(measured: Measured, first: int) -> dict[str, Shown]:
    """What a station shows, counted from a later hour of the weather."""
    found = {}
    for name, shown in measured.items():
        kept = shown.at >= first
        if kept.any():
            found[name] = replace(shown, at=shown.at[kept] - first, values=shown.values[kept])
    return found
