"""Past hours of many sites: a file each, resumable, within the allowance, bias shown."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from cli.test_fetch_past import BROKEN, good_then, starts
from weather.server import WeatherServer

from hayweather.cli.fetching import within_a_day
from hayweather.cli.main import run
from hayweather.weather.files import read_weather_file
from hayweather.weather.services.pull import Pull
from hayweather.weather.services.settings import ServiceSettings

pytestmark = pytest.mark.usefixtures("whole_years")

JULY = 4344  # the first hour of July in a common year
SITE = """
[site.{name}]
latitude = {latitude}
longitude = -120.6
elevation = "1320 m"
timezone = "America/Los_Angeles"
{source}
"""
ARCHIVE = 'service = "open-meteo"\nterms = "non-commercial"'


def sites_file(folder: Path, **sources: str) -> Path:
    path = folder / "sites.toml"
    latitudes = (43.2 + n for n in range(len(sources)))
    path.write_text(
        '[farm]\nname = "Two"\nunits = "metric"\n'
        + "".join(
            SITE.format(name=name, latitude=latitude, source=source)
            for (name, source), latitude in zip(sources.items(), latitudes, strict=True)
        )
    )
    return path


def test_a_file_a_site_and_nothing_asked_twice(server: WeatherServer, tmp_path, capsys, slept):
    path = sites_file(tmp_path, bench=ARCHIVE, meadow=ARCHIVE)
    command = ["fetch", str(path), "--years", "2014:2015", "--to", str(tmp_path / "past")]
    assert run(command) == 0
    out, err = capsys.readouterr()
    assert "Years to ask for: 4" in err
    assert "how far the service is off there is not known" in " ".join(out.split())
    for name in ("bench", "meadow"):
        weather, _ = read_weather_file(tmp_path / "past" / f"{name}.csv")
        assert weather.hours == 2 * 365 * 24
    asked = len(starts(server))
    assert asked == 4
    assert run(command) == 0
    assert len(starts(server)) == asked
    assert "stored already" in capsys.readouterr().err


@pytest.mark.slow
def test_a_break_leaves_what_came_and_goes_on(server: WeatherServer, tmp_path, capsys, slept):
    path = sites_file(tmp_path, bench=ARCHIVE, meadow=ARCHIVE)
    command = ["fetch", str(path), "--years", "2014:2015", "--to", str(tmp_path / "past")]
    good_then(BROKEN, 2, server)
    assert run(command) == 3
    assert (tmp_path / "past" / "bench.csv").exists()
    assert not (tmp_path / "past" / "meadow.csv").exists()
    capsys.readouterr()
    server.always = None
    before = len(starts(server))
    good_then(BROKEN, 2, server)
    assert run(command) == 0
    assert len(starts(server)) - before == 2  # meadow's alone
    assert (tmp_path / "past" / "meadow.csv").exists()


def test_the_bias_against_the_own_station_is_told(server: WeatherServer, tmp_path, capsys, slept):
    path = sites_file(tmp_path, bench=ARCHIVE)
    run(["fetch", str(path), "--years", "2014", "--to", str(tmp_path / "past")])
    text = (tmp_path / "past" / "bench.csv").read_text()
    placed = ("# latitude", "# longitude", "# elevation", "# timezone")
    lines = [line for line in text.splitlines() if not line.startswith(placed)]
    head = next(n for n, line in enumerate(lines) if line.startswith("time_utc"))
    names = lines[head].split(",")
    air = names.index("air_temperature_c")
    rows = [line.split(",") for line in lines[head + 1 + JULY : head + 1 + JULY + 240]]
    for row in rows:
        row[air] = repr(float(row[air]) + 2.0)  # the station is 2 K warmer
    station = "\n".join([*lines[: head + 1], *(",".join(row) for row in rows)]) + "\n"
    (tmp_path / "own.csv").write_text(station)
    capsys.readouterr()
    path = sites_file(tmp_path, bench='weather = "own.csv"')
    command = ["fetch", str(path), "--years", "2014", "--to", str(tmp_path / "again")]
    assert run([*command, "--terms", "non-commercial"]) == 0
    out = capsys.readouterr().out
    assert "-2.0 ±0.0" in out
    assert " 240 " in out


def test_what_is_beyond_a_day_waits_for_the_next() -> None:
    pulls = {name: Pull((4000.0,)) for name in "abc"}
    free = replace(ServiceSettings.from_environment(), key=None)
    assert within_a_day(pulls, free) == (["a", "b"], ["c"])
    assert within_a_day(pulls, replace(free, key="k")) == (["a", "b", "c"], [])


def test_years_and_folder_must_be_named(tmp_path, capsys) -> None:
    path = sites_file(tmp_path, bench=ARCHIVE)
    assert run(["fetch", str(path), "--years", "2014"]) == 2
    assert run(["fetch", str(path), "--to", str(tmp_path / "x")]) == 2
    assert not (tmp_path / "x").exists()
    assert np.all([line.startswith("--") for line in capsys.readouterr().err.splitlines()])
