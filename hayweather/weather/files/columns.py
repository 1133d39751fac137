"""From header and cells to columns: which serve, in which unit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from hayweather.errors import OptionError, WeatherFileError
from hayweather.weather.files.cells import Cells
from hayweather.weather.files.file_units import (
    NO_UNIT,
    QUANTITY_OF,
    FileUnit,
    accepted,
    file_unit,
)
from hayweather.weather.files.headers import Header
from hayweather.weather.files.numbers import numbers
from hayweather.weather.files.options import ReadOptions, Timing
from hayweather.weather.files.table import FileColumn
from hayweather.weather.files.text import FileText
from hayweather.weather.record import COLUMN_KINDS, Floats

_PERIOD_COLUMNS = ("wind_gust_m_s", "rain_chance_percent", "thunder_chance_percent")


def choose_columns(
    cells: Sequence[str], headers: Sequence[Header | None]
) -> tuple[dict[int, Header], tuple[str, ...]]:
    """The columns that serve, the first of each kind, and the names of the others.

    A column under its own name or with a unit goes before one without.
    """
    best: dict[str, int] = {}
    for index, header in enumerate(headers):
        if header is None or header.served_as is None:
            continue
        rival = best.get(header.served_as)
        if rival is None or (header.unit is not None and _unit_of(headers[rival]) is None):
            best[header.served_as] = index
    chosen = {index: h for index in sorted(best.values()) if (h := headers[index]) is not None}
    unused = [
        cell
        for index, cell in enumerate(cells)
        if cell and index not in chosen and headers[index] is not None
    ]
    return chosen, tuple(unused)


def _unit_of(header: Header | None) -> FileUnit | None:
    return None if header is None else header.unit


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
        file, cells.lines, cells.columns[index], header.text, decimal=decimal,
        missing_values=missing,
    )  # fmt: skip
    unit = resolve_unit(file, header, options.units, unit_row, values)
    inside = unit.inside(values)
    return FileColumn(served_as, header.text, unit, inside, timing_of(served_as, mean=header.mean))


def resolve_unit(
    file: FileText, header: Header, options: Mapping[str, str], unit_row: str, values: Floats
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
    texts = [header.unit_text, unit_row, _option_for(header, options)]
    units = [header.unit] if header.unit else []
    units += [known_unit(file, header.text, quantity, text) for text in texts if text]
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
