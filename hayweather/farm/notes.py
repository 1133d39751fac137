"""Parts of a farm that become clear only together: times, and the windrow's mass."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from hayweather.farm.clock import to_utc
from hayweather.farm.keys import Table
from hayweather.farm.records import Field, Language
from hayweather.farm.tables import FIELD, MASS_HIGH_KG_M2, MASS_LOW_KG_M2
from hayweather.farm.values import Spot
from hayweather.units import symbol_of, to_shown
from hayweather.words import say

Values = dict[str, Any]
Noted = tuple[Values, tuple[str, ...]]
"""Values of one entry, and sentences about how they came about."""

DRY_MATTER_OF_YIELD = 0.88
"""Dry matter in a yield as people give it: hay at 12 % wb; common practice, no source."""

_MASS_PARTS = ("yield_kg_m2", "swath_width_m", "windrow_width_m")


def resolve_times(
    table: Table, values: Values, zone: ZoneInfo | None, spot: Spot, language: Language
) -> Noted:
    """Turn the times of one entry into UTC.

    Raises
    ------
    FarmFileError
        If a time has no offset and the site no zone.
    """
    resolved, notes = dict(values), []
    for key in table.keys:
        moment = values.get(key.target)
        if not isinstance(moment, datetime):
            continue
        try:
            resolved[key.target], change = to_utc(moment, zone)
        except ValueError:
            raise spot.error("time_zone", key.name, value=moment.isoformat()) from None
        if change is not None:
            place, text = spot.at(key.name), moment.strftime("%Y-%m-%d %H:%M")
            notes.append(say(f"farm_note_clock_{change}", language, where=place, time=text))
    return resolved, tuple(notes)


def work_out_mass(values: Values, spot: Spot, language: Language) -> Noted:
    """Dry matter per m2 of windrow, from yield and widths unless it is given.

    ``yield x 0.88 x swath width x swaths / windrow width``; where a part is
    missing the default holds, and a note says so.

    Parameters
    ----------
    values
        Of a field, by attribute, SI.
    spot
        Where it stands, for errors and notes.
    language
        Of the notes.

    Raises
    ------
    FarmFileError
        If the result is no believable windrow; the arithmetic is shown.
    """
    if "windrow_mass_kg_m2" in values:
        return values, ()
    absent = [
        key.name for key in FIELD.keys if key.target in _MASS_PARTS and key.target not in values
    ]
    if absent:
        mass = _shown(Field.windrow_mass_kg_m2, "windrow_mass", spot)
        note = say(
            "farm_note_mass_assumed", language, where=spot.at(), mass=mass, absent=", ".join(absent)
        )
        return values, (note,)
    mass_kg_m2 = _mass_kg_m2(values)
    if not MASS_LOW_KG_M2 <= mass_kg_m2 <= MASS_HIGH_KG_M2:
        raise _mass_error(values, mass_kg_m2, spot)
    mass = _shown(mass_kg_m2, "windrow_mass", spot)
    note = say("farm_note_mass", language, where=spot.at(), mass=mass)
    return {**values, "windrow_mass_kg_m2": mass_kg_m2}, (note,)


def _mass_kg_m2(values: Values) -> float:
    """Dry matter per m2 of windrow from yield and widths [kg/m2]."""
    raked_m = values["swath_width_m"] * _swaths(values)
    dry = values["yield_kg_m2"] * DRY_MATTER_OF_YIELD
    return float(dry * raked_m / values["windrow_width_m"])


def _swaths(values: Values) -> int:
    """Swaths raked into one windrow."""
    return int(values.get("swaths_per_windrow", Field.swaths_per_windrow))


def _mass_error(values: Values, mass_kg_m2: float, spot: Spot) -> Exception:
    """Show the arithmetic that gives an unbelievable windrow."""
    crop, swath, width = (
        _shown(values[part], quantity, spot)
        for part, quantity in zip(_MASS_PARTS, ("yield", "length", "length"), strict=True)
    )
    low, high, mass = (
        _shown(value, "windrow_mass", spot)
        for value in (MASS_LOW_KG_M2, MASS_HIGH_KG_M2, mass_kg_m2)
    )
    sum_ = f"{crop} × {DRY_MATTER_OF_YIELD} × {swath} × {_swaths(values)} / {width} = {mass}"
    return spot.error("mass", "yield", arithmetic=sum_, low=low, high=high)


def _shown(value: float, quantity: str, spot: Spot) -> str:
    """A value in the farm's unit, three digits."""
    return f"{to_shown(value, quantity, spot.units):.3g} {symbol_of(quantity, spot.units)}"
