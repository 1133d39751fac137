"""From nothing to the first outlook: the starter file, and what its weather service wants."""

from __future__ import annotations

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
    assert run(["farm", "--units", units, "--language", language]) == 0
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


@pytest.mark.usefixtures("middle_alone", "any_place")
def test_the_us_starter_runs_with_a_contact(home, server, capsys, monkeypatch):
    run(["farm"])
    monkeypatch.setenv("HAYWEATHER_CONTACT", "me@farm.example")
    capsys.readouterr()
    assert "US National Weather Service" in done(capsys, "outlook", "--old")
    assert all("me@farm.example" in head["User-Agent"] for _, _, head in server.seen)


@pytest.mark.usefixtures("middle_alone", "any_place")
def test_the_metric_starter_runs_with_its_terms(home, server, capsys):
    run(["farm", "--units", "metric"])
    capsys.readouterr()
    path = home / "farm.toml"
    text = path.read_text(encoding="utf-8")
    assert '# terms = "non-commercial"' in text
    path.write_text(text.replace("# terms = ", "terms = "), encoding="utf-8")
    assert "Open-Meteo" in done(capsys, "outlook")
    assert server.seen[0][1]["latitude"] == "41.6000"


@pytest.mark.parametrize("command", ["outlook", "fetch"])
def test_what_is_wrong_with_a_file_is_said_in_its_language(home, server, capsys, command):
    run(["farm", "--language", "es"])
    path = home / "farm.toml"
    text = path.read_text(encoding="utf-8").replace("latitude = 43.2", "latitude = 143.2")
    path.write_text(text, encoding="utf-8")
    capsys.readouterr()
    line = refused(capsys, command)
    assert line.startswith("farm.toml: [site.home] latitude")
    assert "está fuera de" in line
    path.write_text("language = ", encoding="utf-8")
    assert "farm.toml" in refused(capsys, command)
