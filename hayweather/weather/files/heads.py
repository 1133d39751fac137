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


def read_place(
    file: FileText,
    line: int,
    latitude: str,
    longitude: str,
    elevation: str | None,
    station: str = "",
) -> Place:
    """The place that a head names; an elevation of None is not known.

    Raises
    ------
    WeatherFileError
        If it is no place on Earth.
    """
    return Place(
        head_number(file, line, latitude, "latitude", limit=90.0),
        head_number(file, line, longitude, "longitude", limit=180.0),
        None if elevation is None else head_number(file, line, elevation, "elevation", limit=9e3),
        stations=(station.strip(),) if station.strip() else (),
    )


def read_offset(file: FileText, line: int, text: str) -> float:
    """Hours east of UTC that a head names.

    Raises
    ------
    WeatherFileError
        If there is no such offset.
    """
    return head_number(file, line, text, "time zone", limit=FARTHEST_OFFSET / timedelta(hours=1))


def head_number(file: FileText, line: int, text: str, fact: str, *, limit: float) -> float:
    """A number of a file's head, from ``-limit`` to `limit`.

    Raises
    ------
    WeatherFileError
        If it is none, or beyond the limit.
    """
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) <= limit:
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
