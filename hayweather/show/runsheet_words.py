"""The run sheets in sentences: when, where, how much, which rate, what stands between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import numpy as np

from hayweather.baling.calls import Call
from hayweather.plan.record import WayName
from hayweather.plan.sheet_record import (
    Answer,
    Dial,
    FieldWork,
    Heat,
    MachineSheet,
    Piece,
    RunSheet,
    Step,
    Totals,
)
from hayweather.show.outlook_words import (
    farm_voice,
    field_voice,
    maybe_sentences,
    stems_sentence,
    unknown_runs,
    unknown_sentences,
    warned_sentences,
)
from hayweather.show.voice import Voice, capital, phrase, phrases
from hayweather.units import symbol_of


@dataclass(frozen=True)
class WorkSpan:
    """Work of a machine in one field and way without a pause other than for a fill; UTC."""

    field: str
    way: WayName
    start: np.datetime64
    end: np.datetime64
    pieces: tuple[Piece, ...]

    @property
    def call(self) -> Call:
        """What the hay is called at its start."""
        return self.pieces[0].call

    @property
    def dials(self) -> tuple[Dial, ...]:
        """Settings."""
        return tuple(dial for piece in self.pieces for dial in piece.dials)


def work_spans(machine: MachineSheet) -> list[WorkSpan]:
    """The work of a machine, pieces of an hour put together; a fill between them is no pause."""
    spans: list[WorkSpan] = []
    waits = [step for step in machine.steps if step.kind in ("fill", "wait")]
    for piece in machine.pieces:
        last = spans[-1] if spans else None
        if last is not None and _goes_on(last, piece, waits):
            spans[-1] = WorkSpan(last.field, last.way, last.start, piece.end, (*last.pieces, piece))
        else:
            spans.append(WorkSpan(str(piece.field), piece.way, piece.start, piece.end, (piece,)))
    return spans


def _goes_on(last: WorkSpan, piece: Piece, waits: Sequence[Step]) -> bool:
    """Whether nothing but a fill lies between a span and the next piece, of the same kind."""
    if (last.field, last.way, last.pieces[-1].call) != (piece.field, piece.way, piece.call):
        return False
    return bool(piece.start <= last.end) or any(
        fill.start <= last.end and fill.end >= piece.start for fill in waits
    )


def sheet_voice(sheet: RunSheet, units: str) -> Voice:
    """How to speak of the sheets: the farm's language, the clock of its first field."""
    return farm_voice(sheet.night, "us" if units == "us" else "metric")


def machine_title(machine: MachineSheet, voice: Voice) -> str:
    """``"Baler grande"``; the kind alone where that is the name."""
    return title_of(machine.name, machine.kind, voice)


def title_of(name: str, kind: str, voice: Voice) -> str:
    """The same of a machine that may have no work."""
    if name == kind:
        return voice.say(f"sheet_machine_{kind}")
    return voice.say(f"sheet_machine_{kind}_named", name=name)


def missed_sentences(sheet: RunSheet, voice: Voice) -> list[str]:
    """The dates that are missed: the first line everywhere."""
    return [capital(text) for text in phrases(sheet.missed, voice)]


def machine_sentences(machine: MachineSheet, voice: Voice) -> list[str]:
    """What the driver must know first, most important first."""
    pieces = machine.pieces
    spans = work_spans(machine)
    said = [
        voice.say(
            "sheet_work",
            start=voice.when(pieces[0].start),
            field=pieces[0].field,
            end=voice.when(pieces[-1].end, is_end=True),
            ways=voice.listed(hours_by_way(machine.totals, voice)),
        )
    ]
    if len(spans) > 1:
        said.append(voice.say("sheet_order", spans="; ".join(span_text(s, voice) for s in spans)))
    said += [
        voice.say("sheet_pause", start=voice.when(start), end=voice.when(end))
        for start, end in pauses(machine)
    ]
    said += amounts_sentence(machine.totals, voice)
    said += [
        voice.say("sheet_done", field=field, time=voice.when(time, is_end=True))
        for field, time in machine.done
    ]
    return [*said, *rate_sentences(machine, voice), *fill_sentences(machine, voice)]


LONG_PAUSE = np.timedelta64(2 * 3600, "s")
"""From this much on a machine that stands is told to rest."""


def pauses(machine: MachineSheet) -> list[tuple[np.datetime64, np.datetime64]]:
    """Long times between a machine's work in which nothing of its sheet happens, UTC."""
    steps = sorted((step for step in machine.steps if step.kind != "off"), key=lambda s: s.start)
    found, free = [], steps[0].end
    for step in steps:
        if step.start - free >= LONG_PAUSE:
            found.append((free, step.start))
        free = max(free, step.end)
    return found


def hours_by_way(totals: Totals, voice: Voice) -> list[str]:
    """``["1 h on natural dew", "6 h with the rig"]``."""
    hours = {"dew": totals.dew_hours, "rig": totals.rig_hours, "dry": totals.dry_hours}
    return [
        voice.say(f"sheet_hours_{way}", hours=voice.duration(value))
        for way, value in hours.items()
        if value
    ]


def span_text(span: WorkSpan, voice: Voice) -> str:
    """``"creek 8 pm to 9:45 pm with the rig"``."""
    way = voice.say(f"sheet_way_{span.way}")
    return f"{span.field} {voice.span(span.start, span.end)} {way}"


def amounts_sentence(totals: Totals, voice: Voice) -> list[str]:
    """Tons, acres, bales, water and fuel of all of it; nothing where nothing is known."""
    parts = []
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


def rate_sentences(machine: MachineSheet, voice: Voice) -> list[str]:
    """The first rate, flow and speed of a rig."""
    dials = [d for piece in machine.pieces for d in piece.dials if d.water_l_t]
    if machine.kind != "rig" or not dials:
        return []
    return [voice.say("sheet_rate_first", setting=setting_text(dials[0], voice))]


def rates_text(dials: Sequence[Dial], voice: Voice) -> str:
    """``"8 pm 20.0, 8:15 pm 17.5 gal/ton"``: every rate to dial from when it changes."""
    changes = [next(same) for _, same in groupby(dials, key=lambda dial: dial.water_l_t)]
    told = [
        f"{voice.when(dial.start)} {voice.number(dial.water_l_t, 'water_rate')}" for dial in changes
    ]
    between = "; " if any("," in each for each in told) else ", "
    return f"{between.join(told)} {symbol_of('water_rate', voice.units)}"


def setting_text(dial: Dial, voice: Voice) -> str:
    """``"24.0 gal/ton, flow 9 gal/min, ground speed 4.1 mph"``."""
    parts = []
    if dial.water_l_t:
        parts.append(voice.amount(dial.water_l_t, "water_rate"))
        if dial.flow_l_min:
            parts.append(voice.say("sheet_flow", flow=voice.amount(dial.flow_l_min, "flow")))
    if dial.speed_m_s is not None:
        speed = voice.amount(dial.speed_m_s, "ground_speed")
        parts.append(voice.say("sheet_speed", speed=speed))
    if dial.heat is not None:
        parts.append(voice.say("sheet_burner", burner=burner_text(dial.heat, voice)))
    return ", ".join(parts)


def burner_text(heat: Heat | None, voice: Voice) -> str:
    """``"157 °F"`` at full rate; turn down, where that is refused; off, where no water flows."""
    if heat is None:
        return ""
    if heat.full_c is None:
        return voice.say("burner_off")
    if heat.refused:
        return voice.say("burner_down")
    return voice.amount(heat.full_c, "temperature")


def answer_cell(answer: Answer, voice: Voice) -> str:
    """``"24.0"``, ``"24.0/3.6"`` where the pump asks for less speed, or what to do instead."""
    if answer.water_l_t is None:
        return voice.say(f"answer_{answer.kind}")
    rate = voice.number(answer.water_l_t, "water_rate")
    if answer.kind != "slower" or answer.speed_m_s is None:
        return rate
    return f"{rate}/{voice.number(answer.speed_m_s, 'ground_speed')}"


def answer_text(answer: Answer, voice: Voice) -> str:
    """``"8 %: 24.0 gal/ton at 3.6 mph"``."""
    reads = f"{answer.reads_wb:.0f}"
    if answer.water_l_t is None:
        return voice.say(f"answer_{answer.kind}_said", reads=reads)
    said = voice.amount(answer.water_l_t, "water_rate")
    if answer.kind == "slower" and answer.speed_m_s is not None:
        speed = voice.amount(answer.speed_m_s, "ground_speed")
        said = voice.say("answer_slower", rate=said, speed=speed)
    return voice.say("answer_said", reads=reads, said=said)


def fill_sentences(machine: MachineSheet, voice: Voice) -> list[str]:
    """When to fill and for how long."""
    if machine.kind != "rig":
        return []
    if machine.fills:
        return [fill_text(fill, voice) for fill in machine.fills]
    return [voice.say("sheet_no_fill")] if machine.totals.water_l else []


def fill_text(fill: Step, voice: Voice) -> str:
    """One fill in words."""
    key = "sheet_fill" if fill.baler_waits else "sheet_fill_idle"
    minutes = voice.amount(round(fill.minutes), "minutes")
    return voice.say(key, time=voice.when(fill.start), minutes=minutes)


def step_text(step: Step, voice: Voice) -> str:
    """What a step other than work is, without its time."""
    minutes = voice.amount(round(step.minutes), "minutes")
    key = f"step_{step.kind}"
    if step.kind == "fill":
        key = "step_fill_waits" if step.baler_waits else "step_fill"
    said = voice.say(key, field=step.field or "", minutes=minutes)
    if step.remark is None:
        return said
    return f"{said}, {phrase(step.remark, voice)}" if said else phrase(step.remark, voice)


def place_text(fields: Sequence[FieldWork], voice: Voice) -> str:
    """``"bench, creek 43.2000 N, 120.6000 W"``: what to tell on an emergency call."""
    by_place: dict[tuple[float, float], list[str]] = {}
    for field in fields:
        site = field.night.setting.site
        by_place.setdefault((site.latitude, site.longitude), []).append(field.name)
    return "; ".join(
        voice.say(
            "place_of",
            field=", ".join(names),
            latitude=_degrees(place[0], "north", "south", voice),
            longitude=_degrees(place[1], "east", "west", voice),
        )
        for place, names in by_place.items()
    )


def _degrees(value: float, positive: str, negative: str, voice: Voice) -> str:
    """``"43.2000 N"``, with a point in every language: so maps and callers' forms take it."""
    return f"{abs(value):.4f} {voice.say(f'place_{positive if value >= 0 else negative}')}"


def emergency_sentence(sheet: RunSheet, voice: Voice) -> str:
    """Where to send help: the coordinates of every field's site."""
    return voice.say("sheet_emergency", places=place_text(sheet.fields, voice))


def field_sentences(field: FieldWork, voice: Voice) -> list[str]:
    """What of a field nobody knows, where to probe first, why no machine works there."""
    night, own = field.night, field_voice(field.night, voice)
    said = [
        *stems_sentence(night, own),
        *unknown_sentences(night, own),
        *(_none(field, own) if not field.totals.hours else ()),
        *maybe_sentences(night, own),
        *warned_sentences(night, own),
    ]
    return [*said, *phrases(field.notes, own)]


def _none(field: FieldWork, voice: Voice) -> list[str]:
    """Why there is no work; that there is none only where all hours are known."""
    if field.night.windows:
        return [voice.say("sheet_none_left")]
    if field.night.maybe:
        return [voice.say("sheet_none_sure")]
    return [] if unknown_runs(field.night) else [voice.say("sheet_none")]


LEGENDS = {
    "sheet": ("sheet_legend", "sheet_legend_dew", "sheet_legend_alone"),
    "page": ("page_legend", "page_legend_dew", "page_legend_alone"),
}


def legend_of(machine: MachineSheet, where: Literal["sheet", "page"]) -> str:
    """Which words explain its table: of a rig, of a baler behind one, of a baler alone."""
    of_rig, behind_rig, alone = LEGENDS[where]
    if machine.kind == "rig":
        return of_rig
    return behind_rig if any(piece.rig for piece in machine.pieces) else alone
