"""What is not known, or does not hold, is left out or said plainly; never in wrong words."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from icalendar import Calendar
from support.outlooks import outlook_of
from support.sheets import sheet_of

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.nights import FieldNight
from hayweather.plan.sheet_record import Piece
from hayweather.show.calendar import outlook_calendar
from hayweather.show.layout import TextColumn, fitting, with_room
from hayweather.show.message import runsheet_message
from hayweather.show.outlook_words import (
    answer_lines,
    check_sentence,
    farm_voice,
    field_sentences,
    field_voice,
)
from hayweather.show.runsheet_words import amounts_sentence, rate_sentences, sheet_voice
from hayweather.show.voice import Voice, phrase

HOUR = np.timedelta64(1, "h")


def bench() -> FieldNight:
    """A field with dew, a rig and forecast runs."""
    return outlook_of("sagebeck").fields[0]


def voice_of(field: FieldNight) -> Voice:
    """How its farm is spoken to."""
    return field_voice(field, farm_voice(outlook_of("sagebeck"), "us"))


def without_windows(change: Callable[[HourCall], HourCall]) -> FieldNight:
    """The field on a night without windows, every hour changed."""
    field = bench()
    nothing = dict.fromkeys(("dew", "ready", "rig", "maybe"), ())
    headline = replace(field.headline, **nothing, next_night=None)
    hours = tuple(map(change, field.hours))
    return replace(field, headline=headline, hours=hours, windows=(), maybe=())


def test_a_window_without_chance_is_its_span_alone():
    field = bench()
    no_chance = dict.fromkeys(("chance", "good_throughout", "half_good", "water_l_t"))
    window = replace(field.headline.dew[0], **no_chance)
    voice = voice_of(field)
    (line,) = answer_lines(field, [window], [], voice)
    span = voice.span(window.start, window.end)
    assert (line.call, line.advice) == (Call.NATURAL_DEW, Advice.GO)
    assert line.text == voice.say("chart_windows", call=voice.say("call_natural_dew"), windows=span)


def test_a_calendar_without_forecast_runs_names_no_range_and_a_real_farm_no_sample():
    made = outlook_of("sagebeck")
    plain, maybe = (
        tuple(replace(window, chance=None, start_range=None, end_range=None) for window in found)
        for found in (made.fields[0].windows, made.fields[0].maybe)
    )
    farm = replace(made.farm, weather=replace(made.farm.weather, invented=False))
    field = replace(made.fields[0], windows=plain, maybe=maybe)
    alone = replace(made, farm=farm, fields=(field,))
    events = Calendar.from_ical(outlook_calendar(alone, "us")).walk("VEVENT")
    usual = Calendar.from_ical(outlook_calendar(made, "us")).walk("VEVENT")
    range_words = farm_voice(made, "us").say("calendar_start_range", start="|", end="|")
    begin = range_words.split("|")[0].strip().lower()
    assert any(begin in str(event["description"]).lower() for event in usual)
    assert events
    assert not any(begin in str(event["description"]).lower() for event in events)
    assert all("INVENTED" in str(event["summary"]) for event in usual)
    assert not any("INVENTED" in str(event["summary"]) for event in events)


@pytest.mark.parametrize(
    ("call", "stop", "key"),
    [
        (Call.NOT_CURED, False, "outlook_none_uncured"),
        (Call.NATURAL_DEW, True, "outlook_none_stop"),
        (Call.TOO_WET, False, "outlook_none_wet"),
    ],
)
def test_a_night_without_a_window_says_which_call_stood_in_the_way(call, stop, key):
    field = without_windows(lambda hour: replace(hour, call=call, stop=stop))
    voice, night = voice_of(field), [h for h in field.hours if h.start < field.headline.turn]
    count = len(night)
    expected = voice.say(key, hours=voice.hours(count), wet=count)
    said = field_sentences(field, voice)
    assert expected in said
    assert voice.say("outlook_next_none") in said


def test_a_night_without_data_says_why_and_promises_no_other():
    reasons = bench().hours[0].reasons
    field = without_windows(lambda h: replace(h, call=Call.NO_DATA, stop=False, reasons=reasons))
    said = field_sentences(field, voice := voice_of(field))
    told = [text for text in said if text.startswith("Unknown 5 pm to 2 pm: ")]
    assert len(told) == 1
    assert all(phrase(item, voice) in told[0] for item in reasons)
    assert voice.say("unknown_do") in said
    assert voice.say("outlook_next_none") not in said


@pytest.mark.parametrize(
    ("drier_h", "damper_h", "keys"),
    [
        (None, None, ("check_drier_none", "check_damper_none")),
        (0, 0, ("check_drier_same", "check_damper_wet")),
        (2, -2, ("check_drier_later", "check_damper_earlier")),
    ],
)
def test_a_check_says_what_a_drier_and_a_damper_reading_mean(drier_h, damper_h, keys):
    field = bench()
    first, check = field.headline.dew[0].start, field.headline.check
    times = [None if hours is None else first + hours * HOUR for hours in (drier_h, damper_h)]
    changed = replace(check, dew_if_drier=times[0], dew_if_damper=times[1])
    (said,) = check_sentence(
        replace(field, headline=replace(field.headline, check=changed)), voice := voice_of(field)
    )
    shown = ["" if time is None else voice.when(time) for time in times]
    for key, time in zip(keys, shown, strict=True):
        before, _, after = voice.say(key, low="|", high="|", time=time).partition("|")
        assert before in said
        assert after in said


def test_a_reading_above_the_band_is_never_called_dew():
    field = bench()
    band, check = field.setting.band, field.headline.check
    sooner = replace(check, dew_if_damper=check.time - HOUR, high_wb=band.high_wb + 2.0)
    wet = replace(field, headline=replace(field.headline, check=sooner))
    (said,) = check_sentence(wet, voice := voice_of(field))
    assert voice.say("check_damper_wet", high=f"{band.high_wb + 2:.0f} %") in said


def test_a_check_on_a_night_without_dew_says_when_damper_hay_would_bring_it():
    field = bench()
    later = field.headline.dew[0].start
    check = replace(field.headline.check, dew_if_damper=later, dew_if_drier=None)
    dry = replace(field, headline=replace(field.headline, dew=(), maybe=(), check=check))
    (said,) = check_sentence(dry, voice := voice_of(field))
    text = voice.say("check_damper_comes", high="|", time=voice.when(later))
    assert text.partition("|")[2] in said


def test_columns_that_may_not_go_stay_where_there_is_no_room():
    columns = [TextColumn(("a" * 30,), ("1",)), TextColumn(("b" * 30,), ("2",), drop=1)]
    assert fitting(columns, 10) == ([columns[0]], 1)


def test_a_sheet_whose_baler_and_rig_are_not_known_names_no_amounts():
    sheet = sheet_of("sagebeck")
    machine, voice = sheet.machines[0], sheet_voice(sheet, "us")
    nothing = dict.fromkeys(("mass_kg", "area_m2", "bales", "water_l", "loads", "burner_fuel_l"))
    assert amounts_sentence(replace(machine.totals, **nothing), voice) == []
    assert "ton" in amounts_sentence(machine.totals, voice)[0]


def test_a_rate_without_flow_and_speed_is_told_alone():
    sheet = sheet_of("sagebeck")
    voice, rig = sheet_voice(sheet, "us"), sheet.machines[1]
    steps = tuple(
        replace(step, dials=tuple(replace(d, flow_l_min=None, speed_m_s=None) for d in step.dials))
        if isinstance(step, Piece)
        else step
        for step in rig.steps
    )
    plain = replace(rig, steps=steps)
    assert "gal/ton" in rate_sentences(plain, voice)[0]
    assert "gal/min" not in rate_sentences(plain, voice)[0]
    known, message = (
        " ".join(runsheet_message(replace(sheet, machines=(item,)), "us")) for item in (rig, plain)
    )
    assert "gal/min" in known
    assert "gal/min" not in message


def test_a_dry_night_of_a_crop_without_leaf_minimum_names_no_leaf():
    field = without_windows(lambda hour: replace(hour, call=Call.TOO_DRY, stop=False))
    voice = voice_of(field)
    band = field.setting.band
    leaf = voice.amount(band.leaf_minimum_wb, "percent")
    assert band.leaf_minimum_wb is not None
    with_leaf = " ".join(field_sentences(field, voice))
    limits = {
        name: voice.amount(getattr(band, f"{name}_wb"), "percent") for name in ("low", "high")
    }
    limits["share"] = f"{100 * field.setting.baler.soft_share:.0f}"
    assert voice.say("outlook_none_leaf", leaf=leaf, **limits) in with_leaf
    bare = replace(field.setting, band=replace(band, leaf_minimum_wb=None))
    without = " ".join(field_sentences(replace(field, setting=bare), voice))
    assert voice.say("outlook_none_leaf", leaf=leaf, **limits) not in without
    assert voice.say("outlook_none_dry", highest="|", low=limits["low"]).split("|")[0] in without


def test_a_heading_goes_on_below_before_a_column_goes():
    columns = [
        TextColumn(("bale with",), ("rig, 4 gal/ton",), is_text=True),
        TextColumn(("all good",), ("4 in 10",)),
        TextColumn(("half good",), ("8 in 10",), drop=1),
    ]
    assert with_room(columns, 33) == columns
    assert len(fitting(columns, 32)[0]) == 2
    kept, gap = fitting(with_room(columns, 32), 32)
    assert [column.heading for column in kept] == [
        ("", "bale with"),
        ("all", "good"),
        ("half", "good"),
    ]
    assert gap == 2
