"""Airport observations: several reports an hour, of which one closes it."""

from __future__ import annotations

from pathlib import Path

from numpy.testing import assert_allclose
from weather.files_common import SAMPLES, column, first_hour, read_text, refusal, sample

from hayweather.weather.files import ReadOptions

NAN = float("nan")


def test_asos_reports_at_53_close_their_hour() -> None:
    weather, report = sample("asos.txt", ReadOptions(site_elevation_m=1443.0))
    assert first_hour(weather) == "2026-07-09T06:00"
    # 06:00 lies 7 of 27 minutes from 50.0 F (05:53) to 52.0 F (06:20).
    assert column(weather, "air_temperature_c", 3)[0] == round((50 + 2 * 7 / 27 - 32) / 1.8, 3)
    # 0.10 in by 06:53 is the rain of the hour from 06:00; the 0.05 of 06:20 is part of it.
    assert_allclose(column(weather, "rain_mm"), [2.54, 0.0, NAN, 0.0])
    assert_allclose(column(weather, "wind_speed_m_s")[0], 10 * 1852 / 3600, rtol=1e-6)
    assert report.stations == ("LKV",)
    assert (report.timezone, report.wind_height_m) == ("Etc/UTC", 10.0)
    assert {r.name for r in report.repairs} >= {"trace_as_none"}
    # Altimeter 30.00 inHg (101.59 kPa) at 1443 m is near the standard 85 kPa.
    assert_allclose(weather.columns["pressure_kpa"][0, 0], 85.4, atol=0.2)


def test_airport_export_of_several_stations(tmp_path: Path) -> None:
    text = (
        (SAMPLES / "asos.txt").read_text("utf-8").replace("LKV,2026-07-09 09", "LMT,2026-07-09 09")
    )
    assert "several stations (LKV, LMT)" in str(refusal(tmp_path, text))


def reports(header: str, *rows: str) -> str:
    return "\n".join([header, *rows])


HEADER = "valid(UTC),lat,lon,elevation,tmpf,dwpf,sknt,p01i"
ROWS = (
    "2026-07-09 05:53,42.2,-120.4,1443,50,32,10,0.00",
    "2026-07-09 06:20,42.2,-120.4,1443,52,32,10,0.05",
    "2026-07-09 06:53,42.2,-120.4,1443,54,34,10,0.10",
    "2026-07-09 07:53,42.2,-120.4,1443,57,36,10,0.00",
    "2026-07-09 08:53,42.2,-120.4,1443,60,38,10,0.01",
)


def test_without_sea_level_pressure_the_usual_minute_closes_the_hour(tmp_path: Path) -> None:
    weather, report = read_text(tmp_path, reports(HEADER, *ROWS))
    # 06:20 is no report of the usual minute 53: its 0.05 in are part of the 0.10 of 06:53.
    assert_allclose(column(weather, "rain_mm"), [2.54, 0.0, 0.254])
    assert report.stations == ()
    assert (weather.latitude, weather.longitude, weather.elevation_m) == (42.2, -120.4, 1443.0)


def test_a_place_that_is_missing_is_not_known(tmp_path: Path) -> None:
    rows = [row.replace("42.2", "M") for row in ROWS]
    weather, _ = read_text(tmp_path, reports(HEADER, *rows))
    assert (weather.latitude, weather.longitude, weather.elevation_m) == (None, None, None)


def test_a_header_without_a_time_is_no_export(tmp_path: Path) -> None:
    error = refusal(tmp_path, reports(HEADER.replace("valid(UTC)", "validity"), *ROWS))
    assert error.key == "weather_no_columns"
