"""Columns of the table of hours: what they show, and what goes first where it is narrow."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from hayweather.baling.hours import HourCall
from hayweather.show.voice import Voice
from hayweather.units import symbol_of

UNKNOWN = "?"
WIDEST_UNIT = 5


@dataclass(frozen=True)
class Column:
    """One column, ready to print.

    Attributes
    ----------
    heading
        Lines above it; the last is the unit.
    cells
        One a row.
    drop
        Order in which columns go where there is no room; 0 stays.
    is_text
        True for left-aligned columns.
    """

    heading: tuple[str, ...]
    cells: tuple[str, ...]
    drop: int = 0
    is_text: bool = False

    @cached_property
    def width(self) -> int:
        """Characters it takes."""
        return max(len(text) for text in (*self.heading, *self.cells))


@dataclass(frozen=True)
class _Number:
    """A column of numbers: heading, quantity, value, order of dropping, blank and dull cells."""

    name: str
    quantity: str
    value: Callable[[HourCall], float]
    drop: int = 0
    blank: str = UNKNOWN
    dull: str = ""


def _chance(hour: HourCall) -> float:
    """Chance of the call shown [%]; NaN without forecast runs."""
    return math.nan if hour.chance is None else 100 * hour.chance[hour.call]


_NUMBERS = (
    _Number("agree", "chance", _chance, 7, ""),
    _Number("windrow", "percent", lambda hour: hour.hay.windrow_wb),
    _Number("leaf", "percent", lambda hour: hour.hay.leaf_wb),
    _Number("stem", "percent", lambda hour: hour.hay.stem_wb, 1),
    _Number("free_water", "film", lambda hour: hour.hay.free_water_mm, 3, dull="0"),
    _Number("water", "water_rate", lambda hour: hour.water_l_t, 0, ""),
    _Number("after", "percent", lambda hour: hour.after_wb, 6, ""),
    _Number("air", "temperature", lambda hour: hour.air.temperature_c),
    _Number("dew_point", "temperature", lambda hour: hour.air.dew_point_c, 8),
    _Number("skin", "temperature", lambda hour: hour.hay.skin_temperature_c, 2),
    _Number("humidity", "chance", lambda hour: hour.air.relative_humidity, 5),
    _Number("wind", "wind_speed", lambda hour: hour.air.wind_2m_m_s, 9),
    _Number("rain", "rain", lambda hour: hour.air.rain_mm, 10),
)


def columns_of(hours: Sequence[HourCall], marks: Sequence[str], voice: Voice) -> list[Column]:
    """All columns that have something to show, in reading order."""
    times = tuple(voice.clock(hour.start, words=False) for hour in hours)
    found = [
        Column((voice.say("column_time"),), times),
        Column((voice.say("column_call"),), call_words(hours, voice), is_text=True),
    ]
    numbers = [_number_column(number, hours, voice) for number in _NUMBERS]
    found += [
        column
        for column, number in zip(numbers, _NUMBERS, strict=True)
        if set(column.cells) - {"", number.dull}
    ]
    if any(marks):
        found.append(Column(("",), tuple(marks), is_text=True))
    return evened(found)


def call_words(hours: Sequence[HourCall], voice: Voice) -> tuple[str, ...]:
    """The word of each hour's call, "humid air" beside it where it applies."""
    return tuple(
        f"{voice.call(hour.call)}, {voice.say('call_humid_air')}"
        if hour.humid_air
        else voice.call(hour.call)
        for hour in hours
    )


def _number_column(number: _Number, hours: Sequence[HourCall], voice: Voice) -> Column:
    """A column of numbers, unknown ones marked."""
    values = [number.value(hour) for hour in hours]
    cells = tuple(
        number.blank if math.isnan(value) else _shown(value, number.quantity, voice)
        for value in values
    )
    unit = "%" if number.quantity == "chance" else symbol_of(number.quantity, voice.units)
    words = voice.say(f"column_{number.name}").split()
    return Column((*words, *unit_lines(unit)), cells, number.drop)


def unit_lines(unit: str) -> tuple[str, ...]:
    """A unit in as many lines as keep its column narrow."""
    top, slash, bottom = unit.partition("/")
    return (f"{top}{slash}", bottom) if len(unit) > WIDEST_UNIT and slash else (unit,)


def evened(columns: Sequence[Column], *, below: bool = False) -> list[Column]:
    """The columns with headings of one depth, blank lines above them, or `below`."""
    depth = max(len(column.heading) for column in columns)
    return [_evened(column, ("",) * (depth - len(column.heading)), below) for column in columns]


def _evened(column: Column, blank: tuple[str, ...], below: bool) -> Column:
    """A column with more lines in its heading."""
    heading = (*column.heading, *blank) if below else (*blank, *column.heading)
    return replace(column, heading=heading)


def columns_under(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> list[Column]:
    """Columns of some rows: texts first, then numbers; a stroke parts the lines of a heading."""
    cells = zip(headings, zip(*rows, strict=True), strict=True)
    return evened(
        [
            Column(tuple(heading.split("/")), tuple(column), is_text=number == 0)
            for number, (heading, column) in enumerate(cells)
        ]
    )


def _shown(value: float, quantity: str, voice: Voice) -> str:
    """A number without its unit; chances and humidity in whole percent."""
    if quantity == "chance":
        return f"{value:.0f}"
    return "0" if value == 0 and quantity in ("rain", "film") else voice.number(value, quantity)


def fitting(columns: Sequence[Column], width: int) -> tuple[list[Column], int]:
    """The columns that fit into `width`, and the gap between them.

    Columns go in the order of `Column.drop`; what may not go stays even where
    there is too little room.
    """
    kept = list(columns)
    while _total(kept, 1) > width:
        candidates = [column for column in kept if column.drop]
        if not candidates:
            break
        kept.remove(min(candidates, key=lambda column: column.drop))
    return kept, 2 if _total(kept, 2) <= width else 1


def _total(columns: Sequence[Column], gap: int) -> int:
    """Characters of a row."""
    return sum(column.width for column in columns) + gap * (len(columns) - 1)
