"""Every schedule of a tiny task, one by one: knows nothing of how plans are made."""

from itertools import pairwise, product

import numpy as np
from scipy.optimize import linprog

IDLE = None


def best_value(task) -> float:
    """The most that any schedule brings."""
    paths = [list(_paths(task, b)) for b in range(task.rate_kg.shape[0])]
    sets = sorted(product(*paths), key=lambda team: -_most(task, team))
    best = 0.0
    for team in sets:
        if _most(task, team) <= best + 1e-9:
            break
        if _rigs_fit(task, team):
            best = max(best, _amounts(task, team))
    return best


def _paths(task, baler):
    """Every sequence of places and ways of one baler with time to move."""
    _, fields, slots, modes = task.rate_kg.shape
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
        for t in range(slots)
    ]
    for path in product(*choices):
        stays = [(t, place[0]) for t, place in enumerate(path) if place is not IDLE]
        if _apart(stays, task.moves[baler]):
            yield path


def _apart(stays, moves) -> bool:
    return all(
        later - time - 1 >= moves[here, there] or here == there
        for (time, here), (later, there) in pairwise(stays)
    )


def _most(task, team) -> float:
    """What a team would bring if hay and water had no end."""
    return sum(task.rate_kg[stay] * task.gain[stay] for stay in _stays(team))


def _stays(team):
    """Baler, field, slot and way of all work."""
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
    """The best amounts for a team, by linear programming."""
    stays = _stays(team)
    if not stays:
        return 0.0
    rows, limits = [], []
    for f, mass in enumerate(task.mass_kg):
        rows.append([float(s[1] == f) for s in stays])
        limits.append(mass)
    for rig, f, t in np.ndindex(task.rig_kg.shape):
        rows.append([float(s[1:] == (f, t, 1 + rig)) for s in stays])
        limits.append(task.rig_kg[rig, f, t])
    gains = [-task.gain[s] for s in stays]
    return -linprog(gains, A_ub=rows, b_ub=limits, bounds=[(0, task.rate_kg[s]) for s in stays]).fun
