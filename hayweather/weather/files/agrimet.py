"""AgriMet style: columns YEAR, MONTH, DAY, HOUR, then codes in F, mph and langley.

Values are those of the quarter hour at the stamp: temperatures are instants,
sun is a rate in langley an hour around the stamp (a clear day of the Fallon
station in 2015 is even about solar noon so read, and 30 minutes off otherwise).
Wind at 3 m: the network's sensor table as cited by the RefET package, read there.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hayweather.weather.files.cells import read_cells, split
from hayweather.weather.files.coded import Code, coded_column, hour_of, indexes_of
from hayweather.weather.files.columns import choose_columns, read_column
from hayweather.weather.files.headers import Header, read_header
from hayweather.weather.files.notes import read_notes
from hayweather.weather.files.numbers import MISSING_WORDS
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.table import FileTable, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import find_time_columns, read_times

NAME = "agrimet"
_WORDS = MISSING_WORDS | {"m", "no record", "missing"}
_MISSING = (998877.0, -9999.0)
_CODES: dict[str, Code] = {
    "ob": Code("air_temperature_c", "F", missing=_MISSING, words=_WORDS),
    "tp": Code("dew_point_c", "F", missing=_MISSING, words=_WORDS),
    "tu": Code("relative_humidity_percent", "%", missing=_MISSING, words=_WORDS),
    "ws": Code("wind_speed_m_s", "mph", missing=_MISSING, words=_WORDS),
    "wg": Code("wind_gust_m_s", "mph", missing=_MISSING, words=_WORDS),
    "si": Code("shortwave_w_m2", "ly/h", missing=_MISSING, words=_WORDS),
}
_TIME = ("year", "month", "day", "hour")
_WIND_HEIGHT_M = 3.0


def _names(file: FileText) -> tuple[int, list[str]]:
    """Index and cells of the first row that is no comment."""
    for index, line in enumerate(file.lines[:40]):
        if line.strip() and not line.startswith("#"):
            return index, [cell.strip() for cell in split(line, ",")]
    return 0, []


def matches(file: FileText) -> bool:
    """Whether the header is YEAR, MONTH, DAY, HOUR and at least two of the codes."""
    _, names = _names(file)
    lower = {name.casefold() for name in names}
    return set(_TIME) <= lower and len(lower & set(_CODES)) >= 2


def read_agrimet(file: FileText, options: ReadOptions) -> FileTable:
    """Read a file of AgriMet style, one that `matches`; an option names the zone of its clock.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    index, names = _names(file)
    time = find_time_columns(names)
    assert time is not None
    found = indexes_of(names, _CODES)
    more, unused = _more(names, [*time.indexes, *found])
    cells = read_cells(file, index + 1, ",", len(names), [*time.indexes, *found, *more])
    times = read_times(file, cells, time, options, read_notes(file))
    hour, origin = hour_of(options, "center")
    coded = [coded_column(file, cells, i, names[i], code) for i, code in found.items()]
    named = [read_column(file, cells, i, header, options) for i, header in more.items()]
    return FileTable(
        Shape(NAME, ",", ".", index + 1),
        replace(times.clock, hour=hour, hour_origin=origin),
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        (*coded, *named),
        _WIND_HEIGHT_M,
        unused=unused,
        repairs=times.repairs,
    )


def _more(names: list[str], used: list[int]) -> tuple[dict[int, Header], tuple[str, ...]]:
    """Columns beyond the codes that say themselves what they are, such as ``Rain (in)``."""
    headers = [None if i in used else read_header(name) for i, name in enumerate(names)]
    chosen, unused = choose_columns(names, headers)
    served = {_CODES[names[i].casefold()].served_as for i in used if names[i].casefold() in _CODES}
    more = {
        i: header
        for i, header in chosen.items()
        if header.served_as not in served and header.unit is not None
    }
    dropped = tuple(names[i] for i in chosen if i not in more)
    return more, (*unused, *dropped)
