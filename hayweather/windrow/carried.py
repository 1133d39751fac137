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

import numpy as np

from hayweather.weather.record import Floats, HourlyWeather

STREAM = 2**42
"""Sets the draws of a station's own errors apart from those of the weather."""
CALM_M_S = 0.1
"""Below it wind counts as this much where its logarithm is taken."""


@dataclass(frozen=True)
class Drift:
    """How errors of a forecast's column follow each other.

    Attributes
    ----------
    memory
        Correlation from one hour to the next [-].
    sizes
        Standard deviation in each hour of the weather, in the column's unit, of wind of
        the logarithm, (hours,).
    """

    memory: float
    sizes: Floats


@dataclass(frozen=True)
class Shown:
    """What a station shows of one column.

    Attributes
    ----------
    at
        When, hours after the first hour of the weather, rising, (n,).
    values
        Measured, in the column's unit, of wind the logarithm, (n,).
    lasting, passing
        Standard errors of the station: the same at all times, and new at each.
    exact
        Whether it stands in the field: lane 0 then has its whole hours as measured.
    """

    at: Floats
    values: Floats
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


def shares(shown: Shown, drift: Drift) -> Floats:
    """What every hour takes of each difference, (hours, n).

    Parameters
    ----------
    shown
        Of one column.
    drift
        Of the forecast's errors, for every hour of the weather.
    """
    at, hour = shown.at, np.arange(drift.sizes.size, dtype=np.float64)
    then = np.interp(at, hour, drift.sizes)
    if not then.all():
        return np.zeros((hour.size, at.size))
    seen = np.outer(then, then) * drift.memory ** np.abs(at[:, None] - at[None, :])
    seen += shown.lasting**2 + np.diag(np.maximum(shown.passing, 1e-3 * then) ** 2)
    to = np.outer(drift.sizes, then) * drift.memory ** np.abs(hour[:, None] - at[None, :])
    return np.asarray(np.linalg.solve(seen, to.T).T)


def conditioned(
    weather: HourlyWeather, measured: Measured, drifts: Mapping[str, Drift], seed: int
) -> HourlyWeather:
    """Members under the condition of what was measured; lane 0 carries the differences on.

    Parameters
    ----------
    weather
        Members, lane 0 the forecast.
    measured
        By the station.
    drifts
        Of the errors that the members were drawn with, by column.
    seed
        Of the station's own errors.
    """
    columns = dict(weather.columns)
    for place, (name, drift) in enumerate(drifts.items()):
        shown = measured.get(name)
        if shown is None or not shown.at.size or name not in columns:
            continue
        random = np.random.default_rng([seed, STREAM, place])
        lasting = shown.lasting * random.standard_normal(weather.lanes)
        passing = shown.passing * random.standard_normal((shown.at.size, weather.lanes))
        noise = lasting + passing
        noise[:, 0] = 0.0
        lanes = scaled(columns[name], name)
        told = shown.values[:, None] + noise - _at(lanes, shown.at)
        found = lanes + shares(shown, drift) @ told
        if shown.exact:
            whole = shown.at == np.round(shown.at)
            rows = shown.at[whole].astype(np.int64)
            found[rows, 0] = shown.values[whole]
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
