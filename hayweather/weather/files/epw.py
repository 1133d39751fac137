"""EPW, typical or single years for buildings: eight head lines, hours 1 to 24.

Hour h is the hour before h o'clock standard time: shortwave and rain belong to
it, temperature, dew point, wind, cloud and pressure are instants at its end.
Missing codes and columns after the EnergyPlus auxiliary programs document
(public, from memory).
"""

from __future__ import annotations

import numpy as np

from hayweather.weather.files.cells import Cells, read_cells, split
from hayweather.weather.files.coded import Code, coded_column, hour_of
from hayweather.weather.files.heads import head_number, one_year, read_place
from hayweather.weather.files.numbers import numbers
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.table import FileColumn, FileTable, Place, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import clock_of, fixed_zone
from hayweather.weather.files.typical_rain import in_mm
from hayweather.weather.files.zones import to_utc
from hayweather.weather.quality import Repair
from hayweather.weather.record import Floats, Times

NAME = "epw"
_TIME = (0, 1, 2, 3, 4)
_RAIN, _RAIN_HOURS = 33, 34
_CODES: dict[int, tuple[str, Code]] = {
    6: ("dry bulb", Code("air_temperature_c", "C", missing=(99.9,))),
    7: ("dew point", Code("dew_point_c", "C", missing=(99.9,))),
    8: ("relative humidity", Code("relative_humidity_percent", "%", missing=(999.0,))),
    9: ("pressure", Code("pressure_kpa", "Pa", missing=(999999.0,))),
    13: ("global horizontal", Code("shortwave_w_m2", "Wh/m2", missing=(9999.0,))),
    21: ("wind speed", Code("wind_speed_m_s", "m/s", missing=(999.0,))),
    22: ("total sky cover", Code("cloud_fraction", "tenths", missing=(99.0,))),
    _RAIN: ("liquid precipitation depth", Code("rain_mm", "mm", missing=(999.0,))),
}


def matches(file: FileText) -> bool:
    """Whether the first line names a location as EPW does."""
    return file.lines[0].startswith("LOCATION,") and len(split(file.lines[0], ",")) >= 10


def read_epw(file: FileText, options: ReadOptions) -> FileTable:
    """Read an EPW file; it counts as a typical year.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    place, offset_h = _head(file)
    first = _first_row(file)
    width = max(len(split(file.lines[first], ",")), 7)
    keep = [*_TIME, *(i for i in [*_CODES, _RAIN_HOURS] if i < width)]
    cells = read_cells(file, first, ",", width, keep)
    reading, _ = one_year(file, cells.lines, _parts(file, cells))
    hour, origin = hour_of(options, "end")
    zone, name = fixed_zone(offset_h)
    times = clock_of(
        to_utc(file, cells.lines, reading, zone, ends_hour=False), name, "file", hour, origin
    )
    columns, repairs, refused = _columns(file, cells, times.stamps)
    return FileTable(
        Shape(NAME, ",", ".", first),
        times.clock,
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        columns,
        10.0,
        place=place,
        typical_year=True,
        repairs=repairs,
        refused=refused,
    )


def _head(file: FileText) -> tuple[Place, float]:
    cells = [cell.strip() for cell in split(file.lines[0], ",")]
    place = read_place(file, 1, cells[6], cells[7], cells[9], cells[1])
    return place, head_number(file, 1, cells[8], "time zone")


def _first_row(file: FileText) -> int:
    """Index of the first row of weather."""
    for index, line in enumerate(file.lines[:60], start=1):
        if line.upper().startswith("DATA PERIODS") and index < len(file.lines):
            return index
    raise file.error("weather_no_rows")


def _parts(file: FileText, cells: Cells) -> dict[str, list[float]]:
    """Year to minute; several rows an hour count their minutes from its start."""
    names = ("year", "month", "day", "hour", "minute")
    parts = {
        name: numbers(file, cells.lines, cells.columns[i], name)
        for name, i in zip(names, _TIME, strict=True)
    }
    several = bool((np.diff(parts["hour"]) == 0).any())
    minute = parts["minute"] if several else np.zeros(len(cells.lines))
    parts["hour"] = parts["hour"] - 1 if several else parts["hour"]
    parts["minute"] = minute
    return {name: values.tolist() for name, values in parts.items()}


def _columns(
    file: FileText, cells: Cells, stamps: Times
) -> tuple[tuple[FileColumn, ...], tuple[Repair, ...], tuple[Repair, ...]]:
    """The columns, rain in mm; what was done to it and what was refused of it."""
    columns = {
        index: coded_column(file, cells, index, name, code)
        for index, (name, code) in _CODES.items()
        if index in cells.columns
    }
    if _RAIN not in columns:
        return tuple(columns.values()), (), ()
    hours: Floats = np.full(stamps.size, np.nan)
    if _RAIN_HOURS in cells.columns:
        hours = numbers(file, cells.lines, cells.columns[_RAIN_HOURS], "rain hours")
    columns[_RAIN], repairs, refused = in_mm(columns[_RAIN], hours, stamps, cells.lines)
    return tuple(columns.values()), repairs, refused
