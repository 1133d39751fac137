"""US Climate Reference Network, hourly and five-minute files: fixed columns, UTC.

Stamps end their period; temperature, humidity, wind and sun are means over it,
rain is its sum. -9999 and -99 are missing; a flag other than 0 refuses its
value. Wind, at 1.5 m, stands in the five-minute files only (NOAA NCEI, readme
files of the products hourly02 and subhourly01, column names read).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hayweather.weather.files.cells import BLANK, Cells, read_cells
from hayweather.weather.files.coded import Code, coded_column, hour_of
from hayweather.weather.files.numbers import numbers
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.stamps import read_stamps
from hayweather.weather.files.stations import one_station
from hayweather.weather.files.table import Clock, FileColumn, FileTable, Place, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.quality import Repair, counted
from hayweather.weather.record import Times

NAME = "us-crn"
_MISSING = (-9999.0, -99999.0, -99.0)
_LONGITUDE, _LATITUDE = 6, 7


@dataclass(frozen=True)
class _Coded:
    """One column: name, meaning, and index of its flag."""

    name: str
    code: Code
    flag: int | None = None


_HOURLY: dict[int, _Coded] = {
    9: _Coded("T_HR_AVG", Code("air_temperature_c", "C", missing=_MISSING, timing="mean")),
    12: _Coded("P_CALC", Code("rain_mm", "mm", missing=_MISSING)),
    13: _Coded("SOLARAD", Code("shortwave_w_m2", "W/m2", missing=_MISSING), 14),
    26: _Coded(
        "RH_HR_AVG", Code("relative_humidity_percent", "%", missing=_MISSING, timing="mean"), 27
    ),
}
_FINE: dict[int, _Coded] = {
    8: _Coded("AIR_TEMPERATURE", Code("air_temperature_c", "C", missing=_MISSING, timing="mean")),
    9: _Coded("PRECIPITATION", Code("rain_mm", "mm", missing=_MISSING)),
    10: _Coded("SOLAR_RADIATION", Code("shortwave_w_m2", "W/m2", missing=_MISSING), 11),
    15: _Coded(
        "RELATIVE_HUMIDITY",
        Code("relative_humidity_percent", "%", missing=_MISSING, timing="mean"),
        16,
    ),
    21: _Coded("WIND_1_5", Code("wind_speed_m_s", "m/s", missing=_MISSING, timing="mean"), 22),
}
_WIDTHS = {23: _FINE, 28: _HOURLY, 38: _HOURLY}


def _first_row(file: FileText) -> tuple[int, list[str]]:
    """Index and cells of the first row, past a row of names."""
    for index, line in enumerate(file.lines[:5]):
        if line.strip() and not line.strip().startswith(("WBANNO", "#")):
            return index, line.split()
    return 0, []


def matches(file: FileText) -> bool:
    """Whether the first row is a station number, two dates and times, and 23, 28 or 38 cells."""
    _, cells = _first_row(file)
    if len(cells) not in _WIDTHS:
        return False
    lengths = [len(cell) for cell in cells[:5]]
    return lengths == [5, 8, 4, 8, 4] and all(cell.isdigit() for cell in cells[:5])


def read_crn(file: FileText, options: ReadOptions) -> FileTable:
    """Read an hourly or five-minute file.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    first, row = _first_row(file)
    coded = _WIDTHS[len(row)]
    flags = [c.flag for c in coded.values() if c.flag is not None]
    keep = [0, 1, 2, _LONGITUDE, _LATITUDE, *coded, *flags]
    cells = read_cells(file, first, BLANK, len(row), keep)
    stamps = _stamps(file, cells)
    hour, origin = hour_of(options, "end")
    columns: list[FileColumn] = []
    refused: list[Repair] = []
    for index, column in coded.items():
        read, repairs = _column(file, cells, index, column, stamps)
        columns.append(read)
        refused += repairs
    return FileTable(
        Shape(NAME, BLANK, ".", first),
        Clock("UTC", "layout", hour, origin),
        np.array(cells.lines, dtype=np.int64),
        stamps,
        tuple(columns),
        1.5,
        place=_place(file, cells),
        refused=tuple(refused),
    )


def _stamps(file: FileText, cells: Cells) -> Times:
    texts = [
        f"{date[:4]}-{date[4:6]}-{date[6:8]} {time[:2]}:{time[2:4]}"
        for date, time in zip(cells.columns[1], cells.columns[2], strict=True)
    ]
    return read_stamps(file, cells.lines, texts).clock


def _place(file: FileText, cells: Cells) -> Place:
    stations = one_station(file, cells.columns[0])
    longitude, latitude = (
        numbers(file, cells.lines[:1], cells.columns[i][:1], name)[0]
        for i, name in ((_LONGITUDE, "LONGITUDE"), (_LATITUDE, "LATITUDE"))
    )
    if not (abs(latitude) <= 90 and abs(longitude) <= 180):
        return Place(stations=stations)
    return Place(float(latitude), float(longitude), stations=stations)


def _column(
    file: FileText, cells: Cells, index: int, coded: _Coded, stamps: Times
) -> tuple[FileColumn, tuple[Repair, ...]]:
    """One column without the values that its flag refuses."""
    column = coded_column(file, cells, index, coded.name, coded.code)
    if coded.flag is None:
        return column, ()
    flagged = np.array([flag.strip() != "0" for flag in cells.columns[coded.flag]])
    flagged &= ~np.isnan(column.values)
    refused = counted("flagged", column.served_as, flagged, stamps, cells.lines)
    return replace(column, values=np.where(flagged, np.nan, column.values)), refused
