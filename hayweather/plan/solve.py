"""The plan of a task: each baler in turn takes its best way, again and again, from some starts.

Prices of the bound say which hay and which rig hours are scarce. They are varied, and
single stays forbidden, to come away from where nobody alone can do better.
"""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.plan.bound import Bound, Prices, no_prices
from hayweather.plan.paths import Net, best_path, best_paths, measures_of, net_of
from hayweather.plan.task import (
    IDLE,
    SPARE,
    Schedule,
    Task,
    Whole,
    nothing,
    sessions,
    stays_on,
    tidied,
)
from hayweather.weather.record import Booleans, Floats

SEED = 20250708
GAP = 0.002  # a plan this near to the bound is good enough
LEVELS = (1.0, 0.97, 0.9, 0.8, 0.0)
NARROW, WIDE = 0.03, 0.1  # how far prices are varied, as parts of themselves
STALE, SMALL = 15, 300
"""Tries in vain after which no more is looked for; more where a task is small."""
FIRST_STEPS, MORE_STEPS = 300, 60  # of the bound, before the first try and between tries
FIRST_SHARE = 0.5  # of the time, at most, for the first look at the bound
BESIDE = 0.01  # how far below the best a schedule may be to go on from
BETWEEN = 8  # tries between two looks at the bound


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
        Processor time taken [s].
    timed_out
        True when time was up before all was tried.
    start
        Number of the start that it is, untouched; None for one of its own.
    """

    schedule: Schedule
    value: float
    bound: float
    seconds: float
    timed_out: bool
    start: int | None = None

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


class Ways:
    """Single balers on their best ways through a task, the others where they are.

    Parameters
    ----------
    task
        What may be done.
    """

    def __init__(self, task: Task) -> None:
        self.task = task
        self.nets: list[Net] = []
        for b in range(task.balers):
            steps = np.flatnonzero(task.useful[b].any(axis=(0, 2)))
            one = slice(b, b + 1)
            self.nets.append(
                net_of(steps, task.moves[one], task.move_cost[one], task.first_cost[one])
            )
        self.count = 0
        self._chance = np.random.default_rng(SEED)

    def improved(
        self,
        schedule: Schedule,
        prices: Prices,
        order: Sequence[int],
        rounds: int = 3,
        banned: Booleans | None = None,
    ) -> Schedule:
        """The best schedule found by giving each baler in turn its best way.

        Parameters
        ----------
        schedule
            Where to begin.
        prices
            Of hay and rigs.
        order
            Balers in the order in which they choose.
        rounds
            Times that each chooses.
        banned
            Where a baler may not work so, (balers, fields, quarters, modes).
        """
        best, value, now = schedule, schedule.value(self.task), schedule
        for number in range(rounds):
            for baler in order:
                now = self._with_path(now, prices, baler, banned)
            found = now.value(self.task)
            if number and found <= value + 1e-9:
                break
            if found > value or banned is not None:
                best, value = now, found
        return best

    def _with_path(
        self, schedule: Schedule, prices: Prices, baler: int, banned: Booleans | None
    ) -> Schedule:
        """The schedule with the best way of one baler, the others as they are."""
        field, mode, kg = schedule.field.copy(), schedule.mode.copy(), schedule.kg.copy()
        field[baler] = mode[baler] = IDLE
        kg[baler] = 0.0
        others = Schedule(field, mode, kg)
        left = self.task.mass_kg - others.baled_kg(self.task.fields)
        if self.task.balers > 1 and self.count % 3 == 2:
            room, price = self._displaced(others, left)
            left, prices = left + room, Prices(np.maximum(prices.hay, price), prices.rig)
        barred = None if banned is None else banned[baler]
        rate, gain, how = self._choices(others, prices, baler, barred)
        net = self.nets[baler]
        steps = net.quarters
        rate, gain, left = rate[:, steps], gain[:, steps], np.maximum(left, 0.0)
        self.count += 1
        if self.count % 2:
            path = _best_hours(net, rate, gain, left)
        else:
            path = best_path(net, rate, gain, left)
        busy = np.flatnonzero(path != IDLE)
        at, where = steps[busy], path[busy]
        some = how[where, at] >= 0
        at, where = at[some], where[some]
        field[baler, at] = where
        mode[baler, at] = how[where, at]
        return tidied(self.task, field, mode)

    def _displaced(self, others: Schedule, left: Floats) -> tuple[Floats, Floats]:
        """Hay that others might leave to this baler where a field is full, and what it brings them.

        Their worst quarters, some at random: what brings more takes their place.
        """
        task = self.task
        room, price = np.zeros(task.fields), np.zeros(task.fields)
        for f in np.flatnonzero(left <= SPARE * task.mass_kg).tolist():
            baler, quarter = np.nonzero(others.field == f)
            if not baler.size:
                continue
            gain = task.gain[baler, f, quarter, others.mode[baler, quarter]]
            worst = np.argsort(gain)[: int(self._chance.integers(1, gain.size + 1))]
            room[f] = others.kg[baler[worst], quarter[worst]].sum()
            price[f] = max(float(gain[worst].mean()), 0.0)
        return room, price

    def _choices(
        self, others: Schedule, prices: Prices, baler: int, barred: Booleans | None
    ) -> tuple[Floats, Floats, Whole]:
        """Rate, priced gain and mode of the best way to be in each field and quarter."""
        task = self.task
        may = task.useful[baler] if barred is None else task.useful[baler] & ~barred
        rate = np.where(may, task.rate_kg[baler], 0.0)
        cost = np.zeros_like(rate)
        for rig in range(task.rigs):
            free, left = self._rig_left(others, rig)
            rate[:, :, 1 + rig] = np.where(free, np.minimum(rate[:, :, 1 + rig], left), 0.0)
            cost[:, :, 1 + rig] = prices.rig[rig]
        gain = task.gain[baler] - prices.hay[:, None, None] - cost
        worth = np.where(rate > 0, rate * gain, -np.inf)
        how = worth.argmax(axis=2)
        pick = how[..., None]
        best = np.take_along_axis(worth, pick, axis=2)[..., 0]
        taken = np.where(best > 0, np.take_along_axis(rate, pick, axis=2)[..., 0], 0.0)
        each = np.where(taken > 0, best / np.where(taken > 0, taken, 1.0), 0.0)
        return taken, each, np.where(np.isfinite(best), how, IDLE)

    def _rig_left(self, others: Schedule, rig: int) -> tuple[Booleans, Floats]:
        """Where and when a rig may serve one more baler, and how much hay, (fields, quarters)."""
        task = self.task
        free = np.ones((task.fields, task.quarters), dtype=bool)
        left = task.rig_kg[rig].copy()
        where = others.rig_field(rig)
        busy = np.flatnonzero(where != IDLE)
        if not busy.size:
            return left > 1e-9, left
        served = np.where(others.mode == 1 + rig, others.kg, 0.0).sum(axis=0)
        left[where[busy], busy] -= served[busy]
        for stay in stays_on(where, rig):
            at = stay.field
            for place in range(task.fields):
                if place != at:
                    before = int(task.rig_moves[rig, place, at])
                    after = int(task.rig_moves[rig, at, place])
                    free[place, max(stay.first - before, 0) : stay.past + after] = False
        return free & (left > 1e-9), np.maximum(left, 0.0)


def _best_hours(net: Net, rate: Floats, gain: Floats, left: Floats) -> Whole:
    """Field of each step on the best way where every stay takes its best hours.

    Exact but for a field that is come back to: then its hay counts again.
    """
    if not net.quarters.size:
        return np.full(0, IDLE)
    full = np.minimum(rate, left[:, None])
    profit = np.maximum(full * gain, 0.0).T[:, None]
    return best_paths(net, profit, measures_of(full.T[:, None], left))[1][0]


class Walk:
    """A walk from price to price that keeps the best schedule.

    Parameters
    ----------
    task
        The task.
    starts
        Schedules to begin with.
    """

    def __init__(self, task: Task, starts: Iterable[Schedule]) -> None:
        self.task, self.ways = task, Ways(task)
        self.prices = no_prices(task)
        self.best, self.value = nothing(task), 0.0
        self.here = self.best
        self.start: int | None = None
        self.tries, self.stale = 0, 0
        self._chance = np.random.default_rng(SEED)
        self.usual = float(task.gain[task.useful].mean()) if task.useful.any() else 0.0
        for number, start in enumerate(starts):
            if self.offer(start):
                self.start = number

    def offer(self, schedule: Schedule) -> bool:
        """Keep a schedule if it brings more; whether it does."""
        value = schedule.value(self.task)
        better = value > self.value + 1e-9 * abs(self.value) + 1e-9
        if better:
            self.best, self.value, self.start = schedule, value, None
        if value >= self.value * (1 - BESIDE):
            self.here = schedule
        return better

    def begin(self, starts: Iterable[Schedule]) -> None:
        """Every start improved at no price, and one from nothing."""
        free, order = no_prices(self.task), range(self.task.balers)
        for start in (*starts, nothing(self.task)):
            self.offer(self.ways.improved(start, free, order))

    def step(self) -> None:
        """One try: new prices from nothing and on the best schedule, then a stay forbidden."""
        prices, order = self._varied(), self._chance.permutation(self.task.balers).tolist()
        free = no_prices(self.task)
        if self.task.balers == 1:
            self._step_alone(prices)
            return
        fresh = self.ways.improved(nothing(self.task), prices, order)
        helped = self.offer(self.ways.improved(fresh, free, order, 2))
        some = order[: 1 + self.tries % len(order)]
        changed = self.ways.improved(self.here, prices, some, 1)
        helped |= self.offer(self.ways.improved(changed, free, order, 2))
        banned = self._ban()
        if banned is not None:
            without = self.ways.improved(self.here, free, order, 2, banned)
            helped |= self.offer(without)
            helped |= self.offer(self.ways.improved(without, free, order, 2))
        self.tries += 1
        self.stale = 0 if helped else self.stale + 1

    def _step_alone(self, prices: Prices) -> None:
        """One try with one baler: its best way hangs on prices and on what is forbidden alone."""
        helped = self.offer(self.ways.improved(nothing(self.task), prices, [0], 2))
        banned = self._ban()
        if banned is not None:
            free = no_prices(self.task)
            helped |= self.offer(self.ways.improved(nothing(self.task), free, [0], 2, banned))
        self.tries += 1
        self.stale = 0 if helped else self.stale + 1

    def _ban(self) -> Booleans | None:
        """A stay, or the rig of one, that shall not be; None where nobody works."""
        stays = self.here.stays()
        if not stays:
            return None
        if self.tries % 3 == 2:  # any work anywhere
            part = self._chance.choice([0.1, 0.3, 0.5])
            return self._chance.random(self.task.rate_kg.shape) < part
        banned = np.zeros(self.task.rate_kg.shape, dtype=bool)
        if self.task.rigs and self.tries % 6 == 1:  # a rig stays at home
            banned[..., 1 + int(self._chance.integers(self.task.rigs))] = True
            return banned
        stay = stays[int(self._chance.integers(len(stays)))]
        modes = slice(None)
        wet = self.here.mode[stay.baler, stay.work] > 0
        if wet.any() and self._chance.random() < 0.5:
            modes = slice(1, None)
        who = slice(None) if self._chance.random() < 0.3 else stay.baler
        banned[who, stay.field, stay.first : stay.past, modes] = True
        return banned

    def _varied(self) -> Prices:
        """The prices at first at some levels, then varied at random."""
        hay, rig = self.prices.hay, self.prices.rig
        if self.tries < len(LEVELS):
            return Prices(hay * LEVELS[self.tries], rig * LEVELS[self.tries])
        width = NARROW if self.tries % 2 else WIDE
        factor = np.exp(self._chance.normal(-NARROW / 2, width, hay.size))
        # A rig's own drives are in no price: now and then it costs more, in some field or all.
        more = self._chance.uniform(0, self.usual) * (self._chance.random(rig.shape[:2]) < 0.5)
        dear = more[..., None] * (self.tries % 3 == 1)
        return Prices(hay * factor, rig * self._chance.uniform(0.5, 1.1) + dear)


def solve(task: Task, seconds: float, starts: Sequence[Schedule] = ()) -> Solved:
    """The best schedule found within `seconds`, never below a start.

    Parameters
    ----------
    task
        What may be done.
    seconds
        Processor time to take [s]; a little more where one step lasts.
    starts
        Schedules that it shall not be beaten by.
    """
    clock = _Clock(seconds)
    walk, bound = Walk(task, starts), Bound(task)
    if not task.useful.any():
        return Solved(walk.best, walk.value, max(bound.value, walk.value), clock.spent(), False)
    if clock.left() > 0:
        walk.begin(starts)
    early = (1 - FIRST_SHARE) * clock.left()
    bound.lower(walk.value, lambda taken: taken < FIRST_STEPS and clock.left() > early)
    walk.prices = bound.prices
    size = task.balers * int(task.fit.any(axis=0).sum())
    most = STALE + SMALL // size
    while clock.left() > 0 and gap_of(walk.value, bound.value) > GAP and walk.stale < most:
        walk.step()
        if walk.tries % BETWEEN == 0:
            bound.lower(walk.value, lambda taken: taken < MORE_STEPS and clock.left() > 0)
            walk.prices = bound.prices
    timed_out = clock.left() <= 0
    best, value = walk.best, walk.value
    if walk.start is None:
        floor = max((start.value(task) for start in starts), default=0.0)
        best = without_breaks(task, best, max(floor, value - EASE * abs(value)))
        value = best.value(task)
    return Solved(best, value, bound.value, clock.spent(), timed_out, walk.start)


EASE = 0.005  # part of the value that may be given up to work on without breaks


def without_breaks(task: Task, schedule: Schedule, floor: float) -> Schedule:
    """The schedule with short breaks worked through, where that costs next to nothing.

    The hay of a quarter left out between two that are worked is taken from the edge
    of the session that brings least.

    Parameters
    ----------
    task, schedule
        The task and a schedule of it.
    floor
        Value that must be kept.
    """
    for _ in range(task.quarters):
        found = next(
            (new for new in _closed(task, schedule) if new.value(task) >= floor - 1e-9), None
        )
        if found is None:
            return schedule
        schedule = found
    return schedule


def _closed(task: Task, schedule: Schedule) -> Iterator[Schedule]:
    """The schedule with one break closed, in every way that makes fewer breaks."""
    breaks = _breaks(task, schedule)
    for baler, field, quarter, part in breaks:
        how = np.where(
            task.useful[baler, field, quarter], task.gain[baler, field, quarter], -np.inf
        )
        edges = (part[0], part[-1])
        worth = [task.gain[baler, field, t, schedule.mode[baler, t]] for t in edges]
        for k in np.argsort(worth):
            where, mode = schedule.field.copy(), schedule.mode.copy()
            where[baler, quarter], mode[baler, quarter] = field, int(how.argmax())
            where[baler, edges[k]], mode[baler, edges[k]] = IDLE, IDLE
            new = tidied(task, where, mode)
            if len(_breaks(task, new)) < len(breaks):
                yield new


def _breaks(task: Task, schedule: Schedule) -> list[tuple[int, int, int, Whole]]:
    """Quarters left out between two of a session that might be worked: who, where, when."""
    found = []
    for stay in schedule.stays():
        for part in sessions(stay.work):
            inside = np.setdiff1d(np.arange(part[0], part[-1] + 1), part)
            missed = inside[task.useful[stay.baler, stay.field, inside].any(axis=1)]
            found += [(stay.baler, stay.field, t, part) for t in missed.tolist()]
    return found


AGAIN = 4  # tries when something is decided again


def again(task: Task, start: Schedule) -> Schedule:
    """The best schedule found in a few tries from a start, for what would be otherwise."""
    field, mode = start.field.copy(), start.mode.copy()
    baler, quarter = np.nonzero(field != IDLE)
    where, how = field[baler, quarter], mode[baler, quarter]
    out = ~task.useful[baler, where, quarter, how]
    field[baler[out], quarter[out]] = IDLE
    mode[baler[out], quarter[out]] = IDLE
    begun = tidied(task, field, mode)
    walk = Walk(task, [begun])
    walk.begin([begun])
    bound = Bound(task)
    bound.lower(walk.value, lambda taken: taken < AGAIN_STEPS)
    walk.prices = bound.prices
    for _ in range(AGAIN):
        walk.step()
    return walk.best


AGAIN_STEPS = 20


class _Clock:
    """Time left, of this thread's work: a busy machine takes longer, and finds the same plan."""

    def __init__(self, seconds: float) -> None:
        self.begin = time.thread_time()
        self.seconds = seconds

    def spent(self) -> float:
        """Seconds worked since the start."""
        return time.thread_time() - self.begin

    def left(self) -> float:
        """Seconds left."""
        return self.seconds - self.spent()
