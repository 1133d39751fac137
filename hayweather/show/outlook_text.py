"""An outlook as text for a terminal: the screen; below it hours, reasons, cautions on request."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.catalog import kind_of
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.layout import (
    WIDEST_PROSE,
    TextColumn,
    bulleted_sentences,
    bullets,
    cell_lines,
    evened,
    fitting,
    heading_lines,
    paragraphs,
    under_days,
    wrapped,
)
from hayweather.show.outlook_data import HOUR_NUMBERS
from hayweather.show.outlook_plan import cautions_of, plan_sentences, shared_sentences
from hayweather.show.outlook_words import (
    Note,
    call_runs,
    farm_voice,
    field_sentences,
    field_title,
    field_voice,
    marks_of,
    notes_of,
    unknown_runs,
    unknown_text,
)
from hayweather.show.screen import screen_text
from hayweather.show.voice import Voice, capital, phrase, phrases, sentence, shown_safety
from hayweather.show.weather_facts import weather_lines, weather_summary

EDGES = {
    Call.NATURAL_DEW: "##",
    Call.READY: "==",
    Call.ADD_MOISTURE: "++",
    Call.TOO_DRY: "..",
    Call.TOO_WET: "~~",
    Call.DAMP_BELOW: "__",
    Call.NOT_CURED: "//",
    Call.NO_DATA: "??",
}
STOP_EDGE = "XX"
WIND_HEIGHT_M = 2.0


def hours_table(field: FieldNight, voice: Voice, width: int) -> list[str]:
    """Lines of a field's table: title, hours, notes; none wider than `width`."""
    notes = notes_of(field.hours)
    return [
        *wrapped(table_title(field, voice), width),
        *_grid(field.hours, notes, voice, width),
        *_ends(field, voice, width),
        *_notes(notes, voice, width),
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


def columns_of(hours: Sequence[HourCall], marks: Sequence[str], voice: Voice) -> list[TextColumn]:
    """All columns that have something to show, in reading order."""
    times = tuple(voice.clock(hour.start, words=False) for hour in hours)
    found = [
        TextColumn((voice.say("column_time"),), times),
        TextColumn((voice.say("column_call"),), call_words(hours, voice), is_text=True),
        TextColumn((voice.say("column_advice"),), advice_words(hours, voice), is_text=True),
    ]
    for column in HOUR_NUMBERS:
        shown = column.text_column(hours, voice)
        if set(shown.cells) - {"", column.screen.dull if column.screen else ""}:
            found.append(shown)
    if any(marks):
        found.append(TextColumn(("",), tuple(marks), is_text=True))
    return evened(found)


def call_words(hours: Sequence[HourCall], voice: Voice) -> tuple[str, ...]:
    """The word of each hour's call."""
    return tuple(voice.call(hour.call) for hour in hours)


def advice_words(hours: Sequence[HourCall], voice: Voice) -> tuple[str, ...]:
    """The word of each hour's advice."""
    return tuple(voice.advice(hour.advice) for hour in hours)


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


def _ends(field: FieldNight, voice: Voice, width: int) -> list[str]:
    """That the night goes on where the weather does not."""
    end = field.shown.weather.end[0]
    return [
        line
        for run in unknown_runs(field)
        if run.start >= end
        for line in wrapped(unknown_text(run, voice), width, f"{EDGES[run.call]} ", "   ")
    ]


def _legend(outlook: Night, voice: Voice, width: int) -> list[str]:
    """What the signs at the left edge mean, those that occur."""
    hours = [hour for field in outlook for hour in field.hours]
    used = [call for call in EDGES if any(h.call == call and not h.stop for h in hours)]
    signs = [f"{EDGES[call]} {voice.call(call)}" for call in used]
    if any(hour.stop for hour in hours):
        signs.append(f"{STOP_EDGE} {voice.say('table_stopped')}")
    return wrapped(voice.say("table_legend", legend=", ".join(signs)), width)


def _basis(outlook: Night, voice: Voice, width: int) -> list[str]:
    """What the numbers mean."""
    text = voice.say("table_basis", height=voice.amount(WIND_HEIGHT_M, "length"))
    if any(hour.chance is not None for field in outlook for hour in field.hours):
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


def _reasons(field: FieldNight, voice: Voice, width: int) -> list[str]:
    """Why each run of hours has its call."""
    lines = wrapped(voice.say("table_why_field", field=field.name), width)
    for run in call_runs(field.hours):
        reasons = "; ".join(phrase(remark, voice) for remark in run.reasons)
        text = f"{voice.span(run.start, run.end)}, {voice.call(run.call)}: {reasons}"
        lines += wrapped(text, width, f"{EDGES[run.call]} ", "   ")
    return lines


def outlook_text(
    outlook: Night,
    units: UnitSystem,
    width: int = 80,
    *,
    hours: bool = True,
    why: bool = True,
    all_cautions: bool = False,
    farm_option: str = "",
    weight: bool = False,
) -> str:
    """The screen, and on request what stands below it; no sentence twice.

    Parameters
    ----------
    outlook, units, width
        Night, reader's units, letters that no line passes where that can be kept.
    hours
        With the tables of the hours.
    why
        With all sentences, reasons, and what was assumed.
    all_cautions
        With the cautions in full.
    farm_option, weight
        As in `hayweather.show.screen.screen_text`.
    """
    more = ["--hours"] * (not hours) + ["--why"] * (not why) + ["--all"] * (not (hours or why))
    screen = screen_text(
        outlook, units, width, farm_option=farm_option, weight=weight, options=more
    )
    voice, prose = farm_voice(outlook, units), min(width, WIDEST_PROSE)
    said = _Said(screen)
    lines = _sentences(outlook, voice, prose, said) if why else []
    for field in outlook.fields:
        own = field_voice(field, voice)
        lines += ["", *hours_table(field, own, width)] if hours else []
        lines += ["", *_reasons(field, own, width)] if why else []
    lines += ["", *_legend(outlook, voice, width), *_basis(outlook, voice, width)] if hours else []
    if why:
        lines += ["", *paragraphs(said.new(_behind(outlook, voice)), prose)]
    if all_cautions or (hours and why):
        lines += ["", *_safety(voice, prose, all_cautions)]
    return screen + "".join(f"{line}\n" for line in lines)


class _Said:
    """What was printed, so that nothing is said again."""

    def __init__(self, text: str) -> None:
        self.text = " ".join(text.split())

    def new(self, texts: Sequence[str]) -> list[str]:
        """Those of some texts that were not said yet; they are now."""
        found = []
        for text in map(sentence, texts):
            if text not in self.text:
                found.append(text)
                self.text += " " + text
        return found


def _sentences(outlook: Night, voice: Voice, width: int, said: _Said) -> list[str]:
    """The plan and the night of every field in sentences, those of the screen left out."""
    lines = _plan(outlook, voice, width)
    for field in outlook.fields:
        own = field_voice(field, voice)
        told = bullets(said.new(field_sentences(field, own)), width)
        lines += ["", *wrapped(field_title(field, own), width), *told]
    common = said.new([*shared_sentences(outlook, voice), *phrases(cautions_of(outlook), voice)])
    return [*lines, *([""] if common else []), *bullets(common, width)]


def head_lines(
    key: str, outlook: Night, voice: Voice, width: int, missed: Sequence[str] = ()
) -> list[str]:
    """The title `key`: which farm and night, made when; an invented sample says so first.

    Then the dates that are `missed`.
    """
    texts = [voice.say("outlook_invented")] if outlook.farm.weather.invented else []
    texts += missed
    night = voice.night(outlook.fields[0].headline.evening)
    made = replace(voice, evening=None).when(outlook.now)
    texts.append(voice.say(key, farm=outlook.farm.name, night=night, time=made))
    return paragraphs(texts, width)


def _plan(outlook: Night, voice: Voice, width: int) -> list[str]:
    """Who is where, where machines cannot be everywhere at once."""
    rows = plan_sentences(outlook, voice)
    if not rows:
        return []
    said = bulleted_sentences([*rows, voice.say("outlook_plan_hay")], width)
    return ["", *wrapped(voice.say("outlook_plan"), width), *said]


def _behind(outlook: Night, voice: Voice) -> list[str]:
    """What stands behind the outlook: weather, its age, what was assumed."""
    return [*weather_lines(weather_summary(outlook), voice), *farm_notes(outlook, voice)]


def farm_notes(outlook: Night, voice: Voice) -> list[str]:
    """What the farm file left open, for the fields shown, without the file's name."""
    farm = outlook.farm
    shown = {f"[field.{field.setting.field.name}]" for field in outlook.fields}
    others = {f"[field.{name}]" for name in farm.fields} - shown
    start = "" if farm.path is None else f"{farm.path.name}: "
    notes = [note for note in farm.notes if not any(other in note for other in others)]
    return [voice.say("outlook_from_file", note=note.removeprefix(start)) for note in notes]


def _safety(voice: Voice, width: int, all_cautions: bool) -> list[str]:
    """The cautions that always show, short or in full."""
    texts = shown_safety(voice, all_cautions)
    heading = wrapped(voice.say("safety_heading") + ":", width)
    return [*heading, *bulleted_sentences(texts, width)]
