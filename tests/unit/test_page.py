"""The page to carry: whole, safe, in two languages, without network and script."""

import re
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from support.outlooks import EACH_SAMPLE, SAMPLES, in_language, outlook_of
from support.pages import Page

from hayweather.baling.calls import Call
from hayweather.show import colors as page_colors
from hayweather.show.colors import CALL_LOOKS
from hayweather.show.outlook_words import farm_voice, field_sentences, field_voice, tonight_lines
from hayweather.show.page import hours_rows, html_of, outlook_page, slim
from hayweather.show.voice import Voice, capital, safety_texts
from hayweather.show.weather_facts import made_lines, serves_until
from hayweather.weather.record import HOUR, Source

NASTY = "<script>alert('x')</script> \"Bob's\" & <b>field</b>"


@cache
def page(name: str, language: str = "en", units: str = "us") -> Page:
    return Page(outlook_page(in_language(name, language), units))


def with_names(name: str, field_name: str, farm_name: str):
    """A sample whose names are somebody else's."""
    made = outlook_of(name)
    first = made.fields[0]
    record = replace(first.setting.field, name=field_name)
    renamed = replace(first, setting=replace(first.setting, field=record))
    return replace(made, farm=replace(made.farm, name=farm_name), fields=(renamed,))


@pytest.mark.slow
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", SAMPLES)
def test_is_whole_and_needs_nothing_from_outside(name, language):
    shown = page(name, language)
    assert shown.from_outside() == []
    assert shown.all("html")[0][0]["lang"] == language
    assert len(shown.all("h1")) == len(shown.all("main")) == len(shown.all("head")) == 1
    names = [a["id"] for _, a, _ in shown.elements if "id" in a]
    assert len(set(names)) == len(names)
    wanted = {i for _, a, _ in shown.elements for i in (a.get("aria-labelledby") or "").split()}
    wanted |= {a["href"][1:] for a, _ in shown.all("a")}
    assert wanted <= set(names)


def test_what_would_be_fetched_is_seen():
    seen = Page('<p style="background:url(https://a.b/c)"><img src="x"><a onclick="f()">y</a></p>')
    assert len(seen.from_outside()) == 3
    with pytest.raises(ValueError, match="left open"):
        Page("<main><p>one</p>")


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_says_what_the_outlook_says_and_every_caution_in_full(name, language):
    made = in_language(name, language)
    text = page(name, language).text()
    voice = farm_voice(made, "us")
    first = "INVENTED SAMPLE" if language == "en" else "EJEMPLO INVENTADO"
    assert text.startswith(first)
    for field in made.fields:
        for said in field_sentences(field, field_voice(field, voice)):
            assert capital(said).rstrip(".") in text
    for caution in safety_texts(voice):
        assert caution in text
    for line in made_lines(made, voice):
        assert line in text
    assert len(safety_texts(voice)) == 20


@pytest.mark.slow
def test_a_real_farm_has_no_mark():
    made = outlook_of("sagebeck")
    weather = replace(made.farm.weather, invented=False)
    text = outlook_page(replace(made, farm=replace(made.farm, weather=weather)), "us")
    assert "INVENTED" not in text


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_the_table_is_one_with_headings_for_rows_columns_and_days(name):
    made = in_language(name, "en")
    shown = page(name)
    heads = [attributes.get("scope") for attributes, _ in shown.all("th")]
    assert set(heads) == {"col", "row", "rowgroup"}
    hours = sum(len(field.hours) for field in made.fields)
    assert heads.count("row") == 2 * hours  # the second table holds what a telephone leaves out
    tables = len(shown.all("table"))
    assert len(shown.all("caption")) == tables == 2 * len(made.fields) + 1  # and that of the work
    for field in made.fields:
        table = hours_rows(field, field_voice(field, farm_voice(made, "us")))
        rows = [row for day in table.days for row in day.rows]
        assert [row.call for row in rows] == [hour.call for hour in field.hours]
        assert [row.stop for row in rows] == [hour.stop for hour in field.hours]
        assert {len(row.cells) for row in rows} == {len(table.heads)}
        assert sum(not row.later for row in rows) == min(24, len(rows))
        assert all(head.text for head in table.heads)


def test_stopped_hours_say_so_in_their_row():
    made = in_language("sagebeck_hot_wind", "en")
    stopped = sum(hour.stop for field in made.fields for hour in field.hours)
    shown = page("sagebeck_hot_wind")
    marked = [text for attributes, text in shown.all("span") if attributes.get("class")]
    assert stopped > 0
    assert marked.count("STOP") == stopped


@pytest.mark.parametrize("language", ["en", "es"])
def test_names_with_signs_of_html_are_text(language):
    made = with_names("sagebeck", NASTY, NASTY)
    made = replace(made, farm=replace(made.farm, language=language))
    text = outlook_page(made, "us")
    assert "<script" not in text
    assert "<b>field" not in text
    shown = Page(text)
    assert shown.from_outside() == []
    assert NASTY in shown.text()
    assert NASTY in shown.all("title")[0][1]
    assert any(NASTY in said for _, said in shown.all("desc")) or NASTY in shown.all("h2")[0][1]


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_the_chart_has_a_text_and_fills_its_width(name):
    shown = page(name)
    charts = [attributes for attributes, _ in shown.all("svg") if attributes.get("role") == "img"]
    made = outlook_of(name)
    assert len(charts) == len(made.fields)
    texts = [text for _, text in shown.all("desc")]
    for field, text in zip(made.fields, texts, strict=True):
        voice = Voice("en", "us", str(field.setting.site.timezone), field.headline.evening)
        for window in field.windows:
            assert voice.span(window.start, window.end) in text
    parts = page_chart_parts(made.fields[0])
    assert sum(part.width for part in parts) == pytest.approx(100, abs=0.1)
    for before, after in pairwise(parts):
        assert before.left + before.width == pytest.approx(after.left, abs=0.01)


def page_chart_parts(field):
    """Runs of calls of the chart of a field."""
    from hayweather.show.page import page_chart

    voice = Voice("en", "us", str(field.setting.site.timezone), field.headline.evening)
    return page_chart(field, voice).calls


def test_curves_are_parted_where_nothing_is_known():
    from hayweather.show.page import _points

    values = np.array([10.0, 12.0, np.nan, 14.0, 16.0, np.nan, 9.0])
    assert [part.count(",") for part in _points(values, 20.0)] == [2, 2]
    assert _points(np.array([0.0, 20.0]), 20.0) == ["0.00,100.00 100.00,0.00"]


def real(issued_hours_ago: float | None):
    """A sample as if real, its forecast issued some hours ago."""
    made = outlook_of("sagebeck")
    weather = replace(made.farm.weather, invented=False)
    issued = None if issued_hours_ago is None else made.now - round(issued_hours_ago) * HOUR
    fields = []
    for field in made.fields:
        hourly = replace(
            field.facts.weather,
            source=Source("a service", issued=issued, attribution="Data: somebody, CC BY 4.0"),
        )
        facts = replace(field.facts, weather=hourly, age_hours=issued_hours_ago)
        fields.append(replace(field, facts=facts))
    return replace(made, farm=replace(made.farm, weather=weather), fields=tuple(fields))


def test_tells_until_when_it_serves():
    made = real(3)
    assert serves_until(made) == made.now + 9 * HOUR
    voice = farm_voice(made, "us")
    assert made_lines(made, voice) == [
        "Made Tue 8 July, 5 pm",
        "Weather: a service, issued Tue 8 July, 2 pm (3 h old)",
        "After Wed 9 July, 2 am get a new forecast",
    ]
    assert made_lines(real(13), voice)[-1] == "This forecast is old: get a new one now"
    assert serves_until(real(None)) == made.now + 12 * HOUR


def test_attribution_stands_on_the_page():
    assert "Data: somebody, CC BY 4.0" in Page(outlook_page(real(3), "us")).text()


def luminance(color: str) -> float:
    """Relative luminance (WCAG 2.2) of a hex color."""
    parts = np.array([int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2) of two colors."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("night", [False, True])
def test_words_and_lines_stand_out_from_the_ground(night):
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    found = page_colors.variables(night=night)
    for text in ("ink", "pale"):
        for ground in ("paper", "dark-hours"):
            assert contrast(found[text], found[ground]) >= 4.5
    assert contrast(found["ink"], found["band"]) >= 4.5
    for name in page_colors.CURVES:  # WCAG 2.2, 1.4.11: graphical objects 3:1
        for ground in ("paper", "dark-hours", "band"):
            assert contrast(found[name], found[ground]) >= 3


def test_night_colors_turn_the_order_of_day_round():
    def order(looks):
        return sorted(
            (c for c in looks if c != Call.NO_DATA), key=lambda c: -luminance(looks[c].fill)
        )

    by_night = order(page_colors.NIGHT_LOOKS)
    assert by_night == order(CALL_LOOKS)[::-1]
    lightness = [
        116 * luminance(page_colors.NIGHT_LOOKS[call].fill) ** (1 / 3) - 16 for call in by_night
    ]
    assert max(np.diff(lightness)) < -10  # steps of CIE L*, seen alike by every eye
    assert {c: look.hatch for c, look in page_colors.NIGHT_LOOKS.items()} == {
        c: look.hatch for c, look in CALL_LOOKS.items()
    }


@pytest.mark.slow
def test_no_letter_is_smaller_than_twelve():
    style = Page(outlook_page(outlook_of("sagebeck"), "us")).all("style")[0][1]
    sizes = re.findall(r"font(?:-size)?:[^;}]*?([\d.]+)(px|rem|em|pt)", style)
    assert len(sizes) > 10
    pixels = {"px": 1.0, "rem": 16.0, "em": 12.0, "pt": 96 / 72}
    assert min(float(size) * pixels[unit] for size, unit in sizes) >= 12


@pytest.mark.parametrize("name", ["sagebeck", "vallumbria"])
def test_the_short_answer_has_windows_strip_and_cautions(name):
    made = outlook_of(name)
    text = html_of(made)
    shown = Page(text)
    said = shown.all("div")[0][1].strip()
    assert said.startswith(("INVENTED", "EJEMPLO"))
    assert shown.from_outside() == []
    assert len(shown.all("svg")) == len(made.fields)
    assert "<script" not in text
    voice = farm_voice(made, made.farm.units)
    for field in made.fields:
        for line in tonight_lines(field, field_voice(field, voice)):
            assert line.text[1:].rstrip(".") in said


@pytest.mark.parametrize(("count", "off"), [(20, 0.005), (500, 0.05)])
def test_a_path_in_steps_goes_through_the_same_points(count, off):
    """Points within half a last place, errors not adding up over the steps."""
    points = np.random.default_rng(count).uniform(-50, 600, (count, 2)).round(6)
    points[1::3, 0] = points[0::3, 0][: points[1::3].shape[0]]
    points[2::3, 1] = points[1::3, 1][: points[2::3].shape[0]]
    lines = [f"{'ML'[n > 0]} {x} {y} \n" for n, (x, y) in enumerate(points)]
    path = re.search(r'd="([^"]*)"', slim(f'<path d="{"".join(lines)}z\n"/>'))[1]
    at, found = np.zeros(2), []
    for code, numbers in re.findall(r"([Mhvl])([^Mhvlz]*)", path):
        values = [float(value) for value in numbers.split()]
        step = {"M": values, "l": values, "h": [*values, 0.0], "v": [0.0, *values]}[code]
        at = np.array(step) if code == "M" else at + step
        found.append(at)
    assert path.endswith("z")
    assert {code for code, _ in re.findall(r"([Mhvl])([^Mhvlz]*)", path)} == set("Mhvl")
    assert np.abs(np.array(found) - points).max() <= off + 1e-9
