"""Hours that nobody can call: every output says unknown, why, and what to do; never "no work"."""

import json
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from icalendar import Calendar
from support.outlooks import FOLDER

from hayweather.farm import read_farm
from hayweather.nights import night_of
from hayweather.plan.make import plan_work
from hayweather.plan.sheet import make_runsheet
from hayweather.show.calendar import outlook_calendar, runsheet_calendar
from hayweather.show.chart import description
from hayweather.show.chart_look import Look
from hayweather.show.chart_scene import Scene
from hayweather.show.message import runsheet_message
from hayweather.show.outlook_data import outlook_csv, outlook_json
from hayweather.show.outlook_text import outlook_text
from hayweather.show.page import html_of, outlook_page, runsheet_page
from hayweather.show.plan_data import plan_csv, plan_json
from hayweather.show.plan_text import plan_text
from hayweather.show.runsheet_data import runsheet_json
from hayweather.show.runsheet_text import runsheet_text
from hayweather.weather.asked import weather_for
from hayweather.weather.record import HOUR, HourlyWeather

EVENING = np.datetime64("2025-07-09T00:00", "s")  # 17:00 in Oregon
GAP = (np.datetime64("2025-07-09T03:00", "s"), np.datetime64("2025-07-09T17:00", "s"))
MIDNIGHT = np.datetime64("2025-07-09T07:00", "s")  # the least that tonight is served with
NIGHTS = ("gap", "ends")
SAID = {"gap": "nknown 7 pm to 2 pm: air temperature missing and dew point missing",
        "ends": "nknown midnight to 2 pm: the weather ends at midnight"}  # fmt: skip
TO_DO = "Nobody knows the hay then: go and look before any work, and take a reading"
WRONG = re.compile(
    r"Sleep|[Nn]o work|[Nn]othing to bale|[Nn]obody bales|No dew to get up for|No natural dew"
    r"|does not help tonight|Chance of at least|no dew to bale on|nothing but to wait"
)


def with_gap(weather: HourlyWeather) -> HourlyWeather:
    """No temperature and no dew point from 8 pm to 10 am."""
    hours = (GAP[0] - weather.start[0]) // HOUR, (GAP[1] - weather.start[0]) // HOUR
    columns = {name: values.copy() for name, values in weather.columns.items()}
    for name in ("air_temperature_c", "dew_point_c"):
        columns[name][slice(*map(int, hours))] = np.nan
    return replace(weather, columns=columns)


def that_ends(weather: HourlyWeather) -> HourlyWeather:
    """Ends at midnight, before any dew."""
    return weather.between(0, int((MIDNIGHT - weather.start[0]) // HOUR))


@cache
def night(kind: str):
    farm = read_farm(FOLDER / "sagebeck.toml")
    change = {"gap": with_gap, "ends": that_ends}[kind]
    weather = {name: change(item) for name, item in weather_for(farm, farm.sites).items()}
    return night_of(farm, weather, EVENING, members=12)


def one_line(text: str) -> str:
    return " ".join(text.split())


def of_field(text: str, name: str, after: str) -> str:
    """What a text says first of a field."""
    return one_line(text.partition(f"\n{name}: ")[2].partition(after)[0])


@pytest.mark.parametrize("kind", NIGHTS)
def test_headline_and_table(kind):
    text = outlook_text(night(kind), "us")
    screen = one_line(text.partition("Next: ")[0])
    assert SAID[kind] in screen
    assert TO_DO in screen
    assert not WRONG.search(screen), screen
    for name in ("bench", "creek", "saddle"):
        assert not WRONG.search(of_field(text, name, "\n\n"))
    if kind == "gap":
        assert text.count("  unknown 7 pm to 2 pm\n") == 3  # below the strip of each field
    tables = text.partition("hour by hour")[2]
    rows = [line for line in tables.splitlines() if line.startswith("??")]
    assert any("unknown" in row.lower() for row in rows)
    if kind == "ends":
        assert sum(SAID["ends"] in row for row in rows) == 3  # below each table


@pytest.mark.parametrize("kind", NIGHTS)
def test_json_and_csv(kind):
    form = json.loads(outlook_json(night(kind), "us"))
    for field in form["fields"]:
        assert SAID[kind] in field["headline"]
        assert not WRONG.search(field["headline"])
        (unknown,) = field["unknown"]
        assert unknown["end"] == "2025-07-09T14:00:00-07:00"
        assert unknown["reasons"]
        assert field["look_at"] != "sleep"
    bench = form["fields"][0]
    if kind == "gap":
        assert bench["look_at"] == "unknown"
        called = [hour for hour in bench["hours"] if hour["call"] == "no data"]
        assert {hour["advice"] for hour in called} == {"unknown"}
    notes = [line for line in outlook_csv(night(kind), "us").splitlines() if line.startswith("#")]
    assert any(f"bench: U{SAID[kind]}" in line for line in notes)


@pytest.mark.parametrize("kind", NIGHTS)
def test_page_chart_and_short_answer(kind):
    outlook = night(kind)
    for text in (outlook_page(outlook, "us"), html_of(outlook, "us")):
        assert SAID[kind] in one_line(text)
        assert not WRONG.search(text)
    for field in outlook.fields:
        said = description(Scene(field, Look()))
        assert SAID[kind] in said
        assert not WRONG.search(said)


@pytest.mark.parametrize("kind", NIGHTS)
def test_calendars(kind):
    outlook = night(kind)
    sheet = make_runsheet(outlook)
    for text in (outlook_calendar(outlook, "us"), runsheet_calendar(sheet, "us")):
        events = Calendar.from_ical(text).walk("VEVENT")
        unknown = [item for item in events if "Unknown: " in str(item["summary"])]
        assert len(unknown) == 3
        for item in unknown:
            assert SAID[kind] in str(item["description"])
            assert TO_DO in str(item["description"])
            assert item.walk("VALARM")
            assert f"{item.end:%H:%M}" == "14:00"


@pytest.mark.parametrize("kind", NIGHTS)
def test_run_sheet_its_page_and_message(kind):
    outlook = night(kind)
    sheet = make_runsheet(outlook)
    text = runsheet_text(sheet, "us")
    for name in ("bench", "creek", "saddle"):
        said = of_field(text, name, "\n\n")
        assert SAID[kind] in said
        assert TO_DO in said
        assert not WRONG.search(said), said
    assert SAID[kind] in one_line(runsheet_page(sheet, "us"))
    json.loads(runsheet_json(sheet, "us"))
    message = " ".join(re.sub(r"^\(\d+/\d+\) ", "", part) for part in runsheet_message(sheet, "us"))
    assert re.search(r"bench, creek, saddle: unknown \S+( pm)? to 2 pm, go and look\.", message)
    assert not WRONG.search(message)


@pytest.mark.parametrize("kind", NIGHTS)
def test_plan(kind):
    plan = plan_work(night(kind), seconds=1.0, unseen=0)
    for text in (plan_text(plan, "us"), plan_csv(plan, "us"), plan_json(plan, "us")):
        said = one_line(text)
        assert f"ench: U{SAID[kind]}" in said
        assert "addle: Probe the stems first" in said
        assert TO_DO in said
        assert not WRONG.search(said)


def test_spanish_says_it_too():
    outlook = night("ends")
    spanish = replace(outlook, farm=replace(outlook.farm, language="es", notes=()))
    text = one_line(outlook_text(spanish, "metric"))
    assert "No se sabe 00:00 a 14:00: los datos del clima terminan (00:00)." in text
    assert "vaya a ver antes de cualquier trabajo y tome una medida" in text
    assert "Duerma" not in text


@pytest.mark.parametrize("kind", NIGHTS)
def test_no_rain_is_made_up_where_nobody_knows_the_weather(kind):
    assert "rain makes it wet again" not in one_line(outlook_text(night(kind), "us"))
