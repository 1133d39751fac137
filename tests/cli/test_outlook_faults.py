"""What a service can do wrong, at the level of the command.

Every fault ends in a right answer, in the stored forecast with its age, or in one
line and exit 3; never in a traceback, never in a wrong call.
"""

from __future__ import annotations

import errno
import gzip
import json
import os
import re
from pathlib import Path
from urllib.parse import quote

import numpy as np
import pytest
from cli.commands import done
from cli.service_farms import ASKED, WHOLE_PLACE, farm_file, hours_of, outlook_form
from weather import server_answers as answers
from weather.server import Action, WeatherServer, reply
from weather.services_common import GLUED, LATER
from weather.test_services_faults import FAULTS, NWS_FAULTS

from hayweather.cli.main import run
from hayweather.weather import asked as load
from hayweather.weather.services.settings import Limits

FIVE_HOURS_ON = ("--now", "2017-07-09T23:00Z")
KEY = "Zq7+secret/key=9941"
SLOW = ("time-out", "slow drip", "slow head")
FAMILIES = {
    "no connection": "Open-Meteo did not answer; the stored forecast serves",
    "429": "Open-Meteo did not accept the request; the stored forecast serves",
    "503 problem": "Open-Meteo is out of order; the stored forecast serves",
    "sentence behind JSON": "the answer of Open-Meteo could not be read; "
    "the stored forecast serves",
}
SERVES_FIVE_HOURS_ON = (
    "there is no new forecast from the weather service: a stored one serves, 5 h old"
)


def only_line(capsys, arguments: list[str], code: int) -> str:
    """What a command says that ends with `code`: one line, and nothing on standard output."""
    assert run(arguments) == code
    said = capsys.readouterr()
    assert said.out == ""
    (line,) = said.err.splitlines()
    assert "Traceback" not in line
    assert "Error" not in line
    return line


def fetched(capsys, farm: Path) -> dict:
    """The hours that an outlook would stand on, as JSON."""
    return json.loads(done(capsys, "fetch", farm, "--format", "json"))


def check_fault(
    server: WeatherServer, capsys, monkeypatch, farm: Path, before: list[Action], fault: Action
) -> None:
    """Nothing stored: one line and exit 3. Five hours after a good answer: that, and its age."""
    server.script, server.always = list(before), fault
    line = only_line(capsys, ["outlook", str(farm), *ASKED], 3)
    assert line.endswith("no stored forecast of this place")
    server.script, server.always = [], None
    good = fetched(capsys, farm)
    monkeypatch.setattr(load, "wall_clock", lambda: LATER)
    server.always = fault
    stored = fetched(capsys, farm)
    assert stored["hours"] == good["hours"]
    assert stored["weather"]["stored"] is True
    assert stored["weather"]["fetched"] == "2017-07-09T18:00:00Z"
    assert "stored forecast serves" in " ".join(stored["weather"]["assumed"])
    assert stored["weather"]["age_hours"] == good["weather"]["age_hours"] + 5


@pytest.mark.parametrize("name", [name for name in FAULTS if name not in SLOW])
def test_fault_of_the_open_weather_api(server, tmp_path, capsys, monkeypatch, name):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    check_fault(server, capsys, monkeypatch, farm, [], FAULTS[name][0])


class TestSlow:
    @pytest.fixture
    def limits(self) -> Limits:
        return Limits(connect_s=1.0, read_s=0.3, total_s=0.6)

    @pytest.mark.parametrize("name", SLOW)
    def test_an_answer_that_takes_too_long(self, server, tmp_path, capsys, monkeypatch, name):
        farm = farm_file(tmp_path, place=WHOLE_PLACE)
        check_fault(server, capsys, monkeypatch, farm, [], FAULTS[name][0])


@pytest.mark.parametrize("name", NWS_FAULTS)
def test_fault_of_the_us_service(server, tmp_path, capsys, monkeypatch, name):
    farm = farm_file(tmp_path, "us-nws", WHOLE_PLACE)
    points = reply(200, answers.us_nws_points())
    check_fault(server, capsys, monkeypatch, farm, [points], NWS_FAULTS[name][0])


def test_refused_connection(server, tmp_path, capsys, monkeypatch):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    monkeypatch.setenv("HAYWEATHER_OPEN_METEO_URL", "http://127.0.0.1:1")
    line = only_line(capsys, ["outlook", str(farm), *ASKED], 3)
    assert line.startswith("Open-Meteo: no connection to 127.0.0.1:1; check the internet")


@pytest.mark.usefixtures("few_members")
@pytest.mark.parametrize("name", FAMILIES)
def test_the_stored_forecast_gives_the_same_calls_and_says_its_age(
    server, tmp_path, capsys, monkeypatch, name
):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    done(capsys, "fetch", farm)
    monkeypatch.setattr(load, "wall_clock", lambda: LATER)
    server.always = FAULTS[name][0]
    form = outlook_form(capsys, farm, *FIVE_HOURS_ON)
    server.always = None
    fresh = outlook_form(capsys, farm, *FIVE_HOURS_ON)
    assert hours_of(form) == hours_of(fresh)
    assert form["fields"][0]["windows"] == fresh["fields"][0]["windows"]
    assert (form["weather"]["stored"], fresh["weather"]["stored"]) == (True, False)
    assert (form["weather"]["age_hours"], fresh["weather"]["age_hours"]) == (5, 0)
    assert form["weather"]["assumed"][0] == FAMILIES[name]
    assert SERVES_FIVE_HOURS_ON in form["cautions"]


@pytest.mark.usefixtures("middle_alone")
def test_age_and_licence_stand_in_chart_and_page(server, tmp_path, capsys, monkeypatch):
    farm, chart = farm_file(tmp_path, place=WHOLE_PLACE), tmp_path / "chart.svg"
    page = tmp_path / "page.html"
    done(capsys, "fetch", farm)
    monkeypatch.setattr(load, "wall_clock", lambda: LATER)
    server.always = FAULTS["no connection"][0]
    done(capsys, "outlook", farm, *FIVE_HOURS_ON, "--chart", chart, "--page", page)
    for path in (chart, page):
        text = " ".join(re.sub(r"<[^>]+>", " ", path.read_text(encoding="utf-8")).split())
        assert "a stored one serves, 5 h old" in text
        assert "(5 h old)" in text
        assert "Open-Meteo.com" in text
        assert "CC BY 4.0" in text


@pytest.mark.usefixtures("middle_alone")
def test_the_age_stands_in_the_table_and_grows_to_a_refusal(server, tmp_path, capsys, monkeypatch):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    done(capsys, "fetch", farm)
    server.always = FAULTS["no connection"][0]

    def at(hours: int) -> list[str]:
        now = np.datetime64("2017-07-09T18:00:00") + np.timedelta64(hours, "h")
        monkeypatch.setattr(load, "wall_clock", lambda: now)
        return ["outlook", str(farm), "--now", f"{now}Z"]

    assert "weather 14 h old" in done(capsys, *at(14))
    table = " ".join(done(capsys, *at(14), "--all").split())
    assert "fetched Sun noon (14 h old)" in table or "fetched noon (14 h old)" in table
    assert "a stored one serves, 14 h old" in table
    assert "The forecast is 14 hours old: get a new one before you go out." in table
    line = only_line(capsys, at(30), 3)
    assert line == (
        "Open-Meteo: no answer, and the stored forecast is 30 hours old; try again later, "
        "or pass --old to use it anyway"
    )
    assert "(30 h old)" in " ".join(done(capsys, *at(30), "--old", "--all").split())
    offline = only_line(capsys, [*at(30), "--offline"], 3)
    assert "leave out --offline, or pass --old" in offline
    assert only_line(capsys, at(24 * 6), 3).endswith("ended before now")


class TestTriedAgain:
    @pytest.fixture
    def waits(self) -> list[float]:
        return [1.0, 3.0]

    @pytest.mark.usefixtures("middle_alone")
    @pytest.mark.parametrize(
        ("first", "wait"),
        [
            (reply(500, "oops"), 1.0),
            (reply(429, {"error": True, "reason": "Minutely limit"}), 1.0),
            (reply(429, "slow down", {"Retry-After": "7"}), 7.0),
            (reply(503, {"title": "Service Unavailable"}, {"Retry-After": "2"}), 2.0),
            (reply(200, GLUED), 1.0),
        ],
        ids=["500", "429", "429 and Retry-After", "503 and Retry-After", "sentence"],
    )
    def test_trouble_that_passes_ends_in_the_right_answer(
        self, server, tmp_path, capsys, slept, first, wait
    ):
        server.script = [first]
        form = fetched(capsys, farm_file(tmp_path, place=WHOLE_PLACE))
        assert slept == [wait]
        assert form["weather"]["stored"] is False
        temperatures = [hour["air_temperature_c"] for hour in form["hours"]]
        assert temperatures == answers.real("temp_c")

    def test_trouble_that_stays_is_given_up(self, server, tmp_path, capsys, slept):
        server.always = reply(503, {"title": "Service Unavailable"})
        farm = farm_file(tmp_path, place=WHOLE_PLACE)
        line = only_line(capsys, ["outlook", str(farm), *ASKED], 3)
        assert "out of order" in line
        assert len(server.seen) == 3
        assert slept == [1.0, 3.0]


def test_an_error_is_said_in_the_language_of_the_farm(server, tmp_path, capsys):
    server.always = reply(503, "")
    farm = farm_file(tmp_path, place=WHOLE_PLACE, language="es")
    line = only_line(capsys, ["outlook", str(farm), *ASKED], 3)
    assert line.startswith("Open-Meteo: el servicio no funciona (503)")
    assert line.endswith("no hay pronóstico guardado de este lugar")


@pytest.mark.usefixtures("middle_alone")
def test_a_store_that_cannot_be_written_costs_nothing_but_the_store(
    server, tmp_path, capsys, monkeypatch
):
    farm, blocked = farm_file(tmp_path, place=WHOLE_PLACE), tmp_path / "file"
    blocked.write_text("no folder", encoding="utf-8")
    monkeypatch.setenv("HAYWEATHER_STORE", str(blocked / "store"))
    form = outlook_form(capsys, farm, *ASKED)
    assert "could not be stored" in " ".join(form["weather"]["assumed"])
    assert blocked.read_text(encoding="utf-8") == "no folder"
    assert "could not be stored" in " ".join(done(capsys, "outlook", farm, *ASKED, "--all").split())


def test_a_full_disk_leaves_no_half_answer(server, tmp_path, capsys, monkeypatch):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("hayweather.whole_file.os.fsync", full)
    form = fetched(capsys, farm)
    assert "could not be stored" in " ".join(form["weather"]["assumed"])
    assert list((tmp_path / "store").iterdir()) == []
    server.always = reply(503, "")
    assert only_line(capsys, ["outlook", str(farm), *ASKED], 3).endswith(
        "no stored forecast of this place"
    )


def test_a_stored_answer_cut_in_half_is_never_believed(server, tmp_path, capsys):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    done(capsys, "fetch", farm)
    (path,) = (tmp_path / "store").iterdir()
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    server.always = reply(503, "")
    line = only_line(capsys, ["outlook", str(farm), *ASKED], 3)
    assert line.endswith("the stored forecast of this place is damaged")
    assert "damaged, not used" in done(capsys, "fetch", "--store", "show")
    server.always = None
    assert "was damaged" in " ".join(fetched(capsys, farm)["weather"]["assumed"])
    assert fetched(capsys, farm)["weather"]["assumed"] == []


@pytest.mark.usefixtures("middle_alone")
def test_the_key_is_in_no_output_error_store_chart_page_or_log(
    server, tmp_path, capsys, monkeypatch, caplog
):
    monkeypatch.setenv("HAYWEATHER_OPEN_METEO_KEY", KEY)
    caplog.set_level(0)
    farm, chart = farm_file(tmp_path, place=WHOLE_PLACE), tmp_path / "chart.svg"
    written = ["--page", str(tmp_path / "p.html"), "--calendar", str(tmp_path / "c.ics")]
    echo = {
        **json.loads(json.dumps(answers.open_meteo(["temperature_2m"]))),
        "url": f"?apikey={KEY}",
    }
    commands = [
        ["outlook", str(farm), *ASKED, "--chart", str(chart)],
        ["outlook", str(farm), *ASKED, *written],
        ["outlook", str(farm), *ASKED, "--format", "json", "--out", str(tmp_path / "o.json")],
        ["inspect", str(farm)],
        ["fetch", str(farm), "--out", str(tmp_path / "hours.csv")],
        ["fetch", "--store", "show"],
    ]
    refusals = [
        reply(400, {"error": True, "reason": f"bad apikey={KEY} or {quote(KEY, safe='')}"}),
        reply(200, f"Unexpected error for key {KEY} while streaming"),
        reply(200, echo),
        reply(302, "", {"Location": f"https://{quote(KEY, safe='')}.example.org/"}),
    ]
    codes = [run(command) for command in commands]
    for refusal in refusals:
        server.always = refusal
        codes += [run(["fetch", str(farm)]), run(["fetch", str(farm), "--years", "2016"])]
    said = capsys.readouterr()
    assert codes[: len(commands)] == [0] * len(commands)
    assert codes[len(commands) + 1] == 3
    assert sum(query.get("apikey") == KEY for _, query, _ in server.seen) == len(server.seen) > 8
    files = [path for path in tmp_path.rglob("*") if path.is_file()]
    stored = [_unpacked(path) for path in files if path.suffix == ".answer"]
    assert stored
    everything = [said.out, said.err, caplog.text, *stored, *map(str, files)]
    everything += [path.read_bytes().decode("latin-1") for path in files]
    for form in (KEY, quote(KEY, safe=""), quote(KEY)):
        assert not any(form in text for text in everything)


def _unpacked(path: Path) -> str:
    """The head and the answer of a stored file."""
    head, _, packed = path.read_bytes().partition(b"\n")[2].partition(b"\n")
    return (head + gzip.decompress(packed)).decode("latin-1")
