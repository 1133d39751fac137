"""Plain text in lines: wrapping that keeps numbers and units together, named values, tables."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from hayweather.show.voice import Voice, sentence

WIDEST_NAME = 22
WIDEST_PROSE = 100
"""Sentences are hard to read in longer lines; tables may be wider."""

_HELD = "\u00a0"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=[^\W\d_]|[%°])")


def held(text: str) -> str:
    """A text in which no line ends between a number and its unit, by hard blanks."""
    return _BEFORE_UNIT.sub(_HELD, text)


def wrapped(text: str, width: int, first: str = "", rest: str | None = None) -> list[str]:
    """A text in lines of at most `width`, `first` before the first, `rest` before the others.

    Parameters
    ----------
    first, rest
        Beginnings, counted in the width.

    Examples
    --------
    >>> wrapped("leaf at least 12 %", 17, "- ", "  ")
    ['- leaf at least', '  12 %']
    """
    lines = textwrap.wrap(
        held(text),
        width,
        initial_indent=first,
        subsequent_indent=first if rest is None else rest,
        break_on_hyphens=False,
    )
    return [line.replace(_HELD, " ") for line in lines]


def named_values(pairs: Sequence[tuple[str, str]], width: int, indent: str = "  ") -> list[str]:
    """Names and values in two columns; a long value goes on below itself.

    Parameters
    ----------
    indent
        Blanks before each line.
    """
    if not pairs:
        return []
    column = min(max(len(name) for name, _ in pairs), WIDEST_NAME)
    lines = []
    for name, value in pairs:
        first = f"{indent}{name.ljust(column)}  "
        rest = indent + " " * (column + 2)
        lines += wrapped(value, width, first, rest) or [first.rstrip()]
    return lines


def paragraphs(texts: Iterable[str], width: int) -> list[str]:
    """Each text in lines of its own."""
    return [line for text in texts for line in wrapped(text, width)]


def bulleted_sentences(texts: Iterable[str], width: int) -> list[str]:
    """Sentences, first letter large and a full stop at the end, with a sign before each."""
    return bullets(map(sentence, texts), width)


def bullets(texts: Iterable[str], width: int) -> list[str]:
    """Texts with a sign before each."""
    return [line for text in texts for line in wrapped(text, width, "- ", "  ")]


WIDEST_UNIT = 5


@dataclass(frozen=True)
class TextColumn:
    """One column, ready to print.

    Attributes
    ----------
    heading
        Lines above it; the last is the unit.
    cells
        One a row.
    drop
        Order in which columns go where there is no room; 0 stays.
    is_text
        True for left-aligned columns.
    """

    heading: tuple[str, ...]
    cells: tuple[str, ...]
    drop: int = 0
    is_text: bool = False

    @cached_property
    def width(self) -> int:
        """Characters it takes."""
        return max(len(text) for text in (*self.heading, *self.cells))


def unit_lines(unit: str) -> tuple[str, ...]:
    """A unit in as many lines as keep its column narrow."""
    top, slash, bottom = unit.partition("/")
    return (f"{top}{slash}", bottom) if len(unit) > WIDEST_UNIT and slash else (unit,)


def evened(columns: Sequence[TextColumn], *, below: bool = False) -> list[TextColumn]:
    """The columns with headings of one depth, blank lines above them, or `below`."""
    depth = max(len(column.heading) for column in columns)
    return [_evened(column, ("",) * (depth - len(column.heading)), below) for column in columns]


def _evened(column: TextColumn, blank: tuple[str, ...], below: bool) -> TextColumn:
    """A column with more lines in its heading."""
    heading = (*column.heading, *blank) if below else (*blank, *column.heading)
    return replace(column, heading=heading)


def columns_under(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> list[TextColumn]:
    """Columns of some rows: texts first, then numbers; a stroke parts the lines of a heading."""
    cells = zip(headings, zip(*rows, strict=True), strict=True)
    return evened(
        [
            TextColumn(tuple(heading.split("/")), tuple(column), is_text=number == 0)
            for number, (heading, column) in enumerate(cells)
        ]
    )


def with_room(columns: Sequence[TextColumn], width: int) -> list[TextColumn]:
    """The columns; where they do not fit into `width`, headings of numbers a word a line."""
    if _total(columns, 1) <= width:
        return list(columns)
    words = [" ".join(column.heading).split() for column in columns]
    return evened(
        [
            column if column.is_text else replace(column, heading=tuple(heading))
            for column, heading in zip(columns, words, strict=True)
        ]
    )


def fitting(columns: Sequence[TextColumn], width: int) -> tuple[list[TextColumn], int]:
    """The columns that fit into `width`, and the gap between them.

    Columns go in the order of `TextColumn.drop`; what may not go stays even where
    there is too little room.
    """
    kept = list(columns)
    while _total(kept, 1) > width:
        candidates = [column for column in kept if column.drop]
        if not candidates:
            break
        kept.remove(min(candidates, key=lambda column: column.drop))
    return kept, 2 if _total(kept, 2) <= width else 1


def _total(columns: Sequence[TextColumn], gap: int) -> int:
    """Characters of a row."""
    return sum(column.width for column in columns) + gap * (len(columns) - 1)


def table_lines(columns: Sequence[TextColumn], width: int) -> list[str]:
    """Headings and rows, as many columns as fit."""
    kept, gap = fitting(columns, width)
    lines = [*heading_lines(kept, gap), *cell_lines(kept, gap)]
    return [line.rstrip() for line in lines]


def heading_lines(columns: Sequence[TextColumn], gap: int) -> list[str]:
    """The headings, whose depths are equal."""
    rows = zip(*(column.heading for column in columns), strict=True)
    return [_row(cells, columns, gap) for cells in rows]


def cell_lines(columns: Sequence[TextColumn], gap: int) -> list[str]:
    """The rows, one line each."""
    rows = zip(*(column.cells for column in columns), strict=True)
    return [_row(cells, columns, gap) for cells in rows]


def _row(cells: Sequence[str], columns: Sequence[TextColumn], gap: int) -> str:
    """Cells side by side, texts to the left and numbers to the right."""
    padded = [
        cell.ljust(column.width) if column.is_text else cell.rjust(column.width)
        for cell, column in zip(cells, columns, strict=True)
    ]
    return (" " * gap).join(padded)


def under_days(
    timed: Iterable[tuple[np.datetime64, str]], voice: Voice, width: int
) -> Iterator[str]:
    """Lines in order of time, a line of `width` with the date above those of each day."""
    day = None
    for time, line in timed:
        local = voice.local(time).date()
        if local != day:
            yield f"-- {voice.date(local)} ".ljust(width, "-")
            day = local
        yield line
