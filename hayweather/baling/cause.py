"""Cause: what brought the water that the hay has gained since it was driest."""

from __future__ import annotations

from enum import IntEnum
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Floats
from hayweather.windrow.trajectory import QUARTERS, WindrowTrajectory

SINCE_QUARTERS = 24 * QUARTERS  # the driest moment is looked for so far back


class Cause(IntEnum):
    """What brought most of the water that the hay has gained since it was driest."""

    DRYING = 0
    DEW = 1
    HUMID_AIR = 2
    DAMP_GROUND = 3
    RAIN = 4

    @property
    def word(self) -> str:
        """The word used in data: ``"humid air"``."""
        return self.name.lower().replace("_", " ")


def causes_of(trajectory: WindrowTrajectory, first: int = 0) -> NDArray[np.int8]:
    """`Cause` of every quarter from hour `first` on, (quarters, lanes).

    By the water ledger of the last 24 hours: dew counts with what condensed, humid air
    with what else the air has brought on balance; water that has dried off again is
    taken from the dew last.
    """
    sources = {
        Cause.DEW: trajectory.dew_mm,
        Cause.HUMID_AIR: trajectory.from_air_mm - trajectory.dew_mm,
        Cause.DAMP_GROUND: trajectory.from_ground_mm,
        Cause.RAIN: trajectory.rain_caught_mm - trajectory.runoff_mm,
    }
    return cause_of(trajectory.windrow_db, sources, SINCE_QUARTERS, QUARTERS * first)


LEAST_GAIN_DB = 0.002
"""A gain since the driest moment below this is no gain: the hay still dries [kg/kg] (assumed)."""


def cause_of(
    water_db: Floats, sources: dict[Cause, Floats], since: int, first: int = 0
) -> NDArray[np.int8]:
    """What brought the water that the hay holds above its driest moment, (quarters, lanes).

    Parameters
    ----------
    water_db
        All water of the windrow at quarter boundaries [kg/kg], (quarters + 1, lanes).
    sources
        Water that each source brought in equal times, net and in one unit, evenly within
        each, (hours or quarters, lanes); every cause but drying.
    since
        How many quarters back the driest moment is looked for.
    first
        Quarter from which on causes are told, with which such a time begins.

    Returns
    -------
    ndarray
        `Cause` of the middle of each quarter; drying where nothing was gained.
    """
    quarters, lanes = water_db.shape[0] - 1, water_db.shape[1]
    driest = _driest_row(water_db, since)[first:]
    place = driest * lanes + np.arange(lanes)
    now = (water_db[first:-1] + water_db[first + 1 :]) / 2
    order = (Cause.DEW, Cause.HUMID_AIR, Cause.DAMP_GROUND, Cause.RAIN)
    gains = []
    for cause in order:
        brought = np.nan_to_num(sources[cause])
        each = quarters // brought.shape[0]
        before = np.cumsum(brought, axis=0) - brought
        # What had come in by the beginning and by the middle of every quarter.
        begun = before[:, None] + brought[:, None] * (np.arange(each) / each)[:, None]
        middle = (begun[first // each :] + brought[first // each :, None] / (2 * each)).reshape(
            driest.shape
        )
        gains.append(middle - begun.reshape(-1).take(place))
    dew, humid, ground, rain = gains
    condensed = np.minimum(dew, np.maximum(dew + humid, 0.0))
    gained = (condensed, dew + humid - condensed, ground, rain)
    most = reduce(np.maximum, gained)
    best = np.zeros(most.shape, dtype=np.int8)
    for cause, gain in zip(reversed(order), reversed(gained), strict=True):
        np.copyto(best, np.int8(cause), where=gain == most)
    none = ~(now - water_db.take(place) >= LEAST_GAIN_DB) | (most <= 0)
    np.copyto(best, np.int8(Cause.DRYING), where=none)
    return best


def _driest_row(water_db: Floats, since: int) -> NDArray[np.int64]:
    """Row of the driest boundary among the last `since` up to each quarter, (quarters, lanes)."""
    quarters, lanes = water_db.shape[0] - 1, water_db.shape[1]
    found = np.zeros((quarters, lanes), dtype=np.int64)
    filled = np.where(np.isnan(water_db), np.inf, water_db)
    best, least = np.zeros(lanes, dtype=np.int64), filled[0].copy()
    for row in range(quarters):
        first = max(row - since, 0)
        # What lies too far back is looked for anew, else one comparison is enough.
        stale = best < first
        if stale.any():
            window = filled[first : row + 1][:, stale]
            best[stale] = first + window.shape[0] - 1 - window[::-1].argmin(axis=0)
            least[stale] = window.min(axis=0)
        np.copyto(best, row, where=filled[row] <= least)
        np.minimum(least, filled[row], out=least)
        found[row] = best
    return found
