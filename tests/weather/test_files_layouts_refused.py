"""Files of a known layout with something wrong in them: one line with the place, exit 2."""

from __future__ import annotations

from pathlib import Path

import pytest
from weather.files_common import SAMPLES, read_text, refusal, written

from hayweather.weather.files import ReadOptions
from hayweather.weather.files.measured import read_crn
from hayweather.weather.files.table import Place
from hayweather.weather.files.text import open_text

PLACE = "LOCATION,Sagebeck,OR,USA,made by hand,0,43.2,-120.6,-8.0,1320.0"


def altered(name: str, old: str, new: str) -> str:
    """A sample with one text in it replaced wherever it stands."""
    content = (SAMPLES / name).read_text("utf-8")
    assert old in content
    return content.replace(old, new)


def test_epw_that_ends_with_its_head(tmp_path: Path) -> None:
    periods = "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31"
    for content in (f"{PLACE}\n{periods}", f"{PLACE}\n{periods}\n", f"{PLACE}\nno periods\n"):
        assert refusal(tmp_path, content).key == "weather_no_rows"


def test_epw_place_with_commas_in_its_name(tmp_path: Path) -> None:
    """Commas within quotes part no cells: too few are left for a place."""
    few = 'LOCATION,"Sagebeck, OR, US, N",43.2,-120.6,-8.0,1320.0,0,0\n'
    assert refusal(tmp_path, few).key == "weather_no_columns"
    named = altered("typical.epw", "LOCATION,Sagebeck,", 'LOCATION,"Sagebeck, North",')
    weather, report = read_text(tmp_path, named)
    assert report.stations == ("Sagebeck, North",)
    assert (weather.latitude, weather.elevation_m) == (43.2, 1320.0)


def test_nsrdb_without_a_column_of_hours(tmp_path: Path) -> None:
    error = refusal(tmp_path, altered("nsrdb_60min.csv", "Day,Hour,", "Day,Hourly,"))
    assert error.key == "weather_no_columns"


@pytest.mark.parametrize(
    ("name", "old", "new", "key", "line"),
    [
        ("tmy3.csv", '000000,"SAGEBECK MADE BY HAND",OR', "0", "weather_row_width", 1),
        ("tmy3.csv", "06/30/1999,24:00", "06/30/1999,24.00", "weather_time_not_understood", 4),
        ("pvgis.csv", "20180630:2300", "2018063023", "weather_time_not_understood", 11),
        ("open_meteo.csv", "-25200", "-7 h", "weather_head_line", 2),
        ("open_meteo.csv", "-25200", "90000", "weather_head_line", 2),
        ("open_meteo.csv", "time,", "when,", "weather_no_columns", None),
        ("open_meteo.csv", "(°C)", "(degrees)", "weather_unit_unknown", None),
        ("nsrdb_60min.csv", ",c,mbar,", ",c,bars,", "weather_unit_unknown", 2),
        ("nsrdb_60min.csv", "43.2,-120.6", "143.2,-120.6", "weather_head_line", 2),
        ("pvgis.csv", "Elevation (m): 210.0", "Elevation (m): high", "weather_head_line", 3),
        ("logger.dat", "WS_ms_S_WVT", "WS_999m_ms_S_WVT", "weather_head_line", 2),
    ],
)
def test_one_wrong_text(
    tmp_path: Path, name: str, old: str, new: str, key: str, line: int | None
) -> None:
    error = refusal(tmp_path, altered(name, old, new), ReadOptions(timezone="UTC"))
    assert error.key == key
    assert error.values.get("line") == line


def test_open_meteo_of_several_places_or_without_hours(tmp_path: Path) -> None:
    head, place, *rest = (SAMPLES / "open_meteo.csv").read_text("utf-8").splitlines()
    two = [f"location_id,{head}", f"0,{place}", f"1,{place}", *rest]
    assert refusal(tmp_path, "\n".join(two)).key == "weather_stations"
    assert refusal(tmp_path, "\n".join([head, place])).key == "weather_no_rows"


def test_reference_network_without_a_place(tmp_path: Path) -> None:
    """A place that is no place on Earth is not known; the station still is."""
    content = (SAMPLES / "crn_hourly.txt").read_text("utf-8")
    file = open_text(written(tmp_path, content.replace("-120.60", "-999.00")))
    table = read_crn(file, ReadOptions())
    assert table.place == Place(stations=("99999",))
