"""From a TOML document to the entries of each table, guided by `hayweather.farm.tables`."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from hayweather.errors import FarmFileError
from hayweather.farm.keys import Key, Table
from hayweather.farm.nearest import nearest
from hayweather.farm.records import UnitSystem
from hayweather.farm.tables import TABLES
from hayweather.farm.values import Spot, as_written, read_value
from hayweather.units import symbol_of, to_inside

Raw = dict[str, Any]
Entry = tuple[str, Raw, Spot]

_LONGEST_NAME = 60


COLUMNS = "columns"
"""A map of the columns of a weather file, read where the file is."""


def without_columns(document: Raw) -> Raw:
    """The document without the map of columns, whose keys are no settings."""
    return {name: value for name, value in document.items() if name != COLUMNS}


def columns_of(named: str | None, document: Raw, path: Path) -> object:
    """The map that holds: a name or path given, else the ``[columns]`` table; None without."""
    if named is None:
        return document.get(COLUMNS)
    return str(path.parent / named) if named.endswith(".toml") else named


_FEET_OR_METERS = ("elevation", "length")


def check_units_said(document: Raw, file: str, tables: Iterable[Table]) -> None:
    """Refuse a bare height where the file names no units and feet and meters are both possible.

    Parameters
    ----------
    document
        The TOML document.
    file
        Its name, for the error.
    tables
        In which heights are looked for.

    Raises
    ------
    FarmFileError
        At the first of them.
    """
    head = document.get("farm")
    if isinstance(head, dict) and "units" in head:
        return
    for table in tables:
        keys = {key.name: key for key in table.keys if key.quantity in _FEET_OR_METERS}
        for _, raw, spot in entries(table, document, file, "us"):
            for name, value in raw.items():
                key = keys.get(name)
                if key is not None and _is_bare(value) and _both_possible(key, value):
                    raise spot.error("units_unsaid", name, value=value)


BEYOND_ALL = 1e9
"""No length in any unit is so large."""


def _is_bare(value: object) -> bool:
    """A number that names no unit, and is not the same in all."""
    if not isinstance(value, int | float) or isinstance(value, bool):
        return False
    return value != 0 and abs(value) < BEYOND_ALL  # a larger one is refused as what it is


def _both_possible(key: Key, value: float) -> bool:
    """Whether a number lies in the range of its key in feet and in meters."""
    systems: tuple[UnitSystem, ...] = ("us", "metric")
    inside = (to_inside(value, key.quantity, symbol_of(key.quantity, each)) for each in systems)
    return all(key.low <= float(number) <= key.high for number in inside)


def check_table_names(document: Raw, file: str, tables: dict[str, Table] = TABLES) -> None:
    """Refuse a table that is not known, naming the nearest.

    Parameters
    ----------
    document
        The TOML document.
    file
        Its name, for the error.
    tables
        Those that are known.

    Raises
    ------
    FarmFileError
        If there is one; a known key outside any table is told its table.
    """
    for name, value in document.items():
        if name in tables:
            continue
        homes = [] if isinstance(value, dict | list) else _homes(name, tables)
        if homes:
            raise FarmFileError("farm_no_home", file, value=name, table=homes[0])
        near = tables[nearest(name, tables)].heading
        raise FarmFileError("farm_unknown_table", file, value=as_written(name), nearest=near)


def _homes(key: str, tables: dict[str, Table]) -> list[str]:
    """Headings of the tables that know `key`."""
    return [table.heading for table in tables.values() if key in table.key_names]


def entries(table: Table, document: Raw, file: str, units: UnitSystem) -> list[Entry]:
    """Every entry of `table`: its name, what stands in it, and where.

    A single ``[baler]`` is named "baler"; entries of a list are named by number.

    Parameters
    ----------
    table
        Which table.
    document
        The TOML document.
    file
        Its name, for errors.
    units
        In which bare numbers are meant.

    Raises
    ------
    FarmFileError
        If the table is written in another form, or two names differ in
        capitals and blanks only.
    """
    raw = document.get(table.name)
    if raw is None:
        return []
    if table.form == "list":
        return _list_entries(table, raw, file, units)
    if not isinstance(raw, dict):
        raise FarmFileError("farm_table_form", file, value=table.name, form=table.heading)
    if _is_single(table, raw):
        return [(table.name, raw, Spot(file, f"[{table.name}]", units))]
    return _named_entries(table, raw, file, units)


def _list_entries(table: Table, raw: object, file: str, units: UnitSystem) -> list[Entry]:
    """Entries of ``[[name]]``."""
    if not isinstance(raw, list) or not all(isinstance(item, dict) for item in raw):
        raise FarmFileError("farm_table_form", file, value=table.name, form=table.heading)
    return [
        (str(number), item, Spot(file, f"{table.heading} {number}", units))
        for number, item in enumerate(raw, start=1)
    ]


def _is_single(table: Table, raw: Raw) -> bool:
    """Whether ``[name]`` itself holds the keys, rather than ``[name.X]``."""
    if table.form != "one-or-named":
        return table.form == "one"
    holds_keys = any(key in table.key_names for key in raw)
    return holds_keys or not all(isinstance(value, dict) for value in raw.values())


def _named_entries(table: Table, raw: Raw, file: str, units: UnitSystem) -> list[Entry]:
    """Entries of ``[name.X]``, one for each X."""
    form = f"[{table.name}.NAME]"
    stray = [key for key, value in raw.items() if not isinstance(value, dict)]
    if stray:
        raise FarmFileError(
            "farm_name_missing", f"{file}: [{table.name}]", value=stray[0], form=form
        )
    _check_names(table, list(raw), file)
    return [(name, item, Spot(file, f"[{table.name}.{name}]", units)) for name, item in raw.items()]


def _check_names(table: Table, names: Iterable[str], file: str) -> None:
    """Refuse names that cannot be told apart, or cannot name a file."""
    seen: dict[str, str] = {}
    for name in names:
        where = f"{file}: [{table.name}.{as_written(name)}]"
        if not name.strip() or not name.isprintable() or set(name) & set("/\\:"):
            raise FarmFileError("farm_name_letters", where)
        if len(name) > _LONGEST_NAME:
            raise FarmFileError("farm_name_long", where, longest=_LONGEST_NAME)
        plain = " ".join(name.casefold().split())
        if plain in seen:
            raise FarmFileError("farm_name_twice", where, value=name, other=seen[plain])
        seen[plain] = name


def read_keys(table: Table, raw: Raw, spot: Spot) -> dict[str, Any]:
    """Values of one entry by attribute of the record; keys left out are absent.

    Parameters
    ----------
    table
        Its keys with their limits.
    raw
        What stands in the entry.
    spot
        Where it stands, for errors.

    Raises
    ------
    FarmFileError
        If a key is unknown, a value wrong, or a required key missing.
    """
    known = {key.name: key for key in table.keys}
    for name in raw:
        if name not in known:
            raise _unknown_key(table, name, spot)
    for key in table.keys:
        if key.required and key.name not in raw:
            raise missing(key, spot)
    return {known[name].target: read_value(known[name], value, spot) for name, value in raw.items()}


def missing(key: Key, spot: Spot) -> FarmFileError:
    """The error for a key that is needed and not there."""
    if key.quantity == "angle":  # nobody's example is the reader's place
        return spot.error("place", key.name)
    return spot.error("required", key.name, example=f"{key.name} = {key.example(spot.units)}")


def _unknown_key(table: Table, name: str, spot: Spot) -> FarmFileError:
    """The error for an unknown key: the table where it belongs, or the nearest here."""
    homes = _homes(name, TABLES)
    if homes:
        return spot.error("other_table", name, table=homes[0])
    return spot.error("unknown_key", as_written(name), nearest=nearest(name, table.key_names))
