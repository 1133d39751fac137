"""The windrow's steps compiled with numba: the same step, lane by lane in machine code.

Loaded only when asked for; needs the extra ``fast``. The weather of an hour is
made ready by NumPy for all lanes, its steps go through the compiled loop.
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

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.column import Column, Fluxes, State
from hayweather.windrow.forcing import Forcing, Lanes
from hayweather.windrow.lanes import unknown_state
from hayweather.windrow.parameters import WindrowParameters

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

    Returns
    -------
    final
        State at the end.
    """
    from hayweather.windrow.compiled.steps import WIDTH
    from hayweather.windrow.starts import known_lanes, lanes_by_steps, start_lanes, state_of_lanes

    column, lanes = record.column, forcing.rain_mm.shape[1]
    layers = column.shares.size
    given, numbers = _given(column, lanes)
    follow = compiled_steps(layers)
    state = unknown_state(lanes, layers)
    with ThreadPoolExecutor(threads) as pool:

        def through(hour: int, chosen: Lanes, count: int) -> tuple[Floats, Floats, Floats]:
            """States and top humidity at the quarters, and the sums, of some lanes."""
            air = forcing.steps(hour, count, chosen)
            packed = np.stack([np.broadcast_to(values, air[0].shape) for values in air])
            size = packed.shape[-1]
            kept, tops = np.empty((4, 6, layers, size)), np.empty((4, size))
            sums = np.empty((len(Fluxes._fields), size))
            part = state_of_lanes(state, chosen)
            now = np.concatenate([part.moisture_db, np.stack(part[1:])])
            # One layout of memory, so that one build serves all.
            mine = (np.ascontiguousarray(each[..., chosen]) for each in (given, numbers))
            work = (
                np.ascontiguousarray(now),
                *mine,
                np.ascontiguousarray(packed),
                kept,
                tops,
                sums,
            )
            share = max(-(-size // (threads * WIDTH)) * WIDTH, 1)
            cuts = [(first, min(first + share, size)) for first in range(0, size, share)]
            if len(cuts) == 1:  # no other thread to wait for
                follow(*work, *cuts[0])
            else:
                list(pool.map(lambda cut: follow(*work, *cut), cuts))
            known = known_lanes(air)
            if not known.all():
                kept[..., ~known], tops[:, ~known], sums[:, ~known] = np.nan, np.nan, np.nan
            return kept, tops, sums

        for hour in range(forcing.hours):
            state, fresh = start_lanes(state, hour, forcing, windrow, starts, may_start)
            record.start(hour, state, fresh)
            kept, tops = np.empty((4, 6, layers, lanes)), np.empty((4, lanes))
            for chosen, count in lanes_by_steps(state, forcing.rain_mm[hour], steps_per_hour):
                kept[..., chosen], tops[:, chosen], sums = through(hour, chosen, count)
                record.add(hour, Fluxes(*sums), chosen)
            for quarter in range(4):
                state = State(kept[quarter, :2], *kept[quarter, 2:])
                record.keep(4 * hour + quarter + 1, state)
                record.states["skin_humidity"][record.row] = tops[quarter]
    return state


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


def compiled_steps(layers: int) -> Any:
    """The steps, compiled for this machine at the first call; kept on disk where that can be."""
    with _ONE_AT_A_TIME:
        return _build(layers)


@cache
def _build(layers: int) -> Any:
    """The steps, once in a process."""
    import numba

    from hayweather.windrow.compiled.shared import OPTIONS
    from hayweather.windrow.compiled.steps import steps_of

    follow = steps_of(layers, fingerprint())
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
