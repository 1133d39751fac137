"""A plan for fields as data: JSON ``hayweather/fields/1``, and CSV of its blocks.

Missing numbers are null; every key in US units has its twin in SI units.
"""

from __future__ import annotations

import math

import numpy as np

from hayweather.farm.records import UnitSystem
from hayweather.plan.record import Block, FieldResult, FieldsPlan
from hayweather.show.outlook_data import weather_form
from hayweather.show.plan_text import (
    behind_sentences,
    block_reasons,
    left_sentences,
    plan_voice,
    summary_sentences,
)
from hayweather.show.table import SEPARATOR, Json, json_text, number, records_csv, twins
from hayweather.show.voice import Voice, phrases, safety_texts, short_safety_texts
from hayweather.show.weather_facts import WeatherSummary, summary_of, weather_lines

SCHEMA = "hayweather/fields/1"


def fields_json(plan: FieldsPlan, units: UnitSystem) -> str:
    """The plan as JSON text; `units` are those of the sentences in it.

    Parameters
    ----------
    plan
        What to show.
    units
        Of the numbers that people read, and of sentences.
    """
    return json_text(fields_form(plan, units))


def fields_form(plan: FieldsPlan, units: UnitSystem) -> Json:
    """The plan as plain dictionaries and lists."""
    voice = plan_voice(plan, units)
    return {
        "schema": SCHEMA,
        "farm": plan.farm.name,
        "now": voice.iso(plan.now),
        "end": voice.iso(plan.ahead.end),
        "days": plan.days,
        "slot_minutes": 30,
        "units": units,
        "currency": plan.farm.money.currency,
        "invented": plan.farm.weather.invented,
        "weather": weather_form(_summary(plan), voice),
        "source": plan.source,
        "gain": number(plan.gain),
        "bound": number(plan.bound),
        "gap": number(plan.gap),
        "seconds": number(plan.seconds),
        "timed_out": plan.timed_out,
        "unseen": None if plan.unseen is None else _range(*plan.unseen),
        "beside": [
            {"rule": item.rule, "gain": number(item.expected)}
            | _more(item.mean, item.low, item.high)
            for item in plan.comparisons
        ],
        "blocks": [_block(block, voice) for block in plan.blocks],
        "fields": [_field(item, voice) for item in plan.fields],
        "headline": " ".join(summary_sentences(plan, voice) + left_sentences(plan, voice)),
        "assumed": behind_sentences(plan, voice),
        "cautions": [*phrases(plan.cautions, voice), *safety_texts(voice)],
    }


def _range(mean: float, low: float, high: float) -> Json:
    """A mean and eight in ten."""
    return {"mean": number(mean), "p10": number(low), "p90": number(high)}


def _more(mean: float, low: float, high: float) -> Json:
    """What the plan brings more than a rule."""
    return {f"more_{name}": value for name, value in _range(mean, low, high).items()}


def _summary(plan: FieldsPlan) -> WeatherSummary:
    """Source and age of the weather of every site once."""
    facts = {item.setting.site.name: item.facts for item in plan.ahead.fields}
    return summary_of(list(facts.values()))


def _block(block: Block, voice: Voice) -> Json:
    """One block."""
    low, high = block.water_l_t or (math.nan, math.nan)
    return {
        "baler": block.baler,
        "field": block.field,
        "rig": block.rig,
        "how": block.way,
        "start": voice.iso(block.start),
        "end": voice.iso(block.end),
        "hours": number(block.hours),
        **twins("hay_t", "hay_tons", block.kg, "tons"),
        **twins("area_ha", "area_acres", block.area_m2, "area"),
        **twins("gain_per_t", "gain_per_ton", block.gain_per_kg, "price_by_mass"),
        **twins("water_least_l_per_t", "water_least_gal_per_ton", low, "water_rate"),
        **twins("water_most_l_per_t", "water_most_gal_per_ton", high, "water_rate"),
        **twins("water_l", "water_gal", block.water_l, "volume"),
        "reasons": block_reasons(block, voice),
    }


def _field(item: FieldResult, voice: Voice) -> Json:
    """One field."""
    sheet = item.sheet
    return {
        "field": item.field.name,
        **twins("hay_t", "hay_tons", item.kg, "tons"),
        **twins("baled_t", "baled_tons", item.baled_kg, "tons"),
        **twins("left_t", "left_tons", item.left_kg, "tons"),
        **twins("left_area_ha", "left_area_acres", item.left_area_m2, "area"),
        "left_cost": number(item.left_cost),
        **twins("left_cost_per_t", "left_cost_per_ton", item.left_cost_per_kg, "price_by_mass"),
        **twins("waiting_per_t", "waiting_per_ton", item.waiting_per_kg, "price_by_mass"),
        "ways": [
            {"how": way.way, "best_at": voice.iso(way.time)}
            | twins("value_per_t", "value_per_ton", way.value_per_kg, "price_by_mass")
            for way in item.ways
        ],
        "crude_protein": _level(None if sheet is None else sheet.crude_protein),
        "ndf": _level(None if sheet is None else sheet.ndf),
        "feed_value": _level(None if sheet is None else sheet.feed_value),
        "likely_class": item.hay_class,
        "notes": phrases(item.remarks, voice),
    }


def _level(value: float | np.ndarray | None) -> float | None:
    """A laboratory figure."""
    return None if value is None else number(float(value))


def fields_csv(plan: FieldsPlan, units: UnitSystem) -> str:
    """The blocks as CSV, lines with ``#`` before them saying what stands behind.

    Parameters
    ----------
    plan
        What to show.
    units
        Of the numbers that people read, and of sentences.
    """
    voice = plan_voice(plan, units)
    lines = [voice.say("outlook_invented")] if plan.farm.weather.invented else []
    lines += [f"{plan.farm.name}, {voice.iso(plan.now)}", *summary_sentences(plan, voice)]
    lines += left_sentences(plan, voice)
    lines += weather_lines(_summary(plan), voice)
    lines += [*phrases(plan.cautions, voice), *short_safety_texts(voice)]
    return records_csv([_flat(_block(block, voice)) for block in plan.blocks], lines)


def _flat(block: Json) -> Json:
    """A block as one row."""
    return block | {"reasons": SEPARATOR.join(block["reasons"])}
