"""What a service can do wrong, one by one, against a server on 127.0.0.1.

Each fault ends in the right answer, in the stored forecast with its age, or in
one clear line with exit code 3; never in a wrong number.
"""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import (
    HTML_403,
    Action,
    WeatherServer,
    cut,
    drip,
    drip_head,
    drop,
    hang,
    huge,
    redirect,
    reply,
)

from hayweather.farm.records import Site, WeatherChoice
from hayweather.weather.record import HourlyWeather
from hayweather.weather.services import ServiceSettings, fetch_site_weather, open_meteo
from hayweather.weather.services.failures import FAMILIES, ServiceError
from hayweather.weather.services.settings import Limits
from hayweather.words import say

NOW = np.datetime64("2017-07-09T18:00:00")
LATER = NOW + np.timedelta64(5, "h")
SITE = Site("home", answers.LATITUDE, answers.LONGITUDE, answers.ELEVATION_M, answers.ZONE)
OPEN_METEO = WeatherChoice(service="open-meteo", terms="non-commercial")
US_NWS = WeatherChoice(service="us-nws")
BOTH = pytest.mark.parametrize("choice", [OPEN_METEO, US_NWS], ids=["open-meteo", "us-nws"])
QUICK = Limits(connect_s=0.5, read_s=0.3, total_s=0.5, waits_s=(1.0, 3.0), longest_wait_s=20.0)
GOOD = answers.open_meteo(list(open_meteo.FORECAST))


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
    return changed(**{name: {"hourly": values}})


def with_unit(name: str, unit: object) -> dict[str, object]:
    return changed(**{name: {"hourly_units": unit}})


GLUED = json.dumps(GOOD)[:3000] + "Unexpected error while streaming data: timeoutReached"
BEHIND = json.dumps(GOOD) + "Unexpected error while streaming data: timeoutReached"
INFINITE = json.dumps(with_values("temperature_2m", [12345.0] * 144)).replace("12345.0", "1e999")
NAN = '{"latitude":nan,"longitude":nan,"generationtime_ms":0.01,"timezone":"GMT"}\n'

# Name of the fault: the server's answer, the text of the error.
FAULTS: dict[str, tuple[Action, str]] = {
    "no connection": (drop(), "service_unreachable"),
    "time-out": (hang(), "service_timeout"),
    "slow drip": (drip(GOOD), "service_too_slow"),
    "slow head": (drip_head(), "service_too_slow"),
    "400": (reply(400, {"error": True, "reason": "Latitude must be in range"}), "service_refused"),
    "403 in HTML": (reply(403, HTML_403, {"Content-Type": "text/html"}), "service_turned_away"),
    "404": (reply(404, {"title": "Not Found"}), "service_refused"),
    "429": (reply(429, {"error": True, "reason": "Minutely limit"}), "service_too_many"),
    "500 for good": (reply(500, "oops"), "service_down"),
    "503 problem": (reply(503, {"title": "Service Unavailable"}), "service_down"),
    "cut, length told": (cut(GOOD), "service_cut"),
    "cut, length wrong": (cut(GOOD, honest_length=False), "service_cut"),
    "empty": (reply(200, ""), "service_not_json"),
    "not UTF-8": (reply(200, b"\xff\xfe{}"), "service_not_json"),
    "page instead": (reply(200, "<!doctype html><p>hotel login</p>"), "service_not_json"),
    "nested without end": (reply(200, "[" * 100_000), "service_cut"),
    "lower-case nan": (reply(200, NAN), "service_no_data"),
    "NaN in values": (reply(200, json.dumps(GOOD).replace("0.0", "NaN", 1)), "service_not_json"),
    "sentence in JSON": (reply(200, GLUED), "service_sentence"),
    "sentence behind JSON": (reply(200, BEHIND), "service_sentence"),
    "error with 200": (reply(200, {"error": True, "reason": "No data"}), "service_sentence"),
    "list for object": (reply(200, [GOOD]), "service_shape"),
    "number for object": (reply(200, "7"), "service_shape"),
    "no hours": (reply(200, changed(hourly=None)), "service_shape"),
    "object for list": (reply(200, with_values("dew_point_2m", {})), "service_shape"),
    "too few values": (reply(200, with_values("dew_point_2m", [1.0])), "service_shape"),
    "text for number": (
        reply(200, with_values("temperature_2m", ["12"] * answers.HOURS)),
        "service_value",
    ),
    "infinite number": (reply(200, INFINITE), "service_value"),
    "impossible number": (
        reply(200, with_values("temperature_2m", [998.0] * answers.HOURS)),
        "service_value",
    ),
    "dew point far above air": (
        reply(200, with_values("dew_point_2m", [44.0] * answers.HOURS)),
        "service_value",
    ),
    "unknown unit": (reply(200, with_unit("temperature_2m", "°R")), "service_unit"),
    "no unit": (reply(200, with_unit("wind_speed_10m", None)), "service_unit"),
    "needed one undefined": (
        reply(200, with_unit("wind_speed_10m", "undefined")),
        "service_lacks",
    ),
    "hour missing": (
        reply(200, with_values("time", GOOD["hourly"]["time"][:5] + GOOD["hourly"]["time"][4:-1])),
        "service_times",
    ),
    "time is no time": (reply(200, with_values("time", ["noon"] * 144)), "service_times"),
    "month 13": (reply(200, with_values("time", ["2017-13-01T00:00"] * 144)), "service_times"),
    "half-hour offset": (reply(200, changed(utc_offset_seconds=1800)), "service_times"),
    "200 MB, told": (huge(200, tell=True), "service_too_large"),
    "200 MB, not told": (huge(200, tell=False), "service_too_large"),
    "other host": (redirect("https://example.org/v1/forecast"), "service_redirect"),
    "other port": (redirect("http://127.0.0.1:1/v1/forecast"), "service_redirect"),
    "round and round": (redirect("/v1/forecast"), "service_redirect"),
}


@pytest.fixture
def server() -> Iterator[WeatherServer]:
    with WeatherServer() as running:
        yield running


@pytest.fixture
def slept() -> list[float]:
    return []


@pytest.fixture
def settings(server: WeatherServer, tmp_path: Path, slept: list[float]) -> ServiceSettings:
    environ = {**server.environment(), "HAYWEATHER_STORE": str(tmp_path / "store")}
    found = ServiceSettings.from_environment(environ)
    return replace(found, limits=QUICK, sleep=slept.append)


def without_retry(settings: ServiceSettings) -> ServiceSettings:
    """The same with a single try, where retries would only take time."""
    return replace(settings, limits=replace(QUICK, waits_s=()))


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
    return bool(
        one.start[0] == other.start[0]
        and set(one.columns) == set(other.columns)
        and all(
            np.array_equal(values, other.columns[name], equal_nan=True)
            for name, values in one.columns.items()
        )
    )


@pytest.mark.parametrize("name", FAULTS)
def test_fault_ends_in_one_line_or_in_the_stored_forecast(
    server: WeatherServer, settings: ServiceSettings, name: str
) -> None:
    once = without_retry(settings)
    action, text = FAULTS[name]
    server.always = action
    failure = the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, once, now=NOW))
    assert failure.key == text
    assert failure.line().startswith("Open-Meteo: ")
    assert failure.line().endswith("; no stored forecast of this place")
    server.always = None
    good = fetch_site_weather(OPEN_METEO, SITE, once, now=NOW)
    server.always = action
    stored = fetch_site_weather(OPEN_METEO, SITE, once, now=LATER)
    assert same_hours(stored, good)
    assert stored.source.stored
    assert stored.source.fetched == NOW
    assert [note.key for note in stored.assumed] == [f"stored_{failure.family}"]


NWS_FAULTS: dict[str, tuple[Action, str]] = {
    "no intervals": (reply(200, {"properties": {}}), "service_lacks"),
    "empty needed layer": (
        reply(200, {"properties": {"temperature": {"uom": "wmoUnit:degC", "values": []}}}),
        "service_lacks",
    ),
    "layer is a list": (reply(200, {"properties": {"temperature": []}}), "service_shape"),
    "list for object": (reply(200, []), "service_shape"),
    "problem": (
        reply(
            500, {"title": "Unexpected Problem", "detail": "An unexpected problem has occurred."}
        ),
        "service_down",
    ),
    "403 in HTML": (reply(403, HTML_403, {"Content-Type": "text/html"}), "service_turned_away"),
}


@pytest.mark.parametrize("name", NWS_FAULTS)
def test_fault_of_the_grid_ends_the_same_way(
    server: WeatherServer, settings: ServiceSettings, name: str
) -> None:
    once = without_retry(settings)
    action, text = NWS_FAULTS[name]
    server.script += [reply(200, answers.us_nws_points()), action]
    failure = the_failure(lambda: fetch_site_weather(US_NWS, SITE, once, now=NOW))
    assert failure.key == text
    good = fetch_site_weather(US_NWS, SITE, once, now=NOW)
    server.script.append(action)
    stored = fetch_site_weather(US_NWS, SITE, once, now=LATER)
    assert stored.source.stored
    assert same_hours(stored, good)


@pytest.mark.parametrize(
    ("name", "unit", "there"),
    [
        ("temperature_2m", "°F", lambda value: value * 9 / 5 + 32),
        ("dew_point_2m", "°F", lambda value: value * 9 / 5 + 32),
        ("wind_speed_10m", "km/h", lambda value: value * 3.6),
        ("wind_speed_10m", "mp/h", lambda value: value / 0.44704),
        ("wind_speed_10m", "kn", lambda value: value * 3600 / 1852),
    ],
)
def test_another_unit_than_asked_is_converted(
    server: WeatherServer,
    settings: ServiceSettings,
    name: str,
    unit: str,
    there: Callable[[float], float],
) -> None:
    good = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    values = [there(value) for value in GOOD["hourly"][name]]
    content = changed(**{name: {"hourly": values, "hourly_units": unit}})
    server.script.append(reply(200, content))
    other = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    for column, expected in good.columns.items():
        np.testing.assert_allclose(other.columns[column], expected, atol=1e-9)


def test_fahrenheit_and_knots_of_the_grid_are_converted(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    good = fetch_site_weather(US_NWS, SITE, settings, now=NOW)
    grid = answers.us_nws_grid()
    for layer, uom, there in (
        ("temperature", "wmoUnit:degF", lambda value: value * 9 / 5 + 32),
        ("windSpeed", "wmoUnit:kt", lambda value: value / 1.852),
    ):
        part = grid["properties"][layer]
        part["uom"] = uom
        for entry in part["values"]:
            entry["value"] = there(entry["value"])
    server.script.append(reply(200, grid))
    other = fetch_site_weather(US_NWS, SITE, settings, now=NOW)
    for column, expected in good.columns.items():
        np.testing.assert_allclose(other.columns[column], expected, atol=1e-9)


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
        environ = {**server.environment(), "HAYWEATHER_STORE": str(tmp_path)}
    settings = replace(ServiceSettings.from_environment(environ), sleep=lambda seconds: None)
    failure = the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW))
    assert failure.key == "service_unreachable"


def test_slow_drip_is_given_up_in_time(server: WeatherServer, settings: ServiceSettings) -> None:
    server.always = drip(GOOD)
    begun = time.monotonic()
    once = without_retry(settings)
    the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, once, now=NOW))
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


def test_undefined_units_of_what_can_be_left_out(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    names = ("shortwave_radiation", "surface_pressure", "precipitation")
    content = changed(**{name: {"hourly_units": "undefined"} for name in names})
    server.script.append(reply(200, content))
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    assert set(weather.columns) == {"air_temperature_c", "dew_point_c", "wind_speed_m_s"}


def test_nulls_are_missing_and_never_filled(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    values = [*GOOD["hourly"]["temperature_2m"][:100], *[None] * 44]
    server.script.append(reply(200, with_values("temperature_2m", values)))
    missing = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW).missing()[:, 0]
    assert missing.tolist() == [False] * 100 + [True] * 44


def test_blank_rain_stays_blank(server: WeatherServer, settings: ServiceSettings) -> None:
    server.script.append(reply(200, with_values("precipitation", [None] * 144)))
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    assert np.isnan(weather.columns["rain_mm"]).all()
    assert weather.missing().all()


def test_dew_point_a_little_above_the_air_is_pulled_down_and_marked(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    values = list(GOOD["hourly"]["dew_point_2m"])
    values[10] = GOOD["hourly"]["temperature_2m"][10] + 0.3
    values[20] = GOOD["hourly"]["temperature_2m"][20] + 2.0
    server.script.append(reply(200, with_values("dew_point_2m", values)))
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    air, dew = weather.columns["air_temperature_c"], weather.columns["dew_point_c"]
    assert (dew[[10, 20]] == air[[10, 20]]).all()
    assert np.flatnonzero(weather.repaired).tolist() == [20]


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


def test_every_text_of_a_failure_is_there_in_both_languages() -> None:
    for key in [*FAMILIES, *(text for _, text in [*FAULTS.values(), *NWS_FAULTS.values()])]:
        values = dict.fromkeys(
            ("host", "seconds", "status", "reason", "limit", "part", "name", "unit", "value"), "x"
        )
        assert say(f"error_{key}", "en", **values)
        assert say(f"error_{key}", "es", **values)
    for family in {*FAMILIES.values(), "unreadable"}:
        assert say(f"assumed_stored_{family}", "es", service="x")
