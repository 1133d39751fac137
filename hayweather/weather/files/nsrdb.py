"""NSRDB, satellite and reanalysis years of the US: two rows of facts, then rows of 30 or 60 min.

Each row is a moment: its stamp is the middle of what its shortwave stands for
(NREL, NSRDB documentation, from memory). Wind is at 2 m.
"""

from __future__ import annotations

import numpy as np

from hayweather.weather.files.cells import Cells, read_cells, split
from hayweather.weather.files.coded import (
    Code,
    coded_column,
    hour_of,
    indexes_of,
    others,
    with_unit,
)
from hayweather.weather.files.heads import head_number, one_year, read_place
from hayweather.weather.files.numbers import numbers
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.stamps import stamps_of_parts
from hayweather.weather.files.table import FileTable, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import clock_of, fixed_zone
from hayweather.weather.files.zones import to_utc
from hayweather.weather.record import Times

NAME = "nsrdb"
_TIME = ("year", "month", "day", "hour", "minute")
_CODES: dict[str, Code] = {
    "temperature": Code("air_temperature_c", "C"),
    "air temperature": Code("air_temperature_c", "C"),
    "dew point": Code("dew_point_c", "C"),
    "relative humidity": Code("relative_humidity_percent", "%"),
    "wind speed": Code("wind_speed_m_s", "m/s"),
    "pressure": Code("pressure_kpa", "hPa"),
    "surface pressure": Code("pressure_kpa", "hPa"),
    "ghi": Code("shortwave_w_m2", "W/m2"),
}


def matches(file: FileText) -> bool:
    """Whether the head names source, place and zone, and the third row the time."""
    if len(file.lines) < 3 or not file.lines[0].casefold().startswith("source,location id"):
        return False
    names = [name.strip().casefold() for name in split(file.lines[2], ",")]
    return names[:4] == list(_TIME[:4])


def read_nsrdb(file: FileText, options: ReadOptions) -> FileTable:
    """Read an NSRDB file.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    keys = [cell.strip().casefold() for cell in split(file.lines[0], ",")]
    facts = dict(zip(keys, split(file.lines[1], ","), strict=False))
    place = read_place(
        file, 2, facts.get("latitude", ""), facts.get("longitude", ""), facts.get("elevation", ""),
        facts.get("location id", ""),
    )  # fmt: skip
    names = [cell.strip() for cell in split(file.lines[2], ",")]
    found = indexes_of(names, _CODES)
    time = [i for i, name in enumerate(names) if name.casefold() in _TIME]
    cells = read_cells(file, 3, ",", len(names), [*time, *found])
    reading, stitched = _reading(file, cells, names, time)
    zone, zone_name = fixed_zone(head_number(file, 2, facts.get("time zone", ""), "time zone"))
    hour, origin = hour_of(options, "center")
    done = to_utc(file, cells.lines, reading, zone, ends_hour=False)
    times = clock_of(done, zone_name, "file", hour, origin)
    coded = {i: _in_unit(file, names[i], code, facts) for i, code in found.items()}
    return FileTable(
        Shape(NAME, ",", ".", 3),
        times.clock,
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        tuple(coded_column(file, cells, i, names[i], code) for i, code in coded.items()),
        2.0,
        unused=others(names, [*time, *found]),
        place=place,
        typical_year=stitched,
    )


def _reading(file: FileText, cells: Cells, names: list[str], time: list[int]) -> tuple[Times, bool]:
    """Clock readings; years that do not follow each other are stitched months."""
    parts = {
        names[i].casefold(): numbers(file, cells.lines, cells.columns[i], names[i]).tolist()
        for i in time
    }
    reading = stamps_of_parts(file, cells.lines, parts)
    if (np.diff(reading) < np.timedelta64(-31, "D")).any():
        return one_year(file, cells.lines, parts)
    return reading, False


def _in_unit(file: FileText, name: str, code: Code, facts: dict[str, str]) -> Code:
    """The code with the unit that the head names for this column, where it does."""
    text = facts.get(f"{name.casefold()} units", "").strip()
    return with_unit(file, name, code, text, 2) if text else code
