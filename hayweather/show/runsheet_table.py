"""The table of a run sheet: pieces of work and fills in order of time, totals below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call
from hayweather.plan.sheet_record import FieldSheet, Fill, SheetWindow, Totals
from hayweather.show.columns import UNKNOWN, Column, evened, fitting, unit_lines
from hayweather.show.hours_table import EDGES
from hayweather.show.layout import wrapped
from hayweather.show.table_lines import cell_lines, heading_lines, under_days
from hayweather.show.voice import Voice
from hayweather.units import symbol_of

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
