"""A season of each site as it comes on average: gaps scaled, ranges over years, the model's doubt.

Two doubts stand apart: how years differ (a range by the years), and how far the
model's assumed numbers move the figure, the same for all years and sites.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from hayweather.farm.records import Rig
from hayweather.seasons.ranges import pooled_ranges
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.results import Doubt, Estimate, MeanSeason, Range, Year
from hayweather.seasons.tally import fuel_of, kept_nights, usable, with_rain_known
from hayweather.weather.record import Floats

DRAWS = 20
DRAWN_NIGHTS = 20  # nights of a site on which the assumed numbers are drawn
FEWEST_KNOWN = 5  # a month with fewer known nights is taken from the other years (assumed)
DOUBT_LEVELS = (0.05, 0.95)


@dataclass(frozen=True)
class SiteNights:
    """What a mean season is worked out from.

    Attributes
    ----------
    nights, years
        All nights of a site; its years, `left_out` told.
    drawn
        The same nights again with each draw of the assumed numbers, some of them.
    """

    nights: Nights
    years: Sequence[Year]
    drawn: Sequence[Nights] = ()


def mean_seasons(
    sites: Sequence[SiteNights], useful_hours: float, rig: Rig, capacity_kg_h: float
) -> list[MeanSeason | None]:
    """The mean season of each site; None where no night counts.

    Parameters
    ----------
    sites
        All of them: sites tell each other how much years differ.
    useful_hours, rig, capacity_kg_h
        As in `hayweather.seasons.tally.tally_of`.
    """
    made = [_Made(site, useful_hours, capacity_kg_h) for site in sites]
    there = [site for site in made if site.counts]
    ranges = {
        name: iter(
            pooled_ranges(
                [site.sums(name) for site in there], 0.0, 1.0 if name == "dew" else np.inf
            )
        )
        for name in _NAMES
    }
    return [
        site.season({name: next(found) for name, found in ranges.items()}, rig)
        if site.counts
        else None
        for site in made
    ]


_NAMES = ("dew", "dew_h", "rig_h", "wet_h", "dew_kg", "rig_kg", "both_kg")


class _Made:
    """One site on its way to a mean season."""

    def __init__(self, site: SiteNights, useful_hours: float, capacity_kg_h: float) -> None:
        self.kept = kept_nights(site.nights, site.years)
        self.counted = self.kept.only(self.kept.counted)
        self.counts = self.counted.count > 0
        self.useful_hours, self.capacity_kg_h = useful_hours, capacity_kg_h
        self.drawn = [nights for nights in site.drawn if nights.count]
        real = all(year.year is not None for year in site.years)
        self.real = real
        # What a whole season comes to is counted in the years that know rain alone.
        self.whole = with_rain_known(self.kept, real=real)
        self.names, self.index = self._years(self.whole)
        self.weight = month_weights(self.whole, self.index, self.names.size)

    def _years(self, nights: Nights) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Years of some nights, and the place of the year of each; a typical year is one."""
        if not self.real:
            return np.zeros(1, dtype=np.int64), np.zeros(nights.count, dtype=np.int64)
        return np.unique(nights.year, return_inverse=True)

    def values(self, nights: Nights, name: str) -> Floats:
        """A quantity of each night."""
        if name == "dew":
            return usable(nights, self.useful_hours).astype(np.float64)
        if name == "dew_kg":
            return nights.dew_h * self.capacity_kg_h
        if name == "both_kg":
            return nights.dew_h * self.capacity_kg_h + nights.rig_kg
        found: Floats = getattr(nights, name)
        return found

    def amounts(self, values: Floats) -> Floats:
        """What some amount of each night of a season comes to, gaps scaled, (years,)."""
        there = np.where(self.whole.counted, np.nan_to_num(values), 0.0)
        return self.weight @ there

    def sums(self, name: str) -> tuple[Floats, Floats]:
        """Sum and weight of each year that has any; amounts are sums of one season."""
        if name.endswith("_kg"):
            return self.amounts(self.values(self.whole, name)), np.ones(self.names.size)
        _, index = self._years(self.counted)
        total = np.bincount(index, weights=self.values(self.counted, name))
        return total.astype(np.float64), np.bincount(index).astype(np.float64)

    def season(self, ranges: dict[str, Range], rig: Rig) -> MeanSeason:
        """All of it together."""
        nights = self.amounts(np.ones(self.whole.count)).mean()
        found = {
            name: Estimate(
                ranges[name],
                self.doubt(name, nights if name.endswith("_kg") else 1.0),
                *self.extremes(name),
            )
            for name in _NAMES
        }
        water = float(self.amounts(self.whole.water_l).mean())
        counted = self.whole.only(self.whole.counted)
        raw = float(counted.water_l.sum())
        fuel = fuel_of(counted, rig)
        known = np.bincount(self.index, weights=self.whole.known, minlength=self.names.size)
        asked = np.bincount(self.index, minlength=self.names.size)
        return MeanSeason(
            dew_nights_percent=_times(found["dew"], 100.0),
            dew_hours=found["dew_h"],
            rig_hours=found["rig_h"],
            wet_hours=found["wet_h"],
            dew_kg=found["dew_kg"],
            rig_kg=found["rig_kg"],
            both_kg=found["both_kg"],
            water_l=water,
            fuel_l=fuel * water / raw if raw > 0 else fuel / self.names.size,
            scaled={
                int(year): float(all_ / there)
                for year, all_, there in zip(self.names, asked, known, strict=True)
                if there < all_
            },
            draws=len(self.drawn),
            drawn_nights=max((nights.count for nights in self.drawn), default=0),
        )

    def extremes(self, name: str) -> tuple[float, float]:
        """The lowest and the highest year."""
        total, count = self.sums(name)
        return float((total / count).min()), float((total / count).max())

    @cached_property
    def moved(self) -> list[tuple[Nights, Nights]]:
        """The nights of each draw that count with it and without, as they were and as drawn."""
        pairs = []
        for drawn in self.drawn:
            _, here, there = np.intersect1d(self.kept.evening, drawn.evening, return_indices=True)
            base, new = self.kept.only(here), drawn.only(there)
            both = base.counted & new.counted
            if both.any():
                pairs.append((base.only(both), new.only(both)))
        return pairs

    def doubt(self, name: str, times: float) -> Doubt:
        """How far the draws move the mean of the nights that were drawn."""
        moved = [
            float((self.values(new, name) - self.values(base, name)).mean())
            for base, new in self.moved
        ]
        if len(moved) < len(self.drawn) or not moved:
            return Doubt()
        low, high = np.quantile(moved, DOUBT_LEVELS)
        return Doubt(times * min(float(low), 0.0), times * max(float(high), 0.0))


def _times(found: Estimate, factor: float) -> Estimate:
    """An estimate in another unit."""

    def scaled(value: float | None) -> float | None:
        return None if value is None else factor * value

    years, doubt = found.range, found.doubt
    return Estimate(
        Range(factor * years.value, scaled(years.low), scaled(years.high)),
        Doubt(scaled(doubt.low), scaled(doubt.high)),
        factor * found.lowest,
        factor * found.highest,
    )


def month_weights(nights: Nights, year: NDArray[np.int64], years: int) -> Floats:
    """How often each night counts in the amounts of each year, (years, nights).

    A month of which some nights are not known is scaled up by those that are; a
    month of which hardly any is known takes the mean of that month in the other
    years, or, where no year has it, counts for nothing.

    Parameters
    ----------
    nights, year, years
        Of a site; place of the year of each; number of years.
    """
    weight = np.zeros((years, nights.count))
    for month in np.unique(nights.month).tolist():
        inside = nights.month == month
        own = np.stack([inside & nights.known & (year == place) for place in range(years)])
        asked = np.array([(inside & (year == place)).sum() for place in range(years)])
        rich = own.sum(axis=1) >= np.minimum(FEWEST_KNOWN, asked)
        every = own[rich].any(axis=0)
        for place in range(years):
            taken = own[place] if rich[place] and own[place].any() else every
            if taken.any():
                weight[place, taken] += asked[place] / taken.sum()
    return weight
