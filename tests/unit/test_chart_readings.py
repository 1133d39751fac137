"""Moisture readings on the chart: where they stand and what is said of them."""

import numpy as np
import pytest
from matplotlib.colors import same_color
from support.charts import boxes_of, given, panel, words_of

from hayweather.nights import night_of
from hayweather.show import chart, colors
from hayweather.show.chart import description
from hayweather.show.chart_look import Look
from hayweather.show.chart_scene import Scene
from hayweather.weather.record import HOUR
from hayweather.windrow.readings import Reading

TEN = np.datetime64("2025-07-09T05:00", "s")  # 10 pm in the high desert
NOW = TEN + 3 * HOUR // 4
EARLY = Reading(TEN - HOUR, 11.0)
TONIGHT = Reading(TEN + HOUR // 2, 14.5, "leaf", error_wb=2.0, bias_wb=0.5)
ODD = Reading(TEN + HOUR // 4, 44.0)


def field_with(*readings):
    farm, weather = given("sagebeck")
    with pytest.MonkeyPatch.context() as few:
        few.setattr("hayweather.nights.drive.MOST_MEMBERS", 32)
        made = night_of(
            farm,
            dict.fromkeys(farm.sites, weather),
            NOW,
            field="bench",
            readings={"bench": list(readings)},
            members=24,
        )
    return made.fields[0]


@pytest.fixture(scope="module")
def field():
    return field_with(EARLY, TONIGHT, ODD)


@pytest.fixture(scope="module")
def figure(field):
    return chart.figure_of(field)


def drawn_points(figure):
    return {
        float(bar.lines[0].get_ydata()[0]): bar.lines[0]
        for bar in panel(figure, "panel_moisture").containers
        if bar.get_label() == "reading"
    }


@pytest.mark.slow
def test_points_stand_at_their_time_and_value_without_the_bias(field, figure):
    assert field.readings == (EARLY, ODD, TONIGHT)
    points = drawn_points(figure)
    assert sorted(points) == [11.0, 14.0, 44.0]
    assert points[14.0].get_xdata()[0] == pytest.approx(0.5)
    assert points[11.0].get_xdata()[0] == 0.0
    assert same_color(points[14.0].get_color(), colors.LINE_LOOKS["leaf"].color)
    assert same_color(points[11.0].get_color(), colors.LINE_LOOKS["windrow"].color)


def test_a_point_that_fits_no_run_is_hollow(figure):
    points = drawn_points(figure)
    assert same_color(points[44.0].get_markerfacecolor(), colors.PAPER)
    assert not same_color(points[11.0].get_markerfacecolor(), colors.PAPER)


def test_the_scale_holds_every_point(figure):
    low, high = panel(figure, "panel_moisture").get_ylim()
    assert low == 0 < 45 < high


@pytest.mark.slow
def test_early_ones_are_named_by_their_time_and_the_caption_says_what_points_are(figure):
    words = words_of(figure)
    assert "9 pm" in words
    assert "points: your readings" in words
    assert "points: your readings" not in words_of(chart.figure_of(field_with()))


@pytest.mark.slow
def test_early_times_do_not_touch():
    twins = [Reading(TEN - HOUR, 11.0), Reading(TEN - HOUR // 2, 11.2)]
    boxes = dict(boxes_of(chart.figure_of(field_with(*twins))))
    assert not boxes["9 pm"].overlaps(boxes["9:30 pm"])


@pytest.mark.parametrize("language", ["en", "es"])
def test_the_description_tells_the_readings(field, language):
    said = description(Scene(field, Look(language=language)))
    assert all(number in said for number in ("11 %", "14 %", "44 %"))


def test_a_bale_is_drawn_as_what_it_says_of_the_windrow():
    """It was picked up from the windrow: a point in the windrow's color."""
    figure = chart.figure_of(field_with(Reading(TEN + HOUR // 2, 13.0, "bale")))
    assert same_color(drawn_points(figure)[13.0].get_color(), colors.LINE_LOOKS["windrow"].color)
