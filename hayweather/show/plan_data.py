"""A plan for fields as data: JSON ``hayweather/fields/1``, CSV of its blocks, a frame."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, get_args

import numpy as np

from hayweather.farm.records import UnitSystem
from hayweather.plan.record import FieldResult, FieldsPlan, Source, Visit, WayName
from hayweather.show.outlook_data import UNITS
from hayweather.show.plan_words import (
    behind_sentences,
    left_sentences,
    missed_lines,
    plan_voice,
    summary_sentences,
)
from hayweather.show.table import Column, Document, Json, Screen, Table
from hayweather.show.voice import Voice, phrases, safety_texts, short_safety_texts
from hayweather.show.weather_facts import WEATHER, WeatherSummary, summary_of, weather_lines

if TYPE_CHECKING:
    import pandas as pd

SLOT_MINUTES = 15
NUMBER = Screen("")
WAYS: tuple[str, ...] = get_args(WayName)
SOURCES: tuple[str, ...] = get_args(Source)


def _rate(place: int) -> Any:
    """Least (0) or most (1) water put on in a block."""
    return lambda block: None if block.water_l_t is None else block.water_l_t[place]


def _money_by_ton(name: str, help_: str, value: str = "") -> Column:
    """Money by weight of hay under both its names."""
    return Column(
        f"{name}_per_t", help_, value or f"{name}_per_kg", "price_by_mass", us=f"{name}_per_ton"
    )


def _hay(name: str, help_: str, value: str) -> Column:
    """A weight of hay under both its names."""
    return Column(f"{name}_t", help_, value, "tons", us=f"{name}_tons")


BLOCKS = Table(
    (
        Column("baler", "Name of the baler", kind="text"),
        Column("field", "Name of the field", kind="text"),
        Column("rig", "Name of the rig; null without", kind="text", null=True),
        Column("how", "On dew, behind the rig, or dry", "way", kind="text", choices=WAYS),
        Column("start", "Start", kind="time", index=True),
        Column("end", "End", kind="time"),
        Column("hours", "Length", unit="h"),
        replace(_hay("hay", "Hay baled in it", "kg"), screen=NUMBER),
        Column("area_ha", "Area baled in it", "area_m2", "area", us="area_acres", screen=NUMBER),
        replace(_money_by_ton("gain", "What a ton brings above leaving it to lie"), screen=NUMBER),
        Column("water_least_l_per_t", "Least water put on", _rate(0), "water_rate",
               us="water_least_gal_per_ton"),
        Column("water_most_l_per_t", "Most water put on", _rate(1), "water_rate",
               us="water_most_gal_per_ton"),
        Column("water_l", "Water used", "water_l", "volume", us="water_gal"),
        Column("reasons", "Why there, then and so", kind="remarks"),
    ),
    "One baler in one field in one way, without a break.",
    both_units=True,
)  # fmt: skip
VISITS = Table(
    (
        Column("baler", "Name of the baler", kind="text"),
        Column("field", "Name of the field", kind="text"),
        Column("came_from", "The field it worked in before; null for its first", kind="text",
               null=True),
        Column("drive_minutes", "From leaving that to being ready here; set-up alone for the first",
               lambda visit: 60 * visit.drive_h, unit="min"),
        Column("drive_cost", "What that costs"),
        Column("start", "Start of the first work", kind="time"),
        Column("end", "End of the last work", kind="time"),
        Column("hours", "Of work", unit="h"),
        _hay("hay", "Hay baled in it", "kg"),
        Column("area_ha", "Area baled in it", "area_m2", "area", us="area_acres"),
        _hay("left", "Hay of the field when it leaves", "left_kg"),
        Column("why_left", "Why it leaves hay", lambda visit: _one(visit), kind="remarks"),
        Column("notes", "Raking before, where the rig comes from", "remarks", kind="remarks"),
    ),
    "One baler in one field, from its first work there until it leaves.",
)  # fmt: skip
MISSED = Table(
    (
        Column("field", "Name of the field", kind="text"),
        Column("due_for", "What it is due for", kind="text", choices=("finish", "irrigation")),
        Column("due", "When the last bale should be made", "time", kind="time"),
        _hay("late", "Hay baled later, or not at all", "late_kg"),
        Column("late_area_ha", "The same as area", "late_area_m2", "area", us="late_area_acres"),
        Column("done", "When it is done; null where it is not", kind="time", null=True),
        Column("cost", "What being late costs"),
        Column("saves", "What would save it, found by deciding again", kind="remarks"),
    ),
    "A date that a field misses.",
)  # fmt: skip


def _one(visit: Visit) -> tuple[Any, ...]:
    """Why a visit leaves hay, as a list."""
    return () if visit.why_left is None else (visit.why_left,)


RANGE = Table(
    (
        Column("mean", "Mean", lambda found: found[0]),
        Column("p10", "One run in ten is lower", lambda found: found[1]),
        Column("p90", "One run in ten is higher", lambda found: found[2]),
    ),
    "A mean and eight in ten forecast runs.",
)
BESIDE = Table(
    (
        Column("rule", "Which", kind="text", choices=SOURCES),
        Column("gain", "What the rule brings above leaving everything", "expected"),
        Column("more_mean", "What the plan brings more on unseen runs, mean", "mean"),
        Column("more_p10", "The same, one run in ten is lower", "low"),
        Column("more_p90", "The same, one run in ten is higher", "high"),
    ),
    "The plan beside a rule of growers.",
)
WAY = Table(
    (
        Column("how", "On dew, behind the rig, or dry", "way", kind="text", choices=WAYS),
        Column("best_at", "Its best time", "time", kind="time"),
        _money_by_ton("value", "What a ton brings then, work paid"),
    ),
    "The best time of a way.",
)


def _level(name: str) -> Any:
    """A laboratory figure expected of the bales."""

    def found(item: FieldResult) -> float | None:
        level: float | np.ndarray | None = getattr(item.sheet, name, None)
        return None if level is None else float(level)

    return found


FIELD = Table(
    (
        Column("field", "Name in the farm file", "field.name", kind="text"),
        _hay("hay", "Hay lying there", "kg"),
        _hay("baled", "Hay baled", "baled_kg"),
        _hay("left", "Hay left at the end", "left_kg"),
        Column("left_area_ha", "Area left", "left_area_m2", "area", us="left_area_acres"),
        Column("left_cost", "What leaving it costs, all of it"),
        _money_by_ton("left_cost", "What leaving costs, beside baling in the band now"),
        _money_by_ton("waiting", "What hay brings that still lies at the end"),
        Column("ways", "The best time of each way", kind="rows", of=WAY),
        Column("crude_protein", "Of dry matter", _level("crude_protein"), unit="%"),
        Column("ndf", "Of dry matter", _level("ndf"), unit="%"),
        Column("feed_value", "Relative feed value", _level("feed_value")),
        Column("likely_class", "Class that the bales resemble", "hay_class", kind="text",
               null=True),
        Column("notes", "How its run began; what to do where no hour is fit", "remarks",
               kind="remarks"),
    ),
    "What the plan makes of one field.",
)  # fmt: skip


def weather_of(plan: FieldsPlan) -> WeatherSummary:
    """Source and age of the weather of every site once."""
    facts = {item.setting.site.name: item.facts for item in plan.night.fields}
    return summary_of(list(facts.values()))


def _headline(plan: FieldsPlan, voice: Voice) -> str:
    missed = [f"{line}." for line in missed_lines(plan, voice)]
    return " ".join(missed + summary_sentences(plan, voice) + left_sentences(plan, voice))


PLAN = Document(
    "hayweather/fields/1",
    Table(
        (
            Column("farm", "Name of the farm", "farm.name", kind="text"),
            Column("now", "The time that counted as now", kind="time"),
            Column("end", "End of what is planned", "night.end", kind="time"),
            Column("days", "Nights asked for", kind="count"),
            Column("slot_minutes", "Step of the plan", lambda _: SLOT_MINUTES, kind="count"),
            UNITS,
            Column("currency", "Of all money", "farm.money.currency", kind="text", null=True),
            Column("invented", "True for a made-up sample", "farm.weather.invented", kind="truth"),
            Column("weather", "What weather it was made from", weather_of, kind="row", of=WEATHER),
            Column("source", "The plan, or the rule that was better", kind="text",
                   choices=SOURCES),
            Column("gain", "What it brings above leaving everything"),
            Column("gain_range", "The same with the least and with the most loss of leaf",
                   kind="numbers", null=True),
            Column("moves_cost", "What drives and set-ups cost, paid in the gain"),
            Column("bound", "No schedule brings more, fills spread evenly over the work"),
            Column("gap", "How much more the bound is, as a part of the gain"),
            Column("seconds", "Time taken", unit="s"),
            Column("timed_out", "Time was up before it was near the bound", kind="truth"),
            Column("unseen", "What it brings on runs it was not made with", kind="row", of=RANGE,
                   null=True),
            Column("beside", "Beside rules of growers", "comparisons", kind="rows", of=BESIDE),
            Column("missed", "Dates that fields miss", kind="rows", of=MISSED),
            Column("visits", "Visits in order of time", kind="rows", of=VISITS),
            Column("blocks", "Work in order of time", kind="rows", of=BLOCKS),
            Column("fields", "One entry a field", kind="rows", of=FIELD),
            Column("headline", "What it brings, in sentences", kind="text", said=_headline),
            Column("assumed", "Rules kept, rest made, prices assumed", kind="texts",
                   said=behind_sentences),
            Column("cautions", "Cautions for all of it; those that always show last", kind="texts",
                   said=lambda plan, voice: [*phrases(plan.cautions, voice), *safety_texts(voice)]),
        ),
        "Which field when, by which baler and how (hayweather plan).",
    ),
)  # fmt: skip


def plan_json(plan: FieldsPlan, units: UnitSystem) -> str:
    """The plan as JSON text; `units` are those of the sentences in it."""
    return PLAN.text(plan, plan_voice(plan, units))


def plan_form(plan: FieldsPlan, units: UnitSystem, *, exact: bool = False) -> Json:
    """The plan as plain dictionaries and lists, numbers with all digits where `exact`."""
    return PLAN.form(plan, plan_voice(plan, units), exact=exact)


def plan_csv(plan: FieldsPlan, units: UnitSystem, *, raw: bool = False) -> str:
    """The blocks as CSV, lines with ``#`` before them saying what stands behind."""
    voice = plan_voice(plan, units)
    lines = [voice.say("outlook_invented")] if plan.farm.weather.invented else []
    lines += [
        *missed_lines(plan, voice),
        f"{plan.farm.name}, {voice.iso(plan.now)}",
        *summary_sentences(plan, voice),
    ]
    lines += left_sentences(plan, voice)
    lines += weather_lines(weather_of(plan), voice)
    lines += [*phrases(plan.cautions, voice), *short_safety_texts(voice)]
    return BLOCKS.csv(plan.blocks, voice, lines, raw=raw)


def blocks_frame(plan: FieldsPlan, units: UnitSystem = "metric") -> pd.DataFrame:
    """The blocks of work as a DataFrame indexed by their local start; see `Table.frame`."""
    voice = replace(plan_voice(plan, units), language="en")
    return replace(BLOCKS, both_units=False).frame(plan.blocks, voice)
