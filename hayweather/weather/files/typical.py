"""Layouts of typical and satellite years: EPW, TMY3, NSRDB, PVGIS."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from hayweather.weather import catalog
from hayweather.weather.files.cells import Cells, JoinedTexts, numbers, read_cells, split
from hayweather.weather.files.columns import (
    Code,
    coded_column,
    hour_of,
    indexes_of,
    others,
    with_unit,
)
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
    FARTHEST_OFFSET,
    clock_of,
    fixed_zone,
    numbers_by_form,
    stamps_of_parts,
    to_utc,
)
from hayweather.weather.quality import Repair, counted
from hayweather.weather.record import Booleans, Floats, Times

COMMON_YEAR = 2015
LEAP_YEAR = 2016
"""Years that stitched months are put into: they have no date of their own."""
FACTS: dict[str, float] = {
    "latitude": 90.0,
    "longitude": 180.0,
    "elevation": 9000.0,
    "time zone": FARTHEST_OFFSET / timedelta(hours=1),
    "utc_offset_seconds": FARTHEST_OFFSET / timedelta(seconds=1),
    "time offset": 24.0,
}
"""Numbers of heads, and how far from 0 each may lie: degrees, degrees, m, h, s, h."""


def read_place(
    file: FileText,
    line: int,
    latitude: str,
    longitude: str,
    elevation: str | None,
    station: str = "",
) -> Place:
    """The place that a head names in one line; an elevation of None is not known.

    Raises
    ------
    WeatherFileError
        If it is no place on Earth.
    """
    return Place(
        head_number(file, line, latitude, "latitude"),
        head_number(file, line, longitude, "longitude"),
        None if elevation is None else head_number(file, line, elevation, "elevation"),
        stations=(station.strip(),) if station.strip() else (),
    )


def head_number(file: FileText, line: int, text: str, fact: str) -> float:
    """The number of one of `FACTS` in a file's head.

    Raises
    ------
    WeatherFileError
        If it is none, or beyond what is possible.
    """
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not abs(value) <= FACTS[fact]:
        raise file.error("weather_head_line", line, fact=fact, value=text.strip()[:40])
    return value


def one_year(
    file: FileText,
    lines: Sequence[int] | NDArray[np.int64],
    parts: Mapping[str, Sequence[float] | Floats],
) -> tuple[Times, bool]:
    """Clock readings with stitched years brought into one; whether they were stitched.

    Rows of a single year keep it.
    """
    years = np.asarray(parts["year"])
    if not (years != years[:1]).any():
        return stamps_of_parts(file, lines, parts), False
    leap = ((np.asarray(parts["month"]) == 2) & (np.asarray(parts["day"]) == 29)).any()
    year = float(LEAP_YEAR if leap else COMMON_YEAR)
    parts = {**parts, "year": np.full(len(lines), year)}
    return stamps_of_parts(file, lines, parts), True


# Rain of typical-year files, whose header says mm and whose numbers may be tenths.
#
# US typical years carry the station archive's whole numbers in tenths of mm
# under a header that says mm: gauges there tip at 0.01 inch, so the numbers are
# 3, 5, 8, 10, 13 ..., the multiples of 2.54 (Greensboro NC, TMY3: 98 % of 358 wet
# hours; read as mm its year would have 8,345 mm and two hours of 500 mm).

_RAIN_ENOUGH_WET_HOURS = 10
_RAIN_SHARE = 0.85
_RAIN_TIPS = frozenset(round(2.54 * tips) for tips in range(1, 400))


def in_mm(
    rain: FileColumn, hours: Floats, stamps: Times, lines: Sequence[int] | NDArray[np.int64]
) -> tuple[FileColumn, tuple[Repair, ...], tuple[Repair, ...]]:
    """Rain of single hours in mm, as far as the numbers show their unit.

    Parameters
    ----------
    rain
        As read, in the header's mm.
    hours
        Over how many hours each value was collected; others than 1 are no rain
        of an hour (0 stands in files that never measured it).

    Returns
    -------
    tuple
        The column; the repair ``rain_in_tenths``; the refused values
        ``rain_unit_unclear`` of files with too few wet hours to tell.
    """
    values = np.where(hours == 1.0, rain.values, np.nan)
    wet: Booleans = np.nan_to_num(values) > 0
    whole = bool((values[wet] == np.round(values[wet])).all())
    if not wet.any() or not whole:
        return replace(rain, values=values), (), ()
    if int(wet.sum()) < _RAIN_ENOUGH_WET_HOURS:
        refused = counted("rain_unit_unclear", "rain_mm", wet, stamps, lines)
        return replace(rain, values=np.where(wet, np.nan, values)), (), refused
    tips = np.array([int(value) in _RAIN_TIPS for value in values[wet]])
    if tips.mean() < _RAIN_SHARE:
        return replace(rain, values=values), (), ()
    repairs = counted("rain_in_tenths", "rain_mm", wet, stamps, lines)
    unit = replace(rain.unit, symbol="mm/10", factor=rain.unit.factor / 10)
    return replace(rain, values=values / 10, unit=unit), repairs, ()


# EPW, typical or single years for buildings: eight head lines, hours 1 to 24.
#
# Hour h is the hour before h o'clock standard time: shortwave and rain belong to
# it, temperature, dew point, wind, cloud and pressure are instants at its end.
# Missing codes and columns after the EnergyPlus auxiliary programs document
# (public, from memory).

_EPW_TIME = (0, 1, 2, 3, 4)
_RAIN, _RAIN_HOURS = 33, 34
_EPW_CODES: dict[int, tuple[str, Code]] = {
    6: ("dry bulb", Code("air_temperature_c", "C", missing=(99.9,))),
    7: ("dew point", Code("dew_point_c", "C", missing=(99.9,))),
    8: ("relative humidity", Code("relative_humidity_percent", "%", missing=(999.0,))),
    9: ("pressure", Code("pressure_kpa", "Pa", missing=(999999.0,))),
    13: ("global horizontal", Code("shortwave_w_m2", "Wh/m2", missing=(9999.0,))),
    21: ("wind speed", Code("wind_speed_m_s", "m/s", missing=(999.0,))),
    22: ("total sky cover", Code("cloud_fraction", "tenths", missing=(99.0,))),
    _RAIN: ("liquid precipitation depth", Code("rain_mm", "mm", missing=(999.0,))),
}


def _epw_matches(file: FileText) -> bool:
    """Whether the first line names a location as EPW does."""
    return file.lines[0].startswith("LOCATION,") and len(split(file.lines[0], ",")) >= 10


def read_epw(file: FileText, options: ReadOptions) -> FileTable:
    """Read an EPW file; it counts as a typical year.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    place, offset_h = _epw_head(file)
    first = _epw_first_row(file)
    width = max(len(split(file.lines[first], ",")), 7)
    keep = [*_EPW_TIME, *(i for i in [*_EPW_CODES, _RAIN_HOURS] if i < width)]
    cells = read_cells(file, first, ",", width, keep, numeric=keep)
    reading, _ = one_year(file, cells.lines, _epw_parts(file, cells))
    hour, origin = hour_of(options, EPW)
    zone, name = fixed_zone(offset_h)
    times = clock_of(
        to_utc(file, cells.lines, reading, zone, ends_hour=False), name, "file", hour, origin
    )
    columns, repairs, refused = _epw_columns(file, cells, times.stamps)
    return FileTable(
        Shape(EPW.name, ",", ".", first),
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


def _epw_head(file: FileText) -> tuple[Place, float]:
    cells = [cell.strip() for cell in split(file.lines[0], ",")]
    place = read_place(file, 1, cells[6], cells[7], cells[9], cells[1])
    return place, head_number(file, 1, cells[8], "time zone")


def _epw_first_row(file: FileText) -> int:
    """Index of the first row of weather."""
    for index, line in enumerate(file.lines[:60], start=1):
        if line.upper().startswith("DATA PERIODS") and index < len(file.lines):
            return index
    raise file.error("weather_no_rows")


def _epw_parts(file: FileText, cells: Cells) -> dict[str, Floats]:
    """Year to minute; several rows an hour count their minutes from its start."""
    names = ("year", "month", "day", "hour", "minute")
    parts = {
        name: numbers(file, cells.lines, cells[i], name)
        for name, i in zip(names, _EPW_TIME, strict=True)
    }
    several = bool((np.diff(parts["hour"]) == 0).any())
    minute = parts["minute"] if several else np.zeros(len(cells.lines))
    parts["hour"] = parts["hour"] - 1 if several else parts["hour"]
    parts["minute"] = minute
    return parts


def _epw_columns(
    file: FileText, cells: Cells, stamps: Times
) -> tuple[tuple[FileColumn, ...], tuple[Repair, ...], tuple[Repair, ...]]:
    """The columns, rain in mm; what was done to it and what was refused of it."""
    columns = {
        index: coded_column(file, cells, index, name, code)
        for index, (name, code) in _EPW_CODES.items()
        if index in cells.columns
    }
    if _RAIN not in columns:
        return tuple(columns.values()), (), ()
    hours: Floats = np.full(stamps.size, np.nan)
    if _RAIN_HOURS in cells.columns:
        hours = numbers(file, cells.lines, cells[_RAIN_HOURS], "rain hours")
    columns[_RAIN], repairs, refused = in_mm(columns[_RAIN], hours, stamps, cells.lines)
    return tuple(columns.values()), repairs, refused


# TMY3, typical years of the US: a place row, a header row, hours 01:00 to 24:00.
#
# Hours end at the stamp, local standard time: shortwave and rain belong to the
# hour before it, the rest are instants at it (NREL/TP-581-43156, users manual,
# from memory).

_TMY3_MISSING = (-9900.0, -99.0)
_TMY3_CODES: dict[str, Code] = {
    "dry-bulb (c)": Code("air_temperature_c", "C", missing=_TMY3_MISSING),
    "dew-point (c)": Code("dew_point_c", "C", missing=_TMY3_MISSING),
    "rhum (%)": Code("relative_humidity_percent", "%", missing=_TMY3_MISSING),
    "pressure (mbar)": Code("pressure_kpa", "hPa", missing=_TMY3_MISSING),
    "wspd (m/s)": Code("wind_speed_m_s", "m/s", missing=_TMY3_MISSING),
    "totcld (tenths)": Code("cloud_fraction", "tenths", missing=_TMY3_MISSING),
    "ghi (w/m^2)": Code("shortwave_w_m2", "Wh/m2", missing=_TMY3_MISSING),
    "lprecip depth (mm)": Code("rain_mm", "mm", missing=_TMY3_MISSING),
}
_TMY3_RAIN_HOURS = "lprecip quantity (hr)"


def _tmy3_matches(file: FileText) -> bool:
    """Whether the second line is the header of TMY3."""
    second = "".join(file.lines[1:2])
    return second.casefold().startswith("date (mm/dd/yyyy),time (hh:mm)")


def read_tmy3(file: FileText, options: ReadOptions) -> FileTable:
    """Read a TMY3 file.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    head = [cell.strip() for cell in split(file.lines[0], ",")]
    if len(head) < 7:
        raise file.error("weather_row_width", 1, found=len(head), wanted=7)
    place = read_place(file, 1, head[4], head[5], head[6], head[0])
    names = [cell.strip() for cell in split(file.lines[1], ",")]
    found = indexes_of(names, _TMY3_CODES)
    quantity = [i for i, name in enumerate(names) if name.casefold() == _TMY3_RAIN_HOURS]
    used = [*found, *quantity]
    cells = read_cells(file, 2, ",", len(names), [0, 1, *used], numeric=used)
    reading, _ = one_year(file, cells.lines, _tmy3_parts(file, cells))
    zone, zone_name = fixed_zone(head_number(file, 1, head[3], "time zone"))
    hour, origin = hour_of(options, TMY3)
    done = to_utc(file, cells.lines, reading, zone, ends_hour=False)
    times = clock_of(done, zone_name, "file", hour, origin)
    columns, repairs, refused = _tmy3_columns(file, cells, names, found, quantity, times.stamps)
    return FileTable(
        Shape(TMY3.name, ",", ".", 2),
        times.clock,
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        columns,
        10.0,
        unused=others(names, [0, 1, *found, *quantity]),
        place=place,
        typical_year=True,
        repairs=repairs,
        refused=refused,
    )


def _tmy3_parts(file: FileText, cells: Cells) -> Mapping[str, Sequence[float] | Floats]:
    """Year to minute from ``MM/DD/YYYY`` and ``HH:MM``."""
    joined = JoinedTexts((cells.columns[0], cells.columns[1]))
    found = numbers_by_form(joined, "MM/DD/YYYY hh:mm")
    if found is not None:
        return found
    parts: dict[str, list[float]] = {
        name: [] for name in ("month", "day", "year", "hour", "minute")
    }
    for line, date, time in zip(cells.lines, cells.columns[0], cells.columns[1], strict=True):
        texts = [*date.strip().split("/"), *time.strip().split(":")]
        if len(texts) != 5 or not all(text.isdigit() and text.isascii() for text in texts):
            value = f"{date.strip()} {time.strip()}"[:40]
            raise file.error("weather_time_not_understood", line, value=value)
        for name, text in zip(parts, texts, strict=True):
            parts[name].append(float(text))
    return parts


def _tmy3_columns(
    file: FileText,
    cells: Cells,
    names: list[str],
    found: dict[int, Code],
    quantity: list[int],
    stamps: Times,
) -> tuple[tuple[FileColumn, ...], tuple[Repair, ...], tuple[Repair, ...]]:
    """The columns, rain in mm; what was done to it and what was refused of it."""
    columns = {i: coded_column(file, cells, i, names[i], code) for i, code in found.items()}
    rain = next((i for i, column in columns.items() if column.served_as == "rain_mm"), None)
    if rain is None:
        return tuple(columns.values()), (), ()
    hours = np.ones(stamps.size)
    if quantity:
        hours = numbers(file, cells.lines, cells[quantity[0]], _TMY3_RAIN_HOURS)
    columns[rain], repairs, refused = in_mm(columns[rain], hours, stamps, cells.lines)
    return tuple(columns.values()), repairs, refused


# NSRDB, satellite and reanalysis years of the US: two rows of facts, then rows of 30 or 60 min.
#
# Each row is a moment: its stamp is the middle of what its shortwave stands for
# (NREL, NSRDB documentation, from memory). Wind is at 2 m.

_NSRDB_TIME = ("year", "month", "day", "hour", "minute")
_NSRDB_CODES: dict[str, Code] = {
    "temperature": Code("air_temperature_c", "C"),
    "air temperature": Code("air_temperature_c", "C"),
    "dew point": Code("dew_point_c", "C"),
    "relative humidity": Code("relative_humidity_percent", "%"),
    "wind speed": Code("wind_speed_m_s", "m/s"),
    "pressure": Code("pressure_kpa", "hPa"),
    "surface pressure": Code("pressure_kpa", "hPa"),
    "ghi": Code("shortwave_w_m2", "W/m2"),
}


def _nsrdb_matches(file: FileText) -> bool:
    """Whether the head names source, place and zone, and the third row the time."""
    if len(file.lines[:3]) < 3 or not file.lines[0].casefold().startswith("source,location id"):
        return False
    names = [name.strip().casefold() for name in split(file.lines[2], ",")]
    return names[:4] == list(_NSRDB_TIME[:4])


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
    found = indexes_of(names, _NSRDB_CODES)
    time = [i for i, name in enumerate(names) if name.casefold() in _NSRDB_TIME]
    keep = [*time, *found]
    cells = read_cells(file, 3, ",", len(names), keep, numeric=keep)
    reading, stitched = _nsrdb_reading(file, cells, names, time)
    zone, zone_name = fixed_zone(head_number(file, 2, facts.get("time zone", ""), "time zone"))
    hour, origin = hour_of(options, NSRDB)
    done = to_utc(file, cells.lines, reading, zone, ends_hour=False)
    times = clock_of(done, zone_name, "file", hour, origin)
    coded = {i: _nsrdb_in_unit(file, names[i], code, facts) for i, code in found.items()}
    return FileTable(
        Shape(NSRDB.name, ",", ".", 3),
        times.clock,
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        tuple(coded_column(file, cells, i, names[i], code) for i, code in coded.items()),
        2.0,
        unused=others(names, [*time, *found]),
        place=place,
        typical_year=stitched,
    )


def _nsrdb_reading(
    file: FileText, cells: Cells, names: list[str], time: list[int]
) -> tuple[Times, bool]:
    """Clock readings; years that do not follow each other are stitched months."""
    parts = {names[i].casefold(): numbers(file, cells.lines, cells[i], names[i]) for i in time}
    reading = stamps_of_parts(file, cells.lines, parts)
    if (np.diff(reading) < np.timedelta64(-31, "D")).any():
        return one_year(file, cells.lines, parts)
    return reading, False


def _nsrdb_in_unit(file: FileText, name: str, code: Code, facts: dict[str, str]) -> Code:
    """The code with the unit that the head names for this column, where it does."""
    text = facts.get(f"{name.casefold()} units", "").strip()
    return with_unit(file, name, code, text, 2) if text else code


# PVGIS, typical years of Europe and beyond: a head of about 16 lines, hours in UTC, a foot.
#
# Each row is a moment; shortwave is that of the satellite image, some minutes
# off the stamp as the head says, and stands for the hour around it. Wind at 10 m
# (European Commission JRC, PVGIS user manual, from memory).

_PVGIS_CODES: dict[str, Code] = {
    "t2m": Code("air_temperature_c", "C"),
    "rh": Code("relative_humidity_percent", "%"),
    "g(h)": Code("shortwave_w_m2", "W/m2"),
    "ws10m": Code("wind_speed_m_s", "m/s"),
    "sp": Code("pressure_kpa", "Pa"),
}
_PVGIS_STAMP = re.compile(r"(\d{4})(\d{2})(\d{2}):(\d{2})(\d{2})", re.ASCII)
_PVGIS_HEAD_LINES = 40


def _pvgis_matches(file: FileText) -> bool:
    """Whether the head begins with the latitude and a row names the time in UTC."""
    return file.lines[0].startswith("Latitude (decimal degrees)") and any(
        line.startswith("time(UTC),") for line in file.lines[:_PVGIS_HEAD_LINES]
    )


def read_pvgis(file: FileText, options: ReadOptions) -> FileTable:
    """Read a typical year of PVGIS.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    header = next(i for i, line in enumerate(file.lines) if line.startswith("time(UTC),"))
    place, shift_s = _pvgis_head(file, header)
    names = [cell.strip() for cell in split(file.lines[header], ",")]
    found = indexes_of(names, _PVGIS_CODES)
    cells = read_cells(
        file, header + 1, ",", len(names), [0, *found], stop_at_blank=True, numeric=found
    )
    stamps, _ = one_year(file, cells.lines, _pvgis_parts(file, cells))
    hour, origin = hour_of(options, PVGIS)
    columns = [coded_column(file, cells, i, names[i], code) for i, code in found.items()]
    return FileTable(
        Shape(PVGIS.name, ",", ".", header + 1),
        Clock("UTC", "file", hour, origin),
        np.array(cells.lines, dtype=np.int64),
        stamps,
        tuple(replace(c, shift_s=shift_s) if c.timing == "mean" else c for c in columns),
        10.0,
        unused=others(names, [0, *found]),
        place=place,
        attribution=catalog.PVGIS_ATTRIBUTION,
        typical_year=True,
    )


def _pvgis_head(file: FileText, header: int) -> tuple[Place, int]:
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


def _pvgis_parts(file: FileText, cells: Cells) -> Mapping[str, Sequence[float] | Floats]:
    """Year to minute from ``YYYYMMDD:HHMM``."""
    found = numbers_by_form(cells.columns[0], "YYYYMMDD:hhmm")
    if found is not None:
        return found
    parts: dict[str, list[float]] = {
        name: [] for name in ("year", "month", "day", "hour", "minute")
    }
    for line, text in zip(cells.lines, cells.columns[0], strict=True):
        match = _PVGIS_STAMP.fullmatch(text.strip())
        if match is None:
            raise file.error("weather_time_not_understood", line, value=text.strip()[:40])
        for name, digits in zip(parts, match.groups(), strict=True):
            parts[name].append(float(digits))
    return parts


EPW = Layout("epw", _epw_matches, read_epw, "end", measured=True)
TMY3 = Layout("tmy3", _tmy3_matches, read_tmy3, "end", measured=True)
NSRDB = Layout("nsrdb", _nsrdb_matches, read_nsrdb, "center", measured=True)
PVGIS = Layout("pvgis", _pvgis_matches, read_pvgis, "center", measured=True)
LAYOUTS = (
    EPW,
    TMY3,
    NSRDB,
    PVGIS,
)
