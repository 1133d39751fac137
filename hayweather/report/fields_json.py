"""A plan for fields as data: JSON ``hayweather/fields/1``, and CSV of its blocks.

Missing numbers are null; every key in US units has its twin in SI units.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from hayweather.baling.fields.record import Block, FieldResult, FieldsPlan
from hayweather.farm.records import UnitSystem
from hayweather.report.csv_rows import SEPARATOR, plain_csv
from hayweather.report.fields_sentences import (
    behind_sentences,
    block_reasons,
    left_sentences,
    plan_voice,
    summary_sentences,
)
from hayweather.report.json_form import number
from hayweather.report.json_text import json_text
from hayweather.report.phrases import phrases
from hayweather.report.safety import safety_texts, short_safety_texts
from hayweather.report.voice import Voice
from hayweather.report.weather_facts import summary_of, weather_lines
from hayweather.units import to_shown

SCHEMA = "hayweather/fields/1"
Json = dict[str, Any]


def fields_json(plan: FieldsPlan, units: UnitSystem) -> str:
    """The plan as JSON text; `units` are those of the sentences in it."""
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
        "weather": _weather(plan, voice),
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


def _weather(plan: FieldsPlan, voice: Voice) -> Json:
    """Source and age of the weather."""
    facts = {item.setting.site.name: item.facts for item in plan.ahead.fields}
    summary = summary_of(list(facts.values()))
    issued = summary.issued
    return {
        "source": summary.source,
        "issued": None if issued is None else voice.iso(issued),
        "age_hours": number(summary.age_hours),
        "attribution": summary.attribution,
        "hours_missing": summary.hours_missing,
        "assumed": phrases(summary.assumed, voice),
    }


def _both(name: str, si: str, us: str, value: float, quantity: str) -> Json:
    """A number in SI and in US units."""
    return {
        f"{name}_{si}": number(to_shown(value, quantity, "metric")),
        f"{name}_{us}": number(to_shown(value, quantity, "us")),
    }


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
        **_both("hay", "t", "tons", block.kg, "tons"),
        **_both("area", "ha", "acres", block.area_m2, "area"),
        **_both("gain", "per_t", "per_ton", block.gain_per_kg, "price_by_mass"),
        **_both("water_least", "l_per_t", "gal_per_ton", low, "water_rate"),
        **_both("water_most", "l_per_t", "gal_per_ton", high, "water_rate"),
        **_both("water", "l", "gal", block.water_l, "volume"),
        "reasons": block_reasons(block, voice),
    }


def _field(item: FieldResult, voice: Voice) -> Json:
    """One field."""
    sheet = item.sheet
    return {
        "field": item.field.name,
        **_both("hay", "t", "tons", item.kg, "tons"),
        **_both("baled", "t", "tons", item.baled_kg, "tons"),
        **_both("left", "t", "tons", item.left_kg, "tons"),
        **_both("left_area", "ha", "acres", item.left_area_m2, "area"),
        "left_cost": number(item.left_cost),
        **_both("left_cost", "per_t", "per_ton", item.left_cost_per_kg, "price_by_mass"),
        **_both("waiting", "per_t", "per_ton", item.waiting_per_kg, "price_by_mass"),
        "ways": [
            {"how": way.way, "best_at": voice.iso(way.time)}
            | _both("value", "per_t", "per_ton", way.value_per_kg, "price_by_mass")
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
    """The blocks as CSV, lines with ``#`` before them saying what stands behind."""
    voice = plan_voice(plan, units)
    facts = {item.setting.site.name: item.facts for item in plan.ahead.fields}
    lines = [voice.say("outlook_invented")] if plan.farm.weather.invented else []
    lines += [f"{plan.farm.name}, {voice.iso(plan.now)}", *summary_sentences(plan, voice)]
    lines += left_sentences(plan, voice)
    lines += weather_lines(summary_of(list(facts.values())), voice)
    lines += [*phrases(plan.cautions, voice), *short_safety_texts(voice)]
    return "".join(f"# {line}\n" for line in lines) + plain_csv(
        [_flat(_block(block, voice)) for block in plan.blocks]
    )


def _flat(block: Json) -> Json:
    """A block as one row."""
    row = {name: "" if value is None else value for name, value in block.items()}
    return row | {"reasons": SEPARATOR.join(block["reasons"])}
