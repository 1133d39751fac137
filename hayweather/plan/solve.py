"""The plan of a task: a linear relaxation for bound and prices, then paths of single balers."""

from __future__ import annotations

import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from hayweather.plan.task import DAY_SLOTS, IDLE, Schedule, Task, Whole, nothing, with_amounts
from hayweather.weather.record import Booleans, Floats


@dataclass
class _Rows:
    """Rows of a sparse matrix with an upper limit each, and variables added on the way."""

    variables: int
    row: list[Whole] = field(default_factory=list)
    column: list[Whole] = field(default_factory=list)
    factor: list[Floats] = field(default_factory=list)
    limits: list[Floats] = field(default_factory=list)
    count: int = 0

    def new(self, count: int) -> Whole:
        """Indices of so many new variables."""
        first = self.variables
        self.variables += count
        return np.arange(first, self.variables)

    def add(self, rows: Whole, columns: Whole, factors: Floats | float, limits: Floats) -> None:
        """Rows numbered from 0 here, entries side by side."""
        self.row.append(rows + self.count)
        self.column.append(columns)
        self.factor.append(np.broadcast_to(np.asarray(factors, dtype=float), columns.shape))
        self.limits.append(limits)
        self.count += limits.size


@dataclass(frozen=True)
class Model:
    """The plan as a mixed-integer model: minimize ``cost @ x``, ``matrix @ x <= limit``, 0 to 1.

    Attributes
    ----------
    baler, where, slot, mode
        Of every option; the option's variable has the same index, and the
        share of the slot that is baled follows, then the rest.
    cost, matrix, limit
        Of the model.
    rig_rows
        For each rig the rows that hold it to one field: row, first slot, slots.
    """

    baler: Whole
    where: Whole
    slot: Whole
    mode: Whole
    cost: Floats
    matrix: Any
    limit: Floats
    rig_rows: tuple[tuple[tuple[int, int, int], ...], ...]

    @property
    def options(self) -> int:
        """Number of options: places and ways to be in a slot."""
        return int(self.baler.size)

    def schedule(self, task: Task, chosen: Booleans) -> Schedule:
        """The schedule of the options chosen, (options,)."""
        shape = (task.balers, task.slots)
        where, mode = np.full(shape, IDLE), np.full(shape, IDLE)
        where[self.baler[chosen], self.slot[chosen]] = self.where[chosen]
        mode[self.baler[chosen], self.slot[chosen]] = self.mode[chosen]
        return with_amounts(task, where, mode)

    def chosen(self, schedule: Schedule) -> Booleans:
        """Which options a schedule takes, (options,)."""
        here = schedule.field[self.baler, self.slot] == self.where
        return here & (schedule.mode[self.baler, self.slot] == self.mode)


def model_of(task: Task) -> Model:
    """The model of a task.

    Parameters
    ----------
    task
        Only options that bring more than leaving the hay are in it.
    """
    from scipy.sparse import coo_matrix

    baler, where, slot, mode = np.nonzero(task.useful)
    rate = task.rate_kg[baler, where, slot, mode]
    options = np.arange(baler.size)
    rows = _Rows(2 * baler.size)
    share = options + baler.size
    _share_within_option(rows, options, share)
    for f in range(task.fields):
        inside = share[where == f]
        rows.add(
            np.zeros_like(inside), inside, rate[where == f] / 1000, task.mass_kg[f : f + 1] / 1000
        )
    for b in range(task.balers):
        mine = baler == b
        _one_place(rows, options[mine], where[mine], slot[mine], task.moves[b])
    held = []
    for r in range(task.rigs):
        mine = mode == 1 + r
        _flow(rows, share[mine], where[mine], slot[mine], rate[mine], task.rig_kg[r])
        held.append(
            _one_place(rows, options[mine], where[mine], slot[mine], task.rig_moves[r], shared=True)
        )
    cost = np.zeros(rows.variables)
    cost[share] = -rate * task.gain[baler, where, slot, mode]
    entries = (np.concatenate(rows.factor), (np.concatenate(rows.row), np.concatenate(rows.column)))
    matrix = coo_matrix(entries, shape=(rows.count, rows.variables)).tocsr()
    return Model(baler, where, slot, mode, cost, matrix, np.concatenate(rows.limits), tuple(held))


def _share_within_option(rows: _Rows, options: Whole, share: Whole) -> None:
    """No hay is baled in a slot whose option is not taken."""
    each = np.arange(options.size)
    columns = np.concatenate([share, options])
    factors = np.repeat([1.0, -1.0], options.size)
    rows.add(np.concatenate([each, each]), columns, factors, np.zeros(options.size))


def _flow(
    rows: _Rows, share: Whole, where: Whole, slot: Whole, rate: Floats, most_kg: Floats
) -> None:
    """What a rig serves in a slot for all balers together."""
    places, number = np.unique(where * most_kg.shape[1] + slot, return_inverse=True)
    limits = most_kg.ravel()[places]
    wanted = np.bincount(number, rate, places.size)
    tight = np.flatnonzero(wanted > limits + 1e-9)
    kept = np.isin(number, tight)
    rows.add(
        np.searchsorted(tight, number[kept]), share[kept], rate[kept] / 1000, limits[tight] / 1000
    )


def _one_place(
    rows: _Rows, options: Whole, where: Whole, slot: Whole, moves: Whole, *, shared: bool = False
) -> tuple[tuple[int, int, int], ...]:
    """One machine is in one place, with time to move between places.

    Parameters
    ----------
    rows
        To add to.
    options, where, slot
        Options that need the machine.
    moves
        Slots it loses between fields.
    shared
        True for a rig, which several options of one field may need at once.
    """
    if options.size == 0:
        return ()
    found: list[tuple[int, int, int]] = []
    if not shared:
        times, number = np.unique(slot, return_inverse=True)
        rows.add(number, options, 1.0, np.ones(times.size))
    for distance in np.unique(moves[~np.eye(moves.shape[0], dtype=bool)]):
        groups = _groups(moves, int(distance))
        if groups.max() > 0 and (shared or distance > 0):
            found += _windows(rows, options, groups[where], slot, int(distance), alone=not shared)
        for f, g in _far_inside(moves, groups, int(distance)):
            pair = np.isin(where, (f, g))
            found += _windows(
                rows, options[pair], where[pair], slot[pair], int(distance), alone=False
            )
    return tuple(found)


def _groups(moves: Whole, distance: int) -> Whole:
    """Group of each field: fields in different groups are at least `distance` apart."""
    group = np.arange(moves.shape[0])
    for f, g in zip(*np.nonzero(moves < distance), strict=True):
        if f != g:
            group[group == group[f]] = group[g]
    return np.unique(group, return_inverse=True)[1]


def _far_inside(moves: Whole, groups: Whole, distance: int) -> Sequence[tuple[int, int]]:
    """Pairs of one group that are `distance` apart all the same."""
    far = np.triu((moves == distance) & (groups[:, None] == groups[None, :]), 1)
    return [(int(f), int(g)) for f, g in np.argwhere(far)]


def _windows(
    rows: _Rows, options: Whole, group: Whole, slot: Whole, distance: int, *, alone: bool
) -> list[tuple[int, int, int]]:
    """In every window of ``distance + 1`` slots the machine is present in one group.

    `alone`: options of one slot exclude each other, so that presence covers their sum.
    """
    window = (slot[:, None] - np.arange(distance + 1)[None, :]).ravel()
    held, member = np.repeat(group, distance + 1), np.repeat(options, distance + 1)
    keys, number = np.unique(np.stack([window, held]), axis=1, return_inverse=True)
    number = number.ravel()
    several = _crowded(keys[0])
    kept = several[number]
    present = np.full(keys.shape[1], -1)
    present[several] = rows.new(int(several.sum()))
    # Presence covers every slot of the window, all options of one slot together.
    at = np.repeat(slot, distance + 1)[kept]
    pairs, row = np.unique(np.stack([number[kept], at]), axis=1, return_inverse=True)
    row = row.ravel()
    count = pairs.shape[1]
    if not alone:
        row, pairs, count = (
            np.arange(int(kept.sum())),
            np.stack([number[kept], at]),
            int(kept.sum()),
        )
    rows.add(
        np.concatenate([row, np.arange(count)]),
        np.concatenate([member[kept], present[pairs[0]]]),
        np.concatenate([np.ones(int(kept.sum())), -np.ones(count)]),
        np.zeros(count),
    )
    windows, each = np.unique(keys[0][several], return_inverse=True)
    first = rows.count
    rows.add(each, present[several], 1.0, np.ones(windows.size))
    return [(first + i, max(int(w), 0), distance + 1) for i, w in enumerate(windows)]


def _crowded(windows: Whole) -> Booleans:
    """True for windows in which more than one group may be."""
    _, number, count = np.unique(windows, return_inverse=True, return_counts=True)
    return np.asarray(count[number] > 1)


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
