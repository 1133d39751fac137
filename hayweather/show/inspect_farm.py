"""A farm file as it is in force: every value, and whether the file said it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from hayweather.farm.bands import band_for, band_of, limits_of, limits_remark, target_of
from hayweather.farm.document import load_document
from hayweather.farm.keys import Key, Table
from hayweather.farm.reading import entries
from hayweather.farm.records import Baler, Farm, Field, Preservative, Rig, UnitSystem
from hayweather.farm.tables import TABLES, FarmHead
from hayweather.show.layout import bullets, named_values, wrapped
from hayweather.show.phrases import phrase
from hayweather.show.voice import Voice
from hayweather.units import symbol_of, to_shown

Origin = Literal["file", "default", "derived", "kind"]


@dataclass(frozen=True)
class InForce:
    """One value in force.

    Attributes
    ----------
    table, key
        As written in the file.
    value
        In the inside unit; None where not given and without default.
    quantity
        Of `hayweather.units`; empty for others.
    origin
        Said in the file, the default, worked out from the rest, or by the kind
        of bale.
    timezone
        Zone in which a time is shown.
    """

    table: str
    key: str
    value: object
    quantity: str
    origin: Origin
    timezone: str


def in_force(farm: Farm) -> list[InForce]:
    """Every value of a farm that was read from a file, in the order of the tables.

    Raises
    ------
    FarmFileError
        If the file is gone.
    """
    if farm.path is None:
        raise ValueError("the farm was not read from a file")
    document = load_document(farm.path)
    found = []
    for table in TABLES.values():
        for name, raw, spot in entries(table, document, farm.path.name, farm.units):
            record = _record(farm, table, name)
            found += [_value(farm, table, key, record, raw, spot.table) for key in table.keys]
    return found


def _record(farm: Farm, table: Table, name: str) -> Any:
    """The record that an entry of the file became."""
    if table.name == "farm":
        return FarmHead(farm.name, farm.units, farm.language)
    if table.name == "shift":
        return farm.shifts[int(name) - 1]
    named: dict[str, Mapping[str, Any]] = {
        "site": farm.sites,
        "field": farm.fields,
        "baler": farm.balers,
        "rig": farm.rigs or {},
    }
    return named[table.name][name] if table.name in named else getattr(farm, table.name)


def _value(
    farm: Farm, table: Table, key: Key, record: Any, raw: Mapping[str, Any], heading: str
) -> InForce:
    """One value of one entry."""
    value = getattr(record, key.target)
    origin: Origin = "file"
    if key.name not in raw:
        origin = "default" if value == table.default(key) else "derived"
        by_kind = _by_kind(farm, key, record) if value is None else None
        if by_kind is not None:
            value, origin = by_kind, "kind"
    timezone = _timezone(farm, record)
    quantity = key.quantity or ("percent" if key.kind in ("band", "label") else "")
    return InForce(heading, key.name, value, quantity, origin, timezone)


def _by_kind(farm: Farm, key: Key, record: Any) -> object:
    """What holds by the kind of bale where the file says nothing."""
    if isinstance(record, Baler) and key.name == "band":
        return band_of(record)
    if isinstance(record, Baler) and key.name == "stem_limit":
        return limits_of(record).stem_limit_wb
    if isinstance(record, Rig) and key.name == "target":
        return target_of(None, next(iter(farm.balers.values())))
    return None


def _timezone(farm: Farm, record: Any) -> str:
    """Zone of the times of an entry."""
    site = farm.sites[record.site] if isinstance(record, Field) else next(iter(farm.sites.values()))
    return site.timezone or "UTC"


def shown_value(item: InForce, voice: Voice) -> str:
    """A value in force as people read it."""
    value = item.value
    if isinstance(value, bool):
        return voice.say("inspect_yes" if value else "inspect_no")
    if isinstance(value, np.datetime64):
        return replace(voice, timezone=item.timezone).when(value)
    if isinstance(value, Preservative):
        ceiling = voice.amount(value.ceiling_wb, "percent")
        return voice.say("inspect_preservative", rate=value.rate, ceiling=ceiling)
    if isinstance(value, tuple):
        low, high = (voice.amount(number, "percent") for number in value)
        return voice.say("range", low=low, high=high)
    if item.table.startswith("[[shift]]") and isinstance(value, int):
        return f"{value // 60:02d}:{value % 60:02d}"
    if isinstance(value, int | float):
        return _shown_number(float(value), item.quantity, voice)
    return str(value)


def _shown_number(value: float, quantity: str, voice: Voice) -> str:
    """A number as the file would write it, with its unit."""
    if not quantity:
        return f"{value:g}"
    shown = f"{to_shown(value, quantity, voice.units):.4g}"
    return f"{shown} {symbol_of(quantity, voice.units)}"


def farm_text(farm: Farm, services: Sequence[Sequence[str]], voice: Voice, width: int) -> str:
    """A farm file in force, as text.

    Parameters
    ----------
    farm
        Read from a file.
    services
        Rows of (name, value, where from) of the weather service's settings.
    voice
        How to speak; without a night.
    width
        Longest line.
    """
    path = farm.path.name if farm.path else ""
    units = voice.say(f"inspect_units_{voice.units}")
    title = voice.say("inspect_farm_title", file=path, farm=farm.name, units=units)
    lines = wrapped(title, width)
    items = in_force(farm)
    for heading in dict.fromkeys(item.table for item in items):
        here = [item for item in items if item.table == heading]
        lines += ["", heading, *_table_lines(here, voice, width)]
    lines += ["", voice.say("inspect_limits"), *named_values(_limits(farm, voice), width)]
    if farm.notes:
        lines += ["", voice.say("inspect_notes"), *bullets(farm.notes, width)]
    if services:
        pairs = [(name, f"{value} ({origin})") for name, value, origin in services]
        lines += ["", voice.say("inspect_services"), *named_values(pairs, width)]
    return "\n".join(lines) + "\n"


def _table_lines(items: Sequence[InForce], voice: Voice, width: int) -> list[str]:
    """One table: what is in force, marked where the file does not say it; what is not given."""
    pairs, absent = [], []
    for item in items:
        if item.value is None:
            absent.append(item.key)
            continue
        text = shown_value(item, voice)
        if item.origin != "file":
            origin = voice.say(f"inspect_origin_{item.origin}")
            text = voice.say("inspect_value_origin", value=text, origin=origin)
        pairs.append((item.key, text))
    lines = named_values(pairs, width)
    if absent:
        lines += wrapped(voice.say("inspect_not_set", names=", ".join(absent)), width, "  ", "    ")
    return lines


def _limits(farm: Farm, voice: Voice) -> list[tuple[str, str]]:
    """The moisture limits that hold in each field."""
    baler = next(iter(farm.balers.values()))
    return [
        (field.name, phrase(limits_remark(baler, field), voice)) for field in farm.fields.values()
    ]


def farm_form(farm: Farm, services: Sequence[Sequence[str]], units: UnitSystem) -> dict[str, Any]:
    """A farm file in force, for JSON; numbers in the reader's units and in the inside unit.

    Parameters
    ----------
    farm
        As read.
    services
        Settings in force; the key only as there or not.
    units
        Of the numbers that people read, and of sentences.
    """
    baler = next(iter(farm.balers.values()))
    bands = {name: band_for(baler, field) for name, field in farm.fields.items()}
    return {
        "file": str(farm.path),
        "farm": farm.name,
        "units": units,
        "settings": [_setting(item, units) for item in in_force(farm)],
        "limits": [
            {
                "field": name,
                "low": band.low_wb,
                "high": band.high_wb,
                "leaf_minimum": band.leaf_minimum_wb,
                "stem_limit": band.stem_limit_wb,
            }
            for name, band in bands.items()
        ],
        "notes": list(farm.notes),
        "service": [dict(zip(("name", "value", "from"), row, strict=True)) for row in services],
    }


def _setting(item: InForce, units: UnitSystem) -> dict[str, Any]:
    """One value in force for JSON."""
    value, shown, unit = _plain(item.value), None, None
    if item.quantity and isinstance(value, float):
        shown = round(float(to_shown(value, item.quantity, units)), 6)
        unit = symbol_of(item.quantity, units)
    return {
        "table": item.table,
        "key": item.key,
        "value": value if shown is None else shown,
        "unit": unit,
        "si_value": value if shown is not None else None,
        "from": item.origin,
    }


def _plain(value: object) -> Any:
    """A value as JSON knows it."""
    if isinstance(value, np.datetime64):
        return f"{value}Z"
    if isinstance(value, Preservative):
        return {"rate": value.rate, "ceiling": value.ceiling_wb}
    if isinstance(value, tuple):
        return list(value)
    if isinstance(value, bool) or value is None:
        return value
    return float(value) if isinstance(value, int | float) else str(value)
