"""A run sheet as text for a terminal: first lines, table, rates, signs, relief, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, RunSheet, SheetWindow
from hayweather.show.hours_table import EDGES
from hayweather.show.layout import WIDEST_PROSE, bulleted_sentences, paragraphs, wrapped
from hayweather.show.outlook_text import head_lines
from hayweather.show.phrases import merge, phrases
from hayweather.show.runsheet_sentences import sheet_sentences
from hayweather.show.runsheet_table import dial_lines, sheet_table
from hayweather.show.safety import safety_texts
from hayweather.show.sentences import farm_voice, field_title, field_voice
from hayweather.show.voice import Voice
from hayweather.show.weather_facts import weather_lines, weather_summary
from hayweather.words import Remark


def runsheet_text(sheet: RunSheet, units: UnitSystem, width: int = 80) -> str:
    """The whole run sheet as text, no line wider than `width` where that can be kept.

    Parameters
    ----------
    sheet
        What to show.
    units
        Unit system of the reader.
    width
        Characters of a line.
    """
    prose = min(width, WIDEST_PROSE)
    voice = farm_voice(sheet.outlook, units)
    lines = head_lines("sheet_title", sheet.outlook, voice, prose)
    for field in sheet.fields:
        lines += ["", *_field(field, field_voice(field.outlook, voice), width, prose)]
    lines += ["", *bulleted_sentences(phrases(sheet.cautions, voice), prose)]
    facts = weather_lines(weather_summary(sheet.outlook), voice)
    lines += ["", *paragraphs(facts, prose)]
    lines += ["", *wrapped(voice.say("safety_heading") + ":", prose)]
    return "\n".join([*lines, *bulleted_sentences(safety_texts(voice), prose)]) + "\n"


def _field(field: FieldSheet, voice: Voice, width: int, prose: int) -> list[str]:
    """One field."""
    lines = wrapped(field_title(field.outlook, voice), prose)
    lines += bulleted_sentences(sheet_sentences(field, voice), prose)
    if field.windows:
        lines += ["", voice.say("sheet_table"), *sheet_table(field, voice, width)]
        lines += dial_lines(field, voice, prose)
        lines += ["", *wrapped(voice.say("sheet_why"), prose), *_reasons(field, voice, prose)]
        for name in ("start", "way", "stop"):
            remarks = getattr(field.signs, name)
            lines += _section(f"sheet_signs_{name}", remarks, voice, prose)
    lines += _section("sheet_relief", field.relief, voice, prose)
    return lines + _section("sheet_notes", field.notes, voice, prose)


def _reasons(field: FieldSheet, voice: Voice, width: int) -> list[str]:
    """Why each run of pieces has its call, and its cautions."""
    lines = []
    for run in work_runs(field.windows):
        remarks = merge([*_all(run, "reasons"), *_all(run, "cautions")])
        why = "; ".join(phrases(remarks, voice))
        span, call = voice.span(run[0].start, run[-1].end), voice.call(run[0].call)
        lines += wrapped(f"{span}, {call}: {why}", width, f"{EDGES[run[0].call]} ", "   ")
    return lines


def work_runs(windows: Sequence[SheetWindow]) -> list[list[SheetWindow]]:
    """Pieces of one call and of the same kinds of reasons that follow one another."""
    runs: list[list[SheetWindow]] = []
    for window in windows:
        if runs and _kinds(runs[-1][-1]) == _kinds(window):
            runs[-1].append(window)
        else:
            runs.append([window])
    return runs


def _kinds(window: SheetWindow) -> tuple[str, ...]:
    """What tells a run of pieces from the next: call and kinds of reasons."""
    return (window.call.word, *sorted({remark.key for remark in window.reasons}))


def _all(run: Sequence[SheetWindow], name: str) -> list[Remark]:
    """Reasons or cautions of a run of pieces."""
    return [remark for window in run for remark in getattr(window, name)]


def _section(heading: str, remarks: Sequence[Remark], voice: Voice, width: int) -> list[str]:
    """A heading and its sentences; nothing where there is none."""
    if not remarks:
        return []
    return [
        "",
        *wrapped(voice.say(heading), width),
        *bulleted_sentences(phrases(remarks, voice), width),
    ]
