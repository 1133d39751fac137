"""A run sheet as text for a terminal: first lines, table, rates, signs, relief, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hayweather.baling.calls import AS_IT_LIES, Call
from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, Fill, RunSheet, SheetWindow, Totals
from hayweather.show.layout import (
    UNKNOWN,
    WIDEST_PROSE,
    TextColumn,
    bulleted_sentences,
    cell_lines,
    evened,
    fitting,
    heading_lines,
    paragraphs,
    under_days,
    wrapped,
)
from hayweather.show.outlook_text import EDGES, head_lines
from hayweather.show.outlook_words import farm_voice, field_title, field_voice
from hayweather.show.runsheet_data import WORK_NUMBERS
from hayweather.show.runsheet_words import sheet_sentences
from hayweather.show.table import Column
from hayweather.show.voice import Voice, merge, phrases, safety_texts
from hayweather.show.weather_facts import weather_lines, weather_summary
from hayweather.words import Remark

FILL_EDGE = "=="
Row = SheetWindow | Totals


def sheet_table(field: FieldSheet, voice: Voice, width: int) -> list[str]:
    """Lines of a field's table, none wider than `width`; none where there is no work."""
    if not field.windows:
        return []
    columns, gap = fitting(sheet_columns(field, voice), width - 3)
    heads = [f"   {line}" for line in heading_lines(columns, gap)]
    *rows, totals = cell_lines(columns, gap)
    longest = len(heads[0])
    dated = under_days(_in_time(field, rows, voice), voice, longest)
    lines = [*heads, *dated, "-" * longest, f"   {totals}"]
    return [*(line.rstrip() for line in lines), *_legend(field, voice, width)]


def _in_time(
    field: FieldSheet, rows: Sequence[str], voice: Voice
) -> list[tuple[np.datetime64, str]]:
    """Rows and fills with their starts, in order of time."""
    work = [
        (window.start, f"{EDGES[window.call]} {row}")
        for window, row in zip(field.windows, rows, strict=True)
    ]
    fills = [(fill.start, f"{FILL_EDGE} {_fill(fill, voice)}") for fill in field.fills]
    return sorted([*work, *fills], key=lambda pair: pair[0])


def _fill(fill: Fill, voice: Voice) -> str:
    """A fill as a row."""
    key = "sheet_row_fill" if fill.baler_waits else "sheet_row_fill_idle"
    return voice.say(
        key,
        start=voice.clock(fill.start, words=False),
        end=voice.clock(fill.end, words=False),
        minutes=voice.amount(fill.minutes, "minutes"),
    )


def sheet_columns(field: FieldSheet, voice: Voice) -> list[TextColumn]:
    """All columns that have something to show."""
    windows = field.windows
    ends = (
        ("from", [w.start for w in windows], ""),
        ("to", [w.end for w in windows], voice.say("sheet_total")),
    )
    columns = [
        TextColumn(
            (voice.say(f"sheet_column_{name}"),),
            (*(voice.clock(time, words=False) for time in times), last),
        )
        for name, times, last in ends
    ]
    words = [voice.call(window.call) for window in windows]
    columns.append(TextColumn((voice.say("column_call"),), (*words, ""), 1, is_text=True))
    rig = any(window.call == Call.ADD_MOISTURE for window in windows)
    shown = [item for item in WORK_NUMBERS if rig or not (item.screen and item.screen.for_rig)]
    columns += [_number_column(item, field, voice) for item in shown]
    return evened([column for column in columns if any(column.cells)])


def _number_column(column: Column, field: FieldSheet, voice: Voice) -> TextColumn:
    """One column of numbers; none where nothing is known or needed."""
    made = column.text_column([*field.windows, field.totals], voice)
    rows: list[Row] = [*field.windows, field.totals]
    cells = tuple(
        "" if _beside_it(column, row) else cell for row, cell in zip(rows, made.cells, strict=True)
    )
    if not set(cells) - {"", UNKNOWN, "0", "0.0"}:
        cells = ("",) * len(rows)
    return replace(made, cells=cells)


def _beside_it(column: Column, row: Row) -> bool:
    """Whether a row has no such number: a sum without it, or the rig's on natural dew."""
    on_dew = isinstance(row, SheetWindow) and row.call in AS_IT_LIES
    for_rig = column.screen is not None and column.screen.for_rig
    return not hasattr(row, str(column.value)) or (for_rig and on_dew)


def _legend(field: FieldSheet, voice: Voice, width: int) -> list[str]:
    """What the signs at the left edge mean, those that occur."""
    calls = dict.fromkeys(window.call for window in field.windows)
    signs = [f"{EDGES[call]} {voice.call(call)}" for call in calls]
    if field.fills:
        signs.append(voice.say("sheet_legend_fill"))
    key = "sheet_legend" if Call.ADD_MOISTURE in calls else "sheet_legend_dew"
    return wrapped(voice.say(key, legend=", ".join(signs)), width)


def dial_lines(field: FieldSheet, voice: Voice, width: int) -> list[str]:
    """Every rate to dial, from when; nothing without a rig window."""
    steps: list[str] = []
    last: tuple[float, Call] | None = None
    for window in field.windows:
        for step in window.rate_steps:
            if last != (step.water_l_t, window.call):
                time, rate = voice.when(step.start), voice.number(step.water_l_t, "water_rate")
                steps.append(f"{time} {rate}")
                last = (step.water_l_t, window.call)
        if not window.rate_steps:
            last = None
    if not steps:
        return []
    unit = voice.say(f"amount_water_rate_{voice.units}")
    return wrapped(f"{voice.say('sheet_dial')} {', '.join(steps)} {unit}.", width)


def runsheet_text(sheet: RunSheet, units: UnitSystem, width: int = 80) -> str:
    """The whole run sheet as text, no line wider than `width` where that can be kept."""
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
