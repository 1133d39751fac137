"""Fetch: a forecast saved and read back, the store shown and cleared, wrong words."""

from __future__ import annotations

import json

import pytest
from cli.commands import done, refused
from cli.service_farms import ASKED, SERVICES, WHOLE_PLACE, farm_file, outlook_form
from weather import server_answers as answers

from hayweather.cli.main import run
from hayweather.weather import catalog

AT = ("--at", f"{answers.LATITUDE},{answers.LONGITUDE}")


@pytest.mark.usefixtures("few_members")
def test_fetched_hours_read_back_to_the_same_outlook(server, tmp_path, capsys):
    farm, saved = farm_file(tmp_path), tmp_path / "saved.csv"
    asked = outlook_form(capsys, farm, *ASKED)
    done(capsys, "fetch", farm, "--out", saved)
    text = farm_file(tmp_path, place=WHOLE_PLACE).read_text(encoding="utf-8")
    offline = tmp_path / "offline.toml"
    offline.write_text(text.replace(SERVICES["open-meteo"], f'file = "{saved.name}"'))
    read = outlook_form(capsys, offline, *ASKED)
    assert read["fields"][0]["hours"] == asked["fields"][0]["hours"]
    assert read["weather"]["attribution"] == catalog.OPEN_METEO.attribution
    assert "hour" in done(capsys, "inspect", saved).lower()


def test_a_place_without_a_farm_file(server, capsys):
    """The US service by default; its hours with zone and elevation of the grid."""
    form = json.loads(done(capsys, "fetch", *AT, "--format", "json"))
    assert [path[:12] for path, _, _ in server.seen[-2:]] == ["/points/40.5", "/gridpoints/"]
    assert (form["timezone"], form["elevation_m"]) == (answers.ZONE, answers.ELEVATION_M)
    assert [hour["air_temperature_c"] for hour in form["hours"]] == answers.real("temp_c")


def test_the_store_is_shown_and_cleared(server, tmp_path, capsys):
    done(capsys, "fetch", farm_file(tmp_path))
    assert "2017-07-09 18:00 UTC  forecast" in done(capsys, "fetch", "--store", "show")
    done(capsys, "fetch", "--store", "clear")
    assert " UTC  forecast" not in done(capsys, "fetch", "--store", "show")
    done(capsys, "fetch", "--store", "clear-all")
    assert done(capsys, "fetch", "--store", "show").startswith("stored answers: 0,")


def test_the_store_says_that_an_answer_came_without_a_word_of_the_key(
    server, tmp_path, capsys, monkeypatch
):
    monkeypatch.setenv("HAYWEATHER_OPEN_METEO_KEY", "s3cret-of-the-farm")
    done(capsys, "fetch", farm_file(tmp_path))
    assert server.seen[-1][1]["apikey"] == "s3cret-of-the-farm"
    listed = done(capsys, "fetch", "--store", "show", "--format", "json")
    assert "latitude=40.5300" in listed
    assert "apikey" not in listed
    assert "s3cret" not in listed


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (("--at", "north"), "--at"),
        (("--at", "143,10"), "latitude"),
        (("--at", "41.6,-0.6"), "United States"),
        (("--at", "40,-108", "--years", "2030:2031", "--terms", "non-commercial"), "--years"),
        (("--at", "40,-108", "--years", "20x", "--terms", "non-commercial"), "2015:2024"),
        (("--at", "40,-108", "--years", "2016", "--service", "us-nws"), "open-meteo"),
        (("--at", "40,-108", "--years", "2016"), "terms"),
        (("--at", "40,-108", "--store", "show"), "--store"),
    ],
)
def test_a_wrong_fetch_is_one_line(server, capsys, arguments, word):
    assert word in refused(capsys, "fetch", *arguments)
    assert server.seen == []


def test_offline_with_an_empty_store_asks_nobody(server, capsys):
    assert run(["fetch", *AT, "--offline"]) == 3
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert server.seen == []
