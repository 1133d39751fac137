"""Every schedule of a tiny task, one by one: knows nothing of how plans are made."""

from itertools import groupby, pairwise, product

import numpy as np
from scipy.optimize import linprog

IDLE = None
PAUSE = 8  # quarters off after which a crew comes out anew


def best_value(task) -> float:
    """The most that any schedule brings, drives and set-ups paid."""
    paths = [list(_paths(task, b)) for b in range(task.rate_kg.shape[0])]
    sets = sorted(product(*paths), key=lambda team: -_most(task, team))
    best = 0.0
    for team in sets:
        if _most(task, team) <= best + 1e-9:
            break
        if _rigs_fit(task, team):
            best = max(best, _amounts(task, team) - _drives(task, team))
    return best


def _paths(task, baler):
    """Every sequence of places and ways of one baler with time to move."""
    _, fields, quarters, modes = task.rate_kg.shape
    choices = [
        [
            IDLE,
            *(
                (f, m)
                for f in range(fields)
                for m in range(modes)
                if task.rate_kg[baler, f, t, m] > 0 and task.gain[baler, f, t, m] > 0
            ),
        ]
        for t in range(quarters)
    ]
    for path in product(*choices):
        stays = [(t, place[0]) for t, place in enumerate(path) if place is not IDLE]
        few = len(_route([place for _, place in stays])) <= task.most_stays
        if few and _apart(stays, task.moves[baler]):
            yield path


def _apart(stays, moves) -> bool:
    return all(
        later - time - 1 >= moves[here, there] or here == there
        for (time, here), (later, there) in pairwise(stays)
    )


def _route(places):
    """Fields one after another."""
    return [field for field, _ in groupby(places)]


def _cost(places, cost, first) -> float:
    order = _route(places)
    return first + sum(cost[one, two] for one, two in pairwise(order)) if order else 0.0


def _drives(task, team) -> float:
    """What the drives of balers and rigs cost."""
    total = sum(
        _cost([p[0] for p in path if p is not IDLE], task.move_cost[b], task.first_cost[b])
        for b, path in enumerate(team)
    )
    for path in team:
        work = [(t, p[0]) for t, p in enumerate(path) if p is not IDLE]
        for (t, here), (later, there) in pairwise(work):
            total += task.out_cost * (here == there and later - t > PAUSE)
    for rig in range(task.rig_moves.shape[0]):
        uses = sorted({(t, f) for b, f, t, m in _stays(team) if m == 1 + rig})
        places = [field for _, field in uses]
        total += _cost(places, task.rig_move_cost[rig], task.rig_first_cost[rig])
    return total


def _most(task, team) -> float:
    """What a team would bring if hay and water had no end, and rigs drove for nothing."""
    hay = sum(task.rate_kg[stay] * task.gain[stay] for stay in _stays(team))
    return hay - sum(
        _cost([p[0] for p in path if p is not IDLE], task.move_cost[b], task.first_cost[b])
        for b, path in enumerate(team)
    )


def _stays(team):
    """Baler, field, quarter and way of all work."""
    return [
        (b, p[0], t, p[1])
        for b, path in enumerate(team)
        for t, p in enumerate(path)
        if p is not IDLE
    ]


def _rigs_fit(task, team) -> bool:
    """Each rig in one field at a time, with time to move."""
    for rig, moves in enumerate(task.rig_moves):
        uses = {
            (t, p[0])
            for path in team
            for t, p in enumerate(path)
            if p is not IDLE and p[1] == 1 + rig
        }
        for time, here in uses:
            for later, there in uses:
                if here != there and later >= time and later - time - 1 < moves[here, there]:
                    return False
    return True


def _amounts(task, team) -> float:
    """The best amounts for a team, by linear programming; nothing where a visit is too short.

    A visit that is too short may stand where it finishes its field: then all of that
    field's hay must be baled.
    """
    stays = _stays(team)
    if not stays:
        return 0.0
    whole = _to_be_finished(task, team)
    if whole is None:
        return 0.0
    rows, limits = [], []
    for f, mass in enumerate(task.mass_kg):
        rows.append([float(s[1] == f) for s in stays])
        limits.append(mass)
        if f in whole:
            rows.append([-float(s[1] == f) for s in stays])
            limits.append(-mass)
    for rig, f, t in np.ndindex(task.rig_kg.shape):
        rows.append([float(s[1:] == (f, t, 1 + rig)) for s in stays])
        limits.append(task.rig_kg[rig, f, t])
    gains = [-task.gain[s] for s in stays]
    found = linprog(gains, A_ub=rows, b_ub=limits, bounds=[(0, task.rate_kg[s]) for s in stays])
    return -found.fun if found.status == 0 else 0.0


def _to_be_finished(task, team):
    """Fields that short visits must finish; None where a short visit is not the last there."""
    last = {}
    for _, field, quarter, _ in _stays(team):
        last[field] = max(last.get(field, -1), quarter)
    found = set()
    for b, path in enumerate(team):
        work = [(t, place[0]) for t, place in enumerate(path) if place is not IDLE]
        for field, visit in groupby(work, key=lambda item: item[1]):
            quarters = [t for t, _ in visit]
            outings = [[quarters[0]]]
            for before, after in pairwise(quarters):
                if after - before > PAUSE:
                    outings.append([])
                outings[-1].append(after)
            short = len(quarters) < task.least[b]
            if any(len(outing) < task.alone for outing in outings[:-1]):
                return None
            if short or len(outings[-1]) < task.alone:
                if quarters[-1] < last[field]:
                    return None
                found.add(field)
    return found
