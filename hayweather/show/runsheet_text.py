"""Run sheets as text for a terminal: first lines, driving order, settings, signs, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import Dial, MachineSheet, Piece, RunSheet, Step, Totals
from hayweather.show.layout import (
    WIDEST_PROSE,
    TextColumn,
    bulleted_sentences,
    cell_lines,
    evened,
    fitting,
    heading_lines,
    paragraphs,
    under_days,
    unit_lines,
    wrapped,
)
from hayweather.show.outlook_text import EDGES, head_lines
from hayweather.show.outlook_words import field_title, field_voice
from hayweather.show.runsheet_data import WORK_NUMBERS
from hayweather.show.runsheet_words import (
    answer_cell,
    burner_text,
    emergency_sentence,
    field_sentences,
    legend_of,
    machine_sentences,
    machine_title,
    missed_sentences,
    sheet_voice,
    step_text,
)
from hayweather.show.table import Column
from hayweather.show.voice import UNKNOWN, Voice, merge, phrases, safety_texts
from hayweather.show.weather_facts import weather_lines, weather_summary
from hayweather.units import symbol_of
from hayweather.words import Remark

Row = Piece | Totals
_AnswerRow = tuple[str, list[str], np.datetime64, np.datetime64]


def runsheet_text(sheet: RunSheet, units: UnitSystem, width: int = 80) -> str:
    """All run sheets as text, no line wider than `width` where that can be kept."""
    prose = min(width, WIDEST_PROSE)
    voice = sheet_voice(sheet, units)
    head = head_lines("sheet_title", sheet.night, voice, prose)
    mark = 1 if sheet.night.farm.weather.invented else 0
    lines = [*head[:mark], *paragraphs(missed_sentences(sheet, voice), prose), *head[mark:]]
    lines += ["", *wrapped(emergency_sentence(sheet, voice), prose)]
    for machine in sheet.machines:
        lines += ["", *_machine(machine, voice, width, prose)]
    for field in sheet.fields:
        own = field_voice(field.night, voice)
        said = field_sentences(field, voice)
        if said:
            lines += ["", *wrapped(field_title(field.night, own), prose)]
            lines += bulleted_sentences(said, prose)
    lines += ["", *bulleted_sentences(phrases(sheet.cautions, voice), prose)]
    facts = weather_lines(weather_summary(sheet.night), voice)
    lines += ["", *paragraphs(facts, prose)]
    lines += ["", *wrapped(voice.say("safety_heading") + ":", prose)]
    return "\n".join([*lines, *bulleted_sentences(safety_texts(voice), prose)]) + "\n"


def _machine(machine: MachineSheet, voice: Voice, width: int, prose: int) -> list[str]:
    """One machine."""
    lines = wrapped(machine_title(machine, voice).upper(), prose)
    lines += bulleted_sentences(machine_sentences(machine, voice), prose)
    lines += ["", voice.say("sheet_table"), *sheet_table(machine, voice, width)]
    lines += ["", *wrapped(voice.say("sheet_dial"), prose), *dial_table(machine, voice, width)]
    lines += answer_lines(machine, voice, width, prose)
    lines += ["", *wrapped(voice.say("sheet_why"), prose), *_reasons(machine, voice, prose)]
    for name in ("start", "way", "stop"):
        remarks = getattr(machine.signs, name)
        lines += _section(f"sheet_signs_{name}", remarks, voice, prose)
    lines += _section("sheet_relief", machine.relief, voice, prose)
    return lines + _section("sheet_notes", machine.notes, voice, prose)


def sheet_table(machine: MachineSheet, voice: Voice, width: int) -> list[str]:
    """Lines of a machine's steps in driving order, none wider than `width`."""
    columns, gap = fitting(sheet_columns(machine, voice), width - 3)
    heads = [f"   {line}" for line in heading_lines(columns, gap)]
    *rows, totals = cell_lines(columns, gap)
    longest = max(len(heads[0]), 40)
    work = iter(rows)
    timed: list[tuple[np.datetime64, str]] = []
    for step in machine.steps:
        if isinstance(step, Piece):
            timed.append((step.start, f"{EDGES[step.call]} {next(work)}"))
        else:
            said = f"{step_span(step, voice)}: {step_text(step, voice)}"
            timed += [(step.start, line) for line in wrapped(said, width, "   ", "     ")]
    lines = [*heads, *under_days(timed, voice, longest), "-" * longest, f"   {totals}"]
    return [*(line.rstrip() for line in lines), *_legend(machine, voice, width)]


def step_span(step: Step | Dial, voice: Voice) -> str:
    """``"8 pm to 9 pm"``, or one time."""
    start, end = voice.clock(step.start, words=False), voice.clock(step.end, words=False)
    return start if step.start == step.end else voice.say("span_short", start=start, end=end)


def sheet_columns(machine: MachineSheet, voice: Voice) -> list[TextColumn]:
    """All columns of the work that have something to show."""
    pieces = machine.pieces
    ends = (
        ("from", [p.start for p in pieces], ""),
        ("to", [p.end for p in pieces], voice.say("sheet_total")),
    )
    columns = [
        TextColumn(
            (voice.say(f"sheet_column_{name}"),),
            (*(voice.clock(time, words=False) for time in times), last),
        )
        for name, times, last in ends
    ]
    if len({piece.field for piece in pieces}) > 1:
        names = tuple(str(piece.field) for piece in pieces)
        columns.append(TextColumn((voice.say("sheet_column_field"),), (*names, ""), is_text=True))
    if len({piece.way for piece in pieces}) > 1:
        words = [voice.say(f"sheet_word_{piece.way}") for piece in pieces]
        columns.append(TextColumn((voice.say("sheet_column_way"),), (*words, ""), 1, is_text=True))
    wets = machine.kind == "rig"
    shown = [item for item in WORK_NUMBERS if wets or not (item.screen and item.screen.for_rig)]
    columns += [_number_column(item, machine, voice) for item in shown]
    return evened([column for column in columns if any(column.cells)])


def _number_column(column: Column, machine: MachineSheet, voice: Voice) -> TextColumn:
    """One column of numbers; none where nothing is known or needed."""
    rows: list[Row] = [*machine.pieces, machine.totals]
    made = column.text_column(rows, voice)
    cells = tuple(
        "" if _beside_it(column, row) else cell for row, cell in zip(rows, made.cells, strict=True)
    )
    if not set(cells) - {"", UNKNOWN, "0", voice.signed("0.0")}:
        cells = ("",) * len(rows)
    return replace(made, cells=cells)


def _beside_it(column: Column, row: Row) -> bool:
    """Whether a row has no such number: a sum without it, or the rig's on natural dew."""
    without = isinstance(row, Piece) and row.rig is None
    for_rig = column.screen is not None and column.screen.for_rig
    for_rig = for_rig or column.value == "after_wb"
    return not hasattr(row, str(column.value)) or (for_rig and without)


def _legend(machine: MachineSheet, voice: Voice, width: int) -> list[str]:
    """What the signs at the left edge mean, those that occur."""
    calls = dict.fromkeys(piece.call for piece in machine.pieces)
    signs = [f"{EDGES[call]} {voice.call(call)}" for call in calls]
    key = legend_of(machine, "sheet")
    return wrapped(voice.say(key, legend=", ".join(signs)), width)


def dial_columns(machine: MachineSheet, voice: Voice) -> list[TextColumn]:
    """Settings by the quarter: what the meter reads, rate, flow, speed, burner."""
    dials = [dial for piece in machine.pieces for dial in piece.dials]
    rig = machine.kind == "rig"
    behind = any(dial.water_l_t for dial in dials)
    numbers: list[tuple[str, str, list[float | None]]] = [
        ("reads", "percent", [dial.reads_wb for dial in dials]),
        *([("after", "percent", [_wet(d, d.after_wb) for d in dials])] if behind else []),
        *([("rate", "water_rate", [_wet(d, d.water_l_t) for d in dials])] if rig else []),
        *([("flow", "flow", [_wet(d, d.flow_l_min) for d in dials])] if rig else []),
        ("speed", "ground_speed", [dial.speed_m_s for dial in dials]),
    ]
    times = tuple(voice.clock(dial.start, words=False) for dial in dials)
    columns = [TextColumn((voice.say("sheet_column_from"),), times)]
    for name, quantity, values in numbers:
        heading = voice.say(f"sheet_column_{name}").split()
        unit = unit_lines(symbol_of(quantity, voice.units))
        cells = tuple("" if v is None else voice.number(v, quantity) for v in values)
        columns.append(TextColumn((*heading, *unit), cells))
    if rig and any(dial.heat for dial in dials):
        cells = tuple(burner_text(dial.heat, voice) for dial in dials)
        columns.append(TextColumn(tuple(voice.say("sheet_column_burner").split()), cells))
    return evened(columns)


def _wet(dial: Dial, value: float | None) -> float | None:
    """A number of the rig; nothing where it puts nothing on."""
    return value if dial.water_l_t else None


def dial_table(machine: MachineSheet, voice: Voice, width: int) -> list[str]:
    """Lines of the settings by the quarter, fields named where they change."""
    columns, gap = fitting(dial_columns(machine, voice), width - 3)
    heads = [f"   {line}" for line in heading_lines(columns, gap)]
    rows = iter(cell_lines(columns, gap))
    timed: list[tuple[np.datetime64, str]] = []
    field = machine.pieces[0].field if len({p.field for p in machine.pieces}) == 1 else None
    for piece in machine.pieces:
        if piece.field != field:
            timed.append((piece.start, f"   {piece.field}:"))
            field = piece.field
        edge = EDGES[piece.call]
        timed += [(dial.start, f"{edge} {next(rows)}") for dial in piece.dials]
    lines = [*heads, *under_days(timed, voice, len(heads[0]))]
    return [line.rstrip() for line in lines]


def answer_rows(machine: MachineSheet) -> list[Piece]:
    """The pieces in which a rig's driver may read something else."""
    return [piece for piece in machine.pieces if any(dial.answers for dial in piece.dials)]


def middle_dial(piece: Piece) -> Dial:
    """The setting in the middle of a piece, of those with answers."""
    dials = [dial for dial in piece.dials if dial.answers]
    return dials[len(dials) // 2]


def answer_columns(machine: MachineSheet, voice: Voice) -> tuple[list[TextColumn], tuple[str, ...]]:
    """What to dial where the meter reads otherwise, hours of the same as one; their fields."""
    pieces = answer_rows(machine)
    readings = sorted({a.reads_wb for piece in pieces for a in middle_dial(piece).answers})
    rows: list[_AnswerRow] = []
    for piece in pieces:
        found = {answer.reads_wb: answer for answer in middle_dial(piece).answers}
        cells = [answer_cell(found[r], voice) if r in found else "" for r in readings]
        last = rows[-1] if rows else None
        if last is not None and last[:2] == (piece.field, cells):
            rows[-1] = (last[0], last[1], last[2], piece.end)
        else:
            rows.append((str(piece.field), cells, piece.start, piece.end))
    spans = tuple(voice.span(start, end) for *_, start, end in rows)
    columns = [TextColumn((voice.say("answer_column"),), spans, is_text=True)]
    for number, reads in enumerate(readings):
        cells_of = tuple(cells[number] for _, cells, *_ in rows)
        columns.append(TextColumn((f"{reads:.0f} %",), cells_of))
    return columns, tuple(name for name, *_ in rows)


def answer_lines(machine: MachineSheet, voice: Voice, width: int, prose: int) -> list[str]:
    """The table of what to dial where the meter reads otherwise; nothing without a rig."""
    if not answer_rows(machine):
        return []
    made, fields = answer_columns(machine, voice)
    columns, gap = fitting(made, width)
    lines = heading_lines(columns, gap)
    for before, field, line in zip(("", *fields), fields, cell_lines(columns, gap), strict=False):
        lines += [f"{field}:", line] if field != before else [line]
    said = voice.say("sheet_answers", **answer_units(voice))
    return ["", *wrapped(said, prose), *(line.rstrip() for line in lines)]


def answer_units(voice: Voice) -> dict[str, str]:
    """Units of rate and speed."""
    return {
        "rate": symbol_of("water_rate", voice.units),
        "speed": symbol_of("ground_speed", voice.units),
    }


def _reasons(machine: MachineSheet, voice: Voice, width: int) -> list[str]:
    """Why each run of pieces has its call, and its cautions."""
    lines = []
    for run in work_runs(machine.pieces):
        why = "; ".join(phrases(merge(run_remarks(run)), voice))
        span = voice.span(run[0].start, run[-1].end)
        said = f"{span}, {run[0].field}, {voice.call(run[0].call)}: {why}"
        lines += wrapped(said, width, f"{EDGES[run[0].call]} ", "   ")
    return lines


def run_remarks(run: Sequence[Piece]) -> list[Remark]:
    """Reasons and cautions of a run of pieces."""
    return [
        *(remark for piece in run for remark in piece.reasons),
        *(remark for piece in run for remark in piece.cautions),
    ]


def work_runs(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """Pieces of one field, call and kinds of reasons that follow one another."""
    runs: list[list[Piece]] = []
    for piece in pieces:
        if runs and _kinds(runs[-1][-1]) == _kinds(piece):
            runs[-1].append(piece)
        else:
            runs.append([piece])
    return runs


def _kinds(piece: Piece) -> tuple[str, ...]:
    """What tells a run of pieces from the next: field, call and kinds of reasons."""
    reasons = sorted({remark.key for remark in piece.reasons})
    return (str(piece.field), piece.call.word, *reasons)


def _section(heading: str, remarks: Sequence[Remark], voice: Voice, width: int) -> list[str]:
    """A heading and its sentences; nothing where there is none."""
    if not remarks:
        return []
    return [
        "",
        *wrapped(voice.say(heading), width),
        *bulleted_sentences(phrases(remarks, voice), width),
    ]
