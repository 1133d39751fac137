"""When baling on dew began and ended, beside what was said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call
from hayweather.learning.hours import LoggedHours, evening_of
from hayweather.learning.keep import Kept, KeptWindow
from hayweather.learning.logs import LogEvent
from hayweather.weather.record import HOUR, Booleans

MINUTE = np.timedelta64(60, "s")
DAY = np.timedelta64(86_400, "s")


@dataclass(frozen=True)
class TimeError:
    """Said less happened, of starts or ends of baling on dew [min]; NaN without any."""

    count: int
    bias_min: float
    mean_min: float

    @classmethod
    def of(cls, minutes: Sequence[float]) -> TimeError:
        """From single errors, NaN where nothing was said."""
        values = np.array([value for value in minutes if np.isfinite(value)])
        if not values.size:
            return cls(0, float("nan"), float("nan"))
        return cls(values.size, float(values.mean()), float(np.abs(values).mean()))


@dataclass(frozen=True)
class Night:
    """One night with hay baled on dew: errors of each rule's start and end [min]."""

    start: np.datetime64
    end: np.datetime64
    said: tuple[float, float]
    yesterday: tuple[float, float]
    held: bool | None


def nights_of(kept: Sequence[Kept], log: Sequence[LogEvent]) -> Iterator[Night]:
    """Every night with hay baled on dew that an outlook had spoken of."""
    zones = {item.field: item.timezone for item in kept}
    baled: dict[tuple[str, object], list[LogEvent]] = {}
    for event in log:
        if event.event == "baled" and event.field in zones:
            evening = evening_of(event.start, zones[event.field])
            baled.setdefault((event.field, evening), []).append(event)
    spans = {key: (events[0].start, max(e.end for e in events)) for key, events in baled.items()}
    for (field, _), (start, end) in sorted(spans.items(), key=lambda item: item[1][0]):
        before = [item for item in kept if item.field == field and item.made <= start]
        if not before:
            continue
        window = _nearest(before[-1].windows, start, end)
        others = [span for (name, _), span in spans.items() if name == field]
        yield Night(
            start,
            end,
            _errors(None if window is None else (window.start, window.end), start, end),
            _errors(_day_before(others, start), start, end),
            _held(window, start),
        )


def _nearest(
    windows: Sequence[KeptWindow], start: np.datetime64, end: np.datetime64
) -> KeptWindow | None:
    """The window on dew that shares most with the hours baled; None where none does."""
    dew = [window for window in windows if window.call == Call.NATURAL_DEW]
    shared = [(min(each.end, end) - max(each.start, start), each) for each in dew]
    best = max(shared, key=lambda pair: pair[0], default=None)
    return best[1] if best is not None and best[0] > np.timedelta64(0, "s") else None


def _day_before(
    spans: Sequence[tuple[np.datetime64, np.datetime64]], start: np.datetime64
) -> tuple[np.datetime64, np.datetime64] | None:
    """What was baled the night before, a day later."""
    for first, last in spans:
        if DAY / 2 < start - first < DAY * 1.5:
            return first + DAY, last + DAY
    return None


def _errors(
    said: tuple[np.datetime64, np.datetime64] | None, start: np.datetime64, end: np.datetime64
) -> tuple[float, float]:
    """Said less happened [min], start and end; NaN where nothing was said."""
    if said is None:
        return float("nan"), float("nan")
    return float((said[0] - start) / MINUTE), float((said[1] - end) / MINUTE)


def _held(window: KeptWindow | None, start: np.datetime64) -> bool | None:
    """Whether the start lay in the range shown; None where there was none."""
    if window is None or window.start_range is None:
        return None
    low, high = window.start_range
    return bool(low <= start <= high)


def times_of(errors: Sequence[tuple[float, float]]) -> tuple[TimeError, TimeError]:
    """Errors of starts and of ends."""
    return TimeError.of([start for start, _ in errors]), TimeError.of([end for _, end in errors])


def of_hours(
    said: Booleans, hours: LoggedHours, nights: Sequence[Night]
) -> list[tuple[float, float]]:
    """Errors of a rule that speaks hour by hour: its first and last hour of the night."""
    errors = []
    for night in nights:
        near = said & (np.abs((hours.start - night.start) / HOUR) < DAY / HOUR / 2)
        starts = hours.start[near]
        window = (starts.min(), starts.max() + HOUR) if starts.size else None
        errors.append(_errors(window, night.start, night.end))
    return errors
