"""The task that a plan solves, as plain arrays, and a schedule that may solve it.

Time runs in slots of half an hour. A baler in a slot is in one field, in one
mode: 0 is baling as the hay lies, ``1 + r`` behind rig ``r``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Floats

Whole = NDArray[np.int64]
IDLE = -1
SLOT_MINUTES = 30
SLOT_H = SLOT_MINUTES / 60
SLOT = np.timedelta64(60 * SLOT_MINUTES, "s")
DAY_SLOTS = 24 * 60 // SLOT_MINUTES


@dataclass(frozen=True)
class Task:
    """Which baler may work where, when and how, and what it brings.

    Attributes
    ----------
    rate_kg
        Hay baled in a full slot [kg], (balers, fields, slots, modes); 0 where it is not allowed.
    gain
        What a kilogram brings above leaving it to lie, the same shape.
    mass_kg
        Hay of each field, (fields,).
    moves
        Slots that a baler loses between two fields, (balers, fields, fields).
    rig_moves
        The same of each rig, (rigs, fields, fields).
    rig_kg
        Most hay that a rig serves in a slot for all balers together [kg],
        (rigs, fields, slots).
    """

    rate_kg: Floats
    gain: Floats
    mass_kg: Floats
    moves: Whole
    rig_moves: Whole
    rig_kg: Floats

    @property
    def balers(self) -> int:
        """Number of balers."""
        return int(self.rate_kg.shape[0])

    @property
    def fields(self) -> int:
        """Number of fields."""
        return int(self.rate_kg.shape[1])

    @property
    def slots(self) -> int:
        """Number of slots."""
        return int(self.rate_kg.shape[2])

    @property
    def rigs(self) -> int:
        """Number of rigs."""
        return int(self.rate_kg.shape[3]) - 1

    @property
    def useful(self) -> NDArray[np.bool_]:
        """True where baling is allowed and brings more than leaving the hay."""
        return np.asarray((self.rate_kg > 0) & (self.gain > 0))


@dataclass(frozen=True)
class Schedule:
    """What every baler does in every slot, each (balers, slots).

    Attributes
    ----------
    field, mode
        Where it bales and how; `IDLE` where it does not.
    kg
        Hay baled.
    """

    field: Whole
    mode: Whole
    kg: Floats

    def value(self, task: Task) -> float:
        """What the schedule brings above leaving everything to lie."""
        baler, slot = np.nonzero(self.field != IDLE)
        gain = task.gain[baler, self.field[baler, slot], slot, self.mode[baler, slot]]
        return float((self.kg[baler, slot] * gain).sum())

    def baled_kg(self, fields: int) -> Floats:
        """Hay baled of each field [kg], (fields,)."""
        busy = self.field != IDLE
        baled = np.bincount(self.field[busy], self.kg[busy], fields)
        return baled.astype(np.float64)


def nothing(task: Task) -> Schedule:
    """Nobody works."""
    shape = (task.balers, task.slots)
    idle = np.full(shape, IDLE, dtype=np.int64)
    return Schedule(idle, idle.copy(), np.zeros(shape))


def with_amounts(task: Task, field: Whole, mode: Whole) -> Schedule:
    """The best amounts for who is where: hours that bring most fill a field first.

    Slots without hay are left idle. Taking the best first is optimal here: a
    rig's share of a slot lies within one field (a laminar polymatroid).

    Parameters
    ----------
    task
        Rates, gains, masses.
    field, mode
        Where every baler is and how it bales, (balers, slots).
    """
    left, served = task.mass_kg.copy(), task.rig_kg.copy()
    kg = np.zeros(field.shape)
    baler, slot = np.nonzero(field != IDLE)
    where, how = field[baler, slot], mode[baler, slot]
    gains = task.gain[baler, where, slot, how]
    for i in np.argsort(-gains, kind="stable"):
        if gains[i] <= 0:
            break
        b, t, f, m = int(baler[i]), int(slot[i]), int(where[i]), int(how[i])
        room = min(float(task.rate_kg[b, f, t, m]), float(left[f]))
        if m > 0:
            room = min(room, float(served[m - 1, f, t]))
            served[m - 1, f, t] -= room
        left[f] -= room
        kg[b, t] = room
    working = kg > 1e-9
    return Schedule(
        np.where(working, field, IDLE), np.where(working, mode, IDLE), np.where(working, kg, 0.0)
    )
