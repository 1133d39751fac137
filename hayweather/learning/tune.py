"""Fit the windrow to a farm's own readings: least squares with a prior, honest bars.

Every number to fit has a prior: what is believed before any reading, all
assumed. Readings move it as far as they can tell (maximum a posteriori; bounded
least squares); the bars are those of what is believed then (`believe`). What
readings cannot tell keeps its prior, is said, and still widens the other bars.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from hayweather.errors import InputError
from hayweather.farm.records import Farm, Tuning
from hayweather.farm.tables import TUNING
from hayweather.learning.past import FieldReading
from hayweather.learning.predict import SiteNights, predict, site_nights, weather_scatter
from hayweather.weather.record import Floats, HourlyWeather
from hayweather.windrow.readings import weighted_quantile


@dataclass(frozen=True)
class Knob:
    """One number to fit.

    Attributes
    ----------
    name
        Key of the farm file's ``[tuning]``.
    attribute
        Of `Tuning`.
    center, spread
        Prior: middle, and standard deviation (of the logarithm where `log`).
    low, high
        Bounds.
    log
        A factor.
    """

    name: str
    attribute: str
    center: float
    spread: float
    low: float
    high: float
    log: bool = False

    def value(self, z: float) -> float:
        """From standard deviations of the prior to the number itself."""
        if self.log:
            return float(self.center * np.exp(self.spread * z))
        return float(self.center + self.spread * z)

    def z(self, value: float) -> float:
        """The inverse of `value`."""
        off = np.log(value / self.center) if self.log else value - self.center
        return float(off / self.spread)


def _knob(name: str, center: float, spread: float, *, log: bool = False) -> Knob:
    """A number between the bounds that the farm file's key has."""
    key = next(key for key in TUNING.keys if key.name == name)
    return Knob(name, key.target, center, spread, key.low, key.high, log)


# Priors (assumed): mass within a third two times in three, dew point of the site within
# 1.5 K, leaf and stem as far as published curves differ, sky view 0.85-0.95.
KNOBS = (
    _knob("windrow_mass", 1.0, 0.3, log=True),
    _knob("dew_point_offset", 0.0, 1.5),
    _knob("leaf_moisture", 1.0, 0.13, log=True),
    _knob("stem_moisture", 1.0, 0.13, log=True),
    _knob("sky_view", 0.9, 0.05),
    _knob("rig_efficiency", 0.8, 0.1),
)
NAMES = tuple(knob.name for knob in KNOBS)


def tuning_at(z: Floats) -> Tuning:
    """The tuning that lies `z` standard deviations of the priors off their middles, in bounds."""
    values = {
        knob.attribute: float(np.clip(knob.value(float(at)), knob.low, knob.high))
        for knob, at in zip(KNOBS, z, strict=True)
    }
    return Tuning(**values)


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


FIRST_DRAWS, LATER_DRAWS = 240, 240
PRIOR_PART = 0.4  # of the first draws come from the prior
WIDER = 1.4  # standard deviations of the proposals beside what they follow


@dataclass(frozen=True)
class Proposal:
    """A normal distribution to draw from: middle (k,) and square root of its covariance (k, k)."""

    middle: Floats
    root: Floats

    def draw(self, random: np.random.Generator, count: int) -> Floats:
        """Samples, (count, k); every one with its mirror image."""
        half = random.standard_normal((count // 2, self.middle.size))
        return self.middle + np.concatenate([half, -half]) @ self.root.T

    def log_density(self, samples: Floats) -> Floats:
        """Logarithm of the density but for a constant that all proposals share, (count,)."""
        off = np.linalg.solve(self.root, (samples - self.middle).T)
        return np.asarray(-0.5 * (off**2).sum(axis=0) - np.log(np.abs(np.diag(self.root))).sum())


@dataclass(frozen=True)
class Belief:
    """Weighted samples, (samples, k), in standard deviations of the priors.

    Attributes
    ----------
    samples, weights
        Weights sum to 1.
    """

    samples: Floats
    weights: Floats

    def covariance(self) -> Floats:
        """Covariance of the numbers, (k, k)."""
        off = self.samples - self.weights @ self.samples
        return np.asarray((off * self.weights[:, None]).T @ off)

    def quantiles(self, levels: tuple[float, ...]) -> Floats:
        """Quantiles of every number, (levels, k)."""
        columns = [weighted_quantile(values, self.weights, levels) for values in self.samples.T]
        return np.stack(columns, axis=1)


def believe(
    misfit: Callable[[Floats], Floats], middle: Floats, covariance: Floats, seed: int
) -> Belief:
    """Weighted samples of what is believed after readings.

    Parameters
    ----------
    misfit
        Sum of squares of the readings' misfits, in standard errors, of samples
        (n, k): gives (n,).
    middle, covariance
        Best fit, and covariance by slopes there.
    seed
        Of the random numbers.
    """
    random = np.random.default_rng(seed)
    count = middle.size
    prior = Proposal(np.zeros(count), np.eye(count))
    around = Proposal(middle, _root(covariance))
    parts = [
        (prior, round(PRIOR_PART * FIRST_DRAWS)),
        (around, round((1 - PRIOR_PART) * FIRST_DRAWS)),
    ]
    samples = np.concatenate([proposal.draw(random, number) for proposal, number in parts])
    squares = misfit(samples)
    first = _weighed(samples, squares, parts)
    spread = first.covariance() + 0.01 * np.eye(count)
    later = Proposal(first.weights @ first.samples, _root(spread))
    fresh = later.draw(random, LATER_DRAWS)
    parts.append((later, LATER_DRAWS))
    return _weighed(
        np.concatenate([samples, fresh]), np.concatenate([squares, misfit(fresh)]), parts
    )


def _weighed(samples: Floats, squares: Floats, parts: list[tuple[Proposal, int]]) -> Belief:
    """Samples with weights: prior times likelihood over what they were drawn from."""
    densities = [np.log(number) + proposal.log_density(samples) for proposal, number in parts]
    drawn_from = np.logaddexp.reduce(np.stack(densities), axis=0)
    score = -0.5 * squares - 0.5 * (samples**2).sum(axis=1) - drawn_from
    raw = np.exp(score - score.max())
    return Belief(samples, raw / raw.sum())


def _root(covariance: Floats) -> Floats:
    """Square root of a covariance, a little wider."""
    return np.asarray(WIDER * np.linalg.cholesky(covariance), dtype=np.float64)


Status = Literal["fitted", "unclear", "alike", "needs_skin", "needs_rig"]

TOO_WIDE = 0.75  # of the prior's bar: a number known no better than that keeps its prior
ALIKE = 0.95  # correlation of two numbers' errors from which they cannot be told apart
BAR_LEVELS = (0.025, 0.975)
BAR = 1.96  # standard deviations of a prior on either side of its middle that hold 95 %


@dataclass(frozen=True)
class Fitted:
    """What became of one number.

    Attributes
    ----------
    knob
        The number.
    value, low, high
        Its value and 95 % bar; the prior's where it was kept.
    share
        Width of the bar beside the prior's [-].
    status
        Fitted; kept because readings cannot tell; kept because they are of the
        wrong kind.
    """

    knob: Knob
    value: float
    low: float
    high: float
    share: float
    status: Status


@dataclass(frozen=True)
class Fit:
    """Result of a tuning.

    Attributes
    ----------
    fitted
        Every number, in the order of `KNOBS`.
    used, left_out
        Readings that were used, and that the weather does not reach.
    nights
        Nights that they belong to.
    before, after
        Root mean square of reading less model, with nothing tuned and tuned, in
        standard errors of the readings [-].
    scatter
        How much more the readings scatter than their errors say, at least 1; the
        bars are that much wider.
    bales, layered
        How many of them were bales, which read dew high; how many were of one layer.
    """

    fitted: tuple[Fitted, ...]
    used: int
    left_out: int
    nights: int
    before: float
    after: float
    scatter: float
    bales: int
    layered: int = 0

    @property
    def told(self) -> tuple[Fitted, ...]:
        """What the readings could tell."""
        return tuple(item for item in self.fitted if item.status == "fitted")

    @property
    def tuning(self) -> Tuning:
        """The tuning to use: fitted numbers, defaults elsewhere."""
        return replace(Tuning(), **{item.knob.attribute: item.value for item in self.told})


def prior_bar(knob: Knob) -> tuple[float, float]:
    """What is believed of a number before any reading, 95 %, within its bounds.

    Parameters
    ----------
    knob
        A number that readings can tell.
    """
    low, high = (knob.value(side * BAR) for side in (-1, 1))
    return max(low, knob.low), min(high, knob.high)


def fit(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    readings: Sequence[FieldReading],
    *,
    at_field: bool = False,
) -> Fit:
    """Fit the windrow to readings; hay is taken as cured, any tuning now in the farm is ignored.

    Parameters
    ----------
    farm
        The farm.
    weather
        Past hourly weather by site name.
    readings
        Of its fields.
    at_field
        True where the weather was measured beside the windrow, so that readings
        are off by the meter alone; else the errors of an hourly forecast are
        added, as assumed for the members of an outlook.

    Raises
    ------
    InputError
        If the weather reaches none of the readings.
    """
    problem = problem_of(farm, weather, readings, at_field=at_field)
    start = np.zeros(len(KNOBS))
    misfit, _ = problem.at(start)
    before = float(np.sqrt((misfit**2).mean()))
    statuses = _by_kind(problem.used)
    free = np.array([statuses.get(name) is None for name in NAMES])
    z = solve(problem, start, free)
    problem.scatter = scatter_of(problem, z, free)
    belief = believe(problem.squares, z, covariance_of(problem, z), SEED)
    _refuse(belief, free, statuses)
    z = solve(problem, np.where(free, z, 0.0), free)
    return _result(problem, z, belief, statuses, len(readings), before)


def _by_kind(readings: Sequence[FieldReading]) -> dict[str, Status]:
    """Numbers that no reading of these kinds can tell, whatever their count."""
    statuses: dict[str, Status] = {}
    if not any(reading.kind == "skin" for reading in readings):
        statuses["sky_view"] = "needs_skin"
    if not any(reading.water_l_t for reading in readings):
        statuses["rig_efficiency"] = "needs_rig"
    return statuses


def _refuse(belief: Belief, free: np.ndarray, statuses: dict[str, Status]) -> None:
    """Take from `free`, and note, what readings cannot tell, or cannot tell apart."""
    covariance = belief.covariance()
    errors = np.sqrt(np.diag(covariance))
    ties = np.abs(covariance / np.outer(errors, errors)) - np.eye(errors.size)
    for row in np.flatnonzero(free):
        others = free & (ties[row] > ALIKE)
        if errors[row] > TOO_WIDE or others.any():
            statuses[NAMES[row]] = "unclear" if errors[row] > TOO_WIDE else "alike"
    free &= np.array([statuses.get(name) is None for name in NAMES])


def _result(
    problem: Problem,
    z: Floats,
    belief: Belief,
    statuses: Mapping[str, Status],
    given: int,
    before: float,
) -> Fit:
    """The numbers with their bars, and how well the readings are met."""
    low, high = belief.quantiles(BAR_LEVELS)
    misfit = problem.at(z)[0] * problem.scatter
    used = problem.used
    return Fit(
        fitted=tuple(
            _fitted(knob, float(at), (float(under), float(over)), statuses.get(knob.name, "fitted"))
            for knob, at, under, over in zip(KNOBS, z, low, high, strict=True)
        ),
        used=len(used),
        left_out=given - len(used),
        nights=problem.nights_used,
        before=before,
        after=float(np.sqrt((misfit**2).mean())),
        scatter=problem.scatter,
        bales=sum(reading.kind == "bale" for reading in used),
        layered=sum(reading.layer is not None for reading in used),
    )


def _fitted(knob: Knob, z: float, bar: tuple[float, float], status: Status) -> Fitted:
    """One number with its 95 % bar, within its bounds; the prior's where it was kept."""
    low, high = bar if status == "fitted" else (-BAR, BAR)
    low, high = min(low, z), max(high, z)
    ends = (max(knob.value(low), knob.low), min(knob.value(high), knob.high))
    return Fitted(knob, knob.value(z), *ends, (high - low) / (2 * BAR), status)
