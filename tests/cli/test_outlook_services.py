"""Night from both services, filled with real hours of north-west Colorado."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from cli.commands import done, refused
from cli.service_farms import ASKED, PLACE, SERVICES, WHOLE_PLACE, farm_file, hours_of, outlook_form
from weather import server_answers as answers
from weather.server import reply
from weather.services_common import GOOD, changed, with_unit

from hayweather.cli.main import run
from hayweather.weather import catalog

BOTH = pytest.mark.parametrize("service", SERVICES)
FRESH_NWS = ("--old",)  # the grid of the tests was issued 42 hours before their now
DECIMALS = 1e-4
"""Numbers in the JSON are rounded to four decimals."""


def options_of(service: str) -> tuple[str, ...]:
    return (*ASKED, *(FRESH_NWS if service == "us-nws" else ()))


@pytest.mark.usefixtures("few_members")
@BOTH
def test_every_hour_is_the_source_s_on_the_local_clock(server, tmp_path, capsys, service):
    form = outlook_form(capsys, farm_file(tmp_path, service), *options_of(service))
    (field,) = form["fields"]
    assert field["site"]["timezone"] == answers.ZONE
    assert field["site"]["elevation_m"] == answers.ELEVATION_M
    hours = field["hours"]
    assert hours[0]["start"] == "2017-07-09T12:00:00-06:00"
    assert hours[-1]["start"] == "2017-07-10T13:00:00-06:00"
    assert len(hours) == 26
    first = 24 + 18  # hours of the source before 9 July, 18:00 UTC
    for name, ours in (("temp_c", "air_temperature_c"), ("dewpoint_c", "dew_point_c")):
        given = answers.real(name, first, len(hours))
        np.testing.assert_allclose([hour[ours] for hour in hours], given, atol=DECIMALS)
    assert all(hour["call"] != "no data" for hour in hours)
    assert all(sum(hour["chance"].values()) == pytest.approx(1) for hour in hours)


@pytest.mark.usefixtures("middle_alone")
def test_both_services_with_the_same_hours_agree(server, tmp_path, capsys):
    """All but the sun and the pressure, which the US grid does not have."""
    forms = [outlook_form(capsys, farm_file(tmp_path, s), *options_of(s)) for s in SERVICES]
    one, other = (hours_of(form) for form in forms)
    for name in ("windrow_moisture_wb", "leaf_moisture_wb"):
        apart = [abs(a[name] - b[name]) for a, b in zip(one, other, strict=True)]
        assert max(apart) < 2.0  # the sun that one of them lacks reaches the inside, too
    assert "shortwave" not in str(forms[0]["weather"]["assumed"])
    assumed = " ".join(forms[1]["weather"]["assumed"])
    assert "sun" in assumed
    assert "pressure" in assumed


@pytest.mark.usefixtures("middle_alone")
def test_the_licence_and_the_time_stand_on_every_output(server, tmp_path, capsys):
    farm, chart = farm_file(tmp_path), tmp_path / "chart.svg"
    table = " ".join(done(capsys, "outlook", farm, *ASKED, "--why", "--chart", chart).split())
    head = done(capsys, "outlook", farm, *ASKED, "--format", "csv").partition("\nfield,")[0]
    picture = " ".join(re.sub(r"<[^>]+>", " ", chart.read_text(encoding="utf-8")).split())
    for output in (table, head, picture):
        assert "Open-Meteo.com" in output
        assert "CC BY 4.0" in output
        assert "https://creativecommons.org/licenses/by/4.0/" in output
        assert "fetched noon (0 h old)" in output
    weather = outlook_form(capsys, farm, *ASKED)["weather"]
    assert weather["attribution"] == catalog.OPEN_METEO.attribution
    assert weather["fetched"] == "2017-07-09T12:00:00-06:00"
    assert (weather["issued"], weather["age_hours"], weather["stored"]) == (None, 0.0, False)


@pytest.mark.usefixtures("middle_alone")
def test_the_us_grid_says_when_it_was_issued(server, tmp_path, capsys):
    farm = farm_file(tmp_path, "us-nws")
    assert "42 hours old" in refused(capsys, "outlook", farm, *ASKED)
    table = " ".join(done(capsys, "outlook", farm, *ASKED, "--old", "--why").split())
    assert "issued Fri 6:15 pm (42 h old)" in table
    assert "Weather: US National Weather Service" in table


@pytest.mark.usefixtures("middle_alone")
def test_fahrenheit_and_kilometers_an_hour_are_converted(server, tmp_path, capsys):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    plain = hours_of(outlook_form(capsys, farm, *ASKED))
    hourly = GOOD["hourly"]
    warm = [value * 1.8 + 32 for value in hourly["temperature_2m"]]
    fast = [value * 3.6 for value in hourly["wind_speed_10m"]]
    server.always = reply(
        200,
        changed(
            temperature_2m={"hourly": warm, "hourly_units": "°F"},
            wind_speed_10m={"hourly": fast, "hourly_units": "km/h"},
        ),
    )
    other = hours_of(outlook_form(capsys, farm, *ASKED))
    for a, b in zip(plain, other, strict=True):
        assert a["call"] == b["call"]
        for name in ("air_temperature_c", "dew_point_c", "wind_2m_m_s"):
            assert a[name] == pytest.approx(b[name], abs=2 * DECIMALS)
        # The first step from dry hay in calm sun takes the last digit up to 0.004 points.
        assert a["windrow_moisture_wb"] == pytest.approx(b["windrow_moisture_wb"], abs=5e-3)


@pytest.mark.usefixtures("middle_alone")
def test_what_the_model_lacks_is_derived_or_said(server, tmp_path, capsys):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    server.always = reply(200, with_unit("precipitation", "undefined"))
    form = outlook_form(capsys, farm, *ASKED)
    assert all("rain unknown" in " ".join(hour["cautions"]) for hour in hours_of(form))
    assert all(hour["rain_mm"] is None for hour in hours_of(form))
    server.always = reply(200, with_unit("shortwave_radiation", "undefined"))
    assumed = " ".join(outlook_form(capsys, farm, *ASKED)["weather"]["assumed"])
    assert "sun" in assumed


@pytest.mark.usefixtures("middle_alone")
def test_nulls_past_the_horizon_are_no_data_and_in_no_window(server, tmp_path, capsys):
    horizon = 24 + 30  # 10 July, 6:00 UTC: midnight there
    ended = {
        name: {"hourly": [*values[:horizon], *[None] * (len(values) - horizon)]}
        for name, values in GOOD["hourly"].items()
        if name != "time"
    }
    server.always = reply(200, changed(**ended))
    form = outlook_form(capsys, farm_file(tmp_path, place=WHOLE_PLACE), *ASKED)
    calls = {hour["start"]: hour["call"] for hour in hours_of(form)}
    assert calls["2017-07-09T22:00:00-06:00"] != "no data"
    beyond = [call for start, call in calls.items() if start >= "2017-07-10T00"]
    assert len(beyond) == 14
    assert set(beyond) == {"no data"}
    # and the hour before: its rain is in the first stamp that is blank
    assert form["weather"]["hours_missing"] == 14 + 1
    assert all(window["end"] <= "2017-07-10T00" for window in form["fields"][0]["windows"])


@pytest.mark.usefixtures("middle_alone")
def test_an_elevation_that_nobody_tells_is_asked_for_and_never_taken_as_zero(
    server, tmp_path, capsys
):
    place = f'{PLACE}\ntimezone = "{answers.ZONE}"'
    for height in ({}, {"elevation": None}, {"elevation": -9999}):
        content = changed(**height)
        if not height:
            del content["elevation"]
        server.always = reply(200, content)
        line = refused(capsys, "outlook", farm_file(tmp_path, place=place), *ASKED)
        assert line.startswith(str(tmp_path / "farm.toml"))
        assert "add a line like elevation = 4300" in line
    done(capsys, "outlook", farm_file(tmp_path, place=WHOLE_PLACE), *ASKED)


def grid_with(**layers: tuple[str | None, list[dict]]) -> list[object]:
    """Answers about the place and its grid, some layers replaced."""
    grid = answers.us_nws_grid()
    for name, (uom, values) in layers.items():
        grid["properties"][name] = {"values": values, **({} if uom is None else {"uom": uom})}
    return [reply(200, answers.us_nws_points()), reply(200, grid)]


def interval(start: str, length: str, value: float | None) -> dict:
    return {"validTime": f"2017-07-{start}:00:00+00:00/{length}", "value": value}


@pytest.mark.usefixtures("middle_alone")
def test_a_week_in_one_interval_holds_for_every_hour(server, tmp_path, capsys):
    server.script = grid_with(
        dewpoint=("wmoUnit:degC", [interval("08T00", "P7DT14H", 3.25)]),
        relativeHumidity=("wmoUnit:percent", []),
    )
    form = outlook_form(capsys, farm_file(tmp_path, "us-nws"), *ASKED, "--old")
    hours = hours_of(form)
    assert len(hours) == 26
    assert {hour["dew_point_c"] for hour in hours} == {3.25}


@pytest.mark.usefixtures("middle_alone")
def test_thunder_lightning_and_red_flag_of_the_grid_stop_the_work(server, tmp_path, capsys):
    server.script = grid_with(
        lightningActivityLevel=(None, [interval("10T02", "PT2H", 3)]),
        probabilityOfThunder=(None, [interval("10T06", "PT1H", 15)]),
        redFlagThreatIndex=(None, [interval("10T10", "PT1H", 1)]),
    )
    form = outlook_form(capsys, farm_file(tmp_path, "us-nws"), *ASKED, "--old")
    stopped = [hour["start"][11:13] for hour in hours_of(form) if hour["stop"]]
    assert stopped == ["20", "21", "00", "04"]
    text = " ".join(reason for hour in hours_of(form) for reason in hour["reasons"])
    assert "thunder" in text
    assert "red flag" in text.lower()


@pytest.mark.usefixtures("middle_alone")
def test_every_site_is_asked_for_once(server, tmp_path, capsys):
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    text = farm.read_text(encoding="utf-8").replace(
        "[weather]", f"[site.far]\n{WHOLE_PLACE.replace('40.53', '40.81')}\n[weather]"
    )
    fields = '[field.b]\nsite = "far"\ncured = true\n[field.c]\nsite = "home"\ncured = true\n'
    farm.write_text(text.replace("[baler]", f"{fields}[baler]"), encoding="utf-8")
    form = outlook_form(capsys, farm, *ASKED)
    assert [field["site"]["name"] for field in form["fields"]] == ["home", "far", "home"]
    assert [query["latitude"] for _, query, _ in server.seen] == ["40.5300", "40.8100"]


@pytest.mark.usefixtures("middle_alone")
@BOTH
def test_the_address_of_a_service_by_option(server, tmp_path, capsys, monkeypatch, service):
    for name in ("OPEN_METEO", "US_NWS"):
        monkeypatch.setenv(f"HAYWEATHER_{name}_URL", "https://nowhere.invalid")
    farm = farm_file(tmp_path, service)
    outlook_form(capsys, farm, *options_of(service), "--weather-url", server.url)
    assert server.seen
    line = refused(capsys, "outlook", farm, *ASKED, "--weather-url", "http://example.org")
    assert line.startswith('--weather-url: "http://example.org" is no web address')


def test_terms_contact_and_country_are_settled_before_anybody_is_asked(
    server, tmp_path, capsys, monkeypatch
):
    farm = farm_file(tmp_path)
    text = farm.read_text(encoding="utf-8")
    farm.write_text(text.replace('terms = "non-commercial"\n', ""), encoding="utf-8")
    line = refused(capsys, "outlook", farm, *ASKED)
    assert "[weather] terms" in line
    assert "HAYWEATHER_OPEN_METEO_KEY" in line
    monkeypatch.delenv("HAYWEATHER_CONTACT")
    assert refused(capsys, "outlook", farm_file(tmp_path, "us-nws"), *ASKED).startswith(
        "HAYWEATHER_CONTACT: "
    )
    spain = farm_file(tmp_path, "us-nws", "latitude = 41.6\nlongitude = -0.6")
    assert "United States" in refused(capsys, "outlook", spain, *ASKED)
    assert server.seen == []


def test_the_request_goes_out_at_the_clock_s_time_whatever_now_is(server, tmp_path, capsys):
    """`--now` decides the outlook alone; what is stored bears the time on the wall."""
    farm = farm_file(tmp_path)
    line = refused(capsys, "outlook", farm, "--now", "2019-07-09T12:00")
    assert "pass --now with a time within it" in line
    listed = json.loads(done(capsys, "fetch", "--store", "show", "--format", "json"))
    assert {answer["fetched"] for answer in listed["answers"]} == {"2017-07-09T18:00:00Z"}


@pytest.mark.usefixtures("few_members")
def test_offline_asks_nobody_and_says_so(server, tmp_path, capsys):
    farm = farm_file(tmp_path)
    assert run(["outlook", str(farm), *ASKED, "--offline"]) == 3
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.splitlines() == [
        "Open-Meteo: --offline asks no service; leave it out, or use a weather file; "
        "no stored forecast of this place"
    ]
    fresh = hours_of(outlook_form(capsys, farm, *ASKED))
    asked = len(server.seen)
    form = outlook_form(capsys, farm, *ASKED, "--offline")
    assert hours_of(form) == fresh
    assert form["weather"]["stored"] is True
    assert "--offline" in " ".join(form["weather"]["assumed"])
    assert len(server.seen) == asked
