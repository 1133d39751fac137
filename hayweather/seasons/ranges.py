"""What some years tell of many: ranges of means and slopes, weighed over years and sites.

A year is the unit: nights of a year are alike, so that thousands of them say no
more than their years. Means of several sites lend each other how much years
differ, never their means: a bench and a meadow are not draws from one
population.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from hayweather.seasons.record.results import Range
from hayweather.weather.record import Floats

CONFIDENCE = 0.90
FEWEST_YEARS = 3  # below this no range is told of one site alone (assumed)
FEWEST_SITES = 3  # below this sites do not tell how unlike their years are (assumed)


def quantile_of_t(degrees: float) -> float:
    """Student's t that nine in ten stay within."""
    from scipy import special

    if math.isinf(degrees):
        return float(special.ndtri((1 + CONFIDENCE) / 2))
    return float(special.stdtrit(degrees, (1 + CONFIDENCE) / 2))


def ratio_range(
    total: Floats, count: Floats, low: float = -math.inf, high: float = math.inf
) -> Range:
    """A mean over all nights and the range of it over many years, by Student's t over years.

    The ratio of the sums, with the spread that the years have around it (the
    estimator of a ratio in survey sampling; Cochran 1977, from memory), moved
    by their skew (Johnson's modified t, 1978, from memory): a place where dew is
    rare has many poor years and a few good ones.

    Parameters
    ----------
    total, count
        Sum of the quantity and nights of each year, (years,).
    low, high
        What it cannot pass.
    """
    value, error = _ratio(total, count)
    years = total.size
    if years < FEWEST_YEARS:
        return Range(value)
    half = quantile_of_t(years - 1) * error
    middle = value + _skew_shift(total, count, value)
    return Range(value, max(middle - half, low), min(middle + half, high))


def _skew_shift(total: Floats, count: Floats, value: float) -> float:
    """Third moment of the years over six times their variance and number."""
    apart, years = (total - value * count) / count.mean(), total.size
    variance = float((apart**2).sum()) / (years - 1)
    if years < 3 or not variance > 0:
        return 0.0
    third = float((apart**3).sum()) * years / ((years - 1) * (years - 2))
    return third / (6 * variance * years)


def _ratio(total: Floats, count: Floats) -> tuple[float, float]:
    """A mean over all nights, and its standard error by years; NaN for a single one."""
    value = float(total.sum() / count.sum())
    years = total.size
    if years < 2:
        return value, math.nan
    apart = (total - value * count) / count.mean()
    return value, math.sqrt(float((apart**2).sum()) / (years * (years - 1)))


def pooled_ranges(
    sites: Sequence[tuple[Floats, Floats]], low: float = -math.inf, high: float = math.inf
) -> list[Range]:
    """Means of several sites, each with a range that the others help to tell.

    How far years lie apart is estimated for all sites together and for each by
    itself, weighed by how much the sites' own variances differ beyond chance
    (empirical Bayes of variances, Smyth 2004, equations from memory): few years
    of a site borrow from the others, many stand on their own. A site whose years
    are all alike by itself borrows nothing.

    Parameters
    ----------
    sites
        ``(sum of the quantity, nights)`` of each year, of each site.
    low, high
        What the quantity cannot pass.
    """
    found = [_ratio(total, count) for total, count in sites]
    years = np.array([total.size for total, _ in sites])
    variance = np.array([error**2 for _, error in found]) * years
    usable = (years >= 2) & (variance > 0)
    if usable.sum() < FEWEST_SITES:
        return [ratio_range(total, count, low, high) for total, count in sites]
    prior, prior_degrees = prior_variance(variance[usable], years[usable] - 1.0)
    ranges = []
    for (total, count), (value, _), own in zip(sites, found, variance, strict=True):
        number = total.size
        degrees = number - 1.0
        if number < 2 or not own > 0:
            known = own == 0 and number >= FEWEST_YEARS
            ranges.append(Range(value, value, value) if known else Range(value))
            continue
        if math.isinf(prior_degrees):
            spread, degrees = prior, math.inf
        else:
            spread = (prior_degrees * prior + degrees * own) / (prior_degrees + degrees)
            degrees += prior_degrees
        # Never surer than all years of all sites together allow.
        half = quantile_of_t(min(degrees, float((years[usable] - 1).sum())))
        half *= math.sqrt(spread / number)
        middle = value + _skew_shift(total, count, value)
        ranges.append(Range(value, max(middle - half, low), min(middle + half, high)))
    return ranges


def prior_variance(variance: Floats, degrees: Floats) -> tuple[float, float]:
    """Variance that sites have in common, and how many degrees of freedom that is worth.

    By the moments of the logarithm of scaled F (Smyth 2004); infinite degrees
    where the sites' variances differ no more than by chance.

    Parameters
    ----------
    variance, degrees
        Of each site, above 0, (sites,).
    """
    from scipy import special

    logs = np.log(variance) - special.digamma(degrees / 2) + np.log(degrees / 2)
    beyond = float(logs.var(ddof=1) - special.polygamma(1, degrees / 2).mean())
    if beyond <= 0:
        return float(np.average(variance, weights=degrees)), math.inf
    prior_degrees = 2 * _inverse_trigamma(beyond)
    half = prior_degrees / 2
    return math.exp(float(logs.mean()) + float(special.digamma(half)) - math.log(half)), (
        prior_degrees
    )


def _inverse_trigamma(value: float) -> float:
    """Where trigamma takes a value, by Newton's method on its reciprocal."""
    from scipy import special

    x = 0.5 + 1 / value
    for _ in range(50):
        now = float(special.polygamma(1, x))
        step = now * (1 - now / value) / float(special.polygamma(2, x))
        x += step
        if abs(step) < 1e-9 * x:
            break
    return x


def slope_range(when: Floats, values: Floats) -> Range:
    """Slope per ten years of a straight line, with its range by the t of what it leaves.

    Parameters
    ----------
    when, values
        Year and value of each, (years,).
    """
    apart = when - when.mean()
    square = float((apart**2).sum())
    slope = float((apart * values).sum()) / square
    left = values - values.mean() - slope * apart
    degrees = when.size - 2
    if degrees < 1:
        return Range(10 * slope)
    error = math.sqrt(float((left**2).sum()) / degrees / square)
    half = quantile_of_t(degrees) * error
    return Range(10 * slope, 10 * (slope - half), 10 * (slope + half))
