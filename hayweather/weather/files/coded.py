"""Columns whose meaning and unit a layout's own document tells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from hayweather.weather.files.cells import Cells
from hayweather.weather.files.columns import known_unit, timing_of
from hayweather.weather.files.file_units import QUANTITY_OF, FileUnit, file_unit
from hayweather.weather.files.numbers import MISSING_WORDS, numbers
from hayweather.weather.files.options import HourConvention, Origin, ReadOptions, Timing
from hayweather.weather.files.table import FileColumn
from hayweather.weather.files.text import FileText
from hayweather.weather.record import Floats


@dataclass(frozen=True)
class Code:
    """What a layout's document says of one column.

    Attributes
    ----------
    served_as, unit
        Column of the record and unit in the file.
    factor
        What the printed number is multiplied with first (0.1 for tenths).
    missing
        Numbers that stand for "missing".
    words
        Texts that do, lower case.
    timing
        None: as the column of the record usually is.
    """

    served_as: str
    unit: str
    factor: float = 1.0
    missing: tuple[float, ...] = ()
    words: frozenset[str] = field(default=MISSING_WORDS)
    timing: Timing | None = None
    shift_s: int = 0
    period_s: int | None = None


def coded_column(file: FileText, cells: Cells, index: int, name: str, code: Code) -> FileColumn:
    """Read one column as its layout's document says.

    Raises
    ------
    WeatherFileError
        If a cell is no number.
    """
    values = numbers(
        file, cells.lines, cells.columns[index], name,
        missing_words=code.words, missing_values=code.missing,
    )  # fmt: skip
    return column_of(name, code, values)


def column_of(name: str, code: Code, values: Floats) -> FileColumn:
    """Numbers of the file, already without missing codes, as a column."""
    unit = unit_of(code)
    inside = unit.inside(values * code.factor if code.factor != 1.0 else values)
    timing = code.timing or timing_of(code.served_as)
    return FileColumn(code.served_as, name, unit, inside, timing, code.shift_s, code.period_s)


def unit_of(code: Code) -> FileUnit:
    """The unit that a layout's document names.

    Raises
    ------
    ValueError
        If the table of the layout names no known unit: a mistake in the table.
    """
    unit = file_unit(QUANTITY_OF[code.served_as], code.unit)
    if unit is None:
        raise ValueError(f"unknown unit {code.unit!r} for {code.served_as}")
    return unit


def with_unit(file: FileText, name: str, code: Code, text: str, line: int | None = None) -> Code:
    """The code in the unit that the file itself names for its column `name`.

    Raises
    ------
    WeatherFileError
        If that is no unit of its quantity; at `line` where one is given.
    """
    known_unit(file, name, QUANTITY_OF[code.served_as], text, line)
    return replace(code, unit=text)


def hour_of(options: ReadOptions, layout: HourConvention) -> tuple[HourConvention, Origin]:
    """The hour convention of a layout, unless an option says otherwise."""
    return (layout, "layout") if options.hour is None else (options.hour, "option")


def indexes_of(names: Sequence[str], codes: Mapping[str, Code]) -> dict[int, Code]:
    """Where the coded names stand in a header row; the first of each kind serves."""
    found: dict[int, Code] = {}
    served: set[str] = set()
    places = {name.strip().casefold(): i for i, name in reversed(list(enumerate(names)))}
    for name, code in codes.items():
        if name in places and code.served_as not in served:
            found[places[name]] = code
            served.add(code.served_as)
    return found


def others(names: Sequence[str], used: Sequence[int]) -> tuple[str, ...]:
    """Names of the columns that do not serve."""
    return tuple(name.strip() for i, name in enumerate(names) if i not in used and name.strip())
