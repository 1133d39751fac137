"""Plain delimited files: one header row, columns under their usual names.

Also the files that this package writes, which carry their facts in head lines
``# key: value`` and are read back exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hayweather.weather.files.cells import DELIMITERS, Cells, read_cells, split, spoken
from hayweather.weather.files.columns import choose_columns, read_column
from hayweather.weather.files.headers import Header, read_header
from hayweather.weather.files.notes import Notes, read_notes
from hayweather.weather.files.numbers import decimal_mark
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.stations import STATION_NAMES, one_station
from hayweather.weather.files.table import FileColumn, FileTable, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import TimeColumns, find_time_columns, read_times
from hayweather.weather.files.wind import wind_height
from hayweather.weather.record import Assumption

_HEADER_WITHIN = 60


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


def find_header(file: FileText) -> Found | None:
    """The first row that names a time and a known column; None when there is none."""
    seen = 0
    for index, line in enumerate(file.lines):
        if not line.strip() or line.startswith("#"):
            continue
        candidates = [found for d in DELIMITERS if (found := _as_header(index, line, d))]
        if candidates:
            return max(candidates, key=lambda found: found.served)
        seen += 1
        if seen > _HEADER_WITHIN:
            break
    return None


def _as_header(index: int, line: str, delimiter: str) -> Found | None:
    """The line as a header row, or None when it names no time or no known column."""
    if delimiter not in line:
        return None
    cells = [cell.strip() for cell in split(line, delimiter)]
    time = find_time_columns(cells)
    if time is None:
        return None
    headers = [None if i in time.indexes else read_header(cell) for i, cell in enumerate(cells)]
    found = Found(index, delimiter, cells, time, headers)
    return found if found.served else None


def read_plain(file: FileText, options: ReadOptions) -> FileTable:
    """Read a plain delimited file.

    Raises
    ------
    WeatherFileError
        If no header is known, a unit is missing, or a cell is wrong.
    """
    found = find_header(file)
    if found is None:
        raise file.error("weather_no_columns", found=_first_cells(file))
    notes = read_notes(file)
    units, first = _unit_row(file, found)
    chosen, unused = choose_columns(found.cells, found.headers)
    station = [i for i, cell in enumerate(found.cells) if cell.casefold() in STATION_NAMES]
    keep = [*found.time.indexes, *chosen, *station]
    cells = read_cells(file, first, found.delimiter, len(found.cells), keep)
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
    return _table(file, options, notes, found, shape, cells, columns, unused)


def _table(
    file: FileText,
    options: ReadOptions,
    notes: Notes,
    found: Found,
    shape: Shape,
    cells: Cells,
    columns: tuple[FileColumn, ...],
    unused: tuple[str, ...],
) -> FileTable:
    """The table, with its times in UTC and its facts from the head lines."""
    times = read_times(file, cells, found.time, options, notes)
    height, origin, told = wind_height(file, found.index + 1, found.headers, notes, options)
    assumed = list(told)
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


def _unit_row(file: FileText, found: Found) -> tuple[dict[int, str], int]:
    """Units in the row below the header, when that is a row of units; first data line."""
    first = found.index + 1
    if first >= len(file.lines):
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
    return decimal_mark(cell for index in chosen for cell in cells.columns[index])


def _first_cells(file: FileText) -> str:
    """The first line that is no comment, shortened, to show what was found."""
    lines = (line.strip() for line in file.lines)
    return next((line[:80] for line in lines if line and not line.startswith("#")), "")
