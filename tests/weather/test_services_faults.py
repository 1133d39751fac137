"""What a service can do wrong, one by one, against a server on 127.0.0.1.

Each fault ends in the right answer, in the stored forecast with its age, or in
one clear line with exit code 3; never in a wrong number.
"""

from __future__ import annotations

import json

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
from weather.services_common import (
    GLUED,
    GOOD,
    LATER,
    NOW,
    OPEN_METEO,
    SITE,
    US_NWS,
    changed,
    in_a_hurry,
    same_hours,
    the_failure,
    with_unit,
    with_values,
    without_retry,
)

from hayweather.weather.services import ServiceSettings, fetch_site_weather
from hayweather.weather.services.failures import FAMILIES
from hayweather.words import say

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
    "400 with a list": (reply(400, ["Latitude"]), "service_refused"),
    "400 without a word": (reply(400, {}), "service_refused"),
    "404": (reply(404, {"title": "Not Found"}), "service_refused"),
    "429": (reply(429, {"error": True, "reason": "Minutely limit"}), "service_too_many"),
    "500 for good": (reply(500, "oops"), "service_down"),
    "503 problem": (reply(503, {"title": "Service Unavailable"}), "service_down"),
    "cut, length told": (cut(GOOD), "service_cut"),
    "cut, length wrong": (cut(GOOD, honest_length=False), "service_cut"),
    "empty": (reply(200, ""), "service_not_json"),
    "number past all bounds": (
        reply(200, with_values("temperature_2m", [10**400] * answers.HOURS)),
        "service_value",
    ),
    "not UTF-8": (reply(200, b"\xff\xfe{}"), "service_not_json"),
    "page instead": (reply(200, "<!doctype html><p>hotel login</p>"), "service_not_json"),
    "nested without end": (reply(200, "[" * 100_000), "service_cut"),
    "lower-case nan": (reply(200, NAN), "service_no_data"),
    "NaN in values": (
        reply(200, with_values("precipitation", [float("nan")] * answers.HOURS)),
        "service_not_json",
    ),
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
ENDLESS = ("time-out", "slow drip", "slow head")


@pytest.mark.slow
@pytest.mark.parametrize("name", FAULTS)
def test_fault_ends_in_one_line_or_in_the_stored_forecast(
    server: WeatherServer, settings: ServiceSettings, name: str
) -> None:
    once = in_a_hurry(settings) if name in ENDLESS else without_retry(settings)
    action, text = FAULTS[name]
    server.always = action
    failure = the_failure(lambda: fetch_site_weather(OPEN_METEO, SITE, once, now=NOW))
    assert failure.key == text
    assert failure.line().startswith("Open-Meteo: ")
    assert failure.line().endswith("; no stored forecast of this place")
    server.always = None
    good = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    server.always = action
    stored = fetch_site_weather(OPEN_METEO, SITE, once, now=LATER)
    assert same_hours(stored, good)
    assert stored.source.stored
    assert stored.source.fetched == NOW
    assert [note.key for note in stored.assumed] == [f"stored_{failure.family}"]


def grid_without(*layers: str) -> Action:
    """A good grid without some of its layers."""
    grid = answers.us_nws_grid()
    for layer in layers:
        del grid["properties"][layer]
    return reply(200, grid)


NWS_FAULTS: dict[str, tuple[Action, str]] = {
    "no temperature": (grid_without("temperature"), "service_lacks"),
    "no humidity": (grid_without("dewpoint", "relativeHumidity"), "service_lacks"),
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


FIELDS = ("host", "seconds", "status", "said", "reason", "limit", "part", "name", "unit", "value")


def test_every_text_of_a_failure_is_there_in_both_languages() -> None:
    for key in [*FAMILIES, *(text for _, text in [*FAULTS.values(), *NWS_FAULTS.values()])]:
        values = dict.fromkeys(FIELDS, "x")
        assert say(f"error_{key}", "en", **values)
        assert say(f"error_{key}", "es", **values)
    for family in {*FAMILIES.values(), "unreadable"}:
        assert say(f"assumed_stored_{family}", "es", service="x")
