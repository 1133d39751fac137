"""The plan as a mixed-integer model: who is where in which slot, and how much is baled.

A baler is present in a field over a window of slots as long as a move takes
plus one; in any such window it is present in one field only (in one group of
near fields, where groups are further apart). That is as tight as the paths of
a single baler, and small.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from hayweather.plan.task import IDLE, Schedule, Task, Whole, with_amounts
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
