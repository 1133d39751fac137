"""Tasks for planning fields, drawn at random; invented figures, no claim on nature."""

from __future__ import annotations

import numpy as np

from hayweather.plan.candidates import by_order
from hayweather.plan.task import DAY_SLOTS, Task


def moves_between(rng: np.random.Generator, fields: int, near: int, far: int) -> np.ndarray:
    """Slots between fields of one or two sites."""
    site = np.sort(rng.integers(0, 2, fields))
    moves = np.where(site[:, None] == site[None, :], near, far)
    np.fill_diagonal(moves, 0)
    return moves


def random_task(seed: int, balers: int, fields: int, slots: int, rigs: int) -> Task:
    """A small task in which every slot is a surprise."""
    rng = np.random.default_rng(seed)
    shape = (balers, fields, slots, 1 + rigs)
    allowed = rng.random(shape) < 0.7
    pace = rng.uniform(4000, 9000, (balers, 1, 1, 1))
    rate = np.where(allowed, pace * rng.uniform(0.6, 1.0, (1, 1, 1, 1 + rigs)), 0.0)
    gain = rng.normal(0.01, 0.01, shape)
    mass = rng.uniform(4000, 20_000, fields)
    moves = moves_between(rng, fields, int(rng.integers(0, 2)), 2)
    return Task(
        rate_kg=rate,
        gain=gain,
        mass_kg=mass,
        moves=np.repeat(moves[None], balers, axis=0),
        rig_moves=np.repeat(moves[None], rigs, axis=0),
        rig_kg=np.full((rigs, fields, slots), rng.uniform(6000, 12_000)),
    )


def rules_of(task: Task, seed: int) -> dict:
    """The two rules on a random task: every slot counts as fit, two orders of the fields."""
    rng = np.random.default_rng(seed)
    fit = np.ones(task.rate_kg.shape, dtype=bool)
    orders = {
        name: rng.permutation(task.fields).tolist() for name in ("longest_cured", "rain_first")
    }
    return {name: by_order(task, fit, order) for name, order in orders.items()}


def summer_task(seed: int, fields: int = 12, balers: int = 3, days: int = 7) -> Task:
    """A week on a farm of three sites: nights with dew, hours for one rig, rain on some day."""
    rng = np.random.default_rng(seed)
    hour = np.arange(DAY_SLOTS * days) / 2  # since 14:00
    site = np.sort(rng.integers(0, rng.integers(1, 4), fields))
    pace = rng.uniform(12_000, 22_000, balers)[:, None] / 2
    rate = np.zeros((balers, fields, hour.size, 2))
    gain = np.zeros_like(rate)
    rained = np.where(hour > rng.uniform(60, 200), rng.uniform(0.02, 0.06), 0.0)
    due = rng.choice([days * 24, days * 24, 96, 120], fields)
    for f in range(fields):
        left = -0.012 - 0.001 * (days + 1) - rained[-1] - (0.02 if due[f] < days * 24 else 0.0)
        open_ = (hour >= 24 * rng.choice([0, 0, 0, 1, 2, 3])) & (hour < due[f])
        for day in range(days):
            night = np.random.default_rng(1000 * seed + 10 * day + site[f])
            start = 24 * day + night.uniform(8, 14) + rng.normal(0, 0.5)
            length = max(night.uniform(0, 8) + rng.normal(0, 0.5), 0.0)
            since = hour - start
            today = open_ & (hour // 24 == day)
            dew = today & (since >= 0) & (since < length)
            rig = today & (since >= -4) & (since < length + 4) & ~((since >= 0) & (since < length))
            dry = today & ~dew & ((hour % 24 < 6) | (hour % 24 > 18))
            peak = 0.0015 * np.exp(-(((since - length / 2) / 3) ** 2)) + rng.normal(0, 0.0007)
            base = -0.001 * hour / 24 - rained - left - 0.007 + peak
            for hours, mode, cost in ((dry, 0, 0.012), (dew, 0, 0.0), (rig, 1, 0.005)):
                rate[:, f, hours, mode] = pace
                gain[:, f, hours, mode] = base[hours] - cost
    moves = np.where(site[:, None] == site[None, :], 1, 2)
    np.fill_diagonal(moves, 0)
    return Task(
        rate_kg=rate,
        gain=gain,
        mass_kg=rng.uniform(60e3, 250e3, fields),
        moves=np.repeat(moves[None], balers, axis=0),
        rig_moves=moves[None],
        rig_kg=np.full((1, fields, hour.size), 12_500.0),
    )
