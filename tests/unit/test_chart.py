"""The chart of an outlook: what stands in it and where its words lie."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.patches import StepPatch
from matplotlib.transforms import Bbox
from support.charts import (
    NOW,
    boxes_of,
    drawn,
    given,
    keys,
    marks,
    of_weather,
    outlook_in,
    panel,
    quarters_of,
    shown_texts,
    words_of,
)
from support.outlooks import EACH_SAMPLE, SAMPLES, outlook_of

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.show import chart, colors
from hayweather.show.chart_look import Look, Shape
from hayweather.show.chart_scene import Scene
from hayweather.show.voice import Voice
from hayweather.weather.record import HOUR
from hayweather.words import Remark, say


@pytest.mark.slow
def test_panels_are_those_that_have_something_to_show() -> None:
    full = ["calls", "chances", "water", "moisture", "rain", "temperature"]
    figure = drawn("sagebeck_shower", "wide")[0][1]
    assert keys(figure) == [f"chart_panel_{name}" for name in full]
    dry = chart.figure_of(of_weather(given("sagebeck")[1], given("sagebeck")[0], NOW))
    assert "chart_panel_rain" not in keys(dry)
    assert "chart_panel_chances" not in keys(dry)
    assert {"chart_panel_calls", "chart_panel_moisture"} < set(keys(dry))


@pytest.mark.slow
def test_no_water_panel_without_a_rig() -> None:
    farm, weather = given("sagebeck")
    field = of_weather(weather, replace(farm, rigs=None), NOW)
    figure = chart.figure_of(field)
    assert "chart_panel_water" not in keys(figure)
    assert say("call_too_dry") in words_of(figure)


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_strip_shows_every_quarters_call_and_stop(name: str) -> None:
    for field, figure in drawn(name, "wide"):
        strip = panel(figure, "panel_calls")
        called = field.shown.quarters.call[:, 0]
        for call in Call:
            seen = quarters_of(strip, call.word, called.size)
            np.testing.assert_array_equal(seen, called == call)
        crossed = quarters_of(strip, "stop", called.size)
        np.testing.assert_array_equal(crossed, field.shown.stopped[:, 0])
        rows = quarters_of(strip, "chart_row_stop", called.size)
        np.testing.assert_array_equal(rows, crossed)


def test_patterns_differ_where_colors_do() -> None:
    looks = list(colors.CALL_LOOKS.values())
    assert set(colors.CALL_LOOKS) == set(Call)
    assert len({look.hatch for look in looks}) == len({look.fill for look in looks}) == len(Call)


def steps_of(figure):
    """What the steps of the water panel are drawn from, by the quarter."""
    patches = panel(figure, "panel_water").patches
    return next(item for item in patches if isinstance(item, StepPatch)).get_data().values


def test_water_is_drawn_in_windows_only_and_in_the_readers_unit() -> None:
    field = outlook_of("sagebeck_hot_wind").fields[0]
    us, metric = (steps_of(chart.figure_of(field, Look(units=units))) for units in ("us", "metric"))
    helped = (field.shown.quarters.call[:, 0] == Call.ADD_MOISTURE) & ~field.shown.stopped[:, 0]
    np.testing.assert_array_equal(np.isfinite(us), helped)
    assert helped.any()
    # One gallon in a short ton is 4.1727 litres in a tonne.
    np.testing.assert_allclose(metric[helped] / us[helped], 4.1727, rtol=1e-4)


@pytest.mark.slow
def test_words_and_units_of_both_readers() -> None:
    field = outlook_of("sagebeck_shower").fields[0]
    english = words_of(chart.figure_of(field, Look("us", "en")))
    for words in ("night of Tue 19 to Wed 20 August", "°F", "gal/ton", "band 12-16 %", "windrow"):
        assert words in english
    assert "8 pm" in english
    spanish = words_of(chart.figure_of(field, Look("metric", "es", "narrow")))
    for words in ("noche del mar 19 al mié 20 de agosto", "°C", "L/t", "rango 12-16 %", "hilera"):
        assert words in spanish
    assert "18:00" in spanish
    assert "mm" in spanish


@pytest.mark.slow
def test_safety_and_source_and_notes_stand_in_the_foot() -> None:
    made = outlook_of("sagebeck")
    field = made.fields[0]
    words = words_of(chart.figure_of(field, chart.look_for(made)))
    assert "INVENTED SAMPLE" in words
    assert "sagebeck.csv" in words
    assert "check the hay itself" in words
    assert "No measured night of a cured windrow" in words
    source = replace(field.shown.weather.source, attribution="Data by Somebody, CC BY 4.0")
    weather = replace(field.facts.weather, source=source)
    facts = replace(field.facts, weather=weather)
    assert "Data by Somebody, CC BY 4.0" in words_of(chart.figure_of(replace(field, facts=facts)))
    assert "INVENTED" not in words_of(chart.figure_of(field, Look()))


@pytest.mark.slow
@pytest.mark.parametrize("shape", ["wide", "narrow"])
@pytest.mark.parametrize("name", SAMPLES)
def test_words_lie_inside_apart_and_large_enough(name: str, shape: Shape) -> None:
    for _, figure in drawn(name, shape):
        boxes = boxes_of(figure)
        sheet = figure.bbox
        for words, box in boxes:
            inside = box.x0 >= 1 and box.y0 >= 1 and box.x1 <= sheet.x1 - 1 and box.y1 <= sheet.y1
            assert inside, f"{words!r} leaves the sheet"
        for index, (words, box) in enumerate(boxes):
            for other, there in boxes[index + 1 :]:
                cut = Bbox.intersection(box, there)
                touching = cut is not None and min(cut.width, cut.height) > 1.5
                assert not touching, f"{words!r} over {other!r}"
        assert min(text.get_fontsize() for text in shown_texts(figure)) >= 8


@pytest.mark.slow
def test_hours_without_data_are_hatched_everywhere() -> None:
    farm, weather = given("sagebeck")
    gap = weather.columns["air_temperature_c"].copy()
    now = int((NOW - weather.start[0]) / HOUR)
    gap[now + 6 : now + 12] = np.nan
    field = of_weather(
        replace(weather, columns={**weather.columns, "air_temperature_c": gap}), farm, NOW
    )
    figure = chart.figure_of(field)
    none = field.shown.quarters.call[:, 0] == Call.NO_DATA
    assert none[24:48].all()
    for key in ("panel_calls", "panel_water", "panel_moisture"):
        seen = quarters_of(panel(figure, key), "no data", none.size)
        np.testing.assert_array_equal(seen, none)
    # From the last known hour start to the next.
    assert marks(panel(figure, "panel_temperature"), "no data") == [(5.0, 12.0)]
    hatched = [p for p in panel(figure, "panel_moisture").patches if p.get_label() == "no data"]
    assert all(patch.get_hatch() for patch in hatched)
    assert words_of(figure).count("no data") >= 4


def test_rain_that_is_blank_is_hatched_and_rain_unknown_is_said() -> None:
    farm, weather = given("sagebeck")
    rain = weather.columns["rain_mm"].copy()
    now = int((NOW - weather.start[0]) / HOUR)
    rain[now + 30] = np.nan
    blank = of_weather(replace(weather, columns={**weather.columns, "rain_mm": rain}), farm, NOW)
    assert marks(panel(chart.figure_of(blank), "panel_rain"), "no data") == [(30.0, 31.0)]
    without = {name: values for name, values in weather.columns.items() if name != "rain_mm"}
    unknown = outlook_in(replace(weather, columns=without), farm, NOW)
    words = words_of(chart.figure_of_all(unknown))
    assert "Rain unknown" in words


@pytest.mark.slow
def test_frost_is_marked_and_named() -> None:
    field, figure = drawn("sagebeck_frost", "wide")[0]
    frosty = np.array(
        [any(c.key == "caution_frost" for c in hour.cautions) for hour in field.hours]
    )
    assert frosty.any()
    seen = quarters_of(panel(figure, "panel_calls"), "chart_row_frost", 4 * frosty.size)
    np.testing.assert_array_equal(seen, np.repeat(frosty, 4))
    assert {"frost", "freezing"} <= set(words_of(figure).split(" | "))
    assert "freezing" not in words_of(drawn("sagebeck_no_dew", "wide")[0][1])


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_go_and_probe_first_stand_in_rows_of_their_own(name: str) -> None:
    """With a word beside the row: told apart without color."""
    field, figure = drawn(name, "wide")[0]
    said = field.shown.advice
    strip = panel(figure, "panel_calls")
    for advice, key in ((Advice.GO, "advice_go"), (Advice.PROBE_FIRST, "advice_probe_first")):
        np.testing.assert_array_equal(quarters_of(strip, key, said.size), said == advice)


@pytest.mark.parametrize(
    ("shift", "change", "midnights"),
    [
        # 2 November 2025, 2 am daylight time becomes 1 am: nine hours after 5 pm.
        ("2025-11-02T00:00", 9.0, [7.0, 32.0]),
        # 8 March 2026, 2 am becomes 3 am: nine hours after 5 pm standard time.
        pytest.param("2026-03-08T01:00", 9.0, [7.0, 30.0], marks=pytest.mark.slow),
    ],
)
def test_nights_of_clock_change(shift: str, change: float, midnights: list[float]) -> None:
    farm, weather = given("sagebeck")
    now = np.datetime64(shift, "s")
    field = of_weather(replace(weather, start=weather.start + (now - NOW)), farm, now)
    scene = Scene(field, Look())
    figure = chart.figure_of(field)
    strip = panel(figure, "panel_calls")
    lines = [line for line in strip.lines if line.get_label() == "clock change"]
    assert [line.get_xdata()[0] for line in lines] == [change]
    assert [first for (first, _), _ in scene.clock.days()[1:]] == midnights
    for at, label in zip(strip.get_xticks(), strip.get_xticklabels(), strict=True):
        assert label.get_text() == scene.voice.clock(scene.clock.time(at), words=False)
    assert "clocks go" in words_of(figure)


def test_numbers_have_the_readers_sign_before_tenths() -> None:
    """A farm's own sign holds in its chart; what is written there is what the sheet dials."""
    made = outlook_of("sagebeck_hot_wind")
    comma = replace(made, farm=replace(made.farm, decimals="comma"))
    words = {
        name: words_of(chart.figure_of(night.fields[0], chart.look_for(night)))
        for name, night in (("point", made), ("comma", comma))
    }
    applied = Scene(made.fields[0], Look()).water()
    first = Voice("en", "us", "UTC").number(applied[np.isfinite(applied)][0], "water_rate")
    assert first in words["point"]
    assert first.replace(".", ",") in words["comma"]
    assert first not in words["comma"]


def test_cautions_in_the_foot_are_in_the_units_asked_for() -> None:
    made = outlook_of("sagebeck")
    water = Remark("reason_water", {"water": (41.7, "water_rate"), "after": (13.0, "percent")})
    cold = replace(made, cautions=(water,))
    assert "10.0 gal/ton" in chart.look_for(cold).notes[0]
    assert "41.7 L/t" in chart.look_for(cold, "metric").notes[0]
