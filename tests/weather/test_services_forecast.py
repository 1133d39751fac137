"""Forecasts of both services against a server on 127.0.0.1, in their documented shapes.

Checked against the source hours themselves (data/services/README.md) and against
the documented conventions: instants at the stamp, sums and means of the hour
before it, intervals of the grid, km/h.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from weather import server_answers as answers
from weather.server import WeatherServer, reply
from weather.services_common import FIRST, NOW, OPEN_METEO, SITE, US_NWS, column

from hayweather.weather.services import (
    ServiceError,
    ServiceSettings,
    fetch_site_weather,
    open_meteo,
)
from hayweather.weather.services.open_meteo_hours import read_hours


def test_open_meteo_hours_are_those_of_the_source(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    assert weather.start.tolist() == FIRST.reshape(1).tolist()
    assert (weather.hours, weather.lanes) == (answers.HOURS, 1)
    np.testing.assert_allclose(column(weather, "air_temperature_c"), answers.real("temp_c"))
    np.testing.assert_allclose(column(weather, "dew_point_c"), answers.real("dewpoint_c"))
    np.testing.assert_allclose(column(weather, "wind_speed_m_s"), answers.real("wind_ms"))
    kpa = np.array(answers.real("pressure_hpa")) / 10
    np.testing.assert_allclose(column(weather, "pressure_kpa"), kpa)
    # The mean stamped t+1 is that of the hour t, so the sun falls on its own hour again.
    sun = column(weather, "shortwave_w_m2")
    np.testing.assert_allclose(sun[:-1], answers.real("sw_wm2")[:-1])
    assert np.isnan(sun[-1])
    assert not weather.missing()[:-1].any()
    assert weather.wind_height_m == 10.0
    assert weather.elevation_m == answers.ELEVATION_M


def test_open_meteo_is_asked_as_documented(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    [(path, query, headers)] = server.seen
    assert path == "/v1/forecast"
    assert query == {
        "latitude": "40.5300",
        "longitude": "-108.5400",
        "hourly": "temperature_2m,relative_humidity_2m,dew_point_2m,wind_speed_10m,"
        "wind_gusts_10m,cloud_cover,shortwave_radiation,precipitation,"
        "precipitation_probability,weather_code,surface_pressure",
        "timezone": "GMT",
        "wind_speed_unit": "ms",
        "past_days": "2",
    }
    assert headers["User-Agent"].startswith("hayweather/")
    assert "grower@example.org" in headers["User-Agent"]


def test_what_a_model_lacks_is_absent_and_attribution_is_there(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    for name in ("cloud_fraction", "wind_gust_m_s", "weather_code", "rain_chance_percent"):
        assert weather.get(name) is None, name
    line = weather.source.attribution
    assert "Weather data by Open-Meteo.com" in line
    assert "CC BY 4.0" in line
    assert "https://open-meteo.com/" in line
    assert weather.source.fetched == NOW
    assert not weather.source.stored


def test_rain_gust_and_chance_of_the_hour_before_move_to_its_start(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    content = answers.open_meteo(list(open_meteo.FORECAST))
    for name, unit, value in (
        ("precipitation", "mm", 4.5),
        ("wind_gusts_10m", "m/s", 12.0),
        ("precipitation_probability", "%", 70.0),
        ("weather_code", "wmo code", 95.0),
    ):
        content["hourly"][name] = [0.0] * answers.HOURS
        content["hourly"][name][30] = value
        content["hourly_units"][name] = unit
    server.script.append(reply(200, content))
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    assert np.flatnonzero(np.nan_to_num(column(weather, "rain_mm"))).tolist() == [29]
    assert column(weather, "rain_mm")[29] == 4.5
    assert np.nanargmax(column(weather, "wind_gust_m_s")) == 29
    assert np.nanargmax(column(weather, "rain_chance_percent")) == 29
    assert np.argmax(column(weather, "weather_code")) == 30
    assert np.isnan(column(weather, "rain_mm")[-1])


def test_an_answer_in_another_clock_than_asked_is_refused(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    names = list(open_meteo.FORECAST)
    content = answers.open_meteo(names, offset_hours=-6, zone="America/Denver")
    assert read_hours(content).start == FIRST
    server.script.append(reply(200, content))
    with pytest.raises(ServiceError) as caught:
        fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    assert caught.value.key == "service_not_as_asked"
    assert caught.value.exit_code == 3


def test_us_nws_hours_are_those_of_the_source(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    weather = fetch_site_weather(US_NWS, SITE, settings, now=NOW)
    assert weather.start[0] == FIRST
    assert (weather.hours, weather.lanes) == (answers.HOURS, 1)
    np.testing.assert_allclose(column(weather, "air_temperature_c"), answers.real("temp_c"))
    np.testing.assert_allclose(column(weather, "dew_point_c"), answers.real("dewpoint_c"))
    wind = np.array(answers.real("wind_ms"))
    np.testing.assert_allclose(column(weather, "wind_speed_m_s"), wind, atol=1e-6)
    assert set(weather.columns) == {
        "air_temperature_c",
        "dew_point_c",
        "wind_speed_m_s",
        "rain_mm",
        "thunder_chance_percent",
        "lightning_level",
    }
    assert weather.timezone == answers.ZONE
    assert weather.elevation_m == answers.ELEVATION_M
    assert weather.source.issued == np.datetime64("2017-07-08T00:15:00")
    assert weather.source.attribution == ""
    assert not weather.missing().any()


def test_us_nws_is_asked_with_a_contact_short_numbers_and_our_host(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    fetch_site_weather(US_NWS, replace(SITE, longitude=-108.123456), settings, now=NOW)
    (points, _, headers), (grid, _, _) = server.seen
    assert points == "/points/40.53,-108.1235"
    assert grid == "/gridpoints/GJT/91,210"
    assert "grower@example.org" in headers["User-Agent"]


@pytest.mark.parametrize("minutes", [21, -15])
def test_us_nws_hours_past_the_hour_are_moved_and_said(
    server: WeatherServer, settings: ServiceSettings, minutes: int
) -> None:
    grid = answers.us_nws_grid(first=answers.FIRST + minutes * answers.HOUR / 60)
    server.script += [reply(200, answers.us_nws_points()), reply(200, grid)]
    weather = fetch_site_weather(US_NWS, SITE, settings, now=NOW)
    assert weather.start[0] == FIRST
    np.testing.assert_allclose(column(weather, "air_temperature_c"), answers.real("temp_c"))
    [note] = weather.assumed
    assert (note.key, note.values) == ("hours_moved", {"minutes": str(abs(minutes))})


def test_us_nws_cell_is_asked_once_a_day(server: WeatherServer, settings: ServiceSettings) -> None:
    for hour in (0, 12, 25):
        later = NOW + np.timedelta64(hour, "h")
        fetch_site_weather(US_NWS, SITE, settings, now=later)
    paths = [path.split("/")[1] for path, _, _ in server.seen]
    assert paths == ["points", "gridpoints", "gridpoints", "points", "gridpoints"]


def test_runs_become_lanes_the_unperturbed_first(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    weather = open_meteo.fetch_ensemble(SITE, settings, now=NOW)
    [(path, query, _)] = server.seen
    assert path == "/v1/ensemble"
    assert query["models"] == "gfs_seamless"
    assert "precipitation_probability" not in query["hourly"]
    assert weather.lanes == 4
    np.testing.assert_allclose(column(weather, "air_temperature_c", 0), answers.real("temp_c"))
    np.testing.assert_allclose(column(weather, "air_temperature_c", 1), answers.real("temp_c", 24))
    assert weather.start.tolist() == [FIRST.item()] * 4


def test_several_models_are_lanes_and_one_suffix_is_as_good_as_none(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    content = answers.open_meteo(list(open_meteo.FORECAST))
    for part in ("hourly", "hourly_units"):
        plain = {name: value for name, value in content[part].items() if name != "time"}
        content[part] = {
            "time": content[part]["time"],
            **{f"{name}_icon_seamless": value for name, value in plain.items()},
        }
    server.script.append(reply(200, content))
    weather = fetch_site_weather(OPEN_METEO, SITE, settings, now=NOW)
    np.testing.assert_allclose(column(weather, "air_temperature_c"), answers.real("temp_c"))
    for part in ("hourly", "hourly_units"):
        others = {
            name.replace("icon", "gfs"): value
            for name, value in content[part].items()
            if name != "time"
        }
        content[part].update(others)
    server.script.append(reply(200, content))
    models = ("icon_seamless", "gfs_seamless")
    both = open_meteo.fetch_forecast(SITE, settings, now=NOW, models=models)
    assert both.lanes == 2
    assert server.seen[-1][1]["models"] == "icon_seamless,gfs_seamless"
