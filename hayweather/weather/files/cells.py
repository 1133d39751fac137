"""Lines to cells: splitting, line numbers, rows that are too short or too long."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hayweather.weather.files.text import FileText

DELIMITERS = (",", ";", "\t", "|")
BLANK = "blank"
"""Delimiter of files with columns set apart by blanks."""


@dataclass(frozen=True)
class Cells:
    """Texts of the wanted columns of a file.

    Attributes
    ----------
    lines
        Line number of each row.
    columns
        ``{index of the column: texts}``.
    """

    lines: list[int]
    columns: dict[int, list[str]]


def spoken(delimiter: str) -> str:
    """The delimiter as a report names it."""
    return "tab" if delimiter == "\t" else delimiter


def split(line: str, delimiter: str) -> list[str]:
    """The cells of one line, quotes taken away."""
    if delimiter == BLANK:
        return line.split()
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return line.split(delimiter)


def read_cells(
    file: FileText,
    first: int,
    delimiter: str,
    width: int,
    keep: Iterable[int],
    *,
    stop_at_blank: bool = False,
) -> Cells:
    """The wanted columns of all rows from line index `first` on.

    Blank lines and lines that begin with ``#`` are passed over.

    Parameters
    ----------
    width
        Number of columns that the header names.
    keep
        Indexes of the wanted columns.
    stop_at_blank
        True when a blank line ends the table.

    Raises
    ------
    WeatherFileError
        If a row has too few or too many cells, or there is no row.
    """
    columns: dict[int, list[str]] = {index: [] for index in sorted(set(keep))}
    lines: list[int] = []
    for number, line in enumerate(file.lines[first:], start=first + 1):
        if not line.strip():
            if stop_at_blank and lines:
                break
            continue
        if line.startswith("#"):
            continue
        cells = split(line, delimiter)
        _check_width(file, number, cells, width, columns)
        lines.append(number)
        for index, column in columns.items():
            column.append(cells[index])
    if not lines:
        raise file.error("weather_no_rows")
    return Cells(lines, columns)


def _check_width(
    file: FileText, line: int, cells: Sequence[str], width: int, columns: dict[int, list[str]]
) -> None:
    """Refuse a row that is cut short, or has cells that no column names."""
    short = bool(columns) and len(cells) <= max(columns)
    long = len(cells) > width and any(cell.strip() for cell in cells[width:])
    if short or long:
        raise file.error("weather_row_width", line, found=len(cells), wanted=width)
