"""The task that a plan solves, as plain arrays, and a schedule that may solve it.

Time runs in the quarter hours of the calls. A baler in a quarter is in one field,
in one mode: 0 is baling as the hay lies, ``1 + r`` behind rig ``r``. A stay is one
baler in one field from its first work there to its last before it works elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.trajectory import QUARTERS

Whole = NDArray[np.int64]
IDLE = -1
QUARTER_H = 1 / QUARTERS
DAY_QUARTERS = 24 * QUARTERS
PAUSE = 2 * QUARTERS
"""Quarters without work after which a crew has gone home and must come out anew (assumed)."""
LEAST_ALONE = 2
"""Quarters worth coming out for; a window under 20 minutes is not, unless it finishes the field."""
SPARE = 1e-6
"""Part of a field's hay that counts as nothing."""


@dataclass(frozen=True)
class Task:
    """Which baler may work where, when and how, what it brings, and what moving costs.

    Attributes
    ----------
    rate_kg
        Hay baled in a full quarter [kg], (balers, fields, quarters, modes); 0 where it
        is not allowed.
    gain
        What a kilogram brings above leaving it to lie, the same shape.
    mass_kg
        Hay of each field, (fields,).
    moves, move_cost
        Quarters and money that a baler loses between two fields, (balers, fields, fields).
    first_cost
        Money for a baler's first drive and set-up, (balers,).
    rig_moves, rig_move_cost, rig_first_cost
        The same of each rig, (rigs, fields, fields) and (rigs,).
    rig_kg
        Most hay that a rig serves in a quarter for all balers together [kg],
        (rigs, fields, quarters).
    least
        Quarters of work for which a baler goes to a field, (balers,).
    most_stays
        Of one baler.
    alone
        Quarters for which a crew comes out.
    out_cost
        Money for a crew that comes out to a baler anew.
    """

    rate_kg: Floats
    gain: Floats
    mass_kg: Floats
    moves: Whole
    move_cost: Floats
    first_cost: Floats
    rig_moves: Whole
    rig_move_cost: Floats
    rig_first_cost: Floats
    rig_kg: Floats
    least: Whole
    most_stays: int
    alone: int = LEAST_ALONE
    out_cost: float = 0.0

    @property
    def balers(self) -> int:
        """Number of balers."""
        return int(self.rate_kg.shape[0])

    @property
    def fields(self) -> int:
        """Number of fields."""
        return int(self.rate_kg.shape[1])

    @property
    def quarters(self) -> int:
        """Number of quarters."""
        return int(self.rate_kg.shape[2])

    @property
    def rigs(self) -> int:
        """Number of rigs."""
        return int(self.rate_kg.shape[3]) - 1

    @cached_property
    def useful(self) -> Booleans:
        """True where baling is allowed and brings more than leaving the hay."""
        return np.asarray((self.rate_kg > 0) & (self.gain > 0))

    @cached_property
    def fit(self) -> Booleans:
        """True where a baler may work in some way, (balers, fields, quarters)."""
        return np.asarray((self.rate_kg > 0).any(axis=3))


@dataclass(frozen=True)
class Stay:
    """One baler in one field: first quarter with work, the one after the last, quarters of work."""

    baler: int
    field: int
    first: int
    past: int
    work: Whole


@dataclass(frozen=True)
class Schedule:
    """What every baler does in every quarter, each (balers, quarters).

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

    def hay_value(self, task: Task) -> float:
        """What the hay brings above leaving everything to lie, moves not paid."""
        baler, quarter = np.nonzero(self.field != IDLE)
        where, how = self.field[baler, quarter], self.mode[baler, quarter]
        return float((self.kg[baler, quarter] * task.gain[baler, where, quarter, how]).sum())

    def charges(self, task: Task) -> float:
        """Money for drives and set-ups of balers and rigs, and for crews that come out anew."""
        total = 0.0
        if task.out_cost:
            outings = sum(int((np.diff(stay.work) > PAUSE).sum()) for stay in self.stays())
            total += task.out_cost * outings
        for b in range(task.balers):
            total += _driven(self.field[b], task.move_cost[b], task.first_cost[b])
        for r in range(task.rigs):
            where = self.rig_field(r)
            total += _driven(where, task.rig_move_cost[r], task.rig_first_cost[r])
        return total

    def value(self, task: Task) -> float:
        """What the schedule brings above leaving everything to lie, moves paid."""
        return self.hay_value(task) - self.charges(task)

    def rig_field(self, rig: int) -> Whole:
        """Where a rig works, `IDLE` where it does not, (quarters,)."""
        here = self.mode == 1 + rig
        first = np.argmax(here, axis=0)
        each = self.field[first, np.arange(self.field.shape[1])]
        return np.where(here.any(axis=0), each, IDLE)

    def baled_kg(self, fields: int) -> Floats:
        """Hay baled of each field [kg], (fields,)."""
        busy = self.field != IDLE
        baled = np.bincount(self.field[busy], self.kg[busy], fields)
        return baled.astype(np.float64)

    def stays(self) -> list[Stay]:
        """Every stay, by baler, in order of time."""
        return [stay for b in range(self.field.shape[0]) for stay in stays_on(self.field[b], b)]


def stays_on(places: Whole, baler: int) -> Iterator[Stay]:
    """The stays of one machine on its way through the fields."""
    work = np.flatnonzero(places != IDLE)
    if work.size == 0:
        return
    cuts = np.flatnonzero(np.diff(places[work])) + 1
    for part in np.split(work, cuts):
        yield Stay(baler, int(places[part[0]]), int(part[0]), int(part[-1]) + 1, part)


def route(places: Whole) -> Whole:
    """The fields that a machine works in, one after another."""
    order = places[places != IDLE]
    return order[np.concatenate([[True], np.diff(order) != 0])] if order.size else order


def _driven(places: Whole, cost: Floats, first: float) -> float:
    """Money for the drives of one machine."""
    order = route(places)
    return float(first + cost[order[:-1], order[1:]].sum()) if order.size else 0.0


def sessions(work: Whole) -> list[Whole]:
    """Quarters of work split where the crew has gone home between."""
    return np.split(work, np.flatnonzero(np.diff(work) > PAUSE) + 1)


def too_short(task: Task, schedule: Schedule, stays: list[Stay]) -> Iterator[tuple[int, Whole]]:
    """Work for which it is not worth driving out: baler and quarters.

    A stay shorter than its baler's least, or a quarter for which a crew comes out
    alone, unless the field is finished by it.
    """
    left = task.mass_kg - schedule.baled_kg(task.fields)
    done = left <= SPARE * task.mass_kg
    last = np.full(task.fields, -1)
    for stay in stays:
        last[stay.field] = max(last[stay.field], stay.past)
    for stay in stays:
        finishes = bool(done[stay.field]) and stay.past == last[stay.field]
        if stay.work.size < task.least[stay.baler] and not finishes:
            yield stay.baler, stay.work
            continue
        if stay.work.size >= task.alone and np.diff(stay.work).max(initial=0) <= PAUSE:
            continue
        parts = sessions(stay.work)
        for part in parts[:-1] if finishes else parts:
            if part.size < task.alone:
                yield stay.baler, part


def nothing(task: Task) -> Schedule:
    """Nobody works."""
    shape = (task.balers, task.quarters)
    idle = np.full(shape, IDLE, dtype=np.int64)
    return Schedule(idle, idle.copy(), np.zeros(shape))


def with_amounts(task: Task, field: Whole, mode: Whole) -> Schedule:
    """The best amounts for who is where: quarters that bring most fill a field first.

    Quarters without hay are left idle. Taking the best first is optimal here: a
    rig's share of a quarter lies within one field (a laminar polymatroid).

    Parameters
    ----------
    task
        Rates, gains, masses.
    field, mode
        Where every baler is and how it bales, (balers, quarters).
    """
    kg = np.zeros(field.shape)
    baler, quarter = np.nonzero(field != IDLE)
    where, how = field[baler, quarter], mode[baler, quarter]
    gains = task.gain[baler, where, quarter, how]
    order = np.argsort(-gains, kind="stable")
    order = order[gains[order] > 0]
    baler, quarter, where, how = (each[order] for each in (baler, quarter, where, how))
    rates = task.rate_kg[baler, where, quarter, how].tolist()
    left = task.mass_kg.tolist()
    served: dict[tuple[int, int], float] = {}
    amounts = []
    for f, t, m, rate in zip(where.tolist(), quarter.tolist(), how.tolist(), rates, strict=True):
        room = min(rate, left[f])
        if m > 0:
            key = (m, t)
            rest = served[key] if key in served else float(task.rig_kg[m - 1, f, t])
            room = min(room, rest)
            served[key] = rest - room
        left[f] -= room
        amounts.append(room)
    kg[baler, quarter] = amounts
    working = kg > 1e-9
    return Schedule(
        np.where(working, field, IDLE), np.where(working, mode, IDLE), np.where(working, kg, 0.0)
    )


def tidied(task: Task, field: Whole, mode: Whole, *, paying: bool = True) -> Schedule:
    """The best amounts with nothing left that is not worth its drive.

    Parameters
    ----------
    task
        Of which machines are in time everywhere, rigs perhaps not.
    field, mode
        Where every baler is and how it bales, (balers, quarters).
    paying
        True to leave out work that does not pay its moves too; False to keep all that
        is long enough, as a rule would.
    """
    field, mode = field.copy(), mode.copy()
    _rigs_in_time(task, field, mode)
    while True:
        schedule = with_amounts(task, field, mode)
        out = _worst(task, schedule, paying=paying)
        if out is None:
            return schedule
        baler, work, whole = out
        if whole and isinstance(baler, int):
            work = _offered(field[baler], schedule.field[baler], work)
        field[baler, work], mode[baler, work] = IDLE, IDLE


def _worst(
    task: Task, schedule: Schedule, *, paying: bool
) -> tuple[int | Whole, Whole, bool] | None:
    """Balers and quarters to give up next, and whether that is a stay; None where all is well."""
    stays = schedule.stays()

    def worth(baler: int | Whole, work: Whole) -> float:
        where, how = schedule.field[baler, work], schedule.mode[baler, work]
        gain = task.gain[baler, where, work, how]
        return float((schedule.kg[baler, work] * gain).sum())

    own = [[stay for stay in stays if stay.baler == b] for b in range(task.balers)]
    short = list(too_short(task, schedule, stays))
    for b, mine in enumerate(own):
        if len(mine) > task.most_stays:
            short += [(b, stay.work) for stay in (mine if paying else mine[-1:])]
    if short:
        baler, work = min(short, key=lambda item: worth(*item))
        return baler, work, any(work is stay.work for stay in stays)
    if not paying:
        return None
    found: list[tuple[float, int | Whole, Whole]] = []
    for b, mine in enumerate(own):
        saved = _saved(mine, task.move_cost[b], task.first_cost[b])
        found += [
            (worth(b, stay.work) - less, b, stay.work)
            for stay, less in zip(mine, saved, strict=True)
        ]
    if task.out_cost:
        for stay in stays:
            parts = sessions(stay.work)
            if len(parts) > 1:
                less = task.out_cost
                found += [(worth(stay.baler, part) - less, stay.baler, part) for part in parts]
    for r in range(task.rigs):
        places = list(stays_on(schedule.rig_field(r), r))
        for stay, less in zip(
            places, _saved(places, task.rig_move_cost[r], task.rig_first_cost[r]), strict=True
        ):
            inside = np.zeros(task.quarters, dtype=bool)
            inside[stay.work] = True
            balers, served = np.nonzero((schedule.mode == 1 + r) & inside)
            found.append((worth(balers, served) - less, balers, served))
    if not found:
        return None
    net, who, when = min(found, key=lambda item: item[0])
    whole = isinstance(who, int) and any(when is stay.work for stay in stays)
    return (who, when, whole) if net < -1e-9 else None


def _offered(offered: Whole, working: Whole, work: Whole) -> Whole:
    """Quarters offered to a stay: those in its field up to the stays beside it."""
    field = offered[work[0]]
    others = np.flatnonzero((working != IDLE) & (working != field))
    before, after = others[others < work[0]], others[others > work[-1]]
    first = int(before[-1]) + 1 if before.size else 0
    past = int(after[0]) if after.size else offered.size
    return first + np.flatnonzero(offered[first:past] == field)


def _saved(stays: list[Stay], cost: Floats, first: float) -> Iterator[float]:
    """What is saved by leaving out each stay of one machine."""
    order = [stay.field for stay in stays]
    for i, here in enumerate(order):
        before = order[i - 1] if i else None
        after = order[i + 1] if i + 1 < len(order) else None
        to = first if before is None else float(cost[before, here])
        if after is None:
            yield to
        else:
            past = first if before is None else float(cost[before, after])
            yield to + float(cost[here, after]) - past


def _rigs_in_time(task: Task, field: Whole, mode: Whole) -> None:
    """Take away, in place, work behind a rig that cannot be there: the later is given up."""
    for r in range(task.rigs):
        moves, here, at = task.rig_moves[r], IDLE, 0
        used = mode == 1 + r
        where = np.where(used, field, IDLE).max(axis=0, initial=IDLE)
        busy = np.flatnonzero(where != IDLE)
        one, two = where[busy[:-1]], where[busy[1:]]
        apart = np.diff(busy) - 1 >= np.where(one == two, 0, moves[one, two])
        if apart.all() and (field[used] == np.broadcast_to(where, field.shape)[used]).all():
            continue
        for t in np.flatnonzero((mode == 1 + r).any(axis=0)):
            users = np.flatnonzero(mode[:, t] == 1 + r)
            places = field[users, t]
            if here == IDLE:
                here = int(places[0])
            keep = places == here
            if not keep.any():
                to = int(places[0])
                if t - at >= moves[here, to]:
                    here, keep = to, places == to
            field[users[~keep], t] = IDLE
            mode[users[~keep], t] = IDLE
            if keep.any():
                at = int(t) + 1
