"""The loop over hours: weather and a start in, a trajectory out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Literal

import numpy as np

from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.compiled import has_compiled_loop
from hayweather.windrow.exchange import FULL_DB
from hayweather.windrow.forcing import Forcing, Place, prepare
from hayweather.windrow.lanes import unknown_state
from hayweather.windrow.layers import Fluxes, State, step
from hayweather.windrow.parameters import LAYER_SHARES, WindrowParameters
from hayweather.windrow.skin import Air
from hayweather.windrow.sorption import dry_basis, equilibrium_moisture
from hayweather.windrow.trajectory import QUARTERS, STATE_NAMES, WindrowTrajectory
from hayweather.windrow.vapor import saturation_vapor_pressure

STEPS_PER_HOUR = 12  # a multiple of four; chosen by tests/regression/test_step.py
LARGE_RUN = 50_000  # lanes times hours; below it NumPy is done before numba is loaded
Loop = Literal["auto", "numpy", "compiled"]
_FLUXES = ("dew", "internal", "from_air", "from_ground", "rain_caught", "runoff")


def run(
    weather: HourlyWeather,
    place: Place,
    windrow: WindrowParameters,
    starts: Mapping[int, State] | None = None,
    equilibrium_starts: Booleans | None = None,
    steps_per_hour: int = STEPS_PER_HOUR,
    loop: Loop = "auto",
    threads: int = 1,
) -> WindrowTrajectory:
    """Follow the windrow through all hours of `weather`, every lane at once.

    A lane is unknown (NaN) until it starts, and again from the first missing
    needed value until it starts anew.

    Parameters
    ----------
    weather
        Hourly weather, (hours, lanes).
    place
        Where the windrow lies.
    windrow
        Its parameters.
    starts
        ``{hour: state}``: a state given for the start of an hour; lanes of it
        that are NaN keep what they had.
    equilibrium_starts
        True where a lane that is unknown may start in equilibrium with the air
        at the start of that hour, (hours, lanes).
    steps_per_hour
        A multiple of 4.
    loop
        "numpy", or "compiled" (needs the extra ``fast``); the results agree to
        1e-9. "auto" takes the compiled one for large runs where numba is there.
    threads
        Of the compiled loop.

    Raises
    ------
    ValueError
        If `steps_per_hour` is not a multiple of 4.
    ImportError
        If the compiled loop is asked for and numba is not there.
    """
    if steps_per_hour % QUARTERS:
        raise ValueError(f"steps_per_hour must be a multiple of 4, not {steps_per_hour}")
    forcing = prepare(weather, place)
    if loop == "compiled" or (loop == "auto" and _worth_compiling(weather)):
        return _run_compiled(forcing, windrow, starts, equilibrium_starts, steps_per_hour, threads)
    state = unknown_state(weather.lanes)
    record = _Record(weather, windrow)
    for hour in range(weather.hours):
        state, fresh = _start(state, hour, forcing, windrow, starts, equilibrium_starts)
        record.start(hour, state, fresh)
        state = _run_hour(state, hour, forcing, windrow, steps_per_hour, record, fresh)
    return record.trajectory(forcing, state)


def _worth_compiling(weather: HourlyWeather) -> bool:
    """True where a run is long enough to pay for loading the compiled loop."""
    return weather.hours * weather.lanes >= LARGE_RUN and has_compiled_loop()


def _run_compiled(
    forcing: Forcing,
    windrow: WindrowParameters,
    starts: Mapping[int, State] | None,
    equilibrium_starts: Booleans | None,
    steps_per_hour: int,
    threads: int,
) -> WindrowTrajectory:
    """The same run by the compiled loop, which is loaded only now."""
    from hayweather.windrow.compiled.run import follow_lanes

    marks = np.zeros((0, 0), dtype=bool) if equilibrium_starts is None else equilibrium_starts
    equilibrium = {
        int(hour): equilibrium_state(
            forcing.temperature_c[hour], forcing.dew_point_c[hour], windrow
        )
        for hour in np.flatnonzero(marks.any(axis=1))
    }
    given = starts or {}
    return follow_lanes(
        forcing, windrow, equilibrium, equilibrium_starts, given, steps_per_hour, threads
    )


def equilibrium_state(
    temperature_c: Floats, dew_point_c: Floats, windrow: WindrowParameters
) -> State:
    """The windrow on its drying branch in equilibrium with air, (lanes,), no free water."""
    vapor = saturation_vapor_pressure(dew_point_c)
    humidity = vapor / saturation_vapor_pressure(temperature_c)
    leaf, stem = (
        np.minimum(equilibrium_moisture(humidity, temperature_c, curve), full)
        for curve, full in zip((windrow.leaf, windrow.stem), FULL_DB[0, :, 0], strict=True)
    )
    return state_of(leaf, stem, temperature_c, humidity)


def moisture_state(
    leaf_wb: float | Floats,
    stem_wb: float | Floats,
    temperature_c: Floats,
    dew_point_c: Floats,
) -> State:
    """A windrow of given leaf and stem moisture [% wet basis] in air, (lanes,).

    Parameters
    ----------
    leaf_wb, stem_wb
        Moisture of all three layers [% wet basis], a number or (lanes,).
    temperature_c, dew_point_c
        Of the air at that time, (lanes,); the skin starts at air temperature.
    """
    vapor = saturation_vapor_pressure(dew_point_c)
    humidity = vapor / saturation_vapor_pressure(temperature_c)
    return state_of(dry_basis(leaf_wb), dry_basis(stem_wb), temperature_c, humidity)


def state_of(leaf_db: Floats, stem_db: Floats, temperature_c: Floats, humidity: Floats) -> State:
    """The same moisture and temperature in all layers, no free water; each (lanes,)."""
    lanes = temperature_c.shape[0]
    organs = np.stack([np.broadcast_to(leaf_db, lanes), np.broadcast_to(stem_db, lanes)])
    moisture = np.broadcast_to(organs, (3, 2, lanes)) + 0 * temperature_c
    layers = np.broadcast_to(humidity, (3, lanes))
    return State(moisture, 0 * layers, layers + 0, temperature_c, temperature_c)


def _start(
    state: State,
    hour: int,
    forcing: Forcing,
    windrow: WindrowParameters,
    starts: Mapping[int, State] | None,
    equilibrium_starts: Booleans | None,
) -> tuple[State, Booleans]:
    """The state with the lanes that begin at this hour, and which those are."""
    fresh = np.zeros(state.skin_c.shape, dtype=bool)
    temperature, dew_point = forcing.temperature_c[hour], forcing.dew_point_c[hour]
    if equilibrium_starts is not None and equilibrium_starts[hour].any():
        begins = equilibrium_starts[hour] & np.isnan(state.skin_c) & np.isfinite(dew_point)
        state = _where(begins, equilibrium_state(temperature, dew_point, windrow), state)
        fresh |= begins
    if starts is not None and hour in starts:
        begins = np.isfinite(starts[hour].moisture_db).all(axis=(0, 1))
        state = _where(begins, starts[hour], state)
        fresh |= begins
    return state, fresh


def _where(lanes: Booleans | np.bool_, new: State, old: State) -> State:
    """`new` in the lanes that are True, else `old`."""
    pairs = {
        item.name: np.where(lanes, getattr(new, item.name), getattr(old, item.name))
        for item in fields(State)
    }
    return State(**pairs)


def _run_hour(
    state: State,
    hour: int,
    forcing: Forcing,
    windrow: WindrowParameters,
    count: int,
    record: _Record,
    fresh: Booleans,
) -> State:
    """The steps of one hour; unknown weather makes its lanes unknown."""
    air = forcing.steps(hour, count)
    known = np.isfinite(air.temperature_c + air.vapor_pressure_kpa + air.wind_2m_m_s)
    known &= np.isfinite(air.rain_mm_h)
    gap = None if known.all() else ~known.all(axis=0)
    for index in range(count):
        now = Air(*(getattr(air, item.name)[index] for item in fields(Air)))
        before = state
        state, moved = step(state, now, windrow, record.mass, 3600 / count)
        if gap is not None:
            state = _where(gap, unknown_state(state.skin_c.size), state)
        record.add(hour, before, state, moved)
        if (index + 1) * QUARTERS % count == 0:
            record.keep(QUARTERS * hour + (index + 1) * QUARTERS // count, state, moved)
    return state


class _Record:
    """Arrays that a run fills, then hands over as a trajectory."""

    def __init__(self, weather: HourlyWeather, windrow: WindrowParameters) -> None:
        hours, lanes = weather.hours, weather.lanes
        self.begin = weather.start
        self.mass = windrow.organ_mass()
        self.layer_mass = self.mass.sum(axis=1)
        boundary = (QUARTERS * hours + 1, lanes)
        self.states = {name: np.full(boundary, np.nan) for name in STATE_NAMES}
        self.sums = {name: np.zeros((hours, lanes)) for name in _FLUXES}
        self.ledger = np.zeros((hours, lanes))
        self.started = np.zeros((hours, lanes), dtype=bool)

    def start(self, hour: int, state: State, fresh: Booleans) -> None:
        """Note the lanes that began at this hour."""
        self.started[hour] = fresh
        if hour == 0 or fresh.any():
            row = QUARTERS * hour
            for name, values in self._summary(state).items():
                self.states[name][row] = np.where(
                    fresh | (hour == 0), values, self.states[name][row]
                )

    def keep(self, row: int, state: State, moved: Fluxes) -> None:
        """Keep the state at a quarter-hour boundary."""
        for name, values in self._summary(state).items():
            self.states[name][row] = values
        self.states["skin_humidity"][row] = moved.skin_humidity

    def add(self, hour: int, before: State, after: State, moved: Fluxes) -> None:
        """Add the water that moved in a step, and check the ledger."""
        for name in _FLUXES:
            self.sums[name][hour] += getattr(moved, name)
        net = moved.from_air + moved.from_ground + moved.rain_caught - moved.runoff
        error = np.abs(after.water(self.mass) - before.water(self.mass) - net)
        self.ledger[hour] = np.maximum(self.ledger[hour], error)

    def trajectory(self, forcing: Forcing, final: State) -> WindrowTrajectory:
        """What was recorded."""
        unknown = np.isnan(self.ledger)
        sums = {f"{name}_mm": np.where(unknown, np.nan, self.sums[name]) for name in _FLUXES}
        return WindrowTrajectory(
            start=self.begin,
            **self.states,
            **sums,
            ledger_kg_m2=self.ledger,
            started=self.started,
            assumed=forcing.assumed,
            final=final,
        )

    def _summary(self, state: State) -> dict[str, Floats]:
        """Means over layers of one state."""
        shares = np.array(LAYER_SHARES)
        leaf, stem = np.tensordot(shares, state.moisture_db, axes=1)
        free = state.film_kg_m2.sum(axis=0)
        bottom_mass = self.mass[2]
        bottom = (state.moisture_db[2] * bottom_mass).sum(axis=0) / bottom_mass.sum(axis=0)
        return {
            "leaf_db": leaf,
            "stem_db": stem,
            "windrow_db": state.water(self.mass) / self.layer_mass.sum(axis=0),
            "bottom_db": bottom,
            "free_water_mm": free,
            "skin_temperature_c": state.skin_c,
        }
