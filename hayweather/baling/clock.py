"""Nights, starts and horizons: where local time meets the hours of the weather.

A night is named by the local date of its evening. The baling day turns at
14:00 local, when cured hay is driest and no dew is left.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.weather.record import HOUR, Times

FEW_TIMES = 1000  # up to here one by one
HALF_HOUR = HOUR // 2  # clocks change on one, UTC
TURN_HOUR = 14  # local clock: a run starts, a night's hours end


def to_local(time: np.datetime64, timezone: str) -> datetime:
    """A UTC time on the clock of a zone.

    Parameters
    ----------
    time
        UTC.
    timezone
        Region/City of the local clock.

    Examples
    --------
    >>> to_local(np.datetime64("2026-07-09T01:00"), "America/Los_Angeles").isoformat()
    '2026-07-08T18:00:00-07:00'
    """
    stamp = time.astype("datetime64[s]").astype(datetime).replace(tzinfo=UTC)
    local: datetime = stamp.astimezone(ZoneInfo(timezone))
    return local


def to_utc(local: datetime) -> np.datetime64:
    """The UTC time of a local time that knows its zone.

    Parameters
    ----------
    local
        With its zone; of a doubled hour, as its fold says.
    """
    return np.datetime64(local.astimezone(UTC).replace(tzinfo=None), "s")


def local_hour(times: Times, timezone: str) -> np.ndarray:
    """Hour of the local clock of each UTC time, same shape.

    Parameters
    ----------
    times
        UTC, any shape.
    timezone
        Region/City of the local clock.
    """
    if times.size > FEW_TIMES:
        import pandas as pd  # many at once; it takes longer to load than a night's hours

        clock = pd.DatetimeIndex(times.ravel(), tz="UTC").tz_convert(timezone)
        return np.asarray(clock.hour, dtype=np.int64).reshape(times.shape)
    hours = [to_local(time, timezone).hour for time in times.ravel()]
    return np.array(hours, dtype=np.int64).reshape(times.shape)


def hour_start(time: np.datetime64, timezone: str) -> np.datetime64:
    """UTC time at which the hour of the local clock that holds `time` (UTC) began.

    Examples
    --------
    >>> str(hour_start(np.datetime64("2026-10-03T08:10"), "Australia/Adelaide"))
    '2026-10-03T07:30:00'
    """
    local = to_local(time, timezone)
    return to_utc(local) - np.timedelta64(60 * local.minute + local.second, "s")


def turn_of(day: date, timezone: str) -> np.datetime64:
    """UTC time of 14:00 local on a day.

    Parameters
    ----------
    day
        Local.
    timezone
        Region/City of the local clock.
    """
    return to_utc(datetime(day.year, day.month, day.day, TURN_HOUR, tzinfo=ZoneInfo(timezone)))


def turns_of(days: Times, timezone: str) -> Times:
    """As `turn_of` of each of some local days, ``datetime64[D]``, (days,)."""
    if len(days) > FEW_TIMES:
        import pandas as pd

        local = pd.DatetimeIndex(days.astype("datetime64[s]")) + pd.Timedelta(hours=TURN_HOUR)
        with suppress(ValueError):  # an hour that a clock change took or gave twice
            known = local.tz_localize(timezone, ambiguous="raise", nonexistent="raise")
            return np.asarray(known.tz_convert(None), dtype="datetime64[s]")
    turns = [turn_of(day, timezone) for day in days.tolist()]
    return np.array(turns, dtype="datetime64[s]")


@dataclass(frozen=True)
class Span:
    """The hours an outlook speaks of, UTC.

    Attributes
    ----------
    first, last
        Start of the current hour (a UTC hour; `on_hours` makes it one of the
        weather), end of the last hour.
    evening
        Local date of the evening that names the night.
    start
        Where the run begins: 14:00 before the evening before, one night of
        spin-up.
    needed
        The weather must reach at least this far.
    """

    first: np.datetime64
    last: np.datetime64
    evening: date
    start: np.datetime64
    needed: np.datetime64

    def on_hours(self, begin: np.datetime64, now: np.datetime64) -> Span:
        """From the hour of weather beginning at `begin` (UTC) that holds `now`.

        Local time by the half hour has its hours there, where its files have them.
        """
        return replace(self, first=begin + hour_index(begin, now) * HOUR)


def span_of(now: np.datetime64, timezone: str) -> Span:
    """The hours an outlook made at `now` (UTC) speaks of.

    After 14:00 local they reach to 14:00 two days on, before it to 14:00
    tomorrow.

    Parameters
    ----------
    now
        UTC.
    timezone
        Region/City of the local clock.

    Examples
    --------
    >>> span = span_of(np.datetime64("2026-07-09T01:20"), "America/Los_Angeles")
    >>> str(span.evening), str(span.first), str(span.last)
    ('2026-07-08', '2026-07-09T01:00:00', '2026-07-10T21:00:00')
    """
    local = to_local(now, timezone)
    today = local.date()
    after_turn = local.hour >= TURN_HOUR
    evening = today if after_turn else today - timedelta(days=1)
    ahead = 2 if after_turn else 1
    midnight = datetime(today.year, today.month, today.day, tzinfo=ZoneInfo(timezone))
    tomorrow = to_utc(midnight + timedelta(days=1))
    return Span(
        first=now.astype("datetime64[h]").astype("datetime64[s]"),
        last=turn_of(today + timedelta(days=ahead), timezone),
        evening=evening,
        start=turn_of(evening - timedelta(days=1), timezone),
        needed=tomorrow if after_turn else turn_of(today, timezone),
    )


def span_ahead(now: np.datetime64, timezone: str, days: int) -> Span:
    """The hours of a plan of `days` nights made at `now` (UTC), tonight's the first.

    They reach to 14:00 local after the last night.

    Examples
    --------
    >>> str(span_ahead(np.datetime64("2026-07-09T01:20"), "America/Los_Angeles", 3).last)
    '2026-07-11T21:00:00'
    """
    tonight = span_of(now, timezone)
    last = turn_of(tonight.evening + timedelta(days=days), timezone)
    return replace(tonight, last=last)


def clock_change(
    timezone: str, start: np.datetime64, end: np.datetime64
) -> tuple[np.datetime64, float] | None:
    """The first change of a zone's clock between two times, UTC, and by how many minutes.

    Parameters
    ----------
    timezone
        IANA name.
    start, end
        UTC. Positive minutes: clocks go forward.

    Examples
    --------
    >>> clock_change("Australia/Adelaide", *np.array(["2026-10-03T07", "2026-10-04T03"], "M8[s]"))
    (np.datetime64('2026-10-03T16:30:00'), 60.0)
    """
    times = np.arange(start.astype("datetime64[h]").astype("datetime64[s]"), end, HALF_HOUR)
    offsets = [to_local(time, timezone).utcoffset() for time in times]
    for time, (before, after) in zip(times[1:], pairwise(offsets), strict=True):
        if before != after and time > start and before is not None and after is not None:
            return time, (after - before).total_seconds() / 60
    return None


def hour_index(start: np.datetime64, time: np.datetime64) -> int:
    """Index of the weather hour that holds `time`, for weather that begins at `start`.

    Parameters
    ----------
    start, time
        UTC; negative where `time` comes before.
    """
    return int((time - start) // HOUR)
