"""Readings against the model: misfits, slopes, and the numbers that meet them best."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from hayweather.errors import InputError
from hayweather.farm.records import Farm, Tuning
from hayweather.learning.knobs import KNOBS, tuning_at
from hayweather.learning.logs import FieldReading
from hayweather.learning.predict import SiteNights, predict, site_nights, weather_scatter
from hayweather.weather.record import Floats, HourlyWeather

STEP = 0.1  # of the prior's standard deviation, for slopes
FEW_DEGREES = 2.0  # with fewer readings to spare, their scatter tells nothing
SCATTER_MEMBERS = 80
SEED = 40_717


@dataclass
class Problem:
    """Readings, their errors, and what was computed last.

    `root` is the inverse of the root of the errors' covariance, `kept` tells
    the readings that the weather reaches.
    """

    farm: Farm
    nights: list[SiteNights]
    observed: Floats
    root: Floats
    kept: np.ndarray
    scatter: float = 1.0
    last: dict[bytes, tuple[Floats, Floats]] = field(default_factory=dict)

    @property
    def used(self) -> list[FieldReading]:
        """Readings in use."""
        flat = [reading for each in self.nights for reading in each.readings]
        return [reading for reading, there in zip(flat, self.kept, strict=True) if there]

    @property
    def nights_used(self) -> int:
        """Nights that a reading in use belongs to, those of several fields apart."""
        lanes = [(number, lane) for number, each in enumerate(self.nights) for lane in each.lanes]
        return len({lane for lane, there in zip(lanes, self.kept, strict=True) if there})

    def off(self, samples: Floats) -> Floats:
        """Misfit in standard errors of many tunings, (samples, readings)."""
        tunings = [tuning_at(row) for row in samples]
        values = [predict(self.farm, nights, tunings) for nights in self.nights]
        whole = np.nan_to_num(np.concatenate(values, axis=1)[:, self.kept])
        return (whole - self.observed) @ self.root.T / self.scatter

    def squares(self, samples: Floats) -> Floats:
        """Sum of squares of `off`, (samples,)."""
        return np.asarray((self.off(samples) ** 2).sum(axis=1))

    def at(self, z: Floats) -> tuple[Floats, Floats]:
        """Misfit in standard errors (readings,), and its slope (readings, knobs)."""
        key = z.tobytes()
        if key not in self.last:
            steps = STEP * np.eye(z.size)
            here, *others = self.off(np.stack([z, *(z + steps), *(z - steps)])) * self.scatter
            upper, lower = np.split(np.stack(others), 2)
            self.last = {key: (here, ((upper - lower) / (2 * STEP)).T)}
        misfit, slopes = self.last[key]
        return misfit / self.scatter, slopes / self.scatter


def problem_of(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    readings: Sequence[FieldReading],
    *,
    at_field: bool,
) -> Problem:
    """Readings that the weather reaches, with their errors."""
    if not farm.rigs and any(reading.water_l_t for reading in readings):
        raise InputError("tune_no_rig", str(farm.path or ""))
    nights = site_nights(farm, weather, readings)
    flat = [reading for each in nights for reading in each.readings]
    first = np.concatenate([predict(farm, each, [Tuning()])[0] for each in nights])
    kept = np.isfinite(first)
    if not kept.any():
        raise InputError("tune_no_weather", count=len(flat))
    meter = np.diag([reading.error**2 for reading in flat])
    if not at_field:
        meter = meter + _blocks(
            [weather_scatter(farm, each, SCATTER_MEMBERS, SEED) for each in nights]
        )
    root = np.linalg.inv(np.linalg.cholesky(meter[np.ix_(kept, kept)])).astype(np.float64)
    observed = np.array([reading.value for reading in flat])[kept]
    return Problem(farm, nights, observed, root, kept)


def _blocks(parts: Sequence[Floats]) -> Floats:
    """Square arrays along the diagonal of one."""
    edges = np.cumsum([0, *(part.shape[0] for part in parts)])
    whole = np.zeros((edges[-1], edges[-1]))
    for part, low, high in zip(parts, edges[:-1], edges[1:], strict=True):
        whole[low:high, low:high] = part
    return whole


def solve(problem: Problem, start: Floats, free: np.ndarray) -> Floats:
    """Most likely numbers, those not free held at their priors' middles."""
    if not free.any():
        return start
    from scipy.optimize import least_squares

    low = np.array([knob.z(knob.low) for knob in KNOBS])[free]
    high = np.array([knob.z(knob.high) for knob in KNOBS])[free]

    def whole(part: Floats) -> Floats:
        z = np.zeros(len(KNOBS))
        z[free] = part
        return z

    def residuals(part: Floats) -> Floats:
        return np.concatenate([problem.at(whole(part))[0], part])

    def slopes(part: Floats) -> Floats:
        return np.concatenate([problem.at(whole(part))[1][:, free], np.eye(part.size)])

    inside = np.clip(start[free], low + STEP, high - STEP)
    found = least_squares(residuals, inside, slopes, bounds=(low, high), xtol=1e-3, ftol=1e-4)
    return whole(found.x)


def scatter_of(problem: Problem, z: Floats, free: np.ndarray) -> float:
    """How much more the readings scatter than their errors say, at least 1."""
    misfit, slopes = problem.at(z)
    mine = slopes[:, free]
    told = np.trace(np.linalg.solve(mine.T @ mine + np.eye(mine.shape[1]), mine.T @ mine))
    spare = misfit.size - float(told)
    if spare < FEW_DEGREES:
        return 1.0
    return max(float(np.sqrt((misfit**2).sum() / spare)), 1.0)


def covariance_of(problem: Problem, z: Floats) -> Floats:
    """Covariance of all numbers by the slopes at `z`, in standard deviations of the priors."""
    _, slopes = problem.at(z)
    return np.linalg.inv(slopes.T @ slopes + np.eye(z.size)).astype(np.float64)
