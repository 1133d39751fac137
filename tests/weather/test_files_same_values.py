"""One series in nine layouts gives one record.

The values are rounded as the coarsest layout prints them, so every layout can
carry them whole; the records must not differ.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from weather.files_common import read_text
from weather.layouts import HOURS, START, WITHOUT_SUN, WRITERS, series

from hayweather.weather.files import ReadOptions
from hayweather.weather.record import HourlyWeather


def read(tmp_path: Path, name: str) -> HourlyWeather:
    zone = "UTC" if name == "logger" else None
    return read_text(tmp_path, WRITERS[name](series()), ReadOptions(timezone=zone))[0]


@pytest.mark.parametrize("name", sorted(WRITERS))
def test_one_series_in_every_layout(tmp_path: Path, name: str) -> None:
    weather, given = read(tmp_path, name), series()
    assert weather.hours == HOURS
    assert str(weather.start[0])[:16] == str(START)
    assert weather.wind_height_m == 10.0
    expected = {
        "air_temperature_c": given.air,
        "dew_point_c": given.dew,
        "wind_speed_m_s": given.wind,
        "rain_mm": given.rain,
    }
    if name not in WITHOUT_SUN:
        expected["shortwave_w_m2"] = given.sun
    for column, values in expected.items():
        read_values = weather.columns[column][:, 0]
        # Where sums close their hour, the sum of the last hour would stand in a next row.
        last = None if name in ("plain_start", "local_denver") or column in (
            "air_temperature_c", "dew_point_c", "wind_speed_m_s") else -1  # fmt: skip
        assert_allclose(read_values[:last], values[:last], atol=1e-6, err_msg=column)
        assert last is None or np.isnan(read_values[-1])
    assert not weather.repaired.any()
