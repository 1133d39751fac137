"""The time columns of a file: which they are, their stamps, and their way to UTC."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import TYPE_CHECKING, Any, Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from hayweather.errors import OptionError
from hayweather.weather.files.cells import Cells, JoinedTexts, letters_of, numbers
from hayweather.weather.files.headers import PART_NAMES, STAMP_NAMES, hour_statement, words_of
from hayweather.weather.files.own import Notes
from hayweather.weather.files.table import Clock, HourConvention, Origin, ReadOptions
from hayweather.weather.files.text import FileText, Letters
from hayweather.weather.quality import Repair
from hayweather.weather.record import Booleans, Floats, Times

if TYPE_CHECKING:
    from hayweather.weather.files.cells import Texts

EARLIEST_YEAR, LATEST_YEAR = 1900, 2100
FARTHEST_OFFSET = timedelta(hours=14)
"""No zone on Earth is further from UTC."""

_STAMP = re.compile(
    r"(?P<a>\d{1,4})(?P<sign>[-/.])(?P<b>\d{1,2})[-/.](?P<c>\d{1,4})"
    r"(?:[\sT,]+(?P<hour>\d{1,2})(?::?(?P<minute>\d{2}))?(?::(?P<second>\d{2}))?"
    r"(?P<fraction>[.,]\d+)?"
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
    file: FileText,
    lines: Sequence[int] | NDArray[np.int64],
    texts: Texts,
    *,
    day_first: bool | None = None,
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
    letters = letters_of(texts)
    found = None if letters is None else _by_shape(letters, day_first)
    if found is not None:
        return found
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


_MOST_SHAPES = 64
"""Of stamps in one column; dates without leading zeros have up to 32."""


Whole = NDArray[np.signedinteger[Any]]


@dataclass(frozen=True)
class _Numbers:
    """The numbers of stamps as written, (rows,) each.

    `a`, `b` and `c` are those of the date, in that order; `wide` where the year comes
    first, `dotted` where dots stand between them.
    """

    a: Whole
    b: Whole
    c: Whole
    wide: Booleans
    dotted: Booleans


def _by_shape(letters: Letters, day_first: bool | None) -> Stamps | None:
    """Stamps of few shapes, all rows of a shape at once; None where one needs a look.

    A shape is where the digits stand; rows of one shape have the same other letters.
    """
    rows = letters.shape[1]
    found = _Found(rows)
    if found.take(letters):
        return found.stamps(day_first)
    packed = np.packbits((letters - np.uint8(ord("0")) < 10).T, axis=1)
    keys = np.zeros((len(packed), 8), np.uint8)
    keys[:, : packed.shape[1]] = packed
    kinds, which = np.unique(keys.view(np.uint64)[:, 0], return_inverse=True)
    if not 1 < kinds.size <= _MOST_SHAPES:
        return None
    found = _Found(rows)
    for kind in range(kinds.size):
        alike = np.flatnonzero(which == kind)
        if not found.take(letters[:, alike], alike):
            return None
    return found.stamps(day_first)


def _among(letters: Letters, signs: bytes) -> Booleans:
    """Where one of some signs stands."""
    return np.logical_or.reduce([letters == sign for sign in signs])


_ALL = slice(None)


class _Found:
    """Numbers of stamps, put in shape by shape."""

    def __init__(self, rows: int) -> None:
        names = ("a", "b", "c", "hour", "minute", "second")
        self.numbers = {name: np.zeros(rows, np.int16) for name in names}
        self.offset = np.zeros(rows, np.int64)
        self.wide, self.dotted = np.zeros(rows, bool), np.zeros(rows, bool)
        self.zoned: set[bool] = set()

    def take(self, here: Letters, rows: slice | NDArray[np.intp] = _ALL) -> bool:
        """Put in the rows of one shape; False where they are not alike, or no stamps."""
        first = here[:, 0].copy()
        places = np.flatnonzero(first)  # zeros are behind the end of a text
        text = first[places].tobytes().decode("ascii")
        lead = len(text) - len(text.lstrip())
        match = _STAMP.fullmatch(text.strip())
        if match is None or match["fraction"]:
            return False
        zone, half = match["zone"], match["half"]
        offset = zone is not None and zone[0] in "+-"
        free = {}
        if half:
            free[int(places[lead + match.start("half")])] = b"aApP"
        if offset:
            free[int(places[lead + match.start("zone")])] = b"+-"
        zero = np.uint8(ord("0"))
        for place, is_digit in enumerate((first - zero < 10).tolist()):
            if is_digit:
                if (here[place] - zero).max() > 9:
                    return False
            elif place in free:
                if not _among(here[place], free[place]).all():
                    return False
            elif (here[place] != first[place]).any():
                return False

        def number(begin: int, end: int) -> NDArray[np.int16]:
            value = np.zeros(here.shape[1], np.int16)  # of four digits at most
            for place in places[lead + begin : lead + end].tolist():
                value *= 10
                value += here[place] - zero
            return value

        for name in ("a", "b", "c", "hour", "minute", "second"):
            if match[name]:
                self.numbers[name][rows] = number(*match.span(name))
        self.wide[rows], self.dotted[rows] = len(match["a"]) == 4, match["sign"] == "."
        if len(match["a"]) != 4 and len(match["c"]) <= 2:
            self.numbers["c"][rows] += 2000
        if half:
            hour = self.numbers["hour"][rows]
            if ((hour < 1) | (hour > 12)).any():
                return False
            letter = here[int(places[lead + match.start("half")])]
            late = _among(letter, b"pP")
            self.numbers["hour"][rows] = hour % 12 + 12 * late
        if offset:
            begin, end = match.span("zone")
            minutes = number(end - 2, end)
            seconds = 60 * (60 * number(begin + 1, begin + 3).astype(np.int64) + minutes)
            if (minutes > 59).any() or (seconds > FARTHEST_OFFSET.total_seconds()).any():
                return False
            west = here[int(places[lead + begin])] == ord("-")
            self.offset[rows] = np.where(west, -seconds, seconds)
        self.zoned.add(zone is not None)
        return True

    def stamps(self, day_first: bool | None) -> Stamps | None:
        """The stamps; None where one is no time, or day and month stay open."""
        read = self.numbers
        year, month, day = read["a"], read["b"], read["c"]
        if not self.wide.all():
            dates = _Numbers(year, month, day, self.wide, self.dotted)
            day_first = _day_first(dates) if day_first is None else day_first
            if day_first is None:
                return None
            turned = (day, month, year) if day_first else (day, year, month)
            year, month, day = np.where(self.wide, (year, month, day), turned)
        hour, minute, second = read["hour"], read["minute"], read["second"]
        good = (year >= EARLIEST_YEAR) & (year <= LATEST_YEAR) & (month >= 1) & (month <= 12)
        good &= (hour <= 24) & (minute <= 60) & (second <= 59) & (day >= 1)
        if len(self.zoned) > 1 or not good.all():
            return None
        months = 12 * (year - 1970) + month - 1
        first = int(months.min())
        begins = np.arange(first, int(months.max()) + 2).astype("datetime64[M]")
        begins = begins.astype("datetime64[D]").astype(np.int64)
        days = begins[months - first] + day - 1
        if (days >= begins[months - first + 1]).any():
            return None
        clock = (((24 * days + hour) * 60 + minute) * 60 + second).astype("datetime64[s]")
        if clock.max() >= np.datetime64(f"{LATEST_YEAR + 1}", "s"):
            return None
        return Stamps(clock, self.offset if True in self.zoned else None)


_FORM = {"Y": "year", "M": "month", "D": "day", "h": "hour", "m": "minute"}


def numbers_by_form(texts: Texts, form: str) -> dict[str, Floats] | None:
    """The numbers of texts that are all written like ``YYYYMMDD:hhmm``; None where one is not."""
    letters = letters_of(texts)
    if letters is None or len(letters) != len(form):
        return None
    found = {name: np.zeros(len(texts)) for sign, name in _FORM.items() if sign in form}
    for column, sign in zip(letters, form, strict=True):
        digits = column - np.uint8(ord("0"))
        if (digits > 9).any() if sign in _FORM else (column != ord(sign)).any():
            return None
        if sign in _FORM:
            found[_FORM[sign]] = 10 * found[_FORM[sign]] + digits
    return found


def stamps_of_parts(
    file: FileText,
    lines: Sequence[int] | NDArray[np.int64],
    parts: Mapping[str, Sequence[float] | Floats],
) -> Times:
    """Clock readings from columns year, month, day, hour and minute.

    An hour of 24 is midnight of the next day; a larger number is read as hours
    and minutes (``1330``).

    Raises
    ------
    WeatherFileError
        If a row is no date or time.
    """
    names = ("year", "month", "day", "hour", "minute")
    rows = np.array([np.asarray(parts.get(name, np.zeros(len(lines))), float) for name in names])
    good = np.isfinite(rows).all(axis=0) & (rows == np.round(rows)).all(axis=0)
    good &= (np.abs(rows) < 10_000).all(axis=0)
    year, month, day, hour, minute = np.where(good, rows, 1.0).astype(np.int64)
    together = (hour > 24) & (hour % 100 < 60)
    hour, minute = np.where(together, (hour // 100, hour % 100), (hour, minute))
    good &= (hour >= 0) & (hour <= 24) & (minute >= 0) & (minute <= 60)
    good &= (year >= EARLIEST_YEAR) & (year <= LATEST_YEAR) & (month >= 1) & (month <= 12)
    months = ((year - 1970) * 12 + month - 1).astype("datetime64[M]")
    dates = months.astype("datetime64[D]") + (day - 1)
    good &= (day >= 1) & (dates.astype("datetime64[M]") == months)
    if not good.all():
        first = int((~good).argmax())
        value = " ".join(f"{number:g}" for number in rows[:, first])
        raise file.error("weather_time_not_understood", int(lines[first]), value=value)
    return dates.astype("datetime64[s]") + (hour * 3600 + minute * 60).astype("timedelta64[s]")


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
    lines: Sequence[int] | NDArray[np.int64],
    texts: Texts,
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
        day_first = _day_first(_numbers_of(found))
    if day_first is None:
        shown = next(match for match in found if len(match["a"]) != 4)[0].strip()[:40]
        raise file.error("weather_date_order", int(lines[others[0]]), value=shown)
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


def _numbers_of(matches: list[re.Match[str]]) -> _Numbers:
    """The numbers of matched stamps; years of two digits are of this century."""
    a, b, c = np.array([[int(m[name]) for name in "abc"] for m in matches], np.int64).T
    wide, short = np.array([[len(m["a"]) == 4, len(m["c"]) <= 2] for m in matches]).T
    dotted = np.array([m["sign"] == "." for m in matches])
    return _Numbers(a, b, np.where(short & ~wide, c + 2000, c), wide, dotted)


def _day_first(dates: _Numbers) -> bool | None:
    """Whether the day stands before the month, by the whole column; None where it stays open."""
    open_order = ~dates.wide
    if not open_order.any() or dates.dotted[open_order].all():
        return True
    a, b, year = (each[open_order].astype(np.int64) for each in (dates.a, dates.b, dates.c))
    if a.max() > 12 or b.max() > 12:
        return bool(a.max() > 12)
    months, swapped = 12 * year + b, 12 * year + a
    spans = np.ptp(months), np.ptp(swapped)
    if spans[0] == spans[1]:
        same = a.min() == a.max() == b.min() == b.max()
        return True if same else None
    return bool(spans[0] < spans[1])


def _collect(
    file: FileText,
    lines: Sequence[int] | NDArray[np.int64],
    texts: Texts,
    moments: list[datetime],
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
    file: FileText,
    lines: Sequence[int] | NDArray[np.int64],
    clock: Times,
    zone: tzinfo,
    *,
    ends_hour: bool,
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
    """Seconds east of UTC in the first and second pass of each reading, (rows,).

    0 and 1 where the clock skips it.
    """

    first: NDArray[np.int64]
    second: NDArray[np.int64]

    @property
    def skipped(self) -> Booleans:
        return np.asarray(self.first < self.second)

    @property
    def repeated(self) -> Booleans:
        return np.asarray(self.first > self.second)


def _offsets(clock: Times, zone: tzinfo) -> _Offsets:
    """Offsets of each reading in the first and the second pass of its hour."""
    import pandas as pd

    reading = pd.DatetimeIndex(clock)
    passes = []
    for first in (True, False):
        which = np.full(clock.size, first)
        known = reading.tz_localize(zone, ambiguous=which, nonexistent="NaT")
        utc = known.tz_convert(None).to_numpy().astype("datetime64[s]")
        skipped = np.isnat(utc)
        seconds = (clock - np.where(skipped, clock, utc)).astype(np.int64)
        passes.append(np.where(skipped, 0 if first else 1, seconds))
    return _Offsets(passes[0], passes[1])


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


_UTC_WORDS = {"utc", "gmt", "z", "zulu"}
_PLAIN_WORDS = {"local", "lst", "standard", "the", "of"}
_HOUR_ONLY = {"ending", "beginning", "end", "start", "begin", "starting", "center", "centre"}
_BRACKET = re.compile(r"^(.*?)\s*(?:[(\[]([^)\]]*)[)\]]|,\s*([^,]+))\s*$")
_DATE_ORDER = re.compile(r"\b(d{1,2}|m{1,2})[-/. ](d{1,2}|m{1,2})\b", re.IGNORECASE)


@dataclass(frozen=True)
class TimeColumns:
    """The cells of a header that are the time.

    Attributes
    ----------
    kind
        One full stamp, a date and a time of day, or year, month, day, hour.
    parts
        ``{part: index}``; parts are ``stamp``; ``date`` and ``clock``; or
        ``year``, ``month``, ``day``, ``hour`` and perhaps ``minute``.
    zone_name
        Zone named in the header, empty when none is.
    texts
        The header cells themselves.
    declared_day_first
        Order of day and month where somebody told it; None where the file shows it.
    """

    kind: Literal["stamp", "date_clock", "parts"]
    parts: dict[str, int]
    zone_name: str
    texts: list[str]
    declared_day_first: bool | None = None

    @property
    def indexes(self) -> tuple[int, ...]:
        """Indexes of the time columns."""
        return tuple(self.parts.values())

    @property
    def numeric(self) -> tuple[int, ...]:
        """Indexes of those that are numbers."""
        return self.indexes if self.kind == "parts" else ()

    @property
    def day_first(self) -> bool | None:
        """Order of day and month where the header shows it, as in ``DD/MM/YYYY``."""
        if self.declared_day_first is not None:
            return self.declared_day_first
        for text in self.texts:
            match = _DATE_ORDER.search(text)
            if match and match[1][0].lower() != match[2][0].lower():
                return match[1][0].lower() == "d"
        return None


def find_time_columns(cells: Sequence[str]) -> TimeColumns | None:
    """Which cells of a header are the time; None when none are.

    Examples
    --------
    >>> find_time_columns(["time_utc", "temp_c"]).zone_name
    'UTC'
    >>> find_time_columns(["YEAR", "MONTH", "DAY", "HOUR", "OB"]).kind
    'parts'
    """
    names: dict[str, int] = {}
    zones: dict[int, str] = {}
    for index, cell in enumerate(cells):
        name, zone = _name_and_zone(cell)
        if name:
            names.setdefault(name, index)
        zones[index] = zone
    parts = {PART_NAMES[name]: index for name, index in names.items() if name in PART_NAMES}
    found = _arrange(names, parts)
    if found is None:
        return None
    kind, chosen = found
    zone_name = next((zones[index] for index in chosen.values() if zones[index]), "")
    return TimeColumns(kind, chosen, zone_name, [cells[i] for i in chosen.values()])


def _arrange(
    names: dict[str, int], parts: dict[str, int]
) -> tuple[Literal["stamp", "date_clock", "parts"], dict[str, int]] | None:
    """The best complete set of time columns."""
    if all(part in parts for part in ("year", "month", "day", "hour")):
        wanted = ("year", "month", "day", "hour", "minute")
        return "parts", {part: parts[part] for part in wanted if part in parts}
    clock = parts.get("clock", parts.get("hour"))
    if "date" in parts and clock is not None:
        return "date_clock", {"date": parts["date"], "clock": clock}
    stamp = next((index for name, index in names.items() if name in STAMP_NAMES), None)
    return None if stamp is None else ("stamp", {"stamp": stamp})


def _name_and_zone(cell: str) -> tuple[str, str]:
    """A header cell as a time name and the zone it names."""
    match = _BRACKET.match(cell.strip())
    bracket = "" if match is None else (match[2] or match[3] or "").strip()
    text = cell if match is None or not bracket else match[1]
    zone = bracket if bracket and find_zone(bracket) is not None else ""
    words = words_of(text)
    if _UTC_WORDS & set(words):
        zone = zone or "UTC"
    left = [w for w in words if w not in _UTC_WORDS and w not in _PLAIN_WORDS]
    short = [w for w in left if w not in _HOUR_ONLY]
    name = "_".join(left) if "_".join(left) in STAMP_NAMES else "_".join(short)
    return (name or ("time" if zone else "")), zone


@dataclass(frozen=True)
class ReadTimes:
    """Stamps in UTC, the clock as understood, and repairs at the clock changes."""

    stamps: Times
    clock: Clock
    repairs: tuple[Repair, ...]


def read_times(
    file: FileText, cells: Cells, time: TimeColumns, options: ReadOptions, notes: Notes
) -> ReadTimes:
    """Read the time columns.

    Raises
    ------
    WeatherFileError
        If a stamp is not understood or nobody names the zone.
    """
    hour, hour_origin = _hour(time, options, notes)
    texts = _stamp_texts(cells, time)
    if time.kind == "parts":
        reading, offsets = (
            stamps_of_parts(file, cells.lines, _part_numbers(file, cells, time)),
            None,
        )
    else:
        said = options.day_first if time.day_first is None else time.day_first
        stamps = read_stamps(file, cells.lines, texts, day_first=said)
        reading, offsets = stamps.clock, stamps.offset_s
    if offsets is not None:
        name = _offset_name(int(offsets[0]))
        phase = int(-offsets[0] % 3600)
        utc = reading - offsets.astype("timedelta64[s]")
        return ReadTimes(utc, Clock(name, "file", hour, hour_origin, phase), ())
    zone, name, origin = _zone(file, cells, texts, time, options, notes)
    done = to_utc(file, cells.lines, reading, zone, ends_hour=hour == "end")
    return clock_of(done, name, origin, hour, hour_origin)


def clock_of(
    done: Conversion, name: str, origin: Origin, hour: HourConvention, hour_origin: Origin
) -> ReadTimes:
    """Stamps brought to UTC with the clock that gave them."""
    return ReadTimes(
        done.stamps, Clock(name, origin, hour, hour_origin, done.phase_s), done.repairs
    )


def fixed_zone(hours: float) -> tuple[tzinfo, str]:
    """A fixed offset of `hours` east of UTC, and its name.

    Examples
    --------
    >>> fixed_zone(5.5)[1]
    'UTC+05:30'
    """
    seconds = round(hours * 3600)
    return timezone(timedelta(seconds=seconds)), _offset_name(seconds)


def _offset_name(seconds: int) -> str:
    if seconds == 0:
        return "UTC"
    sign = "-" if seconds < 0 else "+"
    hours, minutes = divmod(abs(seconds) // 60, 60)
    return f"UTC{sign}{hours:02d}:{minutes:02d}"


def _hour(time: TimeColumns, options: ReadOptions, notes: Notes) -> tuple[HourConvention, Origin]:
    """Where the hour of sums and means lies, and who says so."""
    if options.hour is not None:
        return options.hour, "option"
    said = hour_statement(time.texts)
    if said is not None:
        return said, "file"
    if notes.hour is not None:
        return notes.hour, "file"
    # A column called time_utc is this package's own shape, where hours begin at the stamp.
    own = notes.own or time.texts == ["time_utc"]
    return "start", ("layout" if own else "assumed")


def _zone(
    file: FileText,
    cells: Cells,
    texts: Texts,
    time: TimeColumns,
    options: ReadOptions,
    notes: Notes,
) -> tuple[tzinfo, str, Origin]:
    """The zone of the file's clock, its name, and who says so."""
    for name in (time.zone_name, notes.clock_zone):
        zone = find_zone(name) if name else None
        if name and zone is not None:
            return zone, name, "file"
    if options.timezone is None:
        raise file.error("weather_timezone_missing", cells.lines[0], value=texts[0].strip()[:40])
    return zone_of_option(options.timezone), options.timezone, "option"


def _stamp_texts(cells: Cells, time: TimeColumns) -> Texts:
    """The stamps as one text a row, for reading or for messages."""
    columns = tuple(cells.columns[index] for index in time.indexes)
    return columns[0] if len(columns) == 1 else JoinedTexts(columns)


def _part_numbers(file: FileText, cells: Cells, time: TimeColumns) -> dict[str, Floats]:
    """The numbers of the columns year to minute."""
    return {
        part: numbers(file, cells.lines, cells[index], text)
        for (part, index), text in zip(time.parts.items(), time.texts, strict=True)
    }
