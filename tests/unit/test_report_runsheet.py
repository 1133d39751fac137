"""The run sheet as table, JSON and CSV: same numbers everywhere, in both languages and units."""

import csv
import io
import itertools
import json
import re
from dataclasses import replace

import pytest
from support.outlooks import SAMPLES
from support.sheets import sheet_of

from hayweather.baling.calls import Call
from hayweather.show.outlook_words import farm_voice, field_voice
from hayweather.show.runsheet_data import FIELD_WORK, runsheet_csv, runsheet_json
from hayweather.show.runsheet_text import runsheet_text
from hayweather.show.runsheet_words import sheet_sentences, work_spans

TOP = "schema farm now units invented weather fields cautions"
# The keys of the schema's design, then what stands beside them.
WINDOW = """start end call reasons cautions water_gal_per_ton flow_gpm speed_mph tons bales acres
    loads water_gal burner_fuel_gal rate_steps"""
STEP = "from water_gal_per_ton"
FILL = "start minutes"
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


def windows_of(form):
    return [window for field in form["fields"] for window in field["windows"]]


@pytest.mark.parametrize("name", SAMPLES)
def test_json_has_the_keys_of_its_schema(name):
    form = form_of(name)
    assert list(form) == TOP.split()
    assert form["schema"] == "hayweather/runsheet/1"
    assert form["invented"] is True
    assert len(form["cautions"]) > 15
    for field in form["fields"]:
        assert {"field", "windows", "fill_at", "totals"} <= set(field)
        assert all(set(FILL.split()) <= set(fill) for fill in field["fill_at"])
        assert set(SUMMED.split()) <= set(field["totals"])
    assert windows_of(form)
    for window in windows_of(form):
        assert set(WINDOW.split()) <= set(window)
        assert all(set(STEP.split()) <= set(step) for step in window["rate_steps"])


def parts_of(form):
    """Everything that holds numbers in both units."""
    windows = windows_of(form)
    steps = [step for window in windows for step in window["rate_steps"]]
    return [*windows, *steps, *(field["totals"] for field in form["fields"])]


@pytest.mark.parametrize("name", SAMPLES)
def test_every_us_key_has_its_twin(name):
    seen = set()
    for part, (us, si, factor) in itertools.product(parts_of(form_of(name)), TWINS):
        assert (us in part) == (si in part)
        if part.get(us) is None:
            assert part.get(si) is None
            continue
        assert part[si] == pytest.approx(part[us] * factor, abs=2e-4, rel=1e-3)
        seen.add(us)
    assert {"speed_mph", "tons", "acres"} <= seen


@pytest.mark.parametrize("name", SAMPLES)
def test_totals_of_the_json_are_sums_of_its_parts(name):
    for field in form_of(name)["fields"]:
        for key in SUMMED.split():
            parts = [window[key] for window in field["windows"]]
            assert field["totals"][key] == pytest.approx(sum(parts), abs=1e-4 * (1 + len(parts)))


@pytest.mark.parametrize("name", SAMPLES)
def test_windows_of_the_json_are_in_order_and_at_most_an_hour(name):
    from datetime import datetime, timedelta

    for field in form_of(name)["fields"]:
        ends = [datetime.fromisoformat(window["end"]) for window in field["windows"]]
        starts = [datetime.fromisoformat(window["start"]) for window in field["windows"]]
        assert all(a < b <= a + timedelta(hours=1) for a, b in zip(starts, ends, strict=True))
        assert all(end <= start for end, start in zip(ends, starts[1:], strict=False))
        assert all(start.utcoffset() is not None for start in starts)


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("width", [80, 120])
def test_text_fits_and_says_all(name, language, units, width):
    text = runsheet_text(sheet_of(name, language), units, width)
    assert max(map(len, text.splitlines())) <= width
    assert "nan" not in re.findall(r"[a-z]+", text.lower())
    assert "{" not in text
    assert "190 °F (88 °C)" in text  # the last of the stack temperatures: all cautions stand
    first = {"en": "INVENTED SAMPLE", "es": "EJEMPLO INVENTADO"}[language]
    assert text.startswith(first)


def test_the_table_tells_the_numbers_of_the_json():
    text = runsheet_text(sheet_of("sagebeck"), "us", 120)
    field = form_of("sagebeck")["fields"][0]
    rows = [line for line in text.splitlines() if line.startswith(("++ ", "## "))]
    rows = [row for row in rows if re.search(r"[ap]m +\d+(:\d\d)? [ap]m +", row)]
    first = field["windows"][0]
    for key, decimals in (("tons", 1), ("acres", 1), ("speed_mph", 1), ("water_gal_per_ton", 1)):
        assert f" {first[key]:.{decimals}f}" in rows[0]
    total = next(line for line in text.splitlines() if line.lstrip().startswith("total"))
    assert f"{field['totals']['tons']:.1f}" in total
    assert f"{field['totals']['water_gal']:.0f}" in total


def test_what_the_operator_needs_stands_in_the_text():
    text = " ".join(runsheet_text(sheet_of("sagebeck"), "us", 80).split())
    for said in (
        "Start the rig at", "For every point (1 %)", "Fill at", "the baler waits",
        "Rates to dial:", "Before you start, look in the windrow", "On the way", "Stop when",
        "morning crew relieves evening crew", "stays in the hay (assumed)",
        "each field's sheet stands alone", "Do not read this page while driving",
    ):  # fmt: skip
        assert said.lower() in text.lower(), said


@pytest.mark.parametrize("units", ["us", "metric"])
def test_csv_tells_the_same(units):
    text = runsheet_csv(sheet_of("sagebeck"), units)
    assert text.startswith("# INVENTED SAMPLE")
    assert "--cautions" not in text
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(io.StringIO("\n".join(lines))))
    assert list(rows[0]) == FIELD_WORK.names(units)
    form = form_of("sagebeck", units=units)
    work = [row for row in rows if row["call"] != "fill"]
    assert len(rows) - len(work) == sum(len(field["fill_at"]) for field in form["fields"])
    hay, water = ("tons", "water_gal") if units == "us" else ("tonnes", "water_l")
    for row, window in zip(work, windows_of(form), strict=True):
        assert (row["start"], row["end"]) == (window["start"], window["end"])
        assert row["call"] == window["call"]
        assert float(row[hay]) == window[hay]
        assert float(row[water]) == window[water]
        assert row["reasons"] == "; ".join(window["reasons"])


def test_windows_of_two_languages_are_the_same_but_for_words():
    english, spanish = form_of("vallumbria", "en"), form_of("vallumbria", "es")
    for one, other in zip(windows_of(english), windows_of(spanish), strict=True):
        words = ("reasons", "cautions")
        assert {k: v for k, v in one.items() if k not in words} == {
            k: v for k, v in other.items() if k not in words
        }
        assert one["reasons"] != other["reasons"]


def sentences_of(name, place, language="en", units="us"):
    """First sentences of the sheet of one field, by its place in the farm file."""
    field = sheet_of(name, language).fields[place]
    whole = farm_voice(sheet_of(name, language).outlook, units)
    return sheet_sentences(field, field_voice(field.outlook, whole))


def test_the_second_sentence_says_when_the_rig_goes_on_and_off():
    for place, field in enumerate(sheet_of("sagebeck").fields):
        if not (field.totals.rig_hours and field.totals.dew_hours):
            continue
        voice = field_voice(field.outlook, farm_voice(sheet_of("sagebeck").outlook, "us"))
        turns = sentences_of("sagebeck", place)[1]
        rig, dew = turns.split("; on dew alone ")
        for call, said in ((Call.ADD_MOISTURE, rig), (Call.NATURAL_DEW, dew)):
            pieces = [each for each in field.windows if each.call == call]
            assert f"from {voice.when(pieces[0].start)} to " in said
            assert said.endswith(f" to {voice.when(pieces[-1].end, is_end=True)}")
        break
    else:
        pytest.fail("no sample field works both ways")


def test_work_in_stretches_of_one_kind_says_each():
    said = sentences_of("sagebeck_hot_wind", 0)  # dry by day: the rig works two nights
    assert said[0].endswith("all with the rig")
    assert re.fullmatch(r"Work is from \S+( \S+)? to \S+ am and from Wed \S+ pm to .+", said[1])


def test_one_stretch_of_work_needs_no_second_sentence():
    sheet = sheet_of("sagebeck_hot_wind", "es")
    field = sheet.fields[0]
    alone = replace(field, windows=work_spans(field)[0].pieces)
    voice = field_voice(field.outlook, farm_voice(sheet.outlook, "metric"))
    turns = ("solo con rocío", "Se trabaja")
    assert any(turn in text for text in sheet_sentences(field, voice) for turn in turns)
    assert not any(turn in text for text in sheet_sentences(alone, voice) for turn in turns)


def test_a_field_to_probe_first_says_so_first_and_lists_no_work():
    said = sentences_of("sagebeck", 2)
    assert said[0].startswith("Probe the stems first")
    assert said[1].startswith("Maybe, but probe first: ")
    assert said[2].startswith("No hour is listed as work")
    assert len(said) == 3
    assert sheet_of("sagebeck").fields[2].windows == ()


@pytest.mark.parametrize(
    ("hours", "said"), [(0.5, "30 min"), (2.0, "2 h"), (7.8667, "7 h 52 min"), (1.999, "2 h")]
)
def test_hours_of_work_are_said_to_the_minute(hours, said):
    assert farm_voice(sheet_of("sagebeck").outlook, "us").duration(hours) == said
