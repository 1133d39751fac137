"""What the tests of the services share: a site, a time, settings, comparisons."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import WeatherServer

from hayweather.farm.records import Site, WeatherChoice
from hayweather.weather.record import HourlyWeather
from hayweather.weather.services import ServiceSettings, fetch_site_weather, open_meteo
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.settings import Limits
from hayweather.weather.store import StoredAnswer

NOW = np.datetime64("2017-07-09T18:00:00")
LATER = NOW + np.timedelta64(5, "h")
FIRST = np.datetime64("2017-07-08T00:00:00")
SITE = Site("home", answers.LATITUDE, answers.LONGITUDE, answers.ELEVATION_M, answers.ZONE)
OPEN_METEO = WeatherChoice(service="open-meteo", terms="non-commercial")
US_NWS = WeatherChoice(service="us-nws")
BOTH = pytest.mark.parametrize("choice", [OPEN_METEO, US_NWS], ids=["open-meteo", "us-nws"])
STEADY = Limits(connect_s=5.0, read_s=10.0, total_s=20.0, waits_s=(1.0, 3.0), longest_wait_s=20.0)
"""Limits that a busy computer does not reach."""
BRIEF = replace(STEADY, connect_s=0.5, read_s=0.3, total_s=0.5, waits_s=())
"""Limits for answers that never end."""
GOOD = answers.open_meteo(list(open_meteo.FORECAST))
GLUED = json.dumps(GOOD)[:3000] + "Unexpected error while streaming data: timeoutReached"


def changed(**parts: object) -> dict[str, object]:
    """The good answer with some parts in the hours or at the top replaced."""
    content: dict[str, object] = json.loads(json.dumps(GOOD))
    for name, value in parts.items():
        for table in ("hourly", "hourly_units"):
            inner = content[table]
            assert isinstance(inner, dict)
            if isinstance(value, dict) and table in value:
                inner[name] = value[table]
        if not isinstance(value, dict):
            content[name] = value
    return content


def with_values(name: str, values: object) -> dict[str, object]:
    """The good answer with other values of one column."""
    return changed(**{name: {"hourly": values}})


def with_unit(name: str, unit: object) -> dict[str, object]:
    """The good answer with another unit of one column."""
    return changed(**{name: {"hourly_units": unit}})


def settings_for(
    server: WeatherServer, folder: Path, slept: list[float] | None = None, **more: str
) -> ServiceSettings:
    """Settings that point to `server`, sleep never and note in `slept` how long they would."""
    environ = {**server.environment(), "HAYWEATHER_STORE": str(folder), **more}
    waits: list[float] = [] if slept is None else slept
    found = ServiceSettings.from_environment(environ)
    return replace(found, limits=STEADY, bulk_limits=STEADY, sleep=waits.append)


def without_retry(settings: ServiceSettings) -> ServiceSettings:
    """The same with a single try, where retries would only take time."""
    return replace(settings, limits=replace(settings.limits, waits_s=()))


def in_a_hurry(settings: ServiceSettings) -> ServiceSettings:
    """The same with a single try that is given up soon."""
    return replace(settings, limits=BRIEF)


def column(weather: HourlyWeather, name: str, lane: int = 0) -> np.ndarray:
    """One column of one lane."""
    values = weather.get(name)
    assert values is not None, name
    return values[:, lane]


def the_failure(call: Callable[[], object]) -> ServiceError:
    """The failure of `call`, checked to be one line in both languages with exit code 3."""
    with pytest.raises(ServiceError) as caught:
        call()
    failure = caught.value
    assert failure.exit_code == 3
    for language in ("en", "es"):
        line = failure.line(language)
        assert "\n" not in line
        assert "Traceback" not in line
        assert len(line) < 400
    return failure


def same_hours(one: HourlyWeather, other: HourlyWeather) -> bool:
    """True when two records hold the same hours."""
    return bool(
        one.start[0] == other.start[0]
        and set(one.columns) == set(other.columns)
        and all(
            np.array_equal(values, other.columns[name], equal_nan=True)
            for name, values in one.columns.items()
        )
    )


REQUEST = "https://api.example/v1/forecast?latitude=1"


def answer(body: bytes = b'{"a": 1}', request: str = REQUEST, kept: bool = False) -> StoredAnswer:
    """A small answer as the store holds it."""
    return StoredAnswer(request, body, NOW, kept)


def note_keys(server: WeatherServer, folder: Path, **more: bool) -> set[str]:
    """What is said beside a forecast that is fetched with its store in `folder`."""
    weather = fetch_site_weather(OPEN_METEO, SITE, settings_for(server, folder), now=NOW, **more)
    assert weather.hours == answers.HOURS
    return {note.key for note in weather.assumed}
