"""Plain files: encodings, delimiters, names, units, head lines, and what is reported."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from weather.files_common import (
    HEADER,
    SMALL,
    column,
    read_text,
    refusal,
    table,
    written,
)

from hayweather.errors import WeatherFileError
from hayweather.units import INCH_MERCURY_KPA
from hayweather.weather.files import ReadOptions, read_weather_file


@pytest.mark.parametrize(
    ("encoding", "found"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("utf-16", "utf-16"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("cp1252", "cp1252"),
    ],
)
@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_encodings(tmp_path: Path, encoding: str, found: str, line_end: str) -> None:
    text = SMALL.replace("temp_c", "Temp (°C)").replace("\n", line_end)
    weather, report = read_text(tmp_path, text.encode(encoding))
    assert column(weather, "air_temperature_c") == [20.0, 19.0, 18.0]
    assert report.encoding == found


def test_packed_whatever_its_name(tmp_path: Path) -> None:
    path = written(tmp_path, gzip.compress(SMALL.encode()), "weather.csv")
    weather, report = read_weather_file(path)
    assert weather.hours == 3
    assert report.compressed
    assert read_weather_file(written(tmp_path, SMALL, "weather.gz"))[0].hours == 3


@pytest.mark.parametrize(("delimiter", "name"), [(",", ","), (";", ";"), ("\t", "tab"), ("|", "|")])
def test_delimiters(tmp_path: Path, delimiter: str, name: str) -> None:
    _, report = read_text(tmp_path, SMALL.replace(",", delimiter))
    assert (report.delimiter, report.decimal_mark, report.header_lines) == (name, ".", 1)


@pytest.mark.parametrize(
    ("header", "value", "name", "inside"),
    [
        ("Temp (F)", "86", "air_temperature_c", 30.0),
        ("tempF", "86", "air_temperature_c", 30.0),
        ("air_temperature_k", "303.15", "air_temperature_c", 30.0),
        ("Temperatura del aire (ºC)", "30", "air_temperature_c", 30.0),
        ("T2m [degC]", "30", "air_temperature_c", 30.0),
        ("AirTC", "30", "air_temperature_c", 30.0),
        ("Temp °C (LGR S/N: 1)", "30", "air_temperature_c", 30.0),
        ("Dry Bulb Temperature (Deg C)", "30", "air_temperature_c", 30.0),
        ("wind_mph", "10", "wind_speed_m_s", 4.4704),
        ("Wind Speed (knots)", "10", "wind_speed_m_s", 5.144444),
        ("wind [km/h]", "36", "wind_speed_m_s", 10.0),
        ("viento (m/s)", "3", "wind_speed_m_s", 3.0),
        ("wind_speed_m_s", "3", "wind_speed_m_s", 3.0),
        ("Gust (mph)", "10", "wind_gust_m_s", 4.4704),
        ("rain_in", "0.1", "rain_mm", 2.54),
        ("Precip (cm)", "1", "rain_mm", 10.0),
        ("rain (mm/h)", "2", "rain_mm", 2.0),
        ("Baro (inHg)", "25", "pressure_kpa", 25 * INCH_MERCURY_KPA),
        ("pressure_hpa", "850", "pressure_kpa", 85.0),
        ("surface_pressure_pa", "85000", "pressure_kpa", 85.0),
        ("surface_pressure (mbar)", "850", "pressure_kpa", 85.0),
        ("Solar (MJ/m2)", "1.8", "shortwave_w_m2", 500.0),
        ("solar_radiation_w_m2", "500", "shortwave_w_m2", 500.0),
        ("Solar Rad (Wh/m^2)", "500", "shortwave_w_m2", 500.0),
        ("cloud_tenths", "5", "cloud_fraction", 0.5),
        ("cloud (oktas)", "4", "cloud_fraction", 0.5),
        ("cloud_cover (%)", "50", "cloud_fraction", 0.5),
        ("nubosidad (%)", "50", "cloud_fraction", 0.5),
        ("precipitation_probability (%)", "40", "rain_chance_percent", 40.0),
    ],
)
def test_names_and_units(tmp_path: Path, header: str, value: str, name: str, inside: float) -> None:
    base = {"air_temperature_c": "temp_c", "wind_speed_m_s": "wind_ms"}
    columns = {"temp_c": "30", "dewpoint_c": "5", "wind_ms": "1"}
    columns.pop(base.get(name, ""), None)
    columns[header] = value
    row = ",".join(columns.values())
    text = table([row, row, row], ",".join(["time_utc", *columns]))
    weather, _ = read_text(tmp_path, text)
    assert_allclose(weather.columns[name][:, 0], inside, rtol=1e-6)


@pytest.mark.parametrize(
    "header",
    ["soil_temp_c", "temp_max_c", "Wind Direction (deg)", "wind_chill_c", "rh_min_pct", "rh_raw"],
)
def test_names_that_are_something_else(tmp_path: Path, header: str) -> None:
    rows = [f"{t},10,1,7" for t in (20, 19, 18)]
    weather, report = read_text(tmp_path, table(rows, f"{HEADER},{header}"))
    assert header in report.unused
    assert column(weather, "air_temperature_c") == [20.0, 19.0, 18.0]


def test_of_two_columns_of_a_kind_the_one_that_says_its_unit_serves(tmp_path: Path) -> None:
    rows = ["20,30,10,1", "19,29,10,1"]
    _, report = read_text(tmp_path, table(rows, "time_utc,temp_c,air_temp,dewpoint_c,wind_ms"))
    assert report.unused == ("air_temp",)
    weather, report = read_text(
        tmp_path, table(rows, "time_utc,temp,air_temp_c,dewpoint_c,wind_ms")
    )
    assert report.unused == ("temp",)
    assert column(weather, "air_temperature_c") == [30.0, 29.0]


def test_a_unit_of_something_else(tmp_path: Path) -> None:
    text = table(["20,10,1,0.5", "19,10,1,0.5"], f"{HEADER},cloud (acres)")
    assert refusal(tmp_path, text).key == "weather_unit_unknown"


def test_quotes_that_never_end(tmp_path: Path) -> None:
    """A cell that never ends makes a line longer than any row of weather: one line, refused."""
    text = table(["20,10,1", "19,10,1"], HEADER + ',"' + "x" * 140_000)
    assert "line 1" in refusal(tmp_path, text).line()


def test_unit_row_below_the_names(tmp_path: Path) -> None:
    rows = SMALL.splitlines()
    text = "\n".join(["time_utc,temp,dewpoint,wind", ",F,F,mph", *rows[1:]])
    weather, report = read_text(tmp_path, text.replace("20,10,1", "68,50,10"))
    assert column(weather, "air_temperature_c")[0] == 20.0
    assert report.header_lines == 2


def test_a_row_with_a_time_is_no_row_of_units(tmp_path: Path) -> None:
    header, *rows = SMALL.splitlines()
    error = refusal(tmp_path, "\n".join([header, "Thursday 9 July,NA,NA,NA", *rows]))
    assert (error.key, error.values["line"]) == ("weather_time_not_understood", 2)


def test_a_header_alone_and_remarks_between_rows(tmp_path: Path) -> None:
    assert refusal(tmp_path, HEADER).key == "weather_no_rows"
    header, first, *rows = SMALL.splitlines()
    text = "\n".join([header, first, "# sensor cleaned", "", *rows])
    assert column(read_text(tmp_path, text)[0], "air_temperature_c") == [20.0, 19.0, 18.0]


def test_unit_by_option(tmp_path: Path) -> None:
    text = SMALL.replace(HEADER, "time_utc,temp,dewpoint_c,wind_ms").replace("20,10", "68,10")
    options = ReadOptions(units={"Temp": "F"})
    weather, report = read_text(
        tmp_path, text.replace("19,", "66.2,").replace("18,", "64.4,"), options
    )
    assert column(weather, "air_temperature_c") == [20.0, 19.0, 18.0]
    assert {c.unit for c in report.columns if c.file_name == "temp"} == {"°F"}


def test_percent_is_proved_by_its_values(tmp_path: Path) -> None:
    text = table(["20,50,1", "19,55,1", "18,60,1"], "time_utc,temp_c,rh,wind_ms")
    _, report = read_text(tmp_path, text)
    assert [(c.file_name, c.served_as, c.holds, c.unit) for c in report.columns][1] == (
        "rh",
        "dew_point_c",
        "relative_humidity_percent",
        "%",
    )


@pytest.mark.parametrize(
    ("header", "options", "height", "origin"),
    [
        ("wind_ms", ReadOptions(), 2.0, "assumed"),
        ("wind_speed_10m (m/s)", ReadOptions(), 10.0, "file"),
        ("WS_3.5m [m/s]", ReadOptions(), 3.5, "file"),
        ("wind_speed_10m (m/s)", ReadOptions(wind_height_m=10.06), 10.06, "option"),
        ("wind_ms", ReadOptions(wind_height_m=2.5), 2.5, "option"),
    ],
)
def test_wind_height(
    tmp_path: Path, header: str, options: ReadOptions, height: float, origin: str
) -> None:
    weather, report = read_text(tmp_path, SMALL.replace("wind_ms", header), options)
    assert (weather.wind_height_m, report.wind_height_from) == (height, origin)
    told = [a for a in weather.assumed if a.key == "wind_height"]
    assert [a.values for a in told] == (
        [{"height": (2.0, "length")}] if origin == "assumed" else []
    )


def test_a_wind_height_that_contradicts_the_file_is_refused(tmp_path: Path) -> None:
    text = SMALL.replace("wind_ms", "wind_speed_10m (m/s)")
    with pytest.raises(WeatherFileError, match=r"its wind is 10 m .* wind_height says 2 m"):
        read_text(tmp_path, text, ReadOptions(wind_height_m=2.0))
    assert read_text(tmp_path, text, ReadOptions(wind_height_m=9.8))[0].wind_height_m == 9.8


HEIGHTS = """time_utc,temp_10m (C),temp_2m (C),rh_10m (%),rh_2m (%),wind_2m (m/s),wind_80m (m/s),\
wind_10m (m/s)
2025-07-06T20:00Z,20,27,30,23,1,9,3
2025-07-06T21:00Z,20,27,30,23,1,9,3
"""


def test_of_several_heights_the_usual_one_serves_whatever_the_order(tmp_path: Path) -> None:
    lines = [line.split(",") for line in HEIGHTS.replace("\\\n", "").strip().split("\n")]
    for order in ([0, 1, 2, 3, 4, 5, 6, 7], [0, 7, 6, 5, 4, 3, 2, 1], [0, 5, 7, 2, 1, 6, 4, 3]):
        text = "\n".join(",".join(line[i] for i in order) for line in lines) + "\n"
        weather, _ = read_text(tmp_path, text)
        assert (weather.columns["air_temperature_c"] == 27).all()
        assert (weather.columns["wind_speed_m_s"] == 3).all()
        assert weather.wind_height_m == 10
        assert weather.columns["dew_point_c"][0, 0] == pytest.approx(4.1, abs=0.3)
        low, _ = read_text(tmp_path, text, ReadOptions(wind_height_m=2))
        assert (low.columns["wind_speed_m_s"] == 1).all()


def test_a_column_that_nobody_could_name_is_named_aloud_once(tmp_path: Path) -> None:
    text = SMALL.replace("wind_ms", "wind_ms,raingauge 4,soil_temp_c,sunrise,precip accum x", 1)
    text = "\n".join(
        line if i == 0 or not line else line + ",0,20,5,1"
        for i, line in enumerate(text.split("\n"))
    )
    told = [a for a in read_text(tmp_path, text)[0].assumed if a.key == "columns_unread"]
    assert [a.values for a in told] == [{"columns": "raingauge 4, precip accum x"}]


def test_head_lines(tmp_path: Path) -> None:
    head = (
        "# source: met mast\n# issued: 2026-07-09T00:30Z\n# attribution: data by us\n"
        "# latitude: 43.2\n# longitude: -120.6\n# elevation_m: 1320\n"
        "# timezone: America/Los_Angeles\n# wind_height_m: 3\n# hour: end\n"
    )
    weather, report = read_text(tmp_path, head + SMALL)
    assert weather.source.name == "met mast"
    assert weather.source.issued == np.datetime64("2026-07-09T00:30:00")
    assert weather.source.attribution == "data by us"
    assert (weather.latitude, weather.longitude, weather.elevation_m) == (43.2, -120.6, 1320.0)
    assert weather.timezone == "America/Los_Angeles"
    assert (weather.wind_height_m, report.hour, report.header_lines) == (3.0, "end", 10)


@pytest.mark.parametrize(
    "said", ["hour: noon", "missing: -9999, none", "wind_height_m: 0", "latitude: north"]
)
def test_head_lines_that_say_nothing_sensible(tmp_path: Path, said: str) -> None:
    key, _, value = said.partition(": ")
    error = refusal(tmp_path, f"# made by hand\n\n# {said}\n{SMALL}")
    assert error.key == "weather_head_line"
    assert error.values == {"line": 3, "fact": key, "value": value}


def test_times_of_head_lines_are_brought_to_utc(tmp_path: Path) -> None:
    head = "# issued: 2026-07-08T18:00-06:00\n# fetched: 2026-07-09 01:00\n"
    weather, _ = read_text(tmp_path, head + SMALL)
    assert weather.source.issued == np.datetime64("2026-07-09T00:00:00")
    assert weather.source.fetched == np.datetime64("2026-07-09T01:00:00")


def test_head_lines_without_a_table(tmp_path: Path) -> None:
    assert refusal(tmp_path, "# source: met mast\n# hour: end\n").key == "weather_no_columns"
    long_talk = "\n".join(["one line of talk"] * 70)
    assert refusal(tmp_path, f"{long_talk}\n{SMALL}").key == "weather_no_columns"


def test_file_time_stands_for_the_issue_time(tmp_path: Path) -> None:
    path = written(tmp_path, SMALL)
    weather, _ = read_weather_file(path)
    assert weather.source.name == "weather.csv"
    assert weather.source.issued == np.datetime64(int(path.stat().st_mtime), "s")


def test_report_names_what_it_read(tmp_path: Path) -> None:
    text = table(["20,10,1,x", "19,10,2,", "18,10,3,"], f"{HEADER},note")
    _, report = read_text(tmp_path, text)
    assert [(c.file_name, c.served_as, c.unit, c.timing) for c in report.columns] == [
        ("temp_c", "air_temperature_c", "°C", "instant"),
        ("dewpoint_c", "dew_point_c", "°C", "instant"),
        ("wind_ms", "wind_speed_m_s", "m/s", "instant"),
    ]
    assert report.unused == ("note",)
    assert (report.rows, report.hours, report.step_minutes) == (3, 3, 60.0)
    assert (report.first, report.last) == (
        np.datetime64("2026-07-09T00:00:00"),
        np.datetime64("2026-07-09T02:00:00"),
    )


def test_station_named_in_a_column(tmp_path: Path) -> None:
    text = table(["20,10,1,LKV", "19,10,1,LKV"], f"{HEADER},station")
    _, report = read_text(tmp_path, text)
    assert report.stations == ("LKV",)


def test_a_column_of_numbers_read_at_once_is_that_read_cell_by_cell(tmp_path: Path) -> None:
    """A blank cell in another column sends all of them through texts: not a digit changes."""
    head = "time_utc,temp_c,rh_pct,wind_ms,rain_mm\n"
    draw = np.random.default_rng(3)
    rows = [
        f"2025-07-{1 + hour // 24:02d}T{hour % 24:02d}:00Z,{air!r},{humid:.3f},{wind:.2e},{rain}"
        for hour, (air, humid, wind) in enumerate(draw.uniform(1.0, 40.0, (96, 3)).tolist())
        for rain in (hour % 3,)
    ]
    whole, noted = tmp_path / "whole.csv", tmp_path / "noted.csv"
    whole.write_text(head + "\n".join(rows) + "\n", encoding="utf-8")
    noted.write_text(head + "\n".join(["# noted", *rows]) + "\n\n", encoding="utf-8")
    (one, _), (other, _) = read_weather_file(whole), read_weather_file(noted)
    for name, values in one.columns.items():
        np.testing.assert_array_equal(values, other.columns[name], err_msg=name)


@pytest.mark.parametrize("cell", ["inf", "nan?", "1e400", "True", "0x1F", "1_0", "٣"])
def test_what_pandas_might_take_for_a_number_is_still_refused(tmp_path: Path, cell: str) -> None:
    rows = [f"2025-07-01T{hour:02d}:00Z,20.0,30,2.0" for hour in range(24)]
    rows[5] = rows[5].replace("20.0", cell)
    path = tmp_path / "odd.csv"
    path.write_text("time_utc,temp_c,rh_pct,wind_ms\n" + "\n".join(rows), encoding="utf-8")
    with pytest.raises(WeatherFileError, match="line 7"):
        read_weather_file(path)


@pytest.mark.parametrize("word", ["M", "m", "missing", "NA", "--"])
def test_usual_words_for_missing_leave_a_cell_blank(tmp_path: Path, word: str) -> None:
    """As weather offices write it; a short gap is filled and named, a longer one stays blank."""
    rows = ["20,10,1", f"{word},9,2", "18,8,3", *[f"{word},9,2"] * 9, "18,8,3"]
    weather, _ = read_text(tmp_path, table(rows))
    air = weather.columns["air_temperature_c"][:, 0]
    assert weather.repaired[1, 0]
    assert np.isnan(air[3:12]).all()
    assert not np.isnan(air[[0, 2, 12]]).any()
