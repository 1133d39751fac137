"""A small sheet of rows that a person keeps: comma or semicolon, one row of column names."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.errors import InputError
from hayweather.farm.clock import parse_time, to_utc
from hayweather.farm.document import shorten
from hayweather.farm.nearest import nearest
from hayweather.words import Remark

LARGEST_BYTES = 20_000_000
DELIMITERS = ",;\t"
COMMENT = "#"  # a line that begins with it is skipped


@dataclass(frozen=True)
class Row:
    """One row: its place for messages, and its cells by column; an empty cell is absent."""

    file: str
    line: int
    cells: dict[str, str]

    def where(self, column: str) -> Remark:
        """A cell of this row, as a message names it."""
        values = {"file": self.file, "line": self.line, "column": column}
        return Remark("where_cell", values)

    def error(self, key: str, column: str, **values: object) -> InputError:
        """An error at a cell of this row, with the text ``error_<key>``."""
        shown = shorten(self.cells.get(column, ""), 40)
        return InputError(key, self.where(column), value=shown, **values)

    def number(self, column: str, low: float, high: float) -> float | None:
        """A number within bounds, or None where the cell is empty.

        Raises
        ------
        InputError
            If it is none, or outside.
        """
        text = self.cells.get(column)
        if text is None:
            return None
        try:
            value = float(text.removesuffix("%").strip().replace(",", "."))
        except ValueError:
            raise self.error("sheet_number", column) from None
        if not (math.isfinite(value) and low <= value <= high):
            raise self.error("sheet_range", column, low=f"{low:g}", high=f"{high:g}")
        return value

    def word(self, column: str, known: Sequence[str], default: str = "") -> str:
        """One of the words known, `default` where the cell is empty.

        Raises
        ------
        InputError
            If it is another one, or there must be one.
        """
        text = self.cells.get(column, default).casefold().replace(" ", "_")
        if text not in known:
            near = nearest(text, known)
            raise self.error("sheet_word", column, nearest=near, known=", ".join(known))
        return text

    def name(self, column: str, known: Sequence[str]) -> str:
        """One of the names known; may be left out where there is one only.

        Raises
        ------
        InputError
            If it is another one, or which is meant is not said.
        """
        text = self.cells.get(column, known[0] if len(known) == 1 else "")
        if text not in known:
            raise self.error("sheet_field", column, known=", ".join(known))
        return text

    def time(self, column: str, zone: str | None) -> np.datetime64:
        """A time as UTC: local on the clock of `zone` unless it carries an offset.

        Raises
        ------
        InputError
            If it is none, or local and the zone is not known.
        """
        moment = parse_time(self.cells.get(column))
        if moment is None:
            raise self.error("sheet_time", column)
        if moment.tzinfo is None and zone is None:
            raise self.error("reading_no_zone", column)
        return to_utc(moment, ZoneInfo(zone) if zone else None)[0]


def read_sheet(path: Path, columns: Sequence[str], needed: Sequence[str]) -> list[Row]:
    """The rows of a sheet.

    Parameters
    ----------
    path
        CSV with comma, semicolon or tab, UTF-8 or Windows cp1252; lines that begin
        with # are skipped.
    columns
        Names of the columns that may be there.
    needed
        Those that must be.

    Raises
    ------
    InputError
        If the file cannot be read, a column is unknown or lacking, or there is
        no row.
    """
    first, names, table = _table(path)
    _check_names(path, names, columns, needed)
    rows = [
        Row(path.name, first + 1 + number, _cells(names, cells))
        for number, cells in enumerate(table, start=1)
        if _says_something("".join(cells))
    ]
    if not rows:
        raise InputError("sheet_empty", path.name)
    return rows


def heading_of(path: Path) -> list[str]:
    """Names of the columns of a sheet, known or not; errors as for `read_sheet`."""
    return _table(path)[1]


def _table(path: Path) -> tuple[int, list[str], list[list[str]]]:
    """Number of the line of column names, the names, and the rows below."""
    lines = _text(path).splitlines()
    first = next((number for number, line in enumerate(lines) if _says_something(line)), None)
    if first is None:
        raise InputError("sheet_empty", path.name)
    delimiter = max(DELIMITERS, key=lines[first].count)
    try:
        table = list(csv.reader(lines[first:], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        raise InputError("sheet_no_text", path.name) from None
    return first, [name.strip().casefold().replace(" ", "_") for name in table[0]], table[1:]


def _says_something(line: str) -> bool:
    """Whether a line is neither empty nor a comment."""
    return bool(line.strip()) and not line.lstrip().startswith(COMMENT)


def _cells(names: Sequence[str], cells: Sequence[str]) -> dict[str, str]:
    """Cells that hold something, by column."""
    pairs = zip(names, cells, strict=False)
    return {name: cell.strip() for name, cell in pairs if cell.strip()}


def _check_names(
    path: Path, names: Sequence[str], columns: Sequence[str], needed: Sequence[str]
) -> None:
    """Refuse columns that are unknown, double or lacking."""
    for name in names:
        if name not in columns:
            near = nearest(name, columns)
            raise InputError("sheet_column", path.name, value=shorten(name, 40), nearest=near)
        if names.count(name) > 1:
            raise InputError("sheet_column_twice", path.name, value=name)
    for name in needed:
        if name not in names:
            raise InputError(
                "sheet_column_lacking", path.name, value=name, known=", ".join(columns)
            )


def _text(path: Path) -> str:
    """All text of a file."""
    try:
        if path.is_dir():
            raise InputError("sheet_folder", str(path))
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise InputError("sheet_missing", str(path)) from None
    except (OSError, ValueError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise InputError("sheet_failed", str(path), reason=reason) from None
    if len(data) > LARGEST_BYTES or b"\x00" in data:
        raise InputError("sheet_no_text", path.name)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")
