"""PVGIS, typical years of Europe and beyond: a head of about 16 lines, hours in UTC, a foot.

Each row is a moment; shortwave is that of the satellite image, some minutes
off the stamp as the head says, and stands for the hour around it. Wind at 10 m
(European Commission JRC, PVGIS user manual, from memory).
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from hayweather.weather import attribution
from hayweather.weather.files.cells import Cells, read_cells, split
from hayweather.weather.files.coded import Code, coded_column, hour_of, indexes_of, others
from hayweather.weather.files.heads import head_number, one_year
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.table import Clock, FileTable, Place, Shape
from hayweather.weather.files.text import FileText

NAME = "pvgis"
_CODES: dict[str, Code] = {
    "t2m": Code("air_temperature_c", "C"),
    "rh": Code("relative_humidity_percent", "%"),
    "g(h)": Code("shortwave_w_m2", "W/m2"),
    "ws10m": Code("wind_speed_m_s", "m/s"),
    "sp": Code("pressure_kpa", "Pa"),
}
_STAMP = re.compile(r"(\d{4})(\d{2})(\d{2}):(\d{2})(\d{2})", re.ASCII)
_HEAD_LINES = 40


def matches(file: FileText) -> bool:
    """Whether the head begins with the latitude and a row names the time in UTC."""
    return file.lines[0].startswith("Latitude (decimal degrees)") and any(
        line.startswith("time(UTC),") for line in file.lines[:_HEAD_LINES]
    )


def read_pvgis(file: FileText, options: ReadOptions) -> FileTable:
    """Read a typical year of PVGIS.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    header = next(i for i, line in enumerate(file.lines) if line.startswith("time(UTC),"))
    place, shift_s = _head(file, header)
    names = [cell.strip() for cell in split(file.lines[header], ",")]
    found = indexes_of(names, _CODES)
    cells = read_cells(file, header + 1, ",", len(names), [0, *found], stop_at_blank=True)
    stamps, _ = one_year(file, cells.lines, _parts(file, cells))
    hour, origin = hour_of(options, "center")
    columns = [coded_column(file, cells, i, names[i], code) for i, code in found.items()]
    return FileTable(
        Shape(NAME, ",", ".", header + 1),
        Clock("UTC", "file", hour, origin),
        np.array(cells.lines, dtype=np.int64),
        stamps,
        tuple(replace(c, shift_s=shift_s) if c.timing == "mean" else c for c in columns),
        10.0,
        unused=others(names, [0, *found]),
        place=place,
        attribution=attribution.PVGIS,
        typical_year=True,
    )


def _head(file: FileText, header: int) -> tuple[Place, int]:
    """The place, and seconds from the stamp to the satellite image."""
    facts: dict[str, tuple[int, str]] = {}
    for number, line in enumerate(file.lines[:header], start=1):
        key, colon, value = line.partition(":")
        if colon:
            facts[key.split("(")[0].strip().casefold()] = (number, value.strip())
    latitude, longitude, elevation_m = (
        head_number(file, *facts.get(fact, (1, "")), fact)
        for fact in ("latitude", "longitude", "elevation")
    )
    offset_h = head_number(file, *facts.get("irradiance time offset", (1, "0")), "time offset")
    return Place(latitude, longitude, elevation_m), round(3600 * offset_h)


def _parts(file: FileText, cells: Cells) -> dict[str, list[float]]:
    """Year to minute from ``YYYYMMDD:HHMM``."""
    parts: dict[str, list[float]] = {
        name: [] for name in ("year", "month", "day", "hour", "minute")
    }
    for line, text in zip(cells.lines, cells.columns[0], strict=True):
        match = _STAMP.fullmatch(text.strip())
        if match is None:
            raise file.error("weather_time_not_understood", line, value=text.strip()[:40])
        for name, digits in zip(parts, match.groups(), strict=True):
            parts[name].append(float(digits))
    return parts
