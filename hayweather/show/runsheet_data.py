"""The run sheet as JSON, schema ``hayweather/runsheet/1``.

Missing numbers are null, never NaN; times are local with their offset; every
key in US units has its twin in SI units. A key is never renamed without a new
schema number.
"""

from __future__ import annotations

from collections.abc import Mapping

from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, Fill, RateStep, RunSheet, SheetWindow
from hayweather.show.outlook_data import head_form, head_notes, headline_form
from hayweather.show.outlook_words import farm_voice, field_voice
from hayweather.show.runsheet_text import sheet_sentences
from hayweather.show.table import SEPARATOR, Json, csv_text, json_text, number, twins
from hayweather.show.voice import Voice, phrases, safety_texts

SCHEMA = "hayweather/runsheet/1"

# Key in US units, its SI twin, and the quantity in whose units both are.
TWINS = {
    "water_l_t": ("water_gal_per_ton", "water_l_per_t", "water_rate"),
    "flow_l_min": ("flow_gpm", "flow_l_min", "flow"),
    "speed_m_s": ("speed_mph", "speed_m_s", "wind_speed"),
    "mass_kg": ("tons", "tonnes", "tons"),
    "area_m2": ("acres", "hectares", "area"),
    "water_l": ("water_gal", "water_l", "volume"),
    "burner_fuel_l": ("burner_fuel_gal", "burner_fuel_l", "volume"),
}


def runsheet_json(sheet: RunSheet, units: UnitSystem) -> str:
    """The run sheet as JSON text; `units` are those of the sentences in it.

    Parameters
    ----------
    sheet
        What to show.
    units
        Of the numbers that people read, and of sentences.
    """
    return json_text(runsheet_form(sheet, units))


def runsheet_form(sheet: RunSheet, units: UnitSystem) -> Json:
    """The run sheet as plain dictionaries and lists."""
    outlook = sheet.outlook
    voice = farm_voice(outlook, units)
    return {
        **head_form(SCHEMA, outlook, voice),
        "fields": [
            _field(field, sheet, field_voice(field.outlook, voice)) for field in sheet.fields
        ],
        "cautions": [*phrases(sheet.cautions, voice), *safety_texts(voice)],
    }


def both(attribute: str, value: float | None) -> dict[str, float | None]:
    """A value under its US key and its SI twin."""
    us, si, quantity = TWINS[attribute]
    found = twins(si, us, value, quantity)
    return {us: found[us], si: found[si]}


def _field(field: FieldSheet, sheet: RunSheet, voice: Voice) -> Json:
    """One field."""
    done, change = field.area_done_at, field.water_per_point_l_t
    point = {f"{key}_per_point": value for key, value in both("water_l_t", change).items()}
    return {
        "field": field.name,
        "windows": [_window(window, voice) for window in field.windows],
        "fill_at": [_fill(fill, voice) for fill in field.fills],
        "totals": _totals(field),
        "area_done_at": None if done is None else voice.iso(done),
        **point,
        "signs": {
            name: phrases(getattr(field.signs, name), voice) for name in ("start", "way", "stop")
        },
        "relief": phrases(field.relief, voice),
        "notes": phrases(field.notes, voice),
        "headline": headline_form(sheet_sentences(field, voice), sheet.outlook, voice),
    }


def _window(window: SheetWindow, voice: Voice) -> Json:
    """One piece of work."""
    return {
        "start": voice.iso(window.start),
        "end": voice.iso(window.end),
        "call": window.call.word,
        "reasons": phrases(window.reasons, voice),
        "cautions": phrases(window.cautions, voice),
        "windrow_moisture_wb": number(window.windrow_wb),
        "leaf_moisture_wb": number(window.leaf_wb),
        "moisture_after_wb": number(window.after_wb),
        "application_efficiency": number(window.efficiency),
        **both("water_l_t", window.water_l_t),
        **both("flow_l_min", window.flow_l_min),
        **both("speed_m_s", window.speed_m_s),
        **_amounts(window),
        "rate_steps": [_step(step, voice) for step in window.rate_steps],
    }


def _amounts(part: object) -> dict[str, float | None]:
    """What a piece, or all of them, get done and use."""
    found: dict[str, float | None] = {}
    for name in ("mass_kg", "area_m2", "water_l", "burner_fuel_l"):
        found |= both(name, getattr(part, name))
    return found | {name: number(getattr(part, name)) for name in ("bales", "loads")}


def _step(step: RateStep, voice: Voice) -> Json:
    """One rate to dial."""
    return {
        "from": voice.iso(step.start),
        **both("water_l_t", step.water_l_t),
        **both("flow_l_min", step.flow_l_min),
        **both("speed_m_s", step.speed_m_s),
    }


def _fill(fill: Fill, voice: Voice) -> Json:
    """One fill."""
    return {
        "start": voice.iso(fill.start),
        "minutes": number(fill.minutes),
        "baler_waits": fill.baler_waits,
    }


def _totals(field: FieldSheet) -> Json:
    """Sums of a field."""
    totals = field.totals
    hours = {name: number(getattr(totals, name)) for name in ("hours", "dew_hours", "rig_hours")}
    fills = {"fills": totals.fills, "fill_minutes": number(totals.fill_minutes)}
    return {**hours, **_amounts(totals), **fills}


FILL = "fill"
_PLAIN = {
    "windrow_moisture_percent_wb": "windrow_wb",
    "moisture_after_percent_wb": "after_wb",
    "bales": "bales",
    "loads": "loads",
}


def runsheet_csv(sheet: RunSheet, units: UnitSystem) -> str:
    """The run sheet as CSV text; cautions stand in lines before the header.

    Parameters
    ----------
    sheet
        What to show.
    units
        Of the numbers that people read, and of sentences.
    """
    voice = farm_voice(sheet.outlook, units)
    rows = (r for field in sheet.fields for r in _rows(field, field_voice(field.outlook, voice)))
    notes = [*head_notes(sheet.outlook, sheet.cautions, voice), *safety_texts(voice)]
    return csv_text(column_names(units), rows, notes)


def column_names(units: UnitSystem) -> list[str]:
    """All column names in a unit system."""
    named = [us if units == "us" else si for us, si, _ in TWINS.values()]
    return ["field", "start", "end", "call", *named, *_PLAIN, "rates", "reasons", "cautions"]


def _rows(field: FieldSheet, voice: Voice) -> list[list[str]]:
    """One row a piece or fill, in order of time."""
    items: list[SheetWindow | Fill] = [*field.windows, *field.fills]
    names = column_names(voice.units)
    return [
        [str(cells.get(name, "")) for name in names]
        for item in sorted(items, key=lambda item: item.start)
        for cells in [_cells(field.name, item, voice)]
    ]


def _cells(name: str, item: SheetWindow | Fill, voice: Voice) -> Mapping[str, object]:
    """The cells of one row by column; what is not known is left out."""
    found: dict[str, object] = {
        "field": name,
        "start": voice.iso(item.start),
        "end": voice.iso(item.end),
        "call": FILL,
    }
    if isinstance(item, Fill):
        return found
    for attribute in TWINS:
        found |= both(attribute, getattr(item, attribute))
    found |= {column: number(getattr(item, attribute)) for column, attribute in _PLAIN.items()}
    rates = [
        f"{voice.iso(step.start)} {voice.number(step.water_l_t, 'water_rate')}"
        for step in item.rate_steps
    ]
    texts = {
        "call": item.call.word,
        "rates": SEPARATOR.join(rates),
        "reasons": SEPARATOR.join(phrases(item.reasons, voice)),
        "cautions": SEPARATOR.join(phrases(item.cautions, voice)),
    }
    return {key: value for key, value in (found | texts).items() if value is not None}
