"""The time columns of a delimited file: which they are, and their stamps in UTC."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta, timezone, tzinfo
from typing import Literal

import numpy as np

from hayweather.weather.files.cells import Cells
from hayweather.weather.files.headers import PART_NAMES, STAMP_NAMES, hour_statement, words_of
from hayweather.weather.files.notes import Notes
from hayweather.weather.files.numbers import numbers
from hayweather.weather.files.options import HourConvention, Origin, ReadOptions
from hayweather.weather.files.stamps import read_stamps, stamps_of_parts
from hayweather.weather.files.table import Clock
from hayweather.weather.files.text import FileText
from hayweather.weather.files.zones import Conversion, find_zone, to_utc, zone_of_option
from hayweather.weather.quality import Repair
from hayweather.weather.record import Times

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
    """

    kind: Literal["stamp", "date_clock", "parts"]
    parts: dict[str, int]
    zone_name: str
    texts: list[str]

    @property
    def indexes(self) -> tuple[int, ...]:
        """Indexes of the time columns."""
        return tuple(self.parts.values())

    @property
    def day_first(self) -> bool | None:
        """Order of day and month where the header shows it, as in ``DD/MM/YYYY``."""
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
        stamps = read_stamps(file, cells.lines, texts, day_first=time.day_first)
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
    texts: list[str],
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


def _stamp_texts(cells: Cells, time: TimeColumns) -> list[str]:
    """The stamps as one text a row, for reading or for messages."""
    columns = [cells.columns[index] for index in time.indexes]
    if len(columns) == 1:
        return columns[0]
    return [" ".join(part.strip() for part in row) for row in zip(*columns, strict=True)]


def _part_numbers(file: FileText, cells: Cells, time: TimeColumns) -> dict[str, Sequence[float]]:
    """The numbers of the columns year to minute."""
    columns = {}
    for (part, index), text in zip(time.parts.items(), time.texts, strict=True):
        values = numbers(file, cells.lines, cells.columns[index], text)
        columns[part] = np.asarray(values).tolist()
    return dict(columns)
