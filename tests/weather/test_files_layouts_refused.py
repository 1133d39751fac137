"""Files of a known layout with something wrong in them: one line with the place, exit 2."""

from __future__ import annotations

from pathlib import Path

from weather.files_common import SAMPLES, read_text, refusal

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
