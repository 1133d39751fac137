"""Best ways of single machines through fields and quarters, moves paid: dynamic programs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.plan.task import IDLE, Whole
from hayweather.weather.record import Booleans, Floats


@dataclass(frozen=True)
class Net:
    """Where machines may be when, for those quarters alone in which there is work somewhere.

    Attributes
    ----------
    quarters
        Those quarters, (steps,).
    reach
        Step from whose beginning a machine sets off in time, (steps, machines, from, to).
    cost
        Of the move, infinite from a field to itself, (machines, from, to).
    first
        Of the first drive, (machines,).
    """

    quarters: Whole
    reach: Whole
    cost: Floats
    first: Floats

    def of(self, machine: int) -> Net:
        """The net of one machine."""
        one = slice(machine, machine + 1)
        return Net(self.quarters, self.reach[:, one], self.cost[one], self.first[one])


def net_of(quarters: Whole, moves: Whole, cost: Floats, first: Floats) -> Net:
    """The net of some machines.

    Parameters
    ----------
    quarters
        With work, in order.
    moves, cost, first
        Quarters and money between fields, (machines, fields, fields), and of the first drive.
    """
    reach = np.searchsorted(quarters, quarters[:, None, None, None] - moves[None], side="left")
    own = np.eye(moves.shape[1], dtype=bool)
    paid = np.where(own, np.inf, cost)
    return Net(quarters, reach.astype(np.int64), paid, first)


@dataclass(frozen=True)
class Measures:
    """Hay counted in measures, so that no stay takes more of it than lies in a field.

    Rounded so that what is found cannot fall below what is possible: the hay of a
    step down, that of a field up by the last step's.

    Attributes
    ----------
    takes
        Measures taken in a step, (steps, machines, fields).
    most
        Of a stay, (machines, fields).
    """

    takes: Whole
    most: Whole


def measures_of(rate: Floats, mass: Floats) -> Measures:
    """Hay in measures.

    Parameters
    ----------
    rate
        Least hay of a step with work, 0 without, (steps, machines, fields).
    mass
        Of the fields, (fields,).
    """
    largest = rate.max(axis=0)
    least = np.where(rate > 0, rate, np.inf).min(axis=0)
    even = bool((least >= 0.999 * largest)[largest > 0].all())
    unit = np.where(largest > 0, largest, 1.0) / (1 if even else UNEVEN)
    takes = np.floor(rate / unit + 1e-3).astype(np.int64)
    full = np.floor(mass / unit + 1e-3).astype(np.int64)
    whole = full * unit >= mass * (1 - 1e-6)
    most = np.where(whole, full, full + takes.max(axis=0))
    most = np.minimum(most, takes.sum(axis=0))
    return Measures(takes, np.maximum(most, 0))


UNEVEN = 3  # measures of the largest step where steps differ


def best_paths(net: Net, profit: Floats, measures: Measures) -> tuple[Floats, Whole, Booleans]:
    """What the best way of each machine brings, where it is, and whether it works.

    Parameters
    ----------
    net
        Of the machines.
    profit
        Of each step in each field, at least 0, (steps, machines, fields).
    measures
        Of the hay.

    Returns
    -------
    ndarray, ndarray, ndarray
        (machines,); the field in which each is in every step, `IDLE` on the road or for a
        machine that stays at home, (machines, steps); where it works there, the same shape.
    """
    steps, machines, fields = profit.shape
    size = int(measures.most.max(initial=0)) + 1
    worth = np.full((steps + 1, machines, fields, size), -np.inf)
    worth[0, :, :, 0] = -net.first[:, None]
    leave = np.empty((steps + 1, machines, fields))
    leave[0] = worth[0, :, :, 0]
    each, every = np.arange(machines)[:, None, None], np.arange(fields)
    index = net.reach * (machines * fields) + each * fields + every[None, :, None]
    flat = leave.reshape(-1)
    count = np.arange(size)
    inside = count <= measures.most[..., None]
    begin = (np.arange(machines * fields) * size).reshape(machines, fields, 1)
    busy = profit > 0
    stayed = np.empty_like(leave)
    for i in range(steps):
        now, after = worth[i], worth[i + 1]
        stayed[i] = now[:, :, 0]
        arrived = (flat[index[i]] - net.cost).max(axis=1)
        np.maximum(now[:, :, 0], arrived, out=now[:, :, 0])
        if busy[i].any():
            from_ = count - measures.takes[i][..., None]
            worked = now.reshape(-1)[begin + np.maximum(from_, 0)] + profit[i][..., None]
            worked[(from_ < 0) | ~inside] = -np.inf
            np.maximum(now, worked, out=after)
        else:
            after[:] = now
        after.max(axis=2, out=leave[i + 1])
    stayed[-1] = worth[-1, :, :, 0]
    best = np.maximum(leave[-1].max(axis=1), 0.0)
    place = np.full((machines, steps), IDLE)
    works = np.zeros((machines, steps), dtype=bool)
    for m in np.flatnonzero(best > 0).tolist():
        takes = measures.takes[:, m]
        found = _walked_back(net.of(m), takes, worth[:, m], stayed[:, m], leave[:, m])
        place[m], works[m] = found
    return best, place, works


def _walked_back(
    net: Net, takes: Whole, worth: Floats, stayed: Floats, leave: Floats
) -> tuple[Whole, Booleans]:
    """Where a machine is on its best way, and whether it works.

    Parameters
    ----------
    net
        Of the machine.
    takes
        Measures of hay, (steps, fields).
    worth, stayed
        At the beginning of each step with arrivals, (steps + 1, fields, measures), and of
        no measure without them, (steps + 1, fields).
    leave
        The best of each field then, arrivals left out, (steps + 1, fields).
    """
    steps = takes.shape[0]
    place, works = np.full(steps, IDLE), np.zeros(steps, dtype=bool)

    def taken(i: int, f: int) -> int:
        """Measures taken in a stay that is left at the beginning of a step."""
        values = worth[i, f].copy()
        values[0] = stayed[i, f]
        return int(values.argmax())

    f, i = int(leave[-1].argmax()), steps
    k = taken(i, f)
    while i > 0:
        i -= 1
        place[i] = f
        ends = worth[i + 1, f, k] if k else stayed[i + 1, f]
        if ends > worth[i, f, k]:
            works[i] = True
            k -= int(takes[i, f])
        if k == 0 and worth[i, f, 0] > stayed[i, f]:
            reach = net.reach[i, 0, :, f]
            came = leave[reach, np.arange(reach.size)] - net.cost[0, :, f]
            origin = int(came.argmax())
            i, f = int(reach[origin]), origin
            k = taken(i, f)
    return place, works


def best_path(net: Net, rate: Floats, gain: Floats, mass: Floats) -> Whole:
    """Field of each step on the best way of one baler through what is left, `IDLE` on the road.

    The hay left in each field is carried along the best way to each place: near to
    the best there is, not proven.

    Parameters
    ----------
    net
        Of this baler.
    rate, gain
        Hay in a step, and what a kilogram brings, (fields, steps).
    mass
        Hay left, (fields,).
    """
    steps = net.quarters.size
    path = np.full(steps, IDLE)
    if steps == 0:
        return path
    worth, came = _forward(net, rate, gain, mass)
    f, i = int(worth[-1].argmax()), steps
    if worth[-1, f] <= 0:
        return path
    while i > 0:
        i -= 1
        path[i] = f
        before, place = came[i, f]
        f, i = int(place), int(before)
    return path


def _forward(net: Net, rate: Floats, gain: Floats, mass: Floats) -> tuple[Floats, Whole]:
    """Best value after each step by field, and from which step and field it came."""
    fields, steps = rate.shape
    every = np.arange(fields)
    worth = np.empty((steps + 1, fields))
    worth[0] = -net.first[0]
    left = np.empty((steps + 1, fields, fields))
    left[0] = mass
    came = np.empty((steps, fields, 2), dtype=np.int64)
    reach, cost = net.reach[:, 0], net.cost[0]
    origin_of = every[:, None]
    for i in range(steps):
        value, held = worth[i].copy(), left[i].copy()
        came[i, :, 0], came[i, :, 1] = i, every
        reached = worth[reach[i], origin_of] - cost
        origin = reached.argmax(axis=0)
        best = reached[origin, every]
        better = np.flatnonzero(best > value + 1e-9)
        if better.size:
            source = origin[better]
            begun = reach[i, source, better]
            value[better] = best[better]
            held[better] = left[begun, source]
            came[i, better, 0], came[i, better, 1] = begun, source
        amount = np.minimum(rate[:, i], held[every, every])
        worth[i + 1] = value + amount * gain[:, i]
        held[every, every] -= amount
        left[i + 1] = held
    return worth, came
