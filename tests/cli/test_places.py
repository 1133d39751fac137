"""Where a fetch gets its hours from: places and years that cannot be meant, and its table."""

from __future__ import annotations

import json

import pytest
from cli.commands import SAGEBECK, done, refused
from weather import server_answers as answers

from hayweather.units import to_shown

AT = ("--at", f"{answers.LATITUDE},{answers.LONGITUDE}")
TWO_SITES = """
[farm]
name = "Two"
[site.high]
latitude = 40.5
longitude = -108.5
elevation = "6000 ft"
timezone = "America/Denver"
[site.low]
latitude = 40.4
longitude = -108.6
elevation = "5900 ft"
timezone = "America/Denver"
[weather]
service = "us-nws"
[field.one]
site = "high"
cured = true
[baler]
kind = "round"
"""


@pytest.fixture
def two_sites(tmp_path):
    """A farm with two sites."""
    path = tmp_path / "two.toml"
    path.write_text(TWO_SITES, encoding="utf-8")
    return path


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_table_shows_the_hours_of_the_json_in_the_reader_s_units(server, capsys, units):
    asked = ("fetch", *AT, "--units", units)
    table = done(capsys, *asked, "--format", "table").splitlines()
    hours = json.loads(done(capsys, *asked, "--format", "json"))["hours"]
    rows = [line for line in table if line[:4].isdigit() and line[10:11] == " "]
    assert len(rows) == len(hours)
    for row, hour in zip(rows, hours, strict=True):
        air = to_shown(hour["air_temperature_c"], "temperature", units)
        assert abs(float(row[16:].split()[0]) - air) <= 0.5
    assert max(map(len, table)) <= 80
    (units_line,) = (line for line in table if line.startswith("time") or "°" in line)
    assert ("°F" if units == "us" else "°C") in units_line


def test_a_place_is_given_in_one_way(capsys, two_sites):
    assert refused(capsys, "fetch", two_sites, *AT).startswith("--at: ")
    assert refused(capsys, "fetch", "--at", "here").startswith("--at: ")
    assert refused(capsys, "fetch", "--at", "99,200").startswith("--at: ")
    assert refused(capsys, "fetch", "--at", "41.6,-0.6", "--service", "us-nws").startswith("--at: ")


def test_a_site_of_several_is_named(capsys, two_sites):
    line = refused(capsys, "fetch", two_sites)
    assert line.startswith("--site: ")
    assert "high, low" in line
    line = refused(capsys, "fetch", two_sites, "--site", "none")
    assert '"none"' in line
    assert "high, low" in line


def test_no_place_and_no_service_are_said(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert "--at" in refused(capsys, "fetch")
    assert str(SAGEBECK) in refused(capsys, "fetch", SAGEBECK)


@pytest.mark.parametrize("years", ["x", "2015:y", "0:3", "2020:2015", "2999"])
def test_years_that_are_none_or_not_past_are_refused(server, capsys, years):
    line = refused(capsys, "fetch", *AT, "--terms", "non-commercial", "--years", years)
    assert line.startswith("--years: ")
    assert years in line


def test_past_hours_come_from_one_service(capsys):
    line = refused(capsys, "fetch", *AT, "--service", "us-nws", "--years", "2015")
    assert line.startswith("--years: ")


def test_a_farm_file_is_refused_in_its_own_language(capsys, two_sites):
    text = two_sites.read_text(encoding="utf-8").replace(
        'name = "Two"', 'language = "es"\nrest = -1'
    )
    two_sites.write_text(text, encoding="utf-8")
    lines = [refused(capsys, name, two_sites) for name in ("inspect", "fetch", "outlook")]
    assert len(set(lines)) == 1
    assert "[farm] rest" in lines[0]
    assert "está fuera de 0 a 16 h" in lines[0]


def test_the_store_as_data_names_every_answer(server, capsys):
    done(capsys, "fetch", *AT)
    form = json.loads(done(capsys, "fetch", "--store", "show", "--format", "json"))
    assert form["schema"] == "hayweather/store/1"
    kinds = [answer["kind"] for answer in form["answers"]]
    assert set(kinds) == {"place", "forecast"}
    header, *rows = done(capsys, "fetch", "--store", "show", "--format", "csv").splitlines()
    assert header.split(",")[:2] == ["fetched", "kind"]
    assert len(rows) == len(kinds)


def test_an_answer_that_cannot_be_removed_is_said(server, capsys, monkeypatch):
    done(capsys, "fetch", *AT)
    monkeypatch.setattr("hayweather.weather.store.AnswerStore.clear", lambda *_a, **_k: 0)
    assert "stor" in refused(capsys, "fetch", "--store", "clear")
