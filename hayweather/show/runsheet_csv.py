"""The run sheet as CSV: one row a piece of work or a fill, column names with units."""

from __future__ import annotations

from collections.abc import Mapping

from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, Fill, RunSheet, SheetWindow
from hayweather.show.csv_text import SEPARATOR, csv_text
from hayweather.show.json_text import number
from hayweather.show.outlook_csv import head_notes
from hayweather.show.phrases import phrases
from hayweather.show.runsheet_json import TWINS, both
from hayweather.show.safety import safety_texts
from hayweather.show.sentences import farm_voice, field_voice
from hayweather.show.voice import Voice

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
