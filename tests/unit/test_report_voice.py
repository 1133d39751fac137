"""Times, spans, numbers and remarks as people read them."""

from datetime import date

import numpy as np
import pytest

from hayweather.show.layout import named_values, wrapped
from hayweather.show.voice import (
    STACK_STEPS_F,
    Voice,
    both_scales,
    merge,
    phrase,
    safety_texts,
    short_safety_texts,
)
from hayweather.weather.record import Assumption
from hayweather.words import Remark

PACIFIC = "America/Los_Angeles"
US = Voice("en", "us", PACIFIC, date(2025, 7, 8))
METRIC = Voice("es", "metric", "Europe/Madrid", date(2025, 7, 10))


def utc(text: str) -> np.datetime64:
    """A UTC time."""
    return np.datetime64(text, "s")


@pytest.mark.parametrize(
    ("time", "text"),
    [
        ("2025-07-09T00:00", "5 pm"),
        ("2025-07-09T06:30", "11:30 pm"),
        ("2025-07-09T07:00", "midnight"),
        ("2025-07-09T07:15", "12:15 am"),
        ("2025-07-09T19:00", "noon"),
        ("2025-07-09T20:59:59", "1:59 pm"),
        ("2025-07-09T21:00", "Wed 2 pm"),
        ("2025-07-08T20:00", "Tue 1 pm"),
        ("2025-07-10T12:00", "Thu 5 am"),
        ("2025-07-20T12:00", "Sun 20 July, 5 am"),
    ],
)
def test_a_time_names_its_day_only_outside_the_night(time, text):
    assert US.when(utc(time)) == text


def test_the_night_ends_with_its_last_hour():
    assert US.when(utc("2025-07-09T21:00"), is_end=True) == "2 pm"
    assert US.span(utc("2025-07-09T17:00"), utc("2025-07-09T21:00")) == "10 am to 2 pm"
    assert US.span(utc("2025-07-10T10:00"), utc("2025-07-10T12:00")) == "Thu 3 am to 5 am"


def test_metric_readers_have_a_clock_of_twenty_four_hours():
    assert METRIC.when(utc("2025-07-10T21:30")) == "23:30"
    assert METRIC.when(utc("2025-07-12T01:00")) == "sáb 03:00"
    assert METRIC.clock(utc("2025-10-26T01:15")) == "02:15 CET"
    assert METRIC.clock(utc("2025-10-26T02:00")) == "03:00"
    assert METRIC.night(date(2025, 7, 31)) == "jue 31 de julio al vie 1 de agosto"


def test_both_turns_of_a_repeated_hour_are_told_apart():
    voice = Voice("en", "us", PACIFIC, date(2025, 11, 1))
    first, second = utc("2025-11-02T08:30"), utc("2025-11-02T09:30")
    assert voice.span(first, second) == "1:30 am PDT to 1:30 am PST"
    assert voice.span(second, utc("2025-11-02T10:00")) == "1:30 am PST to 2 am"
    assert voice.clock(first, words=False) == "1:30 am PDT"
    assert voice.clock(second, words=False) == "1:30 am PST"
    assert voice.iso(first) == "2025-11-02T01:30:00-07:00"
    assert voice.iso(second) == "2025-11-02T01:30:00-08:00"


def test_numbers_go_through_the_readers_units():
    remark = Remark(
        "caution_rain_ahead", {"time": utc("2025-07-09T10:00"), "amount": (3.1, "rain")}
    )
    assert phrase(remark, US).startswith("rain from 3 am, 0.12 in")
    assert phrase(remark, Voice("en", "metric", PACIFIC, US.evening)).startswith(
        "rain from 03:00, 3.1 mm"
    )


def test_a_value_that_looks_like_its_limit_says_on_which_side_it_lies():
    """No decimals that nobody can measure."""

    def dry(*value):
        values = {"value": (*value, "percent"), "limit": (12.0, "percent")}
        return phrase(Remark("reason_windrow_dry", values), US)

    assert dry(11.998) == "windrow just under 12 %, below 12 %"
    assert dry(11.9) == "windrow 11.9 %, below 12 %"
    assert dry(7.2953, 11.998) == "windrow 7.3 to just under 12 %, below 12 %"
    assert dry(11.97, 11.998) == "windrow just under 12 %, below 12 %"
    assert dry(12.0) == "windrow 12 %, below 12 %"
    band = {"low": (12.0, "percent"), "high": (16.0, "percent")}
    inside = Remark("reason_in_band", {"value": (12.03, 15.99, "percent"), **band})
    assert phrase(inside, US) == "windrow just over 12 to just under 16 %, between 12 % and 16 %"
    assert phrase(inside, METRIC) == (
        "hilera poco más de 12 a poco menos de 16 %, entre 12 % y 16 %"
    )
    film = Remark("reason_free_water", {"value": (0.0204, "film"), "limit": (0.02, "film")})
    value, limit = phrase(film, US).removeprefix("free water on the hay ").split(", above ")
    assert value != limit


def test_a_remark_may_hold_another():
    remark = Remark("caution_crop_curves", {"crop": Remark("crop_alfalfa_grass")})
    assert "(mezcla de alfalfa y pasto) es un supuesto" in phrase(remark, METRIC)


def test_assumptions_have_texts_of_their_own():
    assert phrase(Assumption("rain_unknown"), US) == "rain unknown, taken as none"


def test_remarks_of_several_hours_become_one_with_a_range():
    remarks = [
        Remark("reason_windrow_dry", {"value": (value, "percent"), "limit": (12.0, "percent")})
        for value in (5.84, 9.6, 7.0)
    ]
    merged = merge([*remarks, Remark("reason_no_rig")])
    assert [phrase(remark, US) for remark in merged] == [
        "windrow 5.8 to 9.6 %, below 12 %",
        "no rig to add water",
    ]
    fire = merge([Remark("caution_fire", {"index": index}) for index in ("41", "9", "38")])
    assert "index 9-41 " in phrase(fire[0], US)


@pytest.mark.parametrize(
    ("share", "text"), [(0.0, "under 5 %"), (0.02, "under 5 %"), (0.52, "about 50 %"),
                        (0.96, "about 95 %"), (1.0, "over 95 %")],
)  # fmt: skip
def test_a_chance_is_never_said_to_be_sure(share, text):
    assert US.chance(share) == text


def test_lines_keep_numbers_with_their_units():
    lines = wrapped("windrow 7.2 to 11.1 %, below 12 % at 21 ton/h until 11:30 pm", 20)
    assert all(len(line) <= 20 for line in lines)
    assert not any(line.startswith(("%", "ton", "pm")) for line in lines)
    assert named_values([("site", "valley")], 40) == ["  site  valley"]


# Stack temperatures: extension services of Pennsylvania State and Purdue, published.
def test_stack_temperatures_in_both_scales():
    assert [both_scales(limit) for _, limit in STACK_STEPS_F] == [
        "125 °F (52 °C)", "150 °F (66 °C)", "160 °F (71 °C)", "175 °F (79 °C)", "190 °F (88 °C)",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("voice", "words"),
    [
        (
            US,
            "aid|probe|manuals|fire restrictions|codes|extension|licensed|extinguisher|"
            "unattended|steam|pressure|trained|Exhaust|PTO|Power lines|Lightning|bridge|awake|"
            "Never walk|driving",
        ),
        (
            METRIC,
            "ayuda|mida|manuales|restricciones|normas|extensión|autorizado|extintor|vigilancia|"
            "vapor|presión|capacitado|escape|Toma de fuerza|Líneas eléctricas|Rayos|puente|"
            "despierto|Nunca camine|al volante",
        ),
    ],
)
def test_all_cautions_stand_in_both_languages(voice, words):
    texts = " ".join(safety_texts(voice))
    missing = [word for word in words.split("|") if word not in texts]
    assert missing == []
    assert all(both_scales(limit) in texts for _, limit in STACK_STEPS_F)
    short = " ".join(short_safety_texts(voice))
    assert "--cautions" in short
    assert both_scales(125) in short


def test_a_machine_without_a_name_goes_by_its_word():
    """Of ``[baler]`` the reader makes the name "baler", which is no word of Spanish."""
    said = METRIC.say("fields_visit_rig", rig="rig", field="soto", time="9")
    assert said == "equipo viene de soto, donde termina 9"
    assert METRIC.say("screen_how_machine", machine="baler", how="x") == "empacadora: x"
    assert METRIC.say("screen_how_machine", machine="grande", how="x") == "grande: x"
    assert US.machine("baler") == "baler"


def test_a_little_hay_is_not_told_as_none() -> None:
    """One acre is no "1 acres", and a third of one no "0 acres"."""
    acre, ton, spanish = 4046.8564224, 907.18474, Voice("es", "us", PACIFIC)
    assert (US.counted(acre, "area"), US.counted(ton, "tons")) == ("1 acre", "1 ton")
    assert (US.counted(0.8 * acre, "area"), US.counted(0.3 * acre, "area")) == (
        "1 acre",
        "0.3 acres",
    )
    assert (US.counted(0.0, "area"), US.counted(2 * acre, "area")) == ("0 acres", "2 acres")
    assert spanish.counted(ton, "tons") == "1 tonelada corta"


def test_ranges_of_several_hours_become_one_range() -> None:
    amounts = [(20.0, 60.0, "water_rate"), (16.0, "water_rate"), (18.0, 70.0, "water_rate")]
    (merged,) = merge([Remark("reason_water", {"water": each, "after": "13"}) for each in amounts])
    assert merged.values["water"] == (16.0, 70.0, "water_rate")


def test_numbers_of_a_comma_reader_are_turned_once_and_all() -> None:
    """Signs, thousands and tenths; what is turned already stays."""
    said = METRIC.say("range", low="+3.7", high=METRIC.signed("1,234.5"))
    assert said == "+3,7 a 1.234,5"
    assert METRIC.say("range", low="8,784", high=METRIC.number(0.0034, "film")) == "8.784 a 0,003"
    assert US.say("range", low="8,784", high=US.signed("1,234.5")) == "8,784 to 1,234.5"
    assert METRIC.say("range", low="12", high="a, b") == "12 a a, b"
