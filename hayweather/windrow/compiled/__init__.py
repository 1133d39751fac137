"""The windrow's steps compiled with numba: the same step, lane by lane in machine code.

Loaded only when asked for; needs the extra ``fast``. NumPy completes the hours and says
which lanes begin; weather of a step, steps and what is shown of them are compiled.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.column import FINER, Column, State, overturned
from hayweather.windrow.forcing import Forcing
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.trajectory import layer_weights
from hayweather.windrow.vapor import Real, in_precision

if TYPE_CHECKING:
    from hayweather.windrow.run import Record

_ONE_AT_A_TIME = Lock()


def follow_lanes(
    forcing: Forcing,
    windrow: WindrowParameters,
    record: Record,
    starts: Mapping[int, State] | None,
    may_start: Booleans | None,
    steps_per_hour: int | None,
    threads: int = 1,
    single: bool = False,
) -> State:
    """The run of `hayweather.windrow.run.run` by the compiled loop; fills `record`.

    Parameters
    ----------
    forcing, windrow
        Weather at the field, and the windrow.
    record
        To be filled.
    starts, may_start
        As `run` takes them.
    steps_per_hour
        A multiple of 4; None as in `run`.
    threads
        Lanes are split over as many.
    single
        Steps in single precision.

    Returns
    -------
    final
        State at the end.
    """
    from hayweather.windrow.compiled.steps import STATE_ROWS, width_of
    from hayweather.windrow.starts import lanes_by_steps, start_lanes

    column, lanes = record.column, forcing.rain_mm.shape[1]
    layers, wide = column.shares.size, width_of(single)
    follow = compiled_steps(layers, single)
    real: Real = np.float32 if single else np.float64
    packed = in_precision(np.full((STATE_ROWS, layers, lanes), np.nan), real)
    state, every = State(packed[:2], *packed[2:]), np.arange(lanes)
    # In one order of memory: numba compiles anew for every other.
    given, hours = (
        [np.ascontiguousarray(in_precision(values, real)) for values in part]
        for part in (_given(column, lanes), _hours(forcing))
    )
    ends, means = hours
    under, lost = layer_weights(column.shares, "bottom"), ~forcing.known
    shown = (under, record.every_state, record.layers, record.every_flux)
    with ThreadPoolExecutor(threads) as pool:

        def through(hour: int, chosen: NDArray[np.int64], count: int) -> None:
            """Some lanes through all steps of an hour."""
            sun = forcing.sun_shapes(hour, count, chosen)
            seconds = 3600 / count
            spins = (overturned(seconds), overturned(seconds / FINER))
            work = (packed, *given, ends, means, *sun, *shown, hour, chosen, spins)
            share = max(-(-chosen.size // (threads * wide)) * wide, 1)
            cuts = [
                (first, min(first + share, chosen.size)) for first in range(0, chosen.size, share)
            ]
            if len(cuts) == 1:  # no other thread to wait for
                follow(*work, *cuts[0])
            else:
                list(pool.map(lambda cut: follow(*work, *cut), cuts))

        for hour in range(forcing.hours):
            begun, fresh = start_lanes(state, hour, forcing, windrow, starts, may_start)
            if fresh.any():
                packed[:2], packed[2:] = begun.moisture_db, begun[1:]
            record.start(hour, state, fresh)
            now = (state, forcing.rain_mm[hour], forcing.moving[hour])
            for chosen, count in lanes_by_steps(*now, steps_per_hour):
                through(hour, every[chosen], count)
            if lost[hour].any():
                gone, rows = lost[hour], slice(4 * hour + 1, 4 * hour + 5)
                packed[..., gone] = np.nan
                record.every_state[:, rows, gone] = np.nan
                below = slice(*(max(row - record.before, 0) for row in (rows.start, rows.stop)))
                record.layers[:, below, :, gone] = np.nan
                record.every_flux[:, hour, gone] = np.nan
    return state


def _hours(forcing: Forcing) -> tuple[Floats, Floats]:
    """Instants at both ends of every hour, (2, ENDS, hours, lanes), and sun and rain in it."""
    from hayweather.windrow.compiled.steps import ENDS

    cloud = (forcing.cloud_start, forcing.cloud_end)
    ends = np.empty((2, len(ENDS), *forcing.rain_mm.shape))
    for place, name in enumerate(ENDS):
        for end in range(2):
            values = None if name == "cloud" else getattr(forcing, name)
            ends[end, place] = cloud[end] if values is None else values[end:][: forcing.hours]
    return ends, np.stack([forcing.shortwave_w_m2, forcing.rain_mm])


def _given(column: Column, lanes: int) -> tuple[Floats, Floats]:
    """The column's numbers for every lane: of its layers, and of the whole."""
    from hayweather.windrow.compiled.steps import LANE_GIVEN, LAYER_GIVEN, ORGAN_GIVEN

    layers = column.shares.size
    named = column._asdict() | dict(zip(("leaf", "stem"), column.organ_mass, strict=True))
    named["shares"] = column.shares[:, None]
    given = [np.broadcast_to(named[name], (layers, lanes)) for name in LAYER_GIVEN]
    numbers = [np.broadcast_to(part[0], lanes) for name in ORGAN_GIVEN for part in named[name]]
    numbers += [np.broadcast_to(named[name], lanes) for name in LANE_GIVEN]
    return np.stack(given), np.stack(numbers)


def compiled_steps(layers: int, single: bool = False) -> Any:
    """The steps, compiled for this machine at the first call; kept on disk where that can be."""
    with _ONE_AT_A_TIME:
        return _build(layers, single)


@cache
def _build(layers: int, single: bool) -> Any:
    """The steps, once in a process."""
    import numba

    from hayweather.windrow.compiled.shared import OPTIONS
    from hayweather.windrow.compiled.steps import steps_of

    follow = steps_of(layers, fingerprint(), single)
    options: dict[str, Any] = {"nogil": True, **OPTIONS}
    try:
        return numba.njit(cache=True, **options)(follow)
    except RuntimeError:  # no place for the cache can be written
        return numba.njit(**options)(follow)


def fingerprint() -> str:
    """Of every source that the steps are compiled from."""
    here = Path(__file__).parent
    found = hashlib.sha256()
    for path in sorted((*here.parent.glob("*.py"), *here.glob("*.py"))):
        found.update(path.read_bytes())
    return found.hexdigest()
