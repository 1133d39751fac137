"""The run sheets as text, JSON and CSV: same numbers everywhere, in both languages and units."""

import csv
import io
import itertools
import json
import re
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from support.made_sheets import BALER, FIELD, RIG, simple_sheet
from support.outlooks import EACH_SAMPLE, SAMPLES
from support.schemas import schema_of
from support.sheets import idle, of_field, sheet_of, window_stays

from hayweather.plan.sheet import make_runsheet
from hayweather.show.runsheet_data import MACHINE_STEPS, runsheet_csv, runsheet_json
from hayweather.show.runsheet_text import runsheet_text
from hayweather.show.runsheet_words import machine_sentences, sheet_voice, work_spans
from hayweather.words import Remark

SUMMED = "tons tonnes acres hectares bales loads water_gal water_l burner_fuel_gal burner_fuel_l"
# US key, SI twin, and SI units in one US unit, by the definitions of the units.
TWINS = (
    ("water_gal_per_ton", "water_l_per_t", 3.785411784 / 0.90718474),
    ("flow_gpm", "flow_l_min", 3.785411784),
    ("speed_mph", "speed_m_s", 0.44704),
    ("tons", "tonnes", 0.90718474),
    ("acres", "hectares", 0.40468564),
    ("water_gal", "water_l", 3.785411784),
    ("burner_fuel_gal", "burner_fuel_l", 3.785411784),
)


def form_of(name, language="en", units="us"):
    return json.loads(runsheet_json(sheet_of(name, language), units))


def steps_of(form, *kinds):
    steps = [step for machine in form["machines"] for step in machine["steps"]]
    return [step for step in steps if not kinds or step["kind"] in kinds]


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_json_keeps_its_schema(name):
    form = form_of(name)
    assert form["schema"] == "hayweather/runsheet/2"
    Draft202012Validator(schema_of(form["schema"])).validate(form)
    assert form["invented"] is True
    assert len(form["cautions"]) > 15
    assert [machine["kind"] for machine in form["machines"]] == ["baler", "rig"]
    assert steps_of(form, "work")
    for field in form["fields"]:
        assert f"{abs(field['latitude']):.4f}" in form["emergency"]


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_every_us_key_has_its_twin(name):
    seen = set()
    form = form_of(name)
    work = steps_of(form, "work")
    dials = [dial for step in work for dial in step["settings"]]
    answers = [answer for dial in dials for answer in dial["answers"]]
    sums = [machine["totals"] for machine in form["machines"]]
    for part, (us, si, factor) in itertools.product([*work, *dials, *answers, *sums], TWINS):
        assert (us in part) == (si in part)
        if part.get(us) is None:
            assert part.get(si) is None
            continue
        assert part[si] == pytest.approx(part[us] * factor, abs=2e-4, rel=1e-3)
        seen.add(us)
    assert {"speed_mph", "tons", "acres", "water_gal_per_ton"} <= seen


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_totals_of_the_json_are_sums_of_its_parts(name):
    for machine in form_of(name)["machines"]:
        work = [step for step in machine["steps"] if step["kind"] == "work"]
        for key in SUMMED.split():
            parts = [step[key] for step in work]
            assert machine["totals"][key] == pytest.approx(sum(parts), abs=1e-4 * (1 + len(parts)))


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_steps_are_in_order_and_settings_fill_the_work_in_quarters(name):
    for machine in form_of(name)["machines"]:
        moments = [datetime.fromisoformat(step["start"]) for step in machine["steps"]]
        assert moments == sorted(moments)
        for step in machine["steps"]:
            start, end = (datetime.fromisoformat(step[key]) for key in ("start", "end"))
            assert start.utcoffset() is not None
            if step["kind"] != "work":
                continue
            assert start < end <= start + timedelta(hours=1)
            assert step["settings"][0]["start"] == step["start"]
            assert step["settings"][-1]["end"] == step["end"]
            for one, two in itertools.pairwise(step["settings"]):
                assert one["end"] == two["start"]
            for dial in step["settings"]:
                ends = (datetime.fromisoformat(dial[key]) for key in ("start", "end"))
                first, last = ends
                assert last - first <= timedelta(minutes=15)


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("width", [80, 120])
def test_text_fits_and_says_all(name, language, units, width):
    text = runsheet_text(sheet_of(name, language), units, width)
    assert max(map(len, text.splitlines())) <= width
    assert "nan" not in re.findall(r"[a-z]+", text.lower())
    assert "{" not in text
    assert not re.search(r"[a-zñ]-\s*\n", text)  # no word cut in a heading
    assert "190 °F (88 °C)" in text  # the last of the stack temperatures: all cautions stand
    first = {"en": "INVENTED SAMPLE", "es": "EJEMPLO INVENTADO"}[language]
    assert text.startswith(first)


def test_the_table_tells_the_numbers_of_the_json():
    text = runsheet_text(sheet_of("sagebeck").of_machine("rig"), "us", 120)
    machine = form_of("sagebeck")["machines"][1]
    rows = [line for line in text.splitlines() if line.startswith(("++ ", "## "))]
    rows = [row for row in rows if re.search(r"[ap]m +\d+(:\d\d)? [ap]m +", row)]
    first = next(step for step in machine["steps"] if step["kind"] == "work")
    for key in ("tons", "acres", "speed_mph", "water_gal_per_ton"):
        assert f" {first[key]:.1f}" in rows[0]
    total = next(line for line in text.splitlines() if line.lstrip().startswith("total"))
    assert f"{machine['totals']['tons']:.1f}" in total
    assert f"{machine['totals']['water_gal']:.0f}" in total


def test_what_the_drivers_need_stands_in_the_text():
    text = " ".join(runsheet_text(sheet_of("sagebeck"), "us", 80).split())
    for said in (
        "What to do, in driving order", "drive to bench", "set up in creek", "First setting:",
        "fill with water", "the baler waits", "hand over", "no crew is on shift",
        "Settings by the quarter hour", "If the meter reads otherwise",
        "Before you start, look in the windrow", "On the way", "Stop when", "burners DOWN",
        "morning crew relieves evening crew", "stays in the hay (assumed)",
        "Emergency call, where you are: bench, creek, saddle 43.2000 N, 120.6000 W",
        "Leaks under pressure", "injection wound", "scald", "engine off", "locked out",
        "People on foot in the dark", "Do not read this page while driving",
    ):  # fmt: skip
        assert said.lower() in text.lower(), said


def test_one_machine_alone_has_its_sheet_and_all_cautions():
    sheet = sheet_of("sagebeck")
    baler = runsheet_text(sheet.of_machine("baler"), "us", 80)
    assert "\nBALER\n" in baler
    assert "\nRIG\n" not in baler
    assert "gal/" not in baler.split("Why, and what to mind")[0]
    assert "190 °F (88 °C)" in baler


@pytest.mark.parametrize("units", ["us", "metric"])
def test_csv_tells_the_same(units):
    text = runsheet_csv(sheet_of("sagebeck"), units)
    assert text.startswith("# INVENTED SAMPLE")
    assert "--cautions" not in text
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    assert list(rows[0]) == MACHINE_STEPS.names(units)
    form = form_of("sagebeck", units=units)
    assert len(rows) == len(steps_of(form))
    hay, water = ("tons", "water_gal") if units == "us" else ("tonnes", "water_l")
    for row, step in zip(rows, steps_of(form), strict=True):
        assert (row["kind"], row["start"], row["end"]) == (step["kind"], step["start"], step["end"])
        if step["kind"] == "work":
            assert float(row[hay]) == step[hay]
            assert float(row[water]) == step[water]
            assert row["reasons"] == "; ".join(step["reasons"])


def test_steps_of_two_languages_are_the_same_but_for_words():
    english, spanish = form_of("vallumbria", "en"), form_of("vallumbria", "es")
    words = ("reasons", "cautions", "said")
    for one, other in zip(steps_of(english, "work"), steps_of(spanish, "work"), strict=True):
        assert {k: v for k, v in one.items() if k not in words} == {
            k: v for k, v in other.items() if k not in words
        }
        assert one["reasons"] != other["reasons"]


def test_tenths_stand_behind_a_comma_for_metric_readers_of_spanish_or_as_the_farm_says():
    sheet = sheet_of("vallumbria", "es")
    text = runsheet_text(sheet, "metric", 80)
    table = text[text.index("Qué hacer") : text.index("Por qué")]
    assert re.search(r"\d,\d", table)
    assert not re.search(r"\d\.\d", table)
    assert "41.6000 N" in text  # coordinates as maps take them
    farm = replace(sheet.night.farm, decimals="point")
    pointed = replace(sheet, night=replace(sheet.night, farm=farm))
    assert re.search(r"\d\.\d", runsheet_text(pointed, "metric", 80).split("Por qué")[0])


@pytest.mark.slow
def test_the_first_sentence_and_the_order_name_every_field():
    for name in SAMPLES:
        sheet = sheet_of(name)
        voice = sheet_voice(sheet, "us")
        for machine in sheet.machines:
            said = machine_sentences(machine, voice)
            spans = work_spans(machine)
            assert said[0].startswith(f"Start {voice.when(spans[0].start)} in {spans[0].field}")
            if len(spans) > 1:
                assert all(f"{span.field} {voice.span(span.start, span.end)}" in said[1]
                           for span in spans)  # fmt: skip


@pytest.mark.slow
def test_spans_are_the_work_of_the_sheet():
    no_time = np.timedelta64(0, "s")
    for name in SAMPLES:
        for machine in sheet_of(name).machines:
            spans = work_spans(machine)
            assert [piece for span in spans for piece in span.pieces] == list(machine.pieces)
            waits = [step for step in machine.steps if step.kind in ("fill", "wait")]
            for span in spans:
                assert (span.start, span.end) == (span.pieces[0].start, span.pieces[-1].end)
                gaps = [b.start - a.end for a, b in itertools.pairwise(span.pieces)]
                filled = [w.end - w.start for w in waits if span.start < w.start < span.end]
                assert sum(gaps, no_time) <= sum(filled, no_time)


def test_a_missed_date_is_line_one_behind_the_mark_of_a_sample():
    sheet = sheet_of("sagebeck")
    missed = (Remark("caution_dusty"),)
    late = replace(sheet, missed=missed)
    lines = runsheet_text(late, "us", 80).splitlines()
    assert "dusty" in lines[1]
    farm = replace(sheet.night.farm, weather=replace(sheet.night.farm.weather, invented=False))
    real = replace(late, night=replace(sheet.night, farm=farm))
    assert "dusty" in runsheet_text(real, "us", 80).splitlines()[0]
    assert len(json.loads(runsheet_json(late, "us"))["missed"]) == 1
    assert "dusty" in runsheet_csv(real, "us").splitlines()[0]


def test_a_field_to_probe_first_says_so_and_lists_no_work():
    sheet = of_field(sheet_of("sagebeck"), 2)
    text = runsheet_text(sheet, "us", 80)
    assert "Probe the stems first" in text
    assert "Maybe, but probe first: " in text
    assert "No hour is listed as work" in text
    assert sheet.machines == ()


def test_without_work_it_says_why():
    text = runsheet_text(idle(of_field(sheet_of("sagebeck"), 0)), "us", 80)
    assert "No machine goes there" in text
    assert "RIG" not in text


def test_a_pump_at_its_limit_and_a_burner_too_hot_are_said():
    rig = replace(RIG, flow_max_l_min=10.0, heated=True, fuel_rate_l_h=30.0, rate_step_l_t=2.5)
    made = simple_sheet(rig=rig).made
    text = runsheet_text(made, "us", 80)
    said = " ".join(text.split())
    assert "slower because the pump is at its limit" in said
    assert re.search(r"\d\.\d/\d\.\d", text)
    assert "burners DOWN" in said
    assert "above 250 °F (assumed limit" in said
    assert "424" not in said


def test_rows_around_a_change_of_the_clock_name_their_zone():
    """In the United States clocks go back on 3 November 2024 at 08:00 UTC in Denver."""
    sheet = simple_sheet(hours=6).made
    shift = np.datetime64("2024-11-03T05:00", "s") - sheet.night.now
    voice = sheet_voice(sheet, "us")
    times = [sheet.night.now + shift + np.timedelta64(hour * 3600, "s") for hour in range(6)]
    shown = [voice.clock(time, words=False) for time in times]
    assert shown == ["11 pm", "12 am", "1 am MDT", "1 am MST", "2 am", "3 am"]
    spring = [np.datetime64("2024-03-10T08:45", "s"), np.datetime64("2024-03-10T09:00", "s")]
    assert [voice.clock(time, words=False) for time in spring] == ["1:45 am MST", "3 am MDT"]


def test_two_balers_behind_one_rig_have_a_sheet_each():
    farm_balers = {"baler": BALER, "two": replace(BALER, name="two")}
    alone = simple_sheet(field=FIELD).made
    night = alone.night
    stays = [
        replace(stay, baler=name)
        for name in farm_balers
        for stay in window_stays(night)
    ]  # fmt: skip
    made = make_runsheet(replace(night, farm=replace(night.farm, balers=farm_balers)), stays)
    text = runsheet_text(made, "us", 80)
    assert "\nBALER\n" in text
    assert "\nBALER TWO\n" in text
    assert "\nRIG\n" in text
