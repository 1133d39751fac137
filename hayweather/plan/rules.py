"""The rules that growers use, as schedules under the same limits: what a plan is held against.

Each baler takes the first field of an order that is fit now, on dew or with a
free rig, stays until it is done or no longer fit, and goes to the next. Hay is
baled dry by no rule. The orders are common practice without a source.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hayweather.plan.task import IDLE, Schedule, Task, with_amounts
from hayweather.weather.record import Booleans, Floats

Fit = Booleans
"""Where hay is fit, on dew or behind a rig: (balers, fields, slots, modes)."""


def by_order(task: Task, fit: Fit, order: Sequence[int]) -> Schedule:
    """The schedule of a rule.

    Parameters
    ----------
    task
        Rates and moves.
    fit
        Slots and ways that the rule would use.
    order
        Fields, the first one first.
    """
    work = _Work(task, fit)
    for slot in range(task.slots):
        for baler in range(task.balers):
            work.place(baler, slot, order)
    return with_amounts(task, work.field, work.mode)


class _Work:
    """Who is where, filled slot by slot."""

    def __init__(self, task: Task, fit: Fit) -> None:
        self.task = task
        self.may = fit & (task.rate_kg > 0)
        self.left: Floats = task.mass_kg.copy()
        self.field = np.full((task.balers, task.slots), IDLE)
        self.mode = self.field.copy()
        self.last: list[tuple[int, int] | None] = [None] * task.balers
        self.rig_last: list[tuple[int, int] | None] = [None] * task.rigs
        self.served = np.zeros((task.rigs, task.slots))

    def place(self, baler: int, slot: int, order: Sequence[int]) -> None:
        """Put a baler to work in a slot: where it is, else in the first field that is fit."""
        last = self.last[baler]
        here = [] if last is None else [last[0]]
        for field in [*here, *order]:
            if self.left[field] <= 1e-9 or not self._reaches(baler, field, slot):
                continue
            for mode in range(self.may.shape[3]):
                if self.may[baler, field, slot, mode] and self._take(baler, field, slot, mode):
                    return

    def _reaches(self, baler: int, field: int, slot: int) -> bool:
        """Whether a baler can be in a field by a slot."""
        return _in_time(self.last[baler], field, slot, self.task.moves[baler])

    def _take(self, baler: int, field: int, slot: int, mode: int) -> bool:
        """Bale there if the rig can serve it; whether it did."""
        amount = min(float(self.task.rate_kg[baler, field, slot, mode]), float(self.left[field]))
        if mode > 0:
            rig = mode - 1
            room = self.task.rig_kg[rig, field, slot] - self.served[rig, slot]
            amount = min(amount, float(room))
            moves = self.task.rig_moves[rig]
            if amount <= 1e-9 or not _in_time(self.rig_last[rig], field, slot, moves):
                return False
            self.served[rig, slot] += amount
            self.rig_last[rig] = (field, slot)
        self.field[baler, slot], self.mode[baler, slot] = field, mode
        self.left[field] -= amount
        self.last[baler] = (field, slot)
        return True


def _in_time(last: tuple[int, int] | None, field: int, slot: int, moves: np.ndarray) -> bool:
    """Whether a machine last seen in a field and slot can be in another field by a slot."""
    if last is None or last[0] == field:
        return True
    return slot - last[1] - 1 >= int(moves[last[0], field])
