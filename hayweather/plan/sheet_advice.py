"""What the operator is told beside the numbers: signs in the windrow, limits, assumptions."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.water import water_reaches_c, water_to_add_l_t
from hayweather.catalog import kind_of
from hayweather.farm.bands import limits_remark
from hayweather.plan.sheet_pace import Machines
from hayweather.plan.sheet_record import SheetWindow, Signs
from hayweather.plan.sheet_walk import Walk
from hayweather.words import Remark

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
