"""Typical years: months of several years in one, and rain whose unit the numbers tell."""

from __future__ import annotations

from pathlib import Path

from numpy.testing import assert_allclose
from weather.files_common import SAMPLES, column, first_hour, read_text, sample

NAN = float("nan")


def test_epw_hours_end_at_the_stamp_and_codes_are_missing() -> None:
    weather, report = sample("typical.epw")
    # Hour 23 ends at 23:00 standard time, UTC-8: the instant of 07:00 UTC.
    assert first_hour(weather) == "2015-07-01T07:00"
    assert column(weather, "air_temperature_c") == [10.0, 11.0, 12.0, 13.0, 14.0]
    assert weather.repaired[:, 0].tolist() == [False, False, False, True, False]
    assert_allclose(column(weather, "shortwave_w_m2"), [200.0, 300.0, NAN, 500.0, NAN])
    assert_allclose(column(weather, "cloud_fraction"), [0.5, 1.0, NAN, NAN, 0.0])
    assert weather.typical_year
    assert report.typical_year
    # Rain only where it was collected over one hour; 99 and 0 hours are no rain of an hour.
    assert_allclose(column(weather, "rain_mm"), [2.5, NAN, NAN, NAN, NAN])


def test_tmy3_hour_24_is_midnight_and_years_are_joined() -> None:
    weather, report = sample("tmy3.csv")
    assert first_hour(weather) == "2015-07-01T07:00"
    assert column(weather, "air_temperature_c") == [10.0, 11.0, 12.0]
    assert_allclose(column(weather, "shortwave_w_m2"), [200.0, 300.0, NAN])
    assert_allclose(column(weather, "rain_mm"), [2.5, NAN, NAN])
    assert_allclose(column(weather, "cloud_fraction"), [0.5, 1.0, NAN])
    assert weather.typical_year
    assert report.stations == ("000000",)


def test_pvgis_months_are_joined_and_the_foot_is_left_out() -> None:
    weather, report = sample("pvgis.csv")
    assert first_hour(weather) == "2015-06-30T22:00"
    assert column(weather, "air_temperature_c") == [10.0, 11.0, 12.0]
    # Half an hour either side of the stamp: the last hour is half covered, by its first half.
    assert column(weather, "shortwave_w_m2") == [150.0, 250.0, 300.0]
    assert column(weather, "pressure_kpa") == [99.0, 99.0, 99.0]
    assert weather.typical_year
    assert report.rows == 3


def typical_rain(amounts: list[str]) -> str:
    """A TMY3 day with these amounts of rain."""
    head = (SAMPLES / "tmy3.csv").read_text("utf-8").splitlines()[:2]
    rows = [
        f"06/30/1999,{hour:02d}:00,0,1,5,{10 + hour % 3}.0,A,0.0,50,870,{hour % 4}.0,{rain},1"
        for hour, rain in enumerate(amounts, start=1)
    ]
    return "\n".join([*head, *rows])


def test_typical_rain_in_tenths_is_told_by_its_numbers(tmp_path: Path) -> None:
    # Tips of 0.01 inch in tenths of mm: 2.54, 5.08, 7.62 ... rounded.
    tips = ["3", "5", "8", "10", "13", "15", "18", "20", "23", "25", "3", "0"]
    weather, report = read_text(tmp_path, typical_rain(tips))
    assert column(weather, "rain_mm")[:3] == [0.5, 0.8, 1.0]
    assert [r.name for r in report.repairs] == ["rain_in_tenths"]
    assert "rain_in_tenths" in [a.key for a in weather.assumed]


def test_typical_rain_in_millimeters_stays(tmp_path: Path) -> None:
    for amounts in (
        ["1", "2", "4", "6", "7", "1", "2", "4", "6", "9", "1", "0"],
        ["0.3", "1.5"] * 6,
    ):
        weather, report = read_text(tmp_path, typical_rain(amounts))
        assert column(weather, "rain_mm")[0] == float(amounts[1])
        assert "rain_in_tenths" not in [r.name for r in report.repairs]


def test_typical_rain_of_few_wet_hours_is_left_out(tmp_path: Path) -> None:
    weather, report = read_text(tmp_path, typical_rain(["0", "3", "0", "0", "8", "0"]))
    assert_allclose(column(weather, "rain_mm"), [NAN, 0.0, 0.0, NAN, 0.0, NAN])
    assert [(r.name, r.count, r.line) for r in report.refused] == [("rain_unit_unclear", 2, 4)]


def test_epw_rain_over_unknown_hours_is_no_rain_of_an_hour(tmp_path: Path) -> None:
    rows = (SAMPLES / "typical.epw").read_text("utf-8").splitlines()
    short = [row.rpartition(",")[0] if row[:1].isdigit() else row for row in rows]
    weather, report = read_text(tmp_path, "\n".join(short))
    assert "rain_mm" not in weather.columns
    assert "liquid precipitation depth" in report.unused
    bare = [",".join(row.split(",")[:33]) if row[:1].isdigit() else row for row in rows]
    _, report = read_text(tmp_path, "\n".join(bare))
    assert "liquid precipitation depth" not in report.unused


def without_last_cells(text: str, count: int) -> str:
    """A TMY3 file without the last cells of its header and rows."""
    head, *rows = text.splitlines()
    return "\n".join([head, *(row.rsplit(",", count)[0] for row in rows)])


def test_tmy3_without_rain_or_its_hours(tmp_path: Path) -> None:
    whole = typical_rain(["0.3", "1.5"] * 3)
    weather, _ = read_text(tmp_path, without_last_cells(whole, 1))
    assert_allclose(column(weather, "rain_mm"), [1.5, 0.3, 1.5, 0.3, 1.5, NAN])
    weather, _ = read_text(tmp_path, without_last_cells(whole, 2))
    assert "rain_mm" not in weather.columns


def test_nsrdb_of_stitched_months_is_a_typical_year(tmp_path: Path) -> None:
    text = (SAMPLES / "nsrdb_60min.csv").read_text("utf-8")
    head, rows = text.splitlines()[:3], text.splitlines()[3:]
    assert all(row.startswith("2026,7,9,") for row in rows)
    june = [row.replace("2026,7,9,", "2027,6,30,") for row in rows]
    weather, report = read_text(tmp_path, "\n".join([*head, *june, *rows]))
    assert report.typical_year
    assert weather.typical_year
    assert first_hour(weather) == "2015-06-30T15:00"
