"""One small file of each layout: units, missing codes, zone, and where hours lie.

The conventions stand in the heads of the readers, with their sources. Round
numbers made by hand: what is expected here is worked out beside each case.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from weather.files_common import SAMPLES, column, first_hour, read_text, sample, written

from hayweather.errors import WeatherFileError
from hayweather.weather import catalog
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.files.columns import Code, unit_of

NAN = float("nan")


def test_plain_us_units_and_zone_in_the_header() -> None:
    weather, report = sample("plain_us.csv")
    # 18:00 in Denver in July is 00:00 UTC of the next day.
    assert first_hour(weather) == "2026-07-20T00:00"
    assert column(weather, "air_temperature_c") == [30.0, 25.0, 20.0]
    assert_allclose(column(weather, "wind_speed_m_s"), [4.4704, 2.2352, 0.0], rtol=1e-9)
    assert column(weather, "rain_mm") == [0.0, 2.54, 0.0]
    # One langley in an hour is 41,840 / 3,600 W/m2.
    assert_allclose(column(weather, "shortwave_w_m2"), [348.666667, 139.466667, 0.0], rtol=1e-8)
    assert (report.layout, report.timezone, report.timezone_from) == (
        "plain",
        "America/Denver",
        "file",
    )
    assert (report.wind_height_m, report.wind_height_from) == (3.0, "file")
    assert (report.hour, report.hour_from) == ("start", "assumed")
    assert [a.key for a in weather.assumed] == ["hour_start"]


def test_plain_spanish_with_decimal_comma_and_old_encoding() -> None:
    weather, report = sample("plain_es_cp1252.csv")
    assert (report.encoding, report.delimiter, report.decimal_mark) == ("cp1252", ";", ",")
    # 18:00 in Madrid in July is 16:00 UTC.
    assert first_hour(weather) == "2026-07-09T16:00"
    assert column(weather, "air_temperature_c") == [30.0, 28.5, 27.0]
    assert_allclose(column(weather, "wind_speed_m_s"), [5.0, 2.5, 1.0], rtol=1e-9)
    assert_allclose(column(weather, "rain_mm"), [0.0, 0.2, NAN])
    assert_allclose(column(weather, "pressure_kpa"), [99.05, 99.06, 99.07])
    assert weather.missing()[:, 0].tolist() == [False, False, True]


def test_open_meteo_sums_belong_to_the_hour_before_the_stamp() -> None:
    weather, report = sample("open_meteo.csv")
    # 00:00 at UTC-7 is 07:00 UTC; the whole series keeps that offset.
    assert first_hour(weather) == "2026-07-09T07:00"
    assert column(weather, "air_temperature_c") == [10.0, 11.0, 12.0]
    assert_allclose(column(weather, "rain_mm"), [2.0, 3.0, NAN])
    assert_allclose(column(weather, "shortwave_w_m2"), [200.0, 300.0, NAN])
    assert_allclose(column(weather, "wind_gust_m_s"), [20.0, 30.0, NAN])
    assert_allclose(column(weather, "wind_speed_m_s"), [1.0, 2.0, 3.0])
    assert_allclose(column(weather, "cloud_fraction"), [0.5, 1.0, NAN])
    assert column(weather, "weather_code") == [3.0, 95.0, 3.0]
    assert (weather.latitude, weather.longitude, weather.elevation_m) == (43.2, -120.6, 1320.0)
    assert weather.timezone == "America/Los_Angeles"
    assert weather.source.attribution == catalog.OPEN_METEO.attribution
    assert (report.hour, report.hour_from, report.wind_height_m) == ("end", "layout", 10.0)
    assert "rain (mm)" in report.unused


def test_nsrdb_rows_are_the_middle_of_their_hour() -> None:
    weather, report = sample("nsrdb_60min.csv")
    # Moments at 06:30, 07:30, 08:30 of UTC-8: hours of 15:00 and 16:00 UTC lie between them.
    assert first_hour(weather) == "2026-07-09T15:00"
    assert column(weather, "air_temperature_c") == [10.5, 11.5]
    assert column(weather, "shortwave_w_m2") == [200.0, 300.0]
    assert (report.hour, report.wind_height_m) == ("center", 2.0)
    assert not weather.typical_year


def test_isd_lite_tenths_missing_codes_and_traces() -> None:
    weather, report = sample("isd_lite.txt", ReadOptions(site_elevation_m=0.0))
    assert first_hour(weather) == "2026-07-09T06:00"
    assert column(weather, "air_temperature_c") == [10.0, 11.0, 12.0, 13.0, 14.0]
    assert weather.repaired[:, 0].tolist() == [False, False, False, True, False]
    # Rain of the hour before the stamp; -1 is a trace.
    assert_allclose(column(weather, "rain_mm"), [1.0, 0.0, NAN, 3.0, NAN])
    assert_allclose(column(weather, "cloud_fraction"), [0.5, 1.0, 1.0, NAN, NAN])
    assert_allclose(column(weather, "pressure_kpa")[:3], [101.3] * 3)
    assert [(r.name, r.count, r.line) for r in report.repairs[:1]] == [("trace_as_none", 1, 3)]


def test_isd_lite_without_elevation_uses_no_pressure() -> None:
    weather, report = sample("isd_lite.txt")
    assert "pressure_kpa" not in weather.columns
    assert "sea level pressure" in report.unused


def test_agrimet_codes_and_langley() -> None:
    weather, report = sample("agrimet.csv", ReadOptions(timezone="America/Los_Angeles"))
    assert first_hour(weather) == "2026-07-09T13:00"
    assert column(weather, "air_temperature_c") == [10.0, 11.0, 12.0]
    assert column(weather, "dew_point_c") == [0.0, 1.0, 2.0]
    assert_allclose(column(weather, "wind_speed_m_s"), [0.89408, 1.78816, 2.68224], rtol=1e-6)
    # A rate around the stamp: half an hour of each neighbor; langley/h are 11.622 W/m2.
    rate = np.array([15.0, 25.0, 30.0]) * 41840 / 3600
    assert_allclose(weather.columns["shortwave_w_m2"][:, 0], rate, rtol=1e-9)
    assert report.layout == "agrimet"


def test_agrimet_without_a_zone_asks_for_it() -> None:
    with pytest.raises(WeatherFileError, match="no time zone"):
        sample("agrimet.csv")


def test_reference_network_hourly_has_no_wind_and_says_so() -> None:
    with pytest.raises(WeatherFileError, match="no column for wind among: T_HR_AVG"):
        sample("crn_hourly.txt")


def test_logger_means_lie_in_the_middle_of_their_hour() -> None:
    weather, report = sample("logger.dat", ReadOptions(timezone="UTC-08:00"))
    # Means of the hours ending at 07:00 ... 10:00 of UTC-8 lie at half past: 15:00 UTC is first.
    assert first_hour(weather) == "2026-07-09T15:00"
    assert column(weather, "air_temperature_c") == [11.0, 13.0, 15.0, 17.0]
    assert column(weather, "wind_speed_m_s") == [1.5, 2.5, 3.5, 4.5]
    assert column(weather, "shortwave_w_m2") == [200.0, 300.0, 400.0, 500.0]
    assert column(weather, "rain_mm") == [2.0, 3.0, 4.0, 5.0]
    # The sample of 09:00 (17:00 UTC) is missing: a line between 16:00 and 18:00 fills it.
    assert weather.repaired[:, 0].tolist() == [False, False, True, False]
    assert report.layout == "logger"
    assert report.stations == ("Sagebeck",)
    assert {"AirTC_Max", "BattV_Min"} <= set(report.unused)
    assert [a.key for a in weather.assumed] == ["wind_height", "gap_filled"]


def test_logger_mean_humidity_is_no_humidity_of_a_sampled_dew_point(tmp_path: Path) -> None:
    head = [
        '"TOA5","Sagebeck"',
        '"TIMESTAMP","AirTC","DewPt_C","RH_Avg","WS_2m_ms"',
        '"TS","Deg C","Deg C","%","m/s"',
        '"","Smp","Smp","Avg","Smp"',
    ]
    rows = [f'"2026-07-09 0{h}:00:00",20,{"" if 1 < h < 7 else 5},50,1' for h in range(9)]
    weather, _ = read_text(tmp_path, "\n".join([*head, *rows]), ReadOptions(timezone="UTC"))
    assert np.flatnonzero(np.isnan(weather.columns["dew_point_c"][:, 0])).tolist() == [
        2,
        3,
        4,
        5,
        6,
    ]


def fine_rows(count: int) -> list[str]:
    """Five-minute rows of the reference network: air rises 0.1 C a row, 0.1 mm of rain a row."""
    rows = []
    for i in range(count):
        stamp = np.datetime64("2026-07-09T06:05", "m") + np.timedelta64(5 * i, "m")
        date, clock = str(stamp).replace("-", "").replace(":", "").split("T")
        rows.append(
            f"53131 {date} {clock} {date} {clock}      3 -120.60   43.20 {10 + 0.1 * i:7.1f}"
            f"     0.1    300 0     4.4 C 0    50 0 -99.000 -9999.0    24 0   1.00 0"
        )
    return rows


def test_reference_network_five_minutes(tmp_path: Path) -> None:
    rows = fine_rows(48)
    rows[4] = rows[4].replace("    300 0 ", "   9000 3 ")
    rows[5] = rows[5].replace("   10.5 ", "-9999.0 ")
    rows.insert(7, "\x00" * 80)
    rows.insert(9, " " * 60)
    weather, report = read_text(tmp_path, "\n".join(rows))
    # Means of the five minutes before: 07:00 lies between those of 06:57:30 and 07:02:30.
    assert first_hour(weather) == "2026-07-09T07:00"
    assert column(weather, "air_temperature_c", 4) == [11.15, 12.35, 13.55]
    assert_allclose(weather.columns["rain_mm"][:, 0], [1.2, 1.2, 1.2], rtol=1e-9)
    assert column(weather, "wind_speed_m_s") == [1.0, 1.0, 1.0]
    assert [(r.name, r.column, r.count, r.line) for r in report.refused] == [
        ("flagged", "shortwave_w_m2", 1, 5)
    ]
    assert (report.step_minutes, report.rows, report.wind_height_m) == (5.0, 48, 1.5)
    assert report.stations == ("53131",)


def test_layout_is_chosen_by_content_not_by_name(tmp_path: Path) -> None:
    for path in sorted(SAMPLES.iterdir()):
        if path.suffix == ".md" or path.name.startswith("crn_hourly"):
            continue
        options = ReadOptions(timezone="UTC")
        renamed = written(tmp_path, path.read_bytes(), "x.bin")
        _, report = read_weather_file(renamed, options)
        assert report.layout == read_weather_file(path, options)[1].layout


def test_layout_named_by_an_option() -> None:
    _, report = sample("pvgis.csv", ReadOptions(layout="pvgis"))
    assert report.layout == "pvgis"


def test_every_column_of_the_layouts_has_a_unit_that_is_known() -> None:
    assert unit_of(Code("rain_mm", "in")).symbol == "in"
    with pytest.raises(ValueError, match="unknown unit 'acre' for rain_mm"):
        unit_of(Code("rain_mm", "acre"))


def test_seconds_since_1970_are_utc_already(tmp_path: Path) -> None:
    lines = (SAMPLES / "open_meteo.csv").read_text("utf-8").splitlines()
    first = np.datetime64("2026-07-09T07:00", "s").astype(int)
    rows = [
        f"{first + 3600 * i},{line.partition(',')[2]}"
        for i, line in enumerate(line for line in lines if line.startswith("2026"))
    ]
    head = [line for line in lines if not line.startswith("2026")]
    weather, _ = read_text(tmp_path, "\n".join([*head, *rows]))
    assert first_hour(weather) == "2026-07-09T07:00"
    assert column(weather, "air_temperature_c") == [10.0, 11.0, 12.0]


def test_a_file_with_dew_point_waits_for_pandas_alone() -> None:
    code = (
        "import sys, pathlib; from hayweather.weather.files import read_weather_file;"
        f"read_weather_file(pathlib.Path({str(SAMPLES / 'tmy3.csv')!r}));"
        "print(sorted({'pandas', 'metpy', 'pint', 'scipy', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['pandas']"
