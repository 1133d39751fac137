"""Reading forty years of hours beside pandas reading the same file."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from speed.file_to_answer import seconds

from hayweather.farm.records import Site
from hayweather.weather.files import read_weather_file
from hayweather.weather.judge import judged
from hayweather.weather.record import HourlyWeather

pytestmark = pytest.mark.speed

SOURCE = Path(__file__).parents[1] / "data" / "nw_colorado_2017_may_september.csv.gz"
HOURS = 40 * 8766
MOST = 5.0
SITE = Site("home", 40.53, -108.54, 2168.0, "America/Denver")


@pytest.fixture(scope="module")
def forty_years(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The seven columns of north-west Colorado repeated to 40 years of hours."""
    with gzip.open(SOURCE, "rt", encoding="utf-8") as file:
        head, *rows = file.read().splitlines()
    values = [row.partition(",")[2] for row in rows]
    stamps = np.datetime64("1980-01-01T00:00:00", "s") + 3600 * np.arange(HOURS)
    texts = np.char.replace(np.datetime_as_string(stamps), "T", " ")
    lines = [f"{text}+00:00,{values[i % len(values)]}" for i, text in enumerate(texts)]
    path = tmp_path_factory.mktemp("speed") / "forty.csv"
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    return path


def best(task: Callable[[], object]) -> float:
    """Shortest processor time of some runs [s], after one that warms up."""
    task()
    return seconds(task)


def read(path: Path, summer: HourlyWeather) -> object:
    """The file through the gate; its clock is judged by the true summer beside it.

    A summer repeated into winter has its sun at night, and is refused with a site.
    """
    judged(summer, SITE)
    return judged(read_weather_file(path)[0], None)


def test_reading_beside_pandas(forty_years: Path) -> None:
    weather, report = read_weather_file(forty_years)
    assert weather.hours == report.rows == HOURS
    summer, _ = read_weather_file(SOURCE)
    ours, theirs = best(lambda: read(forty_years, summer)), best(lambda: pd.read_csv(forty_years))
    print(f"\nreading / pandas.read_csv: {ours:.3f} s / {theirs:.3f} s = {ours / theirs:.2f}")
    assert ours / theirs <= MOST
