"""The hours in an answer of the open weather API.

Time stamps are hours; temperature, humidity, wind, cloud, pressure and weather
code hold at the stamp, while rain, shortwave, gusts and the chance of rain
speak of the hour before it. Foreign names end in this module.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from hayweather.weather.catalog import OPEN_METEO
from hayweather.weather.record import HOUR, Floats, Times
from hayweather.weather.services.body import (
    elevation_or_none,
    expect_list,
    expect_mapping,
    number_or_none,
)
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.values import HUMIDITY, Variable, number_array, to_column

SERVICE = OPEN_METEO.label

VARIABLES: dict[str, Variable] = {
    "temperature_2m": Variable("air_temperature_c", "temperature"),
    "relative_humidity_2m": Variable(HUMIDITY, "percent"),
    "dew_point_2m": Variable("dew_point_c", "temperature"),
    "wind_speed_10m": Variable("wind_speed_m_s", "wind_speed"),
    "wind_gusts_10m": Variable("wind_gust_m_s", "wind_speed", hour_before=True),
    "cloud_cover": Variable("cloud_fraction", "percent", 0.01),
    "shortwave_radiation": Variable("shortwave_w_m2", "shortwave", hour_before=True),
    "precipitation": Variable("rain_mm", "rain", hour_before=True),
    "precipitation_probability": Variable("rain_chance_percent", "percent", hour_before=True),
    "weather_code": Variable("weather_code"),
    "surface_pressure": Variable("pressure_kpa", "pressure"),
}
HOUR_BEFORE = {variable.column for variable in VARIABLES.values() if variable.hour_before}
OTHER_SPELLINGS = {"mp/h": "mph"}

# The longest name first, or "precipitation" would take "precipitation_probability".
_NAME = re.compile(
    "(?P<variable>" + "|".join(sorted(VARIABLES, key=len, reverse=True)) + ")"
    r"(?:_previous_day(?P<lead>\d+))?(?:_member(?P<member>\d+))?(?:_(?P<model>\w+))?"
)
_STAMP = re.compile(r"\d{4}-\d\d-\d\dT\d\d:00(?::00)?")


class Run(NamedTuple):
    """Which run a column belongs to: lead in days, member, model."""

    lead: int
    model: str
    member: int


@dataclass(frozen=True)
class Stamped:
    """Hours as the service stamps them, in our units.

    Attributes
    ----------
    start
        UTC time of the first stamp.
    hours
        Number of stamps, one an hour.
    columns
        ``{run: {column: values (hours,)}}``.
    latitude, longitude, elevation_m
        Of the grid cell, None when not said.
    timezone
        The zone the answer names.
    offset_s
        How far its stamps were ahead of UTC, as it said.
    """

    start: np.datetime64
    hours: int
    columns: Mapping[Run, Mapping[str, Floats]]
    latitude: float | None
    longitude: float | None
    elevation_m: float | None
    timezone: str | None
    offset_s: float = 0.0


def read_hours(answer: object) -> Stamped:
    """The hours in the JSON of an answer for one place.

    Raises
    ------
    ServiceError
        If parts are absent or of the wrong kind, hours do not follow one
        another, or a unit or value is unfit.
    """
    top = expect_mapping(answer, "place", SERVICE)
    hourly = expect_mapping(top.get("hourly"), "hourly", SERVICE)
    units = expect_mapping(top.get("hourly_units"), "hourly_units", SERVICE)
    stamps = _stamps(expect_list(hourly.get("time"), "time", SERVICE))
    zone = top.get("timezone")
    return Stamped(
        start=stamps[0] - _offset(top.get("utc_offset_seconds")),
        hours=len(stamps),
        columns=_columns(hourly, units, len(stamps)),
        latitude=number_or_none(top.get("latitude")),
        longitude=number_or_none(top.get("longitude")),
        elevation_m=elevation_or_none(top.get("elevation")),
        timezone=zone if isinstance(zone, str) else None,
        offset_s=float(_offset(top.get("utc_offset_seconds")) / np.timedelta64(1, "s")),
    )


def _stamps(texts: Sequence[object]) -> Times:
    """Time stamps, one an hour without gap, ``datetime64[s]``."""
    for text in texts:
        if not (isinstance(text, str) and _STAMP.fullmatch(text)):
            raise ServiceError("service_times", SERVICE)
    try:
        stamps = np.array(texts, dtype="datetime64[s]")
    except ValueError:
        stamps = np.array([], dtype="datetime64[s]")
    if stamps.size == 0 or np.any(np.diff(stamps) != HOUR):
        raise ServiceError("service_times", SERVICE)
    return stamps


def _offset(seconds: object) -> np.timedelta64:
    """The one offset that the service applied to all stamps; absent is none."""
    offset = 0.0 if seconds is None else number_or_none(seconds)
    if offset is None or offset % 3600:
        raise ServiceError("service_times", SERVICE)
    return np.timedelta64(int(offset), "s")


def _columns(
    hourly: Mapping[str, object], units: Mapping[str, object], hours: int
) -> dict[Run, dict[str, Floats]]:
    """Our columns of every run in the answer; names that are not asked for are passed over."""
    columns: dict[Run, dict[str, Floats]] = {}
    for name, values in hourly.items():
        match = _NAME.fullmatch(name)
        unit = units.get(name)
        if match is None or unit == "undefined":
            continue
        listed = expect_list(values, name, SERVICE)
        if len(listed) != hours:
            raise ServiceError("service_shape", SERVICE, part=name)
        variable = VARIABLES[match["variable"]]
        symbol = OTHER_SPELLINGS.get(str(unit), str(unit)) if unit is not None else None
        numbers = number_array(listed, name, SERVICE)
        run = Run(int(match["lead"] or 0), match["model"] or "", int(match["member"] or 0))
        column = to_column(numbers, variable, symbol, name, SERVICE)
        columns.setdefault(run, {})[variable.column] = column
    return columns


def join(pieces: Sequence[Stamped]) -> Stamped:
    """Pieces that follow one another, as one.

    Raises
    ------
    ServiceError
        If a piece does not begin where the one before it ends.
    """
    first = pieces[0]
    for before, after in pairwise(pieces):
        if before.start + before.hours * HOUR != after.start:
            raise ServiceError("service_times", SERVICE)
    runs = sorted({run for piece in pieces for run in piece.columns})
    return Stamped(
        start=first.start,
        hours=sum(piece.hours for piece in pieces),
        columns={run: _joined(pieces, run) for run in runs},
        latitude=first.latitude,
        longitude=first.longitude,
        elevation_m=first.elevation_m,
        timezone=first.timezone,
    )


def _joined(pieces: Sequence[Stamped], run: Run) -> dict[str, Floats]:
    """The columns of one run over all pieces, NaN where a piece lacks one."""
    parts = [(piece.columns.get(run, {}), np.full(piece.hours, np.nan)) for piece in pieces]
    names = {name for columns, _ in parts for name in columns}
    return {
        name: np.concatenate([columns.get(name, blank) for columns, blank in parts])
        for name in sorted(names)
    }


def lanes(stamped: Stamped, runs: Sequence[Run]) -> dict[str, Floats]:
    """Columns (hours, runs) on hour starts.

    What speaks of the hour before a stamp is moved to the start of that hour,
    so the last hour has no rain, shortwave, gust or chance of rain: NaN. A run
    that lacks a column has NaN there.
    """
    blank = np.full(stamped.hours, np.nan)
    names = {name for run in runs for name in _of(stamped, run)}
    stacked = {
        name: np.stack([_of(stamped, run).get(name, blank) for run in runs], axis=1)
        for name in sorted(names)
    }
    return {
        name: _moved_back(values) if name in HOUR_BEFORE else values
        for name, values in stacked.items()
    }


def _of(stamped: Stamped, run: Run) -> Mapping[str, Floats]:
    """Columns of a run, none when the answer has no such run."""
    return stamped.columns.get(run, {})


def _moved_back(values: Floats) -> Floats:
    """Values one hour earlier, NaN in the last."""
    return np.concatenate([values[1:], np.full((1, values.shape[1]), np.nan)])
