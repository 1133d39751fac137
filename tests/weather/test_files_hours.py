"""Where the values of a file lie in time: instants, means and sums to whole hours."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from weather.files_common import (
    HEADER,
    column,
    first_hour,
    read_text,
    table,
)

from hayweather.weather.air import dew_point_from_vapor_pressure, vapor_pressure_from_dew_point
from hayweather.weather.files import ReadOptions

NAN = float("nan")


@pytest.mark.parametrize(
    ("header", "option", "rain"),
    [
        ("time_utc", None, [1.0, 2.0, 3.0]),
        ("time_utc", "start", [1.0, 2.0, 3.0]),
        ("time_utc", "end", [2.0, 3.0, NAN]),
        ("time_utc", "center", [1.5, 2.5, NAN]),
        ("Hour Ending (UTC)", None, [2.0, 3.0, NAN]),
        ("hour beginning UTC", None, [1.0, 2.0, 3.0]),
    ],
)
def test_where_sums_lie(tmp_path: Path, header: str, option: str | None, rain: list[float]) -> None:
    text = table(["20,10,1,1", "19,10,2,2", "18,10,3,3"], f"{HEADER},rain_mm")
    options = ReadOptions(hour=option)  # type: ignore[arg-type]
    weather, _ = read_text(tmp_path, text.replace("time_utc", header), options)
    # Instants stay at their stamp whatever the hour of the sums is.
    assert column(weather, "air_temperature_c") == [20.0, 19.0, 18.0]
    assert_allclose(column(weather, "rain_mm"), rain)


@pytest.mark.parametrize(("hour", "first"), [("start", "T01:00"), ("end", "T00:00")])
def test_means_lie_in_the_middle_of_their_hour(tmp_path: Path, hour: str, first: str) -> None:
    text = table(["20,10,1", "18,10,2", "16,10,3"], "time_utc,temp_avg_c,dewpoint_c,wind_avg_ms")
    options = ReadOptions(hour=hour)  # type: ignore[arg-type]
    weather, _ = read_text(tmp_path, text, options)
    assert first_hour(weather).endswith(first)
    assert column(weather, "air_temperature_c") == [19.0, 17.0]
    assert column(weather, "wind_speed_m_s") == [1.5, 2.5]


@pytest.mark.parametrize("step", [5, 10, 15, 30])
def test_finer_data_are_averaged_through_vapor_pressure(tmp_path: Path, step: int) -> None:
    count = 240 // step + 1
    minutes = step * np.arange(count)
    dew = np.where(minutes % 60 < 30, 5.0, 15.0)
    rows = [f"{20 + m / 60:.6f},{d},1,{step / 60}" for m, d in zip(minutes, dew, strict=True)]
    text = table(rows, f"{HEADER},rain_mm", step)
    weather, report = read_text(tmp_path, text)
    assert report.step_minutes == step
    assert weather.hours == 5
    # A straight line keeps its value at the hour; six tenths of an hour each way.
    assert_allclose(weather.columns["air_temperature_c"][:, 0], 20 + np.arange(5), atol=1e-5)
    # Trapezoid weights over half an hour each way: worked out here from the samples alone.
    inside = np.abs(minutes - 120) <= 30
    weights = np.where(np.abs(minutes[inside] - 120) == 30, 0.5, 1.0)
    vapor = np.average(vapor_pressure_from_dew_point(dew[inside]), weights=weights)
    expected = float(dew_point_from_vapor_pressure(vapor))
    assert_allclose(weather.columns["dew_point_c"][2, 0], expected, rtol=1e-9)
    assert expected > np.average(dew[inside], weights=weights) + 0.3
    # An hour's rain is the sum of its parts; the last hour has only begun.
    assert_allclose(column(weather, "rain_mm"), [1.0, 1.0, 1.0, 1.0, NAN], rtol=1e-5)


@pytest.mark.parametrize(
    ("hour", "at_one"), [(None, 4.0), ("start", 3.5), ("end", 4.5), ("center", 4.0)]
)
def test_finer_data_that_say_their_hour_lie_in_the_middle_of_their_step(
    tmp_path: Path, hour: str | None, at_one: float
) -> None:
    # One degree a quarter hour: half a step is half a degree, later or earlier.
    text = table([f"{quarter},-5,1" for quarter in range(17)], step_minutes=15)
    options = ReadOptions(hour=hour)  # type: ignore[arg-type]
    weather, _ = read_text(tmp_path, text, options)
    place = int((np.datetime64("2026-07-09T01:00:00") - weather.start[0]).astype(int) // 3600)
    assert_allclose(weather.columns["air_temperature_c"][place, 0], at_one)
