"""Layouts of measured weather: airports, agencies, networks, data loggers."""

from __future__ import annotations

import re
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from hayweather.errors import WeatherFileError
from hayweather.weather.files.cells import (
    BLANK,
    MISSING_WORDS,
    Cells,
    JoinedTexts,
    different,
    numbers,
    read_cells,
    split,
    spoken,
)
from hayweather.weather.files.columns import (
    Code,
    choose_columns,
    coded_column,
    column_of,
    hour_of,
    indexes_of,
    others,
    read_column,
    unread,
)
from hayweather.weather.files.headers import Header, read_header
from hayweather.weather.files.own import read_notes
from hayweather.weather.files.plain import one_station, wind_height
from hayweather.weather.files.table import (
    Clock,
    FileColumn,
    FileTable,
    Layout,
    Place,
    ReadOptions,
    Shape,
)
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import (
    TimeColumns,
    find_time_columns,
    numbers_by_form,
    read_stamps,
    read_times,
    stamps_of_parts,
)
from hayweather.weather.files.typical import read_place
from hayweather.weather.quality import Repair, counted
from hayweather.weather.record import Booleans, Floats, Times

# Airport observations as the Iowa archive exports them: one row a report.
#
# ``M`` is missing, ``T`` a trace. Several reports an hour, the routine one at
# minute 51 to 56 as a rule. Rain counts from one routine report to the next, so
# only routine reports carry the rain of their hour (archive documentation, read).

_ASOS_CODES: dict[str, Code] = {
    "tmpf": Code("air_temperature_c", "F"),
    "tmpc": Code("air_temperature_c", "C"),
    "dwpf": Code("dew_point_c", "F"),
    "dwpc": Code("dew_point_c", "C"),
    "relh": Code("relative_humidity_percent", "%"),
    "sknt": Code("wind_speed_m_s", "kn"),
    "sped": Code("wind_speed_m_s", "mph"),
    "gust": Code("wind_gust_m_s", "kn", period_s=600),
    "gust_mph": Code("wind_gust_m_s", "mph", period_s=600),
    "p01i": Code("rain_mm", "in", period_s=3600),
    "p01m": Code("rain_mm", "mm", period_s=3600),
    "alti": Code("altimeter_kpa", "inHg"),
    "mslp": Code("sea_level_pressure_kpa", "hPa"),
}
_ASOS_SKY = ("skyc1", "skyc2", "skyc3", "skyc4")
_ASOS_COVER = {"clr": 0.0, "skc": 0.0, "nsc": 0.0, "ncd": 0.0, "few": 1.5 / 8, "sct": 3.5 / 8,
          "bkn": 6 / 8, "ovc": 1.0, "vv": 1.0}  # fmt: skip
"""Middle of the oktas that each word stands for (WMO-No. 306, FM 15 METAR, from memory)."""
_ASOS_KEPT = (*_ASOS_SKY, "station", "lat", "lon", "elevation")
_ASOS_ZONE_LINE = re.compile(r"#\s*DEBUG:\s*Time Zone\s*->\s*(\S+)")


class _AsosHeader(NamedTuple):
    """The header row: where it stands, how it is split and into what, which cells are the time."""

    row: int
    delimiter: str
    names: list[str]
    time: TimeColumns


def _asos_matches(file: FileText) -> bool:
    """Whether a header row names the archive's ``valid`` and its temperatures."""
    return _asos_header(file) is not None


def _asos_header(file: FileText) -> _AsosHeader | None:
    """The first row that is no comment, if it is a header of the archive."""
    for row, line in enumerate(file.lines[:20]):
        if line.strip() and not line.startswith("#"):
            found = (_asos_as_header(row, line, delimiter) for delimiter in (",", "\t"))
            return next((header for header in found if header is not None), None)
    return None


def _asos_as_header(row: int, line: str, delimiter: str) -> _AsosHeader | None:
    names = [cell.strip() for cell in split(line, delimiter)]
    lower = {name.casefold() for name in names}
    time = find_time_columns(names)
    valid = any(name.startswith("valid") for name in lower)
    if time is None or not valid or not lower & {"tmpf", "tmpc"}:
        return None
    return _AsosHeader(row, delimiter, names, time)


def read_asos(file: FileText, options: ReadOptions) -> FileTable:
    """Read an export of airport observations, one that `matches`.

    Raises
    ------
    WeatherFileError
        If it holds several stations, or something in it is wrong.
    """
    header = _asos_header(file)
    assert header is not None
    row, delimiter, names, time = header
    lower = [name.casefold() for name in names]
    found = indexes_of(names, _ASOS_CODES)
    used = [*time.indexes, *found, *(i for i, name in enumerate(lower) if name in _ASOS_KEPT)]
    cells = read_cells(file, row + 1, delimiter, len(names), used, numeric=found)
    cells, traces = _asos_without_traces(cells, lower)
    hour, origin = hour_of(options, ASOS)
    notes = replace(read_notes(file), clock_zone=_asos_zone(file, row))
    times = read_times(file, cells, time, replace(options, hour=hour), notes)
    columns = [coded_column(file, cells, i, names[i], code) for i, code in found.items()]
    return FileTable(
        Shape(ASOS.name, spoken(delimiter), ".", row + 1),
        replace(times.clock, hour_origin=origin),
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        (*_asos_with_hourly_rain(columns, times.stamps), *_asos_cover(cells, lower)),
        10.0,
        unused=others(names, used),
        place=_asos_place(file, cells, lower),
        irregular=True,
        repairs=(
            *times.repairs,
            *counted("trace_as_none", "rain_mm", traces, times.stamps, cells.lines),
        ),
    )


def _asos_zone(file: FileText, header: int) -> str | None:
    """The zone that a comment of the archive names."""
    return next((m[1] for line in file.lines[:header] if (m := _ASOS_ZONE_LINE.match(line))), None)


def _asos_place(file: FileText, cells: Cells, lower: list[str]) -> Place:
    """The one station of the file, and its place where columns name it."""
    stations: tuple[str, ...] = ()
    if "station" in lower:
        stations = one_station(file, cells.columns[lower.index("station")])
    if not {"lat", "lon", "elevation"} <= set(lower):
        return Place(stations=stations)
    texts = [cells.columns[lower.index(name)][0] for name in ("lat", "lon", "elevation")]
    if any(text.strip().casefold() in MISSING_WORDS for text in texts):
        return Place(stations=stations)
    return replace(read_place(file, cells.lines[0], *texts), stations=stations)


def _asos_with_hourly_rain(columns: list[FileColumn], stamps: Times) -> list[FileColumn]:
    """The columns with rain kept at routine reports only."""
    pressure = [c.values for c in columns if c.served_as == "sea_level_pressure_kpa"]
    routine = _asos_routine(stamps, pressure[0] if pressure else None)
    return [
        replace(c, values=np.where(routine, c.values, np.nan)) if c.served_as == "rain_mm" else c
        for c in columns
    ]


def _asos_routine(stamps: Times, sea_level: Floats | None) -> Booleans:
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


def _asos_cover(cells: Cells, lower: list[str]) -> list[FileColumn]:
    """Cloud cover: the fullest of the reported layers."""
    sky = [lower.index(name) for name in _ASOS_SKY if name in lower]
    if not sky:
        return []
    layers = []
    for index in sky:
        codes, texts = different(cells.columns[index])
        known = [_ASOS_COVER.get(text.strip().casefold(), np.nan) for text in texts]
        layers.append(np.array(known)[codes])
    cover = np.fmax.reduce(layers, axis=0)
    return [column_of("skyc1", Code("cloud_fraction", "fraction"), cover)]


def _asos_without_traces(cells: Cells, lower: list[str]) -> tuple[Cells, Booleans]:
    """The cells with a trace of rain as none, and which rows had one."""
    traces = np.zeros(len(cells.lines), dtype=bool)
    columns = dict(cells.columns)
    for name in ("p01i", "p01m"):
        index = lower.index(name) if name in lower else -1
        if index in columns and index not in cells.read:
            codes, texts = different(columns[index])
            trace = [text.strip().casefold() == "t" for text in texts]
            without = ["0" if t else text for t, text in zip(trace, texts, strict=True)]
            columns[index] = [without[code] for code in codes.tolist()]
            traces |= np.array(trace, dtype=bool)[codes]
    return replace(cells, columns=columns), traces


# US Climate Reference Network, hourly and five-minute files: fixed columns, UTC.
#
# Stamps end their period; temperature, humidity, wind and sun are means over it,
# rain is its sum. -9999 and -99 are missing; a flag other than 0 refuses its
# value. Wind, at 1.5 m, stands in the five-minute files only (NOAA NCEI, readme
# files of the products hourly02 and subhourly01, column names read).

_CRN_MISSING = (-9999.0, -99999.0, -99.0)
_LONGITUDE, _LATITUDE = 6, 7


@dataclass(frozen=True)
class _CrnCoded:
    """One column: name, meaning, and index of its flag."""

    name: str
    code: Code
    flag: int | None = None


_CRN_HOURLY: dict[int, _CrnCoded] = {
    9: _CrnCoded("T_HR_AVG", Code("air_temperature_c", "C", missing=_CRN_MISSING, timing="mean")),
    12: _CrnCoded("P_CALC", Code("rain_mm", "mm", missing=_CRN_MISSING)),
    13: _CrnCoded("SOLARAD", Code("shortwave_w_m2", "W/m2", missing=_CRN_MISSING), 14),
    26: _CrnCoded(
        "RH_HR_AVG", Code("relative_humidity_percent", "%", missing=_CRN_MISSING, timing="mean"), 27
    ),
}
_CRN_FINE: dict[int, _CrnCoded] = {
    8: _CrnCoded(
        "AIR_TEMPERATURE", Code("air_temperature_c", "C", missing=_CRN_MISSING, timing="mean")
    ),
    9: _CrnCoded("PRECIPITATION", Code("rain_mm", "mm", missing=_CRN_MISSING)),
    10: _CrnCoded("SOLAR_RADIATION", Code("shortwave_w_m2", "W/m2", missing=_CRN_MISSING), 11),
    15: _CrnCoded(
        "RELATIVE_HUMIDITY",
        Code("relative_humidity_percent", "%", missing=_CRN_MISSING, timing="mean"),
        16,
    ),
    21: _CrnCoded(
        "WIND_1_5", Code("wind_speed_m_s", "m/s", missing=_CRN_MISSING, timing="mean"), 22
    ),
}
_CRN_WIDTHS = {23: _CRN_FINE, 28: _CRN_HOURLY, 38: _CRN_HOURLY}


def _crn_first_row(file: FileText) -> tuple[int, list[str]]:
    """Index and cells of the first row, past a row of names."""
    for index, line in enumerate(file.lines[:5]):
        if line.strip() and not line.strip().startswith(("WBANNO", "#")):
            return index, line.split()
    return 0, []


def _crn_matches(file: FileText) -> bool:
    """Whether the first row is a station number, two dates and times, and 23, 28 or 38 cells."""
    _, cells = _crn_first_row(file)
    if len(cells) not in _CRN_WIDTHS:
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
    first, row = _crn_first_row(file)
    coded = _CRN_WIDTHS[len(row)]
    flags = [c.flag for c in coded.values() if c.flag is not None]
    keep = [0, 1, 2, _LONGITUDE, _LATITUDE, *coded, *flags]
    cells = read_cells(file, first, BLANK, len(row), keep, numeric=coded)
    stamps = _crn_stamps(file, cells)
    hour, origin = hour_of(options, CRN)
    columns: list[FileColumn] = []
    refused: list[Repair] = []
    for index, column in coded.items():
        read, repairs = _crn_column(file, cells, index, column, stamps)
        columns.append(read)
        refused += repairs
    return FileTable(
        Shape(CRN.name, BLANK, ".", first),
        Clock("UTC", "layout", hour, origin),
        np.array(cells.lines, dtype=np.int64),
        stamps,
        tuple(columns),
        1.5,
        place=_crn_place(file, cells),
        refused=tuple(refused),
    )


def _crn_stamps(file: FileText, cells: Cells) -> Times:
    parts = numbers_by_form(JoinedTexts((cells.columns[1], cells.columns[2])), "YYYYMMDD hhmm")
    if parts is not None and (parts["hour"] <= 24).all():
        with suppress(WeatherFileError):
            return stamps_of_parts(file, cells.lines, parts)
    texts = [
        f"{date[:4]}-{date[4:6]}-{date[6:8]} {time[:2]}:{time[2:4]}"
        for date, time in zip(cells.columns[1], cells.columns[2], strict=True)
    ]
    return read_stamps(file, cells.lines, texts).clock


def _crn_place(file: FileText, cells: Cells) -> Place:
    stations = one_station(file, cells.columns[0])
    longitude, latitude = (
        numbers(file, cells.lines[:1], cells.columns[i][:1], name)[0]
        for i, name in ((_LONGITUDE, "LONGITUDE"), (_LATITUDE, "LATITUDE"))
    )
    if not (abs(latitude) <= 90 and abs(longitude) <= 180):
        return Place(stations=stations)
    return Place(float(latitude), float(longitude), stations=stations)


def _crn_column(
    file: FileText, cells: Cells, index: int, coded: _CrnCoded, stamps: Times
) -> tuple[FileColumn, tuple[Repair, ...]]:
    """One column without the values that its flag refuses."""
    column = coded_column(file, cells, index, coded.name, coded.code)
    if coded.flag is None:
        return column, ()
    codes, flags = different(cells.columns[coded.flag])
    flagged = np.array([flag.strip() != "0" for flag in flags], dtype=bool)[codes]
    flagged &= ~np.isnan(column.values)
    refused = counted("flagged", column.served_as, flagged, stamps, cells.lines)
    return replace(column, values=np.where(flagged, np.nan, column.values)), refused


# ISD-Lite, hourly station weather of the world: twelve columns of whole numbers, UTC.
#
# Tenths of C, hPa, m/s and mm; -9999 is missing, -1 in the rain a trace. Instants
# stand at the stamp, rain fell in the hour before it (NOAA, ISD-Lite format
# documentation of 2006, from memory).

_ISD_ROW = re.compile(r"\s*\d{4}\s+\d{1,2}\s+\d{1,2}\s+\d{1,2}(?:\s+-?\d+){8}\s*", re.ASCII)
_ISD_TIME = ("year", "month", "day", "hour")
_ISD_MISSING = (-9999.0,)
_SKY, _RAIN = 9, 10
_ISD_CODES: dict[int, tuple[str, Code]] = {
    4: ("air temperature", Code("air_temperature_c", "C", 0.1)),
    5: ("dew point", Code("dew_point_c", "C", 0.1)),
    6: ("sea level pressure", Code("sea_level_pressure_kpa", "hPa", 0.1)),
    8: ("wind speed", Code("wind_speed_m_s", "m/s", 0.1)),
    _SKY: ("sky condition", Code("cloud_fraction", "oktas")),
    _RAIN: ("rain in 1 hour", Code("rain_mm", "mm", 0.1)),
}
_ISD_UNUSED = ("wind direction", "rain in 6 hours")
_ISD_OKTAS = {9: 8.0, 10: np.nan, 11: 2.0, 12: 4.0, 13: 4.0, 14: 6.0, 15: 6.0, 16: 6.0, 17: 8.0,
          18: 8.0, 19: 8.0}  # fmt: skip
"""Codes beyond 8 oktas: obscured sky, then scattered, broken and overcast by thickness."""


def _isd_matches(file: FileText) -> bool:
    """Whether the first row is twelve whole numbers that begin with a date and an hour."""
    first = next((line for line in file.lines if line.strip()), "")
    return _ISD_ROW.fullmatch(first) is not None


def read_isd_lite(file: FileText, options: ReadOptions) -> FileTable:
    """Read an ISD-Lite file.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    keep = [0, 1, 2, 3, *_ISD_CODES]
    cells = read_cells(file, 0, BLANK, 12, keep, numeric=keep)
    parts = {name: numbers(file, cells.lines, cells[i], name) for i, name in enumerate(_ISD_TIME)}
    stamps = stamps_of_parts(file, cells.lines, parts)
    hour, origin = hour_of(options, ISD)
    rain = _isd_numbers(file, cells, _RAIN)
    trace = rain == -1.0
    return FileTable(
        Shape(ISD.name, BLANK),
        Clock("UTC", "layout", hour, origin),
        np.array(cells.lines, dtype=np.int64),
        stamps,
        tuple(_isd_column(file, cells, index) for index in _ISD_CODES),
        10.0,
        unused=_ISD_UNUSED,
        repairs=counted("trace_as_none", "rain_mm", trace, stamps, cells.lines),
    )


def _isd_numbers(file: FileText, cells: Cells, index: int) -> Floats:
    name = _ISD_CODES[index][0]
    return numbers(file, cells.lines, cells[index], name, missing_values=_ISD_MISSING)


def _isd_column(file: FileText, cells: Cells, index: int) -> FileColumn:
    """One column; sky codes become oktas, a trace of rain none."""
    name, code = _ISD_CODES[index]
    values = _isd_numbers(file, cells, index)
    if index == _RAIN:
        values = np.where(values == -1.0, 0.0, values)
    if index == _SKY:
        for sky, oktas in _ISD_OKTAS.items():
            values = np.where(values == sky, oktas, values)
    return column_of(name, code, values)


# AgriMet style: columns YEAR, MONTH, DAY, HOUR, then codes in F, mph and langley.
#
# Values are those of the quarter hour at the stamp: temperatures are instants,
# sun is a rate in langley an hour around the stamp (a clear day of the Fallon
# station in 2015 is even about solar noon so read, and 30 minutes off otherwise).
# Wind at 3 m: the network's sensor table as cited by the RefET package, read there.

_AGRIMET_WORDS = MISSING_WORDS | {"no record"}
_AGRIMET_MISSING = (998877.0, -9999.0)
_AGRIMET_CODES: dict[str, Code] = {
    "ob": Code("air_temperature_c", "F", missing=_AGRIMET_MISSING, words=_AGRIMET_WORDS),
    "tp": Code("dew_point_c", "F", missing=_AGRIMET_MISSING, words=_AGRIMET_WORDS),
    "tu": Code("relative_humidity_percent", "%", missing=_AGRIMET_MISSING, words=_AGRIMET_WORDS),
    "ws": Code("wind_speed_m_s", "mph", missing=_AGRIMET_MISSING, words=_AGRIMET_WORDS),
    "wg": Code("wind_gust_m_s", "mph", missing=_AGRIMET_MISSING, words=_AGRIMET_WORDS),
    "si": Code("shortwave_w_m2", "ly/h", missing=_AGRIMET_MISSING, words=_AGRIMET_WORDS),
}
_AGRIMET_TIME = ("year", "month", "day", "hour")
_AGRIMET_WIND_HEIGHT_M = 3.0


def _agrimet_names(file: FileText) -> tuple[int, list[str]]:
    """Index and cells of the first row that is no comment."""
    for index, line in enumerate(file.lines[:40]):
        if line.strip() and not line.startswith("#"):
            return index, [cell.strip() for cell in split(line, ",")]
    return 0, []


def _agrimet_matches(file: FileText) -> bool:
    """Whether the header is YEAR, MONTH, DAY, HOUR and at least two of the codes."""
    _, names = _agrimet_names(file)
    lower = {name.casefold() for name in names}
    return set(_AGRIMET_TIME) <= lower and len(lower & set(_AGRIMET_CODES)) >= 2


def read_agrimet(file: FileText, options: ReadOptions) -> FileTable:
    """Read a file of AgriMet style, one that matches; an option names the zone of its clock.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    index, names = _agrimet_names(file)
    time = find_time_columns(names)
    assert time is not None
    found = indexes_of(names, _AGRIMET_CODES)
    more, unused = _agrimet_more(names, [*time.indexes, *found])
    used = [*found, *more]
    cells = read_cells(
        file, index + 1, ",", len(names), [*time.indexes, *used], numeric=[*time.numeric, *used]
    )
    times = read_times(file, cells, time, options, read_notes(file))
    hour, origin = hour_of(options, AGRIMET)
    coded = [coded_column(file, cells, i, names[i], code) for i, code in found.items()]
    named = [read_column(file, cells, i, header, options) for i, header in more.items()]
    return FileTable(
        Shape(AGRIMET.name, ",", ".", index + 1),
        replace(times.clock, hour=hour, hour_origin=origin),
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        (*coded, *named),
        _AGRIMET_WIND_HEIGHT_M,
        unused=unused,
        repairs=times.repairs,
    )


def _agrimet_more(names: list[str], used: list[int]) -> tuple[dict[int, Header], tuple[str, ...]]:
    """Columns beyond the codes that say themselves what they are, such as ``Rain (in)``."""
    headers = [None if i in used else read_header(name) for i, name in enumerate(names)]
    chosen, unused = choose_columns(names, headers)
    served = {
        _AGRIMET_CODES[names[i].casefold()].served_as
        for i in used
        if names[i].casefold() in _AGRIMET_CODES
    }
    more = {
        i: header
        for i, header in chosen.items()
        if header.served_as not in served and header.unit is not None
    }
    dropped = tuple(names[i] for i in chosen if i not in more)
    return more, (*unused, *dropped)


# Data-logger files with four header lines: file, names, units, processing.
#
# Stamps end their period. The fourth line says what a value is: ``Smp`` a sample
# at the stamp, ``Avg`` a mean, ``Tot`` a sum over the period before it.

_LOGGER_WORDS = MISSING_WORDS | {"inf", "-inf", "+inf"}
_LOGGER_SUFFIX = re.compile(r"_(?:S_)?WVT$|_(?:Avg|Tot|Smp)(?:\(\d+\))?$", re.IGNORECASE)
_LOGGER_EXTREMES = ("max", "min", "std", "smm", "med", "mom")
_LOGGER_HEADER_LINES = 4


def _logger_matches(file: FileText) -> bool:
    """Whether the first four lines are those of a logger's table."""
    if len(file.lines) < _LOGGER_HEADER_LINES:
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
    names, units, processing = _logger_head(file)
    headers = [_logger_header(name, kind) for name, kind in zip(names, processing, strict=True)]
    chosen, unused = choose_columns(names, [None, *headers[1:]], options.wind_height_m)
    cells = read_cells(file, _LOGGER_HEADER_LINES, ",", len(names), [0, *chosen], numeric=chosen)
    columns = tuple(
        _logger_column(file, cells, index, header, options, units[index], processing[index])
        for index, header in chosen.items()
    )
    time = TimeColumns("stamp", {"stamp": 0}, "", [names[0]])
    hour, origin = hour_of(options, LOGGER)
    times = read_times(file, cells, time, replace(options, hour=hour), read_notes(file))
    height, height_origin, told = wind_height(file, 2, chosen.values(), read_notes(file), options)
    return FileTable(
        Shape(LOGGER.name, ",", ".", _LOGGER_HEADER_LINES),
        replace(times.clock, hour_origin=origin),
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        columns,
        height,
        unused=unused,
        wind_height_from=height_origin,
        place=Place(stations=_logger_station(file)),
        repairs=times.repairs,
        assumed=(*told, *unread(names, [None, *headers[1:]])),
    )


def _logger_head(file: FileText) -> tuple[list[str], list[str], list[str]]:
    """Names, units and processing, as many of each."""
    rows = [[cell.strip() for cell in split(file.lines[i], ",")] for i in (1, 2, 3)]
    width = len(rows[0])
    names, units, processing = ([*row, *[""] * width][:width] for row in rows)
    return names, units, processing


def _logger_header(name: str, processing: str) -> Header:
    """What a column name says, without the suffix of its processing."""
    if processing.strip().casefold() in _LOGGER_EXTREMES:
        return Header(name, None)
    return replace(read_header(_LOGGER_SUFFIX.sub("", name)), text=name)


def _logger_column(
    file: FileText,
    cells: Cells,
    index: int,
    header: Header,
    options: ReadOptions,
    unit: str,
    processing: str,
) -> FileColumn:
    """One column, a mean where the logger averaged."""
    if index not in cells.read:
        texts = cells.columns[index]
        cleaned = ["" if t.strip().casefold() in _LOGGER_WORDS else t for t in texts]
        cells = Cells(cells.lines, {index: cleaned})
    column = read_column(file, cells, index, header, options, unit_row=unit)
    averaged = processing.casefold().startswith(("avg", "wvc"))
    if averaged and column.timing == "instant":
        return replace(column, timing="mean")
    return column


def _logger_station(file: FileText) -> tuple[str, ...]:
    cells = split(file.lines[0], ",")
    return (cells[1].strip(),) if len(cells) > 1 and cells[1].strip() else ()


ISD = Layout("isd-lite", _isd_matches, read_isd_lite, "end", measured=True)
CRN = Layout("us-crn", _crn_matches, read_crn, "end", measured=True)
LOGGER = Layout("logger", _logger_matches, read_logger, "end", measured=True)
ASOS = Layout("asos", _asos_matches, read_asos, "end", measured=True)
AGRIMET = Layout("agrimet", _agrimet_matches, read_agrimet, "center", measured=True)
LAYOUTS = (
    ISD,
    CRN,
    LOGGER,
    ASOS,
    AGRIMET,
)
