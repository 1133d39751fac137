"""How fast work goes: balers alone and behind a rig, moves, and the rate to dial in a quarter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hayweather.baling.calls import Call, QuarterCalls, limits_of
from hayweather.baling.machines import (
    SpeedLimits,
    covered_width_m,
    field_efficiency,
    flow_limit_kg_h,
    mass_along_kg_m,
    speed_for_m_s,
    speed_limits,
    with_fills_kg_h,
)
from hayweather.baling.setting import Setting
from hayweather.baling.water import (
    Landing,
    Limits,
    brought_in,
    dialed_l_t,
    dose,
    moisture_after,
    picked,
)
from hayweather.errors import FarmFileError
from hayweather.farm.records import Baler, Farm, Field, Rig, UnitSystem
from hayweather.farm.zones import distance_km
from hayweather.plan.sheet_record import Answer, AnswerKind
from hayweather.units import symbol_of, to_shown
from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.trajectory import Layers, soft_share, wet_share

ROAD_DETOUR = 1.3  # roads are longer than the line between two sites (assumed)


def baler_rate_kg_h(baler: Baler, field: Field, rig: Rig | None, moisture_wb: float) -> float:
    """Hay that a baler takes in an hour in the field [kg/h], turns included; 0 if none.

    Its capacity, or less where the windrow is so light that the fastest ground
    speed (a rig's ahead of it too) does not bring as much; nothing where the
    windrow is heavier than it takes.
    """
    if too_heavy(baler, field):
        return 0.0
    capacity = baler.capacity_kg_h or 0.0
    along = mass_along_kg_m(field, moisture_wb)
    if along is None:
        return capacity
    fastest = speed_limits(baler, rig).fastest_m_s
    return min(capacity, fastest * along * 3600 * field_efficiency(baler))


def too_heavy(baler: Baler, field: Field) -> bool:
    """Whether a field's windrow is heavier than the baler takes."""
    limit = baler.windrow_limit_kg_m2
    return limit is not None and field.windrow_mass_kg_m2 > limit


def wetting_kg_h(rate_kg_h: float, efficiency: float, rig: Rig, water_l_t: Floats) -> Floats:
    """Hay that passes in an hour while a rig works [kg/h]: the balers' pace or what it wets.

    Turns included: between them water flows, while they turn it does not. NaN where there
    is no dose.
    """
    return np.minimum(rate_kg_h, efficiency * flow_limit_kg_h(rig, water_l_t))


def behind_rig_kg_h(rate_kg_h: float, efficiency: float, rig: Rig, water_l_t: Floats) -> Floats:
    """Hay that is baled in an hour behind a rig [kg/h], waiting for fills included.

    NaN where there is no dose.

    Parameters
    ----------
    rate_kg_h, efficiency
        Of the balers behind it together: hay in an hour in the field, and the part of it
        that they move.
    rig, water_l_t
        The rig, and the water it puts on.
    """
    wetting = np.maximum(wetting_kg_h(rate_kg_h, efficiency, rig, water_l_t), 1e-9)
    return with_fills_kg_h(wetting, rig, water_l_t)


def keeps_pace(
    rate_kg_h: float, baler: Baler, rig: Rig, field: Field, water_l_t: Floats, moisture_wb: float
) -> Booleans:
    """Where the pace behind a rig is not below the slowest speed of the machines."""
    along = mass_along_kg_m(field, moisture_wb)
    if along is None:
        return np.ones(water_l_t.shape, dtype=bool)
    slowest, efficiency = speed_limits(baler, rig).slowest_m_s, field_efficiency(baler)
    least = slowest * along * 3600 * efficiency
    return np.asarray(wetting_kg_h(rate_kg_h, efficiency, rig, water_l_t) >= least)


def move_h(baler: Baler, farm: Farm, one: Field, two: Field) -> float:
    """Time from leaving one field to being ready in another [h].

    As a `[[road]]` says, fields before sites; else set-up and the road between their sites.
    """
    said = {frozenset((road.origin, road.goal)): road.minutes for road in farm.roads}
    ends = ((one.name, two.name), (one.name, two.site), (one.site, two.name), (one.site, two.site))
    for pair in ends:
        if frozenset(pair) in said:
            return said[frozenset(pair)] / 60
    first, second = farm.sites[one.site], farm.sites[two.site]
    where = (first.latitude, first.longitude, second.latitude, second.longitude)
    road = ROAD_DETOUR * 1000 * distance_km(*where) / baler.road_speed_m_s / 3600
    return baler.move_minutes / 60 + road


HAIR = 1e-9  # relative room for rounding


@dataclass(frozen=True)
class Pace:
    """How fast work goes in one quarter, SI; None where not known.

    Attributes
    ----------
    rate_l_t
        Rate to dial; 0 on natural dew.
    moving_kg_h
        Hay taken up while moving.
    speed_m_s
        Ground speed while moving.
    flow_l_min
        Water while moving.
    after_wb
        Moisture behind the rig; the windrow's own on natural dew.
    """

    rate_l_t: float
    moving_kg_h: float | None
    speed_m_s: float | None
    flow_l_min: float | None
    after_wb: float


@dataclass(frozen=True)
class Machines:
    """What a field's machines can do, and the windrow before them.

    Attributes
    ----------
    setting
        Field, baler, rig.
    efficiency
        Field efficiency [-].
    along_kg_m
        Hay in a meter of windrow; None where not known.
    """

    setting: Setting
    efficiency: float
    along_kg_m: float | None

    def limits(self, call: Call) -> SpeedLimits:
        """Ground speeds of whoever is at work."""
        rig = self.setting.rig if call == Call.ADD_MOISTURE else None
        return speed_limits(self.setting.baler, rig)

    def mass_of_area_kg(self, area_m2: float | None) -> float | None:
        """Hay that lies on an area [kg]; None where not known."""
        field, width = self.setting.field, covered_width_m(self.setting.field)
        if area_m2 is None:
            return None
        if field.yield_kg_m2 is not None:
            return area_m2 * field.yield_kg_m2
        if width is None or self.along_kg_m is None:
            return None
        return area_m2 / width * self.along_kg_m


def machines_of(setting: Setting, units: UnitSystem, where: str) -> Machines:
    """What the machines of a field can do.

    Parameters
    ----------
    setting
        The field.
    units
        Of the farm file, for messages.
    where
        Name of the farm file, for messages.

    Raises
    ------
    FarmFileError
        If the baler takes nothing, or the windrow is heavier than it takes.
    """
    baler = setting.baler
    _check_windrow(setting, units, where)
    along = mass_along_kg_m(setting.field, setting.band.low_wb)
    machines = Machines(setting, field_efficiency(baler), along)
    if baler.capacity_kg_h is not None:
        _check_capacity(machines, baler.capacity_kg_h, units, where)
    return machines


def can_work(setting: Setting, units: UnitSystem) -> bool:
    """Whether a baler takes the windrow of a field, also at its slowest.

    Parameters
    ----------
    setting, units
        As in `machines_of`.
    """
    try:
        machines_of(setting, units, "")
    except FarmFileError:
        return False
    return True


def _check_windrow(setting: Setting, units: UnitSystem, where: str) -> None:
    """Refuse a windrow beyond what the pickup takes, where that is known."""
    limit, mass = setting.baler.windrow_limit_kg_m2, setting.windrow.dry_matter_kg_m2
    heaviest = float(np.max(mass))
    if limit is not None and heaviest > limit * (1 + HAIR):
        values = {"windrow": heaviest, "limit": limit}
        shown = {name: _shown(value, "windrow_mass", units) for name, value in values.items()}
        raise FarmFileError("runsheet_windrow_limit", where, field=setting.field.name, **shown)


def _check_capacity(machines: Machines, capacity: float, units: UnitSystem, where: str) -> None:
    """Refuse no throughput at all, and a windrow that is too much at the slowest speed."""
    name = machines.setting.field.name
    if not capacity > 0:
        shown = _shown(capacity, "capacity", units)
        raise FarmFileError("runsheet_no_throughput", where, value=shown)
    if machines.along_kg_m is None:
        return
    slowest = machines.limits(Call.NATURAL_DEW).slowest_m_s
    least = machines.along_kg_m * slowest * 3600
    moving = capacity / machines.efficiency
    if least > moving * (1 + HAIR):
        raise FarmFileError(
            "runsheet_windrow_heavy",
            where,
            field=name,
            speed=_shown(slowest, "ground_speed", units),
            gives=_shown(least, "capacity", units),
            takes=_shown(moving, "capacity", units),
        )


def _shown(value: float, quantity: str, units: UnitSystem) -> str:
    """A value in the farm's unit, three digits."""
    return f"{to_shown(value, quantity, units):.3g} {symbol_of(quantity, units)}"


def pace_of(machines: Machines, quarters: QuarterCalls, row: int) -> Pace | None:
    """The pace of one quarter (lane 0); None where flow and speed leave no rate in the band.

    Parameters
    ----------
    machines
        What the machines can do.
    quarters
        Calls and doses.
    row
        Which quarter; its call is natural dew or add moisture.
    """
    call = Call(int(quarters.call[row, 0]))
    moisture = float(quarters.windrow_wb[row, 0])
    rig, water = machines.setting.rig, quarters.dose
    if call != Call.ADD_MOISTURE or rig is None or water is None:
        return _moving(machines, call, 0.0, moisture)
    stays = float(water.efficiency[row, 0])
    exact = float(water.applied_l_t[row, 0])
    at = (np.array([row]), np.array([0]))
    hay = Lying(picked(quarters.hay, at), moisture, stays, water.landing.at(at[1]))
    rate = _dialed(machines, rig, exact, hay, _most_rate(machines, rig))
    return None if rate is None else _moving(machines, call, rate, _after(moisture, rate * stays))


def _after(moisture_wb: float, kept_l_t: float) -> float:
    """Moisture after some water stayed [% wet basis]."""
    return float(moisture_after(moisture_wb, kept_l_t))


def _most_rate(machines: Machines, rig: Rig) -> float:
    """The largest rate [L/t] that the rig's flow allows at the slowest speed."""
    if machines.along_kg_m is None:
        return rig.rate_max_l_t
    least_t_h = machines.along_kg_m * machines.limits(Call.ADD_MOISTURE).slowest_m_s * 3.6
    return min(rig.rate_max_l_t, 60 * rig.flow_max_l_min / least_t_h)


@dataclass(frozen=True)
class Lying:
    """The hay of one quarter: by layer, its mean moisture, and what stays of water and where."""

    hay: Layers
    windrow_wb: float
    stays: float
    landing: Landing

    def keeps(self, rate_l_t: float, limits: Limits) -> bool:
        """Whether a rate brings it into limits."""
        windrow, kept = np.array([self.windrow_wb]), np.array([rate_l_t * self.stays])
        return bool(brought_in(self.hay, windrow, kept, self.landing, limits)[0])


def _dialed(
    machines: Machines, rig: Rig, exact_l_t: float, hay: Lying, most: float
) -> float | None:
    """What can be dialed nearest to a rate and brings the hay into its limits.

    None where no step does, or the flow does not allow it; `dialed_l_t` says how.
    """
    limits = limits_of(machines.setting)

    def keeps(rates: Floats) -> Booleans:
        return np.array([hay.keeps(float(rate), limits) for rate in rates])

    rate = float(dialed_l_t(np.array([exact_l_t]), rig, keeps, most)[0])
    return rate if math.isfinite(rate) else None


def _moving(machines: Machines, call: Call, rate_l_t: float, after_wb: float) -> Pace:
    """Throughput, speed and flow at a rate: the least of what everything allows."""
    baler, rig, along = machines.setting.baler, machines.setting.rig, machines.along_kg_m
    if baler.capacity_kg_h is None:
        return Pace(rate_l_t, None, None, None, after_wb)
    allowed = [baler.capacity_kg_h / machines.efficiency]
    if rate_l_t > 0 and rig is not None:
        allowed.append(float(flow_limit_kg_h(rig, np.array(rate_l_t))))
    if along is not None:
        allowed.append(along * machines.limits(call).fastest_m_s * 3600)
    moving = min(allowed)
    speed = None if along is None else speed_for_m_s(moving, along)
    return Pace(rate_l_t, moving, speed, moving / 1000 * rate_l_t / 60, after_wb)


@dataclass(frozen=True)
class TeamPace:
    """How fast balers in one field go together in one quarter, behind a rig or without.

    Attributes
    ----------
    rate_l_t, after_wb
        As in `Pace`.
    each
        The pace of every baler, in the order of the team.
    kg_h
        Hay of all in an hour in the field, turns included; None where not known.
    flow_l_min, rig_speed_m_s
        Of the rig ahead of them; None where not known.
    """

    rate_l_t: float
    after_wb: float
    each: tuple[Pace, ...]
    kg_h: float | None
    flow_l_min: float | None
    rig_speed_m_s: float | None

    @property
    def litres_h(self) -> float | None:
        """Water that leaves the tank in an hour of work, turns included [L/h]."""
        if self.kg_h is None:
            return None if self.rate_l_t else 0.0
        return self.kg_h / 1000 * self.rate_l_t


def team_pace(team: Sequence[Machines], quarters: QuarterCalls, row: int) -> TeamPace | None:
    """The pace of balers that work together; None where no rate brings the hay in.

    Parameters
    ----------
    team
        What each baler can do, all behind one rig or all without.
    quarters, row
        As in `pace_of`.
    """
    one = pace_of(team[0], quarters, row)
    if one is None:
        return None
    return _together(team, Call(int(quarters.call[row, 0])), one.rate_l_t, one.after_wb)


def _together(team: Sequence[Machines], call: Call, rate_l_t: float, after_wb: float) -> TeamPace:
    """Several balers behind one rig share its flow and its fastest speed."""
    each = [_moving(machines, call, rate_l_t, after_wb) for machines in team]
    moving = [pace.moving_kg_h for pace in each if pace.moving_kg_h is not None]
    if len(moving) < len(each):
        return TeamPace(rate_l_t, after_wb, tuple(each), None, None, None)
    rig, along = team[0].setting.rig, team[0].along_kg_m
    most = [sum(moving)]
    if rate_l_t > 0 and rig is not None:
        most.append(float(flow_limit_kg_h(rig, np.array(rate_l_t))))
        if along is not None and rig.speed_max_m_s is not None:
            most.append(along * rig.speed_max_m_s * 3600)
    share = min(most) / sum(moving)
    scaled = tuple(_scaled(pace, share) for pace in each)
    kg_h = sum(m.efficiency * (p.moving_kg_h or 0.0) for m, p in zip(team, scaled, strict=True))
    speed = None if along is None else speed_for_m_s(min(most), along)
    return TeamPace(rate_l_t, after_wb, scaled, kg_h, min(most) / 1000 * rate_l_t / 60, speed)


def _scaled(pace: Pace, share: float) -> Pace:
    """A pace slowed down."""
    numbers = (pace.moving_kg_h, pace.speed_m_s, pace.flow_l_min)
    moving, speed, flow = (None if x is None else x * share for x in numbers)
    return Pace(pace.rate_l_t, moving, speed, flow, pace.after_wb)


FULL_FLOW = 1 - 1e-6  # of the rig's flow: then flow sets the speed
BELOW_DRY_DB = 0.005  # layers are not thought drier than this [kg/kg]


def answers_of(
    team: Sequence[Machines], quarters: QuarterCalls, row: int, readings: Sequence[float]
) -> tuple[Answer, ...]:
    """What to dial where the meter reads other than expected, one answer a reading.

    The hay is taken as drier or damper by as much in every layer (assumed).

    Parameters
    ----------
    team, quarters, row
        As in `team_pace`, behind a rig.
    readings
        Of the windrow [% wet basis].
    """
    rig, water, first = team[0].setting.rig, quarters.dose, team[0]
    if rig is None or water is None:
        return ()
    expected, stays = float(quarters.windrow_wb[row, 0]), float(water.efficiency[row, 0])
    if not math.isfinite(expected) or not math.isfinite(stays):
        return ()
    limits, landing = limits_of(first.setting), water.landing.at(np.array([0]))
    found = []
    for reads in readings:
        hay = _as_read(quarters.hay.cut(slice(row, row + 1), slice(0, 1)), expected, reads)
        soft = float(soft_share(hay, limits.leaf_minimum_wb)[0, 0]) >= limits.soft_share
        wet = float(wet_share(hay, limits.ceiling_wb)[0, 0]) > limits.wet_share
        if reads > limits.high_wb or wet:
            found.append(Answer(reads, "leave"))
        elif reads >= limits.low_wb and soft:
            found.append(Answer(reads, "none"))
        else:
            grid = (np.array([[reads]]), np.array([[True]]))
            one = dose(hay, *grid, rig, limits, np.array([[stays]]), landing)
            lying = Lying(picked(hay, (np.array([0]), np.array([0]))), reads, stays, landing)
            found.append(_answer(team, rig, float(one.applied_l_t[0, 0]), lying))
    return tuple(found)


def _as_read(hay: Layers, expected_wb: float, reads_wb: float) -> Layers:
    """The hay as if the meter read so."""
    more = reads_wb / (100 - reads_wb) - expected_wb / (100 - expected_wb)
    leaf, stem = (
        np.maximum(part + more, np.minimum(part, BELOW_DRY_DB)).astype(np.float32)
        for part in (hay.leaf_db, hay.stem_db)
    )
    return replace(hay, leaf_db=leaf, stem_db=stem)


def _answer(team: Sequence[Machines], rig: Rig, exact_l_t: float, hay: Lying) -> Answer:
    """The rate that brings hay in, and whether the pump asks for a slower speed."""
    machines = team[0]
    rate = None
    if math.isfinite(exact_l_t):
        rate = _dialed(machines, rig, exact_l_t, hay, _most_rate(machines, rig))
    if rate is None:
        return Answer(hay.windrow_wb, "leave")
    pace = _together(team, Call.ADD_MOISTURE, rate, hay.windrow_wb)
    full = pace.flow_l_min is not None and pace.flow_l_min >= FULL_FLOW * rig.flow_max_l_min
    kind: AnswerKind = "slower" if full else "rate"
    return Answer(hay.windrow_wb, kind, rate, pace.flow_l_min, pace.rig_speed_m_s)
