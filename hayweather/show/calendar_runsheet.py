"""A run sheet as a calendar: work and fills as events, with reminders to look and to fill."""

from __future__ import annotations

from collections import Counter

import numpy as np

from hayweather.baling.calls import Call
from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, RunSheet
from hayweather.show.calendar_file import CalendarEvent, Reminder, calendar_text
from hayweather.show.calendar_outlook import KINDS, Notebook, look_time, night_and_part
from hayweather.show.phrases import phrases
from hayweather.show.runsheet_sentences import fill_text
from hayweather.show.sentences import farm_voice, field_voice
from hayweather.show.voice import Voice
from hayweather.show.work_spans import WorkSpan, work_spans

LOOK_BEFORE_WORK = np.timedelta64(45 * 60, "s")


def runsheet_calendar(sheet: RunSheet, units: UnitSystem, before: str | None = None) -> str:
    """The run sheet as a calendar file.

    Parameters
    ----------
    sheet
        What to show.
    units
        Unit system of the reader.
    before
        The file that this one replaces, where there is one.
    """
    outlook = sheet.outlook
    notebook = Notebook(outlook, farm_voice(outlook, units), "runsheet")
    events = [event for field in sheet.fields for event in sheet_events(field, notebook)]
    owners = [notebook.owner(field.outlook) for field in sheet.fields]
    name = notebook.voice.say("calendar_name_runsheet", farm=outlook.farm.name)
    return calendar_text(name, events, owners, outlook.now, before)


def sheet_events(field: FieldSheet, notebook: Notebook) -> list[CalendarEvent]:
    """Work and fills of a field as events."""
    names = _Names(field)
    looked: set[object] = set()
    events = []
    for span in work_spans(field):
        name = names.of(KINDS[span.call], span.start, span.end)
        reminders = () if name[0] in looked else (_look(field, span, notebook),)
        looked.add(name[0])
        events.append(_work(field, span, name, notebook, reminders))
    return [*events, *_fills(field, names, notebook)]


class _Names:
    """What names each event of a field: night, kind, part of the night, number."""

    def __init__(self, field: FieldSheet) -> None:
        self._field = field
        self._counts: Counter[tuple[str, str, str]] = Counter()

    def of(self, kind: str, start: np.datetime64, end: np.datetime64) -> tuple[object, ...]:
        """The name of the next event of a kind."""
        night, part = night_and_part(self._field.outlook, start, end)
        key = (f"{night:%Y%m%d}", kind, part)
        self._counts[key] += 1
        return (*key, self._counts[key])


def _look(field: FieldSheet, span: WorkSpan, notebook: Notebook) -> Reminder:
    """A look at the windrow before the night's first work, as early as dew may come."""
    text = notebook.title("calendar_look", field=field.name)
    windows = [w for w in field.outlook.windows if w.start <= span.start < w.end]
    if span.call == Call.NATURAL_DEW and windows:
        return Reminder(look_time(field.outlook, windows[0]), text)
    return Reminder(span.start - LOOK_BEFORE_WORK, text)


def _work(
    field: FieldSheet,
    span: WorkSpan,
    name: tuple[object, ...],
    notebook: Notebook,
    reminders: tuple[Reminder, ...],
) -> CalendarEvent:
    """Work as an event: rates to dial, amounts, what to mind."""
    voice = field_voice(field.outlook, notebook.voice)
    word = voice.call(span.call)
    title = notebook.title("calendar_window", call=word, field=field.name)
    cautions = [remark for piece in span.pieces for remark in piece.cautions]
    lines = [*_dial(span, voice), *_amounts(span, voice), *phrases(cautions, voice)]
    times = (span.start, span.end)
    return notebook.event(field.outlook, name, times, title, lines, reminders)


def _dial(span: WorkSpan, voice: Voice) -> list[str]:
    """Rates to dial; nothing on dew."""
    if not span.steps:
        return []
    dialed = [
        f"{voice.when(step.start)} {voice.number(step.water_l_t, 'water_rate')}"
        for step in span.steps
    ]
    unit = voice.say(f"amount_water_rate_{voice.units}")
    return [f"{voice.say('sheet_dial')} {', '.join(dialed)} {unit}"]


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


def _fills(field: FieldSheet, names: _Names, notebook: Notebook) -> list[CalendarEvent]:
    """Fills as events, each with a reminder at its start."""
    voice = field_voice(field.outlook, notebook.voice)
    title = notebook.title("calendar_fill", field=field.name)
    return [
        notebook.event(
            field.outlook,
            names.of("fill", fill.start, fill.end),
            (fill.start, fill.end),
            title,
            [fill_text(fill, voice)],
            (Reminder(fill.start, title),),
        )
        for fill in field.fills
    ]
