"""Time stamps as people and stations write them, to clock readings of the file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.files.text import FileText
from hayweather.weather.record import Times

EARLIEST_YEAR, LATEST_YEAR = 1900, 2100
FARTHEST_OFFSET = timedelta(hours=14)
"""No zone on Earth is further from UTC."""

_STAMP = re.compile(
    r"(?P<a>\d{1,4})(?P<sign>[-/.])(?P<b>\d{1,2})[-/.](?P<c>\d{1,4})"
    r"(?:[\sT,]+(?P<hour>\d{1,2})(?::?(?P<minute>\d{2}))?(?::(?P<second>\d{2}))?(?:[.,]\d+)?"
    r"\s*(?P<half>[aApP]\.?\s?[mM]\.?)?)?"
    r"\s*(?P<zone>Z|UTC|GMT|[-+]\d{2}:?\d{2})?",
    re.ASCII,
)


@dataclass(frozen=True)
class Stamps:
    """Readings of the file's clock.

    Attributes
    ----------
    clock
        As read, without any zone, ``datetime64[s]``, (rows,).
    offset_s
        Seconds east of UTC of each stamp, (rows,); None when the stamps name none.
    """

    clock: Times
    offset_s: NDArray[np.int64] | None


def read_stamps(
    file: FileText, lines: Sequence[int], texts: Sequence[str], *, day_first: bool | None = None
) -> Stamps:
    """Read one column of full time stamps.

    ISO 8601 and the usual orders of day and month; hour 24 is midnight of the
    next day. Day and month are told apart by the whole column, never guessed,
    unless `day_first` tells.

    Raises
    ------
    WeatherFileError
        If a stamp is not understood, or day and month cannot be told apart.
    """
    moments: list[datetime | None] = []
    others: list[int] = []
    for index, text in enumerate(texts):
        moment = _iso(text.strip())
        moments.append(moment)
        if moment is None:
            others.append(index)
    if others:
        _read_others(file, lines, texts, others, moments, day_first)
    return _collect(file, lines, texts, [moment for moment in moments if moment is not None])


def stamps_of_parts(
    file: FileText, lines: Sequence[int], parts: Mapping[str, Sequence[float]]
) -> Times:
    """Clock readings from columns year, month, day, hour and minute.

    An hour of 24 is midnight of the next day; a larger number is read as hours
    and minutes (``1330``).

    Raises
    ------
    WeatherFileError
        If a row is no date or time.
    """
    minutes = parts.get("minute", [0.0] * len(lines))
    clock: list[datetime] = []
    rows = zip(parts["year"], parts["month"], parts["day"], parts["hour"], minutes, strict=True)
    for index, row in enumerate(rows):
        moment = _moment(*row)
        if moment is None:
            value = " ".join(f"{number:g}" for number in row)
            raise file.error("weather_time_not_understood", int(lines[index]), value=value)
        clock.append(moment)
    return np.array(clock, dtype="datetime64[s]")


def _moment(year: float, month: float, day: float, hour: float, minute: float) -> datetime | None:
    """The moment that five numbers mean, or None."""
    if not all(np.isfinite(n) and n == int(n) for n in (year, month, day, hour, minute)):
        return None
    if hour > 24 and hour % 100 < 60:
        hour, minute = divmod(int(hour), 100)
    if not (0 <= hour <= 24 and 0 <= minute <= 60 and EARLIEST_YEAR <= year <= LATEST_YEAR):
        return None
    try:
        return datetime(int(year), int(month), int(day)) + timedelta(hours=hour, minutes=minute)
    except (ValueError, OverflowError):
        return None


def _iso(text: str) -> datetime | None:
    """The moment of an ISO 8601 stamp, or None."""
    if len(text) < 8 or "W" in text:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _read_others(
    file: FileText,
    lines: Sequence[int],
    texts: Sequence[str],
    others: list[int],
    moments: list[datetime | None],
    day_first: bool | None,
) -> None:
    """Put the moments of stamps that are not ISO 8601 into `moments`."""
    matches = [_STAMP.fullmatch(texts[index].strip()) for index in others]
    for index, match in zip(others, matches, strict=True):
        if match is None:
            value = texts[index].strip()[:40]
            raise file.error("weather_time_not_understood", int(lines[index]), value=value)
    found = [match for match in matches if match is not None]
    if day_first is None:
        day_first = _day_first(file, int(lines[others[0]]), found)
    for index, match in zip(others, found, strict=True):
        moments[index] = _moment_of(match, day_first)
        if moments[index] is None:
            value = texts[index].strip()[:40]
            raise file.error("weather_time_not_understood", int(lines[index]), value=value)


def _moment_of(match: re.Match[str], day_first: bool) -> datetime | None:
    """The moment of a matched stamp, or None when it is no date."""
    year, month, day = _date_of(match, day_first)
    hour = int(match["hour"] or 0)
    if match["half"]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match["half"][0] in "pP" else 0)
    second = int(match["second"] or 0)
    if hour > 24 or second > 59:
        return None
    moment = _moment(year, month, day, hour, int(match["minute"] or 0))
    if moment is None:
        return None
    zone = {None: "", "UTC": "Z", "GMT": "Z"}.get(match["zone"], match["zone"])
    return _iso((moment + timedelta(seconds=second)).isoformat() + zone)


def _date_of(match: re.Match[str], day_first: bool) -> tuple[int, int, int]:
    """Year, month and day of a matched stamp."""
    a, b, c = int(match["a"]), int(match["b"]), int(match["c"])
    if len(match["a"]) == 4:
        return a, b, c
    year = c + 2000 if len(match["c"]) <= 2 else c
    return (year, b, a) if day_first else (year, a, b)


def _day_first(file: FileText, line: int, matches: list[re.Match[str]]) -> bool:
    """Whether the day stands before the month, by the evidence of the whole column."""
    open_order = [m for m in matches if len(m["a"]) != 4]
    if not open_order or all(m["sign"] == "." for m in open_order):
        return True
    first = {int(m["a"]) for m in open_order}
    second = {int(m["b"]) for m in open_order}
    if max(first) > 12 or max(second) > 12:
        return max(first) > 12
    spans = [_span(open_order, day_first) for day_first in (True, False)]
    if spans[0] == spans[1]:
        if first == second and len(first) == 1:
            return True
        raise file.error("weather_date_order", line, value=open_order[0][0].strip()[:40])
    return spans[0] < spans[1]


def _span(matches: list[re.Match[str]], day_first: bool) -> int:
    """Months between the first and last date when read in one order."""
    months = [12 * year + month for year, month, _ in (_date_of(m, day_first) for m in matches)]
    return max(months) - min(months)


def _collect(
    file: FileText, lines: Sequence[int], texts: Sequence[str], moments: list[datetime]
) -> Stamps:
    """Clock readings and offsets of a whole column."""
    offsets = [moment.utcoffset() for moment in moments]
    zoned = [offset is not None for offset in offsets]
    far = [offset is not None and abs(offset) > FARTHEST_OFFSET for offset in offsets]
    for index, moment in enumerate(moments):
        odd = far[index] or zoned[index] != zoned[0]
        if odd or not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
            value = texts[index].strip()[:40]
            raise file.error("weather_time_not_understood", int(lines[index]), value=value)
    clock = np.array([moment.replace(tzinfo=None) for moment in moments], dtype="datetime64[s]")
    if not any(zoned):
        return Stamps(clock, None)
    seconds = [0 if offset is None else int(offset.total_seconds()) for offset in offsets]
    return Stamps(clock, np.array(seconds, dtype=np.int64))
