"""The best plan found in the time given, and how far it may be from the best there is.

The relaxed model (machines may be split) gives a bound that no schedule passes,
and prices. Small tasks are solved whole; of large ones schedules are walked
through by price, then a night or a baler at a time is solved anew.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np

from hayweather.plan.model import Model, model_of
from hayweather.plan.paths import Prices
from hayweather.plan.search import Walk, parts, solved_part
from hayweather.plan.task import Schedule, Task, nothing
from hayweather.weather.record import Booleans, Floats

GAP = 0.005  # a plan this near to the best is good enough
PIECE_S = 1.5  # longest look at one part of a plan
PIECE_GAP = 1e-4
SMALL = 1200  # options up to which the whole model is solved at once
SMALL_GAP = 1e-6
RELAXED_SHARE = 0.7  # of the time left that the relaxed model may take
STALE = 12  # tries without gain after which parts are solved anew
BETWEEN = 2  # tries between two parts
ROUNDS = 4  # times that every part is solved anew in vain before it is left at that


@dataclass(frozen=True)
class Solved:
    """A plan.

    Attributes
    ----------
    schedule
        The best found.
    value
        What it brings above leaving everything to lie.
    bound
        No schedule brings more than this.
    seconds
        Time taken.
    timed_out
        True when time was up before it was within `GAP` of the bound.
    """

    schedule: Schedule
    value: float
    bound: float
    seconds: float
    timed_out: bool

    @property
    def gap(self) -> float:
        """How much more the best there is may bring, as a part of the value."""
        return gap_of(self.value, self.bound)


def gap_of(value: float, bound: float) -> float:
    """How much more the bound is, as a part of the value; 0 where neither brings anything.

    Examples
    --------
    >>> gap_of(100.0, 102.0), gap_of(0.0, 0.0)
    (0.02, 0.0)
    """
    if np.isfinite(bound) and bound - value <= 1e-6 * max(abs(bound), 1.0):
        return 0.0
    return (bound - value) / value if value > 0 else float("inf")


def solve(task: Task, seconds: float) -> Solved:
    """The best schedule found within `seconds`.

    Parameters
    ----------
    task
        What may be done.
    seconds
        Time to take; a little more where one step lasts.
    """
    clock = _Clock(seconds)
    if not task.useful.any():
        return Solved(nothing(task), 0.0, 0.0, clock.spent(), False)
    model = model_of(task)
    bound, prices = _relaxed(task, model, clock)
    walk = Walk(task, prices, nothing(task))
    if clock.left() > 0:
        bound = _searched(model, walk, bound, clock)
    gap = gap_of(walk.value, bound)
    return Solved(walk.best, walk.value, bound, clock.spent(), gap > GAP and clock.left() <= 0.2)


class _Clock:
    """Time left."""

    def __init__(self, seconds: float) -> None:
        self.begin = time.monotonic()
        self.seconds = seconds

    def spent(self) -> float:
        """Seconds since the start."""
        return time.monotonic() - self.begin

    def left(self) -> float:
        """Seconds left."""
        return self.seconds - self.spent()


def _relaxed(task: Task, model: Model, clock: _Clock) -> tuple[float, Prices]:
    """Bound and prices when machines may be split; no bound where time is up."""
    from scipy.optimize import linprog

    none = Prices(np.zeros(task.fields), np.zeros((task.rigs, task.slots)))
    if clock.left() <= 0:
        return float("inf"), none
    found = linprog(
        model.cost,
        A_ub=model.matrix,
        b_ub=model.limit,
        bounds=(0, 1),
        method="highs",
        options={"time_limit": RELAXED_SHARE * clock.left()},
    )
    if found.status != 0 or found.fun is None:
        return float("inf"), none
    return -float(found.fun), _prices(task, model, -np.asarray(found.ineqlin.marginals))


def _prices(task: Task, model: Model, rows: Floats) -> Prices:
    """Prices of hay and of rigs in a slot from the rows of the relaxed model."""
    first = model.options
    hay = rows[first : first + task.fields] / 1000
    rig = np.zeros((task.rigs, task.slots))
    for number, held in enumerate(model.rig_rows):
        for row, window, length in held:
            rig[number, window : window + length] += rows[row] / length
    return Prices(hay, rig)


def _searched(model: Model, walk: Walk, bound: float, clock: _Clock) -> float:
    """Walk until the bound is near or time is up; the bound, lower where it was proven."""
    if model.options <= SMALL:
        walk.step()
        every = np.ones(model.options, dtype=bool)
        found, proven = solved_part(model, every, ~every, clock.left(), SMALL_GAP)
        if found is not None:
            walk.offer(model.schedule(walk.task, found))
        bound = min(bound, proven)
    cycle, number, stale = list(parts(walk.task, model)), 0, 0
    fruitless = 0
    while (
        clock.left() > 0.1 and gap_of(walk.value, bound) > GAP and fruitless < ROUNDS * len(cycle)
    ):
        stale = 0 if walk.step() else stale + 1
        if stale >= STALE:
            free = cycle[number % len(cycle)]
            fruitless = 0 if _part_anew(model, walk, free, clock) else fruitless + 1
            number, stale = number + 1, STALE - BETWEEN
    return bound


def _part_anew(model: Model, walk: Walk, free: Booleans, clock: _Clock) -> bool:
    """One part solved with the others held; whether it helped."""
    seconds = min(PIECE_S, clock.left())
    found, _ = solved_part(model, free, model.chosen(walk.best), seconds, PIECE_GAP)
    helped = found is not None and walk.offer(model.schedule(walk.task, found))
    if helped:
        walk.polish()
    return helped
