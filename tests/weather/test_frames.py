"""Tables of a notebook in and out: pandas and xarray."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from weather.test_judge import colorado

from hayweather.errors import HayweatherError
from hayweather.weather.files import weather_from

INDEX = pd.date_range("2026-07-08 17:00", periods=6, freq="h")


def frame(**more: object) -> pd.DataFrame:
    columns = {"temp_f": [90.0, 88, 85, 80, 76, 72], "rh_pct": 30.0, "wind_mph": 5.0}
    return pd.DataFrame({**columns, **more}, index=INDEX)


def line(*arguments: object, **options: object) -> str:
    with pytest.raises(HayweatherError) as caught:
        weather_from(*arguments, **options)
    assert "\n" not in caught.value.line()
    return caught.value.line()


def test_there_and_back_the_same_record():
    weather = colorado()
    table = weather.to_pandas()
    assert str(table.index.tz) == "UTC"
    assert table.attrs["units"]["wind_speed_m_s"] == "m/s"
    again = weather_from(table)
    assert again.wind_height_m == weather.wind_height_m
    assert again.start == weather.start
    assert set(again.columns) == set(weather.columns)
    for name, values in weather.columns.items():
        np.testing.assert_array_equal(again.columns[name], values)


def test_a_clock_and_a_zone_give_the_same_hours():
    naive = weather_from(frame(), tz="America/Denver", wind_height=3.0)
    aware = frame()
    aware.index = aware.index.tz_localize("America/Denver")
    for weather in (naive, weather_from(aware, wind_height=3.0)):
        assert str(weather.start[0]) == "2026-07-08T23:00:00"
        assert weather.wind_height_m == 3.0
        assert weather.columns["air_temperature_c"][0, 0] == pytest.approx(32.2222, abs=1e-4)
    column = frame().reset_index(names="time_utc")
    assert str(weather_from(column).start[0]) == "2026-07-08T17:00:00"
    there = weather_from(aware).to_pandas("America/Denver")
    assert there.index[0] == pd.Timestamp("2026-07-08 17:00", tz="America/Denver")


def test_units_by_word_and_by_attribute():
    bare = frame().rename(columns={"temp_f": "temp"})
    assert "temp" in line(bare, tz="UTC")
    told = weather_from(bare, units={"temp": "F"}, tz="UTC")
    assert told.columns["air_temperature_c"][0, 0] == pytest.approx(32.2222, abs=1e-4)
    data = bare.rename_axis("time").to_xarray()
    data["temp"].attrs["units"] = "degF"
    data = data.expand_dims({"lat": [40.5], "lon": [-108.5]})
    same = weather_from(data, tz="UTC")
    np.testing.assert_array_equal(
        same.columns["air_temperature_c"], told.columns["air_temperature_c"]
    )
    assert (same.latitude, same.longitude) == (40.5, -108.5)


def test_wrong_tables_get_one_line():
    assert "DataFrame" in line([1, 2, 3])
    assert "DatetimeIndex" in line(frame().reset_index(drop=True))
    assert "time zone" in line(frame())
    assert "wind" in line(frame().drop(columns="wind_mph"), tz="UTC")
    assert "furlong" in line(frame().rename(columns={"temp_f": "temp"}), {"temp": "furlong"}, "UTC")
    wide = xr.Dataset({"temp": (("time", "y"), np.zeros((6, 3)))}, {"time": INDEX})
    assert "time, y" in line(wide)
    with pytest.raises(IndexError):
        colorado().to_pandas(lane=1)
