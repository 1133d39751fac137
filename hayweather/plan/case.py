"""A farm as a task: fields, balers and rigs over the slots ahead, under every hard rule."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from hayweather.baling.decide import Costs
from hayweather.baling.value import Prices
from hayweather.farm.bands import band_for
from hayweather.farm.records import Baler, Farm, Field, Rig
from hayweather.plan.ahead import Ahead, with_machines
from hayweather.plan.crews import Crews, crews_of, slot_of_day
from hayweather.plan.options import Look, Way, look_of, way_of
from hayweather.plan.rates import baler_rate_kg_h, move_h
from hayweather.plan.task import DAY_SLOTS, IDLE, SLOT, SLOT_H, Schedule, Task, Whole
from hayweather.weather.record import Booleans, Floats, Times

HAUL_H = 4.0  # bales are off the field so long after the last one (assumed)

Ways = dict[tuple[int, int, int], Way]


@dataclass(frozen=True)
class Case:
    """A farm as a task.

    Attributes
    ----------
    farm, ahead, prices
        What it was made of.
    balers, rigs
        Machines by number.
    slots
        UTC starts, (slots,).
    task
        With shifts, rest, due times and stops in its rates.
    ways
        By baler, field and mode.
    left
        What a kilogram left lying brings, (fields, members).
    crews
        Who may work when.
    """

    farm: Farm
    ahead: Ahead
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
        return tuple(item.setting.field for item in self.ahead.fields)

    def member_gains(self, schedule: Schedule) -> Floats:
        """What a schedule brings in every member above leaving everything, (members,)."""
        total = np.zeros(self.left.shape[1])
        for baler, slot in np.argwhere(schedule.field != IDLE):
            field, mode = int(schedule.field[baler, slot]), int(schedule.mode[baler, slot])
            value = self.ways[int(baler), field, mode].member_value[slot]
            total += schedule.kg[baler, slot] * (value - self.left[field])
        return total


def case_of(farm: Farm, ahead: Ahead, prices: Prices, rigs: tuple[Rig, ...]) -> Case:
    """A farm as a task.

    Parameters
    ----------
    farm
        Every field with area and yield, every baler with a capacity.
    ahead
        Its fields through the hours ahead.
    prices
        What things cost.
    rigs
        As tuned.
    """
    balers = tuple(farm.balers.values())
    count = int((ahead.end - ahead.start) / SLOT)
    slots = ahead.start + np.arange(count) * SLOT
    ways = _ways(ahead, balers, rigs, prices, Costs.of(farm.money))
    left = np.stack([_left(ways, balers, f, ahead, prices) for f in range(len(ahead.fields))])
    moves, rig_moves = _moves(ahead, balers, len(rigs))
    rate, gain = _rates(ways, left, (len(balers), len(ahead.fields), count, 1 + len(rigs)))
    rate *= np.stack([_before_due(item.setting.field, slots) for item in ahead.fields])[..., None]
    crews = _crews(farm, ahead, slots, rate * np.maximum(gain, 0.0), moves)
    rate *= crews.may_work(slots, ahead.timezone)[:, None]
    mass = np.array([_mass_kg(item.setting.field) for item in ahead.fields])
    task = Task(rate, gain, mass, moves, rig_moves, _together(ways, rate))
    return Case(farm, ahead, prices, balers, rigs, slots, task, ways, left, crews)


def _mass_kg(field: Field) -> float:
    """Hay of a field [kg]."""
    return (field.area_m2 or 0.0) * (field.yield_kg_m2 or 0.0)


def _ways(
    ahead: Ahead, balers: tuple[Baler, ...], rigs: tuple[Rig, ...], prices: Prices, costs: Costs
) -> Ways:
    """Every baler in every field, as the hay lies and behind every rig."""
    together = sum(baler.capacity_kg_h or 0.0 for baler in balers)
    looks: dict[tuple[object, ...], Look] = {}
    members = _members(ahead)
    ways = {}
    for f, item in enumerate(ahead.fields):
        for mode, rig in enumerate((None, *rigs)):
            for b, baler in enumerate(balers):
                key = (f, mode, baler.kind, band_for(baler, item.setting.field))
                if key not in looks:
                    looks[key] = look_of(item, baler, rig, prices, costs, members)
                setting = with_machines(item.setting, baler, rig)
                ways[b, f, mode] = way_of(looks[key], setting, rig, prices, together)
    return ways


def _members(ahead: Ahead) -> slice:
    """Lanes that count: as many members as every field has, the forecast where there are none."""
    fewest = min(item.plan.members.weather.lanes for item in ahead.fields)
    return slice(1, fewest) if fewest > 1 else slice(0, 1)


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


def _left(ways: Ways, balers: tuple[Baler, ...], f: int, ahead: Ahead, prices: Prices) -> Floats:
    """What a kilogram still lying at the end brings when it is baled a day later, (members,)."""
    item, hourly = ahead.fields[f], prices.baler_h + prices.wage_h
    found = []
    for b, baler in enumerate(balers):
        pace = baler_rate_kg_h(baler, item.setting.field, None, item.setting.band.low_wb)
        if pace > 0:
            found.append(ways[b, f, 0].look.standing - hourly / pace)
    late = prices.late if _is_due(item.setting.field, ahead.end) else 0.0
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


def _moves(ahead: Ahead, balers: tuple[Baler, ...], rigs: int) -> tuple[Whole, Whole]:
    """Slots lost between fields, of every baler and of every rig (as the slowest baler)."""
    sites = [item.setting.site for item in ahead.fields]
    hours = np.array([[[move_h(b, one, two) for two in sites] for one in sites] for b in balers])
    moves = np.ceil(hours / SLOT_H - 1e-9).astype(np.int64)
    moves[:, np.arange(len(sites)), np.arange(len(sites))] = 0
    return moves, np.repeat(moves.max(axis=0)[None], rigs, axis=0)


def _crews(farm: Farm, ahead: Ahead, slots: Times, worth: Floats, moves: Whole) -> Crews:
    """Crews with a rest as long as asked for and the longest move."""
    best = worth.max(axis=3).max(axis=0).sum(axis=0)
    by_day = np.bincount(slot_of_day(slots, ahead.timezone), best, DAY_SLOTS).astype(np.float64)
    return crews_of(farm.shifts, farm.rest_h + SLOT_H * float(moves.max()), by_day)
