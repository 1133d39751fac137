"""What a schedule makes of each field: hay left and its cost, ways and their worth, quality."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.value import baling_loss_percent
from hayweather.baling.value_quality import Sheet, leaf_lost_percent, likely_class, shifted
from hayweather.farm.records import Field
from hayweather.nights import FieldNight
from hayweather.plan.blocks import currency, way_name
from hayweather.plan.case import Case
from hayweather.plan.rates import baler_rate_kg_h
from hayweather.plan.record import FieldResult, WayWorth
from hayweather.plan.task import Schedule
from hayweather.words import Remark


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
    value = None if sheet is None else sheet.feed_value
    protein = None if sheet is None else sheet.crude_protein
    crude = None if protein is None else float(protein)
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
        hay_class=None if value is None else likely_class(float(value), crude),
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
        loss = baling_loss_percent(item.setting.band.low_wb, baler.kind) / 100
        leaf = prices.lost_leaf * float(loss) if field.crop == "alfalfa" else 0.0
        if pace > 0 and baler in item.balers:
            found.append(prices.price - leaf - (prices.baler_h + prices.wage_h) / pace)
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
    if field.crop != "alfalfa" or (
        field.ndf_percent is None and field.crude_protein_percent is None
    ):
        return None
    loss, total = 0.0, 0.0
    for b, slot in np.argwhere(schedule.field == f):
        kg = float(schedule.kg[b, slot])
        leaf = _leaf_then(case, int(b), f, int(slot), int(schedule.mode[b, slot]))
        loss += kg * float(baling_loss_percent(leaf, case.balers[b].kind))
        total += kg
    if total == 0 or not np.isfinite(loss):
        return None
    return shifted(_standing(field), float(leaf_lost_percent(loss / total)))


def _standing(field: Field) -> Sheet:
    """The laboratory figures of the standing crop."""
    return Sheet(field.crude_protein_percent, field.ndf_percent, field.adf_percent)


def _leaf_then(case: Case, baler: int, f: int, slot: int, mode: int) -> float:
    """Leaf moisture at the baler by the forecast [% wet basis], the rig's water in it."""
    look = case.ways[baler, f, mode].look
    return float(look.leaf_wb[slot] + look.added_wb[slot])


def _instead(case: Case, f: int, ways: tuple[WayWorth, ...]) -> Iterator[Remark]:
    """Where no hour is fit on dew or for a rig: why, and what waiting and baling dry bring."""
    if any(way.way != "dry" for way in ways):
        return
    calls = Counter(int(call) for call in case.as_it_lies(f).call)
    most = Call(calls.most_common(1)[0][0])
    yield Remark("fields_none_fit", {"call": Remark(f"call_{most.name.lower()}")})
    waiting = float(case.left[f].mean())
    if ways:
        values = {"time": ways[0].time, "dry": (ways[0].value_per_kg, "price_by_mass")}
        key = "fields_instead_dry" if ways[0].value_per_kg > waiting else "fields_instead_wait"
        yield Remark(key, {**values, "waiting": (waiting, "price_by_mass"), **currency(case)})
    else:
        values = {"waiting": (waiting, "price_by_mass"), **currency(case)}
        yield Remark("fields_instead_only_wait", values)
