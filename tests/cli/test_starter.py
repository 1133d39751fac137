"""From nothing to the first outlook: the starter file, and what its weather service wants."""

from __future__ import annotations

import re

import pytest
from cli.commands import done, refused

from hayweather.cli.main import run

CASES = [(units, language) for units in ("us", "metric") for language in ("en", "es")]
WANTED = {
    ("us", "en"): ("e-mail address or web page", "export HAYWEATHER_CONTACT=YOUR-ADDRESS"),
    ("us", "es"): ("correo electrónico o página web", "export HAYWEATHER_CONTACT=SU-CORREO"),
    ("metric", "en"): ("selling hay is commercial", 'take the "#" away'),
    ("metric", "es"): ("vender heno es comercial", 'quite el "#"'),
}
AT = ("--at", "43.2,-120.6", "--offline")
AT_METRIC = ("--at", "41.6,-0.6", "--offline")
UNSET = ("HAYWEATHER_CONTACT", "HAYWEATHER_OPEN_METEO_KEY", "HAYWEATHER_LANGUAGE")


@pytest.fixture
def home(server, tmp_path, monkeypatch):
    """A folder to start in, with nothing set but where the services are."""
    folder = tmp_path / "home"
    folder.mkdir()
    monkeypatch.chdir(folder)
    for name in UNSET:
        monkeypatch.delenv(name, raising=False)
    return folder


@pytest.mark.parametrize(("units", "language"), CASES)
def test_what_is_still_wanted_is_one_line(home, server, capsys, units, language):
    at = AT if units == "us" else AT_METRIC
    assert run(["farm", *at, "--units", units, "--language", language]) == 0
    said = capsys.readouterr()
    assert said.out == ""
    next_step = said.err.splitlines()[-1]
    assert ("HAYWEATHER_CONTACT" if units == "us" else "[weather]") in next_step
    line = refused(capsys, "outlook")
    for words in WANTED[units, language]:
        assert words in line
    assert line.startswith(
        "HAYWEATHER_CONTACT: " if units == "us" else "farm.toml: [weather] terms"
    )
    assert server.seen == []


@pytest.mark.parametrize(
    ("at", "units", "service"),
    [("-34.6,140.6", "us", "open-meteo"), ("43.2,-120.6", "metric", "us-nws")],
)
def test_the_starter_names_a_service_that_covers_the_place(
    home, server, capsys, at, units, service
):
    assert run(["farm", "--at", at, "--units", units, "--offline"]) == 0
    assert f'\nservice = "{service}" ' in (home / "farm.toml").read_text(encoding="utf-8")
    next_step = capsys.readouterr().err.splitlines()[-1]
    assert ("HAYWEATHER_CONTACT" in next_step) is (service == "us-nws")


def test_no_number_of_the_starter_is_written_with_an_exponent(home, server, capsys):
    assert run(["farm", *AT]) == 0
    text = (home / "farm.toml").read_text(encoding="utf-8")
    assert not re.search(r"= -?\d\.\d*e[+-]", text)
    assert "# port = 1883 " in text


@pytest.mark.usefixtures("middle_alone", "any_place")
def test_the_us_starter_runs_with_a_contact(home, server, capsys, monkeypatch):
    run(["farm", *AT])
    monkeypatch.setenv("HAYWEATHER_CONTACT", "me@farm.example")
    capsys.readouterr()
    assert "US National Weather Service" in done(capsys, "outlook", "--old")
    assert all("me@farm.example" in head["User-Agent"] for _, _, head in server.seen)


@pytest.mark.usefixtures("middle_alone", "any_place")
def test_the_metric_starter_runs_with_its_terms(home, server, capsys):
    run(["farm", *AT_METRIC, "--units", "metric"])
    capsys.readouterr()
    path = home / "farm.toml"
    text = path.read_text(encoding="utf-8")
    assert '# terms = "non-commercial"' in text
    path.write_text(text.replace("# terms = ", "terms = "), encoding="utf-8")
    assert "Open-Meteo" in done(capsys, "outlook")
    assert server.seen[0][1]["latitude"] == "41.6000"


@pytest.mark.parametrize("command", ["outlook", "fetch"])
def test_what_is_wrong_with_a_file_is_said_in_its_language(home, server, capsys, command):
    run(["farm", *AT, "--language", "es"])
    path = home / "farm.toml"
    text = path.read_text(encoding="utf-8").replace("latitude = 43.2", "latitude = 143.2")
    path.write_text(text, encoding="utf-8")
    capsys.readouterr()
    line = refused(capsys, command)
    assert line.startswith("farm.toml: [site.home] latitude")
    assert "está fuera de" in line
    path.write_text(text + "\n[money]\ncurrency = €\n", encoding="utf-8")
    assert "no se entiende la línea" in refused(capsys, command)
    path.write_text("language = ", encoding="utf-8")
    assert "farm.toml" in refused(capsys, command)


def test_without_its_place_it_is_refused_and_says_how(home, server, capsys):
    assert run(["farm"]) == 0
    assert "[site.home] latitude" in capsys.readouterr().err
    line = refused(capsys, "outlook")
    assert line.startswith("farm.toml: [site.home] latitude: is missing")
    assert "hayweather farm DIR --at LAT,LON" in line
    assert server.seen == []


@pytest.mark.usefixtures("any_place")
def test_a_place_gets_zone_and_elevation_from_the_service(home, server, capsys, monkeypatch):
    monkeypatch.setenv("HAYWEATHER_CONTACT", "me@farm.example")
    assert run(["farm", "--at", "40.05,-108.54"]) == 0
    assert "not looked up" not in capsys.readouterr().err
    text = (home / "farm.toml").read_text(encoding="utf-8")
    assert "\nlatitude = 40.05 " in text
    assert "\nlongitude = -108.54 " in text
    assert '\ntimezone = "America/Denver"' in text
    assert "\nelevation = " in text


def test_a_service_that_may_not_be_asked_leaves_them_open_and_says_so(home, server, capsys):
    assert run(["farm", "--at", "43.2,-120.6"]) == 0
    said = capsys.readouterr().err
    assert "not looked up now: HAYWEATHER_CONTACT" in said
    text = (home / "farm.toml").read_text(encoding="utf-8")
    assert "\n# elevation = " in text
    assert "\n# timezone = " in text
    assert server.seen == []


def test_a_place_that_is_none_writes_nothing(home, capsys):
    assert "--at" in refused(capsys, "farm", "--at", "north field")
    assert list(home.iterdir()) == []
