"""Hours from a service as a table and as JSON, and what should be known of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from hayweather.show.layout import bullets
from hayweather.show.table import json_text
from hayweather.show.voice import Voice, phrases
from hayweather.show.weather_facts import source_text
from hayweather.units import format_shown, symbol_of
from hayweather.weather.record import HourlyWeather
from hayweather.words import Remark

SCHEMA = "hayweather/fetch/1"
TIME_WIDTH = 16
GAP = 2


class _Column(NamedTuple):
    """A column of the table: text of its heading, quantity, from our unit to the quantity's."""

    heading: str
    quantity: str
    scale: float = 1.0


COLUMNS = {
    "air_temperature_c": _Column("fetch_air", "temperature"),
    "dew_point_c": _Column("fetch_dew_point", "temperature"),
    "wind_speed_m_s": _Column("fetch_wind", "wind_speed"),
    "rain_mm": _Column("fetch_rain", "rain"),
    "rain_chance_percent": _Column("fetch_rain_chance", "percent"),
    "thunder_chance_percent": _Column("fetch_thunder_chance", "percent"),
    "cloud_fraction": _Column("fetch_cloud", "percent", 100.0),
    "shortwave_w_m2": _Column("fetch_sun", "shortwave"),
    "wind_gust_m_s": _Column("fetch_gust", "wind_speed"),
    "pressure_kpa": _Column("fetch_pressure", "pressure"),
}
"""In the order in which they are shown while the line has room."""


def about_lines(weather: HourlyWeather, age_hours: float | None, voice: Voice) -> list[str]:
    """Source, age, licence, place, span, gaps and assumptions, each a line for people.

    Parameters
    ----------
    weather
        What came.
    age_hours
        Of the forecast; None where it has none.
    voice
        Language and units of the reader.
    """
    source = weather.source
    lines = [source_text(source.name, source.issued, source.fetched, age_hours, voice)]
    if source.stored:
        hours = "?" if age_hours is None else f"{age_hours:.0f}"
        lines += phrases([Remark("caution_stored", {"hours": hours})], voice)
    if source.attribution:
        lines.append(source.attribution)
    ends = (weather.start[0], weather.end[0])
    first, last = (f"{voice.local(time):%Y-%m-%d %H:%M}" for time in ends)
    lines.append(voice.say("fetch_span", hours=weather.hours, first=first, last=last))
    lines.append(_place(weather, voice))
    missing = int(weather.missing()[:, 0].sum())
    if missing:
        lines.append(voice.say("outlook_missing", count=missing))
    return [*lines, *phrases(weather.assumed, voice)]


def _place(weather: HourlyWeather, voice: Voice) -> str:
    """Zone and elevation of the place."""
    unknown = voice.say("fetch_unknown")
    height = weather.elevation_m
    elevation = unknown if height is None else voice.amount(round(height), "elevation")
    return voice.say("fetch_place", zone=weather.timezone or unknown, elevation=elevation)


def hours_text(weather: HourlyWeather, age_hours: float | None, voice: Voice, width: int) -> str:
    """The hours as a table in the reader's units and clock; as many columns as have room.

    Parameters
    ----------
    weather
        What came, one lane.
    age_hours
        Of the forecast; None where it has none.
    voice
        Language and units of the reader.
    width
        Letters in a line.
    """
    stamps = [f"{voice.local(time):%Y-%m-%d %H:%M}" for time in weather.times()[:, 0]]
    columns = [["", voice.say("fetch_time"), *stamps]]
    widths = [TIME_WIDTH]
    for name in COLUMNS:
        if name in weather.columns:
            cells = _cells(weather, name, voice)
            wide = GAP + max(map(len, cells))
            if sum(widths) + wide > width:
                break
            columns.append(cells)
            widths.append(wide)
    lines = [_line(row, widths) for row in zip(*columns, strict=True)]
    about = bullets(about_lines(weather, age_hours, voice), width)
    return "\n".join([*about, "", *lines]) + "\n"


def _cells(weather: HourlyWeather, name: str, voice: Voice) -> list[str]:
    """Heading, unit and numbers of one column; a dash where a number is missing."""
    column = COLUMNS[name]
    numbers = [
        "-" if math.isnan(value)
        else format_shown(value * column.scale, column.quantity, voice.units, with_unit=False)
        for value in weather.columns[name][:, 0].tolist()
    ]  # fmt: skip
    return [voice.say(column.heading), symbol_of(column.quantity, voice.units), *numbers]


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    """Cells side by side, the time to the left."""
    numbers = [cell.rjust(width) for cell, width in zip(cells[1:], widths[1:], strict=True)]
    return (cells[0].ljust(widths[0]) + "".join(numbers)).rstrip()


def hours_json(weather: HourlyWeather, age_hours: float | None, voice: Voice) -> str:
    """The hours as JSON with all digits, missing numbers null, times in UTC.

    Parameters
    ----------
    weather
        What came, one lane.
    age_hours
        Of the forecast; None where it has none.
    voice
        Language and units of the reader.
    """
    source = weather.source
    form = {
        "schema": SCHEMA,
        "latitude": weather.latitude,
        "longitude": weather.longitude,
        "elevation_m": weather.elevation_m,
        "timezone": weather.timezone,
        "wind_height_m": weather.wind_height_m,
        "weather": {
            "source": source.name,
            "issued": _stamp(source.issued),
            "fetched": _stamp(source.fetched),
            "age_hours": None if age_hours is None else round(age_hours, 4),
            "stored": source.stored,
            "attribution": source.attribution,
            "hours_missing": int(weather.missing()[:, 0].sum()),
            "assumed": phrases(weather.assumed, voice),
        },
        "hours": _hours(weather),
    }
    return json_text(form)


def _stamp(time: np.datetime64 | None) -> str | None:
    """A UTC time for data."""
    return None if time is None else f"{time.astype('datetime64[s]')}Z"


def _hours(weather: HourlyWeather) -> list[dict[str, Any]]:
    """Every hour with all its columns."""
    columns = {name: values[:, 0].tolist() for name, values in weather.columns.items()}
    return [
        {
            "start": _stamp(time),
            **{n: None if math.isnan(v[hour]) else v[hour] for n, v in columns.items()},
        }
        for hour, time in enumerate(weather.times()[:, 0])
    ]
