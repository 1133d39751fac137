"""A trial of strips as text, JSON and CSV, and through the command."""

import csv
import io
import json
import re
from pathlib import Path

import pytest

from hayweather.cli.main import run
from hayweather.seasons.strips import read_strips
from hayweather.seasons.trial import judge_trial
from hayweather.show.trial import trial_csv, trial_json, trial_text
from hayweather.show.voice import Voice

STRIPS = """block,strip,treatment,area_acre,bales,bale_weight_lb,bale_moisture_wb,crude_protein
1,a,water,1.2,3.1,1290,14.1,20.1
1,b,none,1.2,3.0,1240,9.2,19.5
2,a,water,1.1,2.8,1300,14.4,20.4
2,b,none,1.1,2.7,1235,9.0,19.8
3,a,water,1.3,3.3,1295,13.8,20.0
3,b,none,1.3,3.2,1250,9.4,19.9
"""


def strips(tmp_path: Path) -> Path:
    path = tmp_path / "trial.csv"
    path.write_text(STRIPS)
    return path


@pytest.mark.parametrize(("language", "units"), [("en", "us"), ("es", "metric")])
def test_a_trial_in_words(tmp_path, language, units):
    found = judge_trial(
        "trial.csv", read_strips(strips(tmp_path)).strips, 0.2, 0.005, meter_bias_wb=0.0
    )
    text = trial_text(found, Voice(language, units, "UTC"))
    assert max(len(line) for line in text.splitlines()) <= 80
    form = json.loads(trial_json(found, Voice(language, units, "UTC")))
    assert form["verdict"] == "hay"
    dry = form["differences"]["dry_matter"]
    assert dry["low_kg_ha"] < dry["value_kg_ha"] < dry["high_kg_ha"]


@pytest.mark.parametrize(
    ("language", "said"), [("en", "about {} bales in all"), ("es", "unas {} pacas en total")]
)
def test_a_trial_that_shows_nothing_says_how_many_bales_would(tmp_path, language, said):
    path = strips(tmp_path)
    path.write_text(path.read_text().replace("1300,14.4", "1240,17.4").replace("3.3,", "3.2,"))
    found = judge_trial("trial.csv", read_strips(path).strips, meter_bias_wb=0.0)
    voice = Voice(language, "us", "UTC")
    assert not found.dry_matter.shown
    assert said.format(found.needed_bales) in " ".join(trial_text(found, voice).split())
    assert json.loads(trial_json(found, voice))["needed_bales"] == found.needed_bales


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_trial_as_csv_says_what_its_json_says(tmp_path, units):
    voice = Voice("en", units, "UTC")
    found = judge_trial("trial.csv", read_strips(strips(tmp_path)).strips, meter_bias_wb=0.0)
    text = trial_csv(found, voice, invented=True)
    assert text.startswith("# INVENTED SAMPLE")
    rows = list(csv.DictReader(io.StringIO(re.sub(r"(?m)^#.*\n", "", text))))
    form = json.loads(trial_json(found, voice, invented=True))
    assert form["invented"] is True
    assert [row["quantity"] for row in rows] == list(form["differences"])
    unit = {"us": "lb_acre", "metric": "kg_ha"}[units]
    dry = form["differences"]["dry_matter"]
    assert float(rows[0]["value"]) == pytest.approx(dry[f"value_{unit}"], rel=1e-3)
    assert rows[0]["shown"] == str(dry["shown"]).lower()


def test_command_trial(tmp_path, capsys):
    path = str(strips(tmp_path))
    assert run(["trial", path, "--price", "200", "--cost", "6", "--meter-bias", "0"]) == 0
    assert "Added moisture saved hay" in capsys.readouterr().out
    assert run(["trial", path, "--price", "much"]) == 2
    assert run(["trial", str(tmp_path / "none.csv")]) == 2


def said_of(tmp_path: Path, rows: str) -> str:
    """The text of a trial of other strips, in one line."""
    path = tmp_path / "trial.csv"
    path.write_text(STRIPS.splitlines()[0] + "\n" + rows)
    found = judge_trial("trial.csv", read_strips(path).strips, meter_bias_wb=0.0)
    return " ".join(trial_text(found, Voice("en", "us", "UTC")).split())


def test_strips_without_blocks_are_compared_as_two_groups(tmp_path):
    rows = STRIPS.split("\n", 1)[1]
    text = said_of(tmp_path, re.sub(r"(?m)^(\d),", r",\1", rows).replace("1290", "1200"))
    assert "Welch" in text
    assert "strips of each kind. With strips like these that is about" in text


def test_a_block_of_one_kind_is_named(tmp_path):
    rows = STRIPS.split("\n", 1)[1] + "9,z,water,1.3,3.3,1295,13.8,\n"
    assert "2 blocks" not in (text := said_of(tmp_path, rows))
    assert re.search(r"[Bb]locks?[^.]*\b9\b", text)


def test_two_strips_alone_are_too_few_and_promise_nothing(tmp_path):
    text = said_of(tmp_path, "1,a,water,1,3,1290,14,\n1,b,none,1,3,1240,9,\n")
    assert "eight times in ten" not in text
    assert "bales in all" not in text
    assert " ? " in text  # no range


def test_strips_without_moistures_are_told_by_weight_alone(tmp_path):
    rows = "1,a,water,1,3,1290,,\n1,b,none,1,3,1240,,\n2,a,water,1,3,1280,,\n2,b,none,1,3,1235,,\n"
    text = said_of(tmp_path, rows)
    assert "dry matter, lb" not in text
    assert "weight, lb/acre" in text
    assert "eight times in ten" not in text


def test_a_difference_that_a_thousand_strips_would_not_show(tmp_path):
    rows = "1,a,water,1,3,1290,14,\n1,b,none,1,3,1290,14,\n" + (
        "2,a,water,1,3,1400.1,14,\n2,b,none,1,3,1400,14,\n3,a,water,1,3,1000,14,\n"
        "3,b,none,1,3,1000.1,14,\n"
    )
    assert "more than 1000 strips" in said_of(tmp_path, rows)
