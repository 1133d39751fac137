"""A service's forecast runs beside its forecast: further lanes of the same hours."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hayweather.farm.records import Site
from hayweather.weather.record import HOUR, Assumption, Floats, HourlyWeather
from hayweather.weather.services import open_meteo
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.settings import ServiceSettings
from hayweather.words import Remark

OLDEST_RUNS_H = 24.0
"""Stored runs older than this do not serve, as a stored forecast does not (assumed)."""
CARRIED = ("air_temperature_c", "dew_point_c", "wind_speed_m_s", "rain_mm")
"""What every run must bring of its own; anything else it lacks is the forecast's."""


def add_runs(
    forecast: HourlyWeather,
    site: Site,
    settings: ServiceSettings,
    *,
    now: np.datetime64,
    offline: bool = False,
) -> HourlyWeather:
    """The forecast with the service's runs as lanes 1 and on, (hours, 1 + runs).

    Where the runs cannot be had the forecast comes back alone, and says so.

    Parameters
    ----------
    forecast
        One lane.
    site, settings
        The place, and what is set for the services.
    now
        UTC time of the clock on the wall.
    offline
        Use the store alone.
    """
    try:
        runs = open_meteo.fetch_ensemble(site, settings, now=now, offline=offline)
    except ServiceError as failure:
        return _alone(forecast, Remark(f"runs_{failure.family}"))
    if not runs.source.stored or runs.source.fetched is None:
        return with_runs(forecast, runs)
    age_h = float((now - runs.source.fetched) / HOUR)
    if age_h > OLDEST_RUNS_H:
        return _alone(forecast, Remark("runs_old"))
    stored = Assumption("runs_stored", {"hours": f"{age_h:.0f}"})
    return _noted(with_runs(forecast, runs), stored)


def with_runs(forecast: HourlyWeather, runs: HourlyWeather) -> HourlyWeather:
    """Forecast and runs as lanes of one record, on the hours of the forecast.

    An hour that the runs do not cover is NaN in them. A column that they lack
    is the forecast's, but for those of `CARRIED`; one that the forecast lacks
    is left out.

    Parameters
    ----------
    forecast
        One lane.
    runs
        A lane a run, all from the same hour.
    """
    columns = {
        name: np.concatenate([values, _of_runs(name, values, runs, forecast)], axis=1)
        for name, values in forecast.columns.items()
    }
    repaired = _placed(runs.repaired.astype(np.float64), runs, forecast) == 1
    return replace(
        forecast,
        start=np.full(1 + runs.lanes, forecast.start[0]),
        columns=columns,
        repaired=np.concatenate([forecast.repaired, repaired], axis=1),
        basis=np.repeat(forecast.basis, 1 + runs.lanes, axis=1),
        assumed=_together(forecast.assumed, runs.assumed),
    )


def _of_runs(
    name: str, forecast_values: Floats, runs: HourlyWeather, forecast: HourlyWeather
) -> Floats:
    """A column of the runs on the hours of the forecast, (hours, runs)."""
    values = runs.get(name)
    if values is not None:
        return _placed(values, runs, forecast)
    shape = (forecast.hours, runs.lanes)
    return np.full(shape, np.nan) if name in CARRIED else np.broadcast_to(forecast_values, shape)


def _placed(values: Floats, runs: HourlyWeather, forecast: HourlyWeather) -> Floats:
    """Hours of the runs where the forecast has them; NaN elsewhere."""
    placed = np.full((forecast.hours, runs.lanes), np.nan)
    shift = int((runs.start[0] - forecast.start[0]) / HOUR)
    first, past = max(shift, 0), min(shift + runs.hours, forecast.hours)
    if first < past:
        placed[first:past] = values[first - shift : past - shift]
    return placed


def _together(
    notes: tuple[Assumption, ...], more: tuple[Assumption, ...]
) -> tuple[Assumption, ...]:
    """Notes of the forecast, then those of the runs that it has not; age is told elsewhere."""
    known = {note.key for note in notes}
    new = [n for n in more if n.key not in known and not n.key.startswith("stored_")]
    return (*notes, *new)


def _alone(forecast: HourlyWeather, why: Remark) -> HourlyWeather:
    """The forecast without runs, and why."""
    return _noted(forecast, Assumption("runs_absent", {"why": why}))


def _noted(weather: HourlyWeather, note: Assumption) -> HourlyWeather:
    return replace(weather, assumed=(*weather.assumed, note))
