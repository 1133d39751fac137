"""What stands below a figure of the first screen: a range where years allow one, said so."""

from __future__ import annotations

from pathlib import Path

import pytest

from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.sites import read_sites
from hayweather.show.seasons_first import first_sentences, ranked, uncompared_sentences
from hayweather.show.seasons_nights import nights_frame
from hayweather.show.seasons_text import head_texts
from hayweather.show.voice import Voice

SAMPLES = Path(__file__).parents[2] / "sample_forecasts" / "seasons"
US = Voice("en", "us", "UTC")


def without_rain(text: str) -> str:
    """The same hours from a station without a gauge."""
    lines = text.splitlines()
    return "\n".join(line.rpartition(",")[0] for line in lines) + "\n"


@pytest.fixture(scope="module")
def seasons(tmp_path_factory):
    """A place of three Julys, the third without rain, and a place of two."""
    folder = tmp_path_factory.mktemp("first")
    known = {year: (SAMPLES / f"bench_{year}.csv").read_text() for year in (2023, 2024)}
    for year, text in known.items():
        (folder / f"b_{year}.csv").write_text(text)
    third = (SAMPLES / "meadow_2023.csv").read_text().replace("2023-", "2022-")
    (folder / "b_2022.csv").write_text(without_rain(third))
    place = (
        "latitude = 43.2\nlongitude = -120.6\nelevation = 1320\nwind_height = 2\n"
        'timezone = "America/Los_Angeles"\n'
    )
    (folder / "sites.toml").write_text(
        '[farm]\nname = "Two"\nunits = "metric"\n'
        f'[site.long]\n{place}weather = "b_*.csv"\n'
        f'[site.short]\n{place}weather = ["b_2023.csv", "b_2024.csv"]\n'
    )
    return make_seasons(read_sites(folder / "sites.toml"), Request(draws=3, cores=1))


def test_three_years_have_a_range_and_two_their_lowest_and_highest(seasons):
    found = dict(ranked(seasons))
    long, short = (next(s for s in seasons.sites if s.site.name == n) for n in ("long", "short"))
    for column, name in (("dew_nights", "dew_nights_percent"), ("rig_tons", "both_kg")):
        estimate, figure = getattr(long.season, name), found["long"][column]
        assert figure.sure
        assert (figure.low, figure.high) == (estimate.range.low, estimate.range.high)
        estimate, figure = getattr(short.season, name), found["short"][column]
        assert not figure.sure
        assert (figure.low, figure.high) == (estimate.lowest, estimate.highest)
        assert figure.low <= figure.mean <= figure.high
    said = first_sentences(seasons, US)
    assert said[0].startswith("long: Below each figure the range")
    assert said[1].startswith("short: Below each figure its lowest and highest year")


def test_both_ways_together_are_the_sum_of_the_two(seasons):
    for site in seasons.sites:
        apart = site.season.dew_kg.range.value + site.season.rig_kg.range.value
        assert site.season.both_kg.range.value == pytest.approx(apart)


def test_the_doubt_of_the_model_stands_beside_the_years(seasons):
    (said,) = [text for text in first_sentences(seasons, US) if "model's own doubt" in text]
    assert "of 3 draws" in said
    assert "long " in said
    assert "short " in said


def test_rain_is_known_by_night_and_said_once(seasons):
    assert "nights after rain are not told apart there: long." in " ".join(head_texts(seasons, US))
    assert not any("Rain" in text for text in uncompared_sentences(seasons, US))
    frame = nights_frame(seasons)
    rows = frame[(frame.site == "long") & frame.known]
    assert rows[rows.year == 2022]["rain_before"].isna().all()
    assert rows[rows.year == 2023]["rain_before"].notna().all()
