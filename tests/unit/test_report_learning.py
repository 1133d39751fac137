"""Tunings and scores as text, JSON and CSV: complete, within the width, in both languages."""

import csv
import io
import json
import math
from dataclasses import replace

import numpy as np
import pytest

from hayweather.learning.happened import TimeError
from hayweather.learning.score import (
    Bin,
    Counts,
    DepthSample,
    LayerError,
    MoistureError,
    RuleScore,
    Score,
)
from hayweather.learning.tune import KNOBS, Fit, Fitted
from hayweather.show.score import score_csv, score_json, score_text
from hayweather.show.tune import tune_csv, tune_json, tune_text
from hayweather.show.voice import Voice

US, METRIC, SPANISH = (
    Voice("en", "us", "UTC"),
    Voice("en", "metric", "UTC"),
    Voice("es", "metric", "UTC"),
)
NAN = float("nan")
NONE = TimeError(0, NAN, NAN)
VALUES = (1.2, -0.6, 1.0, 1.0, 0.9, 0.8)
STATUSES = ("fitted", "fitted", "alike", "unclear", "needs_skin", "needs_rig")
FIT = Fit(
    tuple(
        Fitted(knob, value, 0.9, 1.4, 0.5, status)
        for knob, value, status in zip(KNOBS, VALUES, STATUSES, strict=True)
    ),
    *(12, 3, 6, 1.84, 0.93, 1.5, 2),
)
SCORE = Score(
    outlooks=9,
    hours=340,
    unspoken=7,
    nights=31,
    bouts=40,
    lead_h=8.4,
    moisture=(MoistureError(23, 12, 0.6, 1.1), MoistureError(None, 12, 0.6, 1.1)),
    rules=(
        RuleScore(
            "outlook", Counts(80, 20, 15, 225), 4, 0.082,
            TimeError(33, -12.4, 31.0), TimeError(33, 8.0, 40.2),
        ),
        RuleScore("never", Counts(0, 100, 0, 240), 0, 0.294, NONE, NONE),
        RuleScore(
            "yesterday", Counts(50, 50, 48, 192), 12, 0.288,
            TimeError(20, 2.0, 65.0), TimeError(20, -5.0, 70.0),
        ),
        RuleScore("humidity", None, 0, NAN, NONE, NONE),
    ),
    reliability=(Bin(0.0, 0.2, 200, 0.05, 0.04), Bin(0.2, 0.4, 0, NAN, NAN),
                 Bin(0.4, 0.6, 60, 0.52, 0.5)),
    starts_held=26,
    starts_timed=33,
    samples=(
        DepthSample("bench", np.datetime64("2025-07-09T06:10", "s"), "America/Los_Angeles",
                    "windrow", (12.2, 9.0, NAN), (13.1, 9.4, 9.5)),
        DepthSample("bench", np.datetime64("2025-07-09T07:10", "s"), "America/Los_Angeles",
                    "windrow", (14.0, 9.0, 9.5), (NAN, NAN, NAN), "layers"),
    ),
    layers=(
        LayerError("top", "windrow", 1, 0.9, 0.9), LayerError("middle", "windrow", 1, 0.4, 0.4),
    ),
)  # fmt: skip


def texts_of(voice, width):
    return (
        tune_text(FIT, voice, "Sagebeck", "us", width, invented=True),
        score_text(SCORE, voice, "Sagebeck", width, invented=True),
    )


@pytest.mark.parametrize("voice", [US, METRIC, SPANISH], ids=["us", "metric", "spanish"])
@pytest.mark.parametrize("width", [80, 120])
def test_no_line_is_too_wide_and_no_number_missing(voice, width):
    for text in texts_of(voice, width):
        assert max(map(len, text.splitlines())) <= width
        assert "{" not in text
        assert "nan" not in text.lower()
        assert text.startswith("INVENTED" if voice.language == "en" else "EJEMPLO INVENTADO")


@pytest.mark.parametrize("voice", [US, SPANISH], ids=["english", "spanish"])
def test_cautions_show_short_and_in_full(voice):
    words = {
        "en": ("Planning aid only", "Stack at 190 °F (88 °C)"),
        "es": ("ayuda para planear", "190 °F (88 °C)"),
    }
    short, full = words[voice.language]
    for maker in (
        lambda all_: tune_text(FIT, voice, "x", "us", all_cautions=all_),
        lambda all_: score_text(SCORE, voice, "x", all_cautions=all_),
    ):
        assert short in maker(False)
        assert len(maker(True)) > len(maker(False)) + 1000
        assert full in " ".join(maker(True).split())


def test_tuning_says_what_could_not_be_told_and_what_would_tell():
    text = " ".join(tune_text(FIT, US, "Sagebeck", "us").split())
    assert "say too little, so kept as before any reading: water held by stems" in text
    assert "cannot tell one from the other" in text
    assert "Kept as before any reading: share of open sky. It takes temperatures" in text
    assert "It takes moisture readings after the rig (column water_gal_per_ton" in text
    assert "Readings left out, for the weather does not reach them: 3;" in text
    assert "1.5 times more than their errors say" in text
    assert "Readings of bales: 2" in text
    assert "1.8 times before the fit, 0.9 times after it" in text


def test_tuning_shows_the_readers_units_and_pastes_the_files():
    text = tune_text(FIT, METRIC, "Sagebeck", "us")
    assert "°C more -0.60 0.90 to 1.40" in " ".join(text.split())
    assert "dew_point_offset = -1.08  # 1.62 .. 2.52" in text
    assert "It is in the units of the farm file." in text
    assert "units of the farm file" not in tune_text(FIT, US, "Sagebeck", "us")


def test_a_tuning_that_told_nothing_has_no_table_to_paste():
    kept = tuple(replace(item, status="unclear") for item in FIT.fitted)
    text = tune_text(replace(FIT, fitted=kept), US, "Sagebeck", "us")
    assert "[tuning]\n" not in text
    assert "These readings tell nothing yet." in text


def test_tuning_as_json():
    form = json.loads(tune_json(FIT, US, "Sagebeck", "us", invented=True))
    assert form["schema"] == "hayweather/tune/1"
    assert list(form) == [
        "schema", "farm", "invented", "readings_used", "readings_left_out", "readings_of_bales",
        "readings_of_layers",
        "nights", "misfit_before", "misfit_after", "scatter", "numbers", "tuning", "cautions",
    ]  # fmt: skip
    assert (form["farm"], form["invented"], form["readings_used"]) == ("Sagebeck", True, 12)
    numbers = {each["name"]: each for each in form["numbers"]}
    assert numbers["dew_point_offset"]["unit"] == "K"
    assert (numbers["windrow_mass"]["low"], numbers["windrow_mass"]["high"]) == (0.9, 1.4)
    assert numbers["sky_view"]["low"] is None
    assert numbers["sky_view"]["status"] == "needs_skin"
    assert form["tuning"].startswith("[tuning]\nwindrow_mass = 1.2")
    assert len(form["cautions"]) > 10


def test_tuning_as_csv_tells_the_same():
    numbers = json.loads(tune_json(FIT, US, "Sagebeck", "us"))["numbers"]
    rows = list(csv.DictReader(io.StringIO(tune_csv(FIT, US))))
    assert [row["name"] for row in rows] == [each["name"] for each in numbers]
    for row, each in zip(rows, numbers, strict=True):
        assert {key: "" if value is None else str(value) for key, value in each.items()} == row


def test_score_shows_every_rule_with_its_counts():
    lines = score_text(SCORE, US, "Sagebeck").splitlines()
    outlook, never, yesterday = (
        next(line.split() for line in lines if line.startswith(name))
        for name in ("this outlook", "never bale", "yesterday's")
    )
    assert outlook[2:] == ["80", "20", "15", "4", "35", "0.082"]
    assert never[2:] == ["0", "100", "0", "0", "100", "0.294"]
    assert yesterday[3:] == ["50", "50", "48", "12", "98", "0.288"]
    assert not any(line.startswith("best air-humidity band") for line in lines)


def test_score_shows_times_moistures_and_chances():
    text = " ".join(score_text(SCORE, US, "Sagebeck").split())
    assert "this outlook 33 of 40 -12 31 +8 40" in text
    assert "yesterday's hours again 20 of 40 +2 65 -5 70" in text
    assert "11 pm 12 +0.6 1.1" in text
    assert "0-20 % 200 5 % 4 %" in text
    assert "40-60 %* 60 52 % 50 %" in text
    assert "20-40 %" not in text
    assert "held 26 of 33 starts" in text
    assert "Logged hours that were in no outlook made before them: 7." in text
    assert "the log holds only one" in text
    assert "23:00" in score_text(SCORE, METRIC, "Sagebeck")
    assert "23:00 12 +0,6 1,1" in " ".join(score_text(SCORE, SPANISH, "Sagebeck").split())


def test_score_of_several_months_has_the_humidity_rule():
    humidity = RuleScore("humidity", Counts(60, 40, 50, 190), 9, 0.26, NONE, NONE)
    told = replace(SCORE, rules=(*SCORE.rules[:3], humidity))
    text = " ".join(score_text(told, US, "Sagebeck").split())
    assert "best air-humidity band 60 40 50 9 90 0.260" in text
    assert "the best one of the other months" in text


def test_score_without_times_moistures_or_chances_leaves_these_tables_out():
    bare = RuleScore("outlook", Counts(0, 0, 0, 5), 0, 0.0, NONE, NONE)
    text = score_text(
        replace(SCORE, rules=(bare,), moisture=(), reliability=(), starts_timed=0, unspoken=0),
        US,
        "Sagebeck",
    )
    for word in ("Start and end", "Moisture of the windrow,", "Chance of natural", "more logged"):
        assert word not in text


def test_score_as_json():
    form = json.loads(score_json(SCORE, US, "Sagebeck"))
    assert form["schema"] == "hayweather/score/1"
    assert list(form) == [
        "schema", "farm", "invented", "outlooks", "hours", "hours_without_outlook", "nights",
        "times_baled", "lead_hours", "rules", "moisture", "reliability",
        "samples", "layers", "starts_in_range",
        "cautions",
    ]  # fmt: skip
    outlook, never, _, humidity = form["rules"]
    assert (outlook["hits"], outlook["misses"], outlook["false_alarms"]) == (80, 20, 15)
    assert outlook["start_minutes"] == {"count": 33, "bias": -12.4, "mean_absolute": 31.0}
    assert never["start_minutes"] == {"count": 0, "bias": None, "mean_absolute": None}
    assert (humidity["hits"], humidity["brier"]) == (None, None)
    assert form["moisture"][-1]["hour"] is None
    assert form["reliability"][1] == {
        "from": 0.2, "to": 0.4, "hours": 0, "said": None, "happened": None,
    }  # fmt: skip


def test_score_as_csv_tells_the_same():
    rows = list(csv.DictReader(io.StringIO(score_csv(SCORE, US, "Sagebeck"))))
    told = {(row["table"], row["row"], row["measure"]): row["value"] for row in rows}
    assert len(told) == len(rows)
    assert told["all", "", "hours"] == "340"
    assert told["rules", "outlook", "hits"] == "80"
    assert told["rules", "never", "start_minutes_bias"] == ""
    assert told["moisture", "23", "bias_wb"] == "0.6"
    assert told["moisture", "all", "readings"] == "12"
    assert told["reliability", "0.4", "happened"] == "0.5"
    assert told["starts_in_range", "", "held"] == "26"
    assert all(math.isfinite(float(value)) for value in told.values() if value)


def test_samples_at_three_depths_in_text_data_and_csv():
    text = score_text(SCORE, US, "Sagebeck")
    assert "bench, leaf and stem together at three depths" in text
    (row,) = [line for line in text.splitlines() if line.startswith("2025-07-08 11:10 pm")]
    assert row.split()[3:] == ["12.2", "13.1", "+0.9", "9.0", "9.4", "+0.4", "-", "9.5", "-"]
    assert "beside an older outlook, which holds no layers: 1" in " ".join(text.split())
    assert "Moisture by layer, outlook less meter, points" in text
    first, second = json.loads(score_json(SCORE, US, "Sagebeck"))["samples"]
    assert first["time"] == "2025-07-08T23:10:00-07:00"
    assert first["top"] == {"read_wb": 12.2, "said_wb": 13.1, "difference_wb": 0.9}
    assert first["bottom"]["read_wb"] is None
    assert (second["without"], second["top"]["said_wb"]) == ("layers", None)
    rows = list(csv.reader(io.StringIO(score_csv(SCORE, US, "Sagebeck"))))
    label = "bench 2025-07-08T23:10:00-07:00 whole"
    assert ["samples", label, "top_difference_wb", "0.9"] in rows
    assert ["samples", label, "bottom_read_wb", ""] in rows
    assert ["layers", "top whole", "bias_wb", "0.9"] in rows
    spanish = score_text(SCORE, SPANISH, "Sagebeck")
    assert "a tres profundidades" in spanish
    assert "arriba, hoja y tallo juntos" in spanish


def test_readings_alone_are_a_score_too():
    bare = replace(SCORE, hours=0, rules=(), reliability=(), bouts=0, starts_timed=0, lead_h=NAN)
    text = score_text(bare, US, "Sagebeck")
    assert "No hour of work is logged" in " ".join(text.split())
    assert "nan" not in text
    assert json.loads(score_json(bare, US, "Sagebeck"))["lead_hours"] is None
