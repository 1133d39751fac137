"""A plan for fields as text: what it brings, how sure, the table of work, what is left, why so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hayweather.farm.records import UnitSystem
from hayweather.plan.record import Block, FieldsPlan
from hayweather.show.layout import (
    WIDEST_PROSE,
    TextColumn,
    bulleted_sentences,
    cell_lines,
    fitting,
    heading_lines,
    paragraphs,
    under_days,
    wrapped,
)
from hayweather.show.plan_data import BLOCKS, weather_of
from hayweather.show.plan_words import (
    behind_sentences,
    caution_sentences,
    left_sentences,
    missed_lines,
    plan_voice,
    reason_sentences,
    summary_sentences,
    visit_sentences,
    worth_sentences,
)
from hayweather.show.seasons_text import Part
from hayweather.show.voice import Voice, shown_safety
from hayweather.show.weather_facts import weather_lines


def plan_text(
    plan: FieldsPlan, units: UnitSystem, width: int = 80, *, all_cautions: bool = False
) -> str:
    """The whole plan as text, no line wider than `width` where that can be kept."""
    prose, voice = min(width, WIDEST_PROSE), plan_voice(plan, units)
    lines = _head(plan, voice, prose)
    lines += ["", *bulleted_sentences(summary_sentences(plan, voice), prose)]
    if plan.blocks:
        lines += ["", *_table(plan.blocks, voice, width)]
        if plan.prices is not None:
            lines += wrapped(voice.say("fields_table_note"), prose)
    for heading, said in _told(plan, voice):
        lines += ["", heading, *bulleted_sentences(said, prose)]
    lines += ["", *bulleted_sentences(caution_sentences(plan, voice), prose)]
    facts = weather_lines(weather_of(plan), voice)
    behind = [*facts, *behind_sentences(plan, voice)]
    lines += ["", *paragraphs(behind, prose)]
    lines += ["", *wrapped(voice.say("safety_heading") + ":", prose)]
    safety = shown_safety(voice, all_cautions)
    return "\n".join([*lines, *bulleted_sentences(safety, prose)]) + "\n"


def _told(plan: FieldsPlan, voice: Voice) -> list[tuple[str, list[str]]]:
    """Headings and what stands below them, those that have something."""
    told = {
        "fields_visits": visit_sentences(plan, voice),
        "fields_left_heading": left_sentences(plan, voice),
        "fields_why": reason_sentences(plan, voice),
        "fields_worth_heading": worth_sentences(plan, voice),
    }
    return [(voice.say(key), said) for key, said in told.items() if said]


def plan_parts(plan: FieldsPlan, voice: Voice) -> list[Part]:
    """The plan as parts of a page: what it brings, the table of work, visits, reasons."""
    columns = []
    if plan.blocks:
        columns = _columns(plan.blocks, voice)
        spans = tuple(voice.span(block.start, block.end) for block in plan.blocks)
        columns[0] = replace(columns[0], cells=spans)
        if len({block.baler for block in plan.blocks}) == 1:
            del columns[1]  # the visits below name it
    note = (voice.say("fields_table_note"),) if columns and plan.prices is not None else ()
    first = Part(
        voice.say("page_plan"),
        notes=note,
        tables=(("", columns),) if columns else (),
        said=tuple(summary_sentences(plan, voice)),
    )
    return [
        first,
        *(Part(heading.rstrip(":"), said=tuple(said)) for heading, said in _told(plan, voice)),
    ]


def _head(plan: FieldsPlan, voice: Voice, width: int) -> list[str]:
    """Whose plan, made when, until when; an invented sample says so first."""
    texts = [voice.say("outlook_invented")] if plan.farm.weather.invented else []
    texts += missed_lines(plan, voice)
    dated = replace(voice, evening=None)
    times = {"time": dated.when(plan.now), "end": dated.when(plan.night.end)}
    texts.append(voice.say("fields_title", farm=plan.farm.name, **times))
    return paragraphs(texts, width)


def _table(blocks: Sequence[Block], voice: Voice, width: int) -> list[str]:
    """Blocks of work in order of time, a line above each day."""
    columns, gap = fitting(_columns(blocks, voice), width)
    heads = heading_lines(columns, gap)
    starts = [block.start for block in blocks]
    rows = zip(starts, cell_lines(columns, gap), strict=True)
    return [line.rstrip() for line in (*heads, *under_days(rows, voice, len(heads[0])))]


def _columns(blocks: Sequence[Block], voice: Voice) -> list[TextColumn]:
    """When, which baler, which field, how, how much."""
    units = voice.units

    def text(name: str, cells: list[str], drop: int = 0) -> TextColumn:
        return TextColumn((voice.say(f"fields_column_{name}"),), tuple(cells), drop, is_text=True)

    def number(heading: str, name: str, drop: int = 0) -> TextColumn:
        cells = tuple(BLOCKS[name].shown(block, voice) for block in blocks)
        return TextColumn((voice.say(f"fields_column_{heading}_{units}"),), cells, drop)

    times = [f"{_clock(b.start, voice)} - {_clock(b.end, voice)}" for b in blocks]
    found = [
        text("time", times),
        text("baler", [voice.machine(block.baler) for block in blocks], 3),
        text("field", [block.field for block in blocks]),
        text("way", [voice.say(f"fields_way_{block.way}") for block in blocks]),
    ]
    if all(block.kg is not None for block in blocks):
        found += [number("area", "area_ha"), number("mass", "hay_t")]
    if all(block.gain_per_kg is not None for block in blocks):
        found.append(number("gain", "gain_per_t", 2))
    if any(block.water_l_t is not None for block in blocks):
        heading = voice.say(f"fields_column_water_{units}")
        found.append(TextColumn((heading,), tuple(_water(block, voice) for block in blocks), 1))
    return found


def _clock(time: np.datetime64, voice: Voice) -> str:
    """Time of day, short."""
    return voice.clock(time, words=False)


def _water(block: Block, voice: Voice) -> str:
    """Least and most water put on."""
    if block.water_l_t is None:
        return ""
    low, high = (voice.number(rate, "water_rate") for rate in block.water_l_t)
    return low if low == high else f"{low}-{high}"
