"""The run sheet: windows as work for baler and rig, in pieces, with what the operator is told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from hayweather.baling.calls import AS_IT_LIES, Call
from hayweather.baling.clock import hour_index
from hayweather.baling.hours import HourCall, facts_of, reasons_for, unsure
from hayweather.baling.setting import unnamed_machines
from hayweather.baling.water import burner_fuel_l, water_reaches_c, water_to_add_l_t
from hayweather.catalog import kind_of
from hayweather.farm.bands import limits_remark
from hayweather.farm.records import Farm
from hayweather.nights import FieldNight, Night
from hayweather.plan.crews import Duty, duties_of, duty_at, relief_remarks
from hayweather.plan.pace import Machines, Pace, machines_of, pace_of
from hayweather.plan.sheet_record import (
    FieldSheet,
    Fill,
    RateStep,
    RunSheet,
    SheetWindow,
    Signs,
    Totals,
)
from hayweather.plan.sheet_walk import SECOND, Slot, Stretch, Walk, walk
from hayweather.weather.record import HOUR
from hayweather.windrow.trajectory import QUARTER
from hayweather.words import Remark

MINUTE = np.timedelta64(60, "s")


def slots_of(
    field: FieldNight, machines: Machines, duties: Sequence[Duty] | None, now: np.datetime64
) -> tuple[list[Slot], float]:
    """Time to work in from `now` on, and the hours whose water the flow cannot give.

    Parameters
    ----------
    field
        Its windows and quarters.
    machines
        Of the field.
    duties
        When crews work; None for always.
    now
        UTC.
    """
    slots: list[Slot] = []
    beyond_h = 0.0
    begin = (now + MINUTE - SECOND).astype("datetime64[m]").astype("datetime64[s]")
    for start, end, row, call in _quarters(field):
        pace = pace_of(machines, field.shown.quarters, row)
        if pace is None:
            beyond_h += float((end - max(start, begin)) / HOUR) if end > begin else 0.0
            continue
        for first, last in _on_duty(max(start, begin), end, duties):
            slots.append(Slot(first, last, row, call, pace, _number(slots, first, call)))
    return slots, beyond_h


def _number(slots: Sequence[Slot], start: np.datetime64, call: Call) -> int:
    """Number of the unbroken work that a slot belongs to."""
    if not slots:
        return 0
    goes_on = slots[-1].end == start and slots[-1].call == call
    return slots[-1].window + (0 if goes_on else 1)


def _quarters(field: FieldNight) -> Iterable[tuple[np.datetime64, np.datetime64, int, Call]]:
    """Every quarter of the windows: start, end, row, call."""
    first = field.shown.weather.start[0]
    for window in field.windows:
        at = window.start
        while at < window.end:
            yield at, at + QUARTER, int((at - first) / QUARTER), window.call
            at = at + QUARTER


def _on_duty(
    start: np.datetime64, end: np.datetime64, duties: Sequence[Duty] | None
) -> list[tuple[np.datetime64, np.datetime64]]:
    """The parts of a time in which a crew works."""
    if duties is None:
        return [(start, end)] if end > start else []
    parts = [(max(start, duty.start), min(end, duty.end)) for duty in duties]
    return [part for part in parts if part[1] > part[0]]


def pieces_of(
    stretches: Sequence[Stretch],
    field: FieldNight,
    machines: Machines,
    duties: Sequence[Duty] | None,
) -> tuple[SheetWindow, ...]:
    """Work as pieces of at most an hour: one call, one hour of the clock, one crew, no break."""
    groups: list[list[Stretch]] = []
    for item in stretches:
        if groups and _together(groups[-1][-1], item, duties):
            groups[-1].append(item)
        else:
            groups.append([item])
    return tuple(_piece(group, field, machines) for group in groups)


def _together(before: Stretch, item: Stretch, duties: Sequence[Duty] | None) -> bool:
    """Whether two stretches belong to one piece."""
    return (
        before.end == item.start
        and before.slot.call == item.slot.call
        and before.start.astype("datetime64[h]") == item.start.astype("datetime64[h]")
        and duty_at(duties, before.start) == duty_at(duties, item.start)
    )


def _piece(group: Sequence[Stretch], field: FieldNight, machines: Machines) -> SheetWindow:
    """One piece from its stretches."""
    call, setting = group[0].slot.call, machines.setting
    hour = field.hours[hour_index(field.shown.weather.start[0], group[0].start)]
    quarters = field.shown.quarters
    piece = SheetWindow(
        start=group[0].start,
        end=group[-1].end,
        call=call,
        reasons=hour.reasons if hour.call == call else _reasons(group, field),
        cautions=_cautions(hour, call),
        windrow_wb=_mean(group, [quarters.windrow_wb[item.slot.row, 0] for item in group]),
        leaf_wb=_mean(group, [quarters.leaf_wb[item.slot.row, 0] for item in group]),
        speed_m_s=_mean_known(group, [item.slot.pace.speed_m_s for item in group]),
    )
    piece = _with_amounts(piece, group, machines)
    if call != Call.ADD_MOISTURE or setting.rig is None:
        return piece
    return _with_water(piece, group, field, machines)


def _cautions(hour: HourCall, call: Call) -> tuple[Remark, ...]:
    """Cautions of the hour; how sure the call is, of the call of these quarters."""
    others = [remark for remark in hour.cautions if remark.key != "caution_low_confidence"]
    return (*others, *unsure(call, hour.chance))


def _reasons(group: Sequence[Stretch], field: FieldNight) -> tuple[Remark, ...]:
    """Reasons of the call of these quarters, where it is not the call of their hour."""
    shown, setting = field.shown, field.setting
    rows = np.zeros(shown.quarters.call.shape[0], dtype=bool)
    rows[[item.slot.row for item in group]] = True
    hour = hour_index(shown.weather.start[0], group[0].start)
    facts = facts_of(shown.quarters, rows, setting.band)
    return tuple(reasons_for(group[0].slot.call, facts, setting, shown.weather, hour))


def _with_amounts(piece: SheetWindow, group: Sequence[Stretch], machines: Machines) -> SheetWindow:
    """Hay, bales and area of a piece."""
    mass = total([item.mass_kg for item in group])
    if mass is None:
        return piece
    each, one = machines.setting.baler.bale_mass_kg, machines.mass_of_area_kg(1.0)
    return replace(
        piece,
        mass_kg=mass,
        bales=None if each is None else mass / each,
        area_m2=None if one is None else mass / one,
    )


def _with_water(
    piece: SheetWindow, group: Sequence[Stretch], field: FieldNight, machines: Machines
) -> SheetWindow:
    """Water, flow, fuel and rates of a piece behind the rig."""
    rig, dose = machines.setting.rig, field.shown.quarters.dose
    if rig is None or dose is None:  # pragma: no cover - such a piece has both; for the types
        return piece
    water = total([item.water_l for item in group])
    flowing_h = piece.hours * machines.efficiency
    rate = _mean(group, [item.slot.pace.rate_l_t for item in group])
    if water is not None and piece.mass_kg:
        rate = water / piece.mass_kg * 1000
    return replace(
        piece,
        after_wb=_mean(group, [item.slot.pace.after_wb for item in group]),
        efficiency=_mean(group, [dose.efficiency[item.slot.row, 0] for item in group]),
        water_l_t=rate,
        flow_l_min=None if water is None else water / (60 * flowing_h),
        loads=None if water is None else water / rig.tank_l,
        water_l=water,
        burner_fuel_l=_fuel(group, machines),
        rate_steps=_steps(group),
    )


def _fuel(group: Sequence[Stretch], machines: Machines) -> float | None:
    """Fuel of the burners while water flows [L]; None where not known."""
    rig = machines.setting.rig
    if rig is None or not rig.heated:
        return 0.0
    parts = [
        None
        if item.water_l is None
        else burner_fuel_l(rig, item.water_l, item.hours * machines.efficiency)
        for item in group
    ]
    return total(parts)


def _steps(group: Sequence[Stretch]) -> tuple[RateStep, ...]:
    """The rates to dial, each from when it holds."""
    steps: list[RateStep] = []
    for item in group:
        pace: Pace = item.slot.pace
        if not steps or steps[-1].water_l_t != pace.rate_l_t:
            steps.append(RateStep(item.start, pace.rate_l_t, pace.flow_l_min, pace.speed_m_s))
    return tuple(steps)


def _mean(group: Sequence[Stretch], values: Sequence[float]) -> float:
    """Mean over the time of a group."""
    seconds = [float((item.end - item.start) / SECOND) for item in group]
    return float(np.average(values, weights=seconds))


def _mean_known(group: Sequence[Stretch], values: Sequence[float | None]) -> float | None:
    """Mean over the time of a group; None where one is not known."""
    known = [value for value in values if value is not None]
    return _mean(group, known) if len(known) == len(values) else None


def total(values: Iterable[float | None]) -> float | None:
    """The sum; None where a part is not known.

    Examples
    --------
    >>> total([1.0, 2.0]), total([1.0, None])
    (3.0, None)
    """
    known = list(values)
    return None if any(value is None for value in known) else float(sum(v or 0.0 for v in known))


def totals_of(pieces: Sequence[SheetWindow], fills: Sequence[Fill]) -> Totals:
    """Sums over the pieces and fills."""
    dew = sum(piece.hours for piece in pieces if piece.call in AS_IT_LIES)
    rig = sum(piece.hours for piece in pieces if piece.call == Call.ADD_MOISTURE)
    return Totals(
        hours=dew + rig,
        dew_hours=dew,
        rig_hours=rig,
        mass_kg=total(piece.mass_kg for piece in pieces),
        bales=total(piece.bales for piece in pieces),
        area_m2=total(piece.area_m2 for piece in pieces),
        loads=total(piece.loads for piece in pieces),
        water_l=total(piece.water_l for piece in pieces),
        burner_fuel_l=total(piece.burner_fuel_l for piece in pieces),
        fills=len(fills),
        fill_minutes=float(sum(fill.minutes for fill in fills)),
    )


POINT_WB = 1.0
FULL_FLOW = 1 - 1e-6  # of the rig's flow: then flow sets the speed
LITTLE_H = 0.01

Values = dict[str, object]


def water_per_point_l_t(pieces: Sequence[SheetWindow], machines: Machines) -> float | None:
    """Rate to add for every point of moisture that the windrow is drier [L/t], in whole steps.

    By the mass balance near the target and the mean efficiency of the pieces
    behind the rig; None where there are none.
    """
    stays = [piece.efficiency for piece in pieces if piece.efficiency is not None]
    if not stays:
        return None
    target = machines.setting.target_wb
    exact = float(water_to_add_l_t(target - POINT_WB, target)) / float(np.mean(stays))
    return max(round(exact / machines.step_l_t), 1) * machines.step_l_t


def signs_of(machines: Machines, pieces: Sequence[SheetWindow]) -> Signs:
    """What to look for in the windrow; common practice, no source."""
    band = machines.setting.band
    limits: Values = {"low": (band.low_wb, "percent"), "high": (band.high_wb, "percent")}
    rig = any(piece.call == Call.ADD_MOISTURE for piece in pieces)
    start = [Remark("sign_start_stem"), Remark("sign_start_leaf"), Remark("sign_start_bottom")]
    way = [Remark("sign_way_leaf"), Remark("sign_way_bale", limits), Remark("sign_way_feel")]
    stop = [
        Remark("sign_stop_wet", {"ceiling": (band.ceiling_wb, "percent")}),
        Remark("sign_stop_drops"),
        Remark("sign_stop_dry"),
        Remark("sign_stop_smoke"),
    ]
    if rig:
        start.append(Remark("sign_start_rig"))
        way.append(Remark("sign_way_nozzles"))
    return Signs(tuple(start), tuple(way), tuple(stop))


def notes_of(
    machines: Machines,
    pieces: Sequence[SheetWindow],
    walk: Walk,
    *,
    off_duty_h: float,
    beyond_h: float,
) -> tuple[Remark, ...]:
    """What limits the work, and what was assumed.

    Parameters
    ----------
    machines
        Of the field.
    pieces, walk
        The work.
    off_duty_h
        Hours of the windows outside every shift.
    beyond_h
        Hours whose water the rig's flow cannot give at the slowest speed.
    """
    setting = machines.setting
    return (
        *_unknown(machines),
        *_time(machines, walk, off_duty_h, beyond_h),
        *(_baler(machines, pieces) if pieces else ()),
        *(_rig(machines, pieces) if any(p.call == Call.ADD_MOISTURE for p in pieces) else ()),
        limits_remark(setting.baler, setting.field),
    )


def _unknown(machines: Machines) -> list[Remark]:
    """What the farm file does not tell."""
    field, baler = machines.setting.field, machines.setting.baler
    known = {
        "sheet_no_rig": machines.setting.rig,
        "sheet_no_capacity": baler.capacity_kg_h,
        "sheet_no_windrow": machines.along_kg_m,
        "sheet_no_area": machines.mass_of_area_kg(field.area_m2),
        "sheet_no_bale": baler.bale_mass_kg,
    }
    return [Remark(key) for key, value in known.items() if value is None]


def _time(machines: Machines, walk: Walk, off_duty_h: float, beyond_h: float) -> list[Remark]:
    """Hours that are lost, and hay that is left."""
    remarks = []
    if off_duty_h > LITTLE_H and walk.done_at is None:
        remarks.append(Remark("sheet_off_duty", {"hours": (off_duty_h, "hours")}))
    if beyond_h > LITTLE_H:
        remarks.append(Remark("sheet_beyond_flow", {"hours": (beyond_h, "hours")}))
    if walk.cut_short:
        remarks.append(Remark("sheet_cut_short"))
    area, one = machines.setting.field.area_m2, machines.mass_of_area_kg(1.0)
    masses = [item.mass_kg for item in walk.stretches]
    if walk.done_at is None and area is not None and one is not None and None not in masses:
        left = area - sum(mass or 0.0 for mass in masses) / one
        remarks.append(Remark("sheet_left", {"area": (left, "area")}))
    return remarks


def _baler(machines: Machines, pieces: Sequence[SheetWindow]) -> list[Remark]:
    """How the baler's capacity was taken, and a windrow that is heavy or light for it."""
    baler, pace = machines.setting.baler, kind_of(machines.setting.baler.kind).pace
    remarks = []
    if baler.capacity_kg_h is not None:
        values: Values = {
            "capacity": (baler.capacity_kg_h, "capacity"),
            "moving": (baler.capacity_kg_h / machines.efficiency, "capacity"),
            "part": f"{100 * machines.efficiency:.0f}",
        }
        given = baler.field_efficiency is not None
        remarks.append(Remark("sheet_capacity" if given else "sheet_capacity_assumed", values))
    speeds = [piece.speed_m_s for piece in pieces if piece.speed_m_s is not None]
    usual: Values = {"usual": (pace.slow_m_s, pace.fast_m_s, "ground_speed")}
    if speeds and min(speeds) < pace.slow_m_s:
        remarks.append(Remark("sheet_slow", usual))
    if speeds and machines.setting.field.yield_kg_m2 is None:
        mass = (machines.setting.field.windrow_mass_kg_m2, "windrow_mass")
        remarks.append(Remark("sheet_windrow_mass", {"mass": mass}))
    return remarks


def _rig(machines: Machines, pieces: Sequence[SheetWindow]) -> list[Remark]:
    """How the rig's water was taken: what stays, what flow allows, how warm it gets."""
    rig = machines.setting.rig
    if rig is None:  # pragma: no cover - asked only of pieces behind a rig; for the types
        return []
    stays = [100 * piece.efficiency for piece in pieces if piece.efficiency is not None]
    values: Values = {
        "stays": (min(stays), max(stays), "percent"),
        "minutes": (rig.lag_minutes, "minutes"),
    }
    tank: Values = {"tank": (rig.tank_l, "volume"), "minutes": (rig.fill_minutes, "minutes")}
    remarks = [Remark("sheet_tank_full", tank), Remark("sheet_stays", values)]
    flows = [
        step.flow_l_min for p in pieces for step in p.rate_steps if step.flow_l_min is not None
    ]
    if flows and max(flows) >= FULL_FLOW * rig.flow_max_l_min:
        remarks.append(Remark("sheet_full_flow", {"flow": (rig.flow_max_l_min, "flow")}))
    return [*remarks, *_heat(machines, flows)]


def _heat(machines: Machines, flows: Sequence[float]) -> list[Remark]:
    """How warm the burners make the water, or what is missing to say so."""
    rig = machines.setting.rig
    if rig is None or not rig.heated:
        return []
    if rig.fuel_rate_l_h is None and rig.water_out_c is None:
        return [Remark("sheet_no_fuel")]
    reached = [water_reaches_c(rig, flow) for flow in flows if flow > 0]
    known = [value for value in reached if value is not None]
    if not known or rig.fuel_rate_l_h is None:
        return []
    if rig.water_out_c is not None and min(known) < rig.water_out_c - 1.0:
        values: Values = {
            "reaches": (min(known), "temperature"),
            "wanted": (rig.water_out_c, "temperature"),
        }
        return [Remark("sheet_cool", values)]
    values = {
        "warm": (min(known), "temperature"),
        "part": f"{100 * rig.burner_efficiency:.0f}",
        "cold": (rig.water_in_c, "temperature"),
    }
    return [Remark("sheet_warm", values)] if rig.water_out_c is None else []


def make_runsheet(farm: Farm, outlook: Night) -> RunSheet:
    """What to do when in each field of an outlook: rates, speed, loads, fills, fuel.

    Every field's sheet stands alone, as if baler and rig worked there only.
    Work keeps to the windows of the outlook, so to no stopped hour, and to the
    farm's shifts where it names some; it ends when the field is done.

    Parameters
    ----------
    farm
        The farm.
    outlook
        Of the farm or of some of its fields.

    Raises
    ------
    FarmFileError
        If the baler takes nothing, or a windrow is heavier than it takes.
    """
    fields = tuple(_sheet(farm, field, outlook) for field in outlook.fields)
    alone = (Remark("sheet_each_alone"),) if len(fields) > 1 else ()
    return RunSheet(outlook, fields, (*alone, *outlook.cautions))


def _sheet(farm: Farm, field: FieldNight, outlook: Night) -> FieldSheet:
    """The sheet of one field."""
    setting, timezone = field.setting, str(field.setting.site.timezone)
    machines = machines_of(setting, farm.units, str(farm.path or ""))
    duties = duties_of(farm, timezone, field.span.first, field.span.last)
    slots, beyond_h = slots_of(field, machines, duties, outlook.now)
    always, _ = slots_of(field, machines, None, outlook.now)
    off_duty_h = sum(slot.seconds for slot in always) - sum(slot.seconds for slot in slots)
    work = walk(slots, machines, machines.mass_of_area_kg(setting.field.area_m2))
    pieces = pieces_of(work.stretches, field, machines, duties)
    return FieldSheet(
        outlook=field,
        windows=pieces,
        fills=work.fills,
        totals=totals_of(pieces, work.fills),
        area_done_at=work.done_at,
        water_per_point_l_t=water_per_point_l_t(pieces, machines),
        signs=signs_of(machines, pieces),
        relief=relief_remarks(pieces, duties, farm, timezone),
        notes=(
            *unnamed_machines(farm, setting.field),
            *notes_of(machines, pieces, work, off_duty_h=off_duty_h / 3600, beyond_h=beyond_h),
        ),
    )
