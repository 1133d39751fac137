"""Running the compiled loop: built once, kept on disk, split over threads."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any

import numba

from hayweather.weather.record import Booleans
from hayweather.windrow.compiled.hours import follow_of
from hayweather.windrow.compiled.pack import empty_found, pack, state_from
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.compiled.shared import OPTIONS, Function
from hayweather.windrow.forcing import Forcing
from hayweather.windrow.layers import State
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.trajectory import FLUX_NAMES, QUARTERS, STATE_NAMES, WindrowTrajectory

_ONE_AT_A_TIME = Lock()


def follow_lanes(
    forcing: Forcing,
    windrow: WindrowParameters,
    equilibrium: Mapping[int, State],
    may_start: Booleans | None,
    starts: Mapping[int, State],
    steps_per_hour: int,
    threads: int = 1,
) -> WindrowTrajectory:
    """The run of `hayweather.windrow.run.run`, by the compiled loop.

    Parameters
    ----------
    forcing, windrow
        Weather at the field, and the windrow.
    equilibrium, may_start
        States in equilibrium by hour, and which lanes may start in them.
    starts
        States given by hour.
    steps_per_hour
        A multiple of 4.
    threads
        Lanes are split over as many.
    """
    hours, lanes = forcing.rain_mm.shape
    given = pack(forcing, windrow, equilibrium, may_start, starts, steps_per_hour)
    found = empty_found(hours, lanes, QUARTERS)
    follow = compiled_loop()
    share = -(-lanes // (threads * WIDTH)) * WIDTH
    parts = [(begin, min(begin + share, lanes)) for begin in range(0, lanes, max(share, 1))]
    if len(parts) < 2:
        follow(given, found, 0, lanes)
    else:
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(lambda part: follow(given, found, *part), parts))
    return WindrowTrajectory(
        start=forcing.start,
        **dict(zip(STATE_NAMES, found.states, strict=True)),
        **dict(zip(FLUX_NAMES, (*found.sums, found.ledger, found.started), strict=True)),
        assumed=forcing.assumed,
        final=state_from(found.final),
    )


def compiled_loop() -> Function:
    """The loop, compiled for this machine at its first call; kept on disk where that can be."""
    with _ONE_AT_A_TIME:
        return _build()


@cache
def _build() -> Function:
    """The loop, once in a process."""
    follow = follow_of(_fingerprint())
    options: dict[str, Any] = {"nogil": True, **OPTIONS}
    try:
        return numba.njit(cache=True, **options)(follow)
    except RuntimeError:  # no place for the cache can be written
        return numba.njit(**options)(follow)


def _fingerprint() -> str:
    """Of every source that the loop is compiled from."""
    windrow = Path(__file__).parents[1]
    found = hashlib.sha256()
    for path in sorted((*windrow.glob("*.py"), *Path(__file__).parent.glob("*.py"))):
        found.update(path.read_bytes())
    return found.hexdigest()
