"""A run's weather, windrow and starts as the arrays that the compiled loop reads."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.compiled import rows as at
from hayweather.windrow.compiled.hours import Found, Given
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.exchange import FULL_DB, FULL_ODDS
from hayweather.windrow.forcing import Forcing
from hayweather.windrow.layers import State
from hayweather.windrow.parameters import WindrowParameters

Indices = NDArray[np.int64]


def pack(
    forcing: Forcing,
    windrow: WindrowParameters,
    equilibrium: Mapping[int, State],
    may_start: Booleans | None,
    starts: Mapping[int, State],
    steps_per_hour: int,
) -> Any:
    """The `Given` of a run.

    Parameters
    ----------
    forcing, windrow
        Weather at the field, and the windrow.
    equilibrium
        ``{hour: state}`` in equilibrium with the air, of hours in which some lane
        may start.
    may_start
        Which lanes may, (hours, lanes); None is none.
    starts
        ``{hour: state}`` given.
    steps_per_hour
        Steps of an hour.
    """
    hours, lanes = forcing.rain_mm.shape
    chosen = np.array(sorted(equilibrium), dtype=np.int64)
    marks = np.zeros((0, lanes), dtype=bool) if may_start is None else may_start[chosen]
    return Given(
        _parameters(forcing, windrow, steps_per_hour),
        *(
            _plain(values)
            for values in (
                forcing.temperature_c,
                forcing.dew_point_c,
                forcing.wind_2m_m_s,
                forcing.pressure_kpa,
                forcing.cloud_start,
                forcing.cloud_end,
                forcing.shortwave_w_m2,
                forcing.rain_mm,
            )
        ),
        _places(equilibrium, hours),
        np.ascontiguousarray(marks),
        _stacked([_three(equilibrium[hour]) for hour in sorted(equilibrium)], 3, lanes),
        _places(starts, hours),
        _stacked([_whole(starts[hour], lanes) for hour in sorted(starts)], at.STATE_ROWS, lanes),
        _middles(steps_per_hour),
    )


def empty_found(hours: int, lanes: int, quarters: int) -> Any:
    """The `Found` of a run, to be filled.

    Parameters
    ----------
    hours, lanes
        Of the run.
    quarters
        Of an hour.
    """
    return Found(
        np.full((7, quarters * hours + 1, lanes), np.nan),
        np.empty((at.SUM_ROWS, hours, lanes)),
        np.empty((hours, lanes)),
        np.zeros((hours, lanes), dtype=bool),
        np.empty((at.STATE_ROWS, lanes)),
    )


def state_from(rows: Floats) -> State:
    """A state from its rows, (STATE_ROWS, lanes)."""
    lanes = rows.shape[1]
    return State(rows[:6].reshape(3, 2, lanes), rows[6:9], rows[9:12], rows[12], rows[13])


def _plain(values: Floats) -> Floats:
    """The values in one piece, as the compiled loop was made for."""
    return np.ascontiguousarray(values, dtype=np.float64)


def _places(chosen: Mapping[int, State], hours: int) -> Indices:
    """Where the states of an hour stand among those given; -1 for none."""
    found = np.full(hours, -1, dtype=np.int64)
    inside = [hour for hour in sorted(chosen) if 0 <= hour < hours]
    found[inside] = [sorted(chosen).index(hour) for hour in inside]
    return found


def _stacked(states: list[Floats], rows: int, lanes: int) -> Floats:
    """States one after the other, (states, rows, lanes)."""
    return np.stack(states) if states else np.zeros((0, rows, lanes))


def _three(state: State) -> Floats:
    """Leaf, stem and humidity of a state that is the same in all layers."""
    return np.stack([state.moisture_db[0, 0], state.moisture_db[0, 1], state.humidity[0]])


def _whole(state: State, lanes: int) -> Floats:
    """All numbers of a state, (STATE_ROWS, lanes)."""
    rows = (
        np.broadcast_to(state.moisture_db, (3, 2, lanes)).reshape(6, lanes),
        np.broadcast_to(state.film_kg_m2, (3, lanes)),
        np.broadcast_to(state.humidity, (3, lanes)),
        np.broadcast_to(state.skin_c, (1, lanes)),
        np.broadcast_to(state.interior_c, (1, lanes)),
    )
    return _plain(np.concatenate(rows))


def _middles(steps: int) -> Floats:
    """Middle of each step [s after the hour's start], as the sky's functions count it."""
    starts = np.round(np.arange(steps) * 3600 / steps)
    return np.asarray(starts + round(1800 / steps), dtype=np.float64)


def _parameters(forcing: Forcing, windrow: WindrowParameters, steps: int) -> Floats:
    """The windrow's numbers for every lane, (PARAMETER_ROWS, lanes)."""
    lanes = forcing.rain_mm.shape[1]
    found = np.zeros((at.PARAMETER_ROWS, lanes))
    mass = np.broadcast_to(windrow.organ_mass(), (3, 2, lanes)).reshape(6, lanes)
    values = {at.MASS + number * WIDTH: row for number, row in enumerate(mass)}
    values |= _hay(windrow, steps) | _surroundings(windrow, steps)
    values |= {
        at.LATITUDE: np.asarray(forcing.place.latitude),
        at.LONGITUDE: np.asarray(forcing.place.longitude),
        at.START: forcing.start.astype("datetime64[s]").astype(np.float64),
    }
    for row, value in values.items():
        found[(row - at.PARAMETERS) // WIDTH] = value
    return found


def _hay(windrow: WindrowParameters, steps: int) -> dict[int, Floats]:
    """What leaf and stem read, by row."""
    found: dict[int, Floats] = {}
    times = (windrow.leaf_time_h, windrow.stem_time_h)
    for organ, (curve, hours) in enumerate(zip((windrow.leaf, windrow.stem), times, strict=True)):
        power, wetting = 1 / np.asarray(curve.exponent), np.asarray(curve.wetting)
        rows = {
            at.EXPONENT: np.asarray(curve.exponent),
            at.AMOUNT: np.asarray(curve.amount),
            at.POWER: power,
            at.WETTING_ODDS: wetting**-power,
            at.FULL_SHARE: wetting * FULL_ODDS ** (1 / power),
            at.FULL_MOST: FULL_DB[0, organ, 0],
            at.RATE: 1 / steps / np.asarray(hours),
        }
        found |= {row + organ * WIDTH: np.asarray(value) for row, value in rows.items()}
    return found


def _surroundings(windrow: WindrowParameters, steps: int) -> dict[int, Floats]:
    """What air, ground and free water read, by row."""
    kept = {
        at.KEPT_HALF: np.exp(-0.5 / steps / np.asarray(windrow.interior_time_h)),
        at.KEPT_WHOLE: np.exp(-1 / steps / np.asarray(windrow.interior_time_h)),
        at.LEAF_SOAK: -np.expm1(-1 / steps / np.asarray(windrow.film_leaf_time_h)),
        at.STEM_SOAK: -np.expm1(-1 / steps / np.asarray(windrow.film_stem_time_h)),
        at.DRIP: -np.expm1(-1 / steps / np.asarray(windrow.drip_time_h)),
    }
    plain = {
        at.SKY_VIEW: windrow.sky_view,
        at.ALBEDO: windrow.albedo,
        at.EMISSIVITY: windrow.emissivity,
        at.AIR_RESISTANCE: windrow.air_resistance_s,
        at.NIGHT_CAP: windrow.night_cap,
        at.AIR_RESISTANCE_MOST: windrow.air_resistance_max_s_m,
        at.LAYER_RESISTANCE: windrow.layer_resistance_s_m,
        at.CONDUCTION: windrow.conduction_w_m2_k,
        at.GROUND_RESISTANCE: windrow.ground_resistance_s_m,
        at.GROUND_HUMIDITY: windrow.ground_humidity,
    }
    return kept | {row: np.asarray(value) for row, value in plain.items()}
