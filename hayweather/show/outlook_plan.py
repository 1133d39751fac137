"""The plan in the outlook: who is where, when machines cannot be in every field at once."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from hayweather.nights import Night
from hayweather.show.table import Column, Table
from hayweather.show.voice import Voice, capital, phrases
from hayweather.words import Remark

if TYPE_CHECKING:
    from hayweather.plan.record import Block, FieldsPlan

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


def plan_of(outlook: Night) -> FieldsPlan | None:
    """The plan where it is not simply the hours of go."""
    from hayweather.plan.make import plan_shown

    return plan_shown(outlook)


def planned_blocks(outlook: Night) -> tuple[Block, ...]:
    """The plan's work until the night ends; none where the hours of go are the plan."""
    plan = plan_of(outlook)
    if plan is None:
        return ()
    ends = max(field.headline.turn for field in outlook)
    return tuple(
        replace(block, end=min(block.end, ends)) for block in plan.blocks if block.start < ends
    )


def plan_sentences(outlook: Night, voice: Voice) -> list[str]:
    """Who is where tonight, where machines cannot be everywhere at once."""
    return [
        voice.say(
            "outlook_plan_row", span=voice.span(block.start, block.end), baler=block.baler,
            field=block.field, way=voice.say(f"fields_way_{block.way}"),
        )
        for block in planned_blocks(outlook)
    ]  # fmt: skip


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
