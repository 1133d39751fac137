"""Values and units of an answer: converted, missing, refused; never a guess."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import WeatherServer, reply
from weather.services_common import GOOD, NOW, OPEN_METEO, SITE, US_NWS, changed, with_values

from hayweather.weather.services import ServiceSettings, fetch_site_weather


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
