"""Every recorded file of real weather reads, and two of them agree with a second source.

The folder and its origins: `HAYWEATHER_RECORDED` and its SOURCES.md. The
hourly files were made from the same data by another hand: the 2017 one by
averaging the two half-hours of an hour, the Granada one by taking each row of
the building year as the hour that ends at its stamp, temperatures included.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from weather.files_common import recorded

from hayweather.errors import WeatherFileError
from hayweather.weather.files import read_weather_file
from hayweather.weather.record import HourlyWeather

HOURLY = [
    ("granada_es_swec_epw", 8760, 0),
    ("nw_colorado_2017", 8760, 0),
    ("nw_colorado_2023", 8760, 0),
    ("nyc_jfk_2013", 8730, 24),
    ("tucson_az_tmy3_epw", 8760, 0),
]
FORMATS = [
    ("granada_es_swec.epw.gz", "epw", 8760, True),
    ("tmy3_greensboro_nc_723170.csv.gz", "tmy3", 8760, True),
    ("nsrdb_nwcolorado_2017_30min.csv.gz", "nsrdb", 8760, False),
    ("pvgis_tmy_45N_8E.csv.gz", "pvgis", 8760, True),
]


@pytest.mark.parametrize(("name", "hours", "missing"), HOURLY)
def test_hourly_files(name: str, hours: int, missing: int) -> None:
    weather, report = read_weather_file(recorded(f"hourly/{name}.csv.gz"))
    assert (weather.hours, int(weather.missing().sum())) == (hours, missing)
    assert (report.layout, report.compressed, report.timezone) == ("plain", True, "UTC")
    assert report.unused == ("rh_pct",)


@pytest.mark.parametrize(("name", "layout", "hours", "typical"), FORMATS)
def test_original_layouts(name: str, layout: str, hours: int, typical: bool) -> None:
    weather, report = read_weather_file(recorded(f"formats/{name}"))
    assert (report.layout, weather.hours, weather.typical_year) == (layout, hours, typical)
    assert not np.isnan(weather.columns["air_temperature_c"]).any()
    assert np.diff(weather.times()[:, 0]).astype(int).max() == 3600
    assert weather.elevation_m is not None


@pytest.mark.parametrize("name", ["CRNS0101-05-2019-AZ_Tucson_11_W.txt", "CRN_with_problems.txt"])
def test_reference_network_samples_are_too_short_for_hours(name: str) -> None:
    # Three rows of five minutes, one of them a blank record: understood, and then refused.
    with pytest.raises(WeatherFileError, match="covers 0 h;"):
        read_weather_file(recorded(f"formats/{name}"))


def pair(first: str, second: str) -> tuple[HourlyWeather, HourlyWeather]:
    return read_weather_file(recorded(first))[0], read_weather_file(recorded(second))[0]


def test_half_hours_of_colorado_against_their_hourly_means() -> None:
    ours, theirs = pair(
        "formats/nsrdb_nwcolorado_2017_30min.csv.gz", "hourly/nw_colorado_2017.csv.gz"
    )
    assert ours.start == theirs.start
    for name in ("air_temperature_c", "dew_point_c", "wind_speed_m_s", "pressure_kpa"):
        here, there = ours.columns[name][:, 0], theirs.columns[name][:, 0]
        # Theirs lies 15 minutes later: halfway between is theirs less a quarter of its step.
        moved = there[1:] - 0.25 * np.diff(there)
        spread = np.nanstd(here[1:] - moved) / np.nanstd(here)
        assert spread < 0.02, name
        assert abs(np.nanmean(here[1:] - moved)) < 0.02 * np.nanstd(here), name
    # The year's sun is the same whichever way its half-hours are shared out.
    sums = [np.nansum(w.columns["shortwave_w_m2"]) for w in (ours, theirs)]
    assert_allclose(sums[0], sums[1], rtol=1e-3)


def test_granada_against_its_hourly_file() -> None:
    ours, theirs = pair("formats/granada_es_swec.epw.gz", "hourly/granada_es_swec_epw.csv.gz")
    # Rows are instants at the end of their hour here and at its start there: one hour apart.
    for name in ("air_temperature_c", "dew_point_c", "pressure_kpa", "cloud_fraction"):
        assert_allclose(ours.columns[name], theirs.columns[name], atol=6e-4, err_msg=name)
    assert str(ours.start[0])[4:] == "-01-01T00:00:00"
    assert str(theirs.start[0])[4:] == "-12-31T23:00:00"
    # Sun belongs to the hour before the stamp in both: our row i is their row i + 1.
    here, there = (w.columns["shortwave_w_m2"][:, 0] for w in (ours, theirs))
    assert_allclose(here[:-1], there[1:])


def test_rain_of_the_building_years() -> None:
    granada, _ = read_weather_file(recorded("formats/granada_es_swec.epw.gz"))
    # Zeros collected over zero hours are no rain gauge.
    assert "rain_mm" not in granada.columns
    greensboro, report = read_weather_file(recorded("formats/tmy3_greensboro_nc_723170.csv.gz"))
    # Numbers in tenths under a header of mm: read as mm the year would have 8,345 of them.
    # About 1,070 mm fall at Greensboro in a year (US normals, from memory).
    assert 700 < np.nansum(greensboro.columns["rain_mm"]) < 1200
    assert [r.name for r in report.repairs] == ["rain_in_tenths"]
