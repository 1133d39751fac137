"""A run sheet as text for a terminal: first lines, table, rates, signs, relief, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call
from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, Fill, RateStep, RunSheet, SheetWindow, Totals
from hayweather.show.layout import (
    UNKNOWN,
    WIDEST_PROSE,
    Column,
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
from hayweather.show.outlook_words import farm_voice, field_title, field_voice
from hayweather.show.voice import Voice, merge, phrases, safety_texts
from hayweather.show.weather_facts import weather_lines, weather_summary
from hayweather.units import symbol_of
from hayweather.words import Remark


@dataclass(frozen=True)
class WorkSpan:
    """Work of one call without a pause other than to fill; UTC."""

    call: Call
    start: np.datetime64
    end: np.datetime64
    pieces: tuple[SheetWindow, ...]

    @property
    def steps(self) -> tuple[RateStep, ...]:
        """Rates to dial."""
        return tuple(step for piece in self.pieces for step in piece.rate_steps)


def work_spans(field: FieldSheet) -> list[WorkSpan]:
    """The work of a field, pieces of an hour put together; a fill between them is no pause."""
    spans: list[WorkSpan] = []
    for piece in field.windows:
        last = spans[-1] if spans else None
        if last is not None and last.call == piece.call and _follows(field, last.end, piece.start):
            spans[-1] = WorkSpan(last.call, last.start, piece.end, (*last.pieces, piece))
        else:
            spans.append(WorkSpan(piece.call, piece.start, piece.end, (piece,)))
    return spans


def _follows(field: FieldSheet, end: np.datetime64, start: np.datetime64) -> bool:
    """Whether nothing but a fill lies between an end and the next start."""
    return bool(start <= end) or any(
        fill.start <= end and fill.end >= start for fill in field.fills if fill.baler_waits
    )


def sheet_sentences(field: FieldSheet, voice: Voice) -> list[str]:
    """What the operator must know first, most important first."""
    if not field.windows:
        empty = not field.outlook.windows
        return [voice.say("sheet_none" if empty else "sheet_none_left")]
    return [
        _work(field, voice),
        *_turns(field, voice),
        *amounts_sentence(field, voice),
        *_done(field, voice),
        *rate_sentences(field, voice),
        *fill_sentences(field, voice),
    ]


def _work(field: FieldSheet, voice: Voice) -> str:
    """When work starts and ends, on dew and with the rig."""
    totals = field.totals
    key = "sheet_work" if totals.rig_hours else "sheet_work_dew"
    if not totals.dew_hours:
        key = "sheet_work_rig"
    return voice.say(
        key,
        start=voice.when(field.windows[0].start),
        end=voice.when(field.windows[-1].end, is_end=True),
        hours=voice.duration(totals.hours),
        dew=voice.duration(totals.dew_hours),
        rig=voice.duration(totals.rig_hours),
    )


def _turns(field: FieldSheet, voice: Voice) -> list[str]:
    """When the rig goes on and off; nothing where the first and last time say it all."""
    spans = work_spans(field)
    if len(spans) < 2:
        return []
    rig, dew = (
        voice.listed([_from_to(each, voice) for each in spans if each.call == call])
        for call in (Call.ADD_MOISTURE, Call.NATURAL_DEW)
    )
    if rig and dew:
        return [voice.say("sheet_turns", rig=rig, dew=dew)]
    return [voice.say("sheet_turns_more", spans=rig or dew)]


def _from_to(span: WorkSpan, voice: Voice) -> str:
    end = voice.when(span.end, is_end=True)
    return voice.say("span_from_to", start=voice.when(span.start), end=end)


def amounts_sentence(field: FieldSheet, voice: Voice) -> list[str]:
    """Tons, acres, bales, water and fuel of all of it; nothing where nothing is known."""
    totals, parts = field.totals, []
    if totals.mass_kg is not None:
        parts.append(voice.counted(totals.mass_kg, "tons"))
    if totals.area_m2 is not None:
        parts.append(voice.counted(totals.area_m2, "area"))
    if totals.bales is not None:
        parts.append(voice.say("sheet_bales", number=f"{totals.bales:.0f}"))
    if totals.water_l and totals.loads is not None:
        water = voice.amount(totals.water_l, "volume")
        parts.append(voice.say("sheet_water", water=water, loads=f"{totals.loads:.1f}"))
    if totals.burner_fuel_l:
        fuel = voice.amount(totals.burner_fuel_l, "volume", extra=1)
        parts.append(voice.say("sheet_fuel", fuel=fuel))
    return [voice.say("sheet_amounts", amounts=voice.listed(parts))] if parts else []


def _done(field: FieldSheet, voice: Voice) -> list[str]:
    """When the field is done."""
    if field.area_done_at is None:
        return []
    return [voice.say("sheet_done", time=voice.when(field.area_done_at, is_end=True))]


def rate_sentences(field: FieldSheet, voice: Voice) -> list[str]:
    """The first rate, flow and speed, and how the rate follows the hay; nothing without a rig."""
    first = next((w for w in field.windows if w.call == Call.ADD_MOISTURE), None)
    change, rig = field.water_per_point_l_t, field.outlook.setting.rig
    if first is None or change is None or rig is None:
        return []
    step = first.rate_steps[0]
    rate = voice.amount(step.water_l_t, "water_rate")
    if step.flow_l_min is None or step.speed_m_s is None:
        begin = voice.say("sheet_rate_first_plain", rate=rate)
    else:
        flow = voice.amount(step.flow_l_min, "flow")
        speed = voice.amount(step.speed_m_s, "ground_speed")
        begin = voice.say("sheet_rate_first", rate=rate, flow=flow, speed=speed)
    point = voice.say(
        "sheet_rate_point",
        change=voice.amount(change, "water_rate"),
        most=voice.amount(rig.rate_max_l_t, "water_rate"),
        least=voice.amount(rig.rate_min_l_t, "water_rate"),
    )
    return [begin, point]


def fill_sentences(field: FieldSheet, voice: Voice) -> list[str]:
    """When to fill and for how long."""
    if field.fills:
        return [fill_text(fill, voice) for fill in field.fills]
    return [voice.say("sheet_no_fill")] if field.totals.water_l else []


def fill_text(fill: Fill, voice: Voice) -> str:
    """One fill in words."""
    key = "sheet_fill" if fill.baler_waits else "sheet_fill_idle"
    minutes = voice.amount(fill.minutes, "minutes")
    return voice.say(key, time=voice.when(fill.start), minutes=minutes)


FILL_EDGE = "=="
Row = SheetWindow | Totals


@dataclass(frozen=True)
class _Number:
    """A column: heading, quantity, attribute of a row, extra decimals, order of dropping."""

    name: str
    quantity: str
    attribute: str
    extra: int = 0
    drop: int = 0
    for_rig: bool = False


_NUMBERS = (
    _Number("column_windrow", "percent", "windrow_wb", 0, 6),
    _Number("column_after", "percent", "after_wb", 0, 3, for_rig=True),
    _Number("sheet_column_rate", "water_rate", "water_l_t", for_rig=True),
    _Number("sheet_column_flow", "flow", "flow_l_min", for_rig=True),
    _Number("sheet_column_speed", "ground_speed", "speed_m_s"),
    _Number("sheet_column_mass", "tons", "mass_kg", 1),
    _Number("sheet_column_area", "area", "area_m2", 1),
    _Number("sheet_column_bales", "", "bales", 0, 4),
    _Number("sheet_column_water", "volume", "water_l", for_rig=True),
    _Number("sheet_column_loads", "", "loads", 2, 2, for_rig=True),
    _Number("sheet_column_fuel", "volume", "burner_fuel_l", 1, 5, for_rig=True),
)


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


def sheet_columns(field: FieldSheet, voice: Voice) -> list[Column]:
    """All columns that have something to show."""
    windows = field.windows
    ends = (
        ("from", [w.start for w in windows], ""),
        ("to", [w.end for w in windows], voice.say("sheet_total")),
    )
    columns = [
        Column(
            (voice.say(f"sheet_column_{name}"),),
            (*(voice.clock(time, words=False) for time in times), last),
        )
        for name, times, last in ends
    ]
    words = [voice.call(window.call) for window in windows]
    columns.append(Column((voice.say("column_call"),), (*words, ""), 1, is_text=True))
    rig = any(window.call == Call.ADD_MOISTURE for window in windows)
    shown = [item for item in _NUMBERS if rig or not item.for_rig]
    columns += [_number_column(item, field, voice) for item in shown]
    return evened([column for column in columns if any(column.cells)])


def _number_column(item: _Number, field: FieldSheet, voice: Voice) -> Column:
    """One column of numbers, blank where it does not apply, marked where not known."""
    rows: list[Row] = [*field.windows, field.totals]
    cells = tuple(_cell(item, row, voice) for row in rows)
    if not set(cells) - {"", UNKNOWN, "0", "0.0"}:
        cells = ("",) * len(rows)
    words = voice.say(item.name).split()
    unit = unit_lines(symbol_of(item.quantity, voice.units)) if item.quantity else ("",)
    return Column((*words, *unit), cells, item.drop)


def _cell(item: _Number, row: Row, voice: Voice) -> str:
    """One number."""
    if not hasattr(row, item.attribute):
        return ""
    value: float | None = getattr(row, item.attribute)
    dew = isinstance(row, SheetWindow) and row.call == Call.NATURAL_DEW
    if item.for_rig and dew:
        return ""
    if value is None:
        return UNKNOWN
    if not item.quantity:
        return f"{value:.{item.extra}f}"
    extra = item.extra if voice.units == "us" or item.quantity != "area" else 0
    return voice.number(value, item.quantity, extra=extra)


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
