"""What people should know of a field's forecast runs, readings and weather before they trust it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hayweather.farm.records import Site
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.readings import Reading, Weights
from hayweather.words import Remark

ELEVATION_GAP_M = 100.0


def doubts(
    dropped: int, weights: Weights, readings: Sequence[Reading], now: np.datetime64
) -> tuple[Remark, ...]:
    """What people should know of the members and the readings.

    Parameters
    ----------
    dropped
        Members of the source left out because of a gap.
    weights
        How much each member counts.
    readings
        Of this field.
    now
        UTC.
    """
    gaps = (Remark("members_dropped", {"count": f"{dropped}"}),) if dropped else ()
    return (*gaps, *agreement(weights), *later_than(readings, now))


def agreement(weights: Weights) -> tuple[Remark, ...]:
    """What people should know of their readings: how many members agree, which fit none."""
    counts: dict[str, object] = {"count": f"{weights.effective:.0f}", "all": f"{weights.members}"}
    agree = (Remark("readings_agree", counts),)
    explained = set(weights.readings) - set(weights.unexplained)
    return (
        *(agree if explained else ()),
        *(_remark("reading_unexplained", reading) for reading in weights.unexplained),
        *(_remark("reading_unused", reading) for reading in weights.unused),
    )


def later_than(readings: Sequence[Reading], now: np.datetime64) -> tuple[Remark, ...]:
    """Readings of a time to come, said to be a trial of what would follow."""
    return tuple(_remark("reading_later", reading) for reading in readings if reading.time > now)


def _remark(key: str, reading: Reading) -> Remark:
    """What is to be said of a reading, with its value and time."""
    return Remark(key, {"time": reading.time, "value": (reading.moisture_wb, "percent")})


def elevation_gap(site: Site, weather: HourlyWeather) -> tuple[Remark, ...]:
    """The weather of a place much higher or lower than the field."""
    if weather.elevation_m is None or site.elevation_m is None:
        return ()
    if abs(weather.elevation_m - site.elevation_m) <= ELEVATION_GAP_M:
        return ()
    values: dict[str, object] = {
        "site": (site.elevation_m, "elevation"),
        "weather": (weather.elevation_m, "elevation"),
    }
    return (Remark("elevation_differs", values),)
