"""ISD-Lite, hourly station weather of the world: twelve columns of whole numbers, UTC.

Tenths of C, hPa, m/s and mm; -9999 is missing, -1 in the rain a trace. Instants
stand at the stamp, rain fell in the hour before it (NOAA, ISD-Lite format
documentation of 2006, from memory).
"""

from __future__ import annotations

import re

import numpy as np

from hayweather.weather.files.cells import BLANK, Cells, read_cells
from hayweather.weather.files.coded import Code, column_of, hour_of
from hayweather.weather.files.numbers import numbers
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.stamps import stamps_of_parts
from hayweather.weather.files.table import Clock, FileColumn, FileTable, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.quality import counted
from hayweather.weather.record import Floats

NAME = "isd-lite"
_ROW = re.compile(r"\s*\d{4}\s+\d{1,2}\s+\d{1,2}\s+\d{1,2}(?:\s+-?\d+){8}\s*", re.ASCII)
_TIME = ("year", "month", "day", "hour")
_MISSING = (-9999.0,)
_SKY, _RAIN = 9, 10
_CODES: dict[int, tuple[str, Code]] = {
    4: ("air temperature", Code("air_temperature_c", "C", 0.1)),
    5: ("dew point", Code("dew_point_c", "C", 0.1)),
    6: ("sea level pressure", Code("sea_level_pressure_kpa", "hPa", 0.1)),
    8: ("wind speed", Code("wind_speed_m_s", "m/s", 0.1)),
    _SKY: ("sky condition", Code("cloud_fraction", "oktas")),
    _RAIN: ("rain in 1 hour", Code("rain_mm", "mm", 0.1)),
}
_UNUSED = ("wind direction", "rain in 6 hours")
_OKTAS = {9: 8.0, 10: np.nan, 11: 2.0, 12: 4.0, 13: 4.0, 14: 6.0, 15: 6.0, 16: 6.0, 17: 8.0,
          18: 8.0, 19: 8.0}  # fmt: skip
"""Codes beyond 8 oktas: obscured sky, then scattered, broken and overcast by thickness."""


def matches(file: FileText) -> bool:
    """Whether the first row is twelve whole numbers that begin with a date and an hour."""
    first = next((line for line in file.lines if line.strip()), "")
    return _ROW.fullmatch(first) is not None


def read_isd_lite(file: FileText, options: ReadOptions) -> FileTable:
    """Read an ISD-Lite file.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    cells = read_cells(file, 0, BLANK, 12, [0, 1, 2, 3, *_CODES])
    parts = {
        name: numbers(file, cells.lines, cells.columns[i], name).tolist()
        for i, name in enumerate(_TIME)
    }
    stamps = stamps_of_parts(file, cells.lines, parts)
    hour, origin = hour_of(options, "end")
    rain = _numbers(file, cells, _RAIN)
    trace = rain == -1.0
    return FileTable(
        Shape(NAME, BLANK),
        Clock("UTC", "layout", hour, origin),
        np.array(cells.lines, dtype=np.int64),
        stamps,
        tuple(_column(file, cells, index) for index in _CODES),
        10.0,
        unused=_UNUSED,
        repairs=counted("trace_as_none", "rain_mm", trace, stamps, cells.lines),
    )


def _numbers(file: FileText, cells: Cells, index: int) -> Floats:
    name = _CODES[index][0]
    return numbers(file, cells.lines, cells.columns[index], name, missing_values=_MISSING)


def _column(file: FileText, cells: Cells, index: int) -> FileColumn:
    """One column; sky codes become oktas, a trace of rain none."""
    name, code = _CODES[index]
    values = _numbers(file, cells, index)
    if index == _RAIN:
        values = np.where(values == -1.0, 0.0, values)
    if index == _SKY:
        for sky, oktas in _OKTAS.items():
            values = np.where(values == sky, oktas, values)
    return column_of(name, code, values)
