"""Writing a record as a plain file that reads back to the same numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TextIO

import numpy as np

from hayweather.weather.files.notes import OWN_MARK, OWN_VERSION
from hayweather.weather.record import Floats, HourlyWeather


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
