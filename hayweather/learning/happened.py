"""What a log says happened, hour by hour and bout by bout, beside what was said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import TURN_HOUR, to_local
from hayweather.learning.keep import Kept, KeptWindow
from hayweather.learning.past import LogEvent
from hayweather.log.records import Span as Event
from hayweather.weather.record import HOUR, Booleans, Floats, Times

HALF_HOUR = HOUR // 2
# What an entry of the log says of the hay; of two in one hour the later here counts.
HAPPENED: dict[Event, Call] = {
    "too_dry": Call.TOO_DRY,
    "baled": Call.NATURAL_DEW,
    "rig": Call.ADD_MOISTURE,
    "too_wet": Call.TOO_WET,
    "rain": Call.TOO_WET,
}


@dataclass(frozen=True)
class LoggedHours:
    """Hours that a log tells of and an outlook had spoken of, each array (hours,).

    Attributes
    ----------
    field
        Names.
    start
        UTC.
    happened, said
        `Call`: from the log; as shown by the last outlook made before the hour.
    chances
        Of each call, (6, hours), NaN where none were given.
    humidity
        Of the air, as in the outlook [%].
    lead_h
        From the making of the outlook to the hour [h].
    evening
        Local date of the evening of the hour's night, ``datetime64[D]``.
    yesterday
        True where the log has hay baled on dew 24 hours before.
    unspoken
        Logged hours that no outlook had spoken of.
    """

    field: np.ndarray
    start: Times
    happened: np.ndarray
    said: np.ndarray
    chances: Floats
    humidity: Floats
    lead_h: Floats
    evening: np.ndarray
    yesterday: np.ndarray
    unspoken: int

    @property
    def month(self) -> np.ndarray:
        """Month of the evening, one number for each month of each year."""
        return np.asarray(self.evening.astype("datetime64[M]").astype(np.int64))


def hours_logged(log: Sequence[LogEvent]) -> dict[tuple[str, np.datetime64], Call]:
    """What each hour of each field was like; an hour counts where half of it was so."""
    found: dict[tuple[str, np.datetime64], Call] = {}
    for kind, call in HAPPENED.items():
        for event in log:
            if event.event == kind:
                found |= {(event.field, hour): call for hour in _hours(event)}
    return found


def _hours(event: LogEvent) -> list[np.datetime64]:
    """UTC starts of the hours that an entry covers by half or more."""
    first = event.start.astype("datetime64[h]").astype("datetime64[s]")
    count = int((event.end - first) // HOUR) + 1
    hours = [first + number * HOUR for number in range(count)]
    return [
        hour for hour in hours if min(event.end, hour + HOUR) - max(event.start, hour) >= HALF_HOUR
    ]


def last_before(kept: Sequence[Kept], field: str, hour: np.datetime64) -> tuple[Kept, int] | None:
    """The last outlook made before an hour that speaks of it, and the hour's row in it."""
    for item in reversed(kept):
        if item.field != field or item.made > hour:
            continue
        rows = np.flatnonzero(item.starts == hour)
        if rows.size:
            return item, int(rows[0])
    return None


def logged_hours(kept: Sequence[Kept], log: Sequence[LogEvent]) -> LoggedHours:
    """Every logged hour that an outlook had spoken of, in order of field and time.

    Parameters
    ----------
    kept
        Outlooks in order of time.
    log
        What happened.
    """
    happened = hours_logged(log)
    found = [
        (key, said) for key in sorted(happened) if (said := last_before(kept, *key)) is not None
    ]
    keys = [key for key, _ in found]
    rows = [said for _, said in found]
    dew = {key for key, call in happened.items() if call == Call.NATURAL_DEW}
    return LoggedHours(
        field=np.array([field for field, _ in keys]),
        start=np.array([hour for _, hour in keys], dtype="datetime64[s]"),
        happened=np.array([happened[key] for key in keys], dtype=np.int8),
        said=np.array([item.calls[row] for item, row in rows], dtype=np.int8),
        chances=np.array([item.chances[:, row] for item, row in rows]).reshape(-1, len(Call)).T,
        humidity=np.array([item.humidity[row] for item, row in rows], dtype=np.float64),
        lead_h=np.array(
            [(hour - item.made) / HOUR for (_, hour), (item, _) in zip(keys, rows, strict=True)],
            dtype=np.float64,
        ),
        evening=np.array(
            [
                evening_of(hour, item.timezone)
                for (_, hour), (item, _) in zip(keys, rows, strict=True)
            ],
            dtype="datetime64[D]",
        ),
        yesterday=np.array([(field, hour - 24 * HOUR) in dew for field, hour in keys], dtype=bool),
        unspoken=len(happened) - len(found),
    )


def evening_of(time: np.datetime64, timezone: str) -> date:
    """Local date of the evening of the night that a UTC time belongs to (it turns at 14:00)."""
    local = to_local(time, timezone)
    return local.date() - timedelta(days=0 if local.hour >= TURN_HOUR else 1)


MINUTE = np.timedelta64(60, "s")
DAY = np.timedelta64(86_400, "s")
NOTHING = np.timedelta64(0, "s")
SAME_BOUT = HOUR  # baling that goes on after a shorter break is one bout

Stretch = tuple[np.datetime64, np.datetime64]


@dataclass(frozen=True)
class TimeError:
    """Said less happened, of starts or ends of baling on dew [min]; NaN without any.

    Attributes
    ----------
    count
        Times that could be set beside each other.
    bias_min, mean_min
        Mean, positive where said too late, and mean size [min].
    """

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
class Bout:
    """Hay of one field baled on dew without a long break.

    Attributes
    ----------
    field
        Name.
    start, end
        UTC.
    said, yesterday
        Errors of start and end [min] of the outlook's window, and of what was
        baled a day before; NaN where none of it fell into the bout.
    held
        Whether the start lay in the range shown; None where there was none.
    """

    field: str
    start: np.datetime64
    end: np.datetime64
    said: tuple[float, float]
    yesterday: tuple[float, float]
    held: bool | None


def bouts_of(kept: Sequence[Kept], log: Sequence[LogEvent]) -> Iterator[Bout]:
    """Every bout of baling on dew that an outlook had spoken of, in order of field and time."""
    for field, stretches in sorted(_baled(log).items()):
        for start, end in stretches:
            hour = start.astype("datetime64[h]").astype("datetime64[s]")
            found = last_before(kept, field, hour)
            if found is None:
                continue
            window = _window_at(found[0].windows, start, end)
            said = None if window is None else (window.start, window.end)
            before = [(first + DAY, last + DAY) for first, last in stretches]
            yield Bout(
                field,
                start,
                end,
                errors_of(said, start, end),
                errors_of(fullest(before, start, end), start, end),
                _held(window, start),
            )


def _baled(log: Sequence[LogEvent]) -> dict[str, list[Stretch]]:
    """Stretches of baling on dew by field, short breaks closed."""
    found: dict[str, list[Stretch]] = {}
    for event in sorted(log, key=lambda item: item.start):
        if event.event != "baled":
            continue
        stretches = found.setdefault(event.field, [])
        if stretches and event.start - stretches[-1][1] < SAME_BOUT:
            first, last = stretches.pop()
            stretches.append((first, max(last, event.end)))
        else:
            stretches.append((event.start, event.end))
    return found


def fullest(
    stretches: Sequence[Stretch], start: np.datetime64, end: np.datetime64
) -> Stretch | None:
    """The stretch that shares most with the time from `start` to `end`; None where none does."""
    shared = [(min(last, end) - max(first, start), (first, last)) for first, last in stretches]
    best = max(shared, key=lambda pair: pair[0], default=None)
    return best[1] if best is not None and best[0] > NOTHING else None


def _window_at(
    windows: Sequence[KeptWindow], start: np.datetime64, end: np.datetime64
) -> KeptWindow | None:
    """The window on dew that shares most with a bout; None where none does."""
    dew = {(each.start, each.end): each for each in windows if each.call == Call.NATURAL_DEW}
    best = fullest(list(dew), start, end)
    return None if best is None else dew[best]


def errors_of(
    said: Stretch | None, start: np.datetime64, end: np.datetime64
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
    said: Booleans, hours: LoggedHours, bouts: Sequence[Bout]
) -> list[tuple[float, float]]:
    """Errors of a rule that speaks hour by hour: its run of hours that shares most with a bout."""
    return [
        errors_of(
            fullest(_runs(hours.start[said & (hours.field == bout.field)]), bout.start, bout.end),
            bout.start,
            bout.end,
        )
        for bout in bouts
    ]


def _runs(starts: np.ndarray) -> list[Stretch]:
    """Runs of hours that follow each other, from their starts in order of time."""
    if not starts.size:
        return []
    edges = np.flatnonzero(np.diff(starts) > HOUR) + 1
    return [(part[0], part[-1] + HOUR) for part in np.split(starts, edges)]
