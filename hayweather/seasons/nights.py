"""Which nights there are in a series of hours, and their hours cut out as lanes.

A night's lane begins at 14:00 local of the day before its evening (one night of
spin-up) and reaches one hour beyond 14:00 of the day after, so that the last
hour has both its ends. The night itself is counted from sunset to four hours
after sunrise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.clock import local_hour, turn_of
from hayweather.seasons.record.nights import RAIN_HOURS, Missing
from hayweather.weather.record import HOUR, Booleans, Floats, HourlyWeather, Times
from hayweather.windrow.sky import sun_elevation
from hayweather.windrow.trajectory import QUARTER, QUARTERS
from hayweather.windrow.vapor import wind_at_two_meters

AFTER_SUNRISE_H = 4
LANE_HOURS = 50  # two days of up to 49 hours by a clock change, and one hour's end
_SEARCHED = QUARTERS * 25  # from 14:00 to 14:00, a clock change within
LANE_COLUMNS = (
    "air_temperature_c",
    "dew_point_c",
    "wind_speed_m_s",
    "cloud_fraction",
    "pressure_kpa",
    "shortwave_w_m2",
    "rain_mm",
    "thunder_chance_percent",
    "lightning_level",
    "weather_code",
    "red_flag",
)
_CAUSES = {
    "air_temperature_c": Missing.AIR_TEMPERATURE,
    "dew_point_c": Missing.DEW_POINT,
    "wind_speed_m_s": Missing.WIND,
    "rain_mm": Missing.RAIN,
}


@dataclass(frozen=True)
class NightPlan:
    """Nights of one series, each array (nights,); rows count from the lane's first hour.

    Attributes
    ----------
    evening
        Local date of the evening.
    first
        Index in the series of the lane's first hour; may lie outside it.
    starts
        Rows at which the windrow may start in equilibrium: 14:00 of the day
        before and of the evening, (nights, 2).
    turn
        Quarter of 14:00 of the evening.
    window
        First and one-past-last quarter of sunset to four hours after sunrise,
        (nights, 2); both 0 where the sun does not set.
    clock
        Place of each whole hour from `turn` on in a day that begins at 14:00
        local, (nights, 25); -1 beyond 14:00 of the next day.
    """

    evening: Times
    first: NDArray[np.int64]
    starts: NDArray[np.int64]
    turn: NDArray[np.int64]
    window: NDArray[np.int64]
    clock: NDArray[np.int64]

    def only(self, chosen: Booleans | slice) -> NightPlan:
        """Some of the nights."""
        return NightPlan(**{item.name: getattr(self, item.name)[chosen] for item in fields(self)})


def evenings_between(first: date, last: date, months: Sequence[int]) -> list[date]:
    """Evenings from `first` to `last` that lie in the months asked for."""
    days = (first + timedelta(days=number) for number in range((last - first).days + 1))
    return [day for day in days if day.month in months]


def years_with_hours(times: Times, months: Sequence[int]) -> list[int]:
    """Years of which more than a day of the hours `times` (UTC) lies in these months, in order."""
    number = times.astype("datetime64[M]").astype(np.int64)
    wanted = number[np.isin(number % 12 + 1, months)]
    years, hours = np.unique(wanted // 12 + 1970, return_counts=True)
    return [int(year) for year in years[hours > 24]]


def plan_nights(
    series: HourlyWeather,
    timezone: str,
    latitude: float,
    longitude: float,
    evenings: Sequence[date],
) -> NightPlan:
    """Where the nights of some evenings lie in a series of one lane.

    Parameters
    ----------
    series
        Hours, (hours, 1).
    timezone, latitude, longitude
        Of the site.
    evenings
        Local dates.
    """
    one = timedelta(days=1)
    turns = {
        day: turn_of(day, timezone)
        for evening in evenings
        for day in (evening - one, evening, evening + one)
    }
    before, turn, after = (
        np.array([turns[day + shift * one] for day in evenings], dtype="datetime64[s]")
        for shift in (-1, 0, 1)
    )
    begin = series.start[0]
    first = ((before - begin) // HOUR).astype(np.int64)
    start = begin + first * HOUR
    starts = np.stack([-((start - before) // HOUR), -((start - turn) // HOUR)], axis=1)
    quarter = ((turn - start) // QUARTER).astype(np.int64)
    return NightPlan(
        evening=np.array(evenings, dtype="datetime64[D]"),
        first=first,
        starts=starts.astype(np.int64),
        turn=quarter,
        window=_windows(start, quarter, latitude, longitude),
        clock=_clock(start - (-quarter // QUARTERS) * HOUR, after, timezone),
    )


def move_plan(
    plan: NightPlan, begin: np.datetime64, latitude: float, longitude: float
) -> NightPlan:
    """The same nights at another place of the same clock: only sun times differ.

    Parameters
    ----------
    plan
        Nights of a series that begins at `begin`.
    begin
        UTC.
    latitude, longitude
        Of the other place.
    """
    start = begin + plan.first * HOUR
    return replace(plan, window=_windows(start, plan.turn, latitude, longitude))


def _windows(
    start: Times, turn: NDArray[np.int64], latitude: float, longitude: float
) -> NDArray[np.int64]:
    """First and one-past-last quarter of each night, (nights, 2), from the sun's center."""
    rows = turn + np.arange(_SEARCHED + 1)[:, None]
    up = np.asarray(sun_elevation(start + rows * QUARTER, latitude, longitude) > 0)
    sets = np.asarray(up[:-1] & ~up[1:])
    sunset = np.where(sets.any(axis=0), sets.argmax(axis=0) + 1, _SEARCHED)
    rises = np.asarray(up & (np.arange(_SEARCHED + 1)[:, None] > sunset))
    sunrise = rises.argmax(axis=0)
    there = np.asarray(sets.any(axis=0) & rises.any(axis=0))
    window = np.stack([turn + sunset, turn + sunrise + QUARTERS * AFTER_SUNRISE_H], axis=1)
    window[:, 1] = np.minimum(window[:, 1], turn + _SEARCHED - QUARTERS)
    return np.where(there[:, None], window, 0)


def _clock(start: Times, after: Times, timezone: str) -> NDArray[np.int64]:
    """Place of 25 hours from `start` on in a day that begins at 14:00 local, (nights, 25)."""
    times = start[:, None] + np.arange(25) * HOUR
    places = (_local_hours(times, timezone) - 14) % 24
    return np.where(times < after[:, None], places, -1)


def _local_hours(times: Times, timezone: str) -> NDArray[np.int64]:
    """Hour of the local clock, each different time worked out once."""
    unique, back = np.unique(times, return_inverse=True)
    return local_hour(unique, timezone)[back].reshape(times.shape)


def cut_lanes(series: HourlyWeather, plan: NightPlan) -> HourlyWeather:
    """The hours of each night as a lane, (LANE_HOURS, nights), with the columns of all lanes.

    The wind is brought to 2 m; a column that the series has not is blank, rain
    that it has not is none, so that lanes of all sites fit side by side. Hours
    outside the series are blank.
    """
    rows = plan.first + np.arange(LANE_HOURS)[:, None]
    inside = (rows >= 0) & (rows < series.hours)
    index = np.clip(rows, 0, series.hours - 1)
    columns = {name: _cut(series.get(name), index, inside) for name in LANE_COLUMNS}
    if series.get("rain_mm") is None:
        columns["rain_mm"] = np.zeros(rows.shape)
    wind = columns["wind_speed_m_s"]
    columns["wind_speed_m_s"] = wind_at_two_meters(wind, series.wind_height_m)
    start = series.start[0] + plan.first * HOUR
    return HourlyWeather(start, columns, 2.0, series.source)


def _cut(column: Floats | None, index: NDArray[np.int64], inside: Booleans) -> Floats:
    """One column as lanes, blank outside the series or where it has none."""
    if column is None:
        return np.full(index.shape, np.nan)
    return np.where(inside, column[index, 0], np.nan)


def begins_of(plan: NightPlan) -> Booleans:
    """Rows at which each lane may start in equilibrium, (LANE_HOURS, nights)."""
    rows = np.arange(LANE_HOURS)[:, None]
    return np.asarray((rows == plan.starts[:, 0]) | (rows == plan.starts[:, 1]))


def rain_before(series: HourlyWeather, plan: NightPlan) -> tuple[Floats, Booleans]:
    """Rain of the 48 hours before each sunset [mm], and True where some of it is unknown."""
    rain = series.get("rain_mm")
    count = plan.evening.size
    if rain is None:
        return np.zeros(count), np.zeros(count, dtype=bool)
    past = plan.first + plan.window[:, 0] // QUARTERS
    rows = past + np.arange(-RAIN_HOURS, 0)[:, None]
    inside = np.asarray((rows >= 0) & (rows < series.hours))
    fallen = _cut(rain, np.clip(rows, 0, series.hours - 1), inside)
    return np.nansum(fallen, axis=0), np.asarray(np.isnan(fallen).any(axis=0))


def causes_of(series: HourlyWeather, plan: NightPlan) -> NDArray[np.int16]:
    """What is blank between 14:00 and the end of each night, as `Missing`, (nights,)."""
    rows = np.arange(LANE_HOURS)[:, None]
    needed = (rows >= plan.turn // QUARTERS) & (rows <= -(-plan.window[:, 1] // QUARTERS))
    index = plan.first + rows
    inside = (index >= 0) & (index < series.hours)
    index = np.clip(index, 0, series.hours - 1)
    causes = np.zeros(plan.evening.size, dtype=np.int16)
    for name, cause in _CAUSES.items():
        column = series.get(name)
        if column is not None:
            blank = np.isnan(column[index, 0]) & inside & needed
            causes[blank.any(axis=0)] |= cause
    causes[(needed & ~inside).any(axis=0)] |= Missing.NO_HOURS
    causes[plan.window[:, 1] == 0] |= Missing.NO_SUNSET
    return causes
