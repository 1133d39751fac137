"""Files that this package writes: read back to the same numbers, and still checked."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from weather.files_common import (
    read_text,
    refusal,
)

from hayweather.weather.files import write_weather_csv
from hayweather.weather.record import COLUMN_KINDS, HourlyWeather, Source


def own_record(repaired: bool) -> HourlyWeather:
    """Two lanes with every column, gaps, and numbers that need all their digits."""
    random = np.random.default_rng(8)
    values = {name: random.random((30, 2)) * 9 for name in COLUMN_KINDS}
    values["dew_point_c"] -= 20
    values["cloud_fraction"] /= 10
    values["pressure_kpa"] += 80
    for name in ("weather_code", "lightning_level", "red_flag"):
        values[name] = np.floor(values[name])
    values["air_temperature_c"][3:5] = np.nan
    values["rain_mm"][7:20] = np.nan
    return HourlyWeather(
        np.array(["2026-07-08T18:30", "2026-07-09T00:00"], dtype="datetime64[s]"),
        values,
        10.0,
        Source("us-nws", np.datetime64("2026-07-08T12:00:01"), np.datetime64("2026-07-08T13:00:00"),
               "Weather data by somebody, CC BY 4.0"),
        repaired=random.random((30, 2)) > (0.5 if repaired else 2),
        elevation_m=1320.4,
        latitude=43.2,
        longitude=-120.6,
        timezone="America/Los_Angeles",
        typical_year=repaired,
    )  # fmt: skip


@pytest.mark.parametrize("lane", [0, 1])
@pytest.mark.parametrize("repaired", [True, False])
def test_own_files_read_back_bit_for_bit(tmp_path: Path, lane: int, repaired: bool) -> None:
    weather = own_record(repaired)
    stream = io.StringIO()
    write_weather_csv(weather, lane, stream)
    back, report = read_text(tmp_path, stream.getvalue())
    assert report.layout == "own"
    assert list(back.columns) == list(weather.columns)
    for name, values in weather.columns.items():
        assert np.array_equal(back.columns[name][:, 0], values[:, lane], equal_nan=True), name
    assert np.array_equal(back.repaired[:, 0], weather.repaired[:, lane])
    assert back.start[0] == weather.start[lane]
    assert back.source == weather.source
    for name in (
        "wind_height_m",
        "elevation_m",
        "latitude",
        "longitude",
        "timezone",
        "typical_year",
    ):
        assert getattr(back, name) == getattr(weather, name), name
    assert back.assumed == ()


def test_own_file_is_plain_text_with_facts_ahead() -> None:
    stream = io.StringIO()
    write_weather_csv(own_record(repaired=False), 1, stream)
    lines = stream.getvalue().splitlines()
    assert lines[0] == "# hayweather: weather 1"
    assert "# issued: 2026-07-08T12:00:01Z" in lines
    header = next(line for line in lines if not line.startswith("#"))
    assert header.startswith("time_utc,air_temperature_c,dew_point_c,wind_speed_m_s")
    row = lines[lines.index(header) + 4]
    assert row.startswith("2026-07-09T03:00:00Z,,")


def test_own_file_that_was_changed_by_hand_is_still_checked(tmp_path: Path) -> None:
    stream = io.StringIO()
    write_weather_csv(own_record(repaired=False), 1, stream)
    lines = stream.getvalue().splitlines()
    header = next(i for i, line in enumerate(lines) if not line.startswith("#"))
    cells = lines[header + 1].split(",")
    cells[1] = "99"
    lines[header + 1] = ",".join(cells)
    assert refusal(tmp_path, "\n".join(lines)).key == "weather_looks_fahrenheit"
