"""How good chances and calls were, beside what happened: plain numbers, no names of fields."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.weather.record import Booleans, Floats

BINS = 5


@dataclass(frozen=True)
class Bin:
    """Hours of which the same was said.

    Attributes
    ----------
    low, high
        Chances from `low` to below `high` [-].
    hours
        How many.
    said, happened
        Mean chance, and how often it came true [-]; NaN without hours.
    """

    low: float
    high: float
    hours: int
    said: float
    happened: float


@dataclass(frozen=True)
class Counts:
    """Hours by what was said and what happened.

    Attributes
    ----------
    hits, misses, false_alarms, quiet
        Said and happened; not said but happened; said but not happened; neither.
    """

    hits: int
    misses: int
    false_alarms: int
    quiet: int

    @classmethod
    def of(cls, said: Booleans, happened: Booleans) -> Counts:
        """Count two arrays of one shape.

        Examples
        --------
        >>> Counts.of(np.array([True, True, False]), np.array([True, False, True]))
        Counts(hits=1, misses=1, false_alarms=1, quiet=0)
        """
        return cls(
            int((said & happened).sum()),
            int((~said & happened).sum()),
            int((said & ~happened).sum()),
            int((~said & ~happened).sum()),
        )

    @property
    def hours(self) -> int:
        """All hours."""
        return self.hits + self.misses + self.false_alarms + self.quiet

    @property
    def wrong(self) -> int:
        """Hours in which it was wrong, either way."""
        return self.misses + self.false_alarms


def brier(chance: Floats, happened: Floats) -> float:
    """Brier score: mean square of chance less outcome (Brier 1950); 0 is best, NaN without hours.

    Parameters
    ----------
    chance
        Said [-].
    happened
        1 or 0, or the part of the hour in which it was so.

    Examples
    --------
    >>> round(brier(np.array([0.9, 0.2]), np.array([1.0, 0.0])), 4)
    0.025
    """
    return float(((chance - happened) ** 2).mean()) if chance.size else float("nan")


def reliability(chance: Floats, happened: Floats, bins: int = BINS) -> list[Bin]:
    """Of hours with about the same chance, how often it came true.

    Parameters
    ----------
    chance, happened
        Of the same hours, as in `brier`.
    bins
        Equal parts of 0 to 1; a chance of 1 belongs to the last.

    Examples
    --------
    >>> table = reliability(np.array([0.1, 0.1, 1.0]), np.array([0.0, 1.0, 1.0]), bins=2)
    >>> [(each.hours, each.happened) for each in table]
    [(2, 0.5), (1, 1.0)]
    """
    index = np.minimum((chance * bins).astype(np.int64), bins - 1)
    return [_bin(index == number, chance, happened, number, bins) for number in range(bins)]


def _bin(inside: Booleans, chance: Floats, happened: Floats, number: int, bins: int) -> Bin:
    """The hours of one bin."""
    count = int(inside.sum())
    said = float(chance[inside].mean()) if count else float("nan")
    came = float(happened[inside].mean()) if count else float("nan")
    return Bin(number / bins, (number + 1) / bins, count, said, came)
