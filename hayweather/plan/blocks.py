"""A schedule as blocks of work, each with its reasons."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.cautions import RAIN_AHEAD_MM
from hayweather.plan.case import HAUL_H, Case, due_times
from hayweather.plan.record import Block, WayName
from hayweather.plan.task import IDLE, SLOT, Schedule
from hayweather.words import Remark

Run = tuple[int, int, int, int, WayName]
"""Baler, field, first slot, slot after the last, way."""


def blocks_of(case: Case, schedule: Schedule) -> tuple[Block, ...]:
    """All blocks of a schedule in order of time.

    Parameters
    ----------
    case
        The farm as a task.
    schedule
        What every baler does.
    """
    found = [_block(case, schedule, run) for run in _runs(case, schedule)]
    return tuple(sorted(found, key=lambda block: (block.start, block.baler)))


def way_name(case: Case, baler: int, field: int, slot: int, mode: int) -> WayName:
    """Whether hay is baled on dew, behind the rig, or dry."""
    if mode > 0:
        return "rig"
    call = case.ways[baler, field, 0].look.call[slot]
    return "dew" if call == Call.NATURAL_DEW else "dry"


def _runs(case: Case, schedule: Schedule) -> Iterator[Run]:
    """Slots without a break in one field and way."""
    for baler in range(case.task.balers):
        kinds: list[tuple[int, int, WayName] | None] = []
        for slot in range(case.task.slots):
            field, mode = int(schedule.field[baler, slot]), int(schedule.mode[baler, slot])
            busy = field != IDLE
            kinds.append((field, mode, way_name(case, baler, field, slot, mode)) if busy else None)
        first = 0
        for slot in range(1, case.task.slots + 1):
            if slot == case.task.slots or kinds[slot] != kinds[first]:
                kind = kinds[first]
                if kind is not None:
                    field, _, way = kind
                    yield baler, field, first, slot, way
                first = slot


def _block(case: Case, schedule: Schedule, run: Run) -> Block:
    """One block."""
    baler, field, first, past, way = run
    mode = int(schedule.mode[baler, first])
    kg = schedule.kg[baler, first:past]
    total = float(kg.sum())
    record = case.fields[field]
    water = case.ways[baler, field, mode].look.water_l_t[first:past]
    gain = float((kg * case.task.gain[baler, field, first:past, mode]).sum()) / total
    return Block(
        baler=case.balers[baler].name,
        field=record.name,
        rig=None if mode == 0 else case.rigs[mode - 1].name,
        way=way,
        start=case.slots[first],
        end=case.slots[past - 1] + SLOT,
        kg=total,
        area_m2=total / (record.yield_kg_m2 or np.inf),
        gain_per_kg=gain,
        water_l_t=None if mode == 0 else (float(water.min()), float(water.max())),
        water_l=0.0 if mode == 0 else float((kg / 1000 * water).sum()),
        reasons=tuple(_reasons(case, schedule, run, gain)),
    )


def _reasons(case: Case, schedule: Schedule, run: Run, gain: float) -> Iterator[Remark]:
    """Why this field, at this time, in this way."""
    _, field, first, past, way = run
    yield _way_reason(case, run)
    yield from _urgent(case, field, first)
    if way != "dry" and not _fit_later(case, field, past):
        yield Remark("fields_reason_last")
    yield Remark("fields_reason_gain", {"gain": (gain, "price_by_mass"), **currency(case)})
    other = _passed_over(case, schedule, run)
    if other is not None:
        name, less = other
        values = {"field": name, "less": (less, "price_by_mass"), **currency(case)}
        yield Remark("fields_reason_other", values)


def currency(case: Case) -> dict[str, object]:
    """The sign of amounts."""
    return {"currency": case.farm.money.currency or ""}


def _way_reason(case: Case, run: Run) -> Remark:
    """What the hay is like, by the forecast."""
    baler, field, first, past, way = run
    look = case.ways[baler, field, 0].look
    leaf, windrow = look.leaf_wb[first:past], look.windrow_wb[first:past]
    low_high = (float(windrow.min()), float(windrow.max()), "percent")
    if way == "dry":
        leafs = (float(leaf.min()), float(leaf.max()), "percent")
        return Remark("fields_reason_dry", {"leaf": leafs})
    return Remark(f"fields_reason_{way}", {"windrow": low_high})


def _urgent(case: Case, field: int, first: int) -> Iterator[Remark]:
    """Rain ahead, and what the field is due for."""
    rain = case.as_it_lies(field).rain_mm[first:] >= RAIN_AHEAD_MM / 2
    if rain.any():
        time = case.slots[first + int(rain.argmax())]
        yield Remark("fields_reason_rain", {"time": time})
    for what, time in due_times(case.fields[field]):
        if time <= case.night.end and what == "finish":
            yield Remark("fields_reason_finish", {"time": time})
        elif time <= case.night.end:
            values: dict[str, object] = {"time": time, "hours": f"{HAUL_H:.0f}"}
            yield Remark("fields_reason_irrigation", values)


def _fit_later(case: Case, field: int, past: int) -> bool:
    """Whether the field has hours on dew or for the rig after a slot."""
    task = case.task
    return any(
        way_name(case, b, field, past + int(slot), int(mode)) != "dry"
        for b in range(task.balers)
        for slot, mode in np.argwhere(task.rate_kg[b, field, past:] > 0)
    )


def _passed_over(case: Case, schedule: Schedule, run: Run) -> tuple[str, float] | None:
    """The best other field that lies unbaled and could be baled then, if it brings less."""
    baler, field, first, past, _ = run
    worth = np.where(case.task.useful, case.task.gain, -np.inf)[baler, :, first:past]
    best = worth.max(axis=2).mean(axis=1)
    before = np.zeros(case.task.fields)
    for b, slot in np.argwhere(schedule.field[:, :first] != IDLE):
        before[schedule.field[b, slot]] += schedule.kg[b, slot]
    others = [
        f
        for f in range(case.task.fields)
        if f != field and np.isfinite(best[f]) and before[f] < case.task.mass_kg[f] - 1
    ]
    if not others:
        return None
    rival = max(others, key=lambda f: best[f])
    less = float(best[field] - best[rival])
    return (case.fields[rival].name, less) if less > 1e-5 else None
