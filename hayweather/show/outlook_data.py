"""The outlook as JSON, schema ``hayweather/outlook/1``.

Missing numbers are null, never NaN; times are local with their offset; every
key in US units has its twin in SI units. A key is never renamed without a new
schema number.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.baling.windows import RAKE_LEAF_WB, RakeWindow, Window
from hayweather.farm.records import UnitSystem
from hayweather.nights.outlook import FieldOutlook, Outlook
from hayweather.show.outlook_words import farm_voice, field_sentences, field_voice
from hayweather.show.table import SEPARATOR, Json, csv_text, json_text, number, twins
from hayweather.show.voice import Voice, phrases, safety_texts, short_safety_texts
from hayweather.show.weather_facts import WeatherSummary, weather_lines, weather_summary
from hayweather.units import to_shown
from hayweather.windrow.readings import Reading, Weights
from hayweather.words import Remark

SCHEMA = "hayweather/outlook/1"
SLEEP = "sleep"


def outlook_json(outlook: Outlook, units: UnitSystem) -> str:
    """The outlook as JSON text; `units` are those of the sentences in it.

    Parameters
    ----------
    outlook
        What to show.
    units
        Of the numbers that people read, and of sentences.
    """
    return json_text(outlook_form(outlook, units))


def outlook_form(outlook: Outlook, units: UnitSystem) -> Json:
    """The outlook as plain dictionaries and lists.

    Parameters
    ----------
    outlook
        What to show.
    units
        Of the numbers that people read, and of sentences.
    """
    voice = farm_voice(outlook, units)
    fields = [_field(field, outlook, field_voice(field, voice)) for field in outlook.fields]
    return {
        **head_form(SCHEMA, outlook, voice),
        "fields": fields,
        "cautions": [*phrases(outlook.cautions, voice), *safety_texts(voice)],
    }


def head_form(schema: str, outlook: Outlook, voice: Voice) -> Json:
    """What stands before the fields: schema, farm, time, units, weather."""
    return {
        "schema": schema,
        "farm": outlook.farm.name,
        "now": voice.iso(outlook.now),
        "units": voice.units,
        "invented": outlook.farm.weather.invented,
        "weather": weather_form(weather_summary(outlook), voice),
    }


def headline_form(sentences: Sequence[str], outlook: Outlook, voice: Voice) -> str:
    """The first sentences of a field as one text; an invented sample says so first."""
    mark = [voice.say("outlook_invented")] if outlook.farm.weather.invented else []
    return " ".join([*mark, *sentences])


def _time(time: np.datetime64 | None, voice: Voice) -> str | None:
    """A time for data."""
    return None if time is None else voice.iso(time)


def weather_form(summary: WeatherSummary, voice: Voice) -> Json:
    """Source, age and assumptions of the weather."""
    return {
        "source": summary.source,
        "issued": _time(summary.issued, voice),
        "fetched": _time(summary.fetched, voice),
        "age_hours": number(summary.age_hours),
        "stored": summary.stored,
        "attribution": summary.attribution,
        "hours_missing": summary.hours_missing,
        "assumed": phrases(summary.assumed, voice),
    }


def _field(field: FieldOutlook, outlook: Outlook, voice: Voice) -> Json:
    """One field."""
    look_at = field.headline.look_at
    return {
        "field": field.setting.field.name,
        "site": _site(field),
        "band": _band(field),
        "hours": [_hour(hour, voice) for hour in field.hours],
        "windows": [_window(window, voice) for window in field.windows],
        "rake": [_rake(window, voice) for window in field.rake],
        "look_at": SLEEP if look_at is None else voice.iso(look_at),
        "readings": [_reading(item, field.shown.weights, voice) for item in field.readings],
        "runs": _runs(field.shown.weights),
        "headline": headline_form(field_sentences(field, voice), outlook, voice),
    }


def _site(field: FieldOutlook) -> Json:
    """Where the field lies."""
    site = field.setting.site
    return {
        "name": site.name,
        "latitude": site.latitude,
        "longitude": site.longitude,
        "elevation_m": number(site.elevation_m),
        "timezone": site.timezone,
    }


def _band(field: FieldOutlook) -> Json:
    """Limits that hold there, % wet basis."""
    band = field.setting.band
    return {
        "low": band.low_wb,
        "high": band.high_wb,
        "leaf_minimum": band.leaf_minimum_wb,
        "stem_limit": band.stem_limit_wb,
    }


def _hour(hour: HourCall, voice: Voice) -> Json:
    """One hour."""
    return {
        "start": voice.iso(hour.start),
        "call": hour.call.word,
        "stop": hour.stop,
        "reasons": phrases(hour.reasons, voice),
        "cautions": phrases(hour.cautions, voice),
        **hour_numbers(hour),
        "chance": None
        if hour.chance is None
        else {call.word: float(share) for call, share in hour.chance.items()},
    }


def hour_numbers(hour: HourCall) -> dict[str, float | None]:
    """The numbers of an hour by their names in the JSON, null where not known."""
    hay, air = hour.hay, hour.air
    values = {
        "windrow_moisture_wb": hay.windrow_wb,
        "leaf_moisture_wb": hay.leaf_wb,
        "stem_moisture_wb": hay.stem_wb,
        "free_water_mm": hay.free_water_mm,
        "air_temperature_c": air.temperature_c,
        "dew_point_c": air.dew_point_c,
        "relative_humidity": air.relative_humidity,
        "wind_2m_m_s": air.wind_2m_m_s,
        "skin_temperature_c": hay.skin_temperature_c,
        "skin_humidity": hay.skin_humidity,
        "rain_mm": air.rain_mm,
        **_water(hour.water_l_t),
        "moisture_after_wb": hour.after_wb,
    }
    return {name: number(value) for name, value in values.items()}


def _water(rate_l_t: float) -> Json:
    """Water by weight of hay under both its keys."""
    return twins("water_l_per_t", "water_gal_per_ton", rate_l_t, "water_rate")


def _window(window: Window, voice: Voice) -> Json:
    """One window."""
    rates = [_water(rate) for rate in window.water_l_t or ()]
    return {
        "call": window.call.word,
        "start": voice.iso(window.start),
        "end": voice.iso(window.end),
        "hours": number(window.hours),
        "chance": number(window.chance),
        "start_range": _times(window.start_range, voice),
        "end_range": _times(window.end_range, voice),
        **{name: [rate[name] for rate in rates] or None for name in _water(0.0)},
    }


def _times(times: Sequence[np.datetime64] | None, voice: Voice) -> list[str] | None:
    """A range of times."""
    return None if times is None else [voice.iso(time) for time in times]


def _reading(reading: Reading, weights: Weights, voice: Voice) -> Json:
    """A moisture reading, and whether any forecast run fits it; null where none is known then."""
    return {
        "time": voice.iso(reading.time),
        "kind": reading.kind,
        "moisture_wb": number(reading.moisture_wb),
        "error_wb": number(reading.error_wb),
        "bias_wb": number(reading.bias_wb),
        "fits": None if reading in weights.unused else reading not in weights.unexplained,
    }


def _runs(weights: Weights) -> Json | None:
    """Forecast runs that count, and how many of equal weight they are worth; null without."""
    if not weights.members:
        return None
    return {"count": weights.members, "effective": number(weights.effective)}


def _rake(window: RakeWindow, voice: Voice) -> Json:
    """One window to rake in."""
    low, high = (voice.amount(value, "percent") for value in RAKE_LEAF_WB)
    return {
        "start": voice.iso(window.start),
        "end": voice.iso(window.end),
        "reason": voice.say("rake_reason", low=low, high=high),
    }


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


def outlook_csv(outlook: Outlook, units: UnitSystem) -> str:
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


def head_notes(outlook: Outlook, cautions: Sequence[Remark], voice: Voice) -> Iterator[str]:
    """What stands before the names of columns: farm, time, weather, cautions of the night."""
    if outlook.farm.weather.invented:
        yield voice.say("outlook_invented")
    yield f"{outlook.farm.name}, {voice.iso(outlook.now)}"
    yield from weather_lines(weather_summary(outlook), voice)
    yield from phrases(cautions, voice)


def _rows(field: FieldOutlook, voice: Voice) -> Iterator[list[str]]:
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
