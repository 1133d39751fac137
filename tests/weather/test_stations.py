"""Stations as they are read: files that grow, official stations, messages of sensors."""

import json
import os
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from cli.service_farms import farm_with
from weather import server_answers as answers
from weather.services_common import SITE, settings_for

from hayweather.errors import FarmFileError, HayweatherError
from hayweather.farm import read_farm
from hayweather.farm.records import Station
from hayweather.log.joined import station_in
from hayweather.log.records import Observation
from hayweather.weather.files.station import observed_in, read_station, station_from
from hayweather.weather.files.table import ReadOptions
from hayweather.weather.files.text import FileText
from hayweather.weather.messages import rows_of
from hayweather.weather.record import HOUR
from hayweather.weather.services.us_nws_stations import (
    fetch_observed,
    observed_of,
    read_reports,
    read_stations,
)
from hayweather.weather.stations import options_of
from hayweather.words import Remark

DENVER = ReadOptions(timezone="America/Denver")
NOW = np.datetime64("2025-07-09T02:20", "s")


def read(text, options=DENVER, name="yard.csv"):
    return observed_in(FileText(name, text.split("\n"), "utf-8", False, NOW), options)


def fresh(folder, text, written=None):
    """A file that was written just now, and the time that is now."""
    path = folder / "yard.csv"
    path.write_bytes(text.encode())
    now = np.datetime64(datetime.now(UTC).replace(tzinfo=None), "s")
    if written is not None:
        at = float((now - written).astype(np.int64))
        os.utime(path, (at, at))
    return path, now


EXPORTS = {
    "signs, am and pm, month first": (
        "Date,Outdoor Temperature (℉),Humidity(%),Wind Speed (mph),Daily Rain (in)\n"
        "7/8/2025 8:05 PM,68.0,50,5,0.4\n7/8/2025 8:10 PM,66.2,52,5,0.4\n",
        replace(DENVER, day_first=False),
    ),
    "day first": (
        "Date;Time;Temp Out (°F);Out Hum (%);Wind (mph)\n"
        "08/07/2025;20:05;68,0;50;5\n08/07/2025;20:10;66,2;52;5\n",
        replace(DENVER, day_first=True),
    ),
    "no units": (
        "time,temp,hum,wind\n2025-07-08 20:05,68.0,50,5\n2025-07-08 20:10,66.2,52,5\n",
        replace(DENVER, usual_units={"temperature": "F", "wind_speed": "mph"}),
    ),
    "names by key": (
        "time,T1 (C),H1,W1 (m/s),temp (C)\n2025-07-08 20:05,20,50,2.2352,99\n"
        "2025-07-08 20:10,19,52,2.2352,98\n",
        replace(DENVER, names={
            "t1 (c)": "air_temperature_c", "h1": "relative_humidity_percent",
            "w1 (m/s)": "wind_speed_m_s",
        }),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", EXPORTS)
def test_common_exports_are_read(name):
    text, options = EXPORTS[name]
    found = read(text, options)
    assert list(found.times) == [
        np.datetime64("2025-07-09T02:05"),
        np.datetime64("2025-07-09T02:10"),
    ]
    np.testing.assert_allclose(found.columns["air_temperature_c"], [20.0, 19.0], atol=1e-9)
    # 20 C and 50 %: 9.3 C by the ASHRAE table as MetPy has it
    assert found.columns["dew_point_c"][0] == pytest.approx(9.3, abs=0.1)
    np.testing.assert_allclose(found.columns["wind_speed_m_s"], 2.2352, atol=1e-9)
    assert not found.rain_mm.size


def test_a_date_that_fits_both_ways_wants_to_be_told():
    text = EXPORTS["signs, am and pm, month first"][0]
    with pytest.raises(HayweatherError, match=r"7/8/2025"):
        read(text.replace("7/8/2025 8:10", "8/9/2025 8:10"))
    assert read(text, replace(DENVER, day_first=True)).last == np.datetime64("2025-08-08T02:10")


HEAD = "time,temp_c,humidity\n"


def test_a_line_being_written_waits_and_is_never_doubled(tmp_path):
    rows = [f"2025-07-08 20:{minute:02d},2{minute % 10}.5,50\n" for minute in range(0, 50, 5)]
    whole = HEAD + "".join(rows)
    for cut in range(len(HEAD) + 2 * len(rows[0]), len(whole) + 1):
        path, now = fresh(tmp_path, whole[:cut])
        found = read_station(path, DENVER, now)
        count = whole[:cut].count("\n") - 1
        assert found.times.size == count
        expected = [20 + minute % 10 + 0.5 for minute in range(0, 5 * count, 5)]
        assert found.columns["air_temperature_c"].tolist() == expected
        assert not found.notes
    path, now = fresh(tmp_path, whole.rstrip("\n"), written=np.timedelta64(3600, "s"))
    assert read_station(path, DENVER, now).times.size == len(rows)  # nobody writes it any more


def test_broken_lines_and_impossible_values_cost_themselves_alone(tmp_path):
    rows = [f"2025-07-08 20:{minute:02d},21.5,50" for minute in range(30)]
    rows[7], rows[12] = "2025-07-08 20:07,21", "2025-07-08 20:12,850.0,50"
    path, now = fresh(tmp_path, HEAD + "\n".join([*rows, rows[3]]) + "\n")
    found = read_station(path, DENVER, now)
    assert [note.key for note in found.notes] == ["station_lines_cut", "station_impossible"]
    assert found.times.size == 29  # the row that stands twice is one
    assert np.isnan(found.columns["air_temperature_c"]).sum() == 1


def test_a_rain_that_counts_up_is_no_rain_of_a_row():
    rows = [f"2025-07-08 20:{minute:02d},21.5,50,3.2\n" for minute in range(60)]
    found = read("time,temp_c,humidity,rain_mm\n" + "".join(rows))
    assert [note.key for note in found.notes] == ["station_rain_counter"]
    assert found.rain_start is None
    rows = [f"2025-07-08 {hour}:{minute:02d},21.5,50,0.1\n" if minute % 10 == 0 else
            f"2025-07-08 {hour}:{minute:02d},21.5,50,0\n"
            for hour in (20, 21) for minute in range(0, 60, 5)]  # fmt: skip
    found = read("time,temp_c,humidity,rain_mm\n" + "".join(rows) + "2025-07-08 22:00,21,50,0\n")
    assert found.rain_mm[0] == pytest.approx(0.6)


def test_a_table_of_a_notebook_is_a_station():
    import pandas as pd

    index = pd.date_range("2025-07-08 20:00", periods=4, freq="15min", tz="America/Denver")
    frame = pd.DataFrame({"temp_c": [20.0, 19, 18, 17], "rh": [50.0, 52, 55, 57]}, index=index)
    found = station_from(frame, DENVER)
    assert found.last == np.datetime64("2025-07-09T02:45")
    assert found.columns["dew_point_c"][0] == pytest.approx(9.3, abs=0.1)


RECORDED = Path(os.environ.get("HAYWEATHER_RECORDED", "")) / "nws"


@pytest.mark.skipif(
    "HAYWEATHER_RECORDED" not in os.environ, reason="HAYWEATHER_RECORDED names no folder"
)
@pytest.mark.parametrize(
    ("name", "air", "wind"),
    [("alternate_units", (10 - 32) / 1.8, 10 / 3.6), ("other_unitcode", 10.0, 10.0),
     ("strings", 10.0, 10.0), ("multiple_unsorted", 10.0, 10.0), ("empty", None, None)],
)  # fmt: skip
def test_recorded_answers_are_read(name, air, wind):
    """Answers of the service as a public client's tests recorded them (SOURCES.md)."""
    answer = json.loads((RECORDED / f"stations_observations_{name}.json").read_text())
    found = observed_of("KFLL", read_reports(answer))
    if air is None:
        assert found.last is None
        return
    assert found.columns["air_temperature_c"][-1] == pytest.approx(air)
    assert found.columns["wind_speed_m_s"][-1] == pytest.approx(wind)
    assert (np.diff(found.times) > np.timedelta64(0, "s")).all()
    places = read_stations(json.loads((RECORDED / "gridpoints_stations.json").read_text()))
    assert (places[0].id, len(places)) == ("KCMH", 41)
    assert places[0].elevation_m == pytest.approx(245.9736)


def test_the_nearest_official_station_says_how_far(server, tmp_path):
    now = np.datetime64("2017-07-11T07:20", "s")
    server.always = None
    found = fetch_observed(SITE, settings_for(server, tmp_path), now=now)
    assert found.station == "KCAG"
    assert found.away_km == pytest.approx(11.1, abs=0.2)
    assert found.higher_m == pytest.approx(1887 - 2168)
    assert found.official
    assert not np.isnan(found.rain_mm).any()
    far = fetch_observed(SITE, settings_for(server, tmp_path), now=now, station="kfar")
    assert (far.station, round(far.away_km)) == ("KFAR", 130)
    kept = fetch_observed(SITE, settings_for(server, tmp_path), now=now, offline=True)
    np.testing.assert_array_equal(kept.times, found.times)


def test_reports_without_weather_do_not_tell_that_it_was_dry():
    answer = answers.us_nws_observations(hours=30)
    for feature in answer["features"][5:9]:
        feature["properties"]["rawMessage"] = ""
    for feature in answer["features"][12:14]:
        feature["properties"]["presentWeather"] = [{"weather": "rain", "intensity": "light"}]
    assert np.isnan(observed_of("KCAG", read_reports(answer)).rain_mm).sum() == 6


def test_what_a_message_says():
    site, at = SITE, np.datetime64("2025-07-09T05:00:07", "s")
    yard = Station("yard", broker="127.0.0.1", topic="farm/#")
    rows = rows_of(yard, site, "farm/yard", b'{"ts": 1752037200, "temp_c": 14.5, "hum": 81}', at)
    stamp = np.datetime64("2025-07-09T05:00:00")
    assert [row[1:] for row in rows] == [
        (stamp, "air_temperature_c", 14.5), (stamp, "relative_humidity_percent", 81.0)
    ]  # fmt: skip
    named = replace(yard, temperature="t", humidity="h", temperature_unit="F", time="when")
    local = b'{"when": "2025-07-08 23:00", "t": "58.1", "h": 81, "battery": 3.1, "temp_c": 40}'
    rows = rows_of(named, site, "farm/yard", local, at)
    assert [(row[1], row[2]) for row in rows] == [
        (stamp, "air_temperature_c"), (stamp, "relative_humidity_percent")
    ]  # fmt: skip
    assert rows[0][3] == pytest.approx(14.5)
    (row,) = rows_of(yard, site, "farm/yard/humidity", b"81.5", at)
    assert row == ("yard", at, "relative_humidity_percent", 81.5)
    for payload, key in (
        (b"\xff\x00", "listen_unread"), (b'{"temperature": 14}', "listen_unit"),
        (b'{"battery": 3}', "listen_nothing"), (b"[" * 9999, "listen_unread"),
        (b'{"time": "soon", "temp_c": 4}', "listen_time"), (b'{"temp_c": 900}', "listen_nothing"),
    ):  # fmt: skip
        found = rows_of(yard, site, "farm/yard", payload, at)
        assert isinstance(found, Remark)
        assert found.key == key


def test_air_and_humidity_sent_apart_meet_in_the_log():
    start = np.datetime64("2025-07-09T05:00", "s")
    rows = []
    for minute in range(0, 60, 5):
        at = start + np.timedelta64(60 * minute, "s")
        rows.append(Observation("yard", at, "air_temperature_c", 20.0))
        later = at + np.timedelta64(40, "s")
        rows.append(Observation("yard", later, "relative_humidity_percent", 50.0))
    found = station_in("yard", rows)
    assert found.columns["dew_point_c"][1] == pytest.approx(9.3, abs=0.1)
    assert found.on_hours(start + HOUR // 2, 1)["dew_point_c"][0] == pytest.approx(9.3, abs=0.1)
    assert found.last == rows[-1].time


KEYS = (
    ('file = "a.csv"\nobserved = "us-nws"', "exactly one of"),
    ("timezone = \"UTC\"", "exactly one of"),
    ('file = "a.csv"\nbroker = "b"', "broker"),
    ('topic = "a"', "needs broker"),
    ('observed = "us-nws"\nunits = "us"', "units"),
    ('file = "a.csv"\nlatitude = 43', "longitude"),
    ('file = "a.csv"\ntemprature = "t"', "temperature"),
)  # fmt: skip


@pytest.mark.parametrize(("keys", "said"), KEYS)
def test_a_wrong_station_is_one_line(tmp_path, keys, said):
    with pytest.raises(FarmFileError, match=said):
        read_farm(farm_with(tmp_path, f"[station.yard]\n{keys}\n"))


def test_a_field_names_its_station(tmp_path):
    more = '[station.yard]\nfile = "a.csv"\n[station.far]\nfile = "b.csv"\nlatitude = 41\n'
    more += 'longitude = -108\ntemperature_unit = "F"\nunits = "metric"\n'
    farm = read_farm(farm_with(tmp_path, more))
    from hayweather.weather.stations import station_of

    north = farm.fields["north"]
    assert station_of(farm, north).name == "yard"
    assert station_of(farm, replace(north, station="far")).name == "far"
    units = options_of(farm.stations[1], SITE).usual_units
    assert (units["temperature"], units["wind_speed"]) == ("F", "km/h")
    with pytest.raises(FarmFileError, match="yard"):
        read_farm(farm_with(tmp_path, more + '[field.south]\ncured = true\nstation = "yrd"\n'))
