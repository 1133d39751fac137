"""Run times as ratios within one run: each beside a yardstick on the same machine."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from speed.file_to_answer import ELEVATION_M, LATITUDE, LONGITUDE, seconds, written

from hayweather.weather.record import HourlyWeather, Source
from hayweather.windrow.forcing import Place
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run

pytestmark = pytest.mark.speed

SAMPLE = Path(__file__).parents[2] / "sample_forecasts" / "sagebeck.toml"
STAMPS = {
    "ISO 8601": "%Y-%m-%d %H:%M:%S+00:00",
    "of the US": "%m/%d/%Y %I:%M %p",
}
COMMAND = "import sys; from hayweather.__main__ import main; sys.argv[0] = 'hayweather'; main()"


def best(task: Callable[[], object], times: int = 3) -> float:
    """The shortest of some runs [s]: the least disturbed one."""
    seconds = []
    for _ in range(times):
        begin = time.perf_counter()
        task()
        seconds.append(time.perf_counter() - begin)
    return min(seconds)


def python(*arguments: str) -> Callable[[], object]:
    return lambda: subprocess.run(
        [sys.executable, *arguments], check=True, capture_output=True, text=True
    )


def ratio(
    name: str, task: Callable[[], object], yardstick: Callable[[], object], times: int = 3
) -> float:
    task_s, yardstick_s = best(task, times), best(yardstick, times)
    print(f"\n{name}: {task_s:.3f} s / {yardstick_s:.3f} s = {task_s / yardstick_s:.2f}")
    return task_s / yardstick_s


def test_work_of_the_outlook_beside_its_imports():
    """Sample farm, 200 runs: the work after the imports takes at most 1.5 times them.

    Of the imports only the two largest are in the yardstick, which makes it the shorter.
    """
    outlook = python("-c", COMMAND, "outlook", str(SAMPLE))
    whole = ratio("outlook / imports", outlook, python("-c", "import metpy.calc, pandas"))
    assert whole - 1 <= 1.5


def test_help_beside_typer():
    assert ratio("help / typer", python("-c", COMMAND, "--help"), python("-c", "import typer")) <= 4


def lanes_of(count: int) -> HourlyWeather:
    """48 hours of a plain dry-country day, the dew point shifted from lane to lane."""
    hour = np.arange(48)[:, None]
    air = 18 - 10 * np.cos(2 * np.pi * (hour - 4) / 24) + np.zeros((1, count))
    columns = {
        "air_temperature_c": air,
        "dew_point_c": np.minimum(air, np.linspace(2, 8, count)[None, :]) + 0 * hour,
        "wind_speed_m_s": 1.5 + 0 * air,
        "cloud_fraction": 0.1 + 0 * air,
        "rain_mm": 0 * air,
    }
    start = np.full(count, np.datetime64("2026-07-07T21:00:00", "s"))
    return HourlyWeather(start, columns, 2.0, Source("speed"))


def test_a_thousand_lanes_beside_one():
    def task(count: int) -> Callable[[], object]:
        weather = lanes_of(count)
        starts = np.zeros((48, count), dtype=bool)
        starts[0] = True
        place, windrow = Place(43.0, -120.0, 1300.0), WindrowParameters()
        return lambda: run(weather, place, windrow, equilibrium_starts=starts)

    assert ratio("1,000 lanes / 1 lane", task(1000), task(1), times=2) <= 6


@pytest.mark.parametrize("form", list(STAMPS))
def test_a_year_of_hours_takes_no_longer_to_follow_than_its_week(tmp_path, form):
    """What a year costs more than its week is its reading, and the judge's look at it.

    The aim is 2. All of the file is read and judged, only its week is followed; 0.8 of
    it is pandas at the numbers, the rest what is looked at in every line, stamp and day.
    """
    from hayweather.farm.records import Site
    from hayweather.weather.files import ReadOptions, read_weather_file
    from hayweather.weather.judge import judged

    site = Site("home", LATITUDE, LONGITUDE, ELEVATION_M, "America/Denver")
    table = pd.read_csv(written(tmp_path, 1).with_name("hours.csv"))
    stamps = pd.to_datetime(table.pop("time_utc"))
    table.insert(0, "time", stamps.dt.strftime(STAMPS[form]))
    long, week = tmp_path / "long.csv", tmp_path / "week.csv"
    table.to_csv(long, index=False)
    table[4500:4668].to_csv(week, index=False)

    def task(path: Path) -> Callable[[], object]:
        return lambda: judged(read_weather_file(path, ReadOptions(timezone="UTC"))[0], site)

    tasks = {"long": task(long), "week": task(week), "table": lambda: pd.read_csv(long)}
    took: dict[str, list[float]] = {name: [] for name in tasks}
    for _ in range(31):  # in turn: the machine may be busy now and then
        for name, work in tasks.items():
            took[name].append(seconds(work, 1))
    rounds = zip(*took.values(), strict=True)
    more = float(np.median([(year - few) / plain for year, few, plain in rounds]))
    print(
        f"\n{form}: year less its week / read_csv ({1000 * min(took['table']):.1f} ms): {more:.2f}"
    )
    assert more <= 2.8
