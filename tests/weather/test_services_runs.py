"""The service's forecast runs as lanes beside the forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import reply
from weather.services_common import GOOD, LATER, NOW, OPEN_METEO, SITE, without_retry

from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.weather.services import fetch_site_weather, open_meteo
from hayweather.weather.services.runs import with_runs

ASKING = replace(OPEN_METEO, forecast_runs=True)


def part(weather: HourlyWeather, first: int, last: int, *lanes: int) -> HourlyWeather:
    """Some hours and lanes of a record."""
    hours = weather.between(first, last)
    return replace(
        hours,
        start=hours.start[list(lanes)],
        columns={name: values[:, list(lanes)] for name, values in hours.columns.items()},
        repaired=hours.repaired[:, list(lanes)],
        basis=hours.basis[:, list(lanes)],
    )


@pytest.fixture
def runs(settings) -> HourlyWeather:
    """Four runs of the server; those of odd number are a day later."""
    return open_meteo.fetch_ensemble(SITE, settings, now=NOW)


def test_runs_follow_the_forecast_as_lanes(server, settings):
    alone = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    found = fetch_site_weather(ASKING, SITE, settings, now=NOW)
    assert [path for path, _, _ in server.seen[-2:]] == ["/v1/forecast", "/v1/ensemble"]
    assert found.lanes == 1 + 4
    assert found.hours == answers.HOURS
    for name, values in alone.columns.items():
        np.testing.assert_array_equal(found.columns[name][:, :1], values, name)
    air = found.columns["air_temperature_c"]
    for lane, shift in enumerate((0, 24, 0, 24), start=1):
        np.testing.assert_array_equal(air[:, lane], answers.real("temp_c", shift))
    assert found.assumed == alone.assumed


def test_hours_that_the_runs_do_not_cover_are_missing_in_them(runs):
    forecast = part(runs, 0, 100, 0)
    late = with_runs(forecast, part(runs, 30, 140, 1, 2))
    assert late.hours == 100
    assert late.missing()[:30, 1:].all()
    assert not late.missing()[30:, 1:].any()
    air = "air_temperature_c"
    np.testing.assert_array_equal(late.columns[air][30:, 1], runs.columns[air][30:100, 1])
    early = with_runs(part(runs, 30, 100, 0), part(runs, 0, 60, 1))
    np.testing.assert_array_equal(early.columns[air][:30, 1], runs.columns[air][30:60, 1])
    assert early.missing()[30:, 1].all()
    apart = with_runs(part(runs, 0, 40, 0), part(runs, 50, 90, 1))
    assert apart.missing()[:, 1].all()
    assert not apart.missing()[:, 0].any()


def test_what_the_runs_lack_is_the_forecast_s_but_for_rain_and_air(runs):
    forecast = part(runs, 0, 48, 0)
    chance = np.full((48, 1), 35.0)
    forecast = replace(forecast, columns={**forecast.columns, "rain_chance_percent": chance})
    dry = part(runs, 0, 48, 1, 2)
    bare = {n: v for n, v in dry.columns.items() if n not in ("rain_mm", "pressure_kpa")}
    found = with_runs(forecast, replace(dry, columns=bare))
    assert (found.columns["rain_chance_percent"] == 35).all()
    pressure = found.columns["pressure_kpa"]
    assert (pressure[:, 1:] == pressure[:, :1]).all()
    assert np.isnan(found.columns["rain_mm"][:, 1:]).all()
    rainless = replace(forecast, columns={n: forecast.columns[n] for n in bare})
    assert "rain_mm" not in with_runs(rainless, dry).columns


def test_repairs_of_a_run_stay_with_it(runs):
    marked = part(runs, 1, 20, 1)
    repaired = np.zeros((19, 1), dtype=bool)
    repaired[3] = True
    found = with_runs(part(runs, 0, 20, 0), replace(marked, repaired=repaired))
    assert np.argwhere(found.repaired).tolist() == [[4, 1]]


def test_runs_of_a_broken_line_are_stored_ones_or_left_out(server, settings):
    once = without_retry(settings)
    first = fetch_site_weather(ASKING, SITE, once, now=NOW)

    def ask(now: np.datetime64) -> HourlyWeather:
        server.script = [reply(200, GOOD), reply(503, "")]
        return fetch_site_weather(ASKING, SITE, once, now=now)

    later, next_day = ask(LATER), ask(NOW + 25 * HOUR)
    assert not later.source.stored
    (note,) = later.assumed
    assert (note.key, note.values) == ("runs_stored", {"hours": "5"})
    np.testing.assert_array_equal(
        later.columns["dew_point_c"][:, 1:], first.columns["dew_point_c"][:, 1:]
    )
    assert next_day.lanes == 1
    (note,) = next_day.assumed
    assert note.key == "runs_absent"


@pytest.mark.parametrize(
    ("fault", "why"),
    [
        (reply(503, ""), "runs_down"),
        (reply(429, {"error": True, "reason": "limit"}), "runs_refused"),
        (reply(200, '{"hourly": {"time": [nan'), "runs_unreadable"),
        (reply(200, [1, 2]), "runs_unreadable"),
        (lambda handler: handler.connection.close(), "runs_unreachable"),
    ],
    ids=["503", "429", "nan", "list", "dropped"],
)
def test_without_its_runs_the_forecast_serves_alone(server, settings, fault, why):
    server.script = [reply(200, GOOD), fault]
    found = fetch_site_weather(ASKING, SITE, without_retry(settings), now=NOW)
    assert found.lanes == 1
    (note,) = found.assumed
    assert note.key == "runs_absent"
    assert note.values["why"].key == why
