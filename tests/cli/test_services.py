"""The commands against services on 127.0.0.1 that answer, and fail, like the real ones."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from cli.commands import done, refused
from weather import server_answers as answers
from weather.server import WeatherServer, hang, reply
from weather.services_common import NOW, QUICK, column
from weather.test_services_faults import FAULTS, NWS_FAULTS

from hayweather.cli import load
from hayweather.cli.main import run
from hayweather.weather.files import read_weather_file
from hayweather.weather.services.settings import ServiceSettings

KEY = "s3cret-of-the-farm"
SERVICES = {
    "open-meteo": 'service = "open-meteo"\nterms = "non-commercial"',
    "us-nws": 'service = "us-nws"',
}
SITE = f"latitude = {answers.LATITUDE}\nlongitude = {answers.LONGITUDE}"
ASKED = ("--now", "2017-07-09T18:00Z")


@pytest.fixture
def server(tmp_path, monkeypatch):
    """A server that stands for every service; short waits; a store of its own; July 2017."""
    with WeatherServer() as found:
        for name, value in found.environment().items():
            monkeypatch.setenv(name, value)
        monkeypatch.setenv("HAYWEATHER_STORE", str(tmp_path / "store"))
        usual = ServiceSettings.from_environment

        def quick(environ=None, *, options=None):
            limits = replace(QUICK, waits_s=())
            settings = usual(environ, options=options)
            return replace(settings, limits=limits, bulk_limits=limits, sleep=lambda _: None)

        monkeypatch.setattr(ServiceSettings, "from_environment", quick)
        monkeypatch.setattr(load, "wall_clock", lambda: NOW)
        yield found


@pytest.fixture
def whole_years(monkeypatch):
    """The few days of the source over and over, so that they fill years."""

    def again(name, first=0, hours=answers.HOURS):
        days = answers.real_hours()
        return [days[(first + hour) % len(days)][name] for hour in range(hours)]

    monkeypatch.setattr(answers, "real", again)


def farm_file(folder: Path, service: str = "open-meteo", place: str = SITE) -> Path:
    """A farm whose weather comes from a service; elevation and zone are the service's."""
    path = folder / "farm.toml"
    path.write_text(
        f'[farm]\nname = "Hill"\n[site.home]\n{place}\n[weather]\n{SERVICES[service]}\n'
        '[field.north]\nsite = "home"\ncured = true\n[baler]\nkind = "large-square"\n',
        encoding="utf-8",
    )
    return path


@pytest.mark.parametrize("service", SERVICES)
def test_outlook_of_a_service(server, tmp_path, capsys, service):
    farm = farm_file(tmp_path, service)
    # The grid of the test was issued 42 hours before.
    old = ["--old"] if service == "us-nws" else []
    form = json.loads(done(capsys, "outlook", farm, *ASKED, *old, "--format", "json"))
    (field,) = form["fields"]
    assert field["site"]["timezone"] == answers.ZONE
    assert field["site"]["elevation_m"] == pytest.approx(answers.ELEVATION_M, abs=1)
    hour = next(each for each in field["hours"] if each["start"].startswith("2017-07-10T02"))
    row = 56  # hours from 8 July 00 to 10 July 08 UTC
    assert hour["air_temperature_c"] == pytest.approx(answers.real("temp_c")[row], abs=0.06)
    assert hour["call"] != "no data"
    if service == "open-meteo":
        assert "Open-Meteo.com" in form["weather"]["attribution"]
        assert "CC BY 4.0" in form["weather"]["attribution"]


@pytest.mark.parametrize("name", FAULTS)
def test_fault_with_nothing_stored_is_one_line_and_exit_3(server, tmp_path, capsys, name):
    server.always = FAULTS[name][0]
    code = run(["outlook", str(farm_file(tmp_path)), *ASKED])
    said = capsys.readouterr()
    assert (code, said.out) == (3, "")
    assert len(said.err.splitlines()) == 1
    assert "Traceback" not in said.err


@pytest.mark.parametrize("name", NWS_FAULTS)
def test_fault_of_the_us_service_is_one_line_and_exit_3(server, tmp_path, capsys, name):
    server.script = [reply(200, answers.us_nws_points())]
    server.always = NWS_FAULTS[name][0]
    code = run(["outlook", str(farm_file(tmp_path, "us-nws")), *ASKED])
    said = capsys.readouterr()
    assert (code, said.out) == (3, "")
    assert len(said.err.splitlines()) == 1


@pytest.mark.parametrize("name", ["503 problem", "lower-case nan", "slow drip"])
def test_the_stored_forecast_serves_and_says_its_age(server, tmp_path, capsys, monkeypatch, name):
    farm = farm_file(tmp_path)
    fresh = json.loads(done(capsys, "outlook", farm, *ASKED, "--format", "json"))
    server.always = FAULTS[name][0]
    later = ("--now", "2017-07-10T08:00Z")
    monkeypatch.setattr(load, "wall_clock", lambda: np.datetime64("2017-07-10T08:00:00"))
    stored = json.loads(done(capsys, "outlook", farm, *later, "--format", "json"))
    assert stored["weather"]["age_hours"] == pytest.approx(14)
    assert any("12 h" in caution or "14 h" in caution for caution in stored["cautions"])
    calls = {hour["start"]: hour["call"] for hour in fresh["fields"][0]["hours"]}
    shared = [hour for hour in stored["fields"][0]["hours"] if hour["start"] in calls]
    assert len(shared) >= 10
    table = done(capsys, "outlook", farm, *later)
    assert "14 h old" in table
    monkeypatch.setattr(load, "wall_clock", lambda: np.datetime64("2017-07-11T08:00:00"))
    assert run(["outlook", str(farm), "--now", "2017-07-11T08:00Z"]) == 3
    assert "--old" in capsys.readouterr().err


def test_offline_with_an_empty_store_asks_nobody(server, tmp_path, capsys):
    assert run(["outlook", str(farm_file(tmp_path)), *ASKED, "--offline"]) == 3
    assert server.seen == []
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_terms_or_key_are_needed(server, tmp_path, capsys):
    farm = farm_file(tmp_path)
    farm.write_text(farm.read_text().replace('terms = "non-commercial"\n', ""))
    assert "terms" in refused(capsys, "outlook", farm, *ASKED)
    assert server.seen == []


def test_the_key_is_nowhere(server, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("HAYWEATHER_OPEN_METEO_KEY", KEY)
    farm, chart = farm_file(tmp_path), tmp_path / "chart.svg"
    shown = done(capsys, "outlook", farm, *ASKED, "--chart", chart)
    shown += done(capsys, "outlook", farm, *ASKED, "--format", "json")
    shown += done(capsys, "inspect", farm)
    assert any(query.get("apikey") == KEY for _, query, _ in server.seen)
    server.always = reply(400, {"error": True, "reason": f"bad apikey={KEY}"})
    run(["fetch", str(farm), "--years", "2016"])
    said = capsys.readouterr()
    everything = [shown, said.out, said.err, chart.read_text()]
    everything += [
        path.read_bytes().decode("latin-1") for path in tmp_path.rglob("*") if path.is_file()
    ]
    assert not any(KEY in text for text in everything)


def test_fetched_hours_read_back_to_the_same_outlook(server, tmp_path, capsys):
    farm, saved = farm_file(tmp_path), tmp_path / "saved.csv"
    asked = json.loads(done(capsys, "outlook", farm, *ASKED, "--format", "json"))
    done(capsys, "fetch", farm, "--out", saved)
    offline = tmp_path / "offline.toml"
    place = f'{SITE}\nelevation = "{answers.ELEVATION_M} m"\ntimezone = "{answers.ZONE}"'
    text = farm_file(tmp_path, place=place).read_text()
    offline.write_text(text.replace(SERVICES["open-meteo"], f'file = "{saved.name}"'))
    read = json.loads(done(capsys, "outlook", offline, *ASKED, "--format", "json"))
    assert read["fields"][0]["hours"] == asked["fields"][0]["hours"]
    assert "Open-Meteo.com" in read["weather"]["attribution"]
    assert "hour" in done(capsys, "inspect", saved).lower()


@pytest.mark.usefixtures("whole_years")
def test_past_years_are_kept_and_not_asked_twice(server, tmp_path, capsys):
    farm, first, again = farm_file(tmp_path), tmp_path / "first.csv", tmp_path / "again.csv"
    assert run(["fetch", str(farm), "--years", "2015:2016", "--out", str(first)]) == 0
    said = capsys.readouterr().err
    assert "calls" in said
    asked = len(server.seen)
    assert run(["fetch", str(farm), "--years", "2015:2016", "--out", str(again)]) == 0
    assert len(server.seen) == asked
    assert first.read_text().splitlines()[-1] == again.read_text().splitlines()[-1]
    weather, _ = read_weather_file(first)
    assert weather.hours >= 2 * 365 * 24
    assert weather.timezone == answers.ZONE
    assert np.isfinite(column(weather, "air_temperature_c")).all()


def test_the_store_is_shown_and_cleared(server, tmp_path, capsys):
    farm = farm_file(tmp_path)
    done(capsys, "fetch", farm)
    listed = done(capsys, "fetch", "--store", "show")
    assert "2017-07-09 18:00 UTC  forecast" in listed
    done(capsys, "fetch", "--store", "clear")
    assert " UTC  forecast" not in done(capsys, "fetch", "--store", "show")
    done(capsys, "fetch", "--store", "clear-all")
    assert done(capsys, "fetch", "--store", "show").startswith("0 stored")


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("--at", "north"), "--at"),
        (("--at", "143,10"), "latitude"),
        (("--at", "40,-108", "--years", "2030:2031", "--terms", "non-commercial"), "--years"),
        (("--at", "40,-108", "--years", "20x", "--terms", "non-commercial"), "2015:2024"),
        (("--at", "40,-108", "--years", "2016", "--service", "us-nws"), "open-meteo"),
        (("--at", "40,-108", "--years", "2016"), "terms"),
    ],
)
def test_a_wrong_fetch_is_one_line(server, capsys, arguments, word):
    assert word in refused(capsys, "fetch", *arguments)
    assert server.seen == []


def process(server: WeatherServer, folder: Path, command: str) -> subprocess.Popen[str]:
    """A true process in its own store; QUICK does not reach there, the answers do."""
    environment = {
        **os.environ, **server.environment(), "HAYWEATHER_STORE": str(folder / "own store")
    }  # fmt: skip
    return subprocess.Popen(
        ["bash", "-c", command], env=environment, text=True, cwd=folder, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip


@pytest.mark.usefixtures("whole_years")
def test_a_reader_that_leaves_early(server, tmp_path):
    farm_file(tmp_path)
    hayweather = f"'{sys.executable}' -m hayweather"
    command = f"set -o pipefail; {hayweather} fetch farm.toml --years 2015:2016 | head -n 1"
    out, err = process(server, tmp_path, command).communicate(timeout=60)
    assert out.startswith(("#", "time"))
    assert "Traceback" not in err


def test_a_pull_broken_off_leaves_no_half_file(server, tmp_path):
    farm_file(tmp_path)
    server.always = hang()
    command = f"exec '{sys.executable}' -m hayweather fetch farm.toml --out half.csv"
    running = process(server, tmp_path, command)
    deadline = time.monotonic() + 30
    while not server.seen and time.monotonic() < deadline:
        time.sleep(0.05)
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=60)
    assert running.returncode not in (0, None)
    assert "Traceback" not in err
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["farm.toml"]
