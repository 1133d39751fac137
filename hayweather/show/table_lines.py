"""Columns as lines of text, the same way in every table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from hayweather.show.columns import Column, fitting
from hayweather.show.voice import Voice


def table_lines(columns: Sequence[Column], width: int) -> list[str]:
    """Headings and rows, as many columns as fit."""
    kept, gap = fitting(columns, width)
    lines = [*heading_lines(kept, gap), *cell_lines(kept, gap)]
    return [line.rstrip() for line in lines]


def heading_lines(columns: Sequence[Column], gap: int) -> list[str]:
    """The headings, whose depths are equal."""
    rows = zip(*(column.heading for column in columns), strict=True)
    return [_row(cells, columns, gap) for cells in rows]


def cell_lines(columns: Sequence[Column], gap: int) -> list[str]:
    """The rows, one line each."""
    rows = zip(*(column.cells for column in columns), strict=True)
    return [_row(cells, columns, gap) for cells in rows]


def _row(cells: Sequence[str], columns: Sequence[Column], gap: int) -> str:
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
