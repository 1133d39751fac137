"""The commented farm file to start from, written from the table of keys."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from hayweather.errors import OutputError
from hayweather.farm.keys import Key, Table
from hayweather.farm.records import Language, Site, UnitSystem
from hayweather.farm.tables import TABLES
from hayweather.farm.zones import in_us_boxes
from hayweather.units import symbol_of, to_shown
from hayweather.whole_file import whole_file
from hayweather.words import say

COMMENT_COLUMN = 38
FILE_NAME = "farm.toml"


def starter_text(units: UnitSystem, language: Language = "en", place: Site | None = None) -> str:
    """A complete farm file with every key, those not needed behind a ``#``.

    With a `place` it is accepted by `read_farm` as it stands; without one its site's
    keys are behind a ``#`` too, and it is refused until they are the reader's own.
    Values to be replaced are marked.

    Parameters
    ----------
    units, language
        In which it is written.
    place
        Of the fields; zone and elevation that are None stay behind a ``#``.
    """
    parts = [_comment("farm_starter_head", language)]
    parts += [_table_text(table, units, language, place) for table in TABLES.values()]
    return "\n\n".join(parts) + "\n"


def write_starter(
    directory: Path, units: UnitSystem, language: Language = "en", place: Site | None = None
) -> Path:
    """Write ``farm.toml`` into `directory`, which is made when it is missing.

    Parameters
    ----------
    directory
        Made when it is missing.
    units, language
        In which the file is written, and which it says.
    place
        As in `starter_text`.

    Raises
    ------
    OutputError
        If the file is there already or the place cannot be written; nothing
        half-written is left behind.
    """
    path = directory / FILE_NAME
    try:
        directory.mkdir(parents=True, exist_ok=True)
        with whole_file(path, for_others=True, never_over=True) as file:
            file.write(starter_text(units, language, place).encode())
    except FileExistsError:
        key = "farm_starter_exists" if path.exists() else "farm_starter_folder"
        raise OutputError(key, str(path if path.exists() else directory)) from None
    except OSError as problem:
        raise OutputError("farm_starter_place", str(path), value=problem.strerror) from None
    return path


def _table_text(table: Table, units: UnitSystem, language: Language, place: Site | None) -> str:
    """One table with its comment and all its keys."""
    heading = _heading(table) if table.active else f"# {_heading(table)}"
    known = _place_values(place, units) if table.name == "site" else {}
    if table.name == "weather":
        known = {"service": f'"{service_for(units, place)}"'}
    lines = [_key_line(table, key, units, language, known) for key in table.keys]
    return "\n".join([_comment(f"farm_table_{table.name}", language), heading, *lines])


def _heading(table: Table) -> str:
    """The table's heading as the starter writes it."""
    if table.form == "named":
        return f"[{table.name}.{table.starter_name}]"
    return table.heading


def service_for(units: UnitSystem, place: Site | None) -> str:
    """The weather service that the starter names: one that covers the place, if there is one."""
    if place is None:
        return "us-nws" if units == "us" else "open-meteo"
    return "us-nws" if in_us_boxes(place.latitude, place.longitude) else "open-meteo"


PLACE = ("latitude", "longitude", "elevation", "timezone")
"""Keys of a site that are nobody's default."""


def _place_values(place: Site | None, units: UnitSystem) -> dict[str, str]:
    """TOML text of what is known of a place, empty where nothing is."""
    found = dict.fromkeys(PLACE, "")
    if place is None:
        return found
    found |= {"latitude": f"{place.latitude:g}", "longitude": f"{place.longitude:g}"}
    if place.elevation_m is not None:
        found["elevation"] = f"{to_shown(place.elevation_m, 'elevation', units):.0f}"
    if place.timezone is not None:
        found["timezone"] = f'"{place.timezone}"'
    return found


def _key_line(
    table: Table, key: Key, units: UnitSystem, language: Language, known: Mapping[str, str]
) -> str:
    """``area = 120    # [acre] size of the field``; of a place only what is `known` is in force."""
    active = key.active and table.active and bool(known.get(key.name, "active"))
    value = known.get(key.name) or _value(table, key, units, language)
    setting = f"{'' if active else '# '}{key.name} = {value}"
    unit = f"[{symbol_of(key.quantity, units)}] " if key.quantity else ""
    comment = comment_of(table, key, language)
    return f"{setting:<{COMMENT_COLUMN - 1}} # {unit}{comment}"


def comment_of(table: Table, key: Key, language: Language) -> str:
    """What a key means, with the words of the catalog where it offers them."""
    return say(f"farm_key_{table.name}_{key.name}", language, choices=_choices(key, language))


def _choices(key: Key, language: Language) -> str:
    """Names of the catalog with their word where the language has another."""
    if not isinstance(key.choices, Mapping):
        return ", ".join(key.choices)
    words = {name: say(record.text, language) for name, record in key.choices.items()}
    if language == "en":
        return ", ".join(words)
    return ", ".join(name if name == word else f"{name} ({word})" for name, word in words.items())


def _value(table: Table, key: Key, units: UnitSystem, language: Language) -> str:
    """TOML text of the starter's value: the key's example, a name, or the default."""
    if table.name == "farm" and key.name == "language":
        return f'"{language}"'
    if key.kind == "text" and not key.us:
        return f'"{say(f"farm_value_{table.name}_{key.name}", language)}"'
    return key.example(units) or _toml(table.default(key), key, units)


def _toml(default: Any, key: Key, units: UnitSystem) -> str:
    """A default as TOML text in the farm's unit."""
    if isinstance(default, bool):
        return "true" if default else "false"
    if isinstance(default, str):
        return f'"{default}"'
    if isinstance(default, int) and not key.quantity:
        return str(default)
    shown = to_shown(default, key.quantity, units) if key.quantity else default
    return f"{shown:.0f}" if abs(shown) >= 1000 else f"{shown:.3g}"


def _comment(key: str, language: Language) -> str:
    """A text as comment lines."""
    return "\n".join(f"# {line}".rstrip() for line in say(key, language).strip().splitlines())
