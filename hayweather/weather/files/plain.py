"""Delimited files with one header row: any plain table, and two kinds of export.

Also the files that this package writes, which carry their facts in head lines
``# key: value`` and are read back exactly.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from hayweather.weather import catalog
from hayweather.weather.files.cells import (
    DELIMITERS,
    Cells,
    decimal_mark,
    different,
    read_cells,
    split,
    spoken,
)
from hayweather.weather.files.columns import (
    ASSUMED_WIND_M,
    Code,
    choose_columns,
    coded_column,
    hour_of,
    indexes_of,
    others,
    read_column,
    unread,
    with_unit,
)
from hayweather.weather.files.headers import QUANTITY_OF, Header, file_unit, read_header
from hayweather.weather.files.own import WIND_HEIGHT_LIMITS_M, Notes, read_notes
from hayweather.weather.files.table import (
    Clock,
    FileColumn,
    FileTable,
    Layout,
    Origin,
    Place,
    ReadOptions,
    Shape,
)
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import (
    TimeColumns,
    find_time_columns,
    fixed_zone,
    read_stamps,
    read_times,
)
from hayweather.weather.files.typical import head_number, read_place
from hayweather.weather.record import Assumption, Times

if TYPE_CHECKING:
    from hayweather.weather.files.cells import Texts


def wind_height(
    file: FileText,
    line: int,
    chosen: Iterable[Header],
    notes: Notes,
    options: ReadOptions,
) -> tuple[float, Origin, tuple[Assumption, ...]]:
    """Height of the wind [m] of the columns that serve, who says so, and what to tell.

    Raises
    ------
    WeatherFileError
        If the name of the wind column, at `line`, tells a height that no mast has.
    """
    for header in chosen:
        if header.served_as != "wind_speed_m_s" or header.height_m is None:
            continue
        low, high = WIND_HEIGHT_LIMITS_M
        if not low <= header.height_m <= high:
            raise file.error("weather_head_line", line, fact="wind_height_m", value=header.text)
        return header.height_m, "file", ()
    if notes.wind_height_m is not None:
        return notes.wind_height_m, "file", ()
    if options.wind_height_m is not None:
        return options.wind_height_m, "option", ()
    shown: dict[str, object] = {"height": (ASSUMED_WIND_M, "length")}
    return ASSUMED_WIND_M, "assumed", (Assumption("wind_height", shown),)


STATION_NAMES = frozenset({"station", "station_id", "stid", "site", "site_id", "origin", "wbanno"})


def one_station(file: FileText, texts: Texts) -> tuple[str, ...]:
    """The one station that a column names.

    Raises
    ------
    WeatherFileError
        If it names several.
    """
    _, names = different(texts)
    stations = list(dict.fromkeys(text.strip() for text in names if text.strip()))
    if len(stations) > 1:
        raise file.error("weather_stations", stations=", ".join(stations[:5])[:80])
    return tuple(stations)


_NO_NAMES: Mapping[str, str] = {}


def _is_named(text: str, names: Mapping[str, str]) -> bool:
    """Whether an option names a column of the file."""
    return text.strip().casefold() in names


def named_header(text: str, names: Mapping[str, str]) -> Header:
    """What a column's name says, unless an option says what it is.

    Parameters
    ----------
    text
        The name as the file has it.
    names
        ``{name in small letters: column of the record}``.
    """
    header = read_header(text)
    served_as = names.get(text.strip().casefold())
    if served_as is None or served_as == header.served_as:
        return header
    bracket = text.rpartition("(")[2].rpartition("[")[2].strip(" )]")
    return Header(text, served_as, file_unit(QUANTITY_OF[served_as], bracket))


_HEADER_WITHIN = 60
MOST_COLUMNS = 1000
"""A row with more cells is no row of names (assumed)."""


@dataclass(frozen=True)
class Found:
    """The header row of a delimited file.

    Attributes
    ----------
    index
        Index of its line.
    delimiter, cells
        How it is split, and into what.
    time
        Which cells are the time.
    headers
        What each cell says, None for those that are the time.
    """

    index: int
    delimiter: str
    cells: list[str]
    time: TimeColumns
    headers: list[Header | None]

    @property
    def served(self) -> int:
        """How many columns are known."""
        return sum(h is not None and h.served_as is not None for h in self.headers)


def find_header(file: FileText, names: Mapping[str, str] = _NO_NAMES) -> Found | None:
    """The first row that names a time and a known column; None when there is none.

    Parameters
    ----------
    file
        Its lines.
    names
        Columns that an option names.
    """
    seen = 0
    for index, line in enumerate(file.lines):
        if not line or line[0] == "#" or line.isspace():
            continue
        rows = [_as_header(index, line, d, names) for d in DELIMITERS]
        candidates = [found for found in rows if found is not None]
        if candidates:
            return max(candidates, key=lambda found: found.served)
        seen += 1
        if seen > _HEADER_WITHIN:
            break
    return None


def _as_header(index: int, line: str, delimiter: str, names: Mapping[str, str]) -> Found | None:
    """The line as a header row, or None when it names no time or no known column."""
    if not 0 < line.count(delimiter) < MOST_COLUMNS:
        return None
    cells = [cell.strip() for cell in split(line, delimiter)]
    time = find_time_columns(cells)
    if time is None:
        return None
    headers = [
        None if i in time.indexes else named_header(cell, names) for i, cell in enumerate(cells)
    ]
    given = {header.served_as for header in headers if header and _is_named(header.text, names)}
    headers = [
        replace(header, served_as=None)
        if header and header.served_as in given and not _is_named(header.text, names)
        else header
        for header in headers
    ]
    found = Found(index, delimiter, cells, time, headers)
    return found if found.served else None


def read_plain(file: FileText, options: ReadOptions) -> FileTable:
    """Read a plain delimited file.

    Raises
    ------
    WeatherFileError
        If no header is known, a unit is missing, or a cell is wrong.
    """
    found = find_header(file, options.names)
    if found is None:
        raise file.error("weather_no_columns", found=_first_cells(file))
    notes = read_notes(file)
    units, first = unit_row(file, found)
    chosen, unused = choose_columns(
        found.cells, found.headers, options.wind_height_m, notes.wind_height_m
    )
    station = [i for i, cell in enumerate(found.cells) if cell.casefold() in STATION_NAMES]
    keep = [*found.time.indexes, *chosen, *station]
    numeric = [*found.time.numeric, *chosen]
    cells = read_cells(file, first, found.delimiter, len(found.cells), keep, numeric=numeric)
    named = tuple(name for i in station for name in one_station(file, cells.columns[i]))
    decimal = _decimal(found, chosen, cells)
    columns = tuple(
        read_column(
            file, cells, index, header, options, unit_row=units.get(index, ""), decimal=decimal,
            missing=notes.missing,
        )
        for index, header in chosen.items()
    )  # fmt: skip
    shape = Shape("own" if notes.own else "plain", spoken(found.delimiter), decimal, first)
    notes = replace(notes, place=replace(notes.place, stations=named))
    return table_of(file, options, notes, found, shape, cells, columns, chosen, unused)


def table_of(
    file: FileText,
    options: ReadOptions,
    notes: Notes,
    found: Found,
    shape: Shape,
    cells: Cells,
    columns: tuple[FileColumn, ...],
    chosen: Mapping[int, Header],
    unused: tuple[str, ...],
) -> FileTable:
    """The table, with its times in UTC and its facts from the head lines."""
    times = read_times(file, cells, found.time, options, notes)
    height, origin, told = wind_height(file, found.index + 1, chosen.values(), notes, options)
    assumed = [*told, *unread(found.cells, found.headers)]
    if times.clock.hour_origin == "assumed" and any(c.timing in ("mean", "sum") for c in columns):
        assumed.append(Assumption("hour_start"))
    return FileTable(
        shape,
        times.clock,
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        columns,
        height,
        unused=unused,
        wind_height_from=origin,
        place=notes.place,
        issued=notes.issued,
        fetched=notes.fetched,
        source=notes.source,
        attribution=notes.attribution,
        typical_year=notes.typical_year,
        exact=notes.own,
        repairs=times.repairs,
        assumed=tuple(assumed),
    )


def unit_row(file: FileText, found: Found) -> tuple[dict[int, str], int]:
    """Units in the row below the header, when that is a row of units; first data line."""
    first = found.index + 1
    if not file.lines[first : first + 1]:
        return {}, first
    cells = [cell.strip() for cell in split(file.lines[first], found.delimiter)]
    if any(any(c.isdigit() for c in cell[:1].lstrip("+-.")) for cell in cells) or not any(cells):
        return {}, first
    time = [cells[i] for i in found.time.indexes if i < len(cells)]
    if any(any(c.isdigit() for c in cell) for cell in time):
        return {}, first
    return {i: cell for i, cell in enumerate(cells) if cell}, first + 1


def _decimal(found: Found, chosen: dict[int, Header], cells: Cells) -> str:
    """The decimal mark, by the cells; a comma cannot be one where it splits columns."""
    if found.delimiter == ",":
        return "."
    texts = (different(cells.columns[i])[1] for i in chosen if i not in cells.read)
    return decimal_mark(cell for column in texts for cell in column)


def _first_cells(file: FileText) -> str:
    """The first line that is no comment, shortened, to show what was found."""
    lines = (line.strip() for line in file.lines)
    return next((line[:80] for line in lines if line and not line.startswith("#")), "")


# CSV export of the open weather API: three head lines, then the hours.
#
# Temperature, humidity, wind, cloud and pressure are instants at the stamp; rain
# is the sum, shortwave the mean and gusts the largest of the hour before it. The
# whole series has one offset from UTC, whatever the zone does (the service's
# documentation, read).

_OPEN_METEO_CODES: dict[str, Code] = {
    "temperature_2m": Code("air_temperature_c", "C"),
    "dew_point_2m": Code("dew_point_c", "C"),
    "dewpoint_2m": Code("dew_point_c", "C"),
    "relative_humidity_2m": Code("relative_humidity_percent", "%"),
    "relativehumidity_2m": Code("relative_humidity_percent", "%"),
    "wind_speed_10m": Code("wind_speed_m_s", "m/s"),
    "windspeed_10m": Code("wind_speed_m_s", "m/s"),
    "wind_gusts_10m": Code("wind_gust_m_s", "m/s"),
    "windgusts_10m": Code("wind_gust_m_s", "m/s"),
    "cloud_cover": Code("cloud_fraction", "%"),
    "cloudcover": Code("cloud_fraction", "%"),
    "surface_pressure": Code("pressure_kpa", "hPa"),
    "pressure_msl": Code("sea_level_pressure_kpa", "hPa"),
    "shortwave_radiation": Code("shortwave_w_m2", "W/m2"),
    "precipitation": Code("rain_mm", "mm"),
    "precipitation_probability": Code("rain_chance_percent", "%"),
    "weather_code": Code("weather_code", ""),
    "weathercode": Code("weather_code", ""),
}


def _open_meteo_matches(file: FileText) -> bool:
    """Whether the head names the place and one offset for all hours."""
    first = next((line for line in file.lines if line.strip()), "").casefold()
    return "latitude" in first and "utc_offset_seconds" in first


def read_open_meteo(file: FileText, options: ReadOptions) -> FileTable:
    """Read a CSV export of the open weather API.

    Raises
    ------
    WeatherFileError
        If it holds several places, or something in it is wrong.
    """
    place, offset_h = _open_meteo_head(file)
    header = _open_meteo_header_line(file)
    names = [cell.strip() for cell in split(file.lines[header], ",")]
    bare = [name.partition("(")[0].strip() for name in names]
    found = indexes_of(bare, _OPEN_METEO_CODES)
    cells = read_cells(
        file, header + 1, ",", len(names), [0, *found], stop_at_blank=True, numeric=found
    )
    stamps = _open_meteo_stamps(file, cells, offset_h)
    hour, origin = hour_of(options, OPEN_METEO)
    clock = Clock(fixed_zone(offset_h)[1], "file", hour, origin, int(-offset_h * 3600 % 3600))
    return FileTable(
        Shape(OPEN_METEO.name, ",", ".", header + 1),
        clock,
        np.array(cells.lines, dtype=np.int64),
        stamps,
        tuple(_open_meteo_column(file, cells, i, names[i], code) for i, code in found.items()),
        10.0,
        unused=others(names, [0, *found]),
        wind_height_from="file",
        place=place,
        attribution=catalog.OPEN_METEO.attribution,
    )


def _open_meteo_head(file: FileText) -> tuple[Place, float]:
    """The place and the offset in hours."""
    lines = [(n, line) for n, line in enumerate(file.lines, start=1) if line.strip()]
    names = [cell.strip().casefold() for cell in split(lines[0][1], ",")]
    if len(lines) < 3:
        raise file.error("weather_no_rows")
    number, line = lines[1]
    facts = dict(zip(names, split(line, ","), strict=False))
    if "location_id" in facts and not lines[2][1].casefold().startswith(("time", "location_id")):
        raise file.error("weather_stations", stations=f"{facts['location_id']}, ...")
    elevation = facts.get("elevation", "").strip()
    place = read_place(
        file, number, facts.get("latitude", ""), facts.get("longitude", ""),
        None if elevation.casefold() in ("", "nan") else elevation,
    )  # fmt: skip
    zone = facts.get("timezone", "").strip()
    seconds = facts.get("utc_offset_seconds", "")
    offset_h = head_number(file, number, seconds, "utc_offset_seconds") / 3600
    return replace(place, timezone=zone if "/" in zone else None), offset_h


def _open_meteo_header_line(file: FileText) -> int:
    """Index of the row that names the hourly columns."""
    for index, line in enumerate(file.lines):
        if line.casefold().startswith("time,"):
            return index
    raise file.error("weather_no_columns", found=file.lines[0][:80])


def _open_meteo_stamps(file: FileText, cells: Cells, offset_h: float) -> Times:
    """UTC stamps; a count of seconds since 1970 is UTC already."""
    texts = cells.columns[0]
    if all(text.strip().isdigit() and len(text.strip()) == 10 for text in texts):
        return np.array([int(text) for text in texts], dtype="datetime64[s]")
    stamps = read_stamps(file, cells.lines, texts)
    return stamps.clock - np.timedelta64(round(offset_h * 3600), "s")


def _open_meteo_column(
    file: FileText, cells: Cells, index: int, name: str, code: Code
) -> FileColumn:
    """One column in the unit that its header names."""
    text = name.partition("(")[2].rstrip(") ")
    return coded_column(file, cells, index, name, with_unit(file, name, code, text))


OPEN_METEO = Layout("open-meteo", _open_meteo_matches, read_open_meteo, "end")
PLAIN = Layout("plain", lambda file: True, read_plain)
