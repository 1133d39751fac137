"""A schedule as people read it: blocks of work with reasons, and what becomes of each field."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from hayweather.baling.calls import AS_IT_LIES, Call
from hayweather.baling.cautions import RAIN_AHEAD_MM
from hayweather.baling.value import (
    Sheet,
    baled_sheet,
    likely_class,
    standing_sheet,
    worth_in_band,
)
from hayweather.catalog import crop_of
from hayweather.farm.records import Field
from hayweather.nights import FieldNight
from hayweather.plan.case import HAUL_H, Case, due_times
from hayweather.plan.pace import baler_rate_kg_h
from hayweather.plan.record import Block, FieldResult, WayName, WayWorth
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
    return "dew" if call in AS_IT_LIES else "dry"


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


def results_of(case: Case, schedule: Schedule) -> tuple[FieldResult, ...]:
    """What a schedule makes of every field.

    Parameters
    ----------
    case
        The farm as a task.
    schedule
        What every baler does.
    """
    baled = schedule.baled_kg(case.task.fields)
    return tuple(_result(case, schedule, f, float(baled[f])) for f in range(case.task.fields))


def _result(case: Case, schedule: Schedule, f: int, baled: float) -> FieldResult:
    """One field."""
    field, kg = case.fields[f], float(case.task.mass_kg[f])
    left = max(kg - baled, 0.0)
    left = 0.0 if left < 1e-6 * kg else left
    waiting = float(case.left[f].mean())
    ways = tuple(_ways(case, f))
    sheet = _sheet(case, schedule, f)
    return FieldResult(
        field=field,
        kg=kg,
        baled_kg=kg - left,
        left_kg=left,
        left_area_m2=left / (field.yield_kg_m2 or np.inf),
        left_cost_per_kg=max(_in_band(case, f) - waiting, 0.0),
        waiting_per_kg=waiting,
        ways=ways,
        sheet=sheet,
        hay_class=_class_of(field, sheet),
        remarks=(*_begun(case.night.fields[f]), *_instead(case, f, ways)),
    )


def _begun(night: FieldNight) -> tuple[Remark, ...]:
    """What stands behind a field's hours; the plan works with every machine there is."""
    return tuple(item for item in night.remarks if not item.key.startswith("machines_"))


def _in_band(case: Case, f: int) -> float:
    """What a kilogram baled now at the bottom of its band would bring, work paid."""
    item = case.night.fields[f]
    field, prices = item.setting.field, case.prices
    found = []
    for baler in case.balers:
        pace = baler_rate_kg_h(baler, field, None, item.setting.band.low_wb)
        worth = worth_in_band(field, baler, item.setting.band.low_wb, prices)
        if pace > 0 and baler in item.balers:
            found.append(worth - (prices.baler_h + prices.wage_h) / pace)
    return max(found)


def _ways(case: Case, f: int) -> Iterator[WayWorth]:
    """The best time of each way that some baler has there."""
    best: dict[str, WayWorth] = {}
    for baler in range(case.task.balers):
        for slot, mode in np.argwhere(case.task.rate_kg[baler, f] > 0):
            name = way_name(case, baler, f, int(slot), int(mode))
            value = float(case.task.gain[baler, f, slot, mode] + case.left[f].mean())
            if name not in best or value > best[name].value_per_kg:
                best[name] = WayWorth(name, case.slots[slot], value)
    yield from (best[name] for name in ("dew", "rig", "dry") if name in best)


def _sheet(case: Case, schedule: Schedule, f: int) -> Sheet | None:
    """Laboratory figures expected of the bales; None without figures, bales or known losses."""
    field = case.fields[f]
    quality = crop_of(field.crop).quality
    if quality is None or (field.ndf_percent is None and field.crude_protein_percent is None):
        return None
    loss, total = 0.0, 0.0
    for b, slot in np.argwhere(schedule.field == f):
        kg = float(schedule.kg[b, slot])
        look = case.ways[int(b), f, int(schedule.mode[b, slot])].look
        loss += kg * float(look.loss_percent[slot])
        total += kg
    if total == 0 or not np.isfinite(loss):
        return None
    return baled_sheet(standing_sheet(field), loss / total, field.crop)


def _class_of(field: Field, sheet: Sheet | None) -> str | None:
    """The class that a sheet resembles; None where it has no feed value."""
    quality = crop_of(field.crop).quality
    if quality is None or sheet is None or sheet.feed_value is None:
        return None
    protein = sheet.crude_protein
    crude = None if protein is None else float(protein)
    return likely_class(float(sheet.feed_value), crude, quality)


def _instead(case: Case, f: int, ways: tuple[WayWorth, ...]) -> Iterator[Remark]:
    """Where no hour is fit on dew or for a rig: why, and what waiting and baling dry bring."""
    if any(way.way != "dry" for way in ways):
        return
    calls = Counter(int(call) for call in case.as_it_lies(f).call)
    most = Call(calls.most_common(1)[0][0])
    night = case.night.fields[f]
    ends = night.shown.weather.end[0] < night.headline.turn
    if ends or night.headline.unknown or most == Call.NO_DATA:
        # What baling or waiting brings then, nobody knows.
        yield Remark("fields_none_known")
        return
    yield Remark("fields_none_fit", {"call": Remark(f"call_{most.name.lower()}")})
    waiting = float(case.left[f].mean())
    if ways:
        values = {"time": ways[0].time, "dry": (ways[0].value_per_kg, "price_by_mass")}
        key = "fields_instead_dry" if ways[0].value_per_kg > waiting else "fields_instead_wait"
        yield Remark(key, {**values, "waiting": (waiting, "price_by_mass"), **currency(case)})
    else:
        values = {"waiting": (waiting, "price_by_mass"), **currency(case)}
        yield Remark("fields_instead_only_wait", values)
