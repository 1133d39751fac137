"""A farm as a task: what each baler may do in each field and slot, and what it brings.

A slot may be used where both its quarters may, by the call shown: on dew, behind
the rig, or dry where it is cured but too dry.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.course import Course
from hayweather.baling.setting import Setting, all_machines, with_machines
from hayweather.baling.value import Prices, behind_rig, hour_values, layered_loss_percent
from hayweather.farm.records import Baler, Farm, Field, Rig
from hayweather.nights import FieldNight, Night
from hayweather.plan.crews import Crews, crews_of, slot_of_day
from hayweather.plan.pace import baler_rate_kg_h, behind_rig_kg_h, keeps_pace, move_h
from hayweather.plan.task import DAY_SLOTS, IDLE, SLOT, SLOT_H, SLOT_MINUTES, Schedule, Task, Whole
from hayweather.weather.record import HOUR, Booleans, Floats, Times

SLOT_QUARTERS = SLOT_MINUTES // 15


@dataclass(frozen=True)
class Look:
    """A field as a kind of baler finds it, as it lies or behind a rig, by slots.

    Attributes
    ----------
    good
        Where it may be baled so, by the call shown and the stops, (slots,).
    call
        The call shown, of the first quarter.
    value
        What a kilogram brings before the work is paid, (slots, members).
    standing
        What a kilogram still lying at the end brings, (members,).
    water_l_t
        Water put on [L/t], the more of the two quarters; NaN without a rig.
    leaf_wb, windrow_wb
        Of the forecast [% wet basis].
    added_wb
        Points that the rig's water adds to the windrow; 0 without a rig.
    loss_percent
        Dry matter that the baler loses by the forecast, over the layers [%]; NaN
        where not known.
    rain_mm
        Of the forecast, in each slot.
    """

    good: Booleans
    call: NDArray[np.int8]
    value: Floats
    standing: Floats
    water_l_t: Floats
    leaf_wb: Floats
    windrow_wb: Floats
    added_wb: Floats
    loss_percent: Floats
    rain_mm: Floats


@dataclass(frozen=True)
class Way:
    """One baler in one field, one way of baling, over all slots.

    Attributes
    ----------
    look
        The field as this baler finds it.
    rate_kg
        Hay in a full slot [kg], 0 where it may not be baled.
    together_kg
        Most that the rig serves in a slot for all balers; the rate without a rig.
    member_value
        What a kilogram brings, work paid, (slots, members); 0 where nothing is known.
    """

    look: Look
    rate_kg: Floats
    together_kg: Floats
    member_value: NDArray[np.float32]


def look_of(
    field: FieldNight, baler: Baler, rig: Rig | None, prices: Prices, members: Whole, hours: int
) -> Look:
    """A field as a kind of baler finds it.

    Parameters
    ----------
    field
        With its members.
    baler, rig
        Machines; no rig to bale as the hay lies.
    prices
        What things cost.
    members
        Lanes that count the same, as many in every field.
    hours
        That every field has.
    """
    course = field.course(baler, rig).between(0, hours)
    setting = with_machines(field.setting, baler, rig)
    values = hour_values(course.quarters, course.weather, setting, prices)
    each = values.as_it_lies if rig is None else values.with_rig
    return Look(
        good=_good(course, rig),
        call=course.quarters.call[::SLOT_QUARTERS, 0],
        value=_slots(each[:, members]),
        standing=values.standing[-1, members],
        water_l_t=_water(course),
        leaf_wb=_slots(course.quarters.leaf_wb[:, :1])[:, 0],
        windrow_wb=_slots(course.quarters.windrow_wb[:, :1])[:, 0],
        added_wb=_added(course),
        loss_percent=_loss(course, setting, rig),
        rain_mm=_slots(course.quarters.rain_mm_h[:, :1])[:, 0] * SLOT_H,
    )


def _loss(course: Course, setting: Setting, rig: Rig | None) -> Floats:
    """Dry matter lost at the baler in each slot [%], behind the rig where there is one."""
    quarters, lane = course.quarters, slice(0, 1)
    hay = quarters.hay
    if rig is not None and quarters.dose is not None:
        hay = behind_rig(hay, quarters.windrow_wb, quarters.dose, quarters.dose.applied_l_t[:, :1])
    loss = layered_loss_percent(hay.cut(slice(None), lane), setting.field.crop, setting.baler)
    return _slots(loss)[:, 0]


def _slots(quarters: Floats) -> Floats:
    """Mean of the quarters of each slot, (quarters, n) to (slots, n)."""
    return np.asarray(quarters.reshape(-1, SLOT_QUARTERS, quarters.shape[1]).mean(axis=1))


def _good(course: Course, rig: Rig | None) -> Booleans:
    """Slots whose quarters all may be baled: go in this way, or dry at a loss."""
    good = course.may_bale(rig is not None)
    return np.asarray(good.reshape(-1, SLOT_QUARTERS).all(axis=1))


def _water(course: Course) -> Floats:
    """Water put on in each slot [L/t]; NaN without a rig."""
    if course.quarters.dose is None:
        return np.full(course.quarters.call.shape[0] // SLOT_QUARTERS, np.nan)
    applied = course.quarters.dose.applied_l_t[:, 0]
    return np.asarray(applied.reshape(-1, SLOT_QUARTERS).max(axis=1))


def _added(course: Course) -> Floats:
    """Points that the water of each slot adds; 0 without a rig, NaN where it cannot help."""
    quarters = course.quarters
    after = quarters.windrow_wb if quarters.dose is None else quarters.dose.after_wb
    return _slots(after[:, :1] - quarters.windrow_wb[:, :1])[:, 0]


def way_of(
    look: Look, setting: Setting, rig: Rig | None, prices: Prices, together_kg_h: float
) -> Way:
    """One baler's pace and gain in a field.

    Parameters
    ----------
    look
        The field as this kind of baler finds it.
    setting
        With this baler.
    rig
        That it follows; None to bale as the hay lies.
    prices
        What work costs.
    together_kg_h
        Capacity of all balers that may follow the rig.
    """
    baler, field, moisture = setting.baler, setting.field, setting.band.low_wb
    alone = baler_rate_kg_h(baler, field, rig, moisture)
    water, may = look.water_l_t, look.good & (alone > 0)
    rate, many = np.full(may.shape, alone), np.full(may.shape, alone)
    if rig is not None:
        rate, many = (behind_rig_kg_h(pace, rig, water) for pace in (alone, together_kg_h))
        may = may & np.isfinite(rate) & keeps_pace(alone, baler, rig, field, water, moisture)
    brought = look.value - _work(rate, baler, rig, prices)[:, None]
    return Way(
        look=look,
        rate_kg=np.where(may, rate * SLOT_H, 0.0),
        together_kg=np.where(may, many * SLOT_H, 0.0),
        member_value=np.where(np.isfinite(brought), brought, 0.0).astype(np.float32),
    )


def without_work(way: Way) -> Way:
    """A way of machines that the field does not want."""
    none = np.zeros_like(way.rate_kg)
    return replace(way, rate_kg=none, together_kg=none)


def _work(rate: Floats, baler: Baler, rig: Rig | None, prices: Prices) -> Floats:
    """Machines, wages and the burner's fuel for a kilogram, as if one baler followed the rig.

    Infinite where nothing is baled.
    """
    hourly = prices.baler_h + prices.wage_h
    if rig is not None:
        fuel = (rig.fuel_rate_l_h or 0.0) if rig.heated else 0.0
        hourly += prices.rig_h + prices.wage_h + fuel * prices.fuel_l
    return np.divide(hourly, rate, out=np.full(rate.shape, np.inf), where=rate > 0)


HAUL_H = 4.0  # bales are off the field so long after the last one (assumed)

Ways = dict[tuple[int, int, int], Way]


@dataclass(frozen=True)
class Case:
    """A farm as a task.

    Attributes
    ----------
    night, prices
        What it was made of.
    balers, rigs
        Machines by number.
    slots
        UTC starts, (slots,).
    task
        With shifts, rest, due times and stops in its rates.
    ways
        By baler, field and mode; a rate of 0 where a field names other machines.
    left
        What a kilogram left lying brings, (fields, members).
    crews
        Who may work when.
    """

    night: Night
    prices: Prices
    balers: tuple[Baler, ...]
    rigs: tuple[Rig, ...]
    slots: Times
    task: Task
    ways: Ways
    left: Floats
    crews: Crews

    @property
    def fields(self) -> tuple[Field, ...]:
        """The fields by number."""
        return tuple(item.setting.field for item in self.night)

    @property
    def farm(self) -> Farm:
        """The farm."""
        return self.night.farm

    def as_it_lies(self, field: int) -> Look:
        """A field as the first baler that works there finds it, without a rig."""
        names = [baler.name for baler in self.balers]
        own = names.index(self.night.fields[field].balers[0].name)
        return self.ways[own, field, 0].look

    def member_gains(self, schedule: Schedule) -> Floats:
        """What a schedule brings in every member above leaving everything, (members,)."""
        total = np.zeros(self.left.shape[1])
        for baler, slot in np.argwhere(schedule.field != IDLE):
            field, mode = int(schedule.field[baler, slot]), int(schedule.mode[baler, slot])
            value = self.ways[int(baler), field, mode].member_value[slot]
            total += schedule.kg[baler, slot] * (value - self.left[field])
        return total


def case_of(night: Night, prices: Prices) -> Case:
    """A farm as a task.

    Parameters
    ----------
    night
        Of a farm whose every field has area and yield, every baler a capacity.
    prices
        What things cost.
    """
    balers, rigs = all_machines(night.farm)
    count = int((night.end - night.start) / SLOT)
    slots = night.start + np.arange(count) * SLOT
    ways = _ways(night, balers, rigs, prices)
    left = np.stack([_left(ways, balers, f, night, prices) for f in range(len(night))])
    moves, rig_moves = _moves(night, balers, len(rigs))
    rate, gain = _rates(ways, left, (len(balers), len(night), count, 1 + len(rigs)))
    rate *= np.stack([_before_due(item.setting.field, slots) for item in night])[..., None]
    crews = _crews(night, slots, rate * np.maximum(gain, 0.0), moves)
    rate *= crews.may_work(slots, night.timezone)[:, None]
    mass = np.array([_mass_kg(item.setting.field) for item in night])
    task = Task(rate, gain, mass, moves, rig_moves, _together(ways, rate))
    return Case(night, prices, balers, rigs, slots, task, ways, left, crews)


def _mass_kg(field: Field) -> float:
    """Hay of a field [kg]."""
    return (field.area_m2 or 0.0) * (field.yield_kg_m2 or 0.0)


def _ways(night: Night, balers: tuple[Baler, ...], rigs: tuple[Rig, ...], prices: Prices) -> Ways:
    """Every baler in every field, as the hay lies and behind every rig."""
    looks: dict[tuple[object, ...], Look] = {}
    hours = int((night.end - night.start) / HOUR)
    ways = {}
    for f, (item, members) in enumerate(zip(night, _members(night), strict=True)):
        together = sum(baler.capacity_kg_h or 0.0 for baler in item.balers)
        for mode, rig in enumerate((None, *rigs)):
            for b, baler in enumerate(balers):
                setting = with_machines(item.setting, baler, rig)
                key = (f, mode, baler.kind, setting.band)
                if key not in looks:
                    looks[key] = look_of(item, baler, rig, prices, members, hours)
                way = way_of(looks[key], setting, rig, prices, together)
                own = baler in item.balers and (rig is None or rig in item.rigs)
                ways[b, f, mode] = way if own else without_work(way)
    return ways


def _members(night: Night) -> list[Whole]:
    """Lanes of every field that count the same, as many in each; the forecast without members.

    Where readings weigh the members, a lane stands as often as its weight says.
    """
    count = max(min(item.shown.weather.lanes for item in night) - 1, 0)
    return [equal_lanes(item.weighed.weights.weights, count) for item in night]


def equal_lanes(weights: Floats, count: int) -> Whole:
    """So many lanes, each as often as its weight says."""
    if not count or not weights.any():
        return np.arange(1, count + 1) if count else np.zeros(1, dtype=np.int64)
    edges = np.cumsum(weights)
    return np.searchsorted(edges, (np.arange(count) + 0.5) / count * edges[-1])


def _rates(
    ways: Mapping[tuple[int, int, int], Way], left: Floats, shape: tuple[int, ...]
) -> tuple[Floats, Floats]:
    """Rates, and expected gains above leaving the hay."""
    rate, gain = np.zeros(shape), np.zeros(shape)
    for (b, f, mode), way in ways.items():
        rate[b, f, :, mode] = way.rate_kg
        gain[b, f, :, mode] = way.member_value.mean(axis=1) - left[f].mean()
    return rate, gain


def _together(ways: Ways, rate: Floats) -> Floats:
    """Most hay that each rig serves in a slot, (rigs, fields, slots)."""
    _, fields, slots, modes = rate.shape
    most = np.zeros((modes - 1, fields, slots))
    for (_, f, mode), way in ways.items():
        if mode:
            most[mode - 1, f] = np.maximum(most[mode - 1, f], way.together_kg)
    return most


def _left(ways: Ways, balers: tuple[Baler, ...], f: int, night: Night, prices: Prices) -> Floats:
    """What a kilogram still lying at the end brings when it is baled a day later, (members,)."""
    item, hourly = night.fields[f], prices.baler_h + prices.wage_h
    found = []
    for b, baler in enumerate(balers):
        pace = baler_rate_kg_h(baler, item.setting.field, None, item.setting.band.low_wb)
        if pace > 0 and baler in item.balers:
            found.append(ways[b, f, 0].look.standing - hourly / pace)
    late = prices.late if _is_due(item.setting.field, night.end) else 0.0
    return np.asarray(np.max(found, axis=0) - prices.wait_day - late)


def due_times(field: Field) -> list[tuple[str, np.datetime64]]:
    """What a field is due for and when the last bale must be made, UTC, earliest first."""
    found = []
    if field.finish_before is not None:
        found.append(("finish", field.finish_before))
    if field.irrigation_due is not None:
        haul = np.timedelta64(int(HAUL_H * 3600), "s")
        found.append(("irrigation", field.irrigation_due - haul))
    return sorted(found, key=lambda item: item[1])


def _is_due(field: Field, end: np.datetime64) -> bool:
    """Whether a field is due before the plan ends."""
    return any(time <= end for _, time in due_times(field))


def _before_due(field: Field, slots: Times) -> Booleans:
    """Slots that end before a field is due, (slots,)."""
    times = [time for _, time in due_times(field)]
    return np.asarray(slots + SLOT <= min(times)) if times else np.ones(slots.shape, dtype=bool)


def _moves(night: Night, balers: tuple[Baler, ...], rigs: int) -> tuple[Whole, Whole]:
    """Slots lost between fields, of every baler and of every rig (as the slowest baler)."""
    sites = [item.setting.site for item in night]
    hours = np.array([[[move_h(b, one, two) for two in sites] for one in sites] for b in balers])
    moves = np.ceil(hours / SLOT_H - 1e-9).astype(np.int64)
    moves[:, np.arange(len(sites)), np.arange(len(sites))] = 0
    return moves, np.repeat(moves.max(axis=0)[None], rigs, axis=0)


def _crews(night: Night, slots: Times, worth: Floats, moves: Whole) -> Crews:
    """Crews with a rest as long as asked for and the longest move."""
    best = worth.max(axis=3).max(axis=0).sum(axis=0)
    by_day = np.bincount(slot_of_day(slots, night.timezone), best, DAY_SLOTS).astype(np.float64)
    farm = night.farm
    return crews_of(farm.shifts, farm.rest_h + SLOT_H * float(moves.max()), by_day)
