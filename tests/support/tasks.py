"""Tasks for planning fields, drawn at random; invented figures, no claim on nature."""

from __future__ import annotations

import numpy as np

from hayweather.plan.rules import by_order
from hayweather.plan.task import DAY_QUARTERS, Schedule, Task

HOUR_COST = 167.0  # baler and driver


def _between(rng: np.random.Generator, fields: int, near: int, far: int) -> np.ndarray:
    """Quarters between fields of one or two sites."""
    site = np.sort(rng.integers(0, 2, fields))
    moves = np.where(site[:, None] == site[None, :], near, far)
    np.fill_diagonal(moves, 0)
    return moves


def random_task(
    seed: int, balers: int, fields: int, quarters: int, rigs: int, least: int = 1
) -> Task:
    """A small task in which every quarter is a surprise."""
    rng = np.random.default_rng(seed)
    shape = (balers, fields, quarters, 1 + rigs)
    allowed = rng.random(shape) < 0.7
    pace = rng.uniform(4000, 9000, (balers, 1, 1, 1))
    rate = np.where(allowed, pace * rng.uniform(0.6, 1.0, (1, 1, 1, 1 + rigs)), 0.0)
    gain = rng.normal(0.01, 0.01, shape)
    mass = rng.uniform(4000, 20_000, fields)
    moves = _between(rng, fields, int(rng.integers(0, 2)), 2)
    cost = (1.0 + moves) * rng.uniform(0, 30) * (1 - np.eye(fields))
    return Task(
        rate_kg=rate,
        gain=gain,
        mass_kg=mass,
        moves=np.repeat(moves[None], balers, axis=0),
        move_cost=np.repeat(cost[None], balers, axis=0),
        first_cost=np.full(balers, float(cost.max()) / 2),
        rig_moves=np.repeat(moves[None], rigs, axis=0),
        rig_move_cost=np.repeat(cost[None] / 2, rigs, axis=0),
        rig_first_cost=np.full(rigs, float(cost.max()) / 4),
        rig_kg=np.full((rigs, fields, quarters), rng.uniform(6000, 12_000)),
        least=np.full(balers, least),
        most_stays=fields + 1,
        alone=1,
    )


def rules_of(task: Task, seed: int) -> dict[str, Schedule]:
    """The two rules on a random task: every quarter counts as fit, two orders of the fields."""
    rng = np.random.default_rng(seed)
    orders = {
        name: rng.permutation(task.fields).tolist() for name in ("longest_cured", "rain_first")
    }
    return {name: by_order(task, order) for name, order in orders.items()}


def summer_task(seed: int, fields: int = 12, balers: int = 3, rigs: int = 1, days: int = 3) -> Task:
    """Some nights on a farm of up to three sites: dew, hours for rigs, rain or a date on some."""
    rng = np.random.default_rng(seed)
    hour = np.arange(DAY_QUARTERS * days) / 4  # since 14:00
    site = np.sort(rng.integers(0, rng.integers(1, 4), fields))
    pace = rng.uniform(12_000, 22_000, balers)[:, None] / 4
    rate = np.zeros((balers, fields, hour.size, 1 + rigs))
    gain = np.zeros_like(rate)
    rained = np.where(hour > rng.uniform(20, 90), rng.uniform(0.02, 0.06), 0.0)
    due = rng.choice([days * 24 + 24, days * 24 + 24, 40, 60], fields)
    for f in range(fields):
        late = 0.02 * np.maximum(hour - due[f], 0) / 24
        left = -0.012 - 0.001 * (days + 1) - rained[-1]
        left -= 0.02 * max(days * 24 + 24 - due[f], 0) / 24
        open_ = hour >= 24 * rng.choice([0, 0, 0, 1, 2])
        for day in range(days):
            night = np.random.default_rng(1000 * seed + 10 * day + site[f])
            start = 24 * day + night.uniform(8, 14) + rng.normal(0, 0.5)
            length = max(night.uniform(0, 8) + rng.normal(0, 0.5), 0.0)
            since = hour - start
            today = open_ & (hour // 24 == day)
            dew = today & (since >= 0) & (since < length)
            wet = today & (since >= -4) & (since < length + 4) & ~dew
            peak = 0.0015 * np.exp(-(((since - length / 2) / 3) ** 2)) + rng.normal(0, 0.0007)
            base = -0.001 * hour / 24 - rained - late - left - 0.007 + peak
            rate[:, f, dew, 0] = pace
            gain[:, f, dew, 0] = base[dew]
            for r in range(rigs):
                rate[:, f, wet, 1 + r] = pace
                gain[:, f, wet, 1 + r] = base[wet] - 0.005
    moves = np.where(site[:, None] == site[None, :], 2, 4)
    np.fill_diagonal(moves, 0)
    cost = HOUR_COST * moves / 4
    return Task(
        rate_kg=rate,
        gain=gain,
        mass_kg=rng.uniform(60e3, 250e3, fields),
        moves=np.repeat(moves[None], balers, axis=0),
        move_cost=np.repeat(cost[None], balers, axis=0),
        first_cost=np.full(balers, HOUR_COST / 2),
        rig_moves=np.repeat(moves[None], rigs, axis=0),
        rig_move_cost=np.repeat(cost[None] / 2, rigs, axis=0),
        rig_first_cost=np.full(rigs, HOUR_COST / 4),
        rig_kg=np.full((rigs, fields, hour.size), 6_250.0),
        least=np.full(balers, 4),
        most_stays=fields + days,
    )
