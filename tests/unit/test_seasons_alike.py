"""What makes sites no fair comparison of places: a sky known at some alone, one place twice."""

from pathlib import Path

import pytest

from hayweather.cli.main import run

SAMPLES = Path(__file__).parents[2] / "sample_forecasts" / "seasons"
HEAD = "time_utc,temp_c,dewpoint_c,wind_ms,cloud_tenths,rain_mm"


def site(name: str, latitude: float, weather: str = "whole.csv") -> str:
    return (
        f"[site.{name}]\nlatitude = {latitude}\nlongitude = -120.6\nelevation = 1320\n"
        f'timezone = "America/Los_Angeles"\nweather = "{weather}"\nwind_height = 2\n'
    )


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A month of a sample file, once with its cloud and once without."""
    monkeypatch.chdir(tmp_path)
    lines = (SAMPLES / "bench_2023.csv").read_text().splitlines()
    first = next(n for n, line in enumerate(lines) if line.startswith("2023-06-30T00:00"))
    rows = [line.split(",") for line in lines[first : first + 24 * 33]]
    for name, cloud in (("whole", True), ("bare", False)):
        head = HEAD if cloud else HEAD.replace(",cloud_tenths", "")
        cut = [",".join(row if cloud else [*row[:4], *row[5:]]) for row in rows]
        Path(f"{name}.csv").write_text("\n".join([head, *cut]) + "\n")
    return tmp_path


def said(sites: str, capsys) -> str:
    text = '[farm]\nname = "Alike"\nunits = "metric"\n' + sites
    Path("sites.toml").write_text(text)
    assert run(["seasons", "sites.toml", "--cores", "1"]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_a_sky_known_at_some_sites_alone_is_said_before_they_are_compared(folder, capsys):
    text = said(site("east", 43.2) + site("west", 43.3, "bare.csv"), capsys)
    assert "Cloud and sun are not known at west, where a mostly clear sky is taken" in text
    assert "but are at east" in text
    for weather in ("whole.csv", "bare.csv"):
        alike = said(site("east", 43.2, weather) + site("west", 43.3, weather), capsys)
        assert "Cloud and sun are not known" not in alike
        assert "at one place" not in alike


def test_a_place_given_twice_is_no_comparison(folder, capsys):
    sites = site("east", 43.2) + site("again", 43.201) + site("west", 43.3)
    assert "east and again lie at one place" in said(sites, capsys)
