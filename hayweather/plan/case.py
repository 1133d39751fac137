"""A farm as a task: what each baler may do in each field and quarter, and what it brings.

A quarter may be used where the advice is go: on dew, behind the rig, or dry by the
grower's word. Without prices every kilogram counts the same.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.course import Course
from hayweather.baling.machines import field_efficiency
from hayweather.baling.setting import Setting, all_machines, dry_floor_wb, with_machines
from hayweather.baling.value import Prices, behind_rig, hour_values, layered_loss_percent
from hayweather.farm.records import Baler, Farm, Field, Rig
from hayweather.nights import FieldNight, Night
from hayweather.plan.crews import Crews, crews_of, quarter_of_day
from hayweather.plan.pace import baler_rate_kg_h, behind_rig_kg_h, can_work, keeps_pace, move_h
from hayweather.plan.task import DAY_QUARTERS, IDLE, QUARTER_H, Schedule, Task, Whole
from hayweather.weather.record import Booleans, Floats, Times
from hayweather.windrow.trajectory import QUARTER, QUARTERS


@dataclass(frozen=True)
class Look:
    """A field as a kind of baler finds it, as it lies or behind a rig, by quarters.

    Attributes
    ----------
    good
        Where it may be baled so, (quarters,).
    dry
        Where it might be as well if the grower's word allowed dry hay.
    call
        The call shown.
    value
        What a kilogram brings before the work is paid, (quarters, members).
    standing
        What a kilogram still lying at the end brings, (members,).
    water_l_t
        Water put on [L/t]; NaN without a rig.
    leaf_wb, windrow_wb
        Of the forecast [% wet basis].
    added_wb
        Points that the rig's water adds to the windrow; 0 without a rig.
    loss_percent
        Dry matter that the baler loses by the forecast, over the layers [%]; NaN
        where not known.
    rain_mm
        Of the forecast, in each quarter.
    """

    good: Booleans
    dry: Booleans
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
    """One baler in one field, one way of baling, over all quarters.

    Attributes
    ----------
    look
        The field as this baler finds it.
    rate_kg
        Hay in a quarter [kg], 0 where it may not be baled.
    dry_kg
        The same where only the grower's word is missing.
    together_kg
        Most that the rig serves in a quarter for all balers; the rate without a rig.
    member_value
        What a kilogram brings, work paid, (quarters, members); 0 where nothing is known.
    """

    look: Look
    rate_kg: Floats
    dry_kg: Floats
    together_kg: Floats
    member_value: NDArray[np.float32]


def look_of(
    field: FieldNight,
    baler: Baler,
    rig: Rig | None,
    prices: Prices | None,
    members: Whole,
    starts: Times,
    floor_wb: float,
) -> Look:
    """A field as a kind of baler finds it.

    Parameters
    ----------
    field
        With its members.
    baler, rig
        Machines; no rig to bale as the hay lies.
    prices
        What things cost; None: hay counts by weight alone.
    members
        Lanes that count the same, as many in every field.
    starts
        Of the quarters that every field has.
    floor_wb
        Leaf moisture below which hay is never baled dry [% wet basis].
    """
    course = field.course(baler, rig)
    first = int((starts[0] - course.weather.start[0]) / QUARTER)
    rows = slice(first, first + starts.size)
    course = course.between(0, -(-rows.stop // QUARTERS))
    setting = with_machines(field.setting, baler, rig)
    quarters = course.quarters
    good = course.may_bale(rig is not None)
    dry = np.zeros_like(good)
    if rig is None:
        dry = replace(course, dry_from_wb=floor_wb).may_bale(False) & ~good
    each, standing = np.ones((good.size, members.size)), np.zeros(members.size)
    if prices is not None:
        values = hour_values(quarters, course.weather, setting, prices)
        each = (values.as_it_lies if rig is None else values.with_rig)[:, members]
        standing = values.standing[rows.stop - 1, members]
    applied = course.printed
    after = quarters.windrow_wb if quarters.dose is None else quarters.dose.after_wb
    return Look(
        good=good[rows],
        dry=dry[rows],
        call=quarters.call[rows, 0],
        value=each[rows],
        standing=standing,
        water_l_t=(np.full(good.shape, np.nan) if applied is None else applied)[rows],
        leaf_wb=quarters.leaf_wb[rows, 0],
        windrow_wb=quarters.windrow_wb[rows, 0],
        added_wb=(after - quarters.windrow_wb)[rows, 0],
        loss_percent=_loss(course, setting, rig)[rows],
        rain_mm=quarters.rain_mm_h[rows, 0] * QUARTER_H,
    )


def _loss(course: Course, setting: Setting, rig: Rig | None) -> Floats:
    """Dry matter lost at the baler in each quarter [%], behind the rig where there is one."""
    quarters, lane = course.quarters, slice(0, 1)
    hay = quarters.hay
    if rig is not None and quarters.dose is not None:
        hay = behind_rig(hay, quarters.windrow_wb, quarters.dose, quarters.dose.applied_l_t[:, :1])
    loss = layered_loss_percent(hay.cut(slice(None), lane), setting.field.crop, setting.baler)
    return np.asarray(loss[:, 0])


def way_of(
    look: Look,
    setting: Setting,
    rig: Rig | None,
    prices: Prices | None,
    together: tuple[float, float],
    ahead: Floats,
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
    together
        Capacity of all balers that may follow the rig [kg/h], and their field efficiency.
    ahead
        Part of each quarter that is not over, (quarters,).
    """
    baler, field, moisture = setting.baler, setting.field, setting.band.low_wb
    alone = baler_rate_kg_h(baler, field, rig, moisture)
    water, may = look.water_l_t, look.good & (alone > 0)
    rate, many = np.full(may.shape, alone), np.full(may.shape, alone)
    if rig is not None:
        each = (alone, field_efficiency(baler))
        rate, many = (behind_rig_kg_h(*pace, rig, water) for pace in (each, together))
        may = may & np.isfinite(rate) & keeps_pace(alone, baler, rig, field, water, moisture)
    brought = look.value
    if prices is not None:
        brought = brought - _work(rate, baler, rig, prices)[:, None]
    return Way(
        look=look,
        rate_kg=np.where(may, rate * QUARTER_H * ahead, 0.0),
        dry_kg=np.where(look.dry, rate * QUARTER_H * ahead, 0.0),
        together_kg=np.where(may, many * QUARTER_H * ahead, 0.0),
        member_value=np.where(np.isfinite(brought), brought, 0.0).astype(np.float32),
    )


def without_work(way: Way) -> Way:
    """A way of machines that the field does not want."""
    none = np.zeros_like(way.rate_kg)
    return replace(way, rate_kg=none, dry_kg=none, together_kg=none)


def _work(rate: Floats, baler: Baler, rig: Rig | None, prices: Prices) -> Floats:
    """Machines, wages and the burner's fuel for a kilogram, as if one baler followed the rig.

    Infinite where nothing is baled.
    """
    hourly = prices.baler_h + prices.wage_h
    if rig is not None:
        fuel = (rig.fuel_rate_l_h or 0.0) if rig.heated else 0.0
        hourly += prices.rig_h + prices.wage_h + fuel * prices.fuel_l
    return np.divide(hourly, rate, out=np.full(rate.shape, np.inf), where=rate > 0)


OUT_H = 0.5  # a crew's way out to a baler that waits, and back (assumed)
DueFor = Literal["finish", "irrigation"]
HAUL_H = 4.0  # bales are off the field so long after the last one (assumed)

Ways = dict[tuple[int, int, int], Way]


@dataclass(frozen=True)
class Case:
    """A farm as a task.

    Attributes
    ----------
    night, prices
        What it was made of; prices None where hay counts by weight alone.
    balers, rigs
        Machines by number.
    starts
        UTC, of the quarters, (quarters,).
    task
        With shifts, rest and stops in its rates.
    ways
        By baler, field and mode; a rate of 0 where a field names other machines.
    left
        What a kilogram left lying brings, (fields, members).
    late
        What baling a kilogram late costs, (fields, quarters).
    late_at_end
        The same of hay left lying, (fields,).
    crews
        Who may work when.
    options
        What might be as well if something were otherwise.
    """

    night: Night
    prices: Prices | None
    balers: tuple[Baler, ...]
    rigs: tuple[Rig, ...]
    starts: Times
    task: Task
    ways: Ways
    left: Floats
    late: Floats
    late_at_end: Floats
    crews: Crews
    options: Options

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

    def time(self, quarter: int) -> np.datetime64:
        """UTC start of a quarter; now for the one that is running."""
        return max(self.night.start + quarter * QUARTER, self.night.now)

    def due(self, field: int) -> np.datetime64 | None:
        """When the last bale of a field must be made; None where it is due for nothing."""
        times = due_times(self.fields[field])
        return times[0][1] if times else None

    def member_gains(self, schedule: Schedule) -> Floats:
        """What a schedule brings in every member above leaving everything, (members,)."""
        total = np.zeros(self.left.shape[1])
        for baler, quarter in np.argwhere(schedule.field != IDLE):
            field, mode = int(schedule.field[baler, quarter]), int(schedule.mode[baler, quarter])
            value = self.ways[int(baler), field, mode].member_value[quarter]
            more = value - self.late[field, quarter] - self.left[field]
            total += schedule.kg[baler, quarter] * more
        return total - schedule.charges(self.task)


@dataclass(frozen=True)
class Options:
    """Rates if something were otherwise, each (balers, fields, quarters, modes) [kg].

    Attributes
    ----------
    any_hour
        If there were a crew at any hour.
    any_machine
        If every machine of the farm could go to every field.
    dry
        If the grower's word allowed dry hay.
    """

    any_hour: Floats
    any_machine: Floats
    dry: Floats


def case_of(night: Night, prices: Prices | None) -> Case:
    """A farm as a task.

    Parameters
    ----------
    night
        Of a farm whose every field has area and yield, every baler a capacity.
    prices
        What things cost; None: every kilogram counts the same, and no move costs money.
    """
    balers, rigs = all_machines(night.farm)
    count = int((night.end - night.start) / QUARTER)
    starts = night.start + np.arange(count) * QUARTER
    ways, every = _ways(night, balers, rigs, prices, starts)
    left = np.stack([_left(every, balers, f, night, prices) for f in range(len(night))])
    after = np.array([night.end + DAY])
    at_end = np.array([_late(item.setting.field, after, prices)[0] for item in night])
    late = np.stack([_late(item.setting.field, starts + QUARTER, prices) for item in night])
    moves = _move_hours(night, balers)
    shape = (len(balers), len(night), count, 1 + len(rigs))
    rate, gain = _rates(ways, left, shape)
    gain -= late[None, :, :, None]
    moves_h = float(moves.max()) if moves.size else 0.0
    crews = _crews(night, starts, rate * np.maximum(gain, 0.0), moves_h)
    crew = crews.may_work(starts, night.timezone)[:, None]
    options = Options(
        any_hour=rate,
        any_machine=_rates(every, left, shape)[0] * crew,
        dry=(rate + _dry(ways, shape)) * crew,
    )
    mass = np.array([_mass_kg(item.setting.field) for item in night])
    task = _task(night, balers, rigs, prices, (rate * crew, gain, mass, _together(every, shape)))
    return Case(night, prices, balers, rigs, starts, task, ways, left, late, at_end, crews, options)


def _task(
    night: Night,
    balers: tuple[Baler, ...],
    rigs: tuple[Rig, ...],
    prices: Prices | None,
    hay: tuple[Floats, Floats, Floats, Floats],
) -> Task:
    """The task with what moving takes and costs; a rig moves as the slowest baler."""
    hours = _move_hours(night, balers)
    quarters = np.ceil(hours / QUARTER_H - 1e-9).astype(np.int64)
    slowest, slow = hours.max(axis=0), quarters.max(axis=0)
    by_baler = by_rig = 0.0
    if prices is not None:
        by_baler, by_rig = prices.baler_h + prices.wage_h, prices.rig_h + prices.wage_h
    first = np.array([baler.move_minutes / 60 for baler in balers])
    many = len(rigs)
    rate, gain, mass, rig_kg = hay
    return Task(
        rate_kg=rate,
        gain=gain,
        mass_kg=mass,
        moves=quarters,
        move_cost=hours * by_baler,
        first_cost=first * by_baler,
        rig_moves=np.repeat(slow[None], many, axis=0),
        rig_move_cost=np.repeat(slowest[None] * by_rig, many, axis=0),
        rig_first_cost=np.full(many, float(first.max()) * by_rig),
        rig_kg=rig_kg,
        least=np.array([int(np.ceil(b.least_visit_h / QUARTER_H - 1e-9)) for b in balers]),
        most_stays=len(night) + night.days,
        out_cost=0.0 if prices is None else OUT_H * prices.wage_h,
    )


def _mass_kg(field: Field) -> float:
    """Hay of a field [kg]."""
    return (field.area_m2 or 0.0) * (field.yield_kg_m2 or 0.0)


def _ways(
    night: Night,
    balers: tuple[Baler, ...],
    rigs: tuple[Rig, ...],
    prices: Prices | None,
    starts: Times,
) -> tuple[Ways, Ways]:
    """Every baler in every field, as the hay lies and behind every rig.

    Twice: with no work of machines that a field does not want, and with all of it.
    """
    looks: dict[tuple[object, ...], Look] = {}
    ahead = np.clip((starts + QUARTER - night.now) / QUARTER, 0.0, 1.0)
    own, every = {}, {}
    for f, (item, members) in enumerate(zip(night, _members(night), strict=True)):
        for mode, rig in enumerate((None, *rigs)):
            for b, baler in enumerate(balers):
                setting = with_machines(item.setting, baler, rig)
                key = (f, mode, baler.kind, setting.band)
                if key not in looks:
                    floor = dry_floor_wb(night.farm, setting.band)
                    looks[key] = look_of(item, baler, rig, prices, members, starts, floor)
                team = [other for other in balers if other in item.balers]
                together = _team(team if baler in team else [baler])
                way = way_of(looks[key], setting, rig, prices, together, ahead)
                wanted = baler in item.balers and (rig is None or rig in item.rigs)
                wanted = wanted and can_work(setting, night.farm.units)
                own[b, f, mode] = way if wanted else without_work(way)
                every[b, f, mode] = way
    return own, every


def _team(balers: Sequence[Baler]) -> tuple[float, float]:
    """Hay that balers take in an hour in the field [kg/h], and the part of it that they move."""
    takes = [baler.capacity_kg_h or 0.0 for baler in balers]
    moving = sum(t / field_efficiency(b) for t, b in zip(takes, balers, strict=True))
    return sum(takes), sum(takes) / moving if moving else 1.0


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


def _dry(ways: Ways, shape: tuple[int, ...]) -> Floats:
    """Rates where only the grower's word is missing."""
    rate = np.zeros(shape)
    for (b, f, mode), way in ways.items():
        rate[b, f, :, mode] = way.dry_kg
    return rate


def _together(ways: Ways, shape: tuple[int, ...]) -> Floats:
    """Most hay that each rig serves in a quarter, (rigs, fields, quarters)."""
    _, fields, quarters, modes = shape
    most = np.zeros((modes - 1, fields, quarters))
    for (_, f, mode), way in ways.items():
        if mode:
            most[mode - 1, f] = np.maximum(most[mode - 1, f], way.together_kg)
    return most


def _left(
    ways: Ways, balers: tuple[Baler, ...], f: int, night: Night, prices: Prices | None
) -> Floats:
    """What a kilogram still lying at the end brings when it is baled a day later, (members,)."""
    item = night.fields[f]
    if prices is None:
        return np.zeros(ways[0, f, 0].look.standing.shape)
    hourly, found = prices.baler_h + prices.wage_h, []
    for b, baler in enumerate(balers):
        pace = baler_rate_kg_h(baler, item.setting.field, None, item.setting.band.low_wb)
        if pace > 0 and baler in item.balers:
            found.append(ways[b, f, 0].look.standing - hourly / pace)
    late = _late(item.setting.field, np.array([night.end + DAY]), prices)[0]
    return np.asarray(np.max(found, axis=0) - prices.wait_day - late)


DAY = np.timedelta64(24 * 3600, "s")


def _late(field: Field, ends: Times, prices: Prices | None) -> Floats:
    """What it costs that a kilogram is baled by these times, late by what the field is due for."""
    times = due_times(field)
    if prices is None or not times:
        return np.zeros(ends.shape)
    days = np.maximum((ends - times[0][1]) / DAY, 0.0)
    return np.asarray(prices.late * days)


def due_times(field: Field) -> list[tuple[DueFor, np.datetime64]]:
    """What a field is due for and when the last bale must be made, UTC, earliest first."""
    found: list[tuple[DueFor, np.datetime64]] = []
    if field.finish_before is not None:
        found.append(("finish", field.finish_before))
    if field.irrigation_due is not None:
        haul = np.timedelta64(int(HAUL_H * 3600), "s")
        found.append(("irrigation", field.irrigation_due - haul))
    return sorted(found, key=lambda item: item[1])


def _move_hours(night: Night, balers: tuple[Baler, ...]) -> Floats:
    """Hours from one field to another, (balers, fields, fields); 0 from a field to itself."""
    fields = [item.setting.field for item in night]
    return np.array(
        [
            [[0.0 if a == b else move_h(k, night.farm, a, b) for b in fields] for a in fields]
            for k in balers
        ]
    )


def _crews(night: Night, starts: Times, worth: Floats, longest_h: float) -> Crews:
    """Crews with a rest as long as asked for and the longest move."""
    best = worth.max(axis=3).max(axis=0).sum(axis=0)
    by_day = np.bincount(quarter_of_day(starts, night.timezone), best, DAY_QUARTERS)
    longest = np.ceil(longest_h / QUARTER_H - 1e-9) * QUARTER_H
    farm = night.farm
    return crews_of(farm.shifts, farm.rest_h + longest, by_day.astype(np.float64))
