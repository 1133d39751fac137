"""The plan in the outlook: who is where, when machines cannot be in every field at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.course import Course
from hayweather.baling.setting import all_machines
from hayweather.baling.windows import Window
from hayweather.nights import FieldNight, Night
from hayweather.show.table import Column, Table
from hayweather.show.voice import Voice, capital, phrases
from hayweather.windrow.trajectory import QUARTER
from hayweather.words import Remark

if TYPE_CHECKING:
    from hayweather.plan.record import Block, FieldsPlan
    from hayweather.plan.work import Work

PLANNED = Table(
    (
        Column("baler", "Name of the baler", kind="text"),
        Column("field", "Name of the field", kind="text"),
        Column("rig", "Name of the rig before it; null for none", kind="text", null=True),
        Column("how", "On dew, behind the rig, or dry", "way", kind="text",
               choices=("dew", "rig", "dry")),
        Column("start", "Start of the work", kind="time"),
        Column("end", "End of the work", kind="time"),
    ),
    "One baler in one field in one way, without a break, by the plan.",
)  # fmt: skip


def missed_lines(outlook: Night, voice: Voice) -> list[str]:
    """The dates that fields miss: the first line everywhere."""
    return [capital(text) for text in phrases(missed_said(outlook), voice)]


def missed_said(outlook: Night) -> tuple[Remark, ...]:
    """The same as remarks."""
    plan = plan_of(outlook)
    return () if plan is None else plan.missed_said


def cautions_of(outlook: Night) -> tuple[Remark, ...]:
    """Cautions for all of a night, first what its plan was made without."""
    plan = plan_of(outlook)
    return (*(() if plan is None else plan.lacking), *outlook.cautions)


def plan_of(outlook: Night) -> FieldsPlan | None:
    """The plan where it is not simply the hours of go."""
    from hayweather.plan.make import plan_is_needed, plan_shown

    return plan_shown(outlook) if plan_is_needed(outlook) else None


def planned_blocks(outlook: Night) -> tuple[Block, ...]:
    """The plan's work until the night ends; none where the hours of go are the plan."""
    return () if plan_of(outlook) is None else tonight(outlook)


def tonight(outlook: Night) -> tuple[Block, ...]:
    """The work until the night ends, with what comes to be done by then."""
    from hayweather.plan.make import plan_shown

    ends, plan = max(field.headline.turn for field in outlook), plan_shown(outlook)
    return tuple(_cut(block, ends, plan.work) for block in plan.blocks if block.start < ends)


def _cut(block: Block, ends: np.datetime64, work: Work | None) -> Block:
    """A block as far as it is done by the end of a night."""
    if block.end <= ends:
        return block
    cut = replace(block, end=ends)
    if block.kg is None or block.area_m2 is None or work is None:
        return replace(cut, kg=None, area_m2=None, water_l=None)
    _, kg, water_l = work.done_of(cut)
    area = None if kg is None else block.area_m2 * kg / block.kg
    return replace(cut, kg=kg, area_m2=area, water_l=water_l)


def plan_sentences(outlook: Night, voice: Voice) -> list[str]:
    """Who is where tonight, where machines cannot be everywhere at once, and the rig's fills."""
    blocks = planned_blocks(outlook)
    rows = [_row(block, voice) for block in blocks]
    fills = any(block.rig is not None for block in blocks)
    return [*rows, voice.say("outlook_plan_fills")] if fills else rows


def _row(block: Block, voice: Voice) -> str:
    return voice.say(
        "outlook_plan_row", span=voice.span(block.start, block.end), baler=block.baler,
        field=block.field, way=voice.say(f"fields_way_{block.way}"),
    )  # fmt: skip


def plan_of_field(field: FieldNight, outlook: Night, voice: Voice) -> list[str]:
    """Tonight's work in one field by the plan, before what its hay would allow."""
    rows = [_row(block, voice) for block in planned_blocks(outlook) if block.field == field.name]
    said = [f"{capital(row)}." for row in rows] or [f"{capital(voice.say('screen_no_machine'))}."]
    return [*said, voice.say("headline_hay")]


def shared_sentences(outlook: Night, voice: Voice) -> list[str]:
    """That other fields, not shown, share the machines of the one that is."""
    shown = {field.name for field in outlook}
    machines = {field.setting.baler.name for field in outlook}
    default = next(iter(outlook.farm.balers), None)
    others = [
        name
        for name, field in outlook.farm.fields.items()
        if name not in shown and (field.baler or default) in machines
    ]
    if not others:
        return []
    return [voice.say("outlook_shared", fields=voice.listed(others))]


WAYS = {"dew": Call.NATURAL_DEW, "rig": Call.ADD_MOISTURE}


@dataclass(frozen=True)
class Stretch:
    """Work in a field without a break and in one way, as every first screen shows it.

    Attributes
    ----------
    window
        Call, start, end, water and chances.
    baler, rig
        Names; no rig: None.
    dry
        Baled dry by the grower's word; then no chance is told.
    rates_l_t
        The rates to dial in it, in order of time; none without a rig.
    area_m2
        Field baled in it; None where not known.
    finishes
        Whether the field is done at its end.
    """

    window: Window
    baler: str
    rig: str | None
    dry: bool
    rates_l_t: tuple[float, ...]
    area_m2: float | None
    finishes: bool


def stretches_of(field: FieldNight, outlook: Night) -> list[Stretch]:
    """Tonight's work in a field."""
    if field.setting.field.all_baled:
        return []
    blocks = [block for block in tonight(outlook) if block.field == field.name]
    return [_by_block(field, block, outlook) for block in blocks]


def _by_block(field: FieldNight, block: Block, outlook: Night) -> Stretch:
    """A block of the plan with the chances that the machines in it have."""
    from hayweather.plan.make import plan_shown

    course = course_of_machines(field, outlook, block.baler, block.rig)
    work = plan_shown(outlook).work
    call = WAYS.get(block.way, Call.NATURAL_DEW)
    if block.way == "dew" and _mostly_ready(field, block):
        call = Call.READY
    window = course.window_of(call, block.start, block.end)
    rates: tuple[float, ...] = ()
    if block.way == "rig":
        rates = () if work is None else work.rates_l_t(block)
        rates = rates or course.rates_between(block.start, block.end)
    return Stretch(
        window=window,
        baler=block.baler,
        rig=block.rig,
        dry=block.way == "dry",
        rates_l_t=rates,
        area_m2=block.area_m2,
        finishes=work is not None and bool(work.walk.done_at.get(field.name) == block.end),
    )


def course_of_machines(field: FieldNight, outlook: Night, baler: str, rig: str | None) -> Course:
    """The hours of a field as a baler finds them, with a rig or with the field's own."""
    balers, rigs = all_machines(outlook.farm)
    ahead = field.setting.rig if rig is None else next(item for item in rigs if item.name == rig)
    return field.course(next(item for item in balers if item.name == baler), ahead)


@dataclass(frozen=True)
class Piece:
    """Work of one baler in one way; UTC."""

    baler: str
    rig: str | None
    way: str
    start: np.datetime64
    end: np.datetime64


def sure_of(field: FieldNight, outlook: Night, work: Sequence[Piece]) -> tuple[float, float] | None:
    """Chances that all of some work, and that half of it, finds the hay ready in its ways.

    None without forecast runs, and where some of it is dry, by the grower's word.
    """
    good, weights = [], None
    for item in work:
        if item.way not in WAYS:
            return None
        course = course_of_machines(field, outlook, item.baler, item.rig)
        good.append(course.good_between(WAYS[item.way], item.start, item.end))
        weights = course.weights.weights
    if weights is None or not weights.any():
        return None
    inside = np.concatenate(good).mean(axis=0)
    return float(weights[inside == 1].sum()), float(weights[inside >= 0.5].sum())


def _mostly_ready(field: FieldNight, block: Block) -> bool:
    """Whether hay that is baled as it lies is ready there for another reason than dew."""
    starts = field.shown.weather.start[0] + np.arange(field.shown.way.size) * QUARTER
    ways = field.shown.way[(starts >= block.start) & (starts < block.end)]
    return bool((ways == Call.READY).sum() > ways.size / 2)


def missed_sentences(outlook: Night, voice: Voice) -> list[str]:
    """How much is late, and what would save it; nothing where no date is missed."""
    from hayweather.show import plan_words

    plan = plan_of(outlook)
    return [] if plan is None else plan_words.missed_sentences(plan, voice)
