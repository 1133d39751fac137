"""Trying again, giving up, redirects, and the store in place of the service."""

from __future__ import annotations

import json
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import WeatherServer, cut, drip, redirect, reply
from weather.services_common import (
    BOTH,
    GLUED,
    GOOD,
    LATER,
    NOW,
    OPEN_METEO,
    SITE,
    US_NWS,
    in_a_hurry,
    same_hours,
    settings_for,
    the_failure,
    without_retry,
)

from hayweather.farm.records import WeatherChoice
from hayweather.weather.services import ServiceSettings, fetch_site_weather
from hayweather.weather.store import AnswerStore, StoredAnswer


@BOTH
def test_500_then_good_is_good(
    server: WeatherServer, settings: ServiceSettings, slept: list[float], choice: WeatherChoice
) -> None:
    server.script += [reply(500, "oops"), reply(503, {"title": "later"})]
    weather = fetch_site_weather(choice, SITE, settings, now=NOW)
    assert not weather.source.stored
    assert slept == [1.0, 3.0]


def test_garbled_then_good_is_good(
    server: WeatherServer, settings: ServiceSettings, slept: list[float]
) -> None:
    server.script += [cut(GOOD), reply(200, GLUED)]
    assert not fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW).source.stored
    assert slept == [1.0, 3.0]


def test_503_for_good_is_tried_three_times(
    server: WeatherServer, settings: ServiceSettings, slept: list[float]
) -> None:
    server.always = reply(503, "")
    the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW))
    assert len(server.seen) == 3
    assert slept == [1.0, 3.0]


def test_400_is_not_tried_again(
    server: WeatherServer, settings: ServiceSettings, slept: list[float]
) -> None:
    server.always = reply(400, {"error": True, "reason": "Latitude must be in range of -90 to 90"})
    failure = the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW))
    assert "Latitude must be in range of -90 to 90" in failure.line()
    assert (len(server.seen), slept) == (1, [])


def test_retry_after_is_kept_to(
    server: WeatherServer, settings: ServiceSettings, slept: list[float]
) -> None:
    server.script.append(reply(429, {"error": True, "reason": "limit"}, {"Retry-After": "7"}))
    assert not fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW).source.stored
    assert slept == [7.0]


def test_retry_after_as_a_date(
    server: WeatherServer, settings: ServiceSettings, slept: list[float]
) -> None:
    soon = time.strftime("%a, %d %b %Y %H:%M:%S GMT", time.gmtime(time.time() + 9))
    server.script.append(reply(429, {"error": True, "reason": "limit"}, {"Retry-After": soon}))
    fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    assert len(slept) == 1
    assert 5.0 < slept[0] <= 9.0


def test_too_long_a_wait_is_not_waited_for(
    server: WeatherServer, settings: ServiceSettings, slept: list[float]
) -> None:
    server.always = reply(429, {"error": True, "reason": "limit"}, {"Retry-After": "86400"})
    the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW))
    assert (len(server.seen), slept) == (1, [])


def test_refused_connection(tmp_path: Path) -> None:
    with WeatherServer() as server:
        settings = settings_for(server, tmp_path)
    failure = the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW))
    assert failure.key == "service_unreachable"


def test_slow_drip_is_given_up_in_time(server: WeatherServer, settings: ServiceSettings) -> None:
    server.always = drip(GOOD)
    begun = time.monotonic()
    hurried = in_a_hurry(settings)
    the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, hurried, now=NOW))
    assert time.monotonic() - begun < 1.5


def test_redirect_within_the_host_is_followed(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    server.script.append(redirect("/points/40.5,-108.5", 301))
    assert not fetch_site_weather(US_NWS, SITE, settings, now=NOW).source.stored


def test_grid_address_of_another_host_is_not_followed(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    server.script.append(reply(200, answers.us_nws_points("https://elsewhere.example")))
    fetch_site_weather(US_NWS, SITE, settings, now=NOW)
    assert server.seen[-1][0] == "/gridpoints/GJT/91,210"


@BOTH
def test_offline_uses_the_store_alone(
    server: WeatherServer, settings: ServiceSettings, choice: WeatherChoice
) -> None:
    ask = lambda now: fetch_site_weather(choice, SITE, settings, now=now, offline=True)  # noqa: E731
    assert the_failure(lambda: ask(NOW)).key == "service_offline"
    assert server.seen == []
    good = fetch_site_weather(choice, SITE, settings, now=NOW)
    asked = len(server.seen)
    stored = ask(LATER)
    assert same_hours(stored, good)
    assert stored.source.stored
    assert stored.source.fetched == NOW
    assert "stored_offline" in {note.key for note in stored.assumed}
    assert len(server.seen) == asked


def test_a_stored_forecast_that_is_over_does_not_serve(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    server.always = reply(500, "")
    week_later = NOW + np.timedelta64(7, "D")
    failure = the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, settings, now=week_later))
    assert failure.stored == "past"
    assert failure.line().endswith("the stored forecast of this place ended before now")


@pytest.mark.parametrize("kept", [True, False])
def test_a_stored_answer_that_is_no_forecast_never_serves(
    server: WeatherServer, settings: ServiceSettings, kept: bool
) -> None:
    """Whole by its digest, but not what this version reads: asked again, else said."""
    fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    store = AnswerStore(settings.store_folder())
    [entry] = store.entries()
    assert store.save(StoredAnswer(str(entry.request), b"{}", NOW, kept))
    server.always = reply(500, "")
    once = without_retry(settings)
    failure = the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, once, now=NOW))
    assert failure.stored == "damaged"
    server.always = None
    assert not fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW).source.stored


def test_many_at_once_are_asked_one_by_one(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    """The free service is to be asked one call at a time, whoever asks."""
    inside, most = [0], [0]

    def slowly(handler) -> None:
        inside[0] += 1
        most[0] = max(most[0], inside[0])
        time.sleep(0.02)
        inside[0] -= 1
        handler.send(200, json.dumps(GOOD).encode())

    server.always = slowly
    asking = [
        threading.Thread(target=lambda: fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW))
        for _ in range(5)
    ]
    for thread in asking:
        thread.start()
    for thread in asking:
        thread.join()
    assert len(server.seen) == 5
    assert most == [1]
