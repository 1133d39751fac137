"""The run sheet as CSV: one row a piece of work or a fill, column names with units."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping

from hayweather.baling.runsheet_record import FieldSheet, Fill, RunSheet, SheetWindow
from hayweather.farm.records import UnitSystem
from hayweather.report.csv_rows import SEPARATOR
from hayweather.report.json_form import number
from hayweather.report.phrases import phrases
from hayweather.report.runsheet_json import TWINS, both
from hayweather.report.safety import safety_texts
from hayweather.report.sentences import farm_voice, field_voice
from hayweather.report.voice import Voice
from hayweather.report.weather_facts import weather_lines, weather_summary

FILL = "fill"
_PLAIN = {
    "windrow_moisture_percent_wb": "windrow_wb",
    "moisture_after_percent_wb": "after_wb",
    "bales": "bales",
    "loads": "loads",
}


def runsheet_csv(sheet: RunSheet, units: UnitSystem) -> str:
    """The run sheet as CSV text; cautions stand in lines before the header."""
    voice = farm_voice(sheet.outlook, units)
    text = io.StringIO()
    for line in _head(sheet, voice):
        text.write(f"# {line}\n")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(column_names(units))
    for field in sheet.fields:
        writer.writerows(_rows(field, field_voice(field.outlook, voice)))
    return text.getvalue()


def column_names(units: UnitSystem) -> list[str]:
    """All column names in a unit system."""
    named = [keys[0 if units == "us" else 1][0] for keys in TWINS.values()]
    return ["field", "start", "end", "call", *named, *_PLAIN, "rates", "reasons", "cautions"]


def _head(sheet: RunSheet, voice: Voice) -> Iterator[str]:
    """Lines before the header."""
    outlook = sheet.outlook
    if outlook.farm.weather.invented:
        yield voice.say("outlook_invented")
    yield f"{outlook.farm.name}, {voice.iso(outlook.now)}"
    yield from weather_lines(weather_summary(outlook), voice)
    yield from phrases(sheet.cautions, voice)
    yield from safety_texts(voice)


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
