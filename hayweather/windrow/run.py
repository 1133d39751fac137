"""The loop over hours: weather and a start in, a trajectory out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from importlib.util import find_spec
from typing import Literal

import numpy as np

from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.column import (
    LAYERS,
    Column,
    Fluxes,
    State,
    column_of,
    skin_temperature,
    step,
)
from hayweather.windrow.forcing import Forcing, Lanes, Place, prepare
from hayweather.windrow.lanes import unknown_state
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air
from hayweather.windrow.starts import (
    column_of_lanes,
    known_lanes,
    lanes_by_steps,
    start_lanes,
    state_of_lanes,
)
from hayweather.windrow.trajectory import (
    FLUX_NAMES,
    QUARTERS,
    STATE_NAMES,
    Layers,
    WindrowTrajectory,
    layer_weights,
)
from hayweather.windrow.vapor import Real, in_precision

LARGE_RUN = 50_000  # lanes times hours; below it NumPy is done before numba is loaded
_STAYS = False


def process_stays() -> None:
    """This process runs many nights: what is compiled once serves runs of every size."""
    global _STAYS
    _STAYS = True


# The C library of Linux hands memory back to the system and asks for it again in every step,
# a quarter of the run's time, until it has once freed a large block (mallopt(3), M_MMAP_THRESHOLD).
KEPT_BY_THE_PROCESS = 2_000_000
Loop = Literal["auto", "numpy", "compiled"]
_SUMS = Fluxes._fields[:6]


def run(
    weather: HourlyWeather,
    place: Place,
    windrow: WindrowParameters,
    starts: Mapping[int, State] | None = None,
    equilibrium_starts: Booleans | None = None,
    steps_per_hour: int | None = None,
    loop: Loop = "auto",
    threads: int = 1,
    layers: int = LAYERS,
    keep_layers: bool = True,
    layers_from: int = 0,
    single: bool = False,
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
        A multiple of 4 for every hour; None takes as many as the hay
        of each lane asks (`hayweather.windrow.starts.lanes_by_steps`).
    loop
        "numpy", or "compiled" (needs the extra ``fast``); the results agree to
        1e-9. "auto" takes the compiled one for large runs where numba is there.
    threads
        Of the compiled loop.
    layers
        Of the column; states given have as many.
    keep_layers
        False leaves every layer's course out, to spare memory.
    layers_from
        Hour from whose start on the layers' course is kept; of what goes before, the
        spin-up, only the means are.
    single
        Steps in single precision, half the work: moisture moves by less than 0.001 point.

    Raises
    ------
    ValueError
        If `steps_per_hour` is not a multiple of 4.
    ImportError
        If the compiled loop is asked for and numba is not there.
    """
    if steps_per_hour is not None and (steps_per_hour < QUARTERS or steps_per_hour % QUARTERS):
        raise ValueError(f"steps_per_hour must be a multiple of 4, not {steps_per_hour}")
    forcing = prepare(weather, place, windrow)
    real: Real = np.float32 if single else np.float64
    record = Record(
        weather.hours, column_of(windrow, layers), weather.lanes, keep_layers, layers_from, real
    )
    if loop == "compiled" or (loop == "auto" and _worth_compiling(weather)):
        from hayweather.windrow.compiled import follow_lanes

        final = follow_lanes(
            forcing, windrow, record, starts, equilibrium_starts, steps_per_hour, threads, single
        )
        return record.trajectory(forcing, windrow, final)
    np.empty(KEPT_BY_THE_PROCESS)
    of_steps = forcing.in_single() if single else forcing
    record.column = Column(*(in_precision(values, real) for values in record.column))
    state = unknown_state(weather.lanes, layers)
    for hour in range(weather.hours):
        state, fresh = start_lanes(state, hour, forcing, windrow, starts, equilibrium_starts)
        state = State(*(in_precision(values, real) for values in state))
        record.start(hour, state, fresh)
        parts = lanes_by_steps(state, forcing.rain_mm[hour], forcing.moving[hour], steps_per_hour)
        state = _run_hour(state, hour, of_steps, parts, record)
    return record.trajectory(forcing, windrow, state)


def _worth_compiling(weather: HourlyWeather) -> bool:
    """True where a run is long enough to pay for loading the compiled loop."""
    return (_STAYS or weather.hours * weather.lanes >= LARGE_RUN) and has_compiled_loop()


def has_compiled_loop() -> bool:
    """True where the extra ``fast`` is installed."""
    return find_spec("numba") is not None


def _run_hour(
    state: State, hour: int, forcing: Forcing, parts: Sequence[tuple[Lanes, int]], record: Record
) -> State:
    """The steps of one hour, each part of the lanes in its number; unknown weather ends a lane."""
    ended = State(*(np.empty_like(values) for values in state))
    for lanes, count in parts:
        column, now = column_of_lanes(record.column, lanes), state_of_lanes(state, lanes)
        air = forcing.steps(hour, count, lanes)
        known = known_lanes(air)
        some_unknown, real = not known.all(), now.film_kg_m2.dtype.type
        moved = None
        for index in range(count):
            now, fluxes = step(now, Air(*(values[index] for values in air)), column, 3600 / count)
            if some_unknown:
                now = State(*(np.where(known, values, real(np.nan)) for values in now))
            moved = fluxes if moved is None else moved.then(fluxes)
            if (index + 1) * QUARTERS % count == 0:
                row = QUARTERS * hour + (index + 1) * QUARTERS // count
                record.keep(row, now, column, lanes)
                humid = np.where(known, fluxes.skin_humidity, np.nan)
                record.states["skin_humidity"][row, lanes] = humid
        if moved is not None:
            record.add(hour, moved, lanes)
        for whole, values in zip(ended, now, strict=True):
            whole[..., lanes] = values
    return ended


class Record:
    """Arrays that a run fills, then hands over as a trajectory."""

    def __init__(
        self,
        hours: int,
        column: Column,
        lanes: int,
        keep_layers: bool,
        layers_from: int,
        real: Real,
    ) -> None:
        rows = QUARTERS * hours + 1
        self.column = column
        # One block of memory each, so that the compiled loop takes it whole.
        self.every_state = in_precision(
            np.full((len(STATE_NAMES), rows, lanes), real(np.nan)), real
        )
        self.every_flux = np.zeros((len(FLUX_NAMES) - 1, hours, lanes))
        self.states = dict(zip(STATE_NAMES, self.every_state, strict=True))
        self.fluxes = dict(zip(FLUX_NAMES[:-1], self.every_flux, strict=True))
        self.started = np.zeros((hours, lanes), dtype=bool)
        self.before = QUARTERS * layers_from if keep_layers else rows  # rows without layers
        shape = (4, rows - self.before, column.shares.size, lanes)
        self.layers = np.full(shape, np.nan, dtype=np.float32)

    def start(self, hour: int, state: State, fresh: Booleans) -> None:
        """Note the lanes that began at this hour."""
        self.started[hour] = fresh
        if hour == 0 or fresh.any():
            lanes = np.flatnonzero(fresh | (hour == 0))
            column = column_of_lanes(self.column, lanes)
            self.keep(QUARTERS * hour, state_of_lanes(state, lanes), column, lanes)

    def keep(self, row: int, state: State, column: Column, lanes: Lanes) -> None:
        """Keep the state of some lanes at a quarter-hour boundary; their column with it."""
        for name, values in summary(state, column).items():
            self.states[name][row, lanes] = values
        if row >= self.before:
            film = state.film_kg_m2 / column.layer_mass
            for kept, now in zip(
                self.layers, (*state.moisture_db, film, state.temperature_c), strict=True
            ):
                kept[row - self.before][:, lanes] = now

    def add(self, hour: int, moved: Fluxes, lanes: Lanes) -> None:
        """Keep what moved in an hour in some lanes, and the ledgers' largest errors."""
        for name in _SUMS:
            self.fluxes[f"{name}_mm"][hour, lanes] = getattr(moved, name)
        self.fluxes["ledger_kg_m2"][hour, lanes] = moved.water_error
        self.fluxes["energy_ledger_w_m2"][hour, lanes] = moved.energy_error

    def trajectory(
        self, forcing: Forcing, windrow: WindrowParameters, final: State
    ) -> WindrowTrajectory:
        """What was recorded."""
        unknown = np.isnan(self.fluxes["ledger_kg_m2"])
        for values in self.fluxes.values():
            values[unknown] = np.nan
        layers = None
        if self.layers.size:
            leaf_share = np.atleast_1d(np.asarray(windrow.leaf_share, dtype=np.float64))
            layers = Layers(self.column.shares, leaf_share, *self.layers)
        return WindrowTrajectory(
            start=forcing.start,
            **self.states,
            **self.fluxes,
            started=self.started,
            assumed=forcing.assumed,
            final=final,
            layers=layers,
        )


def summary(state: State, column: Column) -> dict[str, Floats]:
    """Means over layers of one state, each (lanes,)."""
    leaf, stem = (state.moisture_db * column.shares[:, None]).sum(axis=1)
    under = layer_weights(column.shares, "bottom")
    organs = column.organ_mass * under[:, None]
    return {
        "leaf_db": leaf,
        "stem_db": stem,
        "windrow_db": state.water(column.organ_mass) / column.mass,
        "bottom_db": (state.moisture_db * organs).sum(axis=(0, 1)) / organs.sum(axis=(0, 1)),
        "free_water_mm": state.film_kg_m2.sum(axis=0),
        "skin_temperature_c": skin_temperature(state.temperature_c, column.sky),
    }
