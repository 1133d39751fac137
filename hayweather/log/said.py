"""What people type for the log: moistures, fields, times; understood, or asked back in one line."""

from __future__ import annotations

import math
import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.baling.clock import TURN_HOUR, span_of, to_local
from hayweather.errors import InputError
from hayweather.farm.clock import ClockChange, parse_clock, parse_time, to_utc
from hayweather.farm.document import shorten
from hayweather.farm.nearest import nearest
from hayweather.farm.records import Farm
from hayweather.words import Remark

POSSIBLE_WB = (0.0, 100.0)
PLAUSIBLE_WB = (3.0, 75.0)  # of hay from the swath to the stack (assumed)
LONGEST_TEXT = 500
LONGEST_EVENT = np.timedelta64(48 * 3600, "s")
_NUMBER = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)")

Moment = np.datetime64 | datetime | str


def moisture_said(text: str, *, sure: bool = False, where: str = "VALUE") -> float:
    """A moisture as typed [% wet basis].

    Parameters
    ----------
    text
        Like ``10.5``, ``10,5`` or ``10.5 %``.
    sure
        True to take what is hardly possible.
    where
        What it was given as, for messages.

    Raises
    ------
    InputError
        If it is no number, cannot be, or is hardly possible and nobody was sure.

    Examples
    --------
    >>> moisture_said("10,5 %"), moisture_said(" 12° ")
    (10.5, 12.0)
    """
    bare = text.strip().rstrip("%°").strip().replace(",", ".")
    if not _NUMBER.fullmatch(bare):
        raise InputError("log_moisture_number", where, value=shorten(text, 40))
    return checked_moisture(float(bare), sure=sure, where=where)


def checked_moisture(value: float, *, sure: bool = False, where: str = "VALUE") -> float:
    """A moisture [% wet basis] that can be; parameters and errors as for `moisture_said`."""
    low, high = POSSIBLE_WB
    if not (math.isfinite(value) and low <= value <= high):
        raise InputError("log_moisture_impossible", where, value=f"{value:g}")
    low, high = PLAUSIBLE_WB
    if not (sure or low <= value <= high):
        key = "log_moisture_share" if low <= 100 * value <= high else "log_moisture_unlikely"
        values = {"percent": f"{100 * value:g}", "low": f"{low:g}", "high": f"{high:g}"}
        raise InputError(key, where, value=f"{value:g}", **values)
    return value


def field_said(text: str, farm: Farm, where: str = "FIELD") -> str:
    """A field of the farm; capitals and blanks do not matter.

    Parameters
    ----------
    text
        As typed.
    farm
        Its fields.
    where
        What it was given as, for messages.

    Raises
    ------
    InputError
        If there is none of that name, with the nearest.
    """
    if text in farm.fields:
        return text
    plain = {" ".join(name.casefold().split()): name for name in farm.fields}
    meant = plain.get(" ".join(text.casefold().split()))
    if meant is None:
        near = nearest(text, farm.fields)
        known = ", ".join(farm.fields)
        raise InputError("log_field", where, value=shorten(text, 40), nearest=near, known=known)
    return meant


def machine_said(text: str, farm: Farm) -> str:
    """A machine of the farm; capitals and blanks do not matter, the only one need not be named.

    Parameters
    ----------
    text, farm
        As typed; its balers and rigs.

    Raises
    ------
    InputError
        If there is none of that name, or none was said of several.
    """
    names = [*farm.balers, *(farm.rigs or {})]
    meant = {" ".join(name.casefold().split()): name for name in names}
    plain = " ".join(text.casefold().split())
    if plain in meant:
        return meant[plain]
    if not plain and len(names) == 1:
        return names[0]
    known = ", ".join(names)
    if not plain:
        raise InputError("log_which_machine", "--machine", known=known, first=names[0])
    raise InputError("log_no_machine", "--machine", value=shorten(text, 40), known=known)


def zone_of(farm: Farm, field: str) -> str | None:
    """Time zone of a field's site; None where neither field nor zone is known."""
    known = farm.fields.get(field)
    site = None if known is None else farm.sites.get(known.site)
    return None if site is None else site.timezone


def time_said(
    text: str, zone: str | None, now: np.datetime64, where: str = "--at"
) -> tuple[np.datetime64, ClockChange | None]:
    """UTC of a time as typed, and "doubled" where the clock showed it twice.

    Parameters
    ----------
    text
        HH:MM of the night that `now` belongs to, or a date and a time.
    zone
        Of the site; None where it has none.
    now
        UTC. Of a doubled time the first is meant.
    where
        What it was given as, for messages.

    Raises
    ------
    InputError
        If it is no time, needs a zone, or the clock never showed it.
    """
    clock, moment = parse_clock(text), parse_time(text)
    if clock is None and moment is None:
        raise InputError("log_time", where, value=shorten(text, 40))
    if clock is not None:
        if zone is None:
            raise InputError("log_no_zone", where, value=shorten(text, 40))
        evening = span_of(now, zone).evening
        day = evening + timedelta(days=0 if clock.hour >= TURN_HOUR else 1)
        moment = datetime.combine(day, clock)
    assert moment is not None
    return checked_time(moment, zone, where)


def checked_time(
    moment: datetime, zone: str | None, where: str
) -> tuple[np.datetime64, ClockChange | None]:
    """UTC of a moment, local unless it carries an offset; otherwise as for `time_said`."""
    if moment.tzinfo is None and zone is None:
        raise InputError("log_no_zone", where, value=f"{moment:%Y-%m-%d %H:%M}")
    time, change = to_utc(moment, ZoneInfo(zone) if zone else None)
    if change == "missing":
        value = f"{moment:%Y-%m-%d %H:%M}"
        raise InputError("log_time_missing", where, value=value, zone=zone)
    return time, change


def moment_of(value: Moment, zone: str | None, where: str = "time") -> np.datetime64:
    """UTC of a time in any of its forms; one without an offset is on the clock of `zone`.

    Parameters
    ----------
    value
        ``datetime64`` (UTC), ``datetime``, pandas ``Timestamp`` or text.
    zone
        Of the site.
    where
        What it was given as, for messages.

    Raises
    ------
    InputError
        As `time_said` does.
    """
    if isinstance(value, np.datetime64):
        if np.isnat(value):
            raise InputError("log_time", where, value="NaT")
        return value.astype("datetime64[s]")
    moment = parse_time(str(value)) if isinstance(value, str) else parse_time(value)
    if moment is None:
        raise InputError("log_time", where, value=shorten(str(value), 40))
    return checked_time(moment, zone, where)[0]


def refuse_future(
    time: np.datetime64, now: np.datetime64, zone: str | None, where: str = "--at"
) -> None:
    """Refuse a time after now, with both on the clock of `zone`.

    Raises
    ------
    InputError
        If it is.
    """
    if time > now:
        said = {"time": local_text(time, zone), "now": local_text(now, zone)}
        raise InputError("log_after_now", where, **said)


def local_text(time: np.datetime64, zone: str | None) -> str:
    """A UTC time for data: local with its offset, UTC where there is no zone.

    Examples
    --------
    >>> local_text(np.datetime64("2026-07-09T06:10", "s"), "America/Los_Angeles")
    '2026-07-08T23:10:00-07:00'
    """
    if zone is None:
        return f"{time.astype('datetime64[s]')}Z"
    return to_local(time, zone).isoformat()


def one_line(text: str, where: str | Remark = "--note") -> str:
    """A text in one line, nothing in it that cannot be printed.

    Raises
    ------
    InputError
        If it is longer than a note should be.
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    if len(line) > LONGEST_TEXT:
        raise InputError("log_text_long", where, count=len(line), longest=LONGEST_TEXT)
    return line
