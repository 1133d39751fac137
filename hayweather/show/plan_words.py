"""A plan for fields in sentences: what it brings, how sure, what is left, why so."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from itertools import product

import numpy as np

from hayweather.baling.clock import span_of
from hayweather.catalog.prices import YEAR
from hayweather.farm.bands import limits_remark
from hayweather.farm.records import UnitSystem
from hayweather.plan.case import HAUL_H
from hayweather.plan.record import Block, FieldResult, FieldsPlan, Missed, Visit
from hayweather.show.outlook_words import (
    asks_for_stems,
    field_voice,
    maybe_sentences,
    stems_sentence,
    unknown_runs,
    unknown_text,
)
from hayweather.show.voice import Voice, capital, money_by_ton, money_text, phrase, phrases


def plan_voice(plan: FieldsPlan, units: UnitSystem) -> Voice:
    """How to speak of a plan: the farm's language, the clock of its crews, tonight."""
    evening = span_of(plan.now, plan.night.timezone).evening
    return Voice.of(plan.farm, units, plan.night.timezone, evening)


def money(plan: FieldsPlan, value: float, voice: Voice) -> str:
    """Money in the farm's currency, whole units."""
    return money_text(value, voice, plan.farm.money.currency)


def missed_lines(plan: FieldsPlan, voice: Voice) -> list[str]:
    """A line for each date that is missed: the first that every output says."""
    if voice.evening is not None:  # the day is named, tonight's too
        voice = replace(voice, evening=voice.evening - timedelta(days=1))
    return [
        voice.say("fields_missed", field=item.field.upper(), time=voice.when(item.time))
        for item in plan.missed
    ]


def missed_sentences(plan: FieldsPlan, voice: Voice) -> list[str]:
    """How much is late, what that costs, and what would save it."""
    return [text for item in plan.missed for text in _missed(plan, item, voice)]


def _missed(plan: FieldsPlan, item: Missed, voice: Voice) -> Iterator[str]:
    """One missed date."""
    done = voice.say("fields_missed_open")
    if item.done is not None:
        done = voice.say("fields_missed_done", time=voice.when(item.done, is_end=True))
    values = {
        "field": capital(item.field),
        "area": voice.counted(item.late_area_m2, "area"),
        "mass": voice.counted(item.late_kg, "tons"),
        "time": voice.when(item.time),
        "done": done,
    }
    if item.due_for == "irrigation":
        yield voice.say("fields_missed_how_irrigation", hours=f"{HAUL_H:.0f}", **values)
    else:
        yield voice.say("fields_missed_how", **values)
    if asks_for_stems(plan.night[item.field]):
        yield voice.say("fields_missed_stems")
    if item.cost:
        yield voice.say("fields_missed_cost", cost=money(plan, item.cost, voice))
    if item.saves:
        yield voice.say("fields_missed_saves", what="; ".join(phrases(item.saves, voice)))
    elif item.tried:
        yield voice.say("fields_missed_nothing")


def visit_sentences(plan: FieldsPlan, voice: Voice) -> list[str]:
    """Every visit: the drive before it, the work, what is left and why, what else to do."""
    return [
        voice.say(
            "fields_visit",
            baler=visit.baler,
            field=visit.field,
            span=voice.span(visit.start, visit.end),
            what="; ".join(_visit_parts(visit, voice)),
        )
        for visit in plan.visits
    ]


def _visit_parts(visit: Visit, voice: Voice) -> Iterator[str]:
    """What is said of one visit."""
    drive = voice.duration(visit.drive_h)
    if visit.came_from is not None:
        yield voice.say("fields_visit_from", time=drive, field=visit.came_from)
    elif visit.drive_h > 0:
        yield voice.say("fields_visit_first", time=drive)
    yield voice.say("fields_visit_work", hours=voice.duration(visit.hours))
    if visit.left_kg == 0:
        yield voice.say("fields_visit_done")
    elif visit.left_kg is not None and visit.why_left is not None and visit.area_m2 and visit.kg:
        yield voice.say(
            "fields_visit_left",
            area=voice.counted(visit.left_kg / visit.kg * visit.area_m2, "area"),
            mass=voice.counted(visit.left_kg, "tons"),
            why=phrase(visit.why_left, voice),
        )
    yield from phrases(visit.remarks, voice)


def _source_sentence(plan: FieldsPlan, voice: Voice) -> str:
    """What the schedule comes from, and what it is expected to bring."""
    if plan.prices is None:
        windows = plan.source == "windows"
        return voice.say("fields_windows_unpriced" if windows else "fields_rule_unpriced")
    gain, moves = (money(plan, value, voice) for value in (plan.gain, plan.moves_cost))
    return voice.say(f"fields_source_{plan.source}", gain=gain, moves=moves)


def by_ton(plan: FieldsPlan, per_kg: float, voice: Voice) -> str:
    """Money by weight of hay, in the reader's ton."""
    return money_by_ton(1000 * per_kg, voice, plan.farm.money.currency)


def summary_sentences(plan: FieldsPlan, voice: Voice) -> list[str]:
    """What is late, unknown or unsure, what the schedule brings, how near to the best, how sure."""
    first = [*missed_sentences(plan, voice), *_before_all(plan, voice)]
    said = [_source_sentence(plan, voice)]
    if not plan.blocks:
        unsure = any(unknown_runs(field) or field.maybe for field in plan.night.fields)
        said = [voice.say("fields_idle_unsure" if unsure else "fields_idle")]
    elif math.isfinite(plan.gap):
        said.append(voice.say("fields_gap", gap=f"{math.ceil(1000 * plan.gap) / 10:.1f}"))
    elif not math.isnan(plan.gap):
        said.append(voice.say("fields_gap_none"))
    if plan.timed_out:
        said.append(voice.say("fields_timed_out", seconds=f"{plan.seconds:.1f}"))
    if plan.unseen is not None and plan.blocks:
        mean, low, high = (money(plan, value, voice) for value in plan.unseen)
        said.append(voice.say("fields_unseen", mean=mean, low=low, high=high))
    return [*first, *said, *_by_loss(plan, voice), *(_beside(plan, voice) if plan.blocks else [])]


def _by_loss(plan: FieldsPlan, voice: Voice) -> Iterator[str]:
    """What the range of the loss of leaf does to the gain, where it does anything."""
    if plan.gain_range is None or not plan.blocks:
        return
    least, most = (money(plan, value, voice) for value in plan.gain_range)
    if least == most:
        return
    balers = plan.farm.balers.values()
    measured = any(baler.leaf_loss_range is not None for baler in balers)
    key = "fields_by_loss_measured" if measured else "fields_by_loss"
    yield voice.say(key, least=least, most=most)


def _before_all(plan: FieldsPlan, voice: Voice) -> Iterator[str]:
    """Of each field what nobody knows tonight, and where to probe first: no work is sure there."""
    unknown = False
    for field in plan.night.fields:
        own = field_voice(field, voice)
        texts = [unknown_text(run, own) for run in unknown_runs(field)]
        unknown = unknown or bool(texts)
        if not field.windows:
            texts = [*stems_sentence(field, own), *texts, *maybe_sentences(field, own)]
        if texts:
            note = ". ".join(capital(text.rstrip(".")) for text in texts)
            yield voice.say("fields_note", field=field.name, note=note)
    if unknown:
        yield voice.say("unknown_do")


def _beside(plan: FieldsPlan, voice: Voice) -> Iterator[str]:
    """The schedule beside the rules that it is not."""
    for item in plan.comparisons:
        if item.rule != plan.source:
            values = {
                name: money(plan, getattr(item, name), voice) for name in ("mean", "low", "high")
            }
            rule, key = voice.say(f"fields_rule_{item.rule}"), "fields_beside"
            if item.mean < 0:
                key, values["mean"] = "fields_beside_less", money(plan, -item.mean, voice)
            text = voice.say(key, rule=rule, **values)
            inside = item.low <= item.mean <= item.high
            yield text if inside else f"{text} {voice.say('fields_few_weigh')}"


def reason_sentences(plan: FieldsPlan, voice: Voice) -> list[str]:
    """Why each block of work is where it is."""
    return [
        voice.say(
            "fields_why_line",
            span=voice.span(block.start, block.end),
            baler=block.baler,
            field=block.field,
            way=voice.say(f"fields_way_{block.way}"),
            reasons="; ".join(block_reasons(block, voice)),
        )
        for block in plan.blocks
        if block.reasons
    ]


def block_reasons(block: Block, voice: Voice) -> list[str]:
    """The reasons of a block."""
    return phrases(block.reasons, voice)


def left_sentences(plan: FieldsPlan, voice: Voice) -> list[str]:
    """Hay left at the end, and what it costs."""
    said = []
    for item in plan.fields:
        if item.left_kg <= 0:
            continue
        area = voice.counted(item.left_area_m2, "area")
        mass = voice.counted(item.left_kg, "tons")
        if plan.prices is None:
            said.append(voice.say("fields_left_plain", field=item.field.name, area=area, mass=mass))
            continue
        each = by_ton(plan, item.left_cost_per_kg, voice)
        said.append(
            voice.say(
                "fields_left",
                field=item.field.name,
                area=area,
                mass=mass,
                cost=money(plan, item.left_cost, voice),
                each=each,
            )
        )
    return said or ([voice.say("fields_left_none")] if plan.fields else [])


def worth_sentences(plan: FieldsPlan, voice: Voice) -> list[str]:
    """The best time of each way in every field, what waiting brings, and the bales' quality."""
    said = []
    for item in plan.fields:
        said += _worth(plan, item, voice) + _quality(item, voice)
        said += [
            voice.say("fields_note", field=item.field.name, note=phrase(remark, voice))
            for remark in item.remarks
        ]
    return said


def _worth(plan: FieldsPlan, item: FieldResult, voice: Voice) -> list[str]:
    """The ways of one field."""
    ways = [
        voice.say(
            "fields_worth_way",
            way=voice.say(f"fields_way_{way.way}"),
            value=by_ton(plan, way.value_per_kg, voice),
            time=voice.when(way.time),
        )
        for way in item.ways
    ]
    if not ways:
        return []
    waiting = by_ton(plan, item.waiting_per_kg, voice)
    values = {"field": item.field.name, "ways": ", ".join(ways)}
    return [voice.say("fields_worth", **values, waiting=waiting)]


def _quality(item: FieldResult, voice: Voice) -> list[str]:
    """Laboratory figures expected of the bales."""
    if item.sheet is None:
        return []
    figures = []
    for label, value in (("protein", item.sheet.crude_protein), ("ndf", item.sheet.ndf)):
        if value is not None:
            shown = voice.amount(float(value), "percent")
            figures.append(voice.say(f"fields_quality_{label}", value=shown))
    if item.hay_class is not None and item.sheet.feed_value is not None:
        level = f"{float(item.sheet.feed_value):.0f}"
        name = voice.say(f"fields_class_{item.hay_class}")
        figures.append(voice.say("fields_quality_class", value=level, name=name))
    return [voice.say("fields_quality", field=item.field.name, figures=voice.listed(figures))]


def behind_sentences(plan: FieldsPlan, voice: Voice) -> list[str]:
    """Rules kept, rest made, prices assumed."""
    said = [voice.say("fields_rules_note")]
    machines = product(plan.farm.balers.values(), (item.field for item in plan.fields))
    said += [capital(text) for text in phrases([limits_remark(*pair) for pair in machines], voice)]
    for crew, start, end in plan.rests:
        times = {"start": _minute(start, plan, voice), "end": _minute(end, plan, voice)}
        said.append(voice.say("fields_rest", crew=crew, **times))
    if plan.prices is not None and plan.prices.assumed:
        names = ", ".join(voice.say(f"fields_price_{name}") for name in plan.prices.assumed)
        said.append(voice.say("fields_assumed", year=YEAR, names=names))
    return said


def _minute(minute: int, plan: FieldsPlan, voice: Voice) -> str:
    """A minute after local midnight on the reader's clock."""
    local = voice.local(plan.now)
    midnight = plan.now - np.timedelta64(60 * local.hour + local.minute, "m")
    return voice.clock(midnight + np.timedelta64(minute, "m"))


def caution_sentences(plan: FieldsPlan, voice: Voice) -> list[str]:
    """Cautions for all of the plan."""
    return [capital(text) for text in phrases(plan.cautions, voice)]
