"""What lies outside the hours needed changes nothing: cut a file at either end, the night stays."""

from __future__ import annotations

import os
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hayweather.farm import farm_of
from hayweather.farm.records import Farm
from hayweather.nights.night import Night, night_of
from hayweather.weather.files import read_weather_file
from hayweather.weather.judge import judged
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.windrow.spread import hourly_errors

SUMMER = Path(__file__).parents[1] / "data" / "nw_colorado_2017_may_september.csv.gz"
MEMBERS = 12
CASES = int(os.environ.get("HAYWEATHER_CUTS", "4"))


@cache
def farm() -> Farm:
    home = {
        "latitude": 40.53,
        "longitude": -108.54,
        "elevation": "2168 m",
        "timezone": "America/Denver",
    }
    fields = {"cured": {"cured": True}}
    return farm_of(
        site={"home": home},
        field=fields,
        baler={"useful_hours": 2},
        weather={"file": "x.csv", "invented": True},
    )


@cache
def summer() -> HourlyWeather:
    weather, _ = read_weather_file(SUMMER)
    return judged(weather, farm().sites["home"])


def night(weather: HourlyWeather, now: np.datetime64) -> Night:
    return night_of(farm(), {"home": weather}, now, members=MEMBERS)


@cache
def whole(now: np.datetime64) -> Night:
    return night(summer(), now)


def said(found: Night) -> list[object]:
    """Hours, windows and chances, to the last bit."""
    return [
        (field.name, field.windows, field.rake, field.headline.dew, field.headline.rig,
         [repr(hour) for hour in field.hours], field.shown.quarters.call.tobytes(),
         str(field.headline.doubt), field.headline.dew_chance)
        for field in found.fields
    ]  # fmt: skip


@pytest.mark.slow
@settings(max_examples=CASES, deadline=None)
@given(
    hour=st.integers(30 * 24, 35 * 24), before=st.integers(0, 30 * 24), after=st.integers(0, 400)
)
def test_a_file_cut_at_either_end_gives_the_same_night(hour: int, before: int, after: int) -> None:
    weather = summer()
    now = weather.start[0] + hour * HOUR
    reference = whole(now)
    drawn = reference.fields[0].weighed.drawn
    first = int((drawn.source.start[0] - weather.start[0]) / HOUR)
    last = int((reference.fields[0].span.last - weather.start[0]) / HOUR) + 12
    rained = 24  # the day before the run's first hour says whether it rained
    part = weather.between(max(first - rained - before, 0), min(last + after, weather.hours))
    assert said(night(part, now)) == said(reference)


def test_a_whole_summer_follows_no_more_hours_than_its_week() -> None:
    now = summer().start[0] + 32 * 24 * HOUR
    assert whole(now).fields[0].weighed.drawn.source.hours <= 8 * 24


@settings(max_examples=50, deadline=None)
@given(
    first=st.integers(-3000, 600_000), hours=st.integers(1, 300), skip=st.integers(0, 299)
)  # fmt: skip
def test_an_hour_s_errors_hang_on_the_hour_alone(first: int, hours: int, skip: int) -> None:
    all_hours = hourly_errors(5, first, hours, 3)
    skip = min(skip, hours - 1)
    later = hourly_errors(5, first + skip, hours - skip, 3)
    for name, values in all_hours.items():
        assert values.shape == (hours, 3)
        np.testing.assert_array_equal(values[skip:], later[name])


def test_errors_keep_their_size_and_memory_over_blocks() -> None:
    found = hourly_errors(7, 400_000, 24 * 80, 60)["air_temperature_c"] / 1.6
    assert found.std() == pytest.approx(1.0, abs=0.03)
    assert np.mean(found[1:] * found[:-1]) == pytest.approx(0.93, abs=0.02)
    steps = np.abs(np.diff(found, axis=0)).mean(axis=1)
    edges = np.flatnonzero((400_000 + 1 + np.arange(steps.size)) % 240 == 0)
    assert steps[edges].mean() < 1.25 * steps.mean()
