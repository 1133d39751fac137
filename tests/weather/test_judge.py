"""The one gate: what it refuses, what it notes, and that it refuses no real file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from weather.files_common import recorded

from hayweather.errors import WeatherFileError
from hayweather.farm import read_farm
from hayweather.farm.records import Site
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.judge import distance_km, judged, judged_answer
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.weather.services import ServiceError

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
REAL = Path(__file__).parents[1] / "data"
COLORADO = Site("home", 40.53, -108.54, 2168.0, "America/Denver")
NEW_YORK = Site("jfk", 40.64, -73.78, 4.0, "America/New_York")


def colorado(days: int = 6) -> HourlyWeather:
    """A week of June in north-west Colorado, sun included."""
    weather, _ = read_weather_file(REAL / "nw_colorado_2017_may_september.csv.gz")
    return weather.between(40 * 24, (40 + days) * 24)


def shifted(weather: HourlyWeather, hours: int) -> HourlyWeather:
    return replace(weather, start=weather.start + hours * HOUR)


def without_sun(weather: HourlyWeather) -> HourlyWeather:
    columns = {k: v for k, v in weather.columns.items() if k != "shortwave_w_m2"}
    return replace(weather, columns=columns)


def changed(weather: HourlyWeather, name: str, values: np.ndarray) -> HourlyWeather:
    return replace(weather, columns={**weather.columns, name: values})


def refused(weather: HourlyWeather) -> WeatherFileError:
    with pytest.raises(WeatherFileError) as caught:
        judged(weather, COLORADO)
    assert caught.value.exit_code == 2
    assert all("\n" not in caught.value.line(language) for language in ("en", "es"))
    return caught.value


def test_the_true_clock_passes_unchanged():
    weather = colorado()
    assert judged(weather, COLORADO) is weather


@pytest.mark.parametrize("hours", [-12, -9, -7, -6, -4, -3, -2, 2, 3, 4, 6, 8, 12])
def test_a_clock_two_hours_off_is_refused_by_its_sun(hours):
    error = refused(shifted(colorado(), hours))
    assert error.key == "judge_sun_clock"
    assert error.values["hours"] == abs(hours)
    if abs(hours) < 12:
        assert error.values["shift"] == f"{-hours:+d}"


@pytest.mark.parametrize("hours", [-1, 1])
def test_a_clock_one_hour_off_is_a_caution(hours):
    told = judged(shifted(colorado(), hours), COLORADO).assumed
    assert [note.values for note in told if note.key == "clock_an_hour_off"] == [
        {"shift": f"{-hours:+d}"}
    ]


@pytest.mark.parametrize("hours", [-10, -7, 7, 12])
def test_without_sun_the_warm_time_of_the_day_tells(hours):
    assert refused(without_sun(shifted(colorado(), hours))).key == "judge_day_clock"


def test_a_missing_code_in_the_night_is_refused():
    weather = colorado()
    sun = weather.columns["shortwave_w_m2"].copy()
    sun[np.flatnonzero(weather.times()[:, 0].astype("datetime64[h]").astype(int) % 24 == 8)] = 999.9
    error = refused(changed(weather, "shortwave_w_m2", sun))
    assert error.key in ("judge_sun_at_night", "judge_sun_clock")
    one = weather.columns["shortwave_w_m2"].copy()
    one[32] = 999.9
    assert refused(changed(weather, "shortwave_w_m2", one)).key == "judge_sun_at_night"


def test_dew_point_above_the_air_and_impossible_values_are_refused():
    weather = colorado()
    air = weather.columns["air_temperature_c"]
    assert refused(changed(weather, "dew_point_c", air + 0.7)).key == "judge_dew_point"
    assert refused(changed(weather, "air_temperature_c", air * 1.8 + 32)).key == "judge_range"
    assert judged(changed(weather, "dew_point_c", air + 0.4), COLORADO)


def test_an_answer_for_another_place_is_refused():
    weather = replace(colorado(), latitude=40.5, longitude=-108.5, elevation_m=2100.0)
    assert judged_answer(weather, COLORADO, ServiceError)
    for change, key in (
        ({"longitude": 71.0}, "judge_place_far"),
        ({"latitude": 41.1}, "judge_place_far"),
        ({"elevation_m": 2168.0 + 601.0}, "judge_height_far"),
    ):
        with pytest.raises(ServiceError) as caught:
            judged_answer(replace(weather, **change), COLORADO, ServiceError)
        assert (caught.value.key, caught.value.exit_code) == (key, 3)


def test_distance_against_a_published_pair():
    # London to Paris by the great circle of their city centers: 344 km (common knowledge,
    # from memory).
    assert distance_km(51.5074, -0.1278, 48.8566, 2.3522) == pytest.approx(344, abs=1)


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_no_sample_is_refused(path):
    farm = read_farm(path)
    site = next(iter(farm.sites.values()))
    options = ReadOptions(timezone=farm.weather.timezone, site_elevation_m=site.elevation_m)
    weather = read_weather_file(farm.weather.file, options)[0]
    told = judged(weather, site).assumed
    assert not [note for note in told if note.key == "clock_an_hour_off"]


@pytest.mark.parametrize(
    ("name", "site"),
    [
        ("nw_colorado_2017_may_september.csv.gz", COLORADO),
        ("nw_colorado_2023_may_september.csv.gz", COLORADO),
        ("nyc_jfk_2013_may_september.csv.gz", NEW_YORK),
    ],
)
def test_no_real_summer_is_refused(name, site):
    weather, _ = read_weather_file(REAL / name)
    for first in range(0, weather.hours - 72, 24 * 9):
        judged(weather.between(first, first + 72), site)
    assert judged(weather, site)


@pytest.mark.parametrize(
    ("name", "site"),
    [
        ("hourly/nw_colorado_2017.csv.gz", COLORADO),
        ("hourly/nw_colorado_2023.csv.gz", COLORADO),
        ("hourly/nyc_jfk_2013.csv.gz", NEW_YORK),
        ("hourly/tucson_az_tmy3_epw.csv.gz", Site("t", 32.12, -110.93, 779.0, "UTC")),
        ("hourly/granada_es_swec_epw.csv.gz", Site("g", 37.18, -3.78, 559.0, "UTC")),
        ("formats/nsrdb_nwcolorado_2017_30min.csv.gz", COLORADO),
        ("formats/tmy3_greensboro_nc_723170.csv.gz", Site("n", 36.1, -79.95, 273.0, "UTC")),
        ("formats/granada_es_swec.epw.gz", Site("g", 37.18, -3.78, 559.0, "UTC")),
        ("formats/pvgis_tmy_45N_8E.csv.gz", Site("p", 45.0, 8.0, 250.0, "UTC")),
    ],
)
def test_no_recorded_year_is_refused(name, site):
    weather, _ = read_weather_file(recorded(name))
    whole = replace(weather, typical_year=False)
    assert judged(whole, site)
    for first in range(0, whole.hours - 72, 24 * 5):
        judged(whole.between(first, first + 72), site)
