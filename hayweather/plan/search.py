"""Looking for better schedules: paths at prices that vary, and parts solved anew."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from hayweather.plan.model import Model
from hayweather.plan.paths import Prices, improved
from hayweather.plan.task import DAY_SLOTS, Schedule, Task, nothing
from hayweather.weather.record import Booleans, Floats

SEED = 20250708
LEVELS = (1.0, 0.97, 0.9, 0.8)
NARROW, WIDE = 0.03, 0.1  # how far prices are varied, as parts of themselves


class Walk:
    """A walk from price to price that keeps the best schedule.

    Parameters
    ----------
    task, prices
        The task, and prices from its relaxed model.
    best
        The best schedule so far.
    """

    def __init__(self, task: Task, prices: Prices, best: Schedule) -> None:
        self.task, self.prices, self.best = task, prices, best
        self.value = best.value(task)
        self.tries = 0
        self._chance = np.random.default_rng(SEED)

    def offer(self, schedule: Schedule) -> bool:
        """Keep a schedule if it brings more; whether it does."""
        value = schedule.value(self.task)
        better = value > self.value * (1 + 1e-9) + 1e-9
        if better:
            self.best, self.value = schedule, value
        return better

    def step(self) -> bool:
        """One set of prices tried from nothing, and on the best schedule; whether it helped."""
        prices, order = self._varied(), self._chance.permutation(self.task.balers).tolist()
        fresh = improved(self.task, nothing(self.task), prices, order)
        helped = self.offer(fresh)
        some = order[: 1 + self.tries % len(order)]
        helped |= self.offer(improved(self.task, self.best, prices, some, 1))
        self.tries += 1
        if helped:
            self.prices = prices
        return helped

    def polish(self) -> None:
        """Each baler fills what others left, at no price."""
        free = Prices(0 * self.prices.hay, 0 * self.prices.rig)
        self.offer(improved(self.task, self.best, free, range(self.task.balers), 1))

    def _varied(self) -> Prices:
        """The prices at first at some levels, then varied at random."""
        hay, rig = self.prices.hay, self.prices.rig
        if self.tries < len(LEVELS):
            return Prices(hay * LEVELS[self.tries], rig)
        width = NARROW if self.tries % 2 else WIDE
        factor = np.exp(self._chance.normal(-NARROW / 2, width, hay.size))
        return Prices(hay * factor, rig * self._chance.uniform(0.6, 1.1))


def parts(task: Task, model: Model) -> Iterator[Booleans]:
    """Options to be chosen anew together: those of a baler, those of a day and its night."""
    for baler in range(task.balers):
        if (model.baler == baler).any():
            yield model.baler == baler
    for first in range(0, task.slots, DAY_SLOTS):
        inside = (model.slot >= first) & (model.slot < first + DAY_SLOTS)
        if inside.any():
            yield inside


def solved_part(
    model: Model, free: Booleans, chosen: Booleans, seconds: float, gap: float
) -> tuple[Booleans | None, float]:
    """Options with some of them free and the others as chosen; and what cannot be passed.

    Parameters
    ----------
    model
        The whole model.
    free, chosen
        Which options may change; what the others are, (options,).
    seconds, gap
        When to stop: time, and part of the value that may be missing.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    columns, rows, limit = _cut(model, free, chosen)
    whole = (columns < model.options).astype(np.int64)
    found = milp(
        model.cost[columns],
        constraints=LinearConstraint(model.matrix[rows][:, columns], -np.inf, limit[rows]),
        integrality=whole,
        bounds=Bounds(0, 1),
        options={"time_limit": max(seconds, 0.05), "mip_rel_gap": gap},
    )
    proven = float("inf") if found.mip_dual_bound is None else -float(found.mip_dual_bound)
    if found.x is None:
        return None, proven
    result = chosen & ~free
    result[columns[: int(whole.sum())]] = found.x[: int(whole.sum())] > 0.5
    return result, proven


def _cut(model: Model, free: Booleans, chosen: Booleans) -> tuple[np.ndarray, np.ndarray, Floats]:
    """Columns and rows of the model that matter to a part, and the limits left."""
    options, matrix = model.options, model.matrix
    held = np.zeros(matrix.shape[1])
    held[:options] = chosen & ~free
    used = matrix @ held
    limit = model.limit - used
    kept = np.zeros(matrix.shape[1], dtype=bool)
    kept[:options] = free
    kept[options : 2 * options] = free | chosen
    near = (abs(matrix) @ kept.astype(float) > 0) | (used != 0)
    present = abs(matrix[:, 2 * options :]).T @ near.astype(float) > 0
    kept[2 * options :] = present
    rows = np.flatnonzero(abs(matrix) @ kept.astype(float) > 0)
    return np.flatnonzero(kept), rows, limit
