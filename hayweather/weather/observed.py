"""What one station measured, at its own times: what readers of stations hand over.

A station may lack columns that a forecast needs (a thermo-hygrometer knows no wind);
what is missing is NaN, and stays so. Its values are instants at `times`, its rain sums of
whole hours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from hayweather.weather.record import (
    HOUR,
    NEEDED,
    Booleans,
    Floats,
    HourlyWeather,
    Source,
    Times,
)
from hayweather.words import Remark

INSTANTS = (*NEEDED, "cloud_fraction")
"""Columns of `Observed`, names of `HourlyWeather`; rain stands apart."""
STALE = np.timedelta64(2 * 3600, "s")
"""A last value this old says nothing of now (assumed)."""
AROUND = np.timedelta64(1800, "s")
LONGEST_BRIDGE = np.timedelta64(5400, "s")


@dataclass(frozen=True)
class SensorError:
    """How far a station may be off the air over the field, standard errors (assumed).

    Attributes
    ----------
    lasting
        The same at all its times: calibration, shield, siting; in the column's unit,
        for wind of its logarithm.
    passing
        New with every value.
    each_km, each_m
        Added to `lasting` for each kilometer away, and each meter higher or lower.
    """

    lasting: float
    passing: float
    each_km: float = 0.0
    each_m: float = 0.0

    def lasting_at(self, km: float, meters: float) -> float:
        """The lasting error of a station so far away and so much higher or lower."""
        return float(np.hypot(self.lasting, self.each_km * km + self.each_m * abs(meters)))


SENSOR_ERRORS = {
    "air_temperature_c": SensorError(0.4, 0.2, 0.03, 0.004),
    "dew_point_c": SensorError(0.6, 0.3, 0.03, 0.003),
    "wind_speed_m_s": SensorError(0.3, 0.2, 0.01, 0.0005),
    "cloud_fraction": SensorError(0.15, 0.15, 0.005, 0.0),
}
"""0.2 to 0.5 K and 2 to 3 % humidity are what makers of good thermo-hygrometers state, which is
0.5 to 0.6 K of dew point; distance and height as air differs in calm valleys (assumed)."""


@dataclass(frozen=True, repr=False)
class Observed:
    """What one station measured.

    Attributes
    ----------
    station
        As people call it.
    times
        UTC, rising, ``datetime64[s]``, (rows,).
    columns
        ``{name of INSTANTS: (rows,)}``, only those that it measures.
    rain_start, rain_mm
        UTC start of the first hour of rain, and rain of each hour, (hours,); NaN where an
        hour was not wholly measured. None where there is no gauge.
    wind_height_m
        Of its wind above the ground.
    official
        True for an observing station of a weather service.
    away_km, higher_m
        From the field, and above it; 0 where nobody says.
    fills_only
        True where it serves only hours that no forecast has.
    notes
        What was left out or assumed of it, for people.
    refused
        Why all of it is left out; None where it serves.
    """

    station: str
    times: Times
    columns: Mapping[str, Floats]
    rain_start: np.datetime64 | None = None
    rain_mm: Floats = field(default_factory=lambda: np.zeros(0))
    wind_height_m: float = 2.0
    official: bool = False
    away_km: float = 0.0
    higher_m: float = 0.0
    fills_only: bool = False
    notes: tuple[Remark, ...] = ()
    refused: Remark | None = None

    def __post_init__(self) -> None:
        wrong = {name for name, values in self.columns.items() if values.shape != self.times.shape}
        unknown = set(self.columns) - set(INSTANTS)
        if wrong or unknown:
            raise ValueError(f"columns of another length {wrong}, unknown {unknown}")
        if self.times.size > 1 and not (np.diff(self.times) > np.timedelta64(0, "s")).all():
            raise ValueError("times do not rise")

    @property
    def last(self) -> np.datetime64 | None:
        """Time of the last value of the air; None where there is none."""
        known = self.known("air_temperature_c") & self.known("dew_point_c")
        return self.times[known][-1] if known.any() else None

    def known(self, name: str) -> Booleans:
        """Where a column has a value, (rows,)."""
        values = self.columns.get(name)
        return np.zeros(self.times.size, dtype=bool) if values is None else ~np.isnan(values)

    def is_stale(self, now: np.datetime64) -> bool:
        """Whether nothing of the air is newer than two hours."""
        return self.last is None or bool(now - self.last >= STALE)

    def until(self, now: np.datetime64) -> Observed:
        """Without anything after a time."""
        kept = self.times <= now
        rain = self.rain_mm
        if self.rain_start is not None:
            rain = rain[: max(int((now - self.rain_start) // HOUR), 0)]
        columns = {name: values[kept] for name, values in self.columns.items()}
        return replace(self, times=self.times[kept], columns=columns, rain_mm=rain)

    def without(self, where: Booleans, *names: str) -> Observed:
        """With the rows of some columns blank."""
        columns = {
            name: np.where(where, np.nan, values) if name in names else values
            for name, values in self.columns.items()
        }
        return replace(self, columns=columns)

    def left_out(self, why: Remark) -> Observed:
        """All of it left out, and why."""
        return replace(self, refused=why)

    def on_hours(self, first: np.datetime64, count: int) -> dict[str, Floats]:
        """Its values at the start of so many hours, its rain over them, (hours,); NaN unknown.

        The mean over half an hour before and after where it measures more often than
        every 50 minutes, less of it at the end; else on a line between two values no
        more than 90 minutes apart.

        Parameters
        ----------
        first
            UTC start of the first hour.
        count
            How many.
        """
        hours = first + np.arange(count) * HOUR
        found = {}
        for name in self.columns:
            known = self.known(name)
            times, values = self.times[known], self.columns[name][known]
            found[name] = _on_hours(times, values, hours)
        if self.rain_start is not None:
            rows = ((hours - self.rain_start) // HOUR).astype(np.int64)
            there = (rows >= 0) & (rows < self.rain_mm.size)
            rain = np.full(count, np.nan)
            rain[there] = self.rain_mm[rows[there]]
            found["rain_mm"] = rain
        return found

    def as_weather(self) -> HourlyWeather | None:
        """Its whole hours as weather, for the judge; None where it has none."""
        if not self.times.size:
            return None
        first = -((-self.times[0].astype("datetime64[s]").astype(np.int64)) // 3600)
        last = self.times[-1].astype("datetime64[s]").astype(np.int64) // 3600
        count = int(last - first) + 1
        if count < 2:
            return None
        begin = np.datetime64(int(first) * 3600, "s")
        columns = {name: np.full((count, 1), np.nan) for name in NEEDED}
        columns |= {
            name: values[:, None]
            for name, values in self.on_hours(begin, count).items()
            if not np.isnan(values).all()
        }
        source = Source(self.station, measured=True)
        return HourlyWeather(np.array([begin]), columns, self.wind_height_m, source)

    def __repr__(self) -> str:
        last = "nothing" if self.last is None else f"until {self.last}Z"
        return f"<Observed {self.station}: {', '.join(self.columns)}, {last}>"


def _on_hours(times: Times, values: Floats, hours: Times) -> Floats:
    """Instants at the start of each hour, see `Observed.on_hours`."""
    found = np.full(hours.size, np.nan)
    if not times.size:
        return found
    step = np.median(np.diff(times).astype(np.int64)) if times.size > 1 else 3600
    right = np.clip(np.searchsorted(times, hours), 0, times.size - 1)
    left = np.maximum(right - 1, 0)
    exact = times[right] == hours
    width = times[right] - times[left]
    between = (times[left] <= hours) & (hours <= times[right]) & (width <= LONGEST_BRIDGE)
    between &= width > np.timedelta64(0, "s")
    share = np.where(between, (hours - times[left]) / np.maximum(width, np.timedelta64(1, "s")), 0)
    line = values[left] + share * (values[right] - values[left])
    found = np.where(exact, values[right], np.where(between, line, np.nan))
    if step >= 3000:
        return found
    sums = np.concatenate([[0.0], np.cumsum(values)])
    for row in np.flatnonzero(~np.isnan(found)):
        half = min(AROUND, times[-1] - hours[row], hours[row] - times[0])
        low = int(np.searchsorted(times, hours[row] - half))
        high = int(np.searchsorted(times, hours[row] + half, side="right"))
        if high - low > 2:
            found[row] = (sums[high] - sums[low]) / (high - low)
    return found
