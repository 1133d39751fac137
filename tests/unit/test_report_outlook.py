"""The outlook as text, CSV and JSON: six invented farms, each shown whole."""

import csv
import io
import json
import math
import re
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from support.outlooks import EACH_SAMPLE, SAMPLES, in_language, outlook_of
from support.schemas import schema_of

from hayweather.baling.calls import BALED, Call
from hayweather.show.outlook_data import FIELD_HOURS, outlook_csv, outlook_form, outlook_json
from hayweather.show.outlook_text import EDGES, outlook_text
from hayweather.show.outlook_words import call_runs, marks_of, notes_of
from hayweather.units import to_shown
from hayweather.weather.record import HOUR
from hayweather.words import Remark

CALLS = [
    "no data", "not cured", "too wet", "damp below",
    "natural dew", "ready", "add moisture", "too dry",
]  # fmt: skip


def parsed(name: str, units: str = "us") -> dict:
    """The JSON of a sample, read as strictly as can be."""

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    return json.loads(outlook_json(outlook_of(name), units), parse_constant=refuse)


def rows_of(text: str) -> list[dict[str, str]]:
    """Rows of a CSV without the lines before its header."""
    lines = [line for line in text.splitlines(keepends=True) if not line.startswith("#")]
    return list(csv.DictReader(io.StringIO("".join(lines))))


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("width", [80, 120])
def test_no_line_is_wider_than_the_screen(name, units, width):
    lines = outlook_text(outlook_of(name), units, width).splitlines()
    assert max(map(len, lines)) <= width
    if width == 120:
        assert max(map(len, lines)) > 80  # the room is used


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_every_hour_stands_in_the_table_with_its_call(name):
    made = outlook_of(name)
    lines = outlook_text(in_language(name, "en"), "metric", 80).splitlines()
    edges = [line[:2] for line in lines if re.match(r"\S\S \d\d:\d\d (?!to )", line)]
    expected = [
        "XX" if hour.stop else EDGES[hour.call] for field in made.fields for hour in field.hours
    ]
    assert edges == expected


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_an_invented_sample_says_so_first_everywhere(name, language):
    made = in_language(name, language)
    first = "INVENTED SAMPLE" if language == "en" else "EJEMPLO INVENTADO"
    assert outlook_text(made, "us").startswith(first)
    assert outlook_csv(made, "us").startswith(f"# {first}")
    form = outlook_form(made, "us")
    assert form["invented"] is True
    assert all(field["headline"].startswith(first) for field in form["fields"])


def test_a_real_farm_does_not_say_so():
    made = outlook_of("sagebeck")
    real = replace(
        made, farm=replace(made.farm, weather=replace(made.farm.weather, invented=False))
    )
    assert outlook_text(real, "us").startswith("Sagebeck, night of Tue 8 to Wed 9 July.")
    assert "INVENTED" not in outlook_csv(real, "us") + outlook_json(real, "us")


def test_the_dewy_night_in_sentences():
    bench = parsed("sagebeck")["fields"][0]
    said = bench["headline"]
    for part in (
        r"Natural dew: bale from \S+ [ap]m to \S+ am, [\d.]+ (h|min); then probe first\.",
        r"Dew may be ready as early as \S+ [ap]m or as late as \S+ am\.",
        r"[Gg]ood throughout \d+ in 10, for at least half of it \d+ in 10",
        r"Maybe, but probe first: on dew from \S+ am to \S+ am",
        r"At 21 ton/h that is about \d+ acres, \d+ tons\.",
        r"With the rig: from \S+ pm to \S+ am, [\d.]+ falling to [\d.]+ gal per ton",
        r"Probe at \d+ pm: expect \d+ to \d+ % in the windrow\. Under \d+ %: .* Over \d+ %: ",
        r"Go and look at \S+ pm, 45 minutes before dew may suffice\.",
        r"The night after, Wed 9 to Thu 10 July: natural dew",
    ):
        assert re.search(part, said), part
    # The layers follow the air one after another: whether dawn gives a second window is close here.
    tonight = [window for window in bench["windows"] if window["start"] < "2025-07-09T14"]
    dew = [window for window in tonight if window["call"] == "natural dew"]
    assert ("A second window opens after sunrise" in said) == (len(dew) > 1)


def test_the_sentences_say_what_the_windows_say():
    made = outlook_of("sagebeck")
    field = made.fields[0]
    dew = field.headline.dew
    text = outlook_text(made, "metric")
    for window in dew:
        start, end = (local_clock(field, time) for time in (window.start, window.end))
        assert f"from {start} to {end}" in " ".join(text.split())
    mass_t = 1000 * round(field.headline.dew_work.mass_kg / 1000) / 1000
    assert f"{mass_t:.0f} t." in text


def local_clock(field, time) -> str:
    """A time on the field's own clock, worked out apart from the report."""
    import datetime
    import zoneinfo

    stamp = datetime.datetime.fromtimestamp(
        int(time.astype("datetime64[s]").astype(int)), datetime.UTC
    )
    return f"{stamp.astimezone(zoneinfo.ZoneInfo(field.setting.site.timezone)):%H:%M}"


def test_a_night_without_dew_says_so():
    said = parsed("sagebeck_hot_wind")["fields"][0]
    assert re.search(
        r"No natural dew to bale on: the windrow reaches [\d.]+ % at most and needs 12 %",
        said["headline"],
    )
    assert "No dew to get up for: only the rig brings this hay into the band." in said["headline"]
    assert "Damper or drier, it gives no window on dew." in said["headline"]
    assert said["look_at"] == "sleep"
    assert not any(window["call"] == "natural dew" for window in said["windows"])


def test_without_dew_and_rig_people_may_sleep():
    made = outlook_of("sagebeck_hot_wind")
    field = made.fields[0]
    without = replace(
        field,
        setting=replace(field.setting, rig=None),
        headline=replace(field.headline, rig=()),
    )
    assert "Sleep: no dew to get up for." in outlook_text(replace(made, fields=(without,)), "us")


def test_rain_and_frost_stand_on_the_first_screen():
    shower = parsed("sagebeck_shower")["fields"][0]["headline"]
    assert re.search(r"Rain from 3 am, 0\.12 in", shower)
    frost = parsed("sagebeck_frost")["fields"][0]["headline"]
    assert "Frost: hay is brittle" in frost
    assert "water lines and nozzles freeze when they stand" in frost


def test_a_field_cut_yesterday_says_first_that_its_stems_are_to_be_probed():
    """Its cure is a calculation; the note that says so once more is left out."""
    saddle = parsed("sagebeck")["fields"][2]
    said = saddle["headline"].partition("itself allows. ")[2]
    assert said.startswith("Probe the stems first: nobody has said that this hay is cured")
    assert "Maybe, but probe first: on dew from" in said
    assert "bale from" not in said
    assert "followed from its cutting" not in said
    assert saddle["windows"] == []


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_the_line_on_what_was_never_measured_and_the_cautions_always_stand(name):
    text = " ".join(outlook_text(in_language(name, "en"), "us").split())
    assert "o measured night of a cured windrow stands behind these moistures" in text
    assert "Planning aid only" in text
    assert "--cautions" in text
    assert "190 °F" not in text
    full = outlook_text(in_language(name, "en"), "us", all_cautions=True)
    assert "190 °F (88 °C)" in full


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_json_has_exactly_the_keys_of_its_schema(name):
    form = parsed(name)
    assert form["schema"] == "hayweather/outlook/2"
    Draft202012Validator(schema_of(form["schema"])).validate(form)


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_json_holds_together(name):
    for field in parsed(name)["fields"]:
        for hour in field["hours"]:
            assert hour["call"] in CALLS
            assert hour["reasons"]
            assert sum(hour["chance"].values()) == pytest.approx(1)
            adds = hour["water_l_per_t"] is not None
            assert (hour["moisture_after_wb"] is not None) == adds
            unwanted = any(reason.startswith("no water is advised") for reason in hour["reasons"])
            assert (hour["call"] == "add moisture") == (adds or unwanted)
            if adds:  # gallon 3.785412 L, short ton 0.90718474 t
                ratio = hour["water_l_per_t"] / hour["water_gal_per_ton"]
                assert ratio == pytest.approx(3.785412 / 0.90718474, rel=1e-4)
        for window in field["windows"]:
            assert window["call"] in {call.word for call in BALED}
            assert window["start"] < window["end"]


def test_json_takes_the_whole_outlook_and_says_times_with_offset():
    form = parsed("sagebeck")
    hours = form["fields"][0]["hours"]
    assert form["now"] == hours[0]["start"] == "2025-07-08T17:00:00-07:00"
    assert hours[-1]["start"] == "2025-07-10T13:00:00-07:00"
    assert len(form["cautions"]) > 15


def test_missing_numbers_are_null():
    made = outlook_of("sagebeck")
    hour = made.fields[0].hours[0]
    blank = replace(hour, hay=replace(hour.hay, windrow_wb=math.nan), chance=None)
    field = replace(made.fields[0], hours=(blank,))
    form = json.loads(outlook_json(replace(made, fields=(field,)), "us"))
    shown = form["fields"][0]["hours"][0]
    assert shown["windrow_moisture_wb"] is None
    assert shown["chance"] is None
    assert "nan" not in outlook_csv(replace(made, fields=(field,)), "us").lower()


@pytest.mark.parametrize("name", EACH_SAMPLE)
@pytest.mark.parametrize("units", ["us", "metric"])
def test_csv_and_json_tell_the_same(name, units):
    made = outlook_of(name)
    text = outlook_csv(made, units)
    rows = rows_of(text)
    hours = [hour for field in parsed(name, units)["fields"] for hour in field["hours"]]
    assert list(rows[0]) == FIELD_HOURS.names(units)
    assert len(rows) == len(hours)
    wind, factor = ("wind_2m_mph", 0.44704) if units == "us" else ("wind_2m_m_s", 1.0)
    for row, hour in zip(rows, hours, strict=True):
        assert (row["start"], row["call"]) == (hour["start"], hour["call"])
        assert row["stop"] == str(hour["stop"]).lower()
        assert row["reasons"] == "; ".join(hour["reasons"])
        moisture, wet_basis = row["windrow_moisture_percent_wb"], hour["windrow_moisture_wb"]
        assert (moisture == "") == (wet_basis is None)
        assert float(moisture or 0) == pytest.approx(wet_basis or 0, abs=0.0051)
        assert float(row[wind]) * factor == pytest.approx(hour["wind_2m_m_s"], abs=0.0051)


def test_csv_columns_name_their_units():
    us, metric = FIELD_HOURS.names("us"), FIELD_HOURS.names("metric")
    assert "air_temperature_f" in us
    assert "water_gal_per_ton" in us
    assert not [name for name in us if name.endswith(("_c", "_mm", "_m_s", "_l_per_t"))]
    assert not [name for name in metric if name.endswith(("_f", "_in", "_mph", "_gal_per_ton"))]
    assert len(us) == len(metric) == len(set(us))


def test_temperatures_in_the_table_are_the_weather_s_own():
    """32 F is freezing, not zero; a blank free-water cell is none."""
    made = outlook_of("sagebeck_no_dew")
    field = made.fields[0]
    text = outlook_text(made, "us", 120)
    rows = [
        line.split() for line in text.splitlines() if re.match(r"[+#.~]{2} +(\d+ [ap]m|noon)", line)
    ]
    air = [round(float(to_shown(h.air.temperature_c, "temperature", "us"))) for h in field.hours]
    shown = [
        [int(cell) for cell in row if re.fullmatch(r"-?\d+", cell)] for row in rows[: len(air)]
    ]
    assert all(value in cells for value, cells in zip(air, shown, strict=True))


def test_runs_cover_the_hours_once_and_in_order():
    for name in SAMPLES:
        for field in outlook_of(name).fields:
            runs = call_runs(field.hours)
            assert runs[0].start == field.hours[0].start
            assert runs[-1].end == field.hours[-1].start + HOUR
            assert all(a.end == b.start for a, b in pairwise(runs))


def test_stops_are_marked_with_large_letters_and_everything_with_its_hours():
    hours = list(outlook_of("sagebeck").fields[0].hours[:6])
    stop = Remark("stop_thunder")
    hours[1] = replace(hours[1], stop=True, reasons=(stop, *hours[1].reasons))
    hours[2] = replace(hours[2], stop=True, reasons=(stop, *hours[2].reasons))
    frost, dusty = Remark("caution_frost"), Remark("caution_dusty")
    hours = [replace(hour, cautions=(dusty,)) for hour in hours]
    hours[4] = replace(hours[4], cautions=(dusty, frost))
    notes = notes_of(hours)
    assert [(note.mark, note.remark.key) for note in notes] == [
        ("A", "stop_thunder"), ("", "caution_dusty"), ("a", "caution_frost"),
    ]  # fmt: skip
    assert notes[0].spans == ((hours[1].start, hours[2].start + HOUR),)
    marks = marks_of(notes)
    assert [marks.get(hour.start, "") for hour in hours] == ["", "A", "A", "", "a", ""]
    assert not any(
        remark.key == "stop_thunder" for run in call_runs(hours) for remark in run.reasons
    )


def test_a_stop_keeps_its_call_in_sight():
    made = outlook_of("sagebeck")
    field = made.fields[0]
    hour = replace(
        field.hours[0], stop=True, reasons=(Remark("stop_thunder"), *field.hours[0].reasons)
    )
    stopped = replace(field, hours=(hour, *field.hours[1:]))
    text = outlook_text(replace(made, fields=(stopped,)), "us")
    row = next(line for line in text.splitlines() if line.startswith("XX"))
    assert hour.call.word in row
    assert row.endswith("A")
    assert "STOP, thunder forecast" in text.split("hour by hour")[0]


def test_unknown_values_are_marked_not_blank():
    made = outlook_of("sagebeck")
    field = made.fields[0]
    hour = field.hours[0]
    unknown = replace(
        hour,
        call=Call.NO_DATA,
        hay=replace(hour.hay, windrow_wb=math.nan, leaf_wb=math.nan),
        air=replace(hour.air, temperature_c=math.nan),
        reasons=(Remark("reason_missing_air_temperature_c"),),
        water_l_t=math.nan,
        after_wb=math.nan,
    )
    text = outlook_text(replace(made, fields=(replace(field, hours=(unknown,)),)), "us")
    row = next(line for line in text.splitlines() if line.startswith("??"))
    assert Counter(row.split())["?"] == 3
    assert "air temperature missing" in text


@pytest.mark.parametrize("name", ["sagebeck", "vallumbria"])
def test_spanish_has_no_english_left(name):
    made = in_language(name, "es")
    named = {*made.farm.fields, *made.farm.sites}
    # The commands and options that the screen names stay as they are typed.
    told = outlook_text(made, "us", 120, all_cautions=True)
    text = re.sub(r"hayweather [a-z]+( add)?|--[a-z]+", "", told) + outlook_csv(
        made, "metric"
    ).replace(",".join(FIELD_HOURS.names("metric")), "")
    words = set(re.findall(r"[a-záéíóúñ]+", text.lower())) - named
    english = set(
        re.findall(
            r"\w+",
            "the and from with dew leaf stem windrow below above between "
            "too wet dry add moisture then natural rain chance hours "
            "ready go wait probe first damp",
        )
    )
    # Calls, advice and causes in the CSV are words of data, in English everywhere.
    data_words = set(re.findall(r"\w+", " ".join([*CALLS, "go wait probe first dew rain ground"])))
    assert words & english <= data_words
    table = outlook_text(made, "us", 120).replace("hayweather log add", "")
    assert not re.search(r"\b(too|dry|wet|dew|add)\b", table)


def test_weather_facts_name_age_attribution_and_assumptions():
    made = outlook_of("sagebeck")
    field = made.fields[0]
    weather = field.facts.weather
    source = replace(
        weather.source, name="us-nws", issued=made.now - 3 * HOUR, attribution="by NWS"
    )
    facts = replace(
        field.facts, age_hours=3.0, hours_missing=2, weather=replace(weather, source=source)
    )
    shown = replace(made, fields=(replace(field, facts=facts),))
    text = outlook_text(shown, "us")
    assert "Weather: us-nws, issued 2 pm (3 h old)" in text
    assert "by NWS" in text
    assert "Hours without a needed value: 2." in text
    form = outlook_form(shown, "us")["weather"]
    assert form["age_hours"] == 3.0
    assert form["issued"] == "2025-07-08T14:00:00-07:00"
    assert np.isclose(form["hours_missing"], 2)
