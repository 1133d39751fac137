"""What no schedule can pass, and prices of hay and of rigs that belong to it.

The hay of a field and the presence of a rig are paid at prices instead of held to
their limits (Lagrangian relaxation). Then every baler and every rig has a best way of
its own, found exactly, moves paid; what they bring together, and the limits at their
prices, is at least what any schedule brings, whatever the prices are. Prices that make
it small are looked for by subgradient steps (Held, Wolfe & Crowder 1974; Polyak 1969).
The least of a visit is left out, which can only raise the bound.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hayweather.plan.paths import Measures, Net, best_paths, measures_of, net_of
from hayweather.plan.task import Task, Whole
from hayweather.weather.record import Floats

SHRINK, PATIENCE = 0.6, 6  # steps are cut by so much after so many without a better bound
KEEP = 0.6  # part of the last direction that is kept
LAST = 2
SWITCH = (0.25, 0.03)
LENGTHS = (1.0, 0.7)
BETTER = 2e-4
SMALLEST = 0.004  # step factor at which no more is to be had


@dataclass(frozen=True)
class Prices:
    """Of a kilogram of hay of each field, (fields,), and of a rig's kilogram there and then.

    Attributes
    ----------
    hay
        [currency/kg], (fields,).
    rig
        [currency/kg], (rigs, fields, quarters).
    """

    hay: Floats
    rig: Floats


def no_prices(task: Task) -> Prices:
    """Everything for nothing."""
    return Prices(np.zeros(task.fields), np.zeros((task.rigs, task.fields, task.quarters)))


class Bound:
    """The bound of a task, lowered step by step.

    Attributes
    ----------
    value
        No schedule brings more.
    prices
        That it was found with.
    """

    def __init__(self, task: Task) -> None:
        self.task = task
        self.prices = no_prices(task)
        useful = task.useful.any(axis=(0, 1, 3))
        self.steps: Whole = np.flatnonzero(useful)
        self.value = 0.0 if not self.steps.size else float("inf")
        if not self.steps.size:
            return
        moves = np.concatenate([task.moves, task.rig_moves])
        cost = np.concatenate([task.move_cost, task.rig_move_cost])
        first = np.concatenate([task.first_cost, task.rig_first_cost])
        self._net: Net = net_of(self.steps, moves, cost, first)
        rate = np.where(task.useful, task.rate_kg, 0.0)[:, :, self.steps]
        most = np.minimum(rate, task.mass_kg[:, None, None])
        self._rate = np.ascontiguousarray(most.transpose(2, 0, 1, 3))
        self._worth = self._rate * task.gain[:, :, self.steps].transpose(2, 0, 1, 3)
        self._served = np.ascontiguousarray(task.rig_kg[:, :, self.steps].transpose(2, 0, 1))
        self._safe = np.where(self._served > 0, self._served, 1.0)
        least = np.where(self._rate > 0, self._rate, np.inf).min(axis=3)
        least = np.where(np.isfinite(least), least, 0.0)
        # A rig may stay with one slow baler: it serves no less than that one takes.
        wet = self._rate[..., 1:].transpose(0, 3, 1, 2)
        slowest = np.where(wet > 0, wet, np.inf).min(axis=2)
        served = np.minimum(np.minimum(self._served, slowest), task.mass_kg)
        self._measures = measures_of(np.concatenate([least, served], axis=1), task.mass_kg)
        free = np.zeros_like(self._measures.takes)
        self._open = Measures(free, free[0])
        self._stage = 0
        self._hay = np.zeros(task.fields)  # price times all of a field's hay
        # Of a rig, price times what it serves: alone to each baler, and to all together.
        self._rig = np.zeros((*self._served.shape, task.balers + 1))
        self._length, self._stale, self._count = 1.0, 0, 0
        self._last: tuple[Floats, Floats] | None = None
        self._best = (self._hay, self._rig)

    def lower(self, target: float, more: Callable[[int], bool]) -> None:
        """Take steps while `more`, told how many were taken, says so.

        Parameters
        ----------
        target
            What some schedule brings.
        more
            Whether to go on.
        """
        if not self.steps.size:
            return
        taken = 0
        while more(taken) and self._length > SMALLEST and self.value > target * (1 + 1e-6):
            self._step(target)
            taken += 1
        self.prices = self._as_prices()

    def _step(self, target: float) -> None:
        """One evaluation, and new prices."""
        hay, rig = self._hay, self._rig
        value, slack_hay, slack_rig = self._evaluated(hay, rig)
        if value < self.value * (1 - BETTER) or not np.isfinite(self.value):
            self.value, self._best, self._stale = min(value, self.value), (hay, rig), 0
        else:
            if value < self.value:
                self.value, self._best = value, (hay, rig)
            self._stale += 1
            if self._stale >= PATIENCE:
                self._length, self._stale = self._length * SHRINK, 0
                (hay, rig), self._last = self._best, None
                value, slack_hay, slack_rig = self._evaluated(hay, rig)
                if self._stage < LAST and self._length < SWITCH[self._stage]:
                    self._stage, self._length = self._stage + 1, LENGTHS[self._stage]
        if self._stage == 0:
            slack_rig[..., :-1] = 0.0
            slack_rig = np.broadcast_to(slack_rig.sum(axis=2, keepdims=True), slack_rig.shape)
        if self._last is not None:
            slack_hay = (1 - KEEP) * slack_hay + KEEP * self._last[0]
            slack_rig = (1 - KEEP) * slack_rig + KEEP * self._last[1]
        self._last = (slack_hay, slack_rig)
        held = slack_rig[:, :, 0] if self._stage == 0 else slack_rig
        size = float((slack_hay**2).sum() + (held**2).sum())
        if size <= 1e-12:
            self._length = 0.0
            return
        step = self._length * (value - target) / size
        self._hay = np.maximum(hay - step * slack_hay, 0.0)
        self._rig = np.maximum(rig - step * slack_rig, 0.0)
        self._count += 1

    def _evaluated(self, hay: Floats, rig: Floats) -> tuple[float, Floats, Floats]:
        """The bound at prices, and what is left of hay and of rigs, as parts of all."""
        task, balers = self.task, self.task.balers
        each = hay / task.mass_kg
        net = self._worth - self._rate * each[None, None, :, None]
        if task.rigs:
            alone = rig[..., :-1].transpose(0, 3, 2, 1)
            shared = (rig[..., -1] / self._safe).transpose(0, 2, 1)[:, None]
            net[..., 1:] -= self._rate[..., 1:] * shared + alone * (self._rate[..., 1:] > 0)
        how = net.argmax(axis=3)
        best = np.maximum(np.take_along_axis(net, how[..., None], axis=3)[..., 0], 0.0)
        profit = np.concatenate([best, np.where(self._served > 0, rig.sum(axis=3), 0.0)], axis=1)
        worth, place, works = best_paths(
            self._net, profit, self._measures if self._stage == LAST else self._open
        )
        slack_hay, slack_rig = np.ones(task.fields), np.zeros_like(rig)
        for b in range(balers):
            steps = np.flatnonzero(works[b])
            at = place[b, steps]
            mode = how[steps, b, at]
            kg = self._rate[steps, b, at, mode]
            np.subtract.at(slack_hay, at, kg / task.mass_kg[at])
            wet = mode > 0
            where = (steps[wet], mode[wet] - 1, at[wet])
            slack_rig[(*where, b)] -= 1.0
            np.subtract.at(slack_rig, (*where, balers), kg[wet] / self._safe[where])
        for r in range(task.rigs):
            steps = np.flatnonzero(place[balers + r] >= 0)
            slack_rig[steps, r, place[balers + r, steps]] += 1.0
        return float(worth.sum() + hay.sum()), slack_hay, slack_rig

    def _as_prices(self) -> Prices:
        """The best prices, for every quarter."""
        hay, rig = self._best
        found = no_prices(self.task)
        each = rig[..., -1] / self._safe + rig[..., :-1].max(axis=3) / self._safe
        found.rig[:, :, self.steps] = each.transpose(1, 2, 0)
        return Prices(hay / self.task.mass_kg, found.rig)
