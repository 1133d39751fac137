"""Events as a calendar file (RFC 5545), each with its zone, its reminders and a lasting name.

An event keeps its name (UID) from file to file, and its SEQUENCE grows with
time, so that a calendar which reads tomorrow's file replaces today's events. An
event of the file before that is still to come but no longer foreseen is called
off.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from zoneinfo import ZoneInfo

import numpy as np
from icalendar import Alarm, Calendar, Event

from hayweather.baling.clock import to_local

PRODUCT = "-//hayweather//hay windows//EN"
DOMAIN = "hayweather"
SEQUENCE_FROM = datetime(2020, 1, 1, tzinfo=UTC)  # counts minutes since then
ZONE_MARGIN = timedelta(days=400)  # rules of the zone written beyond the events
KEY_LENGTH = 16


@dataclass(frozen=True)
class Reminder:
    """A reminder at a UTC time."""

    at: np.datetime64
    text: str


@dataclass(frozen=True)
class CalendarEvent:
    """An event.

    Attributes
    ----------
    uid
        Its lasting name, see `event_name`.
    start, end
        UTC.
    timezone
        IANA zone in which it is written.
    summary, description, location
        What a calendar shows.
    place
        Latitude and longitude [degrees].
    reminders
        Before or at its start.
    """

    uid: str
    start: np.datetime64
    end: np.datetime64
    timezone: str
    summary: str
    description: str
    location: str
    place: tuple[float, float]
    reminders: tuple[Reminder, ...] = ()


def owner_key(*parts: object) -> str:
    """Short name for a farm's field, the same every time and without strange signs.

    Examples
    --------
    >>> owner_key("Sagebeck", "bench") == owner_key("Sagebeck", "bench")
    True
    """
    joined = "\n".join(str(part) for part in parts)
    return sha256(joined.encode()).hexdigest()[:KEY_LENGTH]


def event_name(owner: str, *parts: object) -> str:
    """The UID of an event: what it is, and whose.

    Examples
    --------
    >>> event_name("abc", "20250708", "dew", 1)
    '20250708-dew-1-abc@hayweather'
    """
    return "-".join([*(str(part) for part in parts), owner]) + f"@{DOMAIN}"


def calendar_text(
    name: str,
    events: Sequence[CalendarEvent],
    owners: Iterable[str],
    now: np.datetime64,
    before: str | None = None,
) -> str:
    """A calendar file.

    Parameters
    ----------
    name
        Shown by programs that name calendars.
    events
        In any order.
    owners
        Keys of the fields it speaks for; only their events of the file before
        are called off.
    now
        UTC, when it was made.
    before
        The file that this one replaces, where there is one.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", name)
    for event in sorted(events, key=lambda item: (item.start, item.uid)):
        calendar.add_component(_event(event, now))
    known = {event.uid for event in events}
    for gone in _called_off(before, known, set(owners), now):
        calendar.add_component(gone)
    first, last = _reach(events, now)
    calendar.add_missing_timezones(first.date(), last.date())
    return calendar.to_ical().decode("utf-8")


def _event(event: CalendarEvent, now: np.datetime64) -> Event:
    """One event with its reminders."""
    made = Event()
    made.add("uid", event.uid)
    made.add("dtstamp", to_local(now, "UTC").astimezone(UTC))
    made.add("sequence", sequence_at(now))
    start, end = _times(event)
    made.add("dtstart", start)
    made.add("dtend", end)
    made.add("summary", event.summary)
    made.add("description", event.description)
    made.add("location", event.location)
    made.add("geo", event.place)
    made.add("status", "CONFIRMED")
    for reminder in event.reminders:
        made.add_component(_alarm(reminder, event.start))
    return made


def _alarm(reminder: Reminder, start: np.datetime64) -> Alarm:
    """A reminder, said relative to the event's start."""
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", reminder.text)
    seconds = (reminder.at - start) / np.timedelta64(1, "s")
    alarm.add("trigger", timedelta(seconds=float(seconds)))
    return alarm


def _times(event: CalendarEvent) -> tuple[datetime, datetime]:
    """Start and end in the event's zone; in UTC where the clock shows one of them twice.

    RFC 5545 (3.3.5) reads a local time that comes twice as the first of the two.
    """
    zone = ZoneInfo(event.timezone)
    start, end = (to_local(time, "UTC").astimezone(zone) for time in (event.start, event.end))
    if start.fold or end.fold:
        return start.astimezone(UTC), end.astimezone(UTC)
    return start, end


def sequence_at(now: np.datetime64) -> int:
    """A number that grows with time: minutes since 2020.

    Examples
    --------
    >>> sequence_at(np.datetime64("2020-01-02T00:00"))
    1440
    """
    return int((to_local(now, "UTC") - SEQUENCE_FROM) / timedelta(minutes=1))


def _reach(events: Sequence[CalendarEvent], now: np.datetime64) -> tuple[datetime, datetime]:
    """From when to when the rules of the zones have to be written."""
    times = [now, *(event.start for event in events), *(event.end for event in events)]
    first, last = to_local(min(times), "UTC"), to_local(max(times), "UTC")
    return first - ZONE_MARGIN, last + ZONE_MARGIN


def _called_off(
    before: str | None, known: set[str], owners: set[str], now: np.datetime64
) -> list[Event]:
    """Events of the file before that are still to come and no longer foreseen."""
    gone = []
    for old in _events_of(before):
        uid = str(old.get("uid", ""))
        owner = uid.removesuffix(f"@{DOMAIN}").rpartition("-")[2]
        if uid in known or owner not in owners or not _is_ahead(old, now):
            continue
        old.subcomponents.clear()
        for name in ("status", "sequence", "dtstamp"):
            old.pop(name, None)
        old.add("status", "CANCELLED")
        old.add("sequence", sequence_at(now))
        old.add("dtstamp", to_local(now, "UTC").astimezone(UTC))
        gone.append(old)
    return gone


def _events_of(text: str | None) -> list[Event]:
    """The events of a file; none where it is no calendar."""
    if not text:
        return []
    try:
        return [item for item in Calendar.from_ical(text).walk("VEVENT") if isinstance(item, Event)]
    except ValueError:
        return []


def _is_ahead(event: Event, now: np.datetime64) -> bool:
    """Whether an event ends after now; one without an end does not count."""
    end = getattr(event.get("dtend"), "dt", None)
    return isinstance(end, datetime) and end.tzinfo is not None and end > to_local(now, "UTC")
