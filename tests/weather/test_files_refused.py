"""What a wrong weather file is told: one line with file, line, value, what to do; exit 2."""

from __future__ import annotations

import gzip
import os
from pathlib import Path

import pytest
from weather.files_common import DEFAULT, hourly_rows, read_text, refusal, sample, written

from hayweather.errors import HayweatherError, OptionError, WeatherFileError
from hayweather.weather.files import ReadOptions, read_weather_file, text

HEADER = "time_utc,temp_c,rh_pct,wind_ms"


def table(*rows: str, header: str = HEADER) -> str:
    """A plain file; rows of values get hourly stamps in front."""
    stamped = [f"{stamp},{row}" for stamp, row in zip(hourly_rows(len(rows)), rows, strict=True)]
    return "\n".join([header, *stamped]) + "\n"


GOOD = ("20,50,1", "19,55,1", "18,60,1")


def test_a_word_far_below_numbers(tmp_path: Path) -> None:
    """A long file is read in parts; a column is judged by all of them, and without a warning."""
    rows = ["20,50,1"] * 40_000
    rows[-2] = "20,5o,1"
    with pytest.raises(WeatherFileError, match=r"line 40000.*5o"):
        read_weather_file(written(tmp_path, table(*rows)))


def test_whole_numbers_far_above_decimals(tmp_path: Path) -> None:
    rows = ["20,50,1"] * 20_000 + ["19.5,50,1"] * 20_000
    read = read_weather_file(written(tmp_path, table(*rows)))[0]
    assert read.columns["air_temperature_c"][[0, 19_999, 20_000, -1], 0].tolist() == [
        20.0,
        20.0,
        19.5,
        19.5,
    ]


def test_missing_file(tmp_path: Path) -> None:
    with pytest.raises(WeatherFileError, match="there is no such file"):
        read_weather_file(tmp_path / "none.csv")


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(WeatherFileError, match="this is a folder"):
        read_weather_file(tmp_path)


def test_name_that_no_system_takes() -> None:
    with pytest.raises(WeatherFileError):
        read_weather_file(Path("x" * 5000))
    with pytest.raises(WeatherFileError):
        read_weather_file(Path("weather\0.csv"))


def test_no_ordinary_file(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(WeatherFileError, match="not an ordinary file"):
        read_weather_file(tmp_path / "pipe")


def test_not_allowed_to_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path, table(*GOOD))

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    # The superuser may read anything, so the refusal of the system is put in its place.
    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(WeatherFileError, match="not allowed to read"):
        read_weather_file(path)


@pytest.mark.parametrize("content", [b"", b"  \n\n", b"\xef\xbb\xbf"])
def test_empty(tmp_path: Path, content: bytes) -> None:
    assert refusal(tmp_path, content).key in ("weather_file_empty", "weather_no_columns")


@pytest.mark.parametrize(
    "content", [bytes(range(256)) * 8, b"PK\x03\x04" + bytes(200), b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"]
)
def test_binary(tmp_path: Path, content: bytes) -> None:
    assert "is not text" in str(refusal(tmp_path, content))


def test_huge_is_refused_before_it_is_read_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(text, "LARGEST_BYTES", 5000)
    assert "more than 0 MB" in str(refusal(tmp_path, "x" * 6000))
    # A packed file of a few bytes that unpacks to a million stops at the limit too.
    bomb = gzip.compress(b"0" * 1_000_000)
    assert len(bomb) < 5000
    assert refusal(tmp_path, bomb).key == "weather_file_huge"


def test_limit_in_force() -> None:
    assert text.LARGEST_BYTES == 200 * 1024 * 1024


@pytest.mark.parametrize("cut", [12, 40, -4])
def test_broken_packed_file(tmp_path: Path, cut: int) -> None:
    packed = gzip.compress(table(*GOOD).encode())
    assert "damaged or cut short" in str(refusal(tmp_path, packed[:cut]))


def test_no_known_columns(tmp_path: Path) -> None:
    error = refusal(tmp_path, "a,b,c\n1,2,3\n")
    assert str(error).startswith('weather.csv: no row of column names is known; the file begins "a')


def test_no_rows(tmp_path: Path) -> None:
    assert "no row of weather" in str(refusal(tmp_path, HEADER + "\n"))


@pytest.mark.parametrize(
    ("header", "named"),
    [
        ("time_utc,rh_pct,wind_ms,x_mm", "air temperature among: rh_pct, wind_ms, x_mm"),
        ("time_utc,temp_c,wind_ms,x_mm", "humidity or dew point among: temp_c, wind_ms, x_mm"),
        ("time_utc,temp_c,rh_pct,x_mm", "wind among: temp_c, rh_pct, x_mm"),
    ],
)
def test_missing_column_names_what_was_found(tmp_path: Path, header: str, named: str) -> None:
    assert named in str(refusal(tmp_path, table("50,50,50", "50,50,50", header=header)))


def test_blank_column(tmp_path: Path) -> None:
    assert '"wind_ms" holds no value' in str(refusal(tmp_path, table("20,50,", "19,50,", "18,50,")))


def test_unit_not_named_shows_the_range_and_what_to_write(tmp_path: Path) -> None:
    error = refusal(tmp_path, table("86,50,1", "77,50,1", header="time_utc,temp,rh_pct,wind_ms"))
    assert '"temp" (values 77 to 86) does not say its unit' in str(error)
    assert '"temp (°C)"' in str(error)


def test_unit_not_known(tmp_path: Path) -> None:
    text_ = table(*GOOD, header="time_utc,temp_c,rh_pct,wind (furlong)")
    error = refusal(tmp_path, text_)
    assert 'unit "furlong" is not known; possible: m/s, km/h, mph, kn' in str(error)


def test_unit_given_twice_differently(tmp_path: Path) -> None:
    error = refusal(tmp_path, table(*GOOD), ReadOptions(units={"temp_c": "F"}))
    assert "two different units (°C, °F)" in str(error)
    error = refusal(tmp_path, table(*GOOD).replace("temp_c", "temp_c (F)"))
    assert 'column "temp_c (F)" names two different units (°C, °F)' in str(error)


def test_unit_given_for_no_column(tmp_path: Path) -> None:
    with pytest.raises(OptionError, match="no such column; it has: temp_c, rh_pct, wind_ms"):
        read_text(tmp_path, table(*GOOD), ReadOptions(units={"tmp": "F"}))


def test_celsius_that_reaches_104(tmp_path: Path) -> None:
    error = refusal(tmp_path, table("86,20,1", "104,20,1", "68,20,1"))
    assert str(error).startswith(
        'weather.csv: line 2: column "temp_c" is called °C but runs from 68 °C to 104 °C; '
        "that looks like °F, correct the unit in its name"
    )


def test_fahrenheit_below_what_is_possible(tmp_path: Path) -> None:
    text_ = table("20,50,1", "-90,50,1", header="time_utc,temp_f,rh_pct,wind_ms")
    assert 'line 3: -90 °F in "temp_f" is not possible' in str(refusal(tmp_path, text_))


def test_humidity_as_share_called_percent(tmp_path: Path) -> None:
    error = refusal(tmp_path, table("20,0.5,1", "19,0.62,1"))
    assert "called percent but runs from 0.5 to 0.62" in str(error)


def test_humidity_without_unit_that_could_be_a_share(tmp_path: Path) -> None:
    header = "time_utc,temp_c,rh,wind_ms"
    error = refusal(tmp_path, table("20,0.5,1", "19,0.62,1", header=header))
    assert '"rh" (values 0.5 to 0.62) does not say its unit' in str(error)


def test_humidity_140(tmp_path: Path) -> None:
    error = refusal(tmp_path, table("20,50,1", "19,140,1", "18,60,1"))
    assert str(error).startswith('weather.csv: line 3: humidity 140 % in "rh_pct" is more than')


def test_dew_point_above_air(tmp_path: Path) -> None:
    header = "time_utc,temp_c,dewpoint_c,wind_ms"
    error = refusal(tmp_path, table("20,10,1", "19,20.6,1", header=header))
    assert "dewpoint_c" in str(error), error
    assert "line 3" in str(error), error


@pytest.mark.parametrize("cell", ["warm", "1_0", "12,5", "inf", "0x10", "٣", "1e999", "-1e308"])
def test_text_in_numbers(tmp_path: Path, cell: str) -> None:
    text_ = table("20,50,1", f'"{cell}",50,1', "18,50,1")
    assert f'line 3: "{cell}" in "temp_c" is not a number' in str(refusal(tmp_path, text_))


@pytest.mark.parametrize("value", ["-9999", "-999", "9999", "-99.9"])
def test_missing_codes_are_no_values_unless_the_file_says_so(tmp_path: Path, value: str) -> None:
    text_ = table("20,50,1", f"{value},50,1", "18,50,1")
    error = refusal(tmp_path, text_)
    assert f"line 3: {value}" in str(error) or "looks like" in str(error)
    weather, _ = read_text(tmp_path, f"# missing: {value}\n" + text_)
    assert weather.repaired[:, 0].tolist() == [False, True, False]


@pytest.mark.parametrize("row", ["20,50", "20,50,1,7"])
def test_row_cut_or_with_a_comma_too_many(tmp_path: Path, row: str) -> None:
    assert "line 3:" in str(refusal(tmp_path, table("20,50,1", row, "18,50,1")))


def test_times_unsorted(tmp_path: Path) -> None:
    lines = table(*GOOD).splitlines()
    error = refusal(tmp_path, "\n".join([lines[0], lines[2], lines[1], lines[3]]))
    assert "line 3: 2026-07-09 00:00 UTC comes after 2026-07-09 01:00 UTC" in str(error)


def test_times_doubled_with_different_values(tmp_path: Path) -> None:
    lines = table(*GOOD).splitlines()
    twice = lines[2].replace("19,55", "14,55")
    error = refusal(tmp_path, "\n".join([*lines[:3], twice, lines[3]]))
    assert "line 4: 2026-07-09 01:00 UTC stands twice" in str(error)
    assert "(14 °C and 19 °C)" in str(error)


def test_time_without_zone(tmp_path: Path) -> None:
    text_ = table(*GOOD).replace("time_utc", "time").replace("Z,", ",")
    error = refusal(tmp_path, text_)
    assert 'line 2: time "2026-07-09T00:00" has no time zone' in str(error)


def test_zone_that_does_not_exist(tmp_path: Path) -> None:
    text_ = table(*GOOD).replace("time_utc", "time").replace("Z,", ",")
    for name in ("America/Nowhere", "UTC+25", "../etc/passwd", "America", ""):
        with pytest.raises(OptionError, match="no time zone"):
            read_text(tmp_path, text_, ReadOptions(timezone=name))


def test_fewer_than_two_hours(tmp_path: Path) -> None:
    assert "at least 2 whole hours are needed" in str(refusal(tmp_path, table("20,50,1")))
    rows = [f"{stamp},20,50,1" for stamp in hourly_rows(6, step_minutes=10)]
    assert "covers 1 h;" in str(refusal(tmp_path, "\n".join([HEADER, *rows])))
    wind_once = table("20,50,1", "19,50,", "18,50,", "17,50,", "16,50,")
    assert "covers 1 h;" in str(refusal(tmp_path, wind_once))


def test_irregular_stamps(tmp_path: Path) -> None:
    text_ = table("20,50,1", "19,50,1", "18,50,1", "17,50,1").replace("T02:00", "T01:07")
    error = refusal(tmp_path, text_)
    assert "line 4: 2026-07-09 01:07 UTC comes 7 minutes after the row before" in str(error)


def test_three_hours_apart(tmp_path: Path) -> None:
    rows = [f"{stamp},20,50,1" for stamp in hourly_rows(8, step_minutes=180)]
    assert "the rows are 3 hours apart" in str(refusal(tmp_path, "\n".join([HEADER, *rows])))


@pytest.mark.parametrize(
    "stamp", ["noon", "2026-13-01T00:00", "2026-07-09T25:00", "0206-07-09", ""]
)
def test_time_not_understood(tmp_path: Path, stamp: str) -> None:
    text_ = table(*GOOD).replace("2026-07-09T01:00Z", stamp)
    assert "line 3: time" in str(refusal(tmp_path, text_))


def test_day_and_month_that_cannot_be_told_apart(tmp_path: Path) -> None:
    rows = [f"7/9/2026 {hour}:00,20,50,1" for hour in range(3)]
    error = refusal(tmp_path, "\n".join([HEADER, *rows]))
    assert 'line 2: in "7/9/2026 0:00" day and month cannot be told apart' in str(error)


def test_several_stations(tmp_path: Path) -> None:
    rows = [f"{name},{hourly_rows(1)[0]},20,50,1" for name in ("LKV", "KLMT")]
    error = refusal(tmp_path, "\n".join(["station," + HEADER, *rows]))
    assert "several stations (LKV, KLMT)" in str(error)


def test_unknown_layout_and_layout_that_does_not_fit(tmp_path: Path) -> None:
    with pytest.raises(OptionError, match='no layout "excel"; known are: open-meteo, epw'):
        read_text(tmp_path, table(*GOOD), ReadOptions(layout="excel"))
    for name in ("open-meteo", "epw", "tmy3", "nsrdb", "pvgis", "isd-lite", "us-crn", "logger"):
        with pytest.raises(HayweatherError):
            read_text(tmp_path, table(*GOOD), ReadOptions(layout=name))


def test_wrong_head_line(tmp_path: Path) -> None:
    error = refusal(tmp_path, "# latitude: 143\n" + table(*GOOD))
    assert 'line 1: "143" is no value for latitude' in str(error)
    assert 'line 1: "noon" is no value for issued' in str(
        refusal(tmp_path, "# issued: noon\n" + table(*GOOD))
    )


def test_every_error_stands_in_both_languages(tmp_path: Path) -> None:
    english = refusal(tmp_path, table("20,140,1", "19,50,1"))
    assert english.line("es").startswith("weather.csv: línea 2: la humedad 140 %")


def test_the_good_table_reads(tmp_path: Path) -> None:
    weather, _ = read_text(tmp_path, table(*GOOD), DEFAULT)
    assert weather.hours == 3
    assert sample("plain_us.csv")[0].hours == 3
