"""Nights that stand on a station, by the commands: the US grid after midnight, sensors."""

import json
import threading
from datetime import UTC, datetime

import numpy as np
import pytest
from cli.commands import done, refused
from cli.service_farms import farm_with
from support.broker import Sensor, TestBroker
from weather import server_answers as answers

from hayweather import nights
from hayweather.cli.main import run
from hayweather.farm import read_farm
from hayweather.log import open_log
from hayweather.weather import asked
from hayweather.weather.record import HOUR


@pytest.fixture
def at_night(server, monkeypatch):
    """1:20 am of 11 July 2017 on the wall."""
    now = np.datetime64("2017-07-11T07:20", "s")
    monkeypatch.setattr(asked, "wall_clock", lambda: now)
    usual = nights.night_of
    few = lambda *given, **more: usual(*given, **{**more, "members": 12})  # noqa: E731
    monkeypatch.setattr(nights, "night_of", few)
    past = answers.us_nws_observations
    monkeypatch.setattr(answers, "us_nws_observations", lambda: past(hours=80))
    return now


def grid_from(hour, monkeypatch):
    """The service's grid begins at this local hour of the night's evening or after it."""
    first = datetime(2017, 7, 11, 0 if hour == 18 else 6, tzinfo=UTC)
    skip = int((first - answers.FIRST).total_seconds() // 3600)
    usual = answers.us_nws_grid
    monkeypatch.setattr(answers, "us_nws_grid", lambda: usual(first=first, hours=72, skip=skip))


@pytest.mark.usefixtures("at_night")
@pytest.mark.parametrize("hour", [18, 0])
def test_after_midnight_the_official_station_fills_the_evening(
    server, tmp_path, capsys, monkeypatch, hour
):
    grid_from(hour, monkeypatch)
    text = " ".join(done(capsys, "outlook", farm_with(tmp_path)).split())
    assert "KCAG, the official station 7 mi away" in text
    assert "that no forecast has" in text
    assert "unknown" not in text
    form = json.loads(done(capsys, "outlook", tmp_path / "farm.toml", "--format", "json"))
    assert {hour["call"] for hour in form["fields"][0]["hours"]}.isdisjoint({"no data"})
    assert "7 mi away" in " ".join(form["weather"]["assumed"])


@pytest.mark.usefixtures("at_night")
def test_without_grid_and_station_every_output_says_unknown(server, tmp_path, capsys, monkeypatch):
    grid_from(0, monkeypatch)
    monkeypatch.setattr(answers, "us_nws_observations", lambda: {"features": []})
    farm = farm_with(tmp_path)
    said = done(capsys, "outlook", farm)
    assert "Unknown" in said or "unknown" in said
    for command in (
        ["runsheet", farm],
        ["runsheet", farm, "--text"],
        ["outlook", farm, "--format", "csv"],
        ["outlook", farm, "--format", "json"],
    ):
        assert "unknown" in done(capsys, *command).lower()  # fmt: skip


@pytest.mark.usefixtures("at_night")
def test_a_station_file_that_is_not_there_costs_a_line_not_the_night(server, tmp_path, capsys):
    farm = farm_with(tmp_path, '[station.yard]\nfile = "gone.csv"\n')
    text = " ".join(done(capsys, "outlook", farm, "--old").split())
    assert 'tation "yard" is left out: there is no such file' in text


@pytest.mark.usefixtures("at_night")
def test_what_stations_measured_stays_in_the_log(server, tmp_path, capsys, monkeypatch):
    grid_from(18, monkeypatch)
    monkeypatch.setattr("hayweather.log.joined.wall_clock", asked.wall_clock)
    farm = farm_with(tmp_path)
    with open_log(read_farm(farm)):
        pass
    done(capsys, "outlook", farm)
    with open_log(read_farm(farm), only_read=True) as log:
        first = log.observations("KCAG")
    air = [row for row in first if row.quantity == "air_temperature_c"]
    assert len(air) == 47  # the last report is of 6:53, so that 7:00 is not known
    assert {row.origin for row in first} == {"official"}
    true = answers.real("temp_c", 32, 47)  # from 2 am of the 9th
    np.testing.assert_allclose([row.value for row in air], true, atol=0.7)
    done(capsys, "outlook", farm)
    with open_log(read_farm(farm), only_read=True) as log:
        assert log.observations("KCAG") == first
        (came,) = log.forecasts("home")
        assert log.outlooks()[-1].forecast == came.id
    assert came.source == "US National Weather Service"
    assert came.issued is not None
    hours = int((came.hour - np.datetime64("2017-07-08T00:00")) / HOUR)
    given = answers.real("temp_c", hours, 24)  # of the grid, not of the station beside it
    np.testing.assert_allclose(came.columns["air_temperature_c"][:24], given, atol=0.06)


def test_listen_wants_a_station_with_messages_and_one_broker(tmp_path, capsys):
    farm = farm_with(tmp_path, '[station.yard]\nfile = "a.csv"\n')
    assert "no [station.NAME] with broker" in refused(capsys, "listen", farm)
    several = '[station.a]\nbroker = "x"\ntopic = "t"\n[station.b]\nbroker = "y"\ntopic = "t"\n'
    farm = farm_with(tmp_path, several)
    assert "name one with --station" in refused(capsys, "listen", farm)
    assert "number from 1 on" in refused(capsys, "listen", farm, "--seconds", "0")


@pytest.mark.slow
def test_listen_keeps_messages_and_says_how_many(tmp_path, capsys):
    with TestBroker() as broker:
        more = f'[station.yard]\nbroker = "127.0.0.1"\nport = {broker.port}\ntopic = "farm/#"\n'
        farm = farm_with(tmp_path, more)
        sensor = Sensor(broker)
        sender = threading.Timer(1.0, sensor.send, [5])
        sender.start()
        assert run(["listen", str(farm), "--seconds", "3"]) == 0
        sender.join()
        sensor.close()
    told = capsys.readouterr().err
    assert "listening at 127.0.0.1" in told
    assert "messages: 5, values kept" in told


def test_inspect_shows_how_a_station_is_read_now(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("HAYWEATHER_CONTACT", "grower@example.org")
    keys = 'file = "yard.csv"\ntimezone = "America/Denver"\nunits = "us"\ndates = "month first"\n'
    farm = farm_with(tmp_path, f'[station.yard]\n{keys}[station.gone]\nfile = "gone.csv"\n')
    rows = "7/8/2025 8:05 PM,68.0,50\n7/8/2025 8:10 PM,66.2,52\n"
    (tmp_path / "yard.csv").write_text(f"Date,Temp,Hum\n{rows}")
    text = " ".join(done(capsys, "inspect", farm).split())
    assert "yard air temperature and humidity, rows: 2" in text
    assert "air 66 °F, dew point 48 °F" in text
    assert "gone there is no such file" in text


YARD = "time,temp_f,rh,batt\n2026-07-08 18:00,88,22,3\n2026-07-08 19:00,84,27,3\n2026-07-08 20:"


@pytest.mark.parametrize("language", ["en", "es"])
def test_inspect_reads_a_station_s_file_without_wind(tmp_path, capsys, monkeypatch, language):
    """What it has, what it lacks and what for; its last line may still be being written."""
    monkeypatch.setenv("HAYWEATHER_LANGUAGE", language)
    monkeypatch.setenv("COLUMNS", "80")
    yard = tmp_path / "yard.csv"
    yard.write_text(YARD)
    assert "timezone" in refused(capsys, "inspect", yard)
    asked = ("inspect", yard, "--timezone", "America/Denver")
    text = done(capsys, *asked)
    assert max(map(len, text.splitlines())) <= 80
    for part in ("batt", "temp_f", "84 °F", "[station.", "learn", "[weather]", "wind_ms"):
        assert part in text
    form = json.loads(done(capsys, *asked, "--format", "json"))
    assert (form["kind"], form["rows"], form["unused"]) == ("station", 2, ["batt"])
    assert form["lacks"] == ["wind_speed_m_s", "cloud_fraction", "rain_mm"]
    assert [row["served_as"] for row in form["columns"]] == [
        "air_temperature_c", "relative_humidity_percent"]  # fmt: skip
    for place in (tmp_path / "out.csv", tmp_path / "out.json", tmp_path / "out.txt"):
        done(capsys, *asked, "--out", place)
        done(capsys, *asked, "--out", place)  # which knows its own
    yard.write_text(YARD.replace("rh", "sky"))
    assert refused(capsys, *asked)


def test_inspect_says_of_stations_in_data_what_it_says_in_text(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("HAYWEATHER_CONTACT", "grower@example.org")
    farm = farm_with(tmp_path, '[station.yard]\nfile = "yard.csv"\ntimezone = "America/Denver"\n'
                     '[station.gone]\nfile = "gone.csv"\n')  # fmt: skip
    (tmp_path / "yard.csv").write_text(YARD)
    yard, gone = json.loads(done(capsys, "inspect", farm, "--format", "json"))["stations"]
    assert (yard["rows"], yard["last"]) == (2, "2026-07-09T01:00:00Z")
    assert "no such file" in gone["left_out"]
