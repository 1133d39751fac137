"""Plain files: encodings, delimiters, names, units, hours, repairs, and the way back."""

from __future__ import annotations

import gzip
import io
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from weather.files_common import column, first_hour, hourly_rows, read_text, refusal, written

from hayweather.units import INCH_MERCURY_KPA
from hayweather.weather.air import dew_point_from_vapor_pressure, vapor_pressure_from_dew_point
from hayweather.weather.files import ReadOptions, read_weather_file, write_weather_csv
from hayweather.weather.record import COLUMN_KINDS, HourlyWeather, Source

NAN = float("nan")
HEADER = "time_utc,temp_c,dewpoint_c,wind_ms"


def table(rows: list[str], header: str = HEADER, step_minutes: int = 60) -> str:
    stamps = hourly_rows(len(rows), step_minutes=step_minutes)
    lines = [f"{stamp},{row}" for stamp, row in zip(stamps, rows, strict=True)]
    return "\n".join([header, *lines]) + "\n"


SMALL = table(["20,10,1", "19,10,2", "18,10,3"])


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
    "header", ["soil_temp_c", "temp_max_c", "Wind Direction (deg)", "wind_chill_c", "rh_min_pct"]
)
def test_names_that_are_something_else(tmp_path: Path, header: str) -> None:
    rows = [f"{t},10,1,7" for t in (20, 19, 18)]
    weather, report = read_text(tmp_path, table(rows, f"{HEADER},{header}"))
    assert header in report.unused
    assert column(weather, "air_temperature_c") == [20.0, 19.0, 18.0]


def test_unit_row_below_the_names(tmp_path: Path) -> None:
    rows = SMALL.splitlines()
    text = "\n".join(["time_utc,temp,dewpoint,wind", ",F,F,mph", *rows[1:]])
    weather, report = read_text(tmp_path, text.replace("20,10,1", "68,50,10"))
    assert column(weather, "air_temperature_c")[0] == 20.0
    assert report.header_lines == 2


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
    assert [(c.file_name, c.served_as, c.unit) for c in report.columns][1] == (
        "rh",
        "dew_point_c",
        "%",
    )


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


def test_humidity_serves_where_the_dew_point_is_blank(tmp_path: Path) -> None:
    text = table(
        ["20,10,50,1", "40,,14,1", "18,10,60,1"], "time_utc,temp_c,dewpoint_c,rh_pct,wind_ms"
    )
    weather, _ = read_text(tmp_path, text)
    # ASHRAE Fundamentals 2017, ch. 1: 40 C and 14 % have a dew point of 7 C.
    assert_allclose(column(weather, "dew_point_c"), [10.0, 7.0, 10.0], atol=0.5)
    assert not weather.repaired.any()


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


@pytest.mark.parametrize(
    ("header", "options", "height", "origin"),
    [
        ("wind_ms", ReadOptions(), 2.0, "assumed"),
        ("wind_speed_10m (m/s)", ReadOptions(), 10.0, "file"),
        ("WS_3.5m [m/s]", ReadOptions(), 3.5, "file"),
        ("wind_speed_10m (m/s)", ReadOptions(wind_height_m=2.5), 2.5, "option"),
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


def test_dew_point_never_ends_above_a_filled_temperature(tmp_path: Path) -> None:
    weather, _ = read_text(tmp_path, table(["20,15,1", ",18,1", "10,9,1", "10,9,1"]))
    assert column(weather, "air_temperature_c") == [20.0, 15.0, 10.0, 10.0]
    assert column(weather, "dew_point_c") == [15.0, 15.0, 9.0, 9.0]


def test_station_named_in_a_column(tmp_path: Path) -> None:
    text = table(["20,10,1,LKV", "19,10,1,LKV"], f"{HEADER},station")
    _, report = read_text(tmp_path, text)
    assert report.stations == ("LKV",)
