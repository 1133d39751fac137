"""An outlook as a calendar: windows as events, looks at the windrow as reminders."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import TURN_HOUR, to_local
from hayweather.baling.windows import LOOK_BEFORE, Window
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.calendar_file import (
    CalendarEvent,
    Reminder,
    calendar_text,
    event_name,
    owner_key,
)
from hayweather.show.page_made import made_lines
from hayweather.show.page_windows import chance_words, water_words
from hayweather.show.phrases import phrases
from hayweather.show.safety import short_safety_texts
from hayweather.show.sentences import farm_voice, field_voice
from hayweather.show.voice import Voice, capital
from hayweather.show.weather_facts import weather_summary
from hayweather.windrow.sky import sun_elevation

KINDS = {Call.NATURAL_DEW: "dew", Call.ADD_MOISTURE: "rig"}


@dataclass(frozen=True)
class Notebook:
    """What every event of a calendar is written with.

    Attributes
    ----------
    outlook
        Whose events they are.
    voice
        Language and units; the clock of the farm's first field.
    purpose
        "outlook" or "runsheet"; keeps the two apart in one calendar.
    """

    outlook: Night
    voice: Voice
    purpose: str

    def owner(self, field: FieldNight) -> str:
        """Key of a field in the names of its events."""
        site = field.setting.site
        return owner_key(
            self.purpose,
            self.outlook.farm.name,
            field.setting.field.name,
            f"{site.latitude:.3f},{site.longitude:.3f}",
        )

    def title(self, key: str, **values: object) -> str:
        """A summary; that of an invented sample says so."""
        text = capital(self.voice.say(key, **values))
        if not self.outlook.farm.weather.invented:
            return text
        return self.voice.say("calendar_invented", text=text)

    def described(self, lines: Sequence[str]) -> str:
        """The lines of an event, then what every event says."""
        outlook, voice = self.outlook, self.voice
        attribution = weather_summary(outlook).attribution
        common = [
            *made_lines(outlook, voice),
            *phrases(outlook.cautions, voice),
            *short_safety_texts(voice)[:2],
            voice.say("safety_driving"),
            *([attribution] if attribution else []),
        ]
        return "\n".join(capital(line.rstrip(".")) + "." for line in (*lines, *common))

    def event(
        self,
        field: FieldNight,
        name: tuple[object, ...],
        span: tuple[np.datetime64, np.datetime64],
        summary: str,
        lines: Sequence[str],
        reminders: tuple[Reminder, ...] = (),
    ) -> CalendarEvent:
        """An event of a field.

        Parameters
        ----------
        field
            Whose it is.
        name
            What tells it from the field's other events.
        span
            UTC start and end.
        summary, lines
            Finished title and sentences.
        reminders
            Those before now are left out.
        """
        site = field.setting.site
        return CalendarEvent(
            uid=event_name(self.owner(field), *name),
            start=span[0],
            end=span[1],
            timezone=str(site.timezone),
            summary=summary,
            description=self.described(lines),
            location=f"{self.outlook.farm.name}, {field.setting.field.name}",
            place=(site.latitude, site.longitude),
            reminders=tuple(item for item in reminders if item.at >= self.outlook.now),
        )


def outlook_calendar(outlook: Night, units: UnitSystem, before: str | None = None) -> str:
    """The outlook as a calendar file.

    Parameters
    ----------
    outlook
        What to show.
    units
        Unit system of the reader.
    before
        The file that this one replaces, where there is one.
    """
    notebook = Notebook(outlook, farm_voice(outlook, units), "outlook")
    events = [event for field in outlook.fields for event in field_events(field, notebook)]
    owners = [notebook.owner(field) for field in outlook.fields]
    name = notebook.voice.say("calendar_name", farm=outlook.farm.name)
    return calendar_text(name, events, owners, outlook.now, before)


def field_events(field: FieldNight, notebook: Notebook) -> list[CalendarEvent]:
    """The windows of a field as events, the first on dew of each night with a look before it."""
    events, looked = [], set()
    for name, window in named_windows(field):
        night = name[0]
        reminders: tuple[Reminder, ...] = ()
        if window.call == Call.NATURAL_DEW and night not in looked:
            looked.add(night)
            text = notebook.title("calendar_look", field=field.setting.field.name)
            reminders = (Reminder(look_time(field, window), text),)
        summary = window_title(field, window, notebook)
        lines = _lines(window, field_voice(field, notebook.voice))
        span = (window.start, window.end)
        events.append(notebook.event(field, name, span, summary, lines, reminders))
    return events


def look_time(field: FieldNight, window: Window) -> np.datetime64:
    """UTC time to look at the windrow before a window: that of the first screen where it is it."""
    first = field.headline.dew[:1]
    if field.headline.look_at is not None and first and window.start == first[0].start:
        return min(field.headline.look_at, window.start)
    earliest = window.start if window.start_range is None else window.start_range[0]
    return min(earliest, window.start) - LOOK_BEFORE


def named_windows(field: FieldNight) -> list[tuple[tuple[object, ...], Window]]:
    """The windows of a field, each with what names it: night, kind, part of the night, number."""
    counts: Counter[tuple[str, str, str]] = Counter()
    found: list[tuple[tuple[object, ...], Window]] = []
    for window in field.windows:
        night, part = night_and_part(field, window.start, window.end)
        key = (f"{night:%Y%m%d}", KINDS[window.call], part)
        counts[key] += 1
        found.append(((*key, counts[key]), window))
    return found


def night_and_part(field: FieldNight, start: np.datetime64, end: np.datetime64) -> tuple[date, str]:
    """Evening of the night that a span lies in, and "night" or "morning" by its middle."""
    middle = start + (end - start) // 2
    local = to_local(middle, str(field.setting.site.timezone))
    if local.hour >= TURN_HOUR:
        return local.date(), "night"
    place = field.setting.place
    height = sun_elevation(np.array([middle]), place.latitude, place.longitude)
    part = "morning" if float(height.ravel()[0]) > 0 else "night"
    return local.date() - timedelta(days=1), part


def window_title(field: FieldNight, window: Window, notebook: Notebook) -> str:
    """``"Natural dew: bench"``; with the water to add beside added moisture."""
    name, word = field.setting.field.name, notebook.voice.call(window.call)
    water = ", ".join(water_words(window, notebook.voice))
    if not water:
        return notebook.title("calendar_window", call=word, field=name)
    return notebook.title("calendar_window_water", call=word, field=name, water=water)


def _lines(window: Window, voice: Voice) -> list[str]:
    """Sentences on a window: how long, how much water, how sure, when at the earliest."""
    dated = replace(voice, evening=None)
    lines = [voice.hours(window.hours), *water_words(window, voice), *chance_words(window, voice)]
    if window.start_range is not None:
        start, end = (dated.when(time) for time in window.start_range)
        lines.append(voice.say("calendar_start_range", start=start, end=end))
    if window.end_range is not None:
        start, end = (dated.when(time) for time in window.end_range)
        lines.append(voice.say("calendar_end_range", start=start, end=end))
    return lines
