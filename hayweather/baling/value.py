"""What leaves and hours are worth: dry matter lost by the baler."""

from __future__ import annotations

import numpy as np

from hayweather.farm.records import BalerKind
from hayweather.weather.record import Floats

# Assumed, from the spread of published baler losses (0.2-1).
LOSS_LEVEL = 0.6
LOSS_BY_KIND: dict[BalerKind, float] = {
    "small-square": 1.0,
    "three-tie": 0.75,
    "large-square": 0.75,
    "round": 1.5,
}


def baling_loss_percent(leaf_wb: float | Floats, kind: BalerKind) -> Floats:
    """Dry matter lost at the baler [%] by leaf moisture [% wet basis], alfalfa.

    ``11.2 exp(-0.0534 m) + 2.5/(1+exp((m-9)/1.2))``, a fit to Pitt 1990 and
    Orloff & Mueller 2008 (from memory), times a level and a factor by kind of
    bale (assumed).

    Parameters
    ----------
    leaf_wb
        Any shape; NaN stays.
    kind
        Of the baler: level and factor are its own (assumed).

    Examples
    --------
    >>> round(float(baling_loss_percent(12.0, "large-square")), 2)
    2.74
    """
    moisture = np.asarray(leaf_wb, dtype=np.float64)
    shatter = 2.5 / (1 + np.exp((moisture - 9) / 1.2))
    return LOSS_LEVEL * LOSS_BY_KIND[kind] * (11.2 * np.exp(-0.0534 * moisture) + shatter)
