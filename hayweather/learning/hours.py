"""Hours of a log beside what the outlook had said of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import TURN_HOUR, to_local
from hayweather.learning.keep import Kept
from hayweather.learning.logs import LogEvent
from hayweather.log.records import Span as Event
from hayweather.weather.record import HOUR, Floats, Times

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
