"""The run sheet as page and calendar: all it says, whole, safe, in both languages."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from icalendar import Calendar
from support.outlooks import SAMPLES
from support.pages import Page
from support.sheets import of_field, sheet_of

from hayweather.baling.calls import Call
from hayweather.show.calendar import outlook_calendar, runsheet_calendar
from hayweather.show.outlook_words import farm_voice, field_voice
from hayweather.show.page import heading_text, runsheet_page, work_table
from hayweather.show.runsheet_text import sheet_columns
from hayweather.show.runsheet_words import sheet_sentences, work_spans
from hayweather.show.voice import capital, phrases, safety_texts

NASTY = "<script>alert('x')</script> \"Bob's\" & <b>field</b>"


def instant(time) -> datetime:
    return datetime.fromtimestamp(int(time.astype("datetime64[s]").astype(int)), UTC)


def voice_of(sheet, field):
    return field_voice(field.outlook, farm_voice(sheet.outlook, "us"))


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_page_says_all_that_the_sheet_says(name, language):
    sheet = sheet_of(name, language)
    shown = Page(runsheet_page(sheet, "us"))
    text = shown.text()
    assert shown.from_outside() == []
    assert shown.all("html")[0][0]["lang"] == language
    assert text.startswith("INVENTED SAMPLE" if language == "en" else "EJEMPLO INVENTADO")
    for caution in safety_texts(farm_voice(sheet.outlook, "us")):
        assert caution in text
    for field in sheet.fields:
        voice = voice_of(sheet, field)
        remarks = (*field.relief, *field.notes)
        if field.windows:
            remarks = (*field.signs.start, *field.signs.way, *field.signs.stop, *remarks)
        for said in (*sheet_sentences(field, voice), *phrases(remarks, voice)):
            assert capital(said).rstrip(".") in text


@pytest.mark.parametrize("name", SAMPLES)
def test_table_has_every_piece_and_fill_in_order_and_the_totals(name):
    sheet = sheet_of(name)
    for field in sheet.fields:
        if not field.windows:
            continue
        voice = voice_of(sheet, field)
        table = work_table(field, voice)
        rows = [row for rows in table.days.values() for row in rows]
        work = [row for row in rows if not row.fill]
        assert [row.call for row in work] == [window.call for window in field.windows]
        assert len(rows) - len(work) == len(field.fills)
        columns = sheet_columns(field, voice)
        by_head = {heading_text(column): column.cells for column in columns[2:]}
        for index, row in enumerate(work):
            assert {head.text: cell for head, cell in row.cells} == {
                head: cells[index] for head, cells in by_head.items()
            }
        assert {head.text: cell for head, cell in table.totals} == {
            head: cells[-1] for head, cells in by_head.items()
        }
        assert sum(not head.extra for head in table.heads) <= 6


def test_a_sheet_without_work_is_a_page_without_a_table_of_work():
    sheet = of_field(sheet_of("sagebeck"), 0)
    idle = replace(sheet.fields[0], windows=(), fills=())
    shown = Page(runsheet_page(replace(sheet, fields=(idle,)), "us"))
    assert shown.all("table") == []
    assert "No work" in shown.text()


def test_names_with_signs_of_html_are_text():
    sheet = of_field(sheet_of("sagebeck"), 0)
    field = sheet.fields[0]
    record = replace(field.outlook.setting.field, name=NASTY)
    outlook = replace(field.outlook, setting=replace(field.outlook.setting, field=record))
    text = runsheet_page(replace(sheet, fields=(replace(field, outlook=outlook),)), "us")
    assert "<script" not in text
    assert NASTY in Page(text).text()


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("language", ["en", "es"])
def test_calendar_has_work_and_fills_with_reminders(name, language):
    sheet = sheet_of(name, language)
    events = Calendar.from_ical(runsheet_calendar(sheet, "us")).walk("VEVENT")
    fills = [fill for field in sheet.fields for fill in field.fills]
    spans = [span for field in sheet.fields for span in work_spans(field)]
    found = sorted(item.start.astimezone(UTC) for item in events)
    idle = [field.outlook for field in sheet.fields if not field.windows]
    maybe = [w for night in idle for w in night.maybe if w.start < night.headline.turn]
    assert found == sorted(instant(item.start) for item in (*spans, *fills, *maybe))
    assert sum("-maybe-" in str(item["uid"]) for item in events) == len(maybe)
    filling = [item for item in events if "-fill-" in str(item["uid"])]
    assert len(filling) == len(fills)
    for item in filling:
        (alarm,) = item.walk("VALARM")
        assert item.start.astimezone(UTC) + alarm["trigger"].dt == item.start.astimezone(UTC)
    uids = [str(item["uid"]) for item in events]
    assert len(set(uids)) == len(uids)
    for item in events:
        for alarm in item.walk("VALARM"):
            at = item.start.astimezone(UTC) + alarm["trigger"].dt
            assert instant(sheet.outlook.now) <= at <= item.start.astimezone(UTC)


def test_calendar_of_work_says_the_rates():
    sheet = of_field(sheet_of("sagebeck"), 0)
    events = Calendar.from_ical(runsheet_calendar(sheet, "us")).walk("VEVENT")
    rig = [item for item in events if "-rig-" in str(item["uid"])]
    spans = [span for span in work_spans(sheet.fields[0]) if span.call == Call.ADD_MOISTURE]
    assert len(rig) == len(spans) > 0
    for item, span in zip(rig, spans, strict=True):
        dial = str(item["description"]).splitlines()[0]
        assert dial.startswith("Rates to dial: ")
        assert dial.count(",") == len(span.steps) - 1


def test_outlook_and_run_sheet_do_not_call_each_other_off():
    sheet = sheet_of("sagebeck")
    text = outlook_calendar(sheet.outlook, "us")
    events = Calendar.from_ical(runsheet_calendar(sheet, "us", text)).walk("VEVENT")
    assert {str(item["status"]) for item in events} == {"CONFIRMED"}
