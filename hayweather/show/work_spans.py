"""Work of a run sheet put together: pieces of one call that follow one another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call
from hayweather.plan.sheet_record import FieldSheet, RateStep, SheetWindow


@dataclass(frozen=True)
class WorkSpan:
    """Work of one call without a pause other than to fill; UTC."""

    call: Call
    start: np.datetime64
    end: np.datetime64
    pieces: tuple[SheetWindow, ...]

    @property
    def steps(self) -> tuple[RateStep, ...]:
        """Rates to dial."""
        return tuple(step for piece in self.pieces for step in piece.rate_steps)


def work_spans(field: FieldSheet) -> list[WorkSpan]:
    """The work of a field, pieces of an hour put together; a fill between them is no pause."""
    spans: list[WorkSpan] = []
    for piece in field.windows:
        last = spans[-1] if spans else None
        if last is not None and last.call == piece.call and _follows(field, last.end, piece.start):
            spans[-1] = WorkSpan(last.call, last.start, piece.end, (*last.pieces, piece))
        else:
            spans.append(WorkSpan(piece.call, piece.start, piece.end, (piece,)))
    return spans


def _follows(field: FieldSheet, end: np.datetime64, start: np.datetime64) -> bool:
    """Whether nothing but a fill lies between an end and the next start."""
    return bool(start <= end) or any(
        fill.start <= end and fill.end >= start for fill in field.fills if fill.baler_waits
    )
