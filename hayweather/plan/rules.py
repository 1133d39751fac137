"""What a grower would do by rule: one order of the fields, each worked while it is fit."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hayweather.plan.task import IDLE, PAUSE, Schedule, Task, Whole, tidied
from hayweather.weather.record import Booleans, Floats


def by_order(task: Task, order: Sequence[int]) -> Schedule:
    """The schedule of a rule, under the same charges, moves and least visits as a plan.

    A baler stays where it is while that can be worked; else it goes to the first field
    of the order that is fit when it comes there, long enough to be worth it.

    Parameters
    ----------
    task
        Rates and moves.
    order
        Fields, the first one first.
    """
    work = _Work(task)
    for quarter in np.flatnonzero(task.useful.any(axis=(0, 1, 3))):
        for baler in range(task.balers):
            work.place(baler, int(quarter), order)
    return tidied(task, work.field, work.mode, paying=False)


class _Work:
    """Who is where, filled quarter by quarter."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self.left: Floats = task.mass_kg.copy()
        shape = (task.balers, task.quarters)
        self.field: Whole = np.full(shape, IDLE)
        self.mode = self.field.copy()
        self.last: list[tuple[int, int] | None] = [None] * task.balers
        self.rig_last: list[tuple[int, int] | None] = [None] * task.rigs
        self.served = np.zeros((task.rigs, task.quarters))
        self.stays = [0] * task.balers
        self.ahead = _ahead(task)

    def place(self, baler: int, quarter: int, order: Sequence[int]) -> None:
        """Put a baler to work in a quarter: where it is, else in the first field that is fit."""
        last = self.last[baler]
        here = [] if last is None else [last[0]]
        for field in [*here, *order]:
            if self.left[field] <= 1e-9 or not self._worth_going(baler, field, quarter):
                continue
            for mode in range(self.task.rigs + 1):
                if self.task.useful[baler, field, quarter, mode] and self._take(
                    baler, field, quarter, mode
                ):
                    return

    def _worth_going(self, baler: int, field: int, quarter: int) -> bool:
        """Whether a baler can be in a field by a quarter, for long enough."""
        last = self.last[baler]
        if not _in_time(last, field, quarter, self.task.moves[baler]):
            return False
        if last is not None and last[0] == field:
            return True
        if self.stays[baler] >= self.task.most_stays:
            return False
        count, kg = self.ahead[baler, field, quarter]
        least = max(int(self.task.least[baler]), self.task.alone)
        return bool(count >= least or kg >= self.left[field])

    def _take(self, baler: int, field: int, quarter: int, mode: int) -> bool:
        """Bale there if the rig can serve it; whether it did."""
        rate = self.task.rate_kg[baler, field, quarter, mode]
        amount = min(float(rate), float(self.left[field]))
        if mode > 0:
            rig = mode - 1
            room = self.task.rig_kg[rig, field, quarter] - self.served[rig, quarter]
            amount = min(amount, float(room))
            moves = self.task.rig_moves[rig]
            if amount <= 1e-9 or not _in_time(self.rig_last[rig], field, quarter, moves):
                return False
            self.served[rig, quarter] += amount
            self.rig_last[rig] = (field, quarter)
        self.field[baler, quarter], self.mode[baler, quarter] = field, mode
        self.left[field] -= amount
        last = self.last[baler]
        self.stays[baler] += last is None or last[0] != field
        self.last[baler] = (field, quarter)
        return True


def _in_time(last: tuple[int, int] | None, field: int, quarter: int, moves: Whole) -> bool:
    """Whether a machine last seen in a field and quarter can be in another field by a quarter."""
    if last is None or last[0] == field:
        return True
    return quarter - last[1] - 1 >= int(moves[last[0], field])


def _ahead(task: Task) -> Floats:
    """Quarters of work from here on until a long pause, and the hay baled in them.

    (balers, fields, quarters, 2).
    """
    may: Booleans = np.asarray(task.useful.any(axis=3))
    most = np.where(task.useful, task.rate_kg, 0.0).max(axis=3)
    found = np.zeros((*may.shape, 2))
    count, hay = np.zeros(may.shape[:2]), np.zeros(may.shape[:2])
    idle = np.zeros(may.shape[:2])
    for t in range(task.quarters - 1, -1, -1):
        here = may[:, :, t]
        gone = here & (idle >= PAUSE)
        count, hay = np.where(gone, 0.0, count), np.where(gone, 0.0, hay)
        count, hay = count + here, hay + most[:, :, t]
        idle = np.where(here, 0.0, idle + 1)
        found[:, :, t, 0], found[:, :, t, 1] = count, hay
    return found
