"""A pull of past years: its cost, its bar, its question, its pace, and going on after a break."""

from __future__ import annotations

import io
import sys
from functools import partial

import numpy as np
import pytest
from cli.service_farms import farm_file
from weather import server_answers as answers
from weather.server import Action, WeatherServer, reply
from weather.services_common import column

from hayweather.cli import fetching as fetch_past
from hayweather.cli.main import run
from hayweather.weather.files import read_weather_file
from hayweather.weather.services import open_meteo
from hayweather.weather.services.open_meteo_days import cost_in_calls
from hayweather.weather.services.pull import CALLS_A_MINUTE, paced

pytestmark = pytest.mark.usefixtures("whole_years")

YEARS = ("--years", "2014:2016")
YEAR_CALLS = cost_in_calls(len(open_meteo.PAST), 365)
BROKEN = reply(400, {"error": True, "reason": "Out of order for this test"})
SAID_LAST = "Broken off. The years that came are stored; the same command again goes on from there."


@pytest.fixture(autouse=True)
def only_sleep_takes_time(monkeypatch, slept) -> None:
    """A clock that stands still but for what was slept, so that every wait is exact."""
    monkeypatch.setattr(fetch_past, "paced", partial(paced, clock=lambda: sum(slept)))


def on_terminal(monkeypatch) -> None:
    """Standard error as in front of a person, from here to the end of the test."""
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True, raising=False)


def answering(monkeypatch, text: str) -> None:
    """A person at a terminal who types `text` when asked."""
    on_terminal(monkeypatch)
    stream = io.StringIO(text)
    monkeypatch.setattr(stream, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys, "stdin", stream)


def good_then(fault: Action, years: int, server: WeatherServer) -> None:
    """Answers for so many years, as always, then the fault for good."""
    for year in range(2014, 2014 + years):
        days = 366 if year % 4 == 0 else 365
        first = np.datetime64(f"{year}-01-01").item()
        stamp = answers.FIRST.replace(year=first.year, month=1, day=1)
        content = answers.open_meteo(list(open_meteo.PAST), first_stamp=stamp, hours=24 * days)
        server.script.append(reply(200, content))
    server.always = fault


def starts(server: WeatherServer) -> list[str]:
    """First days of the pieces that were asked for."""
    return [query["start_date"] for _, query, _ in server.seen if "start_date" in query]


def test_years_are_kept_and_not_asked_twice(server, tmp_path, capsys):
    farm, first, again = farm_file(tmp_path), tmp_path / "first.csv", tmp_path / "again.csv"
    assert run(["fetch", str(farm), *YEARS, "--out", str(first)]) == 0
    said = capsys.readouterr().err
    assert f"Years to ask for: 3, which counts as about {3 * YEAR_CALLS:.0f} requests" in said
    assert "the free service allows 10000 a day" in said
    asked = len(server.seen)
    assert run(["fetch", str(farm), *YEARS, "--out", str(again)]) == 0
    assert "All these years are stored already; nothing is asked." in capsys.readouterr().err
    assert len(server.seen) == asked
    assert first.read_bytes() == again.read_bytes()
    weather, _ = read_weather_file(first)
    assert weather.hours == (365 + 365 + 366) * 24
    assert weather.timezone == answers.ZONE
    assert np.isfinite(column(weather, "air_temperature_c")).all()


def test_the_free_service_is_asked_no_faster_than_it_allows(server, tmp_path, slept):
    """600 calls a minute, by the service's terms; the last year needs no wait after it."""
    assert run(["fetch", str(farm_file(tmp_path)), *YEARS, "--out", str(tmp_path / "a.csv")]) == 0
    assert slept == pytest.approx([YEAR_CALLS * 60 / CALLS_A_MINUTE] * 2)


@pytest.mark.slow
def test_a_paying_user_is_not_held_back(server, tmp_path, capsys, monkeypatch, slept):
    monkeypatch.setenv("HAYWEATHER_OPEN_METEO_KEY", "s3cret-of-the-farm")
    assert run(["fetch", str(farm_file(tmp_path)), *YEARS, "--out", str(tmp_path / "a.csv")]) == 0
    assert slept == []
    assert "requests of your key" in capsys.readouterr().err


def test_more_than_a_day_of_calls_is_refused_before_anybody_is_asked(
    server, tmp_path, capsys, monkeypatch
):
    monkeypatch.setattr(fetch_past, "CALLS_A_DAY", 50)
    assert run(["fetch", str(farm_file(tmp_path)), *YEARS]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    (line,) = said.err.splitlines()
    assert line.startswith("--years: ")
    assert "50" in line
    assert server.seen == []


def test_after_a_break_only_what_is_missing_is_asked(server, tmp_path, capsys):
    farm, out = farm_file(tmp_path), tmp_path / "hours.csv"
    zone = answers.open_meteo(["temperature_2m"], offset_hours=-6, zone=answers.ZONE, hours=24)
    server.script.append(reply(200, zone))
    good_then(BROKEN, 2, server)
    assert run(["fetch", str(farm), *YEARS, "--out", str(out)]) == 3
    _, last, problem = capsys.readouterr().err.splitlines()
    assert last == SAID_LAST
    assert "Out of order for this test" in problem
    assert not out.exists()
    assert starts(server) == ["2014-01-01", "2015-01-01", "2016-01-01"]
    server.always = None
    server.seen.clear()
    assert run(["fetch", str(farm), *YEARS, "--out", str(out)]) == 0
    assert "Years to ask for: 1," in capsys.readouterr().err
    assert starts(server) == ["2016-01-01"]
    weather, _ = read_weather_file(out)
    assert weather.hours == (365 + 365 + 366) * 24


def test_an_interruption_keeps_the_years_that_came(server, tmp_path, capsys, monkeypatch):
    """Ctrl-C while the program waits after the first year."""

    def interrupted(done: int, of: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(
        fetch_past, "paced", lambda step, *rest: lambda *n: step(*n) or interrupted(*n)
    )
    farm, out = farm_file(tmp_path), tmp_path / "hours.csv"
    assert run(["fetch", str(farm), *YEARS, "--out", str(out)]) == 130
    said = capsys.readouterr()
    assert said.out == ""
    assert SAID_LAST in said.err.splitlines()[-2:]
    assert not out.exists()
    monkeypatch.setattr(fetch_past, "paced", lambda step, *rest: step)
    server.seen.clear()
    assert run(["fetch", str(farm), *YEARS, "--out", str(out)]) == 0
    assert starts(server) == ["2015-01-01", "2016-01-01"]


def test_the_bar_goes_to_standard_error_of_a_terminal(server, tmp_path, capsys, monkeypatch):
    on_terminal(monkeypatch)
    assert run(["fetch", str(farm_file(tmp_path)), *YEARS, "--yes"]) == 0
    said = capsys.readouterr()
    bars = [part for part in said.err.split("\r") if part.startswith("[")]
    assert [bar[:32].count("#") for bar in bars] == [10, 20, 30]
    assert bars[0].endswith("] 1 of 3 years")
    assert bars[-1].startswith(f"[{'#' * 30}] 3 of 3 years\n")
    assert "\r" not in said.out
    assert said.out.startswith("#")


def test_no_bar_where_nobody_looks(server, tmp_path, capsys):
    assert run(["fetch", str(farm_file(tmp_path)), *YEARS]) == 0
    said = capsys.readouterr()
    assert "\r" not in said.err
    assert "years\n" not in said.err
    assert "[" not in said.err


@pytest.mark.parametrize("reply_text", ["\n", "n\n", "no\n", "x\n", ""])
def test_no_is_taken_as_no(server, tmp_path, capsys, monkeypatch, reply_text):
    answering(monkeypatch, reply_text)
    out = tmp_path / "hours.csv"
    assert run(["fetch", str(farm_file(tmp_path)), *YEARS, "--out", str(out)]) == 130
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.endswith("Go on? [y/N] ")
    assert server.seen == []
    assert not out.exists()


@pytest.mark.parametrize(
    ("language", "reply_text", "question"),
    [("en", "y\n", "Go on? [y/N]"), ("en", "YES\n", "Go on?"), ("es", "sí\n", "¿Seguir? [s/N]")],
)
def test_yes_goes_on(server, tmp_path, capsys, monkeypatch, language, reply_text, question):
    answering(monkeypatch, reply_text)
    farm = farm_file(tmp_path, language=language)
    assert run(["fetch", str(farm), "--years", "2015", "--out", str(tmp_path / "a.csv")]) == 0
    assert question in capsys.readouterr().err
    assert starts(server) == ["2015-01-01"]


def test_nobody_is_asked_who_said_yes_before(server, tmp_path, capsys, monkeypatch):
    answering(monkeypatch, "")
    farm, out = farm_file(tmp_path), tmp_path / "a.csv"
    assert run(["fetch", str(farm), "--years", "2015", "--yes", "--out", str(out)]) == 0
    assert "Go on?" not in capsys.readouterr().err


def test_a_pull_that_takes_minutes_says_so(server, tmp_path, capsys):
    """38 years of 26 calls at 600 a minute."""
    out = tmp_path / "a.csv"
    server.always = BROKEN
    assert run(["fetch", str(farm_file(tmp_path)), "--years", "1979:2016", "--out", str(out)]) == 3
    assert "At the pace that the free service asks for it takes at least 2 min." in (
        capsys.readouterr().err
    )


def test_nobody_is_asked_without_a_terminal(server, tmp_path, capsys, monkeypatch):
    answering(monkeypatch, "")
    monkeypatch.setattr(sys.stderr, "isatty", lambda: False)
    farm, out = farm_file(tmp_path), tmp_path / "a.csv"
    assert run(["fetch", str(farm), "--years", "2015", "--out", str(out)]) == 0
    assert "Go on?" not in capsys.readouterr().err
