"""The run sheets as page and calendar: all they say, whole, safe, in both languages."""

import base64
import hashlib
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from icalendar import Calendar
from support.outlooks import EACH_SAMPLE
from support.pages import Page
from support.sheets import idle, of_field, sheet_of

from hayweather.plan.sheet_record import Piece
from hayweather.show.calendar import outlook_calendar, runsheet_calendar
from hayweather.show.page import runsheet_page
from hayweather.show.runsheet_words import (
    emergency_sentence,
    field_sentences,
    machine_sentences,
    machine_title,
    sheet_voice,
    work_spans,
)
from hayweather.show.voice import capital, phrases, safety_texts
from hayweather.words import Remark

NASTY = "<script>alert('x')</script> \"Bob's\" & <b>field</b>"


def instant(time) -> datetime:
    return datetime.fromtimestamp(int(time.astype("datetime64[s]").astype(int)), UTC)


def real(sheet):
    """The same of a farm that is no sample."""
    farm = replace(sheet.night.farm, weather=replace(sheet.night.farm.weather, invented=False))
    return replace(sheet, night=replace(sheet.night, farm=farm))


@pytest.mark.parametrize("name", EACH_SAMPLE)
@pytest.mark.parametrize("language", ["en", "es"])
def test_page_says_all_that_the_sheets_say(name, language):
    sheet = sheet_of(name, language)
    voice = sheet_voice(sheet, "us")
    shown = Page(runsheet_page(sheet, "us"))
    text = shown.text()
    assert shown.from_outside() == []
    assert shown.all("html")[0][0]["lang"] == language
    assert text.startswith("INVENTED SAMPLE" if language == "en" else "EJEMPLO INVENTADO")
    assert emergency_sentence(sheet, voice) in text
    for caution in safety_texts(voice):
        assert caution in text
    for machine in sheet.machines:
        remarks = (*machine.relief, *machine.notes)
        remarks = (*machine.signs.start, *machine.signs.way, *machine.signs.stop, *remarks)
        for said in (*machine_sentences(machine, voice), *phrases(remarks, voice)):
            assert capital(said).rstrip(".") in text
    for field in sheet.fields:
        for said in field_sentences(field, voice):
            assert capital(said).rstrip(".") in text


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_every_setting_and_step_is_a_card_and_the_first_two_are_shown(name):
    sheet = sheet_of(name)
    shown = Page(runsheet_page(sheet, "us"))
    cards = [made for made, _ in shown.all("div") if made.get("class") == "card"]
    expected = sum(
        len(step.dials) if isinstance(step, Piece) else step.kind != "off"
        for machine in sheet.machines
        for step in machine.steps
    )
    assert len(cards) == expected
    assert sum("hidden" not in made for made in cards) == 2 * len(sheet.machines)
    now = instant(sheet.night.now).timestamp() * 1000
    visible = [made for made in cards if "hidden" not in made]
    assert all(max(int(m["data-past"]), int(m["data-first"]) + 1) > now for m in visible)


def test_a_card_says_what_is_dialed_and_what_where_the_meter_reads_otherwise():
    text = Page(runsheet_page(of_field(sheet_of("sagebeck"), 0).of_machine("rig"), "us")).text()
    card = text[text.index("THEN 8 pm to 8:15 pm") :][:700]
    card = card.replace("\xa0", " ")
    for said in (
        "rate24 gal/ton", "flow9 gal/min", "speed4.1 mph", "burners157 °F", "meter reads",
        "If the meter reads:", "5 %: leave it", "7 %: 22 gal/ton at 4.5 mph",
        "10 %: 11 gal/ton",
    ):  # fmt: skip
        assert said in card, said


def test_the_script_is_the_only_one_the_page_may_run_and_a_sample_has_none():
    text = runsheet_page(real(sheet_of("sagebeck")), "us")
    (script,) = re.findall(r"<script>(.*?)</script>", text, re.DOTALL)
    own = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert f"script-src &#39;sha256-{own}&#39;" in text or f"script-src 'sha256-{own}'" in text
    assert "unsafe-inline'; script" in text.replace("&#39;", "'")
    assert "<script" not in runsheet_page(sheet_of("sagebeck"), "us")


def test_a_sheet_without_work_is_a_page_without_cards():
    shown = Page(runsheet_page(idle(of_field(sheet_of("sagebeck"), 0)), "us"))
    assert shown.all("table") == []
    assert "No machine goes there" in shown.text()


def test_a_missed_date_stands_above_all_sheets():
    late = real(replace(sheet_of("sagebeck"), missed=(Remark("caution_dusty"),)))
    text = Page(runsheet_page(late, "us")).text()
    assert text.index("usty") < text.index("Emergency call") < text.index("Baler")


def test_names_with_signs_of_html_are_text():
    sheet = idle(of_field(sheet_of("sagebeck"), 0))
    field = sheet.fields[0]
    record = replace(field.night.setting.field, name=NASTY)
    night = replace(field.night, setting=replace(field.night.setting, field=record))
    text = runsheet_page(replace(sheet, fields=(replace(field, night=night),)), "us")
    assert "<script" not in text
    assert NASTY in Page(text).text()


@pytest.mark.parametrize("name", EACH_SAMPLE)
@pytest.mark.parametrize("language", ["en", "es"])
def test_calendar_has_every_machine_s_work_fills_and_drives(name, language):
    sheet = sheet_of(name, language)
    voice = sheet_voice(sheet, "us")
    events = Calendar.from_ical(runsheet_calendar(sheet, "us")).walk("VEVENT")
    found = sorted(item.start.astimezone(UTC) for item in events)
    idle_fields = [field.night for field in sheet.fields if not field.totals.hours]
    maybe = [w for night in idle_fields for w in night.maybe if w.start < night.headline.turn]
    steps = [
        step
        for machine in sheet.machines
        for step in (
            *work_spans(machine),
            *(s for s in machine.steps if s.kind in ("fill", "drive", "drain")),
        )
    ]
    assert found == sorted(instant(item.start) for item in (*steps, *maybe))
    for machine in sheet.machines:
        own = [e for e in events if machine_title(machine, voice).lower() in e["summary"].lower()]
        assert len(own) >= len(work_spans(machine))
    uids = [str(item["uid"]) for item in events]
    assert len(set(uids)) == len(uids)
    for item in events:
        if "-maybe-" not in str(item["uid"]):
            assert re.search(r"\d\.\d{4} N, \d+\.\d{4} [WO]", str(item["description"]))
        for alarm in item.walk("VALARM"):
            at = item.start.astimezone(UTC) + alarm["trigger"].dt
            assert instant(sheet.night.now) <= at <= item.start.astimezone(UTC)
            if "-maybe-" not in str(item["uid"]):
                assert item.start.astimezone(UTC) - at <= timedelta(hours=1)


def test_calendar_of_a_rig_says_the_rates_and_the_baler_s_its_speed():
    sheet = of_field(sheet_of("sagebeck"), 0)
    events = Calendar.from_ical(runsheet_calendar(sheet, "us")).walk("VEVENT")
    rig = [e for e in events if "Rig: bench" in str(e["summary"])]
    spans = [span for span in work_spans(sheet.machines[1]) if span.way == "rig"]
    assert len(rig) == len(spans) > 0
    for item, span in zip(rig, spans, strict=True):
        dial = str(item["description"]).splitlines()[0]
        assert dial.startswith("Rates to dial: ")
        rates = [setting.water_l_t for setting in span.dials]
        changes = sum(a != b for a, b in pairwise(rates))
        assert dial.count(",") == changes
    baler = [e for e in events if "Baler: bench" in str(e["summary"])]
    assert all("Ground speed " in str(item["description"]) for item in baler)


def test_outlook_and_run_sheet_do_not_call_each_other_off():
    sheet = sheet_of("sagebeck")
    text = outlook_calendar(sheet.night, "us")
    events = Calendar.from_ical(runsheet_calendar(sheet, "us", text)).walk("VEVENT")
    assert {str(item["status"]) for item in events} == {"CONFIRMED"}


def test_work_that_is_no_longer_foreseen_is_called_off():
    sheet = of_field(sheet_of("sagebeck"), 0)
    before = runsheet_calendar(sheet, "us")
    events = Calendar.from_ical(runsheet_calendar(idle(sheet), "us", before)).walk("VEVENT")
    gone = [item for item in events if str(item["status"]) == "CANCELLED"]
    assert len(gone) == len(Calendar.from_ical(before).walk("VEVENT"))
