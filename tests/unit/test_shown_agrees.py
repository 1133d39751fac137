"""One night, one truth: every output of the sample night says the same windows and advice."""

import json
from datetime import datetime

import numpy as np
import pytest
from support.outlooks import in_language
from support.sheets import first_come

from hayweather.baling.advice import Advice
from hayweather.plan.sheet import make_runsheet
from hayweather.show.chart import answer
from hayweather.show.chart_look import HARD_SPACE, Look
from hayweather.show.chart_scene import Scene
from hayweather.show.message import runsheet_message
from hayweather.show.outlook_data import outlook_json
from hayweather.show.outlook_words import farm_voice, field_sentences, field_voice, reading_words
from hayweather.show.page import page_chart
from hayweather.show.voice import Voice
from hayweather.windrow.readings import Reading, joined
from hayweather.windrow.trajectory import QUARTERS

NAMES = ("sagebeck", pytest.param("sagebeck_frost", marks=pytest.mark.slow))


def instants(windows):
    return sorted((int(item.start.astype(int)), int(item.end.astype(int))) for item in windows)


def stamp(text):
    return int(datetime.fromisoformat(text).timestamp())


@pytest.fixture(scope="module", params=NAMES)
def made(request):
    return in_language(request.param, "en")


def voice_of(made, field):
    return field_voice(field, farm_voice(made, "us"))


def test_json_has_the_windows_and_the_advice_of_the_night(made):
    """What text, CSV, calendar and page say beside it: tests/real/test_outputs_agree.py."""
    form = json.loads(outlook_json(made, "us"))
    for field, shown in zip(made.fields, form["fields"], strict=True):
        for name, windows in (("windows", field.windows), ("maybe", field.maybe)):
            told = [(stamp(item["start"]), stamp(item["end"])) for item in shown[name]]
            assert sorted(told) == instants(windows)
        said = [(hour.call.word, hour.advice.word) for hour in field.hours]
        assert [(hour["call"], hour["advice"]) for hour in shown["hours"]] == said


def test_chart_and_page_draw_the_advice_of_the_quarters(made):
    for field in made.fields:
        quarters = field.shown.advice.size
        rows = {row.key: row.stretches for row in Scene(field, Look()).rows()}
        drawn = page_chart(field, voice_of(made, field))
        for advice, key in ((Advice.GO, "advice_go"), (Advice.PROBE_FIRST, "advice_probe_first")):
            marks = np.zeros(quarters, dtype=bool)
            for first, past in rows.get(key, ()):
                marks[round(QUARTERS * first) : round(QUARTERS * past)] = True
            np.testing.assert_array_equal(marks, field.shown.advice == advice)
            share = sum(
                part.width
                for part, told in zip(drawn.advice, drawn.advices, strict=True)
                if told == advice
            )
            assert share == pytest.approx(100 * marks.mean(), abs=0.1)


def test_headline_and_chart_name_every_window_of_tonight_and_no_other(made):
    for field in made.fields:
        voice, head = voice_of(made, field), field.headline
        said = " ".join(field_sentences(field, voice))
        lines = [line.text.replace(HARD_SPACE, " ") for line in answer(Scene(field, Look()))]
        for window in (*head.dew, *head.ready, *head.rig, *head.maybe):
            open_end = window.end == head.turn  # it may go on: "from 9 am on"
            assert open_end or voice.when(window.end, is_end=True) in said
            assert window.start <= field.span.first or voice.when(window.start) in said
        for window in (*field.windows, *field.maybe):
            assert any(voice.span(window.start, window.end) in line for line in lines)
        assert ("bale from" in said) == bool(head.as_it_lies)
        assert ("With the rig: " in said) == bool(head.rig)
        assert ("Maybe, but probe first: " in said) == bool(head.maybe)


def test_readings_of_several_places_are_said_as_one_with_their_range():
    at = np.datetime64("2025-07-09T06:10", "s")
    (one,) = joined([Reading(at, value) for value in (12.0, 14.0, 16.0)])
    voice = Voice("en", "us", "America/Los_Angeles")
    assert reading_words(one, voice) == "14 % (3 readings, 12 to 16 %)"
    assert reading_words(Reading(at, 9.5), voice) == "9.5 %"


def test_the_message_works_in_windows_of_go_and_says_where_to_probe(made):
    sheet = make_runsheet(made, first_come(made))
    text = " ".join(part.split(") ", 1)[1] for part in runsheet_message(sheet, "us"))
    for machine in sheet.machines:
        for piece in machine.pieces:
            windows = made[piece.field].windows
            assert any(w.start <= piece.start and piece.end <= w.end for w in windows)
    for field in sheet.fields:
        night = field.night
        if not field.totals.hours and night.headline.maybe:
            assert f"{field.name}: probe " in text
            assert f"{field.name}: no work" not in text
