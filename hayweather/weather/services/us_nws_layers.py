"""Layers of the US National Weather Service grid, unfolded to hours.

A layer is a list of intervals with a value each: equal neighbors are merged,
rain is the sum over its interval, and the clock of a layer may run some
minutes past the hour. Foreign names end in this module.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np

from hayweather.weather.catalog import US_NWS
from hayweather.weather.record import NEEDED, Floats
from hayweather.weather.services.body import (
    elevation_or_none,
    expect_list,
    expect_mapping,
    number_or_none,
)
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.values import HUMIDITY, Variable, number_array, to_column

SERVICE = US_NWS.label

LAYERS: dict[str, Variable] = {
    "temperature": Variable("air_temperature_c", "temperature"),
    "relativeHumidity": Variable(HUMIDITY, "percent"),
    "dewpoint": Variable("dew_point_c", "temperature"),
    "windSpeed": Variable("wind_speed_m_s", "wind_speed"),
    "windGust": Variable("wind_gust_m_s", "wind_speed"),
    "skyCover": Variable("cloud_fraction", "percent", 0.01),
    "quantitativePrecipitation": Variable("rain_mm", "rain"),
    "probabilityOfPrecipitation": Variable("rain_chance_percent", "percent"),
    "probabilityOfThunder": Variable("thunder_chance_percent", "percent", unit_if_none="%"),
    "lightningActivityLevel": Variable("lightning_level"),
    "redFlagThreatIndex": Variable("red_flag"),
}
UNITS = {
    "degC": "°C",
    "degF": "°F",
    "percent": "%",
    "km_h-1": "km/h",
    "m_s-1": "m/s",
    "kt": "kn",
    "mm": "mm",
    "m": "m",
}
HOUR_S = 3600
LONGEST_HOURS = 24 * 30

_DURATION = re.compile(r"P(?:(\d{1,3})D)?(?:T(?:(\d{1,4})H)?(?:(\d{1,4})M)?(?:(\d{1,5})S)?)?")


class Interval(NamedTuple):
    """A stretch of time [s since 1970, UTC] and where its value stands in the layer."""

    start_s: int
    end_s: int


class Layer(NamedTuple):
    """A layer on whole hours: hour numbers since 1970 and values in our unit."""

    first: Sequence[int]
    last: Sequence[int]
    values: Floats
    minutes_past: int


@dataclass(frozen=True)
class Grid:
    """The hours of a grid answer.

    Attributes
    ----------
    start
        UTC start of the first hour, ``datetime64[s]``.
    columns
        ``{column: values (hours, 1)}``.
    minutes_past
        How far the clock of the answer ran past the hour [min].
    issued
        When the forecast was made, None when not said.
    elevation_m
        Of the grid cell, None when not said.
    place
        Latitude and longitude of the middle of its polygon, None when not said.
    """

    start: np.datetime64
    columns: Mapping[str, Floats]
    minutes_past: int
    issued: np.datetime64 | None
    elevation_m: float | None
    place: tuple[float, float] | None = None


def read_grid(answer: object) -> Grid:
    """The hours in the JSON of a grid answer.

    Raises
    ------
    ServiceError
        If parts are absent or of the wrong kind, or a time, unit or value is
        unfit.
    """
    top = expect_mapping(answer, "grid", SERVICE)
    properties = expect_mapping(top.get("properties"), "properties", SERVICE)
    layers = _layers(properties)
    first, last = _span(layers)
    columns = {
        column: _hours(layer, column, first, last)[:, None] for column, layer in layers.items()
    }
    return Grid(
        start=np.datetime64(first * HOUR_S, "s"),
        columns=columns,
        minutes_past=max(layer.minutes_past for layer in layers.values() if layer.first),
        issued=_issued(properties.get("updateTime")),
        elevation_m=_elevation(properties.get("elevation")),
        place=_center(top.get("geometry")),
    )


def _layers(properties: Mapping[str, object]) -> dict[str, Layer]:
    """The layers that have values; an empty one is as good as absent, but for rain.

    An empty layer of rain is not "no rain": its hours are not known.
    """
    layers = {}
    for name, variable in LAYERS.items():
        if name not in properties:
            continue
        part = expect_mapping(properties[name], name, SERVICE)
        entries = expect_list(part.get("values"), name, SERVICE)
        if entries:
            layers[variable.column] = _layer(part.get("uom"), entries, name, variable)
        elif variable.column == "rain_mm":
            layers[variable.column] = Layer((), (), np.zeros(0), 0)
    return layers


def _layer(uom: object, entries: Sequence[object], name: str, variable: Variable) -> Layer:
    """One layer with its intervals on whole hours."""
    rows = [expect_mapping(entry, name, SERVICE) for entry in entries]
    intervals = [_interval(row.get("validTime")) for row in rows]
    order = sorted(range(len(rows)), key=lambda index: intervals[index])
    numbers = number_array([rows[index].get("value") for index in order], name, SERVICE)
    unit = None if uom is None else str(uom).rpartition(":")[2]
    values = to_column(numbers, variable, UNITS.get(unit or "", unit), name, SERVICE)
    past = _minutes_past([intervals[index] for index in order])
    return Layer(
        [_nearest_hour(intervals[index].start_s, past) for index in order],
        [_nearest_hour(intervals[index].end_s, past) for index in order],
        values,
        past,
    )


def _interval(text: object) -> Interval:
    """Start and end of ``2024-02-20T11:00:00+00:00/PT3H``."""
    start_text, _, duration_text = text.partition("/") if isinstance(text, str) else ("", "", "")
    match = _DURATION.fullmatch(duration_text)
    try:
        start = datetime.fromisoformat(start_text)
    except ValueError:
        match = None
    if match is None or start.tzinfo is None:
        raise ServiceError("service_times", SERVICE)
    days, hours, minutes, seconds = (int(part or 0) for part in match.groups())
    length = timedelta(days=days, hours=hours, minutes=minutes, seconds=seconds)
    start_s = int(start.timestamp())
    return Interval(start_s, start_s + int(length.total_seconds()))


def _minutes_past(intervals: Sequence[Interval]) -> int:
    """Minutes past the hour at which most intervals start; -29 to 30."""
    minutes = Counter(round(interval.start_s % HOUR_S / 60) % 60 for interval in intervals)
    most = minutes.most_common(1)[0][0]
    return most if most <= 30 else most - 60


def _nearest_hour(time_s: int, minutes_past: int) -> int:
    """Hours since 1970 of a time, by a clock that runs some minutes past the hour."""
    return int((time_s - minutes_past * 60 + HOUR_S // 2) // HOUR_S)


def _span(layers: Mapping[str, Layer]) -> tuple[int, int]:
    """First hour and the hour after the last that any needed layer speaks of."""
    needed = [layers[name] for name in NEEDED if name in layers]
    if not needed:
        raise ServiceError("service_lacks", SERVICE, name=NEEDED[0])
    first = min(min(layer.first) for layer in needed)
    last = max(max(layer.last) for layer in needed)
    if not 0 < last - first <= LONGEST_HOURS:
        raise ServiceError("service_times", SERVICE)
    return first, last


def _hours(layer: Layer, column: str, first: int, last: int) -> Floats:
    """Values of the hours `first` to ``last - 1``, NaN where the layer is silent.

    An interval holds from its start, or from the end of the one before it
    where they overlap, so that no hour counts twice; rain is spread evenly.
    """
    hours = np.full(last - first, np.nan)
    free = first
    for begin, end, value in zip(layer.first, layer.last, layer.values, strict=True):
        share = value / max(end - begin, 1) if column == "rain_mm" else value
        since = max(begin, free)
        hours[since - first : max(min(end, last), since) - first] = share
        free = max(free, end)
    return hours


def _issued(text: object) -> np.datetime64 | None:
    try:
        issued = datetime.fromisoformat(text if isinstance(text, str) else "")
    except ValueError:
        return None
    return np.datetime64(int(issued.timestamp()), "s") if issued.tzinfo else None


def _elevation(part: object) -> float | None:
    """Elevation in meters; in another unit it counts as not said."""
    if not isinstance(part, Mapping) or str(part.get("unitCode")).rpartition(":")[2] != "m":
        return None
    return elevation_or_none(part.get("value"))


MOST_CORNERS = 100


def _center(geometry: object) -> tuple[float, float] | None:
    """Latitude and longitude of the middle of a polygon; None for any other shape."""
    if not isinstance(geometry, Mapping) or geometry.get("type") != "Polygon":
        return None
    rings = geometry.get("coordinates")
    ring = rings[0] if isinstance(rings, list) and rings else None
    if not isinstance(ring, list) or not 3 <= len(ring) <= MOST_CORNERS:
        return None
    corners = [
        (number_or_none(corner[1]), number_or_none(corner[0]))
        for corner in ring
        if isinstance(corner, list) and len(corner) >= 2
    ]
    known = np.array([pair for pair in corners if None not in pair], dtype=np.float64)
    if len(known) != len(ring):
        return None
    low, high = known.min(axis=0), known.max(axis=0)
    latitude, longitude = (low + high) / 2
    return float(latitude), float(longitude)
