"""From the file's clock to UTC, over both clock changes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from hayweather.errors import OptionError
from hayweather.weather.files.stamps import FARTHEST_OFFSET
from hayweather.weather.files.text import FileText
from hayweather.weather.quality import Repair
from hayweather.weather.record import Booleans, Times

_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([-+])(\d{1,2})(?::?(\d{2}))?", re.IGNORECASE)
_UTC_NAMES = {"UTC", "GMT", "Z", "ZULU", "ETC/UTC", "ETC/GMT", "UTC+0", "UTC+00:00"}


def find_zone(name: str) -> tzinfo | None:
    """The zone that is called `name`: an IANA name, UTC, or an offset; None if unknown.

    Examples
    --------
    >>> find_zone("UTC-07:00").utcoffset(None)
    datetime.timedelta(days=-1, seconds=61200)
    >>> find_zone("America/Nowhere") is None
    True
    """
    if name.strip().upper() in _UTC_NAMES:
        return UTC
    match = _OFFSET.fullmatch(name.strip())
    if match:
        offset = timedelta(hours=int(match[2]), minutes=int(match[3] or 0))
        if offset > FARTHEST_OFFSET:
            return None
        return timezone(-offset if match[1] == "-" else offset)
    try:
        return ZoneInfo(name.strip())
    except (KeyError, ValueError, OSError):
        return None


def zone_of_option(name: str) -> tzinfo:
    """The zone that an option names.

    Raises
    ------
    OptionError
        If there is no such zone.
    """
    zone = find_zone(name)
    if zone is None:
        raise OptionError("weather_timezone_unknown", "timezone", value=name)
    return zone


@dataclass(frozen=True)
class Conversion:
    """Stamps in UTC, and what was done at the clock changes.

    Attributes
    ----------
    stamps
        UTC, (rows,).
    phase_s
        Seconds of a UTC hour at which local hours begin.
    repairs
        ``clock_change_doubled``: stamps of the repeated hour put into its second
        pass; ``clock_change_single``: a repeated hour that stands once and is
        taken as the first; ``clock_change_labels``: stamps counted on from the
        start of their hour.
    """

    stamps: Times
    phase_s: int
    repairs: tuple[Repair, ...] = ()


def to_utc(
    file: FileText, lines: Sequence[int], clock: Times, zone: tzinfo, *, ends_hour: bool
) -> Conversion:
    """Bring readings of a local clock to UTC.

    Parameters
    ----------
    clock
        Readings without a zone, in the order of the file.
    ends_hour
        True when stamps are the ends of hours: then a clock that counts on
        from the start of its hour is understood too.

    Raises
    ------
    WeatherFileError
        If a stamp falls in the hour that the clock change skips.
    """
    offsets = _offsets(clock, zone)
    plain = None if offsets.skipped.any() else _resolve(clock, offsets)
    if ends_hour and (plain is None or not _rises(plain.stamps)):
        counted = _counted_on(clock, zone)
        if counted is not None:
            return counted
    if plain is not None:
        return plain
    first = int(offsets.skipped.argmax())
    value = str(clock[first]).replace("T", " ")
    raise file.error("weather_time_skipped", int(lines[first]), value=value, zone=str(zone))


def _counted_on(clock: Times, zone: tzinfo) -> Conversion | None:
    """Stamps read as the start of their hour plus one; None when that fails too."""
    starts = clock - np.timedelta64(3600, "s")
    offsets = _offsets(starts, zone)
    if offsets.skipped.any():
        return None
    found = _resolve(starts, offsets)
    if not _rises(found.stamps):
        return None
    stamps = found.stamps + np.timedelta64(3600, "s")
    labels = Repair("clock_change_labels", "", int(stamps.size), first=stamps[0])
    return Conversion(stamps, found.phase_s, (*found.repairs, labels))


def _rises(stamps: Times) -> bool:
    return bool((np.diff(stamps) > np.timedelta64(0, "s")).all())


@dataclass(frozen=True)
class _Offsets:
    """Seconds east of UTC in the first and second pass of each reading, (rows,)."""

    first: NDArray[np.int64]
    second: NDArray[np.int64]

    @property
    def skipped(self) -> Booleans:
        return np.asarray(self.first < self.second)

    @property
    def repeated(self) -> Booleans:
        return np.asarray(self.first > self.second)


def _offsets(clock: Times, zone: tzinfo) -> _Offsets:
    """Offsets of each reading; looked up once a half hour, clocks change no finer."""
    halves, places = np.unique(clock.astype(np.int64) // 1800, return_inverse=True)
    pairs = [_offset_pair(int(half) * 1800, zone) for half in halves]
    table = np.array(pairs, dtype=np.int64).reshape(-1, 2)
    return _Offsets(table[places, 0], table[places, 1])


def _offset_pair(seconds: int, zone: tzinfo) -> tuple[int, int]:
    moment = datetime(1970, 1, 1) + timedelta(seconds=seconds)
    offsets = (moment.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1))
    first, second = (0 if o is None else int(o.total_seconds()) for o in offsets)
    return first, second


def _resolve(clock: Times, offsets: _Offsets) -> Conversion:
    """UTC stamps: the repeated hour's second pass begins where the clock goes back."""
    second, single = _second_pass(clock, offsets.repeated)
    seconds = np.where(second, offsets.second, offsets.first)
    stamps = clock - seconds.astype("timedelta64[s]")
    repairs = [
        Repair(name, "", int(marks.sum()), first=stamps[int(marks.argmax())])
        for name, marks in (("clock_change_doubled", second), ("clock_change_single", single))
        if marks.any()
    ]
    phase = int(-seconds[0] % 3600) if seconds.size else 0
    return Conversion(stamps, phase, tuple(repairs))


def _second_pass(clock: Times, repeated: Booleans) -> tuple[Booleans, Booleans]:
    """Which rows are in the second pass, and which repeated ones stand only once."""
    second = np.zeros(clock.size, dtype=bool)
    single = np.zeros(clock.size, dtype=bool)
    rows = np.flatnonzero(repeated)
    for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1):
        readings = clock[run]
        back = np.flatnonzero(np.diff(readings) <= np.timedelta64(0, "s"))
        if back.size:
            second[run[back[0] + 1 :]] = True
        else:
            single[run] = True
    return second, single
