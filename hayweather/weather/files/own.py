"""Head lines ``# key: value``, which carry what columns cannot, read and written."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import NoReturn, TextIO

import numpy as np

from hayweather.weather.files.table import HourConvention, Place
from hayweather.weather.files.text import FileText
from hayweather.weather.record import Floats, HourlyWeather

OWN_MARK = "hayweather"
OWN_VERSION = "weather 1"
WIND_HEIGHT_LIMITS_M = (0.1, 300.0)


@dataclass(frozen=True)
class Notes:
    """What the head lines say.

    Attributes
    ----------
    own
        True for files written by this package.
    missing
        Numbers that stand for "missing" in this file.
    clock_zone
        Zone of the file's clock (``clock``), where a head line names it.
    """

    own: bool = False
    source: str | None = None
    attribution: str = ""
    issued: np.datetime64 | None = None
    fetched: np.datetime64 | None = None
    place: Place = field(default_factory=Place)
    wind_height_m: float | None = None
    hour: HourConvention | None = None
    clock_zone: str | None = None
    missing: tuple[float, ...] = ()
    typical_year: bool = False


def read_notes(file: FileText) -> Notes:
    """Read the head lines.

    Raises
    ------
    WeatherFileError
        If a known head line has a value that is no number or time.
    """
    said, lines = _pairs(file)
    reader = _Reader(file, said, lines)
    place = Place(
        reader.number("latitude", -90, 90),
        reader.number("longitude", -180, 180),
        reader.number("elevation_m", -500, 9000),
        said.get("timezone") or None,
    )
    return Notes(
        own=said.get(OWN_MARK) == OWN_VERSION,
        source=said.get("source") or None,
        attribution=said.get("attribution", ""),
        issued=reader.time("issued"),
        fetched=reader.time("fetched"),
        place=place,
        wind_height_m=reader.number("wind_height_m", *WIND_HEIGHT_LIMITS_M),
        hour=reader.hour(),
        clock_zone=said.get("clock") or None,
        missing=reader.numbers("missing"),
        typical_year=said.get("typical_year", "").casefold() in ("yes", "true"),
    )


def _pairs(file: FileText) -> tuple[dict[str, str], dict[str, int]]:
    """The head lines before the table, as keys and values, and where they stand."""
    said: dict[str, str] = {}
    lines: dict[str, int] = {}
    for number, line in enumerate(file.lines, start=1):
        if line[:1] != "#" and line and not line.isspace():
            break
        key, colon, value = line.partition(":")
        if colon:
            key = key.lstrip("# \t").strip().casefold()
            said[key], lines[key] = value.strip(), number
    return said, lines


@dataclass(frozen=True)
class _Reader:
    """Values of head lines, or an error that names the line."""

    file: FileText
    said: dict[str, str]
    lines: dict[str, int]

    def number(self, key: str, low: float, high: float) -> float | None:
        if not self.said.get(key):
            return None
        try:
            value = float(self.said[key])
        except ValueError:
            value = np.nan
        if not low <= value <= high:
            self._refuse(key)
        return value

    def numbers(self, key: str) -> tuple[float, ...]:
        try:
            return tuple(float(part) for part in self.said.get(key, "").split(",") if part.strip())
        except ValueError:
            self._refuse(key)

    def time(self, key: str) -> np.datetime64 | None:
        if not self.said.get(key):
            return None
        try:
            moment = datetime.fromisoformat(self.said[key])
            if moment.tzinfo is not None:
                moment = moment.astimezone(UTC).replace(tzinfo=None)
        except (ValueError, OverflowError):
            self._refuse(key)
        return np.datetime64(moment, "s")

    def hour(self) -> HourConvention | None:
        value = self.said.get("hour", "")
        if value in ("start", "center", "end"):
            return value  # type: ignore[return-value]
        if value:
            self._refuse("hour")
        return None

    def _refuse(self, key: str) -> NoReturn:
        value = self.said[key][:40]
        raise self.file.error("weather_head_line", self.lines[key], fact=key, value=value)


def write_weather_csv(weather: HourlyWeather, lane: int, stream: TextIO) -> None:
    """Write one lane: head lines ``# key: value``, a header, one row an hour.

    Numbers are written so that `read_weather_file` gives the same ones, bit for
    bit; a missing value is blank. Filled hours are marked in a column `repaired`.

    Parameters
    ----------
    lane
        Index of the lane.
    stream
        Open text file.
    """
    for key, value in _head(weather):
        stream.write(f"# {key}: {value}\n")
    names = list(weather.columns)
    columns = [_written(weather.columns[name][:, lane]) for name in names]
    marks = weather.repaired[:, lane]
    if marks.any():
        names.append("repaired")
        columns.append(["1" if mark else "0" for mark in marks])
    stream.write(",".join(["time_utc", *names]) + "\n")
    stamps = weather.times()[:, lane].astype("datetime64[s]")
    for stamp, *cells in zip(np.datetime_as_string(stamps), *columns, strict=True):
        stream.write(",".join([f"{stamp}Z", *cells]) + "\n")


def _head(weather: HourlyWeather) -> Iterator[tuple[str, str]]:
    """The facts that the columns cannot carry."""
    source = weather.source
    facts: dict[str, object] = {
        OWN_MARK: OWN_VERSION,
        "source": source.name,
        "issued": None if source.issued is None else f"{source.issued.astype('datetime64[s]')}Z",
        "fetched": None if source.fetched is None else f"{source.fetched.astype('datetime64[s]')}Z",
        "attribution": source.attribution or None,
        "latitude": weather.latitude,
        "longitude": weather.longitude,
        "elevation_m": weather.elevation_m,
        "timezone": weather.timezone,
        "wind_height_m": weather.wind_height_m,
        "typical_year": "yes" if weather.typical_year else None,
    }
    for key, value in facts.items():
        if value is not None:
            text = repr(float(value)) if isinstance(value, int | float) else str(value)
            yield key, " ".join(text.split())


def _written(values: Floats) -> list[str]:
    """Shortest texts that give the same floats; blank for missing."""
    return ["" if math.isnan(value) else repr(value) for value in values.tolist()]
