"""The hay by depth: shares that are soft enough or too wet, and what a rig's water does there.

Layers are numbered from the top and come first in every array; what a layer
holds is known at its middle. Between middles a straight line is drawn, and on to
top and bottom, so that a share never jumps from step to step.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.weather.record import Floats


def middles_of(shares: Floats) -> Floats:
    """Depth of each layer's middle as a share of the dry matter above it, (layers,).

    Parameters
    ----------
    shares
        Part of the dry matter in each layer from the top, (layers,), sum 1.

    Examples
    --------
    >>> middles_of(np.array([0.2, 0.3, 0.5])).round(3).tolist()
    [0.1, 0.35, 0.75]
    """
    return np.cumsum(shares) - np.asarray(shares) / 2


def share_above(values: Floats, limit: float | Floats, shares: Floats) -> Floats:
    """Share of the dry matter at which a quantity is at or above a limit, 0 to 1.

    Parameters
    ----------
    values
        The quantity in each layer, (layers, ...); NaN where unknown.
    limit
        A number, or an array of the shape of one layer.
    shares
        Part of the dry matter in each layer from the top, (layers,).

    Returns
    -------
    ndarray
        Of the shape of one layer; NaN where a layer is unknown.

    Examples
    --------
    >>> shares = np.array([0.5, 0.5])
    >>> float(share_above(np.array([20.0, 10.0]), 15.0, shares))
    0.5
    >>> float(share_above(np.array([20.0, 16.0]), 15.0, shares))
    0.875
    """
    middle = middles_of(shares)
    over = np.asarray(values, dtype=np.float64) - limit
    if over.shape[0] == 1:
        return np.where(np.isnan(over[0]), np.nan, (over[0] >= 0).astype(np.float64))
    steepness = np.diff(over, axis=0) / np.diff(middle).reshape(-1, *(1,) * (over.ndim - 1))
    top = over[:1] - steepness[:1] * middle[0]
    bottom = over[-1:] + steepness[-1:] * (1 - middle[-1])
    nodes = np.concatenate([top, over, bottom])
    length = np.diff(np.concatenate([[0.0], middle, [1.0]]))
    first, last = nodes[:-1], nodes[1:]
    high, low = np.maximum(first, last), np.minimum(first, last)
    spread = high - low
    with np.errstate(invalid="ignore", divide="ignore"):
        crossing = np.where(spread > 0, high / spread, (high >= 0).astype(np.float64))
    part = np.where(np.isnan(over).any(axis=0), np.nan, np.clip(crossing, 0.0, 1.0))
    return np.clip(np.tensordot(length, part, axes=1), 0.0, 1.0)


@dataclass(frozen=True)
class Layers:
    """The windrow by layer at some times, moistures per dry matter.

    Attributes
    ----------
    leaf_db, stem_db
        [kg/kg], (layers, ...).
    film_db
        Free water of each layer per dry matter of that layer [kg/kg], (layers, ...).
    shares
        Part of the dry matter in each layer from the top, (layers,).
    leaf_share
        Part of the dry matter that is leaf [-].
    """

    leaf_db: Floats
    stem_db: Floats
    film_db: Floats
    shares: Floats
    leaf_share: float

    @property
    def whole_db(self) -> Floats:
        """All water of each layer per dry matter, free water counted, (layers, ...)."""
        return self.leaf_share * self.leaf_db + (1 - self.leaf_share) * self.stem_db + self.film_db

    @property
    def mean_db(self) -> Floats:
        """All water of the windrow per dry matter."""
        return np.tensordot(self.shares, self.whole_db, axes=1)

    def soft_share(self, leaf_minimum_wb: float | None) -> Floats:
        """Share of the leaf at or above the leaf minimum; 1 for a crop without one.

        Parameters
        ----------
        leaf_minimum_wb
            [% wet basis]; None for a crop whose leaf does not shatter.
        """
        if leaf_minimum_wb is None:
            return np.where(np.isnan(self.leaf_db).any(axis=0), np.nan, 1.0)
        limit = leaf_minimum_wb / (100 - leaf_minimum_wb)
        return share_above(self.leaf_db, limit, self.shares)

    def wet_share(self, ceiling_wb: float) -> Floats:
        """Share of the hay above the bale's ceiling, free water counted.

        Parameters
        ----------
        ceiling_wb
            [% wet basis].
        """
        return share_above(self.whole_db, ceiling_wb / (100 - ceiling_wb), self.shares)

    def sprayed(self, kept_db: Floats, leaf_share: float, top_share: float) -> Layers:
        """The windrow after a rig's water, before it has spread.

        The upper half of the dry matter takes `top_share` of the water and the
        lower half the rest; within each half it lies evenly.

        Parameters
        ----------
        kept_db
            Water that stays, per dry matter of the windrow [kg/kg], of the shape
            of one layer.
        leaf_share
            Part of it that the leaf takes.
        top_share
            Part of it that falls on the upper half.
        """
        dense = _half_density(self.shares, top_share).reshape(-1, *(1,) * np.ndim(kept_db))
        gain = dense * kept_db
        return Layers(
            self.leaf_db + gain * leaf_share / self.leaf_share,
            self.stem_db + gain * (1 - leaf_share) / (1 - self.leaf_share),
            self.film_db,
            self.shares,
            self.leaf_share,
        )


def _half_density(shares: Floats, top_share: float) -> Floats:
    """Water per dry matter of each layer beside the windrow's mean, (layers,)."""
    below = np.cumsum(shares)
    upper = np.clip(0.5 - (below - shares), 0.0, shares) / shares
    return 2 * (top_share * upper + (1 - top_share) * (1 - upper))
