"""Charts as files, all fields in one picture, small helpers of the layout."""

import doctest
import io
import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import matplotlib
import numpy as np
import pytest
from matplotlib.image import imread
from support.charts import drawn, keys, words_of
from support.outlooks import outlook_of

from hayweather.show import chart
from hayweather.show import chart_panels as chart_labels
from hayweather.show.chart import HARD_SPACE, description
from hayweather.show.chart_look import Look, line_width_in, wrap
from hayweather.show.chart_scene import Scene

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["png", "svg"])
def test_same_outlook_same_bytes_whatever_the_users_settings(kind: str) -> None:
    field = outlook_of("sagebeck_frost").fields[-1]
    usual = chart.figure_bytes(chart.figure_of(field), f".{kind}")
    with matplotlib.rc_context({"font.size": 25, "axes.facecolor": "red", "svg.hashsalt": "x"}):
        assert chart.figure_bytes(chart.figure_of(field), f".{kind.upper()}") == usual


@pytest.mark.slow
def test_png_has_the_width_of_its_shape() -> None:
    for shape, width in (("wide", 1200), ("narrow", 660)):
        picture = imread(io.BytesIO(chart.figure_bytes(drawn("sagebeck", shape)[0][1], ".png")))
        assert picture.shape[1] == width
        assert 0.02 < np.mean(picture[..., :3].min(axis=2) < 0.5) < 0.5


def test_svg_says_what_it_shows() -> None:
    field = outlook_of("sagebeck").fields[0]
    written = chart.figure_bytes(chart.figure_of(field), ".svg").decode("utf-8")
    root = ElementTree.fromstring(written)
    assert root.findtext(f"{SVG}title") == "bench, night of Tue 8 to Wed 9 July"
    names = [found for element in root.iter() if (found := element.get("id"))]
    assert len(set(names)) == len(names)
    assert not any(" " in name for name in names)
    assert "natural dew" in {text.text for text in root.iter(f"{SVG}text")}
    assert description(Scene(field, Look())) in " ".join(written.replace("&gt;", ">").split())
    assert not re.search(r"20\d\d-\d\d-\d\dT", written)


def test_description_names_every_run_and_window() -> None:
    field = outlook_of("sagebeck_hot_wind").fields[0]
    scene = Scene(field, Look())
    words = description(scene)
    assert words.count(";") >= len(scene.segments) - 1
    assert words.count("(STOP)") == sum(segment.stopped for segment in scene.segments)
    for window in field.windows:
        assert scene.voice.span(window.start, window.end) in words


@pytest.mark.slow
def test_all_fields_in_one_picture() -> None:
    made = outlook_of("sagebeck")
    figure = chart.figure_of_all(made)
    assert keys(figure) == [
        key for field in made.fields for key in keys(chart.figure_of(field, chart.look_for(made)))
    ]
    words = words_of(figure)
    assert "Sagebeck, night of Tue 8 to Wed 9 July" in words
    assert {"bench", "creek", "saddle"} <= set(words.split(" | "))


@pytest.mark.slow
def test_many_fields_show_their_calls_only() -> None:
    made = outlook_of("sagebeck")
    many = replace(made, fields=made.fields * 2)
    assert keys(chart.figure_of_all(many)) == ["chart_panel_calls"] * 6


@pytest.mark.slow
def test_names_with_signs_of_formulas_and_unknown_letters() -> None:
    field = outlook_of("sagebeck").fields[-1]
    figure = chart.figure_of(field, title="50 $ of_hay$ \\frac \N{CJK UNIFIED IDEOGRAPH-8349}")
    assert "50 $ of_hay$ \\frac" in words_of(figure)
    assert chart.figure_bytes(figure, ".png").startswith(b"\x89PNG")


def test_pyplot_is_not_used_and_colors_need_no_matplotlib() -> None:
    code = (
        "import sys, hayweather.show.colors; assert 'matplotlib' not in sys.modules;"
        "import hayweather.show.chart; assert 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_wrap_fits_and_keeps_hard_blanks() -> None:
    held = f"1{HARD_SPACE}am{HARD_SPACE}to{HARD_SPACE}2{HARD_SPACE}am"
    lines = wrap(f"one two three {held} four", 1.0, 9.0)
    assert any(held in line for line in lines)
    assert all(line_width_in(line, 9.0) <= 1.0 for line in lines)
    assert wrap(held, 0.3, 9.0) == ["1", "am", "to 2", "am"]


def test_examples() -> None:
    assert doctest.testmod(chart_labels).failed == 0
