"""A schedule as people read it: visits, blocks of work, missed dates, what becomes of fields."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.calls import BALED, Call
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
from hayweather.plan.candidates import RAIN_MM, savers
from hayweather.plan.case import HAUL_H, Case, due_times
from hayweather.plan.pace import baler_rate_kg_h, move_h
from hayweather.plan.record import Block, FieldResult, Missed, Span, Visit, WayWorth
from hayweather.plan.solve import again
from hayweather.plan.task import IDLE, SPARE, Schedule, Stay, Whole
from hayweather.plan.work import Run, Work, runs_of, spans_of, way_name
from hayweather.windrow.trajectory import QUARTER
from hayweather.words import Remark


def blocks_of(case: Case, schedule: Schedule, work: Work) -> tuple[Block, ...]:
    """All blocks of a schedule in order of time.

    Parameters
    ----------
    case
        The farm as a task.
    schedule, work
        What every baler does, as `carried_out` gives it.
    """
    runs = runs_of(case, schedule.field, schedule.mode)
    spans = spans_of(case, schedule.field, schedule.mode)
    found = [_block(case, schedule, run, span, work) for run, span in zip(runs, spans, strict=True)]
    return tuple(sorted(found, key=lambda block: (block.start, block.baler)))


def _block(case: Case, schedule: Schedule, run: Run, span: Span, work: Work) -> Block:
    """One block."""
    baler, field, first, past, _ = run
    mode = int(schedule.mode[baler, first])
    kg = schedule.kg[baler, first:past]
    inside, total, water_l = work.done_of(span)
    record = case.fields[field]
    rates = work.rates_l_t(span)
    each = float((kg * case.task.gain[baler, field, first:past, mode]).sum()) / float(kg.sum())
    gain = None if case.prices is None else each
    return Block(
        baler=span.baler,
        field=span.field,
        rig=span.rig,
        way=span.way,
        start=inside[0].start,
        end=inside[-1].end,
        kg=total,
        area_m2=None if total is None else total / (record.yield_kg_m2 or np.inf),
        gain_per_kg=gain,
        water_l_t=(min(rates), max(rates)) if rates else None,
        water_l=water_l,
        reasons=tuple(reasons_of(case, run, gain)),
    )


def reasons_of(case: Case, run: Run, gain: float | None) -> Iterator[Remark]:
    """Why this field, at this time, in this way.

    Parameters
    ----------
    case
        The farm as a task.
    run
        Which.
    gain
        What a kilogram brings in it; None without prices.
    """
    _, field, first, past, way = run
    yield _way_reason(case, run)
    yield from _urgent(case, field, first)
    if way != "dry" and not _fit_later(case, field, past):
        yield Remark("fields_reason_last")
    if gain is not None:
        yield Remark("fields_reason_gain", {"gain": (gain, "price_by_mass"), **currency(case)})


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
    """Rain ahead, and what the field is due for; a date that is over urges nobody."""
    rain = case.as_it_lies(field).rain_mm[first:] >= RAIN_MM
    if rain.any():
        time = case.starts[first + int(rain.argmax())]
        yield Remark("fields_reason_rain", {"time": time})
    for what, time in due_times(case.fields[field]):
        if not case.starts[first] < time <= case.night.end:
            continue
        if what == "finish":
            yield Remark("fields_reason_finish", {"time": time})
        else:
            values: dict[str, object] = {"time": time, "hours": f"{HAUL_H:.0f}"}
            yield Remark("fields_reason_irrigation", values)


def _fit_later(case: Case, field: int, past: int) -> bool:
    """Whether the field has hours on dew or for the rig after a quarter."""
    task = case.task
    return any(
        way_name(case, b, field, past + int(quarter), int(mode)) != "dry"
        for b in range(task.balers)
        for quarter, mode in np.argwhere(task.rate_kg[b, field, past:] > 0)
    )


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
    left = 0.0 if left <= SPARE * kg else left
    waiting = float(case.left[f].mean())
    ways = tuple(_ways(case, f)) if case.prices is not None else ()
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
    if prices is None:
        return 0.0
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
        for quarter, mode in np.argwhere(case.task.rate_kg[baler, f] > 0):
            name = way_name(case, baler, f, int(quarter), int(mode))
            value = float(case.task.gain[baler, f, quarter, mode] + case.left[f].mean())
            if name not in best or value > best[name].value_per_kg:
                best[name] = WayWorth(name, case.time(int(quarter)), value)
    yield from (best[name] for name in ("dew", "rig", "dry") if name in best)


def _sheet(case: Case, schedule: Schedule, f: int) -> Sheet | None:
    """Laboratory figures expected of the bales; None without figures, bales or known losses."""
    field = case.fields[f]
    quality = crop_of(field.crop).quality
    if quality is None or (field.ndf_percent is None and field.crude_protein_percent is None):
        return None
    loss, total = 0.0, 0.0
    for b, quarter in np.argwhere(schedule.field == f):
        kg = float(schedule.kg[b, quarter])
        look = case.ways[int(b), f, int(schedule.mode[b, quarter])].look
        loss += kg * float(look.loss_percent[quarter])
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
    if any(way.way != "dry" for way in ways) or (case.prices is None and _fit_later(case, f, 0)):
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
    if case.prices is None:
        return
    if ways:
        values = {"time": ways[0].time, "dry": (ways[0].value_per_kg, "price_by_mass")}
        key = "fields_instead_dry" if ways[0].value_per_kg > waiting else "fields_instead_wait"
        yield Remark(key, {**values, "waiting": (waiting, "price_by_mass"), **currency(case)})
    else:
        values = {"waiting": (waiting, "price_by_mass"), **currency(case)}
        yield Remark("fields_instead_only_wait", values)


def visits_of(case: Case, schedule: Schedule, blocks: Sequence[Block]) -> tuple[Visit, ...]:
    """All visits of a schedule, in order of time.

    Parameters
    ----------
    case
        The farm as a task.
    schedule, blocks
        What every baler does.
    """
    stays = schedule.stays()
    found = []
    for stay in stays:
        own = [other for other in stays if other.baler == stay.baler]
        number = own.index(stay)
        before = own[number - 1] if number else None
        after = own[number + 1] if number + 1 < len(own) else None
        found.append(_visit(case, schedule, stay, (before, after), blocks))
    return tuple(sorted(found, key=lambda visit: (visit.start, visit.baler)))


def _visit(
    case: Case,
    schedule: Schedule,
    stay: Stay,
    beside: tuple[Stay | None, Stay | None],
    blocks: Sequence[Block],
) -> Visit:
    """One visit, with those before and after it."""
    before, after = beside
    task, baler, field = case.task, case.balers[stay.baler], case.fields[stay.field]
    kg = float(schedule.kg[stay.baler, stay.work].sum())
    here = schedule.field[:, : stay.past] == stay.field
    left = float(task.mass_kg[stay.field] - schedule.kg[:, : stay.past][here].sum())
    left = 0.0 if left <= SPARE * task.mass_kg[stay.field] else left
    if before is None:
        drive, cost = baler.move_minutes / 60, float(task.first_cost[stay.baler])
    else:
        drive = move_h(baler, case.farm, case.fields[before.field], field)
        cost = float(task.move_cost[stay.baler, before.field, stay.field])
    past = case.starts[stay.past - 1] + QUARTER
    own = [
        block
        for block in blocks
        if (block.baler, block.field) == (baler.name, field.name)
        and case.time(stay.first) <= block.start < past
    ]
    return Visit(
        baler=baler.name,
        field=field.name,
        came_from=None if before is None else case.fields[before.field].name,
        drive_h=drive,
        drive_cost=None if case.prices is None else cost,
        start=own[0].start,
        end=own[-1].end,
        hours=sum(block.hours for block in own),
        kg=kg,
        area_m2=kg / (field.yield_kg_m2 or np.inf),
        left_kg=left,
        why_left=_why_left(case, schedule, stay, after) if left > 0 else None,
        remarks=tuple(_beside(case, schedule, stay)),
    )


def _why_left(case: Case, schedule: Schedule, stay: Stay, after: Stay | None) -> Remark | None:
    """Why a baler leaves hay in a field; None where another baler still works there."""
    t, f, b = stay.past, stay.field, stay.baler
    if (schedule.field[:, t:] == f).any():
        return None
    if t >= case.task.quarters:
        return Remark("fields_leaves_end")
    look, shown = case.ways[b, f, 0].look, case.night.fields[f].shown
    row = int((case.time(t) - shown.weather.start[0]) // QUARTER)
    if case.task.fit[b, f, t]:
        if after is not None:
            return Remark("fields_leaves_other", {"field": case.fields[after.field].name})
        return Remark("fields_leaves_little")
    if case.options.any_hour[b, f, t].any():
        return Remark("fields_leaves_shift")
    call = Call(int(shown.quarters.call[row, 0]))  # with the rig, as the outlook shows it
    if look.rain_mm[t] > 0 and call in (Call.TOO_WET, Call.NO_DATA):
        return Remark("fields_leaves_rain")
    if call in BALED or shown.advice[row] == Advice.PROBE_FIRST:
        return Remark("fields_leaves_unsure")
    return Remark("fields_leaves_call", {"call": Remark(f"call_{call.name.lower()}")})


def _beside(case: Case, schedule: Schedule, stay: Stay) -> Iterator[Remark]:
    """Raking before a visit, and where its rig comes from."""
    item, start = case.night.fields[stay.field], case.time(stay.first)
    earlier = (schedule.field[:, : stay.first] == stay.field).any()
    rakes = [rake for rake in item.rake if rake.end <= start]
    if rakes and not earlier and item.setting.field.raked_at is None:
        values: dict[str, object] = {"start": rakes[-1].start, "end": rakes[-1].end}
        yield Remark("fields_visit_rake", values)
    for r, rig in enumerate(case.rigs):
        wet = stay.work[schedule.mode[stay.baler, stay.work] == 1 + r]
        if not wet.size:
            continue
        first, places = int(wet[0]), schedule.rig_field(r)
        used = np.flatnonzero(places[:first] != IDLE)
        if used.size and places[used[-1]] != stay.field:
            name = case.fields[int(places[used[-1]])].name
            until = case.starts[used[-1]] + QUARTER
            yield Remark("fields_visit_rig", {"rig": rig.name, "field": name, "time": until})
        both = (schedule.mode[:, wet] == 1 + r).sum(axis=1)
        for other in np.flatnonzero(both):
            if other != stay.baler:
                values = {"rig": rig.name, "baler": case.balers[int(other)].name}
                yield Remark("fields_visit_shared", values)


def missed_of(
    case: Case,
    schedule: Schedule,
    work: Work,
    planned: Schedule,
    more: Callable[[], bool] = lambda: False,
) -> tuple[Missed, ...]:
    """Dates that fields miss, earliest first, with what would save them.

    Parameters
    ----------
    case
        The farm as a task.
    schedule, work
        What every baler does, as `carried_out` gives it.
    planned
        The schedule before that, beside which others are decided.
    more
        Whether there is time to decide again.
    """
    found = []
    for f, field in enumerate(case.fields):
        for due_for, time in due_times(field)[:1]:
            late = _late_kg(case, schedule, f, time)
            if time > case.night.end or late <= 0:
                continue
            saves = tuple(_saves(case, planned, f, time, more))
            found.append(
                Missed(
                    field=field.name,
                    due_for=due_for,
                    time=time,
                    late_kg=late,
                    late_area_m2=late / (field.yield_kg_m2 or np.inf),
                    done=work.walk.done_at.get(field.name),
                    cost=_late_cost(case, schedule, f),
                    saves=saves,
                    tried=more(),
                )
            )
    return tuple(sorted(found, key=lambda item: item.time))


def _late_kg(case: Case, schedule: Schedule, f: int, due: np.datetime64) -> float:
    """Hay of a field that is not baled by a time [kg]; 0 where next to nothing."""
    mass = float(case.task.mass_kg[f])
    in_time = (schedule.field == f) & (case.starts + QUARTER <= due)
    late = mass - float(schedule.kg[in_time].sum())
    return 0.0 if late <= SPARE * mass else late


def _late_cost(case: Case, schedule: Schedule, f: int) -> float | None:
    """What being late costs, hay left lying until the day after the end; None without prices."""
    if case.prices is None:
        return None
    here = schedule.field == f
    baled = float((schedule.kg * here * case.late[f]).sum())
    left = float(case.task.mass_kg[f] - schedule.kg[here].sum())
    return baled + left * case.late_at_end[f]


def _saves(
    case: Case, schedule: Schedule, f: int, due: np.datetime64, more: Callable[[], bool]
) -> Iterator[Remark]:
    """What would let a field meet its date, each decided again."""
    value = schedule.value(case.task)
    for saver in savers(case, f):
        if not more():
            return
        start = schedule
        if saver.task.balers != case.task.balers:
            start = _with_idle_baler(schedule)
        found = again(saver.task, start)
        if _late_kg(case, found, f, due) > 0:
            continue
        values: dict[str, object] = {"names": saver.names, **currency(case)}
        if saver.key == "fields_saves_choice":
            if case.prices is None:
                continue
            values["cost"] = (max(value - found.value(case.task), 0.0), "money")
        yield Remark(saver.key, values)


def _with_idle_baler(schedule: Schedule) -> Schedule:
    """The schedule with one more baler that does nothing."""
    idle = np.full((1, schedule.field.shape[1]), IDLE)
    return Schedule(
        np.vstack([schedule.field, idle]),
        np.vstack([schedule.mode, idle]),
        np.vstack([schedule.kg, np.zeros(idle.shape)]),
    )


LITTLE = 0.5  # of the farm's money: less is shown as nothing


def with_alternatives(
    case: Case, schedule: Schedule, blocks: tuple[Block, ...], more: Callable[[], bool]
) -> tuple[Block, ...]:
    """The blocks with what leaving out each visit would cost, found by deciding again without it.

    Parameters
    ----------
    case, schedule
        The farm as a task, and the schedule before it is carried out.
    blocks
        From `blocks_of`.
    more
        Whether there is time to decide again.
    """
    task, value = case.task, schedule.value(case.task)
    found = list(blocks)
    for stay in schedule.stays():
        if case.prices is None or not more():
            break
        banned = np.zeros(task.rate_kg.shape, dtype=bool)
        banned[stay.baler, stay.field, stay.first : stay.past] = True
        rate = np.where(banned, 0.0, task.rate_kg)
        without = again(replace(task, rate_kg=rate), _without(schedule, stay.baler, stay.work))
        loss = value - without.value(task)
        if loss <= 0:
            continue
        name, baler = case.fields[stay.field].name, case.balers[stay.baler].name
        begins, ends = case.time(stay.first), case.starts[stay.past - 1] + QUARTER
        first = next(
            (
                i
                for i, block in enumerate(found)
                if (block.baler, block.field) == (baler, name) and begins <= block.start < ends
            ),
            None,
        )
        if first is not None:
            remark = Remark("fields_reason_idle")
            if loss >= LITTLE:
                values = {"less": (loss, "money"), **currency(case)}
                remark = Remark("fields_reason_without", values)
            found[first] = replace(found[first], reasons=(*found[first].reasons, remark))
    return tuple(found)


def _without(schedule: Schedule, baler: int, work: Whole) -> Schedule:
    """The schedule with a baler idle in some quarters."""
    field, mode, kg = schedule.field.copy(), schedule.mode.copy(), schedule.kg.copy()
    field[baler, work], mode[baler, work], kg[baler, work] = IDLE, IDLE, 0.0
    return Schedule(field, mode, kg)
