"""Slots of time to work in, and the pieces of a run sheet from the work done in them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import hour_index
from hayweather.baling.heat import burner_fuel_l
from hayweather.baling.hours import HourCall, unsure
from hayweather.baling.reasons import facts_of, reasons_for
from hayweather.nights import FieldNight
from hayweather.plan.sheet_pace import Machines, Pace, pace_of
from hayweather.plan.sheet_record import Fill, RateStep, SheetWindow, Totals
from hayweather.plan.sheet_shifts import Duty, duty_at
from hayweather.plan.sheet_walk import SECOND, Slot, Stretch
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
    dew = sum(piece.hours for piece in pieces if piece.call == Call.NATURAL_DEW)
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
