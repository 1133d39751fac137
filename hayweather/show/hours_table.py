"""The table of hours of one field, its notes, and why each call is what it is."""

from __future__ import annotations

from collections.abc import Sequence

from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.catalog import kind_of
from hayweather.nights import FieldNight
from hayweather.show.columns import columns_of, fitting
from hayweather.show.layout import wrapped
from hayweather.show.phrases import phrase
from hayweather.show.runs import Note, call_runs, marks_of, notes_of
from hayweather.show.table_lines import cell_lines, heading_lines, under_days
from hayweather.show.voice import Voice, capital

EDGES = {
    Call.NATURAL_DEW: "##",
    Call.ADD_MOISTURE: "++",
    Call.TOO_DRY: "..",
    Call.TOO_WET: "~~",
    Call.NOT_CURED: "//",
    Call.NO_DATA: "??",
}
STOP_EDGE = "XX"
WIND_HEIGHT_M = 2.0


def hours_table(field: FieldNight, voice: Voice, width: int) -> list[str]:
    """Lines of a field's table: title, hours, notes, reasons; none wider than `width`."""
    notes = notes_of(field.hours)
    return [
        *wrapped(table_title(field, voice), width),
        *_grid(field.hours, notes, voice, width),
        *_legend(field.hours, voice, width),
        *_basis(field.hours, voice, width),
        *_notes(notes, voice, width),
        *_reasons(field.hours, voice, width),
    ]


def table_title(field: FieldNight, voice: Voice) -> str:
    """Name of the field and the limits that hold there."""
    band = field.setting.band
    leaf = ""
    if band.leaf_minimum_wb is not None:
        minimum = voice.amount(band.leaf_minimum_wb, "percent")
        leaf = voice.say("table_title_leaf", leaf=minimum)
    low, high = voice.amount(band.low_wb, "percent"), voice.amount(band.high_wb, "percent")
    name = field.setting.field.name
    bales = capital(voice.say(kind_of(field.setting.baler.kind).text))
    return voice.say("table_title", field=name, bales=bales, low=low, high=high, leaf=leaf)


def _grid(hours: Sequence[HourCall], notes: Sequence[Note], voice: Voice, width: int) -> list[str]:
    """Headings and rows, a line between two days."""
    letters = marks_of(notes)
    marks = [letters.get(hour.start, "") for hour in hours]
    columns, gap = fitting(columns_of(hours, marks, voice), width - 3)
    heads = [f"   {line}" for line in heading_lines(columns, gap)]
    rows = [
        (hour.start, f"{STOP_EDGE if hour.stop else EDGES[hour.call]} {line}")
        for hour, line in zip(hours, cell_lines(columns, gap), strict=True)
    ]
    return [line.rstrip() for line in (*heads, *under_days(rows, voice, len(heads[0])))]


def _legend(hours: Sequence[HourCall], voice: Voice, width: int) -> list[str]:
    """What the signs at the left edge mean, those that occur."""
    used = [call for call in EDGES if any(h.call == call and not h.stop for h in hours)]
    signs = [f"{EDGES[call]} {voice.call(call)}" for call in used]
    if any(hour.stop for hour in hours):
        signs.append(f"{STOP_EDGE} {voice.say('table_stopped')}")
    return wrapped(voice.say("table_legend", legend=", ".join(signs)), width)


def _basis(hours: Sequence[HourCall], voice: Voice, width: int) -> list[str]:
    """What the numbers mean."""
    text = voice.say("table_basis", height=voice.amount(WIND_HEIGHT_M, "length"))
    if any(hour.chance is not None for hour in hours):
        text += " " + voice.say("table_agree")
    return wrapped(text, width)


def _notes(notes: Sequence[Note], voice: Voice, width: int) -> list[str]:
    """Each stop and caution once, with its hours."""
    lines = []
    for note in notes:
        spans = ", ".join(voice.span(*span) for span in note.spans)
        held = spans if note.mark else voice.say("table_all_hours")
        text = f"{phrase(note.remark, voice)} ({held})"
        lines += wrapped(text, width, f"{note.mark or '*':>2} ", "   ")
    return lines


def _reasons(hours: Sequence[HourCall], voice: Voice, width: int) -> list[str]:
    """Why each run of hours has its call."""
    lines = [voice.say("table_why")]
    for run in call_runs(hours):
        reasons = "; ".join(phrase(remark, voice) for remark in run.reasons)
        text = f"{voice.span(run.start, run.end)}, {voice.call(run.call)}: {reasons}"
        lines += wrapped(text, width, f"{EDGES[run.call]} ", "   ")
    return lines
