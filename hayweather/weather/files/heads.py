"""The facts in a layout's head, checked, and stitched years brought into one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta

import numpy as np

from hayweather.weather.files.stamps import FARTHEST_OFFSET, stamps_of_parts
from hayweather.weather.files.table import Place
from hayweather.weather.files.text import FileText
from hayweather.weather.record import Times

COMMON_YEAR = 2015
LEAP_YEAR = 2016
"""Years that stitched months are put into: they have no date of their own."""
FACTS: dict[str, float] = {
    "latitude": 90.0,
    "longitude": 180.0,
    "elevation": 9000.0,
    "time zone": FARTHEST_OFFSET / timedelta(hours=1),
    "utc_offset_seconds": FARTHEST_OFFSET / timedelta(seconds=1),
    "time offset": 24.0,
}
"""Numbers of heads, and how far from 0 each may lie: degrees, degrees, m, h, s, h."""


def read_place(
    file: FileText,
    line: int,
    latitude: str,
    longitude: str,
    elevation: str | None,
    station: str = "",
) -> Place:
    """The place that a head names in one line; an elevation of None is not known.

    Raises
    ------
    WeatherFileError
        If it is no place on Earth.
    """
    return Place(
        head_number(file, line, latitude, "latitude"),
        head_number(file, line, longitude, "longitude"),
        None if elevation is None else head_number(file, line, elevation, "elevation"),
        stations=(station.strip(),) if station.strip() else (),
    )


def head_number(file: FileText, line: int, text: str, fact: str) -> float:
    """The number of one of `FACTS` in a file's head.

    Raises
    ------
    WeatherFileError
        If it is none, or beyond what is possible.
    """
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) <= FACTS[fact]:
        raise file.error("weather_head_line", line, fact=fact, value=text.strip()[:40])
    return value


def one_year(
    file: FileText, lines: Sequence[int], parts: Mapping[str, Sequence[float]]
) -> tuple[Times, bool]:
    """Clock readings with stitched years brought into one; whether they were stitched.

    Rows of a single year keep it.
    """
    years = set(parts["year"])
    if len(years) <= 1:
        return stamps_of_parts(file, lines, parts), False
    leap = any(
        month == 2 and day == 29 for month, day in zip(parts["month"], parts["day"], strict=True)
    )
    year = float(LEAP_YEAR if leap else COMMON_YEAR)
    parts = {**parts, "year": np.full(len(lines), year).tolist()}
    return stamps_of_parts(file, lines, parts), True
