"""One night, one truth: what is written of random real nights agrees, checked from outside.

Real weather of three summers (sources in tests/data/README.md), fields, balers, rigs and
the minute of asking drawn with a fixed seed. The checker reads the outputs alone.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.agree import disagreements
from support.fields import BALER, CURED, RIG, farm_of
from support.seasons import HOUR, SITES, known_nights, read_season

from hayweather.catalog import BALERS
from hayweather.farm.records import Site
from hayweather.nights import night_of
from hayweather.show.calendar import outlook_calendar
from hayweather.show.outlook_data import outlook_csv, outlook_json
from hayweather.show.outlook_text import outlook_text
from hayweather.show.page import outlook_page
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.readings import Reading

PLACES = ("NW Colorado 2017", "NW Colorado 2023", "JFK 2013")
SEED = 41
MINUTE = np.timedelta64(60, "s")


def written(number: int) -> dict[str, str]:
    """The outputs of one random night."""
    random = np.random.default_rng((SEED, number))
    name = PLACES[random.integers(len(PLACES))]
    season = read_season(name)
    lane = int(random.choice(np.flatnonzero(known_nights(name))))
    weather = repeat_weather(season.weather, [lane])
    if random.random() < 0.8 and weather.get("rain_mm") is None:
        dry = np.zeros((weather.hours, 1))
        weather = replace(weather, columns={**weather.columns, "rain_mm": dry})
    if random.random() < 0.15:
        first = int(random.integers(30, 40))
        weather.columns["wind_speed_m_s"][first : first + 4] = np.nan
    place = SITES[name].place
    site = Site(name, place.latitude, place.longitude, place.elevation_m, SITES[name].zone)
    now = weather.start[0] + 27 * HOUR + int(random.integers(0, 14 * 60)) * MINUTE
    field = replace(
        CURED,
        site=name,
        cured=True if random.random() < 0.7 else None,
        ground=str(random.choice(["dry", "damp", "wet"])),
        moisture_now_wb=None,
        crop=str(random.choice(["alfalfa", "grass"])),
    )
    baler = replace(BALER, kind=str(random.choice(list(BALERS))))
    rig = RIG if random.random() < 0.6 else None
    farm = farm_of(field, rig, baler, sites={name: site})
    readings = {}
    if random.random() < 0.4:
        readings[field.name] = [Reading(now - 20 * MINUTE, float(random.uniform(6, 25)))]
    night = night_of(farm, {name: weather}, now, readings, members=16)
    return {
        "json": outlook_json(night, "us"),
        "text": outlook_text(night, "us", int(random.choice([80, 120]))),
        "csv": outlook_csv(night, "us"),
        "calendar": outlook_calendar(night, "us"),
        "page": outlook_page(night, "us"),
    }


@pytest.fixture(autouse=True)
def _fewer_fresh_ones(monkeypatch):
    monkeypatch.setattr("hayweather.nights.drive.MOST_MEMBERS", 64)


@pytest.mark.parametrize(
    "number", [*range(5), *(pytest.param(n, marks=pytest.mark.slow) for n in range(5, 10))]
)
def test_outputs_of_a_random_real_night_agree(number):
    assert disagreements(written(number)) == []


@pytest.mark.long
@pytest.mark.parametrize("number", range(10, 330))
def test_outputs_of_any_random_real_night_agree(number):
    assert disagreements(written(number)) == []


def test_the_checker_can_fail():
    """A word changed in one output is found."""
    said = written(3)
    for kind, old, new in (
        ("csv", ",wait,", ",go,"),
        ("json", '"advice": "wait"', '"advice": "go"'),
        ("text", " wait ", " go   "),
    ):
        changed = {**said, kind: said[kind].replace(old, new, 1)}
        assert changed != said
        assert disagreements(changed), kind
