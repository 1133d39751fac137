"""Plain rules that a forecast has to beat, on the same hours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.weather.record import Booleans, Floats

LOWEST_PERCENT, HIGHEST_PERCENT, STEP_PERCENT = 30, 100, 5


@dataclass(frozen=True)
class HumidityBand:
    """Air humidity [%] from `low` to below `high` in which the rule bales."""

    low: float
    high: float

    def says(self, humidity: Floats) -> Booleans:
        """Where the rule bales; nowhere where the humidity is not known."""
        return np.asarray((humidity >= self.low) & (humidity < self.high))


def never(happened: Booleans) -> Booleans:
    """Never bale."""
    return np.zeros_like(happened)


def best_band(humidity: Floats, dew: Booleans) -> HumidityBand:
    """The band of air humidity with the fewest wrong hours, in steps of 5 %.

    Of several equally good ones that with the lowest bottom, then the lowest top.

    Parameters
    ----------
    humidity
        Of the air [%], one dimension.
    dew
        True in hours on natural dew, the same hours.

    Examples
    --------
    >>> best_band(np.array([50.0, 72.0, 78.0, 96.0]), np.array([False, True, True, False]))
    HumidityBand(low=55.0, high=80.0)
    """
    edges = np.arange(LOWEST_PERCENT, HIGHEST_PERCENT + STEP_PERCENT + 1, STEP_PERCENT)
    found = np.clip(np.digitize(humidity, edges) - 1, -1, edges.size - 2)
    inside = (found >= 0) & np.isfinite(humidity)
    gain = np.bincount(
        found[inside], weights=np.where(dew[inside], 1.0, -1.0), minlength=edges.size - 1
    )
    total = np.concatenate([[0.0], np.cumsum(gain)])
    worth = total[None, :] - total[:, None]
    worth[np.tril_indices(edges.size)] = -np.inf
    low, high = np.unravel_index(int(worth.argmax()), worth.shape)
    return HumidityBand(float(edges[low]), float(edges[high]))


def band_of_other_months(humidity: Floats, dew: Booleans, month: np.ndarray) -> Booleans | None:
    """Where the best band says to bale, each month by the band fitted on the others.

    None where all hours lie in one month.

    Parameters
    ----------
    humidity, dew
        As in `best_band`.
    month
        Of each hour: any number that tells months apart.
    """
    months = np.unique(month)
    if months.size < 2:
        return None
    said = np.zeros(dew.shape, dtype=bool)
    for number in months:
        here = month == number
        said[here] = best_band(humidity[~here], dew[~here]).says(humidity[here])
    return said
