"""Recorded answers of both services, from the folder that HAYWEATHER_RECORDED names.

Open weather API: recorded by a public client's tests (MIT; data CC BY 4.0), the
two errors built from documented texts. Grids: US National Weather Service,
public domain. Without the folder these tests are skipped.
"""

from __future__ import annotations

import json
import os
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from weather.server import WeatherServer, reply

from hayweather.farm.records import Site, WeatherChoice
from hayweather.weather.services import ServiceSettings, fetch_site_weather
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.open_meteo import fetch_earlier_forecasts
from hayweather.weather.services.open_meteo_hours import Run, Stamped, lanes, read_hours
from hayweather.weather.services.us_nws import read_cell
from hayweather.weather.services.us_nws_layers import read_grid

FOLDER = os.environ.get("HAYWEATHER_RECORDED")
pytestmark = pytest.mark.skipif(
    FOLDER is None, reason="HAYWEATHER_RECORDED does not name the folder of recorded answers"
)


def text(name: str) -> str:
    return (Path(FOLDER or "") / name).read_text(encoding="utf-8")


def stamped(name: str) -> Stamped:
    return read_hours(json.loads(text(f"openmeteo/{name}")))


@pytest.mark.parametrize(
    ("name", "start", "hours", "past"),
    [
        ("FGZ_74_90", "2024-02-20T11:00:00", 7 * 24 + 14, 0),
        ("MPX_dated", "2025-11-12T07:00:00", 7 * 24 + 13, 21),
    ],
)
def test_grid_hours_are_those_of_its_valid_time(
    name: str, start: str, hours: int, past: int
) -> None:
    answer = json.loads(text(f"nws/gridpoints_{name}.json"))
    found = read_grid(answer)
    assert answer["properties"]["validTimes"].endswith(f"/P7DT{hours - 168}H")
    assert found.start == np.datetime64(start)
    assert {len(values) for values in found.columns.values()} == {hours}
    assert found.minutes_past == past
    for column in ("air_temperature_c", "dew_point_c", "wind_speed_m_s", "rain_mm"):
        assert not np.isnan(found.columns[column]).any(), column


@pytest.mark.parametrize("name", ["FGZ_74_90", "MPX_dated"])
@pytest.mark.parametrize(
    ("layer", "column", "scale"),
    [
        ("temperature", "air_temperature_c", 1.0),
        ("windSpeed", "wind_speed_m_s", 1 / 3.6),
        ("skyCover", "cloud_fraction", 0.01),
    ],
)
def test_grid_values_each_as_often_as_their_hours(
    name: str, layer: str, column: str, scale: float
) -> None:
    """Unfolded by hand, by counting hours alone: the same list, so none lost or doubled."""
    answer = json.loads(text(f"nws/gridpoints_{name}.json"))
    by_hand: list[float] = []
    for entry in answer["properties"][layer]["values"]:
        duration = entry["validTime"].partition("/P")[2]
        day_part, _, hour_part = duration.partition("T")
        length = 24 * int(day_part.rstrip("D") or 0) + int(hour_part.rstrip("H") or 0)
        by_hand += [entry["value"] * scale] * length
    found = read_grid(answer).columns[column][:, 0]
    np.testing.assert_allclose(found, by_hand[: len(found)], rtol=1e-12)
    assert len(by_hand) == len(found)


@pytest.mark.parametrize(("name", "beyond"), [("FGZ_74_90", 5), ("MPX_dated", 5)])
def test_grid_rain_adds_up(name: str, beyond: int) -> None:
    """All rain but that of the hours past the end of the temperatures."""
    answer = json.loads(text(f"nws/gridpoints_{name}.json"))
    entries = answer["properties"]["quantitativePrecipitation"]["values"]
    *others, last = [entry["value"] for entry in entries]
    assert entries[-1]["validTime"].endswith("/PT6H")
    expected = sum(others) + last * (6 - beyond) / 6
    assert read_grid(answer).columns["rain_mm"].sum() == pytest.approx(expected)


@pytest.mark.parametrize(
    ("place", "cell"),
    [("flagstaff_az", "/gridpoints/FGZ/74,90"), ("denver_co", None)],
)
def test_answers_about_a_place(place: str, cell: str | None) -> None:
    found = read_cell(json.loads(text(f"nws/points_{place}.json")))
    assert found.timezone in ("America/Phoenix", "America/Denver")
    assert cell is None or found.path == cell


def test_grid_through_the_service(server: WeatherServer, settings: ServiceSettings) -> None:
    server.script += [
        reply(200, text("nws/points_flagstaff_az.json")),
        reply(200, text("nws/gridpoints_FGZ_74_90.json")),
    ]
    weather = fetch_site_weather(
        WeatherChoice(service="us-nws"),
        Site("flagstaff", 35.198, -111.652),
        settings,
        now=np.datetime64("2024-02-20T18:00:00"),
    )
    assert weather.hours == 182
    assert weather.timezone == "America/Phoenix"
    assert weather.elevation_m == pytest.approx(2129.94, abs=0.01)
    assert weather.source.issued == np.datetime64("2024-02-20T17:13:54")
    assert not weather.missing().any()
    assert weather.get("pressure_kpa") is None
    assert weather.get("shortwave_w_m2") is None


def test_member_columns_become_lanes() -> None:
    found = stamped("ensemble_icon_d2_members.json")
    assert [run.member for run in sorted(found.columns)] == list(range(21))
    air = lanes(found, sorted(found.columns))["air_temperature_c"]
    assert air.shape == (2, 21)
    assert air[:, [0, 1, 20]].tolist() == [[10.5, 10.1, 11.1], [10.1, 9.8, 10.8]]


def test_nulls_past_the_horizon_are_missing() -> None:
    found = stamped("forecast_16_days_nulls.json")
    assert found.start == np.datetime64("2026-10-18T20:00:00")
    columns = lanes(found, sorted(found.columns))
    assert np.isnan(columns["air_temperature_c"]).all()
    assert np.isnan(columns["weather_code"]).all()


def test_several_models_are_lanes_and_one_has_no_suffix() -> None:
    found = stamped("forecast_models.json")
    models = {"icon_seamless", "meteoswiss_icon_seamless", "gfs_seamless"}
    assert {run.model for run in found.columns} == models
    # Stamped with one offset of two hours: 13:00 there is 11:00 UTC.
    assert found.start == np.datetime64("2026-10-03T11:00:00")
    one = stamped("forecast_models_one_covering.json")
    assert list(one.columns) == [Run(0, "", 0)]


def test_earlier_runs_by_lead() -> None:
    found = stamped("previous_runs.json")
    air = {
        run.lead: columns["air_temperature_c"].tolist() for run, columns in found.columns.items()
    }
    assert air == {0: [13.8, 13.3, 12.1], 1: [14.2, 12.9, 12.1], 2: [14.4, 14.2, 13.4]}


def test_earlier_runs_without_wind_and_dew_point_serve_for_the_air_alone(
    server: WeatherServer, settings: ServiceSettings
) -> None:
    """The recorded answer was asked for temperature and rain alone, two days ahead."""
    server.script.append(reply(200, text("openmeteo/previous_runs.json")))
    days, now = (date(2026, 10, 2), date(2026, 10, 2)), np.datetime64("2026-10-20T00:00:00")
    site = Site("home", 52.28, 6.87)
    found = fetch_earlier_forecasts(site, *days, settings, now=now, leads=(1, 2, 3))
    assert list(found) == [1, 2]
    assert found[1].columns["air_temperature_c"][:, 0].tolist() == [14.2, 12.9, 12.1]
    assert found[1].start[0] == np.datetime64("2026-10-02T00:00:00")
    for name in ("dew_point_c", "wind_speed_m_s"):
        assert np.isnan(found[1].columns[name]).all()


def test_past_hours_in_km_h_are_converted() -> None:
    found = stamped("historical_weather.json")
    [columns] = found.columns.values()
    assert columns["wind_speed_m_s"] == pytest.approx([23.2 / 3.6, 23.7 / 3.6, 24.8 / 3.6])
    assert found.start == np.datetime64("1953-01-30T22:00:00")


@pytest.mark.parametrize(
    ("name", "status", "key"),
    [
        ("error_400.json", 400, "service_refused"),
        ("error_429.json", 429, "service_too_many"),
        ("no_data_lowercase_nan.txt", 200, "service_no_data"),
        ("elevation.json", 200, "service_shape"),
        ("error_400.json", 200, "service_sentence"),
        ("forecast_models_one_covering.json", 200, "service_lacks"),
        ("historical_weather.json", 200, "service_lacks"),
    ],
)
def test_what_is_no_forecast_ends_in_one_line(
    server: WeatherServer, settings: ServiceSettings, name: str, status: int, key: str
) -> None:
    server.always = reply(status, text(f"openmeteo/{name}"))
    choice = WeatherChoice(service="open-meteo", terms="non-commercial")
    with pytest.raises(ServiceError) as caught:
        fetch_site_weather(
            choice, Site("x", 52.3, 6.9), settings, now=np.datetime64("2026-10-03T12:00:00")
        )
    assert caught.value.key == key
    assert caught.value.exit_code == 3
    if status != 200:
        assert json.loads(text(f"openmeteo/{name}"))["reason"] in caught.value.line()
