"""Airport observations as the Iowa archive exports them: one row a report.

``M`` is missing, ``T`` a trace. Several reports an hour, the routine one at
minute 51 to 56 as a rule. Rain counts from one routine report to the next, so
only routine reports carry the rain of their hour (archive documentation, read).
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from hayweather.weather.files.cells import Cells, read_cells, split, spoken
from hayweather.weather.files.coded import (
    Code,
    coded_column,
    column_of,
    hour_of,
    indexes_of,
    others,
)
from hayweather.weather.files.heads import read_place
from hayweather.weather.files.notes import read_notes
from hayweather.weather.files.numbers import MISSING_WORDS
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.stations import one_station
from hayweather.weather.files.table import FileColumn, FileTable, Place, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import TimeColumns, find_time_columns, read_times
from hayweather.weather.quality import counted
from hayweather.weather.record import Booleans, Floats, Times

NAME = "asos"
_WORDS = MISSING_WORDS | {"m"}
_CODES: dict[str, Code] = {
    "tmpf": Code("air_temperature_c", "F", words=_WORDS),
    "tmpc": Code("air_temperature_c", "C", words=_WORDS),
    "dwpf": Code("dew_point_c", "F", words=_WORDS),
    "dwpc": Code("dew_point_c", "C", words=_WORDS),
    "relh": Code("relative_humidity_percent", "%", words=_WORDS),
    "sknt": Code("wind_speed_m_s", "kn", words=_WORDS),
    "sped": Code("wind_speed_m_s", "mph", words=_WORDS),
    "gust": Code("wind_gust_m_s", "kn", words=_WORDS, period_s=600),
    "gust_mph": Code("wind_gust_m_s", "mph", words=_WORDS, period_s=600),
    "p01i": Code("rain_mm", "in", words=_WORDS, period_s=3600),
    "p01m": Code("rain_mm", "mm", words=_WORDS, period_s=3600),
    "alti": Code("altimeter_kpa", "inHg", words=_WORDS),
    "mslp": Code("sea_level_pressure_kpa", "hPa", words=_WORDS),
}
_SKY = ("skyc1", "skyc2", "skyc3", "skyc4")
_COVER = {"clr": 0.0, "skc": 0.0, "nsc": 0.0, "ncd": 0.0, "few": 1.5 / 8, "sct": 3.5 / 8,
          "bkn": 6 / 8, "ovc": 1.0, "vv": 1.0}  # fmt: skip
"""Middle of the oktas that each word stands for (WMO-No. 306, FM 15 METAR, from memory)."""
_KEPT = (*_SKY, "station", "lat", "lon", "elevation")
_ZONE_LINE = re.compile(r"#\s*DEBUG:\s*Time Zone\s*->\s*(\S+)")


class _Header(NamedTuple):
    """The header row: where it stands, how it is split and into what, which cells are the time."""

    row: int
    delimiter: str
    names: list[str]
    time: TimeColumns


def matches(file: FileText) -> bool:
    """Whether a header row names the archive's ``valid`` and its temperatures."""
    return _header(file) is not None


def _header(file: FileText) -> _Header | None:
    """The first row that is no comment, if it is a header of the archive."""
    for row, line in enumerate(file.lines[:20]):
        if line.strip() and not line.startswith("#"):
            found = (_as_header(row, line, delimiter) for delimiter in (",", "\t"))
            return next((header for header in found if header is not None), None)
    return None


def _as_header(row: int, line: str, delimiter: str) -> _Header | None:
    names = [cell.strip() for cell in split(line, delimiter)]
    lower = {name.casefold() for name in names}
    time = find_time_columns(names)
    valid = any(name.startswith("valid") for name in lower)
    if time is None or not valid or not lower & {"tmpf", "tmpc"}:
        return None
    return _Header(row, delimiter, names, time)


def read_asos(file: FileText, options: ReadOptions) -> FileTable:
    """Read an export of airport observations, one that `matches`.

    Raises
    ------
    WeatherFileError
        If it holds several stations, or something in it is wrong.
    """
    header = _header(file)
    assert header is not None
    row, delimiter, names, time = header
    lower = [name.casefold() for name in names]
    found = indexes_of(names, _CODES)
    used = [*time.indexes, *found, *(i for i, name in enumerate(lower) if name in _KEPT)]
    cells = read_cells(file, row + 1, delimiter, len(names), used)
    cells, traces = _without_traces(cells, lower)
    hour, origin = hour_of(options, "end")
    notes = replace(read_notes(file), clock_zone=_zone(file, row))
    times = read_times(file, cells, time, replace(options, hour=hour), notes)
    columns = [coded_column(file, cells, i, names[i], code) for i, code in found.items()]
    return FileTable(
        Shape(NAME, spoken(delimiter), ".", row + 1),
        replace(times.clock, hour_origin=origin),
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        (*_with_hourly_rain(columns, times.stamps), *_cover(cells, lower)),
        10.0,
        unused=others(names, used),
        place=_place(file, cells, lower),
        irregular=True,
        repairs=(
            *times.repairs,
            *counted("trace_as_none", "rain_mm", traces, times.stamps, cells.lines),
        ),
    )


def _zone(file: FileText, header: int) -> str | None:
    """The zone that a comment of the archive names."""
    return next((m[1] for line in file.lines[:header] if (m := _ZONE_LINE.match(line))), None)


def _place(file: FileText, cells: Cells, lower: list[str]) -> Place:
    """The one station of the file, and its place where columns name it."""
    stations: tuple[str, ...] = ()
    if "station" in lower:
        stations = one_station(file, cells.columns[lower.index("station")])
    if not {"lat", "lon", "elevation"} <= set(lower):
        return Place(stations=stations)
    texts = [cells.columns[lower.index(name)][0] for name in ("lat", "lon", "elevation")]
    if any(text.strip().casefold() in _WORDS for text in texts):
        return Place(stations=stations)
    return replace(read_place(file, cells.lines[0], *texts), stations=stations)


def _with_hourly_rain(columns: list[FileColumn], stamps: Times) -> list[FileColumn]:
    """The columns with rain kept at routine reports only."""
    pressure = [c.values for c in columns if c.served_as == "sea_level_pressure_kpa"]
    routine = _routine(stamps, pressure[0] if pressure else None)
    return [
        replace(c, values=np.where(routine, c.values, np.nan)) if c.served_as == "rain_mm" else c
        for c in columns
    ]


def _routine(stamps: Times, sea_level: Floats | None) -> Booleans:
    """Which reports close an hour: those with sea level pressure, else the usual minute.

    The last of an hour counts; up to ten minutes past belong to the hour before.
    """
    minutes = stamps.astype("datetime64[m]").astype(np.int64)
    if sea_level is not None and not np.isnan(sea_level).all():
        routine = ~np.isnan(sea_level)
    else:
        usual = Counter((minutes % 60).tolist()).most_common(1)[0][0]
        routine = minutes % 60 == usual
    rows = np.flatnonzero(routine)
    hour = (minutes[rows] - 11) // 60
    last = np.concatenate((hour[1:] != hour[:-1], [True]))[: rows.size]
    keep = np.zeros(routine.size, dtype=bool)
    keep[rows[last]] = True
    return keep


def _cover(cells: Cells, lower: list[str]) -> list[FileColumn]:
    """Cloud cover: the fullest of the reported layers."""
    sky = [lower.index(name) for name in _SKY if name in lower]
    if not sky:
        return []
    layers = np.array(
        [[_COVER.get(text.strip().casefold(), np.nan) for text in cells.columns[i]] for i in sky]
    )
    cover = np.fmax.reduce(layers, axis=0)
    return [column_of("skyc1", Code("cloud_fraction", "fraction"), cover)]


def _without_traces(cells: Cells, lower: list[str]) -> tuple[Cells, Booleans]:
    """The cells with a trace of rain as none, and which rows had one."""
    traces = np.zeros(len(cells.lines), dtype=bool)
    columns = dict(cells.columns)
    for name in ("p01i", "p01m"):
        index = lower.index(name) if name in lower else -1
        if index in columns:
            here = [text.strip().casefold() == "t" for text in columns[index]]
            columns[index] = ["0" if t else c for t, c in zip(here, columns[index], strict=True)]
            traces |= np.array(here)
    return Cells(cells.lines, columns), traces
