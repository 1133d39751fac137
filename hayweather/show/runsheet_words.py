"""The run sheet of a field in sentences: when, how much, which rate, when to fill."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import AS_IT_LIES, Call
from hayweather.plan.sheet_record import FieldSheet, Fill, RateStep, SheetWindow
from hayweather.show.outlook_words import (
    maybe_sentences,
    stems_sentence,
    unknown_runs,
    unknown_sentences,
)
from hayweather.show.voice import Voice


@dataclass(frozen=True)
class WorkSpan:
    """Work of one call without a pause other than to fill; UTC."""

    call: Call
    start: np.datetime64
    end: np.datetime64
    pieces: tuple[SheetWindow, ...]

    @property
    def steps(self) -> tuple[RateStep, ...]:
        """Rates to dial."""
        return tuple(step for piece in self.pieces for step in piece.rate_steps)


def work_spans(field: FieldSheet) -> list[WorkSpan]:
    """The work of a field, pieces of an hour put together; a fill between them is no pause."""
    spans: list[WorkSpan] = []
    for piece in field.windows:
        last = spans[-1] if spans else None
        if last is not None and last.call == piece.call and _follows(field, last.end, piece.start):
            spans[-1] = WorkSpan(last.call, last.start, piece.end, (*last.pieces, piece))
        else:
            spans.append(WorkSpan(piece.call, piece.start, piece.end, (piece,)))
    return spans


def _follows(field: FieldSheet, end: np.datetime64, start: np.datetime64) -> bool:
    """Whether nothing but a fill lies between an end and the next start."""
    return bool(start <= end) or any(
        fill.start <= end and fill.end >= start for fill in field.fills if fill.baler_waits
    )


def sheet_sentences(field: FieldSheet, voice: Voice) -> list[str]:
    """What the operator must know first, most important first."""
    night = field.outlook
    first = [*stems_sentence(night, voice), *unknown_sentences(night, voice)]
    maybe = maybe_sentences(night, voice)
    if not field.windows:
        return [*first, *maybe, *_none(field, voice)]
    return [
        *first,
        _work(field, voice),
        *_turns(field, voice),
        *amounts_sentence(field, voice),
        *_done(field, voice),
        *rate_sentences(field, voice),
        *fill_sentences(field, voice),
        *maybe,
    ]


def _none(field: FieldSheet, voice: Voice) -> list[str]:
    """Why there is no work; that there is none only where all hours are known."""
    if field.outlook.windows:
        return [voice.say("sheet_none_left")]
    if field.outlook.maybe:
        return [voice.say("sheet_none_sure")]
    return [] if unknown_runs(field.outlook) else [voice.say("sheet_none")]


def _work(field: FieldSheet, voice: Voice) -> str:
    """When work starts and ends, on dew and with the rig."""
    totals = field.totals
    key = "sheet_work" if totals.rig_hours else "sheet_work_dew"
    if not totals.dew_hours:
        key = "sheet_work_rig"
    return voice.say(
        key,
        start=voice.when(field.windows[0].start),
        end=voice.when(field.windows[-1].end, is_end=True),
        hours=voice.duration(totals.hours),
        dew=voice.duration(totals.dew_hours),
        rig=voice.duration(totals.rig_hours),
    )


def _turns(field: FieldSheet, voice: Voice) -> list[str]:
    """When the rig goes on and off; nothing where the first and last time say it all."""
    spans = work_spans(field)
    if len(spans) < 2:
        return []
    rig, dew = (
        voice.listed([_from_to(each, voice) for each in spans if each.call in calls])
        for calls in ((Call.ADD_MOISTURE,), AS_IT_LIES)
    )
    if rig and dew:
        return [voice.say("sheet_turns", rig=rig, dew=dew)]
    return [voice.say("sheet_turns_more", spans=rig or dew)]


def _from_to(span: WorkSpan, voice: Voice) -> str:
    end = voice.when(span.end, is_end=True)
    return voice.say("span_from_to", start=voice.when(span.start), end=end)


def amounts_sentence(field: FieldSheet, voice: Voice) -> list[str]:
    """Tons, acres, bales, water and fuel of all of it; nothing where nothing is known."""
    totals, parts = field.totals, []
    if totals.mass_kg is not None:
        parts.append(voice.counted(totals.mass_kg, "tons"))
    if totals.area_m2 is not None:
        parts.append(voice.counted(totals.area_m2, "area"))
    if totals.bales is not None:
        parts.append(voice.say("sheet_bales", number=f"{totals.bales:.0f}"))
    if totals.water_l and totals.loads is not None:
        water = voice.amount(totals.water_l, "volume")
        parts.append(voice.say("sheet_water", water=water, loads=f"{totals.loads:.1f}"))
    if totals.burner_fuel_l:
        fuel = voice.amount(totals.burner_fuel_l, "volume", extra=1)
        parts.append(voice.say("sheet_fuel", fuel=fuel))
    return [voice.say("sheet_amounts", amounts=voice.listed(parts))] if parts else []


def _done(field: FieldSheet, voice: Voice) -> list[str]:
    """When the field is done."""
    if field.area_done_at is None:
        return []
    return [voice.say("sheet_done", time=voice.when(field.area_done_at, is_end=True))]


def rate_sentences(field: FieldSheet, voice: Voice) -> list[str]:
    """The first rate, flow and speed, and how the rate follows the hay; nothing without a rig."""
    first = next((w for w in field.windows if w.call == Call.ADD_MOISTURE), None)
    change, rig = field.water_per_point_l_t, field.outlook.setting.rig
    if first is None or change is None or rig is None:
        return []
    step = first.rate_steps[0]
    rate = voice.amount(step.water_l_t, "water_rate")
    if step.flow_l_min is None or step.speed_m_s is None:
        begin = voice.say("sheet_rate_first_plain", rate=rate)
    else:
        flow = voice.amount(step.flow_l_min, "flow")
        speed = voice.amount(step.speed_m_s, "ground_speed")
        begin = voice.say("sheet_rate_first", rate=rate, flow=flow, speed=speed)
    point = voice.say(
        "sheet_rate_point",
        change=voice.amount(change, "water_rate"),
        most=voice.amount(rig.rate_max_l_t, "water_rate"),
        least=voice.amount(rig.rate_min_l_t, "water_rate"),
    )
    return [begin, point]


def fill_sentences(field: FieldSheet, voice: Voice) -> list[str]:
    """When to fill and for how long."""
    if field.fills:
        return [fill_text(fill, voice) for fill in field.fills]
    return [voice.say("sheet_no_fill")] if field.totals.water_l else []


def fill_text(fill: Fill, voice: Voice) -> str:
    """One fill in words."""
    key = "sheet_fill" if fill.baler_waits else "sheet_fill_idle"
    minutes = voice.amount(fill.minutes, "minutes")
    return voice.say(key, time=voice.when(fill.start), minutes=minutes)
