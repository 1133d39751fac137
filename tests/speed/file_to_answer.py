"""Seasons from file to answer in times of `pandas.read_csv` of the same file, one core.

``cd tests && python -m speed.file_to_answer`` prints the table of the guide. Warm:
imports, compilation and one short run before it are left out. Processor time; each
answer beside the file read just before and after it, so that a busy machine slows both.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from unittest.mock import patch

import numpy as np

from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.mean_season import DRAWS
from hayweather.seasons.sites import read_sites
from hayweather.weather.record import HOUR
from hayweather.windrow.sky import (
    clear_sky_shortwave,
    cloudy_shortwave,
    extraterrestrial_shortwave,
)
from hayweather.windrow.vapor import saturation_vapor_pressure

LATITUDE, LONGITUDE, ELEVATION_M = 40.53, -108.54, 2168.0
SITES = f"""[site.home]
latitude = {LATITUDE}
longitude = {LONGITUDE}
elevation = "{ELEVATION_M:.0f} m"
timezone = "America/Denver"
weather = "hours.csv"
wind_height = "2 m"
"""
YEARS, READINGS = 40, 4


def seconds(task: Callable[[], object], times: int = 3) -> float:
    """Shortest processor time of some runs [s], this process alone."""
    found = []
    for _ in range(times):
        begin = time.process_time()
        task()
        found.append(time.process_time() - begin)
    return min(found)


def written(folder: Path, years: int) -> Path:
    """A sites file and its hours of whole years, made up, in the layout of NW Colorado."""
    import pandas as pd

    begin = np.datetime64("1980-01-01", "s")
    past = np.datetime64(f"{1980 + years}-01-01", "s")
    times = begin + np.arange(int((past - begin) / HOUR)) * HOUR
    hour, random = np.arange(times.size), np.random.default_rng(1)
    local = hour + LONGITUDE / 15
    season = -np.cos(2 * np.pi * (hour / 8766 - 0.03))
    warm = np.repeat(random.normal(0, 3, times.size // 24 + 1), 24)[: times.size]
    air = 7 + 13 * season - 8 * np.cos(2 * np.pi * (local - 3) / 24) + warm
    damp = np.repeat(random.normal(0, 3, times.size // 24 + 1), 24)[: times.size]
    dew_point = np.minimum(air, -2 + 7 * season + damp)
    cloud = np.clip(np.repeat(random.normal(0.3, 0.3, times.size // 6 + 1), 6), 0, 1)[: times.size]
    above = extraterrestrial_shortwave(times, LATITUDE, LONGITUDE)
    sun = cloudy_shortwave(clear_sky_shortwave(above, ELEVATION_M), cloud)
    humidity = 100 * saturation_vapor_pressure(dew_point) / saturation_vapor_pressure(air)
    table = pd.DataFrame(
        {
            "time_utc": pd.DatetimeIndex(times).strftime("%Y-%m-%d %H:%M:%S+00:00"),
            "temp_c": air.round(2), "rh_pct": humidity.round(2), "dewpoint_c": dew_point.round(2),
            "wind_ms": (0.5 + random.gamma(2.0, 0.8, times.size)).round(1),
            "pressure_hpa": 785.0, "sw_wm2": sun.round(1),
        }
    )  # fmt: skip
    table.to_csv(folder / "hours.csv", index=False)
    (folder / "sites.toml").write_text(SITES, encoding="utf-8")
    return folder / "sites.toml"


@contextmanager
def loop(name: str) -> Iterator[None]:
    """All runs by the loop that is there without the extra, "numpy", or by itself."""
    there = name != "numpy"
    with (
        patch("hayweather.windrow.run.has_compiled_loop", lambda: there),
        patch("hayweather.nights.drive.has_compiled_loop", lambda: there),
        patch("hayweather.seasons.blocks.has_compiled_loop", lambda: there),
    ):
        yield


def answered(sites: Path) -> Callable[[], object]:
    """The work behind the first screen, the draws of the model's own doubt with it."""
    file = read_sites(sites)
    return lambda: make_seasons(file, Request(cores=1, draws=DRAWS))


def times_of_reading(years: int, name: str, runs: int = 3) -> tuple[float, float]:
    """File to answer in times of reading the file, and seconds of reading; medians of the runs."""
    import pandas as pd

    with tempfile.TemporaryDirectory() as short, tempfile.TemporaryDirectory() as whole:
        with loop(name):
            answered(written(Path(short), 1))()
            task = answered(written(Path(whole), years))
            path = Path(whole, "hours.csv")

            def read() -> list[float]:
                return [seconds(lambda: pd.read_csv(path), 1) for _ in range(READINGS)]

            around, ratios, readings = read(), [], []
            for _ in range(runs):
                took, after = seconds(task, 1), read()
                readings.append(float(np.median([*around, *after])))
                ratios.append(took / readings[-1])
                around = after
        return float(np.median(ratios)), float(np.median(readings))


def main() -> int:
    """Print the table."""
    print("| loop | years in the file | file to answer, times `pandas.read_csv` of it |")
    print("| --- | ---: | ---: |")
    for name, words in (("auto", "compiled (extra `fast`)"), ("numpy", "NumPy")):
        ratio, _ = times_of_reading(YEARS, name)
        print(f"| {words} | {YEARS} | {ratio:.0f} |", flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
