"""Sites side by side on the same nights, and trends over the years."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from hayweather.seasons.ranges import ratio_range, slope_range
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.results import Pair, Range, SiteSeasons, Trend, Year
from hayweather.seasons.tally import kept_nights, usable
from hayweather.weather.record import Floats

FEWEST_TREND_YEARS = 10  # assumed


def pairs_of(sites: Sequence[SiteSeasons], useful_hours: float) -> tuple[Pair, ...]:
    """Every two sites with real years set against each other."""
    real = [site for site in sites if not site.typical]
    return tuple(pair_of(a, b, useful_hours) for a, b in combinations(real, 2))


def pair_of(first: SiteSeasons, second: SiteSeasons, useful_hours: float) -> Pair:
    """Two sites on the nights that both have, in years that neither leaves out.

    A night counts where both know it and neither has a rain night.
    """
    a, b = _shared(first, second)
    years = tuple(int(year) for year in np.unique(a.year))
    names = (first.site.name, second.site.name)
    if a.count == 0:
        return Pair(*names, 0, (), None, None, None, None)
    good = 100.0 * (
        usable(a, useful_hours).astype(np.float64) - usable(b, useful_hours).astype(np.float64)
    )
    hours = (a.dew_h - b.dew_h, a.rig_h - b.rig_h, a.wet_h - b.wet_h)
    ranges = [mean_range(values, a.year) for values in (*hours, good)]
    return Pair(*names, a.count, years, *ranges)


def _shared(first: SiteSeasons, second: SiteSeasons) -> tuple[Nights, Nights]:
    """The counted nights that both have, in the same order."""
    kept = [kept_nights(site.nights, site.years) for site in (first, second)]
    a, b = (nights.only(nights.counted) for nights in kept)
    _, in_a, in_b = np.intersect1d(a.evening, b.evening, return_indices=True)
    return a.only(in_a), b.only(in_b)


def mean_range(values: Floats, year: NDArray[np.int64]) -> Range:
    """Mean of values, and the range of the mean over many years, by the t of the years.

    `hayweather.seasons.ranges.ratio_range` of each year's sum and count.

    Parameters
    ----------
    values, year
        A value and its year, (nights,).
    """
    names, index = np.unique(year, return_inverse=True)
    count = np.bincount(index, minlength=names.size).astype(np.float64)
    total = np.bincount(index, weights=values, minlength=names.size).astype(np.float64)
    return ratio_range(total, count)


def trend_of(years: Sequence[Year], nights: Nights) -> Trend | None:
    """Change per ten years, never without its range; None for less than ten years.

    Straight line through the years that are not left out; the range by the t of
    what the line leaves, years taken as independent of each other.
    """
    kept = [year for year in years if year.year is not None and not year.left_out]
    kept = [year for year in kept if year.whole.counted]
    if len(kept) < FEWEST_TREND_YEARS:
        return None
    when = np.array([year.year for year in kept], dtype=np.float64)
    share = np.array([100 * year.whole.with_dew / year.whole.counted for year in kept])
    counted = nights.only(nights.counted)
    hours = np.array([counted.dew_h[counted.year == year.year].mean() for year in kept])
    return Trend(
        first=int(when.min()),
        last=int(when.max()),
        years=len(kept),
        dew_nights_percent=slope_range(when, share),
        dew_hours=slope_range(when, hours),
    )
