"""Members weighed by moisture readings: those that agree count more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from hayweather.weather.record import Floats
from hayweather.windrow.trajectory import QUARTER, Part, WindrowTrajectory

Kind = Literal["windrow", "leaf", "stem", "bale"]
BALE_BEFORE = np.timedelta64(900, "s")  # a bale was picked up over the quarter hour before
METER_ERROR_WB = 1.0  # standard error of a meter reading, points wet basis (assumed)
UNEXPLAINED_ERRORS = 3.0  # further than this from every member a reading is not explained
# Of a member far from a reading, beside 1 for one that meets it: about one reading in sixty
# is a slip of meter or pen (assumed). So one slip never leaves a single member standing.
SLIP_WEIGHT = 1e-3


@dataclass(frozen=True)
class Reading:
    """One moisture reading.

    Attributes
    ----------
    time
        UTC.
    moisture_wb
        As the meter showed it [% wet basis].
    kind
        What was read; a bale is the whole windrow over the quarter hour before.
    error_wb, bias_wb
        Standard error of the meter, and how much it shows too high [points].
    layer
        "top" (15 % of the dry matter), "middle" (35 %) or "bottom" (50 %); None is
        all of the windrow.
    """

    time: np.datetime64
    moisture_wb: float
    kind: Kind = "windrow"
    error_wb: float = METER_ERROR_WB
    bias_wb: float = 0.0
    layer: Part | None = None

    @property
    def true_wb(self) -> float:
        """The reading with the meter's bias taken off [% wet basis]."""
        return self.moisture_wb - self.bias_wb


@dataclass(frozen=True)
class Weights:
    """How much each member counts.

    Attributes
    ----------
    weights
        Sum 1 over members, 0 for lane 0 (the forecast) and unknown lanes,
        (lanes,).
    effective
        Effective number of members, ``1 / sum(w^2)``.
    unexplained
        Readings that no member comes near.
    readings
        All readings that were weighed, these included.
    unused
        Readings of a time at which no member is known.
    """

    weights: Floats
    effective: float
    unexplained: tuple[Reading, ...] = ()
    readings: tuple[Reading, ...] = ()
    unused: tuple[Reading, ...] = ()

    @property
    def members(self) -> int:
        """Number of members that have a weight."""
        return int((self.weights > 0).sum())


def moisture_at(trajectory: WindrowTrajectory, reading: Reading) -> Floats:
    """Moisture of every lane at the time of a reading [% wet basis], (lanes,).

    Linear between quarter hours; NaN outside the run. A bale is the mean of now
    and a quarter hour before.

    Parameters
    ----------
    trajectory
        A run, all its lanes of the same hours; with its layers where the reading
        names one.
    reading
        Its time, kind and layer; its value does not count here.
    """
    kind = "windrow" if reading.kind == "bale" else reading.kind
    series: Floats = (
        getattr(trajectory, f"{kind}_wb")
        if reading.layer is None
        else trajectory.layer_wb(reading.layer, kind)
    )
    now = _at(series, float((reading.time - trajectory.start[0]) / QUARTER))
    if reading.kind != "bale":
        return now
    before = reading.time - BALE_BEFORE - trajectory.start[0]
    return (now + _at(series, float(before / QUARTER))) / 2


def _at(series: Floats, row: float) -> Floats:
    """A series at a quarter hour between its rows, (lanes,)."""
    if not 0 <= row <= series.shape[0] - 1:
        return np.full(series.shape[1], np.nan)
    low = min(int(row), series.shape[0] - 2)
    part = row - low
    return np.asarray(series[low] * (1 - part) + series[low + 1] * part)


def weigh(trajectory: WindrowTrajectory, readings: Sequence[Reading] = ()) -> Weights:
    """Weights of the members of one field, normal errors of the meter with rare slips.

    Parameters
    ----------
    trajectory
        Lane 0 is the forecast, the others members.
    readings
        None: every known member counts the same.
    """
    known = np.asarray(np.isfinite(trajectory.windrow_wb).any(axis=0))
    known[0] = False
    weights = known.astype(np.float64)
    unexplained, unused = [], []
    for reading in readings:
        off = (moisture_at(trajectory, reading) - reading.true_wb) / reading.error_wb
        if not np.isfinite(off[1:]).any():
            unused.append(reading)
            continue
        if not np.any(np.abs(off[1:]) <= UNEXPLAINED_ERRORS):
            unexplained.append(reading)
        weights = weights * np.where(np.isfinite(off), np.exp(-0.5 * off**2) + SLIP_WEIGHT, 0.0)
        if weights.any():
            weights = weights / weights.sum()
    weighed = tuple(reading for reading in readings if reading not in unused)
    told = (tuple(unexplained), weighed, tuple(unused))
    if not weights.any():
        return Weights(weights, 0.0, *told)
    weights = weights / weights.sum()
    return Weights(weights, float(1 / (weights**2).sum()), *told)


def weighted_quantile(values: Floats, weights: Floats, levels: Sequence[float]) -> Floats:
    """Quantiles of values (n,) with weights (n,); NaN values do not count.

    Parameters
    ----------
    values, weights
        (n,) each; weights of zero do not count.
    levels
        Shares between 0 and 1.

    Examples
    --------
    >>> weighted_quantile(np.array([3.0, 1.0, 2.0]), np.ones(3), [0.5]).tolist()
    [2.0]
    """
    counted = np.isfinite(values) & (weights > 0)
    if not counted.any():
        return np.full(len(levels), np.nan)
    order = np.argsort(values[counted])
    ordered, shares = values[counted][order], weights[counted][order]
    middle = (np.cumsum(shares) - shares / 2) / shares.sum()
    return np.interp(levels, middle, ordered)
