"""From cells to columns in inside units: by what a header says, or by a layout's document."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from hayweather.errors import OptionError, WeatherFileError
from hayweather.weather.files.cells import MISSING_WORDS, Cells, numbers
from hayweather.weather.files.headers import (
    NO_UNIT,
    OTHER_QUANTITY,
    QUANTITY_OF,
    FileUnit,
    Header,
    accepted,
    file_unit,
    words_of,
)
from hayweather.weather.files.table import (
    FileColumn,
    HourConvention,
    Layout,
    Origin,
    ReadOptions,
    Timing,
)
from hayweather.weather.files.text import FileText
from hayweather.weather.record import COLUMN_KINDS, Assumption, Floats

ASSUMED_WIND_M = 2.0
"""Height of the wind where nobody says it (assumed, and said so)."""
USUAL_AIR_M, USUAL_WIND_M = 2.0, 10.0
"""Standard heights of air and wind (WMO-No. 8: 1.25 to 2 m, and 10 m)."""
_PERIOD_COLUMNS = ("wind_gust_m_s", "rain_chance_percent", "thunder_chance_percent")


def choose_columns(
    cells: Sequence[str],
    headers: Sequence[Header | None],
    wanted_m: float | None = None,
    unnamed_m: float | None = None,
) -> tuple[dict[int, Header], tuple[str, ...]]:
    """The columns that serve, and the names of the others.

    Of several of one kind that at the height nearest 2 m serves (10 m for wind, or
    the height asked for), then one with a unit, then the first.

    Parameters
    ----------
    cells, headers
        Names of the columns, and what each says; None for the time.
    wanted_m
        Height of the wind asked for.
    unnamed_m
        Height of a wind column that names none; None: the one asked for, else assumed.
    """
    unnamed = wanted_m or unnamed_m or ASSUMED_WIND_M
    best: dict[str, tuple[tuple[float, bool, int], int]] = {}
    for index, header in enumerate(headers):
        if header is None or header.served_as is None:
            continue
        rank = (_height_off(header, wanted_m or USUAL_WIND_M, unnamed), header.unit is None, index)
        if header.served_as not in best or rank < best[header.served_as][0]:
            best[header.served_as] = (rank, index)
    places = sorted(index for _, index in best.values())
    chosen = {index: h for index in places if (h := headers[index]) is not None}
    unused = [
        cell
        for index, cell in enumerate(cells)
        if cell and index not in chosen and headers[index] is not None
    ]
    return chosen, tuple(unused)


def _height_off(header: Header, wind_m: float, unnamed_m: float) -> float:
    """How far a column's height lies from the usual one, as a ratio; 0 where it is."""
    wind = header.served_as in ("wind_speed_m_s", "wind_gust_m_s")
    usual, unnamed = (wind_m, unnamed_m) if wind else (USUAL_AIR_M, USUAL_AIR_M)
    height = unnamed if header.height_m is None else header.height_m
    return abs(math.log(max(height, 0.01) / usual))


_TELLING = (
    "rain", "precip", "humid", "dew", "temp", "wind", "sun", "solar", "radiation", "cloud",
    "lluvia", "humedad", "rocio", "viento", "radiacion", "nub",
)  # fmt: skip
_NOT_TELLING = ("sunrise", "sunset", "window", "humidex", "template")


def unread(cells: Sequence[str], headers: Sequence[Header | None]) -> tuple[Assumption, ...]:
    """Columns that nobody could name although they hold a known word, said once."""
    names = [
        cell.strip()[:40]
        for cell, header in zip(cells, headers, strict=True)
        if header is not None and header.served_as is None and _tells(cell)
    ]
    if not names:
        return ()
    more = f" (+{len(names) - 5})" if len(names) > 5 else ""
    return (Assumption("columns_unread", {"columns": ", ".join(names[:5]) + more}),)


def _tells(name: str) -> bool:
    """Whether a name holds one of the known words, and none that makes it another quantity."""
    words = words_of(name)
    return not OTHER_QUANTITY & set(words) and any(
        word.startswith(_TELLING) and not word.startswith(_NOT_TELLING) for word in words
    )


def timing_of(served_as: str, *, mean: bool = False) -> Timing:
    """What the values of a column are in a file that does not say more."""
    if served_as in _PERIOD_COLUMNS:
        return "period"
    kind = COLUMN_KINDS.get(served_as, "instant")
    return "mean" if mean and kind == "instant" else kind


def read_column(
    file: FileText,
    cells: Cells,
    index: int,
    header: Header,
    options: ReadOptions,
    *,
    unit_row: str = "",
    decimal: str = ".",
    missing: tuple[float, ...] = (),
) -> FileColumn:
    """One column in inside units.

    Raises
    ------
    WeatherFileError
        If a cell is no number, or its unit is not named or not known.
    """
    served_as = header.served_as or ""
    values = numbers(
        file, cells.lines, cells[index], header.text, decimal=decimal,
        missing_values=missing, collected=True,
    )  # fmt: skip
    unit = resolve_unit(file, header, options, unit_row, values)
    inside = unit.inside(values)
    return FileColumn(served_as, header.text, unit, inside, timing_of(served_as, mean=header.mean))


def resolve_unit(
    file: FileText, header: Header, options: ReadOptions, unit_row: str, values: Floats
) -> FileUnit:
    """The unit of a column: header, unit row and option must not contradict.

    Raises
    ------
    WeatherFileError
        If none names it, one is not known, or two differ.
    """
    served_as = header.served_as or ""
    quantity = QUANTITY_OF[served_as]
    if quantity == "none":
        return NO_UNIT
    texts = [header.unit_text, unit_row, _option_for(header, options.units)]
    units = [header.unit] if header.unit else []
    units += [known_unit(file, header.text, quantity, text) for text in texts if text]
    if not units and quantity in options.usual_units:
        return known_unit(file, header.text, quantity, options.usual_units[quantity])
    if not units:
        return _without_unit(file, header, quantity, values)
    if len({(unit.factor, unit.offset, unit.over_period) for unit in units}) > 1:
        named = ", ".join(dict.fromkeys(unit.symbol for unit in units))
        raise file.error("weather_unit_twice", column=header.text, units=named)
    return units[0]


def known_unit(
    file: FileText, column: str, quantity: str, text: str, line: int | None = None
) -> FileUnit:
    """The unit of `quantity` that a file spells `text` for a column.

    Raises
    ------
    WeatherFileError
        If there is no such unit; at `line` where one is given.
    """
    unit = file_unit(quantity, text)
    if unit is None:
        raise file.error(
            "weather_unit_unknown", line, column=column, value=text[:40], units=accepted(quantity)
        )
    return unit


def _without_unit(file: FileText, header: Header, quantity: str, values: Floats) -> FileUnit:
    """A unit that the values prove, else the error that shows their range.

    Only percent can be proved: a share of one cannot pass 1.
    """
    known = values[~np.isnan(values)]
    if quantity == "percent" and known.size and known.max() > 1.5:
        return FileUnit("%")
    raise unit_missing(file, header.text, quantity, known)


def unit_missing(file: FileText, column: str, quantity: str, known: Floats) -> WeatherFileError:
    """The error that a column names no unit, with the range of its values."""
    low, high = (f"{known.min():g}", f"{known.max():g}") if known.size else ("-", "-")
    units = accepted(quantity)
    return file.error(
        "weather_unit_missing", column=column, low=low, high=high, units=units,
        example=units.split(", ")[0],
    )  # fmt: skip


def _option_for(header: Header, options: Mapping[str, str]) -> str:
    wanted = header.text.strip().casefold()
    return next((unit for name, unit in options.items() if name.strip().casefold() == wanted), "")


def check_unit_options(names: Sequence[str], options: Mapping[str, str]) -> None:
    """Refuse a unit given for a column that the file does not have.

    Raises
    ------
    OptionError
        If there is no such column.
    """
    known = {name.strip().casefold() for name in names}
    for name in options:
        if name.strip().casefold() not in known:
            raise OptionError(
                "weather_unit_option", "units", column=name, found=", ".join(names)[:200]
            )


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
        file, cells.lines, cells[index], name,
        missing_words=code.words, missing_values=code.missing, collected=True,
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


def hour_of(options: ReadOptions, layout: Layout) -> tuple[HourConvention, Origin]:
    """The hour convention of a layout that has one, unless an option says otherwise."""
    if options.hour is not None:
        return options.hour, "option"
    assert layout.hour is not None
    return layout.hour, "layout"


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
