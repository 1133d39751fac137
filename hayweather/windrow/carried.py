"""Measured air carried on: how far a forecast was off says how far it will be.

Errors of a forecast follow each other (size and memory: `hayweather.windrow.spread`); a
station shows them with errors of its own. What the two say of any hour is a normal
distribution of all hours under the condition of those measured, and every member is brought
under it by Matheron's rule: it keeps its own draw where nothing was measured, comes as near
the measured as the station is sure, and goes back to its own as the memory fades.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from hayweather.weather.record import Floats, HourlyWeather

if TYPE_CHECKING:
    from hayweather.windrow.spread import HourlyError

STREAM = 2**42
"""Sets the draws of a station's own errors apart from those of the weather."""
CALM_M_S = 0.1
"""Below it wind counts as this much where its logarithm is taken."""


@dataclass(frozen=True)
class Shown:
    """How far a station shows the forecast of one column to be off.

    Attributes
    ----------
    at
        When, hours after the first hour of the weather, rising, (n,).
    off
        Measured less forecast, in the column's unit, of wind the logarithm, (n,).
    lasting, passing
        Standard errors of the station: the same at all times, and new at each.
    exact
        Whether it stands in the field: lane 0 then has its whole hours as measured.
    """

    at: Floats
    off: Floats
    lasting: float
    passing: float
    exact: bool = True


Measured = Mapping[str, Shown]
"""What a station shows, by column of the weather."""


def scaled(values: Floats, name: str) -> Floats:
    """Values of a column on the scale of its errors: of wind the logarithm."""
    if name != "wind_speed_m_s":
        return values
    return np.asarray(np.log(np.maximum(values, CALM_M_S)))


def shares(shown: Shown, error: HourlyError, hours: int) -> Floats:
    """What every hour takes of each difference, (hours, n).

    Parameters
    ----------
    shown
        Of one column.
    error
        Size and memory of the forecast's errors.
    hours
        Of the weather.
    """
    at, hour = shown.at, np.arange(hours, dtype=np.float64)
    variance = error.size**2
    if not variance:
        return np.zeros((hours, at.size))
    seen = variance * error.memory ** np.abs(at[:, None] - at[None, :])
    seen += shown.lasting**2 + max(shown.passing, 1e-3 * error.size) ** 2 * np.eye(at.size)
    to = variance * error.memory ** np.abs(hour[:, None] - at[None, :])
    return np.asarray(np.linalg.solve(seen, to.T).T)


def conditioned(
    weather: HourlyWeather, measured: Measured, errors: Mapping[str, HourlyError], seed: int
) -> HourlyWeather:
    """Members under the condition of what was measured; lane 0 carries the differences on.

    Parameters
    ----------
    weather
        Members, lane 0 the forecast that the differences are from.
    measured
        By the station.
    errors
        That the members were drawn with, by column.
    seed
        Of the station's own errors.
    """
    columns = dict(weather.columns)
    for place, (name, error) in enumerate(errors.items()):
        shown = measured.get(name)
        if shown is None or not shown.at.size or name not in columns:
            continue
        random = np.random.default_rng([seed, STREAM, place])
        lasting = shown.lasting * random.standard_normal(weather.lanes)
        passing = shown.passing * random.standard_normal((shown.at.size, weather.lanes))
        noise = lasting + passing
        noise[:, 0] = 0.0
        lanes = scaled(columns[name], name)
        own = lanes - lanes[:, :1]
        told = shown.off[:, None] + noise - _at(own, shown.at)
        found = lanes + shares(shown, error, weather.hours) @ told
        if shown.exact:
            whole = shown.at == np.round(shown.at)
            rows = shown.at[whole].astype(np.int64)
            found[rows, 0] = lanes[rows, 0] + shown.off[whole]
        columns[name] = np.exp(found) if name == "wind_speed_m_s" else found
    if "cloud_fraction" in columns:
        columns["cloud_fraction"] = np.clip(columns["cloud_fraction"], 0.0, 1.0)
    air, dew = columns["air_temperature_c"], columns["dew_point_c"]
    columns["dew_point_c"] = np.where(dew > air, air, dew)
    return replace(weather, columns=columns)


def _at(hourly: Floats, at: Floats) -> Floats:
    """Hourly instants at any times, (n, lanes); the last hour holds to its end."""
    row = np.clip(np.floor(at).astype(np.int64), 0, hourly.shape[0] - 1)
    later = np.minimum(row + 1, hourly.shape[0] - 1)
    part = (at - row)[:, None]
    return np.where(part == 0, hourly[row], hourly[row] * (1 - part) + hourly[later] * part)
