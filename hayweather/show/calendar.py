"""Outlooks, run sheets and plans as calendar files (RFC 5545): zones, reminders, lasting names.

An event keeps its name (UID) from file to file, and its SEQUENCE grows with
time, so that a calendar which reads tomorrow's file replaces today's events. An
event of the file before that is still to come but no longer foreseen is called
off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from zoneinfo import ZoneInfo

import numpy as np
from icalendar import Alarm, Calendar, Event, vText

from hayweather.baling.calls import AS_IT_LIES, Call
from hayweather.baling.clock import TURN_HOUR, to_local
from hayweather.baling.windows import LOOK_BEFORE, Window
from hayweather.farm.records import Farm, Field, Site, UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.plan.record import Block, FieldsPlan
from hayweather.plan.sheet_record import FieldWork, MachineSheet, RunSheet
from hayweather.show.outlook_plan import cautions_of, plan_of
from hayweather.show.outlook_words import (
    chance_words,
    farm_voice,
    field_voice,
    stems_sentence,
    unknown_runs,
    unknown_text,
    water_words,
)
from hayweather.show.plan_words import block_reasons, missed_lines, plan_voice
from hayweather.show.runsheet_words import (
    WorkSpan,
    machine_title,
    missed_sentences,
    place_text,
    rates_text,
    setting_text,
    sheet_voice,
    step_text,
    work_spans,
)
from hayweather.show.voice import Voice, capital, near_safety, phrases, sentence
from hayweather.show.weather_facts import made_lines, weather_summary
from hayweather.windrow.sky import sun_elevation

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


def field_key(purpose: str, farm: Farm, field: Field, site: Site) -> str:
    """Key of a farm's field in the names of its events."""
    return owner_key(purpose, farm.name, field.name, f"{site.latitude:.3f},{site.longitude:.3f}")


def machine_key(purpose: str, farm: Farm, name: str) -> str:
    """Key of one of a farm's machines in the names of its events."""
    return owner_key(purpose, farm.name, "machine", name)


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
    calendar.add("x-wr-calname", _text(name))
    for event in sorted(events, key=lambda item: (item.start, item.uid)):
        calendar.add_component(_event(event, now))
    known = {event.uid for event in events}
    for gone in _called_off(before, known, set(owners), now):
        calendar.add_component(gone)
    first, last = _reach(events, now)
    calendar.add_missing_timezones(first.date(), last.date())
    return calendar.to_ical().decode("utf-8")


def _text(text: str) -> vText:
    """A text, escaped wherever it stands, without what must not (RFC 5545, 3.3.11)."""
    lines = (
        "".join(each if each.isprintable() else " " for each in one) for one in text.split("\n")
    )
    return vText("\n".join(lines))


def _event(event: CalendarEvent, now: np.datetime64) -> Event:
    """One event with its reminders."""
    made = Event()
    made.add("uid", event.uid)
    made.add("dtstamp", to_local(now, "UTC").astimezone(UTC))
    made.add("sequence", sequence_at(now))
    start, end = _times(event)
    made.add("dtstart", start)
    made.add("dtend", end)
    made.add("summary", _text(event.summary))
    made.add("description", _text(event.description))
    made.add("location", _text(event.location))
    made.add("geo", event.place)
    made.add("status", "CONFIRMED")
    for reminder in event.reminders:
        made.add_component(_alarm(reminder, event.start))
    return made


def _alarm(reminder: Reminder, start: np.datetime64) -> Alarm:
    """A reminder, said relative to the event's start."""
    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", _text(reminder.text))
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
    >>> sequence_at(np.datetime64("2020-01-02T00:00")), sequence_at(np.datetime64("2015-07-01"))
    (1440, 0)
    """
    return max(int((to_local(now, "UTC") - SEQUENCE_FROM) / timedelta(minutes=1)), 0)


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


def _sentences(lines: Iterable[str]) -> str:
    """Lines of a description."""
    return "\n".join(sentence(line) for line in lines)


KINDS = {Call.NATURAL_DEW: "dew", Call.READY: "ready", Call.ADD_MOISTURE: "rig"}


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
        "outlook", "runsheet" or "plan"; keeps them apart in one calendar.
    """

    outlook: Night
    voice: Voice
    purpose: str

    def owner(self, field: FieldNight) -> str:
        """Key of a field in the names of its events."""
        return field_key(self.purpose, self.outlook.farm, field.setting.field, field.setting.site)

    def of_machine(self, name: str) -> str:
        """Key of a machine in the names of its events."""
        return machine_key(self.purpose, self.outlook.farm, name)

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
            *phrases(cautions_of(outlook), voice),
            *near_safety(voice),
            *made_lines(outlook, voice),
            *([attribution] if attribution else []),
        ]
        return _sentences([*lines, *common])

    def event(
        self,
        field: FieldNight,
        name: tuple[object, ...],
        span: tuple[np.datetime64, np.datetime64],
        summary: str,
        lines: Sequence[str],
        reminders: tuple[Reminder, ...] = (),
        owner: str = "",
    ) -> CalendarEvent:
        """An event in a field.

        Parameters
        ----------
        name
            What tells it from the field's other events.
        span
            UTC start and end.
        summary, lines
            Finished title and sentences.
        reminders
            Those before now are left out.
        owner
            Whose it is; empty for the field's.
        """
        site = field.setting.site
        return CalendarEvent(
            uid=event_name(owner or self.owner(field), *name),
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
    before
        The file that this one replaces, where there is one.
    """
    notebook = Notebook(outlook, farm_voice(outlook, units), "outlook")
    plan = plan_of(outlook)
    events = [
        event
        for field in outlook.fields
        for event in field_events(field, notebook, planned=plan is not None)
    ]
    if plan is not None:
        events += plan_events(plan, notebook)
    owners = [notebook.owner(field) for field in outlook.fields]
    name = notebook.voice.say("calendar_name", farm=outlook.farm.name)
    return calendar_text(name, events, owners, outlook.now, before)


def field_events(
    field: FieldNight, notebook: Notebook, *, planned: bool = False
) -> list[CalendarEvent]:
    """Windows and maybe windows of a field as events, and what is unknown of tonight.

    The first of each night that needs no water, else the first, brings a reminder
    to look. Where the work is `planned`, its events stand in the place of windows of go.
    """
    sure = [] if planned else named_windows(field)
    named = [
        *((name, window, False) for name, window in sure),
        *((name, window, True) for name, window in named_windows(field, field.maybe, "maybe-")),
    ]
    looks = _looks([(str(name[0]), window) for name, window, _ in named])
    text = notebook.title("calendar_look", field=field.setting.field.name)
    events = []
    for name, window, maybe in named:
        look = (Reminder(look_time(field, window), text),) if window in looks else ()
        summary = window_title(field, window, notebook, maybe=maybe)
        lines = _lines(window, field_voice(field, notebook.voice))
        if maybe:
            lines = [*stems_sentence(field, notebook.voice), *lines]
        span = (window.start, window.end)
        events.append(notebook.event(field, name, span, summary, lines, look))
    return [*events, *unknown_events(field, notebook)]


def _looks(windows: Sequence[tuple[str, Window]]) -> list[Window]:
    """The window of each night before which to look."""
    nights: dict[str, list[Window]] = {}
    for night, window in windows:
        nights.setdefault(night, []).append(window)
    return [
        min(found, key=lambda item: (item.call not in AS_IT_LIES, item.start))
        for found in nights.values()
    ]


def unknown_events(field: FieldNight, notebook: Notebook) -> list[CalendarEvent]:
    """The hours of tonight that nobody can call, each stretch with a reminder at its start."""
    voice = field_voice(field, notebook.voice)
    title = notebook.title("calendar_unknown", field=field.setting.field.name)
    return [
        notebook.event(
            field,
            (f"{field.headline.evening:%Y%m%d}", "unknown", number),
            (run.start, run.end),
            title,
            [unknown_text(run, voice), voice.say("unknown_do")],
            (Reminder(run.start, title),),
        )
        for number, run in enumerate(unknown_runs(field), start=1)
    ]


def unknown_calendar(
    farm: Farm,
    voice: Voice,
    span: tuple[np.datetime64, np.datetime64],
    lines: Sequence[str],
    before: str | None = None,
    *,
    purpose: str = "outlook",
) -> str:
    """A calendar for a night that nobody can call: every field unknown, with a reminder.

    Parameters
    ----------
    purpose
        Of the calendar in whose place it stands: "outlook" or "runsheet".
    span
        From now to the night's end (UTC).
    lines
        Why, and what to do.
    before
        The calendar of the outlook before it, whose events ahead are called off.
    """
    events, owners = [], []
    said = [*lines, *near_safety(voice)]
    for field in farm.fields.values():
        site = farm.sites[field.site]
        title = capital(voice.say("calendar_unknown", field=field.name))
        if farm.weather.invented:
            title = voice.say("calendar_invented", text=title)
        owners.append(field_key(purpose, farm, field, site))
        events.append(
            CalendarEvent(
                uid=event_name(owners[-1], f"{voice.evening:%Y%m%d}", "unknown", 1),
                start=span[0],
                end=span[1],
                timezone=voice.timezone,
                summary=title,
                description=_sentences(said),
                location=f"{farm.name}, {field.name}",
                place=(site.latitude, site.longitude),
                reminders=(Reminder(span[0], title),),
            )
        )
    owners += [machine_key(purpose, farm, name) for name in (*farm.balers, *(farm.rigs or {}))]
    name = voice.say("calendar_name", farm=farm.name)
    return calendar_text(name, events, owners, span[0], before)


def look_time(field: FieldNight, window: Window) -> np.datetime64:
    """UTC time to look at the windrow before a window: that of the first screen where it is it."""
    head = field.headline
    maybe = tuple(item for item in head.maybe if item.call in AS_IT_LIES) or head.maybe
    first = (head.as_it_lies or maybe)[:1]
    if head.look_at is not None and first and window.start == first[0].start:
        return min(head.look_at, window.start)
    earliest = window.start if window.start_range is None else window.start_range[0]
    return min(earliest, window.start) - LOOK_BEFORE


def named_windows(
    field: FieldNight, windows: Sequence[Window] | None = None, kind: str = ""
) -> list[tuple[tuple[object, ...], Window]]:
    """Windows of a field, each with what names it: night, kind, part of the night, number."""
    counts: Counter[tuple[str, str, str]] = Counter()
    found: list[tuple[tuple[object, ...], Window]] = []
    for window in field.windows if windows is None else windows:
        night, part = night_and_part(field, window.start, window.end)
        key = (f"{night:%Y%m%d}", kind + KINDS[window.call], part)
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


def window_title(
    field: FieldNight, window: Window, notebook: Notebook, *, maybe: bool = False
) -> str:
    """``"Natural dew: bench"``; with the water to add beside added moisture; maybe says so."""
    name, word = field.setting.field.name, notebook.voice.call(window.call)
    if maybe:
        return notebook.title("calendar_maybe", call=word, field=name)
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


LOOK_BEFORE_WORK = np.timedelta64(45 * 60, "s")


HOUR_BEFORE = np.timedelta64(3600, "s")


def runsheet_calendar(sheet: RunSheet, units: UnitSystem, before: str | None = None) -> str:
    """The run sheets as a calendar file: every machine's drives, fills and work.

    Parameters
    ----------
    before
        The file that this one replaces, where there is one.
    """
    notebook = Notebook(sheet.night, sheet_voice(sheet, units), "runsheet")
    fields = {field.name: field for field in sheet.fields}
    events: list[CalendarEvent] = []
    for field in sheet.fields:
        events += unknown_events(field.night, notebook)
        if not field.totals.hours:
            events += _maybe_events(field.night, notebook)
    for machine in sheet.machines:
        events += machine_events(machine, fields, sheet, notebook)
    owners = [notebook.owner(field.night) for field in sheet.fields]
    owners += [notebook.of_machine(machine.name) for machine in sheet.machines]
    owners += [notebook.of_machine(name) for name in (*sheet.night.farm.balers, *_rigs(sheet))]
    name = notebook.voice.say("calendar_name_runsheet", farm=sheet.night.farm.name)
    return calendar_text(name, events, owners, sheet.night.now, before)


def _rigs(sheet: RunSheet) -> list[str]:
    """Names of the rigs."""
    return list(sheet.night.farm.rigs or {})


def machine_events(
    machine: MachineSheet, fields: Mapping[str, FieldWork], sheet: RunSheet, notebook: Notebook
) -> list[CalendarEvent]:
    """The work, fills and drives of a machine as events, reminders within the hour before."""
    voice, title = notebook.voice, machine_title(machine, notebook.voice)
    owner = notebook.of_machine(machine.name)
    first = next(iter(fields.values()))
    names = _Names(fields.get(str(machine.pieces[0].field), first).night)
    common = [*missed_sentences(sheet, voice)]
    looked: set[object] = set()
    events = []
    for span in work_spans(machine):
        name = names.of(span.way, span.start, span.end)
        field = fields[span.field]
        reminders = () if name[0] in looked else (_look(field, span, notebook),)
        looked.add(name[0])
        text = notebook.title(
            "calendar_machine", machine=title, way=voice.say(f"sheet_way_{span.way}"),
            field=span.field,
        )  # fmt: skip
        cautions = [remark for piece in span.pieces for remark in piece.cautions]
        lines = [*common, *_dial(span, machine, voice), *_amounts(span, voice)]
        lines += [*phrases(cautions, voice), _where(field, voice)]
        times = (span.start, span.end)
        events.append(notebook.event(field.night, name, times, text, lines, reminders, owner))
    for step in machine.steps:
        if step.kind not in ("fill", "drive", "drain") or step.field is None:
            continue
        field = fields[step.field]
        text = notebook.title(f"calendar_{step.kind}", machine=title, field=step.field)
        lines = [*common, step_text(step, voice), _where(field, voice)]
        name = names.of(step.kind, step.start, step.end)
        reminders = (Reminder(step.start, text),)
        times = (step.start, step.end)
        events.append(notebook.event(field.night, name, times, text, lines, reminders, owner))
    return events


def _where(field: FieldWork, voice: Voice) -> str:
    """The place for an emergency call."""
    return voice.say("sheet_emergency_short", places=place_text([field], voice))


def _maybe_events(field: FieldNight, notebook: Notebook) -> list[CalendarEvent]:
    """Where no work is sure: tonight's windows in which to probe first."""
    tonight = [item for item in field.maybe if item.start < field.headline.turn]
    lines = stems_sentence(field, field_voice(field, notebook.voice))
    text = notebook.title("calendar_look", field=field.setting.field.name)
    return [
        notebook.event(
            field,
            name,
            (window.start, window.end),
            window_title(field, window, notebook, maybe=True),
            [*lines, *_lines(window, field_voice(field, notebook.voice))],
            (Reminder(look_time(field, window), text),) if window is tonight[0] else (),
        )
        for name, window in named_windows(field, tonight, "maybe-")
    ]


class _Names:
    """What names each event of a field: night, kind, part of the night, number."""

    def __init__(self, field: FieldNight) -> None:
        self._field = field
        self._counts: Counter[tuple[str, str, str]] = Counter()

    def of(self, kind: str, start: np.datetime64, end: np.datetime64) -> tuple[object, ...]:
        """The name of the next event of a kind."""
        night, part = night_and_part(self._field, start, end)
        key = (f"{night:%Y%m%d}", kind, part)
        self._counts[key] += 1
        return (*key, self._counts[key])


def _look(field: FieldWork, span: WorkSpan, notebook: Notebook) -> Reminder:
    """A look at the windrow before the night's first work, as early as dew may come.

    Within the hour before, so that it still wakes the one who drives.
    """
    text = notebook.title("calendar_look", field=field.name)
    windows = [w for w in field.night.windows if w.start <= span.start < w.end]
    at = span.start - LOOK_BEFORE_WORK
    if span.way == "dew" and windows:
        at = look_time(field.night, windows[0])
    return Reminder(max(at, span.start - HOUR_BEFORE), text)


def _dial(span: WorkSpan, machine: MachineSheet, voice: Voice) -> list[str]:
    """Rates to dial; the speed alone for a baler."""
    dials = [dial for dial in span.dials if dial.water_l_t]
    if machine.kind != "rig" or not dials:
        return [setting_text(replace(span.dials[0], water_l_t=0.0, heat=None), voice)]
    said = f"{voice.say('calendar_dial')} {rates_text(dials, voice)}"
    return [said, setting_text(dials[0], voice)]


def _amounts(span: WorkSpan, voice: Voice) -> list[str]:
    """Hay, area and water of it, as far as they are known."""
    parts = [voice.hours(sum(piece.hours for piece in span.pieces))]
    for name, quantity in (("mass_kg", "tons"), ("area_m2", "area")):
        values = [getattr(piece, name) for piece in span.pieces]
        if None not in values:
            parts.append(voice.counted(sum(values), quantity))
    water = [piece.water_l for piece in span.pieces if piece.water_l is not None]
    if sum(water):
        parts.append(voice.amount(sum(water), "volume"))
    return [voice.listed(parts)]


def plan_calendar(plan: FieldsPlan, units: UnitSystem, before: str | None = None) -> str:
    """The plan as a calendar file: every block of work, with a look before the first of a night.

    Parameters
    ----------
    before
        The file that this one replaces, where there is one.
    """
    notebook = Notebook(plan.night, plan_voice(plan, units), "plan")
    events = plan_events(plan, notebook)
    owners = [notebook.owner(field) for field in plan.night.fields]
    title = notebook.voice.say("calendar_name_plan", farm=plan.farm.name)
    return calendar_text(title, events, owners, plan.now, before)


def plan_events(plan: FieldsPlan, notebook: Notebook) -> list[CalendarEvent]:
    """Every block of work as an event, with a look before the first of a night."""
    fields = {field.setting.field.name: field for field in plan.night.fields}
    names = {name: _Names(field) for name, field in fields.items()}
    looked: set[tuple[str, object]] = set()
    late = missed_lines(plan, notebook.voice)
    events = []
    for block in plan.blocks:
        name = names[block.field].of(block.way, block.start, block.end)
        first = (block.field, name[0]) not in looked
        looked.add((block.field, name[0]))
        events.append(_block(block, fields[block.field], name, notebook, late, look=first))
    return events


def _block(
    block: Block,
    field: FieldNight,
    name: tuple[object, ...],
    notebook: Notebook,
    late: Sequence[str],
    *,
    look: bool,
) -> CalendarEvent:
    """A block of work as an event: which baler, how much, what to dial, why."""
    voice = field_voice(field, notebook.voice)
    title = notebook.title(
        "calendar_block",
        way=voice.say(f"fields_way_{block.way}"), field=block.field, baler=block.baler,
    )  # fmt: skip
    parts = [voice.hours(block.hours)]
    if block.kg is not None and block.area_m2 is not None:
        parts += [voice.counted(block.kg, "tons"), voice.counted(block.area_m2, "area")]
    if block.water_l_t is not None:
        parts.append(voice.between(*block.water_l_t, "water_rate"))
        if block.water_l is not None:
            parts.append(voice.amount(block.water_l, "volume"))
    text = notebook.title("calendar_look", field=block.field)
    reminders = (Reminder(block.start - LOOK_BEFORE_WORK, text),) if look else ()
    lines = [*late, voice.listed(parts), *block_reasons(block, voice)]
    return notebook.event(field, name, (block.start, block.end), title, lines, reminders)
