"""Column maps: which column of any table is what, told by data, not by code.

A map is a TOML table ``[columns]``: in the farm or sites file, or in a file of
its own. Maps of public layouts stand in ``weather/maps/*.toml`` with the document that
they follow; a file that has the columns named by `detect` is read by them.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from hayweather.errors import FarmFileError
from hayweather.units import parse
from hayweather.weather import air
from hayweather.weather.files.cells import DELIMITERS, Cells, read_cells, split
from hayweather.weather.files.columns import read_column, unread
from hayweather.weather.files.headers import FileUnit, Header, file_unit
from hayweather.weather.files.own import read_notes
from hayweather.weather.files.plain import Found, table_of, unit_row
from hayweather.weather.files.table import (
    FileColumn,
    FileTable,
    HourConvention,
    Layout,
    ReadOptions,
    Shape,
)
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import TimeColumns, find_zone
from hayweather.weather.record import Assumption

QUANTITIES: dict[str, str] = {
    "air_temperature": "air_temperature_c",
    "dew_point": "dew_point_c",
    "relative_humidity": "relative_humidity_percent",
    "vapor_pressure": "vapor_pressure_kpa",
    "vapor_pressure_deficit": "vapor_pressure_deficit_kpa",
    "wind_speed": "wind_speed_m_s",
    "wind_gust": "wind_gust_m_s",
    "cloud": "cloud_fraction",
    "pressure": "pressure_kpa",
    "sea_level_pressure": "sea_level_pressure_kpa",
    "altimeter": "altimeter_kpa",
    "shortwave": "shortwave_w_m2",
    "rain": "rain_mm",
}
"""Quantity of a map, and the column of the record that it serves."""
_VAPOR = ("vapor_pressure_kpa", "vapor_pressure_deficit_kpa")
_OTHERS = frozenset({"time", "time_format", "clock", "hour", "missing", "mean", "detect",
                     "day_first", "source", "name", "wind_height"})  # fmt: skip
KEYS = frozenset(QUANTITIES) | _OTHERS
"""All keys of a map."""
_PARTS = ("year", "month", "day", "hour", "minute")
_UNIT = re.compile(r"^(.*\S)\s*\[([^\[\]]*)\]\s*$")
WITHIN_LINES = 200
"""Lines in which the row of names is looked for (assumed)."""


@dataclass(frozen=True)
class Mapped:
    """One quantity: the names it may have, the first in the file serves; `missing` codes."""

    names: tuple[str, ...]
    unit: str = ""
    height_m: float | None = None
    missing: tuple[float, ...] = ()


@dataclass(frozen=True)
class ColumnMap:
    """Which column is what.

    Attributes
    ----------
    time
        One stamp, a date and a time of day, or year, month, day, hour (minute).
    columns
        ``{column of the record: choices}``; of several with their own unit the
        first that the file has serves.
    time_format
        As `datetime.strptime` has it; empty for the usual forms.
    clock, hour, wind_height_m
        Zone or offset of the stamps, where sums and means lie around them,
        height of the wind; None where the file or the user says it.
    missing
        Numbers that stand for "missing" in every column.
    mean
        True where instants are means over the row's period.
    day_first
        Order of day and month in dates; None where the column itself shows it.
    detect
        Columns by which a file is known to be of this layout.
    name, source
        Of the map, and the document that it follows.
    """

    time: tuple[str, ...]
    columns: Mapping[str, tuple[Mapped, ...]]
    time_format: str = ""
    clock: str | None = None
    hour: HourConvention | None = None
    wind_height_m: float | None = None
    missing: tuple[float, ...] = ()
    mean: bool = False
    day_first: bool | None = None
    detect: tuple[str, ...] = ()
    name: str = "[columns]"
    source: str = ""


def map_of(given: object, where: str) -> ColumnMap:
    """The map that a table, the name of a shipped map or the path of a file means.

    Parameters
    ----------
    given
        What stands in the farm or sites file, or behind an option.
    where
        Of it, for errors.

    Raises
    ------
    FarmFileError
        One line: which key, which value, what is allowed.
    """
    if isinstance(given, Mapping):
        return _Reading(where).map(given)
    text = str(given)
    if not text.endswith(".toml"):
        known = shipped()
        if text not in known:
            raise FarmFileError("map_unknown", where, value=text[:60], known=", ".join(known))
        return known[text]
    try:
        with Path(text).open("rb") as file:
            document = tomllib.load(file)
    except (OSError, ValueError, RecursionError) as problem:
        reason = getattr(problem, "strerror", None) or str(problem)
        raise FarmFileError("map_unread", text, reason=reason[:120]) from None
    table = document.get("columns")
    if not isinstance(table, dict):
        raise FarmFileError("map_no_table", text)
    return replace(_Reading(f"{Path(text).name}: [columns]").map(table), name=Path(text).name)


@cache
def shipped() -> dict[str, ColumnMap]:
    """The maps of public layouts, by name."""
    folder = Path(__file__).parents[1] / "maps"
    return {path.stem: map_of(str(path), path.name) for path in sorted(folder.glob("*.toml"))}


@dataclass(frozen=True)
class _Reading:
    """A ``[columns]`` table while it is read."""

    where: str

    def wrong(self, key: str, value: object) -> FarmFileError:
        known = ", ".join([*QUANTITIES, *sorted(_OTHERS)])
        shown = " ".join(str(value).split())[:60]
        return FarmFileError("map_wrong", self.where, name=key, value=shown, known=known)

    def map(self, table: Mapping[str, Any]) -> ColumnMap:
        for key, value in table.items():
            if key not in KEYS:
                raise self.wrong(key, value)
        missing = self._numbers("missing", table.get("missing", ()))
        clock, hour = table.get("clock"), table.get("hour")
        if clock is not None and (not isinstance(clock, str) or find_zone(clock) is None):
            raise self.wrong("clock", clock)
        if hour not in (None, "start", "center", "end"):
            raise self.wrong("hour", hour)
        time = self._texts("time", table.get("time", ()))
        if not 1 <= len(time) <= len(_PARTS) or len(time) == 3:
            raise self.wrong("time", table.get("time"))
        columns = {
            QUANTITIES[key]: tuple(self._choices(key, value, missing))
            for key, value in table.items()
            if key in QUANTITIES
        }
        if not columns:
            raise self.wrong("air_temperature", "")
        height = table.get("wind_height")
        return ColumnMap(
            time,
            columns,
            time_format=str(table.get("time_format", "")),
            clock=clock,
            hour=hour,
            wind_height_m=None if height is None else self._height("wind_height", height),
            missing=missing,
            mean=table.get("mean") is True,
            day_first=table.get("day_first"),
            detect=self._texts("detect", table.get("detect", ())),
            source=str(table.get("source", "")),
        )

    def _texts(self, key: str, value: object) -> tuple[str, ...]:
        listed = [value] if isinstance(value, str) else value
        if not isinstance(listed, list | tuple) or not all(isinstance(x, str) for x in listed):
            raise self.wrong(key, value)
        return tuple(listed)

    def _numbers(self, key: str, value: object) -> tuple[float, ...]:
        listed: Any = value if isinstance(value, list | tuple) else [value]
        if not all(isinstance(x, int | float) and not isinstance(x, bool) for x in listed):
            raise self.wrong(key, value)
        return tuple(float(x) for x in listed)

    def _height(self, key: str, value: object) -> float:
        """A height with its unit; a bare number could be feet or meters."""
        if not isinstance(value, str) or not re.search(r"[A-Za-z]", value):
            raise self.wrong(key, value)
        try:
            return float(parse(value, "length", "metric"))
        except (ValueError, KeyError):
            raise self.wrong(key, value) from None

    def _choices(self, key: str, value: object, missing: tuple[float, ...]) -> Iterator[Mapped]:
        """What may serve a quantity, best first."""
        for item in value if isinstance(value, list) else [value]:
            given = {"column": item} if isinstance(item, str) else item
            if not isinstance(given, dict) or not isinstance(given.get("column"), str):
                raise self.wrong(key, item)
            if set(given) - {"column", "unit", "height", "missing"}:
                raise self.wrong(key, item)
            match = _UNIT.match(given["column"])
            name, unit = (match[1], match[2]) if match else (given["column"], "")
            if "unit" in given:
                name, unit = given["column"], str(given["unit"])
            quantity = "pressure" if QUANTITIES[key] in _VAPOR else _quantity(QUANTITIES[key])
            if unit and file_unit(quantity, unit) is None:
                raise self.wrong(key, item)
            height = self._height(key, given["height"]) if "height" in given else None
            codes = self._numbers(key, given.get("missing", ()))
            yield Mapped((name,), unit, height, (*missing, *codes))


def _quantity(served_as: str) -> str:
    from hayweather.weather.files.headers import QUANTITY_OF

    return QUANTITY_OF[served_as]


def read_mapped(file: FileText, options: ReadOptions, columns: ColumnMap) -> FileTable:
    """Read a table by a map.

    Raises
    ------
    WeatherFileError
        If a column that the map names is not there, or a cell is wrong.
    """
    found, chosen = _header(file, columns)
    notes = replace(read_notes(file), missing=())
    units, first = unit_row(file, found)
    cells = read_cells(
        file, first, found.delimiter, len(found.cells), [*found.time.indexes, *chosen],
        numeric=[*found.time.numeric, *chosen],
    )  # fmt: skip
    if columns.time_format:
        cells = _formatted(file, cells, found.time, columns.time_format)
    options = replace(
        options,
        hour=options.hour or columns.hour,
        wind_height_m=options.wind_height_m or columns.wind_height_m,
    )
    read = tuple(
        read_column(
            file, cells, index, header, options, missing=mapped.missing,
            unit_row="" if mapped.unit else units.get(index, ""),
        )
        for index, (header, mapped) in chosen.items()
    )  # fmt: skip
    shape = Shape("plain", "tab" if found.delimiter == "\t" else found.delimiter, ".", first)
    headers = {index: header for index, (header, _) in chosen.items()}
    unused = tuple(
        cell
        for index, cell in enumerate(found.cells)
        if cell and index not in chosen and index not in found.time.indexes
    )
    table = table_of(file, options, notes, found, shape, cells, _humid(read), headers, unused)
    keys = {note.key for note in unread(found.cells, found.headers)}
    told = [note for note in table.assumed if note.key not in keys]
    assumed = (*told, Assumption("columns_mapped", {"map": columns.name}))
    return replace(table, assumed=assumed)


def _header(file: FileText, columns: ColumnMap) -> tuple[Found, dict[int, tuple[Header, Mapped]]]:
    """The row that has the columns of the time, and where each quantity stands."""
    for index, line in enumerate(file.lines[:WITHIN_LINES]):
        for delimiter in DELIMITERS:
            cells = [cell.strip() for cell in split(line.lstrip("#"), delimiter)]
            places = {cell.casefold(): at for at, cell in reversed(list(enumerate(cells)))}
            if len(cells) > 1 and all(name.casefold() in places for name in columns.time):
                return _found(file, columns, index, delimiter, cells, places)
    raise file.error("map_no_header", names=", ".join(columns.time), name=columns.name)


def _found(
    file: FileText,
    columns: ColumnMap,
    index: int,
    delimiter: str,
    cells: list[str],
    places: dict[str, int],
) -> tuple[Found, dict[int, tuple[Header, Mapped]]]:
    """The header row and the columns chosen in it."""
    at = [places[name.casefold()] for name in columns.time]
    names = ("stamp",) if len(at) == 1 else ("date", "clock") if len(at) == 2 else _PARTS
    kind = {"stamp": "stamp", "date": "date_clock", "year": "parts"}[names[0]]
    time = TimeColumns(
        kind,  # type: ignore[arg-type]
        dict(zip(names, at, strict=False)),
        columns.clock or "",
        list(columns.time),
        columns.day_first,
    )
    chosen: dict[int, tuple[Header, Mapped]] = {}
    for served_as, choices in columns.columns.items():
        here = [
            (places[name.casefold()], mapped)
            for mapped in choices
            for name in mapped.names
            if name.casefold() in places
        ]
        if not here and not columns.detect:
            names_of = ", ".join(name for mapped in choices for name in mapped.names)
            there = ", ".join(cells)[:200]
            raise file.error("map_no_column", index + 1, names=names_of, found=there)
        if here:
            place, mapped = here[0]
            quantity = "pressure" if served_as in _VAPOR else _quantity(served_as)
            unit = file_unit(quantity, mapped.unit) if mapped.unit else None
            header = Header(cells[place], served_as, unit, "", mapped.height_m, columns.mean)
            chosen[place] = (header, mapped)
    headers = [None if i in at else Header(cell, None) for i, cell in enumerate(cells)]
    return Found(index, delimiter, cells, time, headers), chosen


def _formatted(file: FileText, cells: Cells, time: TimeColumns, form: str) -> Cells:
    """Stamps of a declared form as ISO 8601."""
    import pandas as pd

    columns = [pd.Series(list(cells.columns[at]), dtype=object) for at in time.indexes]
    texts = columns[0].str.strip()
    for more in columns[1:]:
        texts = texts + " " + more.str.strip()
    found = pd.to_datetime(texts, format=form, errors="coerce")
    if found.isna().any():
        row = int(found.isna().to_numpy().argmax())
        raise file.error(
            "weather_time_not_understood", int(cells.lines[row]), value=str(texts[row])[:40]
        )
    iso = found.dt.strftime("%Y-%m-%d %H:%M:%S").tolist()
    first, *others = time.indexes
    blank = dict.fromkeys(others, [""] * len(iso))
    return replace(cells, columns={**cells.columns, first: iso, **blank})


def _humid(read: tuple[FileColumn, ...]) -> tuple[FileColumn, ...]:
    """The columns with humidity worked out of vapor pressure or its deficit, where none is."""
    served = {column.served_as: column for column in read}
    kept = tuple(column for column in read if column.served_as not in _VAPOR)
    if "relative_humidity_percent" in served or "dew_point_c" in served:
        return kept
    warm = served.get("air_temperature_c")
    source = served.get(_VAPOR[0]) or served.get(_VAPOR[1])
    if source is None or warm is None:
        return kept
    saturated = air.vapor_pressure_from_dew_point(warm.values)
    vapor = source.values if source.served_as == _VAPOR[0] else saturated - source.values
    percent = 100 * vapor / saturated
    humidity = replace(
        source, served_as="relative_humidity_percent", unit=FileUnit("%"),
        values=np.where(np.abs(percent) < 1e-9, 0.0, percent),
    )  # fmt: skip
    return (*kept, humidity)


def _layout(columns: ColumnMap) -> Layout:
    """A shipped map as a layout that files are known by."""
    wanted = {name.casefold() for name in columns.detect}

    def matches(file: FileText) -> bool:
        head = "\n".join(file.lines[:WITHIN_LINES]).casefold()
        if not all(name in head for name in wanted):
            return False  # without looking at every cell
        for line in file.lines[:WITHIN_LINES]:
            for delimiter in DELIMITERS:
                if delimiter in line:
                    cells = {cell.strip().casefold() for cell in split(line, delimiter)}
                    if wanted <= cells:
                        return True
        return False

    return Layout(
        columns.name.removesuffix(".toml"),
        matches,
        lambda file, options: read_mapped(file, options, columns),
        measured=True,
    )


def layouts() -> list[Layout]:
    """A layout for every shipped map, those that ask for most columns first."""
    told = sorted(shipped().values(), key=lambda columns: -len(columns.detect))
    return [_layout(columns) for columns in told]
