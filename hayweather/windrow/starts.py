"""Which lanes start in an hour, from what state; which are known; in how many steps they go."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.column import LAYERS, Column, State
from hayweather.windrow.forcing import EVERY_LANE, Forcing, Lanes
from hayweather.windrow.hay import FULL_LEAF_DB, FULL_STEM_DB
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air
from hayweather.windrow.sorption import dry_basis, equilibrium_moisture
from hayweather.windrow.vapor import saturation_vapor_pressure


def equilibrium_state(
    temperature_c: Floats,
    dew_point_c: Floats,
    windrow: WindrowParameters,
    layers: int = LAYERS,
) -> State:
    """The windrow on its drying branch in equilibrium with air, (lanes,), no free water."""
    vapor = saturation_vapor_pressure(dew_point_c)
    humidity = vapor / saturation_vapor_pressure(temperature_c)
    leaf, stem = (
        np.minimum(equilibrium_moisture(humidity, temperature_c, curve), full)
        for curve, full in ((windrow.leaf, FULL_LEAF_DB), (windrow.stem, FULL_STEM_DB))
    )
    return state_of(leaf, stem, temperature_c, humidity, layers)


def moisture_state(
    leaf_wb: float | Floats,
    stem_wb: float | Floats,
    temperature_c: Floats,
    dew_point_c: Floats,
    layers: int = LAYERS,
) -> State:
    """A windrow of given leaf and stem moisture [% wet basis] in air, (lanes,).

    Parameters
    ----------
    leaf_wb, stem_wb
        Moisture of all layers [% wet basis], a number or (lanes,).
    temperature_c, dew_point_c
        Of the air at that time, (lanes,); the hay starts at air temperature.
    layers
        Of the column.
    """
    vapor = saturation_vapor_pressure(dew_point_c)
    humidity = vapor / saturation_vapor_pressure(temperature_c)
    return state_of(dry_basis(leaf_wb), dry_basis(stem_wb), temperature_c, humidity, layers)


def state_of(
    leaf_db: Floats,
    stem_db: Floats,
    temperature_c: Floats,
    humidity: Floats,
    layers: int = LAYERS,
) -> State:
    """The same moisture and temperature in all layers, no free water; each (lanes,)."""
    lanes = temperature_c.shape[0]
    organs = np.stack([np.broadcast_to(leaf_db, lanes), np.broadcast_to(stem_db, lanes)])
    moisture = np.repeat(organs[:, None, :], layers, axis=1) + 0 * temperature_c
    each = np.zeros((layers, lanes))
    return State(
        moisture, 0 * (each + humidity), each + humidity, each + temperature_c,
        0 * (each + temperature_c),
    )  # fmt: skip


def start_lanes(
    state: State,
    hour: int,
    forcing: Forcing,
    windrow: WindrowParameters,
    starts: Mapping[int, State] | None,
    equilibrium_starts: Booleans | None,
) -> tuple[State, Booleans]:
    """The state with the lanes that begin at this hour, and which those are."""
    fresh = np.zeros(state.lanes, dtype=bool)
    temperature, dew_point = forcing.temperature_c[hour], forcing.dew_point_c[hour]
    layers = state.film_kg_m2.shape[0]
    if equilibrium_starts is not None and equilibrium_starts[hour].any():
        unknown = np.isnan(state.temperature_c[0])
        begins = equilibrium_starts[hour] & unknown & np.isfinite(dew_point)
        state = where_lanes(
            begins, equilibrium_state(temperature, dew_point, windrow, layers), state
        )
        fresh |= begins
    if starts is not None and hour in starts:
        begins = np.isfinite(starts[hour].moisture_db).all(axis=(0, 1))
        state = where_lanes(begins, starts[hour], state)
        fresh |= begins
    return state, fresh


def where_lanes(lanes: Booleans | np.bool_, new: State, old: State) -> State:
    """`new` in the lanes that are True, else `old`."""
    return State(*(np.where(lanes, n, o) for n, o in zip(new, old, strict=True)))


def known_lanes(air: Air) -> Booleans:
    """Lanes whose weather of an hour is known, (lanes,)."""
    known = np.isfinite(air.temperature_c + air.vapor_pressure_kpa + air.wind_2m_m_s)
    return np.asarray((known & np.isfinite(air.rain_mm_h)).all(axis=0))


FINE_STEPS, FEW_STEPS = 12, 4  # of an hour, multiples of four
WET_DB = 0.18  # leaf that moves fast
MOVED_DB = 0.1  # leaf that moves fast where the air's humidity does; drier is far from any limit
"""Chosen by tests/regression/test_step.py."""


def lanes_by_steps(
    state: State, rain_mm: Floats, moving: Booleans, steps_per_hour: int | None
) -> list[tuple[Lanes, int]]:
    """Lanes of an hour, and the steps that each of them goes through it.

    Fine steps where rain falls, water stands free or a leaf is wet, and where the air's
    humidity moves a leaf that is not all dry, in the evening and after sunrise; few where
    nothing happens. A lane's steps hang on that lane alone.

    Parameters
    ----------
    state, rain_mm, moving
        At the start of the hour; of the hour, (lanes,), as `Forcing.moving` has it.
    steps_per_hour
        The same number for every lane; None for as many as each needs.
    """
    if steps_per_hour is not None:
        return [(EVERY_LANE, steps_per_hour)]
    wettest = state.moisture_db[0].max(axis=0)
    fine = (rain_mm > 0) | (state.film_kg_m2 > 0).any(axis=0) | (wettest > WET_DB)
    fine |= moving & (wettest > MOVED_DB)
    if fine.all() or not fine.any():
        return [(EVERY_LANE, FINE_STEPS if fine.all() else FEW_STEPS)]
    return [(np.flatnonzero(~fine), FEW_STEPS), (np.flatnonzero(fine), FINE_STEPS)]


def column_of_lanes(column: Column, lanes: Lanes) -> Column:
    """The column of some of its lanes."""
    if isinstance(lanes, slice):
        return column
    named = {
        name: value.take(lanes, axis=-1) if np.ndim(value) and np.shape(value)[-1] > 1 else value
        for name, value in column._asdict().items()
        if name != "shares"
    }
    return column._replace(**named)


def state_of_lanes(state: State, lanes: Lanes) -> State:
    """The state of some lanes, each row of them in a row of memory, as `take` leaves it."""
    if isinstance(lanes, slice):
        return State(*(values[..., lanes] for values in state))
    return State(*(values.take(lanes, axis=-1) for values in state))
