"""A server that stands for every weather service, and quick settings for it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import WeatherServer
from weather.services_common import NOW

from hayweather import nights
from hayweather.nights import drive
from hayweather.plan import make as plans
from hayweather.weather import asked as load
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.weather.services.settings import Limits, ServiceSettings

STEADY = Limits(connect_s=5.0, read_s=10.0, total_s=20.0)
"""Limits that a busy computer does not reach."""


@pytest.fixture
def waits() -> list[float]:
    """Waits between two tries; empty means a single try."""
    return []


@pytest.fixture
def slept() -> list[float]:
    """What the program would have slept [s]."""
    return []


@pytest.fixture
def limits() -> Limits:
    """How long an answer may take."""
    return STEADY


@pytest.fixture
def server(tmp_path, monkeypatch, waits, slept, limits) -> Iterator[WeatherServer]:
    """The server; a store of its own, nothing slept, and July 2017 on the wall."""
    with WeatherServer() as found:
        for name, value in found.environment().items():
            monkeypatch.setenv(name, value)
        monkeypatch.setenv("HAYWEATHER_STORE", str(tmp_path / "store"))
        monkeypatch.setenv("COLUMNS", "80")
        usual = ServiceSettings.from_environment
        held = replace(limits, waits_s=tuple(waits))

        def quick(environ=None, *, options=None):
            settings = usual(environ, options=options)
            return replace(settings, limits=held, bulk_limits=held, sleep=slept.append)

        monkeypatch.setattr(ServiceSettings, "from_environment", quick)
        monkeypatch.setattr(load, "wall_clock", lambda: NOW)
        yield found


def near(weather: HourlyWeather, now: np.datetime64, days: int = 1) -> HourlyWeather:
    """The hours from now to the end of the outlook: a run that begins in an afternoon."""
    at = int((now - weather.start[0]) / HOUR)
    return weather.between(max(at, 0), min(at + 3 + 24 * days, weather.hours))


def quicken(monkeypatch, members: int) -> None:
    """Outlooks with few members, hours and steps: nearly all of the time goes into these."""
    usual = nights.night_of

    def make(farm, weather, now, readings=None, **options):
        days = options.get("days") or 1
        short = {site: near(hours, now, days) for site, hours in weather.items()}
        return usual(farm, short, now, readings, **{**options, "members": members})

    monkeypatch.setattr(nights, "night_of", make)
    monkeypatch.setattr(plans, "night_of", make)
    monkeypatch.setattr(drive, "run", partial(drive.run, steps_per_hour=4))


@pytest.fixture(autouse=True)
def _few_fresh_members(monkeypatch) -> None:
    """What readings do with fresh members is looked at elsewhere; here a few will do."""
    monkeypatch.setattr(drive, "MOST_MEMBERS", 64)


@pytest.fixture
def middle_alone(monkeypatch) -> None:
    """Outlooks of the middle forecast alone."""
    quicken(monkeypatch, 0)


@pytest.fixture
def few_members(monkeypatch) -> None:
    """Outlooks with a few members, where what is looked at does not hang on their number."""
    quicken(monkeypatch, 24)


@pytest.fixture
def few_draws(monkeypatch) -> None:
    """Fits from a few draws, where what they find is of no matter."""
    for name in ("FIRST_DRAWS", "LATER_DRAWS", "SCATTER_MEMBERS"):
        monkeypatch.setattr(f"hayweather.learning.tune.{name}", 20)


@pytest.fixture
def whole_years(monkeypatch) -> None:
    """The few days of the source over and over, so that they fill years."""

    def again(name: str, first: int = 0, hours: int = answers.HOURS) -> list[float]:
        days = answers.real_hours()
        return [days[(first + hour) % len(days)][name] for hour in range(hours)]

    monkeypatch.setattr(answers, "real", again)


@pytest.fixture
def any_place(monkeypatch) -> None:
    """Colorado's hours stand for another place: the gate, which would tell, is left open."""
    monkeypatch.setattr("hayweather.weather.judge.doubts_of", lambda weather, site: iter(()))


@pytest.fixture
def no_work(monkeypatch) -> None:
    """Any work is a failure: nothing may be read or fetched for a place that is refused."""

    def fail(*_args, **_options):
        raise AssertionError("work before the places were checked")

    monkeypatch.setattr("hayweather.weather.asked.weather_for", fail)
    monkeypatch.setattr("hayweather.seasons.engine.make_seasons", fail)
    monkeypatch.setattr("hayweather.seasons.trial.judge_trial", fail)
    monkeypatch.setattr("hayweather.weather.files.read_weather_file", fail)
