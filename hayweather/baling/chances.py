"""Chances: how many of the members agree, hour by hour and window by window."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hayweather.baling.calls import Call, QuarterCalls
from hayweather.baling.windows import Window, runs
from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.readings import weighted_quantile
from hayweather.windrow.trajectory import QUARTER, QUARTERS

TIMED_FROM_CHANCE = 0.2  # a window less likely than this is too uncertain to time
RANGE_LEVELS = (0.1, 0.9)


def quarter_chances(quarters: QuarterCalls, weights: Floats) -> Floats:
    """Chance of each call in every quarter, (6, 4 * hours), in the order of `Call`.

    Members without data in a quarter do not count there; where no member has
    data the chance of "no data" is 1.
    """
    count = len(Call)
    chances = np.stack([(quarters.call == call) @ weights for call in range(count)])
    known = chances[1:].sum(axis=0)
    shares = np.where(known > 0, chances / np.where(known > 0, known, 1.0), 0.0)
    shares[Call.NO_DATA] = np.where(known > 0, 0.0, 1.0)
    return shares


def hour_chances(chances: Floats) -> list[dict[Call, float]]:
    """Chance of each call in every hour: the mean of its quarters; each sums to 1."""
    hours = chances.reshape(len(Call), -1, QUARTERS).mean(axis=2)
    return [{call: float(hours[call, hour]) for call in Call} for hour in range(hours.shape[1])]


def with_chance(
    window: Window,
    start: np.datetime64,
    quarters: QuarterCalls,
    stopped: Booleans,
    weights: Floats,
) -> Window:
    """A window with its chance, and the range of its start and end.

    A member has the window where one of its own runs of that call shares a
    quarter with it; of several, the one that shares most. The ranges are of the
    members that have it, eight in ten; none where the chance is below 0.2.

    Parameters
    ----------
    window
        As shown.
    start
        UTC start of the first quarter.
    quarters, stopped
        Calls and stops of all lanes, (4 * hours, lanes).
    weights
        Of the lanes, sum 1.
    """
    first = int((window.start - start) / QUARTER)
    past = int((window.end - start) / QUARTER)
    ready = (quarters.call == window.call) & ~stopped
    begins = np.full(weights.size, np.nan)
    ends = np.full(weights.size, np.nan)
    for lane in np.flatnonzero(weights > 0):
        own = matching_run(ready[:, lane], first, past)
        if own is not None:
            begins[lane], ends[lane] = own
    chance = float(weights[np.isfinite(begins)].sum())
    if chance < TIMED_FROM_CHANCE:
        return replace(window, chance=chance)
    return replace(
        window,
        chance=chance,
        start_range=_range(begins, weights, start),
        end_range=_range(ends, weights, start),
    )


def matching_run(ready: Booleans, first: int, past: int) -> tuple[int, int] | None:
    """The run of True in `ready` that shares most with ``first`` to ``past - 1``."""
    if not ready[first:past].any():
        return None
    shared = {run: min(run[1], past) - max(run[0], first) for run in runs(ready)}
    return max(shared, key=lambda run: shared[run])


def _range(
    rows: Floats, weights: Floats, start: np.datetime64
) -> tuple[np.datetime64, np.datetime64]:
    """Eight in ten of the rows, as UTC times on quarter hours, outward."""
    low, high = weighted_quantile(rows, weights, RANGE_LEVELS)
    return start + int(np.floor(low)) * QUARTER, start + int(np.ceil(high)) * QUARTER
