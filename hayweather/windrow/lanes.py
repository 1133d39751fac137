"""Lanes put side by side: several windrows, or many weathers, in one run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, is_dataclass, replace
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike

from hayweather.weather.record import HourlyWeather
from hayweather.windrow.column import LAYERS, State

Record = TypeVar("Record")


def repeat_weather(weather: HourlyWeather, lanes: ArrayLike) -> HourlyWeather:
    """The weather with the lanes named, in that order; a lane may be named more than once.

    Parameters
    ----------
    weather
        Of one lane or more.
    lanes
        Numbers of the lanes to take.
    """
    index = np.asarray(lanes)
    return replace(
        weather,
        start=weather.start[index],
        columns={name: values.take(index, axis=1) for name, values in weather.columns.items()},
        repaired=weather.repaired.take(index, axis=1),
        basis=weather.basis.take(index, axis=1),
    )


def stack_parameters(records: Sequence[Record], counts: Sequence[int]) -> Record:
    """Records of numbers as one, each for `counts` lanes; numbers may be arrays already.

    Works on any frozen record whose values are numbers, arrays (lanes,) or such
    records: `WindrowParameters`, `Place`.

    Parameters
    ----------
    records
        One a group of lanes, all of one class.
    counts
        Lanes of each group.
    """
    first = records[0]
    joined = {}
    for item in fields(first):  # type: ignore[arg-type]
        values = [getattr(record, item.name) for record in records]
        if is_dataclass(values[0]):
            joined[item.name] = stack_parameters(values, counts)
        elif all(np.array_equal(value, values[0], equal_nan=True) for value in values):
            joined[item.name] = _each(values, counts) if np.ndim(values[0]) else values[0]
        else:
            joined[item.name] = _each(values, counts)
    return replace(first, **joined)  # type: ignore[type-var]


def lane_of(record: Record, lane: int) -> Record:
    """One lane of a record of numbers; a number for all lanes stays."""
    picked: dict[str, object] = {}
    for item in fields(record):  # type: ignore[arg-type]
        value = getattr(record, item.name)
        if is_dataclass(value):
            picked[item.name] = lane_of(value, lane)
        else:
            picked[item.name] = float(value[lane]) if np.ndim(value) else value
    return replace(record, **picked)  # type: ignore[type-var]


def _each(values: Sequence[object], counts: Sequence[int]) -> object:
    """Every value for its lanes, in one array."""
    pairs = zip(values, counts, strict=True)
    return np.concatenate([np.broadcast_to(np.asarray(value), (count,)) for value, count in pairs])


def stack_states(states: Sequence[State | None], counts: Sequence[int]) -> State:
    """States side by side; None is "nothing known" in its lanes.

    Parameters
    ----------
    states
        One a group of lanes, all of the same layers.
    counts
        Lanes of each group, for those that are None.
    """
    layers = next((state.film_kg_m2.shape[0] for state in states if state is not None), LAYERS)
    parts = [
        unknown_state(count, layers) if state is None else state
        for state, count in zip(states, counts, strict=True)
    ]
    return State(*(np.concatenate(values, axis=-1) for values in zip(*parts, strict=True)))


def unknown_state(lanes: int, layers: int = LAYERS) -> State:
    """A state of which nothing is known."""
    layer = np.full((layers, lanes), np.nan)
    return State(np.full((2, layers, lanes), np.nan), layer, layer, layer, layer)
