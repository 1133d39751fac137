"""Named repairs of plain files, each counted: gaps, doubles, caps, sensors, pressure."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from weather.files_common import (
    HEADER,
    SMALL,
    column,
    read_text,
    table,
)

from hayweather.errors import WeatherFileError
from hayweather.weather.files import ReadOptions

NAN = float("nan")


def test_short_gaps_are_filled_and_long_ones_stay(tmp_path: Path) -> None:
    temperatures = ["20", "", "", "", "16", "", "", "", "", "11"]
    text = table([f"{t},5,1,0" for t in temperatures], f"{HEADER},rain_mm")
    text = text.replace("T07:00Z,,5,1,0", "T07:00Z,,5,1,")
    weather, report = read_text(tmp_path, text)
    expected = [20.0, 19.0, 18.0, 17.0, 16.0, NAN, NAN, NAN, NAN, 11.0]
    assert_allclose(column(weather, "air_temperature_c"), expected)
    assert np.flatnonzero(weather.repaired[:, 0]).tolist() == [1, 2, 3]
    assert np.flatnonzero(weather.missing()[:, 0]).tolist() == [5, 6, 7, 8]
    assert [(r.name, r.column, r.count) for r in report.repairs] == [
        ("gap_filled", "air_temperature_c", 3)
    ]
    served = {c.served_as: c.hours_missing for c in report.columns}
    assert (served["air_temperature_c"], served["rain_mm"]) == (4, 1)


def test_rows_that_are_not_there_are_a_gap(tmp_path: Path) -> None:
    lines = table([f"{20 - h},5,1" for h in range(8)]).splitlines()
    weather, _ = read_text(tmp_path, "\n".join(lines[:3] + lines[5:]))
    assert column(weather, "air_temperature_c") == [float(20 - h) for h in range(8)]
    assert np.flatnonzero(weather.repaired[:, 0]).tolist() == [2, 3]


def test_doubles_within_noise_are_averaged(tmp_path: Path) -> None:
    lines = SMALL.splitlines()
    twice = lines[2].replace("19,10,2", "19.4,10,2.2")
    weather, report = read_text(tmp_path, "\n".join([*lines[:3], twice, lines[3]]))
    assert column(weather, "air_temperature_c") == [20.0, 19.2, 18.0]
    assert column(weather, "wind_speed_m_s") == [1.0, 2.1, 3.0]
    assert [(r.name, r.count, r.line) for r in report.repairs] == [("duplicates_averaged", 1, 3)]
    assert [a.key for a in weather.assumed] == ["wind_height", "duplicates_averaged"]


def test_humidity_noise_is_capped_and_counted(tmp_path: Path) -> None:
    text = table(["20,100,1", "19,103,1", "18,0,1"], "time_utc,temp_c,rh_pct,wind_ms")
    weather, report = read_text(tmp_path, text)
    air, dew = column(weather, "air_temperature_c"), column(weather, "dew_point_c")
    assert dew[:2] == air[:2]
    assert -40 < dew[2] < -30
    assert [(r.name, r.count, r.line) for r in report.repairs] == [
        ("humidity_capped", 1, 3),
        ("humidity_floor", 1, 4),
    ]


def test_dew_point_noise_is_capped_and_counted(tmp_path: Path) -> None:
    weather, report = read_text(tmp_path, table(["20,20.5,1", "19,10,1", "18,18,1"]))
    assert column(weather, "dew_point_c") == [20.0, 10.0, 18.0]
    assert [(r.name, r.count, r.line) for r in report.repairs] == [("dew_point_capped", 1, 2)]


def hot_rows(count: int, wrong: dict[int, str]) -> str:
    return table([wrong.get(row, "20.0,10.0,1") for row in range(count)])


def test_a_dew_point_beyond_all_error_is_left_out_and_counted(tmp_path: Path) -> None:
    # 0.5 C and half a tenth are capped; 0.7 C cannot be.
    text = hot_rows(72, {5: "20.0,20.5,1", 6: "19.9,10.0,1", 30: "20.0,20.7,1"})
    weather, report = read_text(tmp_path, text)
    assert [(r.name, r.count, r.line) for r in report.repairs[:2]] == [
        ("dew_point_capped", 1, 7),
        ("dew_point_blanked", 1, 32),
    ]
    assert [row.values["line"] for row in report.blanked] == [32]
    assert weather.repaired[30, 0]
    assert not weather.repaired[5, 0]
    assert {"dew_point_capped", "dew_point_blanked"} <= {note.key for note in weather.assumed}


def test_whole_degrees_allow_the_rounding_of_the_file(tmp_path: Path) -> None:
    weather, report = read_text(tmp_path, hot_rows(72, {5: "20,21,1"}).replace(".0", ""))
    assert [r.name for r in report.repairs] == ["dew_point_capped"]
    assert weather.columns["dew_point_c"][5, 0] == 20.0


def test_many_dew_points_above_the_air_are_refused_with_every_row(tmp_path: Path) -> None:
    text = hot_rows(100, dict.fromkeys((3, 40, 41), "20.0,25.0,1"))
    with pytest.raises(WeatherFileError, match=r"in 3 rows, 3\.0 %") as caught:
        read_text(tmp_path, text)
    assert [row.values["line"] for row in caught.value.rows] == [5, 42, 43]


def test_one_refusal_lists_every_wrong_value(tmp_path: Path) -> None:
    text = hot_rows(100, {3: "20.0,1O.0,1", 8: "20.0,10.0,x", 9: "20.0,10.0,400"})
    with pytest.raises(WeatherFileError, match=r'line 5: "1O.0".*besides: 2') as caught:
        read_text(tmp_path, text)
    assert [row.values["line"] for row in caught.value.rows] == [5, 10, 11]


def test_humidity_serves_where_the_dew_point_is_blank(tmp_path: Path) -> None:
    text = table(
        ["20,10,50,1", "40,,14,1", "18,10,60,1"], "time_utc,temp_c,dewpoint_c,rh_pct,wind_ms"
    )
    weather, _ = read_text(tmp_path, text)
    # ASHRAE Fundamentals 2017, ch. 1: 40 C and 14 % have a dew point of 7 C.
    assert_allclose(column(weather, "dew_point_c"), [10.0, 7.0, 10.0], atol=0.5)
    assert not weather.repaired.any()


def test_dew_point_never_ends_above_a_filled_temperature(tmp_path: Path) -> None:
    weather, _ = read_text(tmp_path, table(["20,15,1", ",18,1", "10,9,1", "10,9,1"]))
    assert column(weather, "air_temperature_c") == [20.0, 15.0, 10.0, 10.0]
    assert column(weather, "dew_point_c") == [15.0, 15.0, 9.0, 9.0]


def test_stuck_sensors_are_flagged(tmp_path: Path) -> None:
    rows = [f"{20 + (h % 3)},{5 + h % 2},{4.2 if 2 <= h < 12 else h}" for h in range(30)]
    _, report = read_text(tmp_path, table(rows))
    assert [(f.name, f.column, f.count) for f in report.flags] == [("stuck", "wind_speed_m_s", 10)]
    fog = table([f"{20 + h % 3},100,{h % 4}" for h in range(12)], "time_utc,temp_c,rh_pct,wind_ms")
    assert read_text(tmp_path, fog)[1].flags == ()
    still = table([f"{20 + h % 3},5,4" for h in range(30)])
    weather, _ = read_text(tmp_path, still)
    assert {a.key for a in weather.assumed} >= {"stuck_wind_speed_m_s", "stuck_dew_point_c"}


def test_night_offset_of_a_sun_sensor(tmp_path: Path) -> None:
    text = table(["20,5,1,-3", "20,5,1,0", "21,5,1,100"], f"{HEADER},sw_wm2")
    weather, report = read_text(tmp_path, text)
    assert column(weather, "shortwave_w_m2") == [0.0, 0.0, 100.0]
    assert [(r.name, r.count) for r in report.repairs] == [("sun_below_zero", 1)]


def test_pressure_that_is_not_the_sites_is_left_out(tmp_path: Path) -> None:
    text = table(["20,5,1,1013"] * 3, f"{HEADER},pressure_hpa")
    head = "# elevation_m: 1500\n"
    weather, report = read_text(tmp_path, head + text)
    assert "pressure_kpa" not in weather.columns
    assert [r.name for r in report.refused] == ["pressure_not_of_site"]
    weather, _ = read_text(tmp_path, head + text.replace("1013", "846"))
    assert column(weather, "pressure_kpa") == [84.6] * 3


def test_sea_level_pressure_is_brought_to_the_site(tmp_path: Path) -> None:
    text = table(["20,5,1,1013.25"] * 3, f"{HEADER},slp_hpa")
    weather, _ = read_text(tmp_path, text, ReadOptions(site_elevation_m=1000.0))
    # exp(-9.80665 x 1000 / (287.05 x 293.15)) of 101.325 kPa, worked out by hand: 90.18.
    assert_allclose(column(weather, "pressure_kpa"), 90.18, atol=0.02)
