"""An answer is judged and must serve before it replaces a good one; older ones are joined."""

from __future__ import annotations

import json
from datetime import timedelta

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import WeatherServer, reply
from weather.services_common import BOTH, GOOD, NOW, OPEN_METEO, SITE, US_NWS, with_values

from hayweather.farm.records import WeatherChoice
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.weather.services import ServiceError, ServiceSettings, fetch_site_weather
from hayweather.weather.services.us_nws_layers import read_grid
from hayweather.weather.store import AnswerStore, StoredAnswer

NAMES = list(GOOD["hourly"])[1:]


def at(hours_from_first: int, hours: int, choice: WeatherChoice) -> dict:
    """An answer of some hours."""
    first = answers.FIRST + timedelta(hours=hours_from_first)
    skip = max(hours_from_first, 0)
    if choice is US_NWS:
        return answers.us_nws_grid(first=first, hours=hours, skip=skip)
    return answers.open_meteo(NAMES, first_stamp=first, hours=hours, skip=skip)


def moved(choice: WeatherChoice, place: tuple[float, float], elevation_m: float) -> dict:
    """A good answer for somewhere else."""
    content = at(0, answers.HOURS, choice)
    latitude, longitude = place
    if choice is not US_NWS:
        return {**content, "latitude": latitude, "longitude": longitude, "elevation": elevation_m}
    around = [(-0.01, -0.01), (-0.01, 0.01), (0.01, 0.01), (0.01, -0.01), (-0.01, -0.01)]
    ring = [[longitude + east, latitude + north] for east, north in around]
    content["geometry"] = {"type": "Polygon", "coordinates": [ring]}
    content["properties"]["elevation"]["value"] = elevation_m
    return content


def answer(server: WeatherServer, content: dict, choice: WeatherChoice) -> None:
    """The next forecast asked for is this."""
    if choice is US_NWS:
        server.script.append(reply(200, answers.us_nws_points()))
    server.script.append(reply(200, content))


def refused(
    server: WeatherServer, settings: ServiceSettings, choice: WeatherChoice, content: dict
) -> ServiceError:
    """Why an answer is not taken: alone, and beside a good one that was stored before."""
    answer(server, content, choice)
    with pytest.raises(ServiceError) as caught:
        fetch_site_weather(choice, SITE, settings, now=NOW)
    assert caught.value.exit_code == 3
    assert "\n" not in caught.value.line()
    server.script.clear()
    good = fetch_site_weather(choice, SITE, settings, now=NOW - HOUR)
    assert not good.source.stored
    server.script.append(reply(200, content))
    kept = fetch_site_weather(choice, SITE, settings, now=NOW)
    assert kept.source.stored
    assert kept.source.fetched == NOW - HOUR
    np.testing.assert_array_equal(
        kept.columns["air_temperature_c"], good.columns["air_temperature_c"]
    )
    again = fetch_site_weather(choice, SITE, settings, now=NOW, offline=True)
    assert again.source.fetched == NOW - HOUR
    return caught.value


@BOTH
@pytest.mark.parametrize(
    ("place", "elevation_m", "why"),
    [
        ((41.0, 74.5), answers.ELEVATION_M, "judge_place"),
        ((-33.0, -108.5), answers.ELEVATION_M, "judge_place"),
        ((40.53, -108.54), 8000.0, "judge_height"),
    ],
)
def test_an_answer_for_another_place(server, settings, choice, place, elevation_m, why) -> None:
    error = refused(server, settings, choice, moved(choice, place, elevation_m))
    assert error.values["why"].key == why


@BOTH
@pytest.mark.parametrize(
    ("first", "hours"), [(0, 30), (42, 1), (66, 48), (-24 * 3, 48)],
    ids=["past", "one hour", "tomorrow", "long past"],
)  # fmt: skip
def test_an_answer_that_does_not_hold_the_night(server, settings, choice, first, hours) -> None:
    error = refused(server, settings, choice, at(first, hours, choice))
    assert error.key == "service_serves_not"


def test_a_forecast_issued_in_2099(server, settings) -> None:
    content = at(0, answers.HOURS, US_NWS)
    content["properties"]["updateTime"] = "2099-01-01T00:00:00+00:00"
    assert refused(server, settings, US_NWS, content).key == "service_serves_not"


def test_air_of_another_season_is_said(server, settings) -> None:
    cold = [value - 65 for value in GOOD["hourly"]["temperature_2m"]]
    content = with_values("temperature_2m", cold)
    content["hourly"]["dew_point_2m"] = [value - 10 for value in cold]
    content["hourly"]["relative_humidity_2m"] = [None] * len(cold)
    weather = _fetched(server, settings, content)
    assert "air_out_of_season" in {note.key for note in weather.assumed}


def test_air_in_another_unit_than_said_is_refused(server, settings) -> None:
    fahrenheit = [(value - 20) * 1.8 + 32 for value in GOOD["hourly"]["temperature_2m"]]
    content = with_values("temperature_2m", fahrenheit)
    content["hourly"]["relative_humidity_2m"] = [None] * len(fahrenheit)
    content["hourly"]["dew_point_2m"] = [value - 20 for value in fahrenheit]
    assert refused(server, settings, OPEN_METEO, content).values["why"].key == "judge_season"


def _fetched(server: WeatherServer, settings: ServiceSettings, content: dict) -> HourlyWeather:
    server.script.append(reply(200, content))
    return fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)


def test_a_believed_check_lets_an_answer_pass_and_says_so(server, settings) -> None:
    content = moved(OPEN_METEO, (40.53, -108.54), 8000.0)
    server.script.append(reply(200, content))
    choice = WeatherChoice(service="open-meteo", terms="non-commercial", believe=("height",))
    weather = fetch_site_weather(choice, SITE, settings, now=NOW)
    assert [note.values["check"] for note in weather.assumed if note.key == "believed"] == [
        "height"
    ]


def test_an_answer_stored_in_2099_does_not_serve(server, settings) -> None:
    fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    store = AnswerStore(settings.store_folder())
    [entry] = store.entries()
    body = json.dumps(GOOD).encode()
    future = np.datetime64("2099-01-01T00:00:00")
    assert entry.request is not None
    store.save(StoredAnswer(entry.request, body, future, kept=False))
    found = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW, offline=True)
    assert found.source.fetched == NOW
    store.clear()
    store.save(StoredAnswer(entry.request, body, future, kept=False))
    with pytest.raises(ServiceError) as caught:
        fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW, offline=True)
    assert caught.value.exit_code == 3


def test_hours_that_a_newer_grid_no_longer_has_come_from_the_stored_ones(server, settings) -> None:
    evening, midnight = 24, 40
    answer(server, at(evening, 72, US_NWS), US_NWS)
    start = np.datetime64(answers.FIRST.replace(tzinfo=None), "s")
    first = fetch_site_weather(US_NWS, SITE, settings, now=start + (evening + 2) * HOUR)
    newer = at(midnight, 72, US_NWS)
    for entry in newer["properties"]["temperature"]["values"]:
        entry["value"] += 1.0
    server.script.append(reply(200, newer))
    joined = fetch_site_weather(US_NWS, SITE, settings, now=start + (midnight + 1) * HOUR)
    assert (joined.start[0], joined.hours) == (first.start[0], midnight - evening + 72)
    gap = midnight - evening
    for name in ("air_temperature_c", "dew_point_c", "wind_speed_m_s", "rain_mm"):
        np.testing.assert_array_equal(joined.columns[name][:gap], first.columns[name][:gap])
    origins = joined.origins()
    assert origins["earlier"].tolist() == [True] * gap + [False] * 72
    assert set(origins["air_temperature_c"]) == {"forecast"}
    assert [note.values for note in joined.assumed if note.key == "hours_from_earlier"] == [
        {"count": f"{gap}"}
    ]
    stored = fetch_site_weather(
        US_NWS, SITE, settings, now=start + (midnight + 2) * HOUR, offline=True
    )
    np.testing.assert_array_equal(
        stored.columns["air_temperature_c"], joined.columns["air_temperature_c"]
    )


def test_a_gap_between_two_answers_stays_unknown(server, settings) -> None:
    start = np.datetime64(answers.FIRST.replace(tzinfo=None), "s")
    answer(server, at(0, 24, US_NWS), US_NWS)
    fetch_site_weather(US_NWS, SITE, settings, now=start + 2 * HOUR)
    answer(server, at(30, 72, US_NWS), US_NWS)
    found = fetch_site_weather(US_NWS, SITE, settings, now=start + 31 * HOUR)
    missing = found.missing()[:, 0]
    assert np.flatnonzero(missing).tolist() == [24, 25, 26, 27, 28, 29]
    assert set(found.origins()["rain_mm"][missing]) == {"absent"}


def test_an_empty_rain_layer_is_unknown_and_an_absent_one_says_so(server, settings) -> None:
    content = at(0, answers.HOURS, US_NWS)
    content["properties"]["quantitativePrecipitation"]["values"] = []
    answer(server, content, US_NWS)
    found = fetch_site_weather(US_NWS, SITE, settings, now=NOW)
    assert found.has_rain
    assert found.missing().all()
    del content["properties"]["quantitativePrecipitation"]
    server.script.append(reply(200, content))
    without = fetch_site_weather(US_NWS, SITE, settings, now=NOW + HOUR)
    assert not without.has_rain
    assert set(without.origins()["rain_mm"]) == {"absent"}


def test_the_middle_of_a_polygon() -> None:
    content = moved(US_NWS, (40.5, -108.5), 2000.0)
    assert read_grid(content).place == pytest.approx((40.5, -108.5))
    for geometry in (None, {"type": "Point", "coordinates": [1, 2]},
                     {"type": "Polygon", "coordinates": [[["x", 1], [1, 2], [2, 3]]]},
                     {"type": "Polygon", "coordinates": []}):  # fmt: skip
        assert read_grid({**content, "geometry": geometry}).place is None
