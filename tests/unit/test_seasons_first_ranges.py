"""What stands below a figure of the first screen: a range where years allow one, said so."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.sites import read_sites
from hayweather.show.seasons_first import caveat_sentences, first_sentences, ranked
from hayweather.show.seasons_nights import nights_frame
from hayweather.show.seasons_text import NONE, head_texts, table_columns
from hayweather.show.voice import Voice
from hayweather.weather.record import Assumption

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
    estimate, figure = long.season.dew_nights_percent, found["long"]["dew_nights"]
    assert figure.sure
    assert (figure.low, figure.high) == (estimate.range.low, estimate.range.high)
    assert not found["long"]["rig_tons"].sure  # rain is known in two of its three years
    for column, name in (("dew_nights", "dew_nights_percent"), ("rig_tons", "both_kg")):
        estimate, figure = getattr(short.season, name), found["short"][column]
        assert not figure.sure
        assert (figure.low, figure.high) == (estimate.lowest, estimate.highest)
        assert figure.low <= figure.mean <= figure.high
    said = first_sentences(seasons, US)
    assert said[0].startswith("long: below each figure the range")
    assert said[1].startswith("short: below each figure its lowest and highest year")


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
    head = " ".join(head_texts(seasons, US))
    assert "Rain known in some years only: long (2023-2024)." in head
    assert "Rain not known" not in head
    (said,) = [text for text in caveat_sentences(seasons, US) if "rain" in text]
    assert said.startswith("long: rain is known in 2023-2024 only. Tons (below them the lowest")
    assert said.endswith("those after rain in 2022 counted as dry.")
    frame = nights_frame(seasons)
    rows = frame[(frame.site == "long") & frame.known]
    assert rows[rows.year == 2022]["rain_before"].isna().all()
    assert rows[rows.year == 2023]["rain_before"].notna().all()


def test_whole_seasons_are_those_of_the_years_that_know_rain(seasons):
    """Both places have the same two years with a gauge; a third year without changes no tons."""
    found = dict(ranked(seasons))
    for column in ("dew_tons", "rig_tons", "done_dew", "done_rig"):
        assert found["long"][column].mean == pytest.approx(found["short"][column].mean)
    assert found["long"]["dew_nights"].mean != found["short"]["dew_nights"].mean
    (long,) = [site for site in seasons.sites if site.site.name == "long"]
    assert [year.whole.rain_nights is None for year in long.years] == [True, False, False]
    wet = replace(long.years[1].whole, rain_nights=3)
    columns = table_columns([("2022", long.years[0].whole), ("2023", wet)], US)
    assert [item.cells for item in columns if item.heading[0] == "after"] == [(NONE, "3")]
    pays = {pay.site: pay for pay in seasons.pays}
    assert pays["long"].net == pytest.approx(pays["short"].net)
    assert [year.year for year in pays["long"].years] == [2023, 2024]


def test_what_is_doubtful_of_the_weather_stands_on_the_first_screen(seasons):
    first, second = seasons.sites
    notes = (
        Assumption("place_differs", {"place": "37.18, -3.78", "km": "102"}),
        Assumption("dew_point_blanked", {"count": 1}),
        Assumption("pressure_from_elevation"),
    )
    odd = replace(seasons, sites=(replace(first, assumed=notes, typical=True), second), pairs=())
    for voice, near, typical in (
        (US, "long: the weather speaks of 37.18, -3.78, 102 km from the site", "a typical year"),
        (Voice("es", "metric", "UTC"), "long: el clima es de 37.18, -3.78, a 102 km", "un año t"),
    ):
        said = caveat_sentences(odd, voice)
        assert sum(text.startswith("long: ") for text in said) == 2 + 1  # place, dew point, rain
        assert any(text.startswith(near) for text in said)
        assert any(f"long: {typical}" in text for text in first_sentences(odd, voice))
