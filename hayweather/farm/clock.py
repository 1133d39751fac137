"""Times as people write them: local in the site's zone unless they carry an offset."""

from __future__ import annotations

import re
from datetime import UTC, datetime, time
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

ClockChange = Literal["doubled", "missing"]

_TIME_TEXT = re.compile(
    r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d(?::\d\d)?)(?:\.\d+)?\s*(Z|[+-]\d\d:\d\d)?"
)
_CLOCK_TEXT = re.compile(r"(\d{1,2}):(\d\d)")
FIRST_YEAR, LAST_YEAR = 1940, 2200


def parse_time(value: object) -> datetime | None:
    """A TOML date-time, or text like 2026-07-08T18:00; None for anything else.

    A date alone is not enough: the hour matters to the hay.

    Parameters
    ----------
    value
        As TOML has it.
    """
    moment = value if isinstance(value, datetime) else _from_text(value)
    if moment is None or not FIRST_YEAR <= moment.year <= LAST_YEAR:
        return None
    return moment.replace(microsecond=0)


def _from_text(value: object) -> datetime | None:
    """Text as a date and hour, with or without an offset."""
    match = _TIME_TEXT.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        return None
    try:
        return datetime.fromisoformat(f"{match[1]}T{match[2]}{match[3] or ''}")
    except ValueError:
        return None


def parse_clock(value: object) -> time | None:
    """A time of day like 18:30; None for anything else.

    Parameters
    ----------
    value
        As TOML has it.
    """
    match = _CLOCK_TEXT.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None or int(match[1]) > 23 or int(match[2]) > 59:
        return None
    return time(int(match[1]), int(match[2]))


def to_utc(moment: datetime, zone: ZoneInfo | None) -> tuple[np.datetime64, ClockChange | None]:
    """UTC of a time of the farm file, and the clock change it fell into, if any.

    A doubled hour counts as its first pass. A missing hour counts as if the
    clock had not been changed yet: 02:30 is read as 03:30 summer time.

    Parameters
    ----------
    moment
        With an offset, or local.
    zone
        For one that is local; None where the site has no zone.

    Raises
    ------
    ValueError
        If the time has no offset and there is no zone.

    Examples
    --------
    >>> to_utc(datetime(2026, 11, 1, 1, 30), ZoneInfo("America/Los_Angeles"))
    (np.datetime64('2026-11-01T08:30:00'), 'doubled')
    """
    if moment.tzinfo is not None:
        return _plain_utc(moment), None
    if zone is None:
        raise ValueError(moment)
    first, second = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    before, after = first.utcoffset(), second.utcoffset()
    change: ClockChange | None = None
    if before is not None and after is not None and before != after:
        change = "doubled" if before > after else "missing"
    return _plain_utc(first), change


def _plain_utc(moment: datetime) -> np.datetime64:
    """A zoned time as ``datetime64[s]`` in UTC."""
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


def wall_clock() -> np.datetime64:
    """The time now, UTC."""
    return _plain_utc(datetime.now(UTC))


def shifts_overlap(first: tuple[int, int], second: tuple[int, int]) -> bool:
    """Whether two spans of minutes after midnight share a minute on the clock face.

    Examples
    --------
    >>> shifts_overlap((20 * 60, 4 * 60), (3 * 60, 8 * 60))
    True
    """
    day = 24 * 60
    gap_to_second = (second[0] - first[0]) % day
    gap_to_first = (first[0] - second[0]) % day
    return gap_to_second < _length(first) or gap_to_first < _length(second)


def _length(shift: tuple[int, int]) -> int:
    """Minutes of a shift that may pass midnight."""
    return (shift[1] - shift[0]) % (24 * 60)
