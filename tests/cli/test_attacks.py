"""Wrong weather given to the outlook: what it prints, and that none of it says go.

With ``-s`` every case shows its line.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from cli.commands import farm_with, sample_weather
from cli.service_farms import ASKED, WHOLE_PLACE, farm_file, hours_of, outlook_form
from weather import server_answers as answers
from weather.server import reply

from hayweather.cli.main import run

Change = Callable[[pd.DataFrame], pd.DataFrame | None]


def changed(change: Change) -> str:
    """The sample's weather, changed as a table of texts."""
    table = pd.read_csv(io.StringIO(sample_weather()), dtype=str)
    found = change(table)
    return (table if found is None else found).to_csv(index=False, lineterminator="\n")


def moved(hours: int) -> Change:
    """The clock of the whole file."""

    def change(table: pd.DataFrame) -> None:
        stamps = pd.to_datetime(table["time_utc"]) + pd.Timedelta(hours=hours)
        table["time_utc"] = stamps.dt.strftime("%Y-%m-%dT%H:%MZ")

    return change


def local_as_utc(table: pd.DataFrame) -> None:
    """Local time with the letter of UTC."""
    stamps = pd.to_datetime(table["time_utc"]).dt.tz_convert("America/Los_Angeles")
    table["time_utc"] = stamps.dt.strftime("%Y-%m-%dT%H:%MZ")


def fahrenheit(table: pd.DataFrame) -> pd.DataFrame:
    """Celsius under headings of Fahrenheit."""
    return table.rename(columns={"temp_c": "temp_f", "dewpoint_c": "dewpoint_f"})


def humidity_5(table: pd.DataFrame) -> None:
    table["rh_pct"] = "5"


def swapped(table: pd.DataFrame) -> None:
    """Dew point under the wind's heading, and the reverse."""
    dew, wind = table["dewpoint_c"].copy(), table["wind_ms"].copy()
    table["dewpoint_c"], table["wind_ms"] = wind, dew


def sun_at_two(table: pd.DataFrame) -> None:
    """999.9 W/m2 at 2 am of the site."""
    table.loc[table["time_utc"].str.contains("T09:00"), "sw_wm2"] = "999.9"


def sun_moved(table: pd.DataFrame) -> None:
    """The sun alone by half a day."""
    table["sw_wm2"] = np.roll(table["sw_wm2"].to_numpy(), 12)


REFUSED: dict[str, tuple[Change, str]] = {
    **{f"clock {hours:+d} h": (moved(hours), "clock is") for hours in (*range(2, 13), -2, -7)},
    "local time labelled Z": (local_as_utc, "7 hours off"),
    "Celsius under Fahrenheit": (fahrenheit, ""),
    "humidity 5": (humidity_5, "contradict"),
    "dew point and wind swapped": (swapped, "contradict"),
    "999.9 at 2 am": (sun_at_two, "deep in the night"),
    "sun moved 12 h": (sun_moved, "12 hours off"),
}  # fmt: skip


def printed(name: str, text: str) -> None:
    """For ``-s``."""
    print(f"\n== {name}\n{text.strip()}")


@pytest.mark.parametrize("name", REFUSED)
def test_wrong_files_are_refused_in_one_line(name, tmp_path, capsys):
    change, evidence = REFUSED[name]
    farm = farm_with(tmp_path, weather=changed(change))
    code = run(["outlook", str(farm), "--field", "bench"])
    said = capsys.readouterr()
    with capsys.disabled():
        printed(name, said.err)
    assert code == 2
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert evidence in said.err
    assert "believe" in said.err


@pytest.mark.usefixtures("middle_alone")
@pytest.mark.parametrize("hours", [-1, 1])
def test_an_hour_is_a_caution_on_every_output(hours, tmp_path, capsys):
    farm = farm_with(tmp_path, weather=changed(moved(hours)))
    form = json.loads(done_json(capsys, farm))
    with capsys.disabled():
        printed(f"clock {hours:+d} h", "\n".join(form["cautions"]))
    assert any(f"moved by {-hours:+d} h" in text for text in form["cautions"])
    assert not any("moved by" in text for text in form["weather"]["assumed"])


def done_json(capsys, farm) -> str:
    """The outlook of one field as JSON."""
    code = run(["outlook", str(farm), "--field", "bench", "--format", "json"])
    said = capsys.readouterr()
    assert code == 0, said.err
    return said.out


@pytest.mark.usefixtures("middle_alone")
def test_a_believed_check_shows_on_the_output(tmp_path, capsys):
    told = ("invented = true", 'invented = true\nbelieve = ["humidity"]')
    farm = farm_with(tmp_path, told, weather=changed(humidity_5))
    form = json.loads(done_json(capsys, farm))
    with capsys.disabled():
        printed("humidity 5, believed", "\n".join(form["cautions"]))
    assert any('"humidity"' in text and "contradict" in text for text in form["cautions"])
    for places in (["--out"], ["--page"], ["--calendar"]):
        path = tmp_path / f"out{places[0].strip('-')}{'.ics' if 'cal' in places[0] else '.html'}"
        form_ = ["--format", "json"] if places == ["--out"] else []
        path = path.with_suffix(".json") if form_ else path
        arguments = ["outlook", str(farm), "--field", "bench", *places, str(path), *form_]
        assert run(arguments) == 0, capsys.readouterr().err
        text = path.read_text(encoding="utf-8").replace("\r\n ", "").replace("&#34;", '"')
        assert "contradict" in text


@pytest.mark.usefixtures("middle_alone")
@pytest.mark.parametrize("whole", [True, False])
def test_blank_rain_is_no_data(whole, tmp_path, capsys):
    def blank(table: pd.DataFrame) -> None:
        table.loc[slice(None) if whole else table.index > 40, "rain_mm"] = ""

    farm = farm_with(tmp_path, weather=changed(blank))
    form = json.loads(done_json(capsys, farm))
    calls = {hour["call"] for field in form["fields"] for hour in field["hours"]}
    with capsys.disabled():
        printed(f"rain blank, whole: {whole}", f"calls {sorted(calls)}")
    assert calls == {"no data"}


@pytest.mark.usefixtures("middle_alone")
def test_an_empty_rain_layer_of_a_service_is_no_data(server, tmp_path, capsys):
    content = answers.us_nws_grid()
    content["properties"]["quantitativePrecipitation"]["values"] = []
    content["properties"]["updateTime"] = "2017-07-09T17:00:00+00:00"
    server.script = [reply(200, answers.us_nws_points()), reply(200, content)]
    form = outlook_form(capsys, farm_file(tmp_path, "us-nws", WHOLE_PLACE), *ASKED)
    calls = {hour["call"] for hour in hours_of(form)}
    with capsys.disabled():
        printed("empty rain layer", f"calls {sorted(calls)}")
    assert calls == {"no data"}


@pytest.mark.parametrize(
    ("name", "parts", "evidence"),
    [
        ("another continent", {"latitude": 41.0, "longitude": 74.5}, "km from home"),
        ("8,000 m", {"elevation": 8000.0}, "8000 m of elevation"),
        ("another clock", {"utc_offset_seconds": 21600}, "utc_offset_seconds"),
    ],
)
def test_answers_for_another_place_end_with_exit_3(server, tmp_path, capsys, name, parts, evidence):
    names = ["temperature_2m", "dew_point_2m", "wind_speed_10m", "precipitation"]
    server.always = reply(200, {**answers.open_meteo(names), **parts})
    farm = farm_file(tmp_path, place=WHOLE_PLACE)
    code = run(["outlook", str(farm), *ASKED])
    said = capsys.readouterr()
    with capsys.disabled():
        printed(name, said.err)
    assert code == 3
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert evidence in said.err
    assert list((tmp_path / "store").glob("*.answer")) == []
