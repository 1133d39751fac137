"""What numbers are believed after readings: weighted samples, so that bars need not be straight.

Slopes at the best fit are not enough: once a night is soaked, more dew changes
little, and a bar may reach far to one side. Samples are drawn around the best
fit and from the prior, each weighed by how well it meets prior and readings
(importance sampling with the balance heuristic, Veach & Guibas 1995).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from hayweather.weather.record import Floats
from hayweather.windrow.readings import weighted_quantile

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
