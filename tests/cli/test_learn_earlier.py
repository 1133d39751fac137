"""``hayweather learn`` from what the open service says that it forecast on past days.

Answers have the documented form (``X_previous_dayN``, GMT stamps, units beside, null past the
end of a model), as the recorded one in the outside data has it; the hours are made up.
"""

import json
from datetime import date, datetime, timedelta
from functools import partial
from urllib.parse import parse_qs, urlsplit
from zlib import crc32

import numpy as np
import pytest
from cli.commands import done, refused
from weather.server import reply

from hayweather.cli.main import run
from hayweather.learning.forecast_errors import fit_errors
from hayweather.weather import asked

NOW = np.datetime64("2026-09-20T12:00:00")
BIAS = {1: 1.0, 2: 1.8, 3: 2.6}  # of the air, by days ahead
UNITS = {"temperature_2m": "°C", "relative_humidity_2m": "%", "dew_point_2m": "°C",
         "wind_speed_10m": "m/s", "cloud_cover": "%", "shortwave_radiation": "W/m²",
         "precipitation": "mm"}  # fmt: skip
FARM = """[farm]
name = "Hill"
[site.home]
latitude = 40.53
longitude = -108.54
elevation = "2168 m"
timezone = "America/Denver"
[weather]
service = "open-meteo"
terms = "non-commercial"
[baler]
kind = "large-square"
[field.north]
site = "home"
cured = true
"""


def air(hours):
    """Of hours since 1970 UTC, warmest at 14:00 in Colorado, another every day."""
    days = np.sin(2.1 * np.floor(hours / 24)) * 2
    return 17 + 9 * np.cos(2 * np.pi * (hours - 21) / 24) + days


def noise(name, lead, hours):
    """Errors that are the same for the same forecast of the same hour, 0.8 wide."""
    days, place = np.unique(np.floor(hours / 24), return_inverse=True)
    seeds = [crc32(f"{name} {lead} {day}".encode()) for day in days]
    return np.array([np.random.default_rng(seed).normal(0, 0.8) for seed in seeds])[place]


def said(name, lead, hours):
    """What the service said so many days ahead."""
    if name == "temperature_2m":
        return air(hours) + BIAS[lead] + noise(name, lead, hours)
    if name == "dew_point_2m":
        return air(hours) - 9 - 0.2 * lead + noise(name, lead, hours)
    return {"wind_speed_10m": 2.5, "cloud_cover": 20.0, "relative_humidity_2m": 50.0}.get(
        name, 0.0) + 0 * hours  # fmt: skip


def answer(query, change=lambda content: None):
    """The documented form of ``/v1/forecast`` of earlier runs."""
    first = date.fromisoformat(query["start_date"])
    count = 24 * ((date.fromisoformat(query["end_date"]) - first).days + 1)
    begin = datetime.combine(first, datetime.min.time())
    hours = np.arange(count) + (begin - datetime(1970, 1, 1)) / timedelta(hours=1)
    stamps = [(begin + timedelta(hours=hour)).strftime("%Y-%m-%dT%H:%M") for hour in range(count)]
    content = {
        "latitude": 40.52, "longitude": -108.55, "generationtime_ms": 19.65,
        "utc_offset_seconds": 0, "timezone": "GMT", "timezone_abbreviation": "GMT",
        "elevation": 2168.0, "hourly_units": {"time": "iso8601"}, "hourly": {"time": stamps},
    }  # fmt: skip
    for full in query["hourly"].split(","):
        name, _, lead = full.partition("_previous_day")
        content["hourly"][full] = np.round(said(name, int(lead), hours), 1).tolist()
        content["hourly_units"][full] = UNITS[name]
    change(content)
    return content


@pytest.fixture(autouse=True)
def _few_draws(monkeypatch):
    """Bars are looked at elsewhere."""
    monkeypatch.setattr("hayweather.learning.learn.fit_errors", partial(fit_errors, draws=20))


@pytest.fixture
def farm(server, tmp_path, monkeypatch):
    """A farm of the service, a season that was measured, and a server that answers `change`d."""
    monkeypatch.setattr(asked, "wall_clock", lambda: NOW)
    measured(tmp_path, "2026-06-01", "2026-07-10")
    path = tmp_path / "farm.toml"
    path.write_text(FARM)
    served(server)
    return path


def measured(folder, first, last):
    hours = np.arange(f"{first}T00", f"{last}T00", dtype="datetime64[h]")
    now = hours.astype(np.int64)
    rows = [f"{at}:00Z,{value:.2f},{value - 9:.2f},2.5" for at, value in
            zip(hours, air(now), strict=True)]  # fmt: skip
    (folder / "was.csv").write_text("\n".join(["time,temp_c,dewpoint_c,wind_ms", *rows]) + "\n")


def served(server, change=lambda content: None):
    def always(handler):
        query = {name: each[0] for name, each in parse_qs(urlsplit(handler.path).query).items()}
        reply(200, answer(query, change))(handler)

    server.always = always


def unavailable(capsys, farm):
    """The one line of weather that cannot be had, exit status 3."""
    code = run(["learn", str(farm), "--measured", str(farm.with_name("was.csv"))])
    told = capsys.readouterr()
    assert (code, told.out) == (3, "")
    (line,) = told.err.splitlines()
    return line


def biases(capsys, farm, column="air_temperature_c"):
    """By hours ahead, where there are nights."""
    asking = ("learn", farm, "--measured", farm.with_name("was.csv"), "--format", "json")
    form = json.loads(done(capsys, *asking))
    return {
        row["lead_h"]: (row["fitted"], row["nights"])
        for row in form["numbers"]
        if (row["what"], row["column"]) == ("bias", column) and row["nights"]
    }


def test_bias_by_days_ahead_is_learned_and_the_first_day_stays_assumed(server, farm, capsys):
    found = biases(capsys, farm)
    assert set(found) == {36.0, 72.0}
    assert found[36.0] == (pytest.approx(BIAS[1], abs=0.35), 39)
    assert found[72.0] == (pytest.approx((BIAS[2] + BIAS[3]) / 2, abs=0.35), 40)
    path, query, _ = server.seen[0]
    assert path == "/v1/forecast"
    assert (query["timezone"], query["wind_speed_unit"]) == ("GMT", "ms")
    assert (query["start_date"], query["end_date"]) == ("2026-06-01", "2026-07-09")
    text = done(capsys, "learn", farm, "--measured", farm.with_name("was.csv"), "--offline")
    assert "Open-Meteo" in text
    assert max(map(len, text.splitlines())) <= 80


def fahrenheit(content):
    for name, values in content["hourly"].items():
        if name.startswith(("temperature", "dew")):
            content["hourly"][name] = [1.8 * value + 32 for value in values]
            content["hourly_units"][name] = "°F"
        if name.startswith("wind"):
            content["hourly"][name] = [value * 3.6 for value in values]
            content["hourly_units"][name] = "km/h"


def nulls(content):
    for name, values in content["hourly"].items():
        if name != "time":
            values[100:124] = [None] * 24
            values[-40:] = [None] * 40


def no_third_day(content):
    for name in [name for name in content["hourly"] if name.endswith("day3")]:
        content["hourly_units"][name] = "undefined"
        content["hourly"][name] = [None] * len(content["hourly"]["time"])


def no_wind(content):
    for name in [name for name in content["hourly"] if name.startswith(("wind", "cloud"))]:
        del content["hourly"][name], content["hourly_units"][name]


@pytest.mark.parametrize(
    ("change", "nights", "far"),
    [
        (nulls, 37, 2.2),
        (no_wind, 39, 2.2),
        pytest.param(fahrenheit, 39, 2.2, marks=pytest.mark.slow),
        pytest.param(no_third_day, 39, 1.8, marks=pytest.mark.slow),
    ],
)
def test_units_blanks_and_fields_that_are_not_there(server, farm, capsys, change, nights, far):
    """Other units are turned, blanks are no errors, a lack costs what it is and no more."""
    served(server, change)
    found = biases(capsys, farm)
    assert found[36.0][0] == pytest.approx(BIAS[1], abs=0.35)
    assert found[36.0][1] == pytest.approx(nights, abs=1)
    assert found[72.0][0] == pytest.approx(far, abs=0.35)
    if change is no_wind:
        assert biases(capsys, farm, "wind_speed_m_s") == {}


def zone(content):
    content.update(utc_offset_seconds=-21600, timezone="America/Denver")


def gap(content):
    del content["hourly"]["time"][50]


def short(content):
    content["hourly"]["temperature_2m_previous_day1"].pop()


def unit(content):
    content["hourly_units"]["temperature_2m_previous_day1"] = "furlong"


def nothing(content):
    for name in list(content["hourly"]):
        if name != "time":
            content["hourly_units"][name] = "undefined"


@pytest.mark.parametrize("change", [zone, gap, short, unit, nothing])
def test_an_answer_that_is_not_what_was_asked_is_one_line(server, farm, capsys, change):
    """Another clock, a missing stamp, a column too short, an unknown unit, no air at all."""
    served(server, change)
    assert "Open-Meteo" in unavailable(capsys, farm)
    assert not farm.with_name("farm.learned.json").exists()


def test_years_are_asked_one_by_one_and_none_before_the_service_keeps_any(server, farm, capsys):
    measured(farm.parent, "2023-11-20", "2024-02-10")
    found = biases(capsys, farm)
    asked_for = [(query["start_date"], query["end_date"]) for _, query, _ in server.seen]
    assert asked_for == [("2024-01-01", "2024-02-09")]
    assert found[36.0] == (pytest.approx(BIAS[1], abs=0.35), 40)
    server.seen.clear()
    measured(farm.parent, "2024-12-10", "2025-01-20")
    assert found[36.0][0] == pytest.approx(biases(capsys, farm)[36.0][0], abs=0.5)
    asked_for = [(query["start_date"], query["end_date"]) for _, query, _ in server.seen]
    assert asked_for == [("2024-12-10", "2024-12-31"), ("2025-01-01", "2025-01-19")]
    measured(farm.parent, "2023-06-01", "2023-08-01")
    assert "no forecast of site" in refused(
        capsys, "learn", farm, "--measured", farm.with_name("was.csv"))  # fmt: skip


def test_a_service_that_refuses_and_terms_that_are_not_met_are_one_line(server, farm, capsys):
    asking = ("learn", farm, "--measured", farm.with_name("was.csv"))
    server.always = reply(400, {"error": True, "reason": "Parameter 'start_date' is out of range"})
    assert "start_date" in unavailable(capsys, farm)
    farm.write_text(FARM.replace('terms = "non-commercial"\n', ""))
    assert "terms" in refused(capsys, *asking)


def test_what_was_measured_in_another_unit_is_not_written(server, farm, capsys):
    """20 K off is no forecast's error: said at once, not when the next outlook reads it."""
    was = farm.with_name("was.csv")
    lines = was.read_text().splitlines()
    warm = [f"{at},{float(t) + 20},{dew},{wind}" for at, t, dew, wind in
            (line.split(",") for line in lines[1:])]  # fmt: skip
    was.write_text("\n".join([lines[0], *warm]) + "\n")
    assert run(["learn", str(farm), "--measured", str(was)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert "Nothing was written" in line
    assert not farm.with_name("farm.learned.json").exists()
