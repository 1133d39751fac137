"""Run time of an ensemble outlook beside that of a single forecast, in one run."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, EVENING, days, farm_of

from hayweather.nights import Night, night_of
from hayweather.weather.record import HourlyWeather

pytestmark = pytest.mark.speed

RUNS, DAYS = 51, 10
FARM = farm_of(fields={name: replace(CURED, name=name) for name in ("north", "south", "west")})
TIMES = 2


def forecast(runs: int) -> HourlyWeather:
    """Ten days of a forecast and, in lanes after the first, of `runs` members that drift off it."""
    middle = days(24 * DAYS)
    drift = np.random.default_rng(4).normal(size=(24 * DAYS, runs)).cumsum(axis=0) / 20
    columns = {
        name: np.concatenate([values, values + (drift if "temperature" in name else 0 * drift)], 1)
        for name, values in middle.columns.items()
    }
    columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["air_temperature_c"])
    return replace(
        middle,
        start=np.repeat(middle.start, runs + 1),
        columns=columns,
        repaired=np.zeros((24 * DAYS, runs + 1), dtype=bool),
        basis=np.zeros((24 * DAYS, runs + 1), dtype=np.uint8),
    )


def seconds(task: Callable[[], Night]) -> float:
    """The shortest of some runs [s]: the least disturbed one."""
    found = []
    for _ in range(TIMES):
        begin = time.perf_counter()
        made = task()
        found.append(time.perf_counter() - begin)
        assert len(made.fields) == 3
    return min(found)


def test_fifty_one_runs_beside_a_single_forecast():
    """Both as people get them: the single one with the members drawn around it."""
    many, single = ({"home": forecast(runs)} for runs in (RUNS, 0))
    many_s, single_s = (
        seconds(lambda weather=weather: night_of(FARM, weather, EVENING))
        for weather in (many, single)
    )
    bare_s = seconds(lambda: night_of(FARM, single, EVENING, members=0))
    print(
        f"\n{RUNS} runs x {DAYS} days x 3 fields: {many_s:.2f} s / {single_s:.2f} s = "
        f"{many_s / single_s:.2f}; without any members {bare_s:.2f} s"
    )
    assert many_s / single_s <= 2
