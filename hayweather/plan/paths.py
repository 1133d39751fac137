"""Good schedules from prices: one baler's best path at a time, the others held.

Prices of hay in each field and of each rig in each slot come from the relaxed
model. A path is found by dynamic programming over slots, one label a field: the
best value so far with what it left in every field.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.plan.task import IDLE, Schedule, Task, Whole, with_amounts
from hayweather.weather.record import Booleans, Floats


@dataclass(frozen=True)
class Prices:
    """What hay and rigs are worth elsewhere.

    Attributes
    ----------
    hay
        A kilogram of each field, (fields,).
    rig
        A rig in a slot, (rigs, slots).
    """

    hay: Floats
    rig: Floats


def improved(
    task: Task, schedule: Schedule, prices: Prices, order: Sequence[int], rounds: int = 3
) -> Schedule:
    """The best schedule found by giving each baler in turn its best path.

    Parameters
    ----------
    task, schedule
        Where to begin.
    prices
        Of hay and rigs.
    order
        Balers in the order in which they choose.
    rounds
        Times that each chooses.
    """
    best, now = schedule, schedule
    for _ in range(rounds):
        for baler in order:
            now = _with_path(task, now, prices, baler)
        now = with_amounts(task, now.field, now.mode)
        if now.value(task) <= best.value(task) + 1e-9:
            break
        best = now
    return best


def _with_path(task: Task, schedule: Schedule, prices: Prices, baler: int) -> Schedule:
    """The schedule with the best path of one baler, the others as they are."""
    field, mode, kg = schedule.field.copy(), schedule.mode.copy(), schedule.kg.copy()
    field[baler] = mode[baler] = IDLE
    kg[baler] = 0.0
    others = Schedule(field, mode, kg)
    left = task.mass_kg - others.baled_kg(task.fields)
    rate, gain, how = _choices(task, others, prices, baler)
    field[baler] = _path(rate, gain, np.maximum(left, 0.0), task.moves[baler])
    busy = np.flatnonzero(field[baler] != IDLE)
    mode[baler, busy] = how[field[baler, busy], busy]
    kg[baler, busy] = rate[field[baler, busy], busy]
    return with_amounts(task, field, mode)


def _choices(
    task: Task, others: Schedule, prices: Prices, baler: int
) -> tuple[Floats, Floats, Whole]:
    """Rate, priced gain and mode of the best way to be in each field and slot."""
    rate = np.where(task.useful[baler], task.rate_kg[baler], 0.0).copy()
    cost = np.zeros_like(rate)
    for rig in range(task.rigs):
        free, left = _rig_left(task, others, rig)
        rate[:, :, 1 + rig] = np.where(free, np.minimum(rate[:, :, 1 + rig], left), 0.0)
        cost[:, :, 1 + rig] = prices.rig[rig] * (rate[:, :, 1 + rig] > 0)
    gain = task.gain[baler] - prices.hay[:, None, None]
    worth = np.where(rate > 0, rate * gain - cost, -np.inf)
    how = worth.argmax(axis=2)
    pick = how[..., None]
    best = np.take_along_axis(worth, pick, axis=2)[..., 0]
    taken = np.where(best > 0, np.take_along_axis(rate, pick, axis=2)[..., 0], 0.0)
    return taken, np.where(taken > 0, best / np.where(taken > 0, taken, 1.0), 0.0), how


def _rig_left(task: Task, others: Schedule, rig: int) -> tuple[Booleans, Floats]:
    """Where and when a rig may serve one more baler, and how much hay, (fields, slots)."""
    free = np.ones((task.fields, task.slots), dtype=bool)
    left = task.rig_kg[rig].copy()
    for baler, slot in np.argwhere(others.mode == 1 + rig):
        at = int(others.field[baler, slot])
        left[at, slot] -= others.kg[baler, slot]
        for place in range(task.fields):
            far = int(task.rig_moves[rig, at, place])
            if place != at:
                free[place, max(slot - far, 0) : slot + far + 1] = False
    return free & (left > 1e-9), np.maximum(left, 0.0)


def _path(rate: Floats, gain: Floats, mass: Floats, moves: Whole) -> Whole:
    """Field of each slot on the best path of one baler, `IDLE` where it does not work."""
    path = np.full(rate.shape[1], IDLE)
    slots = np.flatnonzero((rate > 0).any(axis=0))
    if slots.size == 0:
        return path
    worth, came, works = _forward(rate[:, slots], gain[:, slots], mass, moves, slots)
    f, i = int(worth[-1].argmax()), slots.size
    while i > 0:
        i -= 1
        if works[i, f]:
            path[slots[i]] = f
        before, place = came[i, f]
        if place != f:
            f, i = int(place), int(before)
    return path


def _forward(
    rate: Floats, gain: Floats, mass: Floats, moves: Whole, slots: Whole
) -> tuple[Floats, Whole, Booleans]:
    """Best value after each slot by field, from which slot and field it came, whether it works."""
    count, fields = slots.size, mass.size
    every = np.arange(fields)
    worth = np.zeros((count + 1, fields))
    left = np.broadcast_to(mass, (count + 1, fields, fields)).copy()
    came = np.zeros((count, fields, 2), dtype=np.int64)
    works = np.zeros((count, fields), dtype=bool)
    distances = [(int(d), (moves == d) & ~np.eye(fields, dtype=bool)) for d in np.unique(moves)]
    for i in range(count):
        value, held = worth[i].copy(), left[i].copy()
        came[i, :, 0], came[i, :, 1] = i, every
        for distance, near in distances:
            j = int(np.searchsorted(slots, slots[i] - distance, side="left"))
            reached = np.where(near, worth[j][:, None], -np.inf)
            origin = reached.argmax(axis=0)
            better = reached[origin, every] > value + 1e-9
            value[better] = reached[origin, every][better]
            held[better] = left[j][origin[better]]
            came[i, better, 0], came[i, better, 1] = j, origin[better]
        amount = np.minimum(rate[:, i], held[every, every])
        worth[i + 1] = value + amount * gain[:, i]
        left[i + 1] = held
        left[i + 1][every, every] -= amount
        works[i] = amount > 1e-9
    return worth, came, works
