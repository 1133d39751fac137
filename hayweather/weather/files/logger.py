"""Data-logger files with four header lines: file, names, units, processing.

Stamps end their period. The fourth line says what a value is: ``Smp`` a sample
at the stamp, ``Avg`` a mean, ``Tot`` a sum over the period before it.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from hayweather.weather.files.cells import Cells, read_cells, split
from hayweather.weather.files.coded import hour_of
from hayweather.weather.files.columns import choose_columns, read_column
from hayweather.weather.files.headers import Header, read_header
from hayweather.weather.files.notes import read_notes
from hayweather.weather.files.numbers import MISSING_WORDS
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.table import FileColumn, FileTable, Place, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import TimeColumns, read_times
from hayweather.weather.files.wind import wind_height

NAME = "logger"
_WORDS = MISSING_WORDS | {"inf", "-inf", "+inf"}
_SUFFIX = re.compile(r"_(?:S_)?WVT$|_(?:Avg|Tot|Smp)(?:\(\d+\))?$", re.IGNORECASE)
_EXTREMES = ("max", "min", "std", "smm", "med", "mom")
_HEADER_LINES = 4


def matches(file: FileText) -> bool:
    """Whether the first four lines are those of a logger's table."""
    if len(file.lines) < _HEADER_LINES:
        return False
    first = split(file.lines[0], ",")[0].strip()
    names = split(file.lines[1], ",")
    return first == "TOA5" and names[0].strip().casefold() == "timestamp"


def read_logger(file: FileText, options: ReadOptions) -> FileTable:
    """Read a logger's table.

    Raises
    ------
    WeatherFileError
        If nobody names the zone of its clock, or something in it is wrong.
    """
    names, units, processing = _head(file)
    headers = [_header(name, kind) for name, kind in zip(names, processing, strict=True)]
    chosen, unused = choose_columns(names, [None, *headers[1:]])
    cells = read_cells(file, _HEADER_LINES, ",", len(names), [0, *chosen])
    columns = tuple(
        _column(file, cells, index, header, options, units[index], processing[index])
        for index, header in chosen.items()
    )
    time = TimeColumns("stamp", {"stamp": 0}, "", [names[0]])
    hour, origin = hour_of(options, "end")
    times = read_times(file, cells, time, replace(options, hour=hour), read_notes(file))
    height, height_origin, told = wind_height(file, 2, headers, read_notes(file), options)
    return FileTable(
        Shape(NAME, ",", ".", _HEADER_LINES),
        replace(times.clock, hour_origin=origin),
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        columns,
        height,
        unused=unused,
        wind_height_from=height_origin,
        place=Place(stations=_station(file)),
        repairs=times.repairs,
        assumed=told,
    )


def _head(file: FileText) -> tuple[list[str], list[str], list[str]]:
    """Names, units and processing, as many of each."""
    rows = [[cell.strip() for cell in split(file.lines[i], ",")] for i in (1, 2, 3)]
    width = len(rows[0])
    names, units, processing = ([*row, *[""] * width][:width] for row in rows)
    return names, units, processing


def _header(name: str, processing: str) -> Header:
    """What a column name says, without the suffix of its processing."""
    if processing.strip().casefold() in _EXTREMES:
        return Header(name, None)
    return replace(read_header(_SUFFIX.sub("", name)), text=name)


def _column(
    file: FileText,
    cells: Cells,
    index: int,
    header: Header,
    options: ReadOptions,
    unit: str,
    processing: str,
) -> FileColumn:
    """One column, a mean where the logger averaged."""
    cleaned = ["" if t.strip().casefold() in _WORDS else t for t in cells.columns[index]]
    cells = Cells(cells.lines, {index: cleaned})
    column = read_column(file, cells, index, header, options, unit_row=unit)
    averaged = processing.casefold().startswith(("avg", "wvc"))
    if averaged and column.timing == "instant":
        return replace(column, timing="mean")
    return column


def _station(file: FileText) -> tuple[str, ...]:
    cells = split(file.lines[0], ",")
    return (cells[1].strip(),) if len(cells) > 1 and cells[1].strip() else ()
