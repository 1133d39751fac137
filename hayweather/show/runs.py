"""Hours that belong together: runs of one call, and notes that hold over some hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from string import ascii_lowercase, ascii_uppercase

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.show.phrases import merge
from hayweather.weather.record import HOUR
from hayweather.words import Remark


@dataclass(frozen=True)
class Run:
    """Consecutive hours with one call; UTC. Reasons of all hours, numbers as ranges."""

    call: Call
    start: np.datetime64
    end: np.datetime64
    reasons: tuple[Remark, ...]


@dataclass(frozen=True)
class Note:
    """A stop or caution and the hours it holds.

    Attributes
    ----------
    mark
        Letter in the table: large for a stop, small for a caution, empty where
        it holds in all hours.
    remark
        What it says, its numbers as ranges.
    spans
        (start, end) of its hours, UTC.
    is_stop
        True for a reason to stop.
    """

    mark: str
    remark: Remark
    spans: tuple[tuple[np.datetime64, np.datetime64], ...]
    is_stop: bool


def is_stop(remark: Remark) -> bool:
    """Whether a reason is one to stop."""
    return remark.key.startswith("stop_")


def call_runs(hours: Sequence[HourCall]) -> list[Run]:
    """Consecutive hours with one call for one kind of reason; stops stand in the notes."""
    found = []
    for (call, _), group in groupby(hours, key=lambda hour: (hour.call, _differs(hour))):
        block = list(group)
        reasons = [r for hour in block for r in hour.reasons if not is_stop(r)]
        found.append(Run(call, block[0].start, block[-1].start + HOUR, tuple(merge(reasons))))
    return found


def _differs(hour: HourCall) -> str:
    """Why the call is not that of the middle forecast; empty where it is."""
    return next((r.key for r in hour.reasons if r.key.startswith("reason_differs")), "")


def notes_of(hours: Sequence[HourCall]) -> list[Note]:
    """Every stop and caution of some hours once, stops first, with a letter each."""
    stops = _by_key(hours, stops=True)
    cautions = _by_key(hours, stops=False)
    return [
        *_lettered(stops, hours, ascii_uppercase, is_stop=True),
        *_lettered(cautions, hours, ascii_lowercase, is_stop=False),
    ]


def marks_of(notes: Sequence[Note]) -> dict[np.datetime64, str]:
    """Letters of each hour, by its UTC start."""
    marks: dict[np.datetime64, str] = {}
    for note in notes:
        for start, end in note.spans:
            for hour in np.arange(start, end, HOUR):
                marks[hour] = marks.get(hour, "") + note.mark
    return marks


def _by_key(
    hours: Sequence[HourCall], *, stops: bool
) -> dict[str, list[tuple[np.datetime64, Remark]]]:
    """Stops, or cautions, by text, with the hours they stand in."""
    found: dict[str, list[tuple[np.datetime64, Remark]]] = {}
    for hour in hours:
        for remark in filter(is_stop, hour.reasons) if stops else hour.cautions:
            found.setdefault(remark.key, []).append((hour.start, remark))
    return found


def _lettered(
    found: dict[str, list[tuple[np.datetime64, Remark]]],
    hours: Sequence[HourCall],
    letters: str,
    *,
    is_stop: bool,
) -> list[Note]:
    """Notes with a letter each; what holds in all hours needs none."""
    notes, free = [], iter(letters)
    for items in found.values():
        everywhere = len(items) == len(hours) and not is_stop
        mark = "" if everywhere else next(free, "*")
        remark = merge([remark for _, remark in items])[0]
        notes.append(Note(mark, remark, _spans([start for start, _ in items]), is_stop))
    return notes


def _spans(starts: Sequence[np.datetime64]) -> tuple[tuple[np.datetime64, np.datetime64], ...]:
    """Consecutive hours as spans."""
    spans: list[tuple[np.datetime64, np.datetime64]] = []
    for start in starts:
        if spans and spans[-1][1] == start:
            spans[-1] = (spans[-1][0], start + HOUR)
        else:
            spans.append((start, start + HOUR))
    return tuple(spans)
