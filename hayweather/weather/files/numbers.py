"""Cells to numbers: what a number is, what stands for "missing", what is neither."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

import numpy as np

from hayweather.weather.files.text import FileText
from hayweather.weather.record import Floats

MISSING_WORDS = frozenset({"", "na", "nan", "n/a", "null", "none", "-", "--", "---"})
"""What stands for "missing" by common convention, in lower case."""

_BEYOND_ALL = 1e100
"""No quantity in any unit is so large; up to here no change of unit overflows."""

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?", re.ASCII)
_COMMA_NUMBER = re.compile(r"[-+]?\d*,\d+", re.ASCII)


def numbers(
    file: FileText,
    lines: Sequence[int],
    cells: Sequence[str],
    name: str,
    *,
    decimal: str = ".",
    missing_words: Iterable[str] = MISSING_WORDS,
    missing_values: Sequence[float] = (),
) -> Floats:
    """The numbers of one column; NaN where the layout says that one is missing.

    Parameters
    ----------
    lines, cells
        Line number and text of each row.
    name
        Name of the column, for messages.
    missing_words, missing_values
        Texts (lower case) and numbers that stand for "missing".

    Raises
    ------
    WeatherFileError
        If a cell is neither a number nor missing.
    """
    words = frozenset(missing_words)
    values = np.array([_number(cell, decimal, words) for cell in cells], dtype=np.float64)
    wrong = np.flatnonzero(np.isinf(values))
    if wrong.size:
        first = int(wrong[0])
        text = cells[first].strip()[:40]
        raise file.error("weather_not_a_number", int(lines[first]), column=name, value=text)
    for code in missing_values:
        values[values == code] = np.nan
    return values


def _number(cell: str, decimal: str, words: frozenset[str]) -> float:
    """The number of a cell; NaN when missing, infinity when it is no number."""
    text = cell.strip()
    if text.casefold() in words:
        return math.nan
    if decimal == ",":
        text = text.replace(".", "?").replace(",", ".")
    number = float(text) if _NUMBER.fullmatch(text) else math.inf
    return number if abs(number) < _BEYOND_ALL else math.inf


def decimal_mark(cells: Iterable[str]) -> str:
    """``,`` when a cell holds a number with a decimal comma, else ``.``."""
    return "," if any(_COMMA_NUMBER.fullmatch(cell.strip()) for cell in cells) else "."
