"""Seasons as text, JSON, CSV, page and pictures, and through the command."""

import csv
import io
import json
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from support.pages import Page
from support.schemas import schema_of
from support.seasons import DATA

from hayweather.baling.calls import Call
from hayweather.cli.main import run
from hayweather.cli.options import months_of, years_of
from hayweather.cli.progress import progress_line
from hayweather.errors import HayweatherError
from hayweather.seasons import engine
from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.record.results import Seasons
from hayweather.seasons.sites import read_sites
from hayweather.show.page import seasons_page
from hayweather.show.seasons_chart import label_corners, season_figures
from hayweather.show.seasons_data import seasons_csv, seasons_json
from hayweather.show.seasons_text import seasons_text
from hayweather.show.seasons_words import signed, years_text

SITES = f"""
[farm]
name = "Two <climates>"
[site.high]
latitude = 40.53
longitude = -108.54
elevation = "2168 m"
timezone = "America/Denver"
wind_height = "2 m"
weather = ["{DATA}/nw_colorado_2017_may_september.csv.gz",
           "{DATA}/nw_colorado_2023_may_september.csv.gz"]
[site.coast]
latitude = 40.64
longitude = -73.78
elevation = "3 m"
timezone = "America/New_York"
wind_height = "10 m"
weather = "{DATA}/nyc_jfk_2013_may_september.csv.gz"
"""
SHORT = Request(months=(5, 8), cores=1)


@pytest.fixture(scope="module")
def sites_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sites") / "sites.toml"
    path.write_text(SITES)
    return path


@cache
def answer(path: Path) -> Seasons:
    return make_seasons(read_sites(path), SHORT)


@pytest.fixture
def made(sites_file: Path) -> Seasons:
    return answer(sites_file)


def in_spanish(made: Seasons) -> Seasons:
    return replace(made, file=replace(made.file, language="es"))


@pytest.mark.parametrize("width", [60, 80, 120])
def test_text_fits_in_both_languages(made, width):
    for shown, units in ((made, "us"), (in_spanish(made), "metric")):
        text = seasons_text(shown, units, width, detail=True)
        assert max(len(line) for line in text.splitlines()) <= width
        assert "nan" not in text.lower().split()


def test_text_says_what_must_be_said(made):
    text = " ".join(seasons_text(made, "us").split())
    assert "Rain not known" in text
    assert "Planning aid only" in text
    text = " ".join(seasons_text(made, "us", detail=True).split())
    assert "No rain in the source" in text
    assert "No measured night of a cured windrow" in text
    assert "Assumed, not yours" in text
    assert "Planning aid only" in text
    assert "Not known, 2013" in text


def test_json_has_the_keys_of_its_schema_and_no_nan(made):
    form = json.loads(seasons_json(made, "us"), parse_constant=pytest.fail)
    assert form["schema"] == "hayweather/seasons/1"
    Draft202012Validator(schema_of(form["schema"])).validate(form)
    month = form["sites"][0]["years"][0]["months"][0]
    assert month["water_l_per_t_median"] == pytest.approx(
        month["water_gal_per_ton_median"] * 4.1727, rel=1e-3
    )


def test_the_money_in_the_json_is_in_both_units(made):
    for pays in json.loads(seasons_json(made))["pays"]["sites"]:
        assert pays["gain_per_t"] == pytest.approx(pays["gain_t"], abs=0.01)
        assert pays["gain_per_ton"] == pytest.approx(0.9072 * pays["gain_t"], abs=0.01)
        assert all("even_low_tons" in sway for sway in pays["sways"])


def test_a_year_that_is_left_out_is_marked_wherever_it_is_shown(made):
    site = made.sites[0]
    last = replace(site.years[1], left_out=True, share_missing=0.6)
    shown = replace(made, sites=(replace(site, years=(site.years[0], last)), made.sites[1]))
    assert "2023 not averaged in, 60 %" in seasons_text(shown, "us")
    text = seasons_text(shown, "us", detail=True)
    assert len(re.findall(r"(?m)^2023\*", text)) == 2
    assert "2023: 60 % of its nights are missing; it is marked *" in " ".join(text.split())
    rows = csv.DictReader(io.StringIO(re.sub(r"(?m)^#.*\n", "", seasons_csv(shown))))
    marked = {row["year"] for row in rows if row["left_out"] == "true"}
    assert marked == {"2023"}
    assert json.loads(seasons_json(shown))["sites"][0]["all_years"]["years"] == [2017]


def test_averages_of_a_season_and_months_across(made):
    text = " ".join(seasons_text(made, "us", detail=True).split())
    pooled = made.sites[0].pooled
    tons = pooled.dew_kg / 2 / 907.18474
    assert (
        f"An average of 2 seasons, in the nights that count: one baler could do {tons:,.0f}" in text
    )
    share = f"{100 * pooled.with_dew / pooled.counted:.0f}"
    assert re.search(rf"high +\d+ +\d+ +{share} ", text.replace("coast", "\ncoast"))


def test_nights_add_up(made):
    for site in json.loads(seasons_json(made))["sites"]:
        for year in site["years"]:
            for tally in (year, *year["months"]):
                parts = ("nights_missing", "rain_nights", "nights_counted")
                assert sum(tally[part] or 0 for part in parts) == tally["nights"]
            assert sum(month["nights"] for month in year["months"]) == year["nights"]


@pytest.mark.parametrize(("units", "column"), [("us", "water_gal"), ("metric", "water_l")])
def test_csv_has_a_row_a_month(made, units, column):
    text = seasons_csv(made, units)
    rows = list(csv.DictReader(io.StringIO(re.sub(r"(?m)^#.*\n", "", text))))
    assert len(rows) == 2 * 3
    assert column in rows[0]
    assert {row["site"] for row in rows} == {"high", "coast"}
    assert text.startswith("# ")


def test_a_page_fetches_nothing_and_keeps_names_harmless(made):
    page = seasons_page(made, "us")
    assert "Two &lt;climates&gt;" in page
    assert "<climates>" not in page
    assert page.count("<svg") == len(list(season_figures(made))) + 1  # patterns, once for all
    drawn = "".join(re.findall(r"<svg.*?</svg>", page, re.DOTALL))
    names = set(re.findall(r'\bid="([^"]+)"', drawn))
    assert set(re.findall(r'(?:url\(|href=")#([^")]+)', drawn)) <= names
    patterns = re.findall(r'<pattern id="[^"]+"(.*?</pattern>)', page, re.DOTALL)
    assert len(patterns) == len(set(patterns)) > 1
    calendars = re.findall(r'<svg role="img" aria-label="high, 2\d.*?</svg>', page, re.DOTALL)
    assert calendars
    assert max(map(len, calendars)) < 40_000  # forty years in two megabytes
    assert not re.findall(r"(?:src|href)=\"https?:", page)
    assert "<script" not in page


def test_a_page_shows_names_as_they_are_written(made, monkeypatch):
    monkeypatch.setattr("hayweather.show.page._pictures", lambda *_: [])
    page = Page(seasons_page(replace(made, file=replace(made.file, name="my places"))))
    told = [text for tag in ("p", "li") for _, text in page.all(tag)]
    assert any(text.startswith("high and coast share no nights") for text in told)
    assert any(text.startswith("my places: nights of") for text in told)
    assert not any(text.startswith(("High", "Coast", "My places")) for text in told)


@pytest.mark.parametrize("apart", [0.0, 0.001, 0.3])
def test_no_label_of_a_map_lies_on_another_or_on_a_point(apart):
    """Boxes as they are drawn, of names as long as users give them."""
    rng = np.random.default_rng(5)
    spots = np.clip([3.0, 2.0] + apart * rng.normal(size=(9, 2)), 0.2, [5.8, 3.8])
    widths, box = np.full(9, 0.15), (6.0, 4.0)
    sizes = [(0.4 + 0.2 * (n % 4), 0.14) for n in range(9)]
    corners = label_corners(spots, widths, sizes, box)
    labels = [(x, y, x + w, y + h) for (x, y), (w, h) in zip(corners, sizes, strict=True)]
    points = [(x - 0.07, y - 0.07, x + 0.07, y + 0.07) for x, y in spots]

    def apart_from(one, other):
        return one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]

    for n, label in enumerate(labels):
        assert all(apart_from(label, other) for other in (*labels[n + 1 :], *points))
        assert min(label) >= 0
        assert (label[2] <= 6.0, label[3] <= 4.0) == (True, True)


@pytest.mark.slow
def test_every_picture_is_drawn_and_its_words_stay_inside(made):
    names = []
    for name, draw in season_figures(in_spanish(made), "metric"):
        figure = draw()
        figure.canvas.draw()
        for text in figure.findobj(lambda item: hasattr(item, "get_window_extent")):
            if getattr(text, "get_text", lambda: "")().strip() and text.get_visible():
                box = text.get_window_extent()
                assert box.x0 >= -1, (name, text.get_text())
                assert box.x1 <= figure.bbox.x1 + 1, (name, text.get_text())
        names.append(name)
    assert {"calendar-high-2017", "months-coast", "sites", "pays"} <= set(names)


def test_the_calendar_draws_what_the_nights_say(made):
    name, draw = next(iter(season_figures(made)))
    axes = next(axes for axes in draw().axes if axes.get_label() == "calendar")
    site = made.sites[0]
    nights = site.nights.only(site.nights.year == 2017)
    dew = next(p for p in axes.patches if p.get_label() == "natural dew")
    corners = dew.get_path().vertices.reshape(-1, 5, 2)
    height = corners[:, 2, 1] - corners[:, 0, 1]
    assert name == "calendar-high-2017"
    assert height.sum() == (nights.hours == 3).sum()


def test_small_phrases():
    assert years_text([2023, 1991, 1992, 1993]) == "1991-1993, 2023"
    assert [signed(value) for value in (0.04, -0.04, 1.26)] == ["0.0", "0.0", "+1.3"]


def test_command_seasons(sites_file, tmp_path, capsys):
    out = tmp_path / "o.json"
    options = ["--months", "8", "--cores", "1", "--years", "2017"]
    assert run(["seasons", str(sites_file), *options, "--out", str(out)]) == 0
    form = json.loads(out.read_text())
    assert form["months"] == [8]
    assert [year["year"] for year in form["sites"][0]["years"]] == [2017]
    assert form["sites"][1]["years"][0]["nights_missing"] == 31  # no 2017 at the coast
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--months", "13"], "--months"),
        (["--years", "x"], "--years"),
        (["--cores", "0"], "--cores"),
        (["--page", "p.pdf"], "--page"),
        (["--chart", "p.pdf"], "--chart"),
    ],
)
def test_wrong_options_are_refused_before_any_work(sites_file, capsys, options, word):
    assert run(["seasons", str(sites_file), *options]) == 2
    line = capsys.readouterr().err.strip()
    assert line.startswith(word)
    assert "\n" not in line


PLACE = """[site.here]
latitude = 40.53
longitude = -108.54
elevation = "2168 m"
timezone = "America/Denver"
wind_height = "2 m"
"""
REAL = f'weather = "{DATA}/nw_colorado_2017_may_september.csv.gz"\n'


@pytest.mark.parametrize(
    ("text", "options", "expected"),
    [
        (PLACE + REAL + "wind_hight = 3\n", [], 'did you mean "wind_height"?'),
        (PLACE + REAL + "[riig]\n", [], "did you mean [rig]?"),
        (PLACE + REAL + PLACE, [], "gives something a second time: [site.here]"),
        (PLACE + 'weather = "none.csv"\n', [], "none.csv: there is no such file"),
        (PLACE + 'weather = "none*.csv"\n', [], "none*.csv: no file matches"),
        (PLACE + 'weather = "empty"\n', [], "empty: there is no file in this folder"),
        (PLACE + 'weather = "sites.toml"\n', [], "no row of column names"),
        (PLACE + REAL, ["--years", "1990:1991"], "the files hold 2017 to 2017"),
        (PLACE + REAL, ["--years", "2018:2017"], '"2018:2017" is no span of years'),
        (PLACE + REAL, ["--months", "9:5"], "if turned around, write 5:9"),
        (PLACE + REAL, ["--months", "1"], "has no hours in the months asked for"),
        (PLACE + REAL, ["--keep", "sites.toml"], "sites.toml: finished nights cannot be kept"),
        (
            PLACE + REAL + "typical_year = true\n",
            ["--years", "2017"],
            "a typical year is put together from several and is no year (here)",
        ),
        (
            PLACE + 'service = "open-meteo"\n',
            ["--years", "2020"],
            "[site.here] terms: open-meteo without a key",
        ),
    ],
)
def test_what_is_wrong_is_said_in_one_line(text, options, expected, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HAYWEATHER_OPEN_METEO_KEY", raising=False)
    Path("empty").mkdir()
    Path("sites.toml").write_text(text)
    assert run(["seasons", "sites.toml", "--cores", "1", *options]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert expected in said.err
    assert len(said.err.splitlines()) == 1


def test_a_sites_file_that_is_not_there(capsys):
    assert run(["seasons", "nowhere.toml"]) == 2
    assert "nowhere.toml: there is no such file" in capsys.readouterr().err


@pytest.mark.slow
def test_a_pattern_names_files(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    both = REAL.replace("2017", "20*")
    Path("sites.toml").write_text(PLACE + both)
    assert run(["seasons", "sites.toml", "--months", "7", "--cores", "1", "--detail"]) == 0
    assert "here: 2017, 2023" in capsys.readouterr().out


def test_an_invented_sites_file_says_so_on_every_output(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("sites.toml").write_text("[farm]\ninvented = true\n" + PLACE + REAL)
    options = ["seasons", "sites.toml", "--months", "7", "--cores", "1"]
    made = make_seasons(read_sites(Path("sites.toml")), Request(months=(7,), cores=1))
    monkeypatch.setattr(engine, "make_seasons", lambda file, asked: made)  # once for all formats
    assert run([*options, "--page", "p.html", "--chart", "c.svg"]) == 0
    assert capsys.readouterr().out.startswith("INVENTED SAMPLE")
    assert Path("p.html").read_text().startswith("<!doctype html>")
    assert Path("c-calendar-here-2017.svg").exists()
    assert Page(Path("p.html").read_text()).text().startswith("INVENTED SAMPLE")
    pictures = list(tmp_path.glob("c-*.svg"))
    assert len(pictures) == 3
    assert all("INVENTED SAMPLE" in path.read_text() for path in pictures)
    assert run([*options, "--format", "csv"]) == 0
    assert capsys.readouterr().out.startswith("# INVENTED SAMPLE")
    assert run([*options, "--format", "json"]) == 0
    assert json.loads(capsys.readouterr().out)["invented"] is True


def test_spans():
    assert years_of("2015:2024") == (2015, 2024)
    assert months_of("5") == (5,)
    for wrong in ("2024:2015", "a", ""):
        with pytest.raises(HayweatherError):
            years_of(wrong)


def test_progress_says_the_time_left(capsys):
    times = iter([0.0, 10.0, 20.0])
    show = progress_line("en", lambda: next(times))
    show(100, 400)
    assert "100 of 400 nights, about 30 s left" in capsys.readouterr().err
    show(400, 400)
    assert capsys.readouterr().err.endswith("\n")


def test_hours_of_the_calendar_are_calls_or_no_hour(made):
    for site in made.sites:
        assert np.isin(site.nights.hours, np.arange(-1, len(Call))).all()
