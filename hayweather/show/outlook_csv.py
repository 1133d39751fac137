"""The outlook as CSV: one row an hour of a field, column names with units.

Lines before the header begin with ``#``: an invented sample says so first, then
source and age of the weather, and the cautions. Names of columns depend on the
unit system only.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.csv_text import SEPARATOR, csv_text
from hayweather.show.phrases import phrases
from hayweather.show.safety import short_safety_texts
from hayweather.show.sentences import farm_voice, field_voice
from hayweather.show.voice import Voice
from hayweather.show.weather_facts import weather_lines, weather_summary
from hayweather.units import to_shown
from hayweather.words import Remark


@dataclass(frozen=True)
class _Number:
    """A column of numbers: names in both unit systems, quantity, decimals, value."""

    us: str
    metric: str
    quantity: str
    decimals: int
    value: Callable[[HourCall], float]


_NUMBERS = (
    _Number("windrow_moisture_percent_wb", "", "percent", 2, lambda h: h.hay.windrow_wb),
    _Number("leaf_moisture_percent_wb", "", "percent", 2, lambda h: h.hay.leaf_wb),
    _Number("stem_moisture_percent_wb", "", "percent", 2, lambda h: h.hay.stem_wb),
    _Number("free_water_in", "free_water_mm", "film", 4, lambda h: h.hay.free_water_mm),
    _Number("air_temperature_f", "air_temperature_c", "temperature", 1,
            lambda h: h.air.temperature_c),
    _Number("dew_point_f", "dew_point_c", "temperature", 1, lambda h: h.air.dew_point_c),
    _Number("relative_humidity_percent", "", "percent", 1, lambda h: h.air.relative_humidity),
    _Number("wind_2m_mph", "wind_2m_m_s", "wind_speed", 2, lambda h: h.air.wind_2m_m_s),
    _Number("skin_temperature_f", "skin_temperature_c", "temperature", 1,
            lambda h: h.hay.skin_temperature_c),
    _Number("skin_humidity_percent", "", "percent", 1, lambda h: h.hay.skin_humidity),
    _Number("rain_in", "rain_mm", "rain", 3, lambda h: h.air.rain_mm),
    _Number("water_gal_per_ton", "water_l_per_t", "water_rate", 2, lambda h: h.water_l_t),
    _Number("moisture_after_percent_wb", "", "percent", 2, lambda h: h.after_wb),
)  # fmt: skip


def column_names(units: UnitSystem) -> list[str]:
    """All column names in a unit system."""
    numbers = [n.us if units == "us" else n.metric or n.us for n in _NUMBERS]
    chances = [f"chance_{call.name.lower()}" for call in Call]
    first = ["field", "start", "call", "stop", "humid_air"]
    return [*first, *numbers, *chances, "reasons", "cautions"]


def outlook_csv(outlook: Night, units: UnitSystem) -> str:
    """The outlook as CSV text.

    Parameters
    ----------
    outlook
        What to show.
    units
        Of the numbers that people read, and of sentences.
    """
    voice = farm_voice(outlook, units)
    rows = (row for field in outlook.fields for row in _rows(field, field_voice(field, voice)))
    notes = [*head_notes(outlook, outlook.cautions, voice), *short_safety_texts(voice)]
    return csv_text(column_names(units), rows, notes)


def head_notes(outlook: Night, cautions: Sequence[Remark], voice: Voice) -> Iterator[str]:
    """What stands before the names of columns: farm, time, weather, cautions of the night."""
    if outlook.farm.weather.invented:
        yield voice.say("outlook_invented")
    yield f"{outlook.farm.name}, {voice.iso(outlook.now)}"
    yield from weather_lines(weather_summary(outlook), voice)
    yield from phrases(cautions, voice)


def _rows(field: FieldNight, voice: Voice) -> Iterator[list[str]]:
    """One row an hour."""
    for hour in field.hours:
        chances = [] if hour.chance is None else [f"{hour.chance[call]:.3f}" for call in Call]
        yield [
            field.setting.field.name,
            voice.iso(hour.start),
            hour.call.word,
            _truth(hour.stop),
            _truth(hour.humid_air),
            *(_written(number, hour, voice.units) for number in _NUMBERS),
            *(chances or [""] * len(Call)),
            SEPARATOR.join(phrases(hour.reasons, voice)),
            SEPARATOR.join(phrases(hour.cautions, voice)),
        ]


def _truth(value: bool) -> str:
    """True or false as data."""
    return "true" if value else "false"


def _written(number: _Number, hour: HourCall, units: UnitSystem) -> str:
    """A number in the unit of its column; blank where not known."""
    value = number.value(hour)
    if math.isnan(value):
        return ""
    return f"{to_shown(value, number.quantity, units):.{number.decimals}f}"
