"""The same values in several layouts give the same outlook; rounding shows its price."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from weather.files_common import read_text
from weather.test_files_same_values import HOURS, START, WITHOUT_SUN, WRITERS, Series, series

from hayweather.baling.outlook import FieldOutlook, make_outlook
from hayweather.farm.records import Baler, Farm, Field, Site, WeatherChoice
from hayweather.weather.files import ReadOptions
from hayweather.weather.record import HourlyWeather, Source

SITE = Site("home", 43.2, -120.6, 1320.0, "America/Los_Angeles")
FARM = Farm(
    "Hill",
    {"home": SITE},
    {"north": Field("north", "home", cured=True)},
    {"baler": Baler("baler")},
    WeatherChoice(),
)
NOW = np.datetime64("2026-07-09T01:00:00")  # 18:00 local
LAYOUTS = ("plain_start", "plain_end", "local_denver", "open_meteo", "epw", "tmy3", "logger")


def outlook_of(weather: HourlyWeather) -> FieldOutlook:
    """The middle forecast alone."""
    return make_outlook(FARM, {"home": weather}, NOW, members=0).fields[0]


def record(values: Series, sun: bool = True) -> HourlyWeather:
    """The series as it is, through no file; without its sun where a layout has none."""
    columns = {
        "air_temperature_c": values.air,
        "dew_point_c": values.dew,
        "wind_speed_m_s": values.wind,
        "shortwave_w_m2": values.sun,
        "rain_mm": values.rain,
    }
    if not sun:
        del columns["shortwave_w_m2"]
    stacked = {name: np.asarray(column, float)[:, None] for name, column in columns.items()}
    start = np.array([START.astype("datetime64[s]")])
    return HourlyWeather(start, stacked, 10.0, Source("series"))


def moistures(outlook: FieldOutlook) -> np.ndarray:
    """Windrow, leaf and stem of every quarter hour that all layouts can tell [% wb]."""
    run = outlook.shown.trajectory
    return np.stack([run.windrow_wb, run.leaf_wb, run.stem_wb])[:, : 4 * 24, 0]


def unrounded() -> Series:
    """Two summer days with all digits."""
    hour = np.arange(HOURS)
    wave = np.sin((hour - 9) / 24 * 2 * np.pi)
    return Series(
        18 + 11 * wave,
        4 + 2 * np.cos(hour / 7),
        2.5 + 1.5 * wave,
        np.maximum(0, 900 * wave),
        np.zeros(HOURS),
    )


def read(folder: Path, name: str, values: Series) -> HourlyWeather:
    options = ReadOptions(timezone="UTC" if name == "logger" else None)
    return read_text(folder, WRITERS[name](values), options)[0]


@pytest.mark.parametrize("name", LAYOUTS)
def test_same_rounded_values_same_outlook(tmp_path, name):
    plain, other = outlook_of(record(series())), outlook_of(read(tmp_path, name, series()))
    found, expected = moistures(other), moistures(plain)
    assert np.isfinite(expected).all()
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-6)
    calls = [[hour.call for hour in each.hours[:24]] for each in (other, plain)]
    assert calls[0] == calls[1]


@pytest.mark.parametrize("name", sorted(WRITERS))
def test_what_a_layout_rounds_off_is_told(tmp_path, name, capsys):
    truth = moistures(outlook_of(record(unrounded(), sun=name not in WITHOUT_SUN)))
    off = np.abs(moistures(outlook_of(read(tmp_path, name, unrounded()))) - truth)
    typical, largest = np.quantile(off, 0.95), off.max()
    with capsys.disabled():
        print(f"\n{name:<13} 95th percentile {typical:.4f}, largest {largest:.4f} points", end="")
    assert largest < 0.2
