"""Calendars: read back with icalendar, times over both clock changes, names that last.

RFC 5545 (iCalendar): 3.3.5 times in a zone, 3.8.4.7 UID, 3.8.7.4 SEQUENCE,
3.8.6.3 TRIGGER, 3.1 lines of at most 75 octets ended by CR LF.
"""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from icalendar import Calendar
from support.outlooks import EACH_SAMPLE, SAMPLES, in_language, outlook_of

from hayweather.baling.calls import Call
from hayweather.baling.windows import Window
from hayweather.show.calendar import (
    CalendarEvent,
    Reminder,
    calendar_text,
    event_name,
    look_time,
    named_windows,
    outlook_calendar,
    sequence_at,
)
from hayweather.weather.record import HOUR

NOW = np.datetime64("2025-10-30T00:00", "s")
HALF = HOUR // 2


def instant(time: np.datetime64) -> datetime:
    return datetime.fromtimestamp(int(time.astype("datetime64[s]").astype(int)), UTC)


def event(start: str, end: str, zone: str = "America/Denver", **more) -> CalendarEvent:
    times = (np.datetime64(start, "s"), np.datetime64(end, "s"))
    name = event_name("abc", start)
    return CalendarEvent(name, *times, zone, "Title", "Text", "Field", (43.2, -120.6), **more)


def read(text: str):
    calendar = Calendar.from_ical(text)
    assert calendar.errors == []
    return calendar, calendar.walk("VEVENT")


@pytest.mark.parametrize("name", EACH_SAMPLE)
@pytest.mark.parametrize("language", ["en", "es"])
def test_every_window_is_an_event_at_its_time(name, language):
    """Of a field alone; where machines clash the plan's work stands there (test_one_plan)."""
    farm = in_language(name, language)
    for field in farm.fields:
        check_windows(replace(farm, fields=(field,)), language)


def check_windows(made, language):
    calendar, events = read(outlook_calendar(made, "us"))
    windows = [window for field in made.fields for window in (*field.windows, *field.maybe)]
    assert len(events) == len(windows)
    if not windows:
        return
    found = sorted((item.start.astimezone(UTC), item.end.astimezone(UTC)) for item in events)
    assert found == sorted((instant(item.start), instant(item.end)) for item in windows)
    zones = {str(item.get("tzid")) for item in calendar.walk("VTIMEZONE")}
    assert zones == {str(field.setting.site.timezone) for field in made.fields}
    assert calendar.get_missing_tzids() == set()
    mark = "INVENTED SAMPLE" if language == "en" else "EJEMPLO INVENTADO"
    for item in events:
        assert str(item["summary"]).startswith(mark)
        assert item.start.tzinfo is not None
        assert item["dtstamp"].dt == instant(made.now)


def test_a_window_to_probe_first_in_says_so_and_promises_no_water():
    made = in_language("sagebeck", "en")
    bench, saddle = made.fields[0], made.fields[2]
    _, events = read(outlook_calendar(replace(made, fields=(bench, saddle)), "us"))
    maybe = [item for item in events if "Maybe" in str(item["summary"])]
    assert len(maybe) == len(bench.maybe) + len(saddle.maybe) > 0
    assert len(events) - len(maybe) == len(bench.windows)
    for item in maybe:
        assert ", probe first: " in str(item["summary"])
        assert "gal/ton" not in str(item["summary"])
    stems = [item for item in maybe if "saddle" in str(item["location"])]
    assert all("Probe the stems first" in str(item["description"]) for item in stems)


def test_events_say_what_they_rest_on_and_the_cautions():
    made = in_language("sagebeck", "en")
    _, all_fields = read(outlook_calendar(made, "us"))
    _, events = read(outlook_calendar(replace(made, fields=made.fields[:1]), "us"))
    for item in (*events, *all_fields):
        text = str(item["description"])
        for part in (
            "Made Tue 8 July, 5 pm.", "get a new forecast.", "Planning aid only", "Dry hay burns",
            "No measured night", "Do not read this page while driving",
        ):  # fmt: skip
            assert part in text
    rig = [item for item in events if "SAMPLE: Add moisture" in str(item["summary"])]
    assert rig
    assert all("gal/ton" in str(item["summary"]) for item in rig)


@pytest.mark.slow
@pytest.mark.parametrize("name", SAMPLES)
def test_lines_are_short_and_ended_as_the_standard_has_it(name):
    data = outlook_calendar(in_language(name, "es"), "metric").encode("utf-8")
    lines = data.split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75


def test_a_look_is_a_reminder_before_the_first_dew_of_each_night_sure_or_not():
    made = in_language("sagebeck", "en")
    bench = made.fields[0]
    _, events = read(outlook_calendar(replace(made, fields=(bench,)), "us"))
    alarms = {
        item.start.astimezone(UTC) + alarm["trigger"].dt
        for item in events
        for alarm in item.walk("VALARM")
    }
    nights = {}
    named = [*named_windows(bench), *named_windows(bench, bench.maybe)]
    for (night, *_), window in sorted(named, key=lambda pair: pair[1].start):
        if window.call == Call.NATURAL_DEW:
            nights.setdefault(night, window)
    assert len(nights) == 2
    assert alarms == {instant(look_time(bench, window)) for window in nights.values()}
    assert instant(bench.headline.look_at) in alarms
    assert all(alarm.get("action") == "DISPLAY" for item in events for alarm in item.walk("VALARM"))


def test_a_reminder_that_is_past_is_left_out():
    made = in_language("sagebeck", "en")
    later = replace(made, now=made.now + 12 * HOUR)
    _, events = read(outlook_calendar(later, "us"))
    for item in events:
        for alarm in item.walk("VALARM"):
            assert item.start.astimezone(UTC) + alarm["trigger"].dt >= instant(later.now)


# Clock changes of 2025: America/Denver 2 November (IANA tz database), Europe/Madrid 26 October
# and 30 March, Australia/Adelaide (half hours) 5 October; America/Phoenix has none.
@pytest.mark.parametrize(
    ("zone", "around"),
    [
        ("America/Denver", "2025-11-02T08:00"),
        ("America/Denver", "2025-03-09T09:00"),
        ("Europe/Madrid", "2025-10-26T01:00"),
        ("Europe/Madrid", "2025-03-30T01:00"),
        ("Australia/Adelaide", "2025-10-04T16:30"),
        ("America/Phoenix", "2025-11-02T08:00"),
    ],
)
def test_times_are_kept_over_clock_changes(zone, around):
    change = np.datetime64(around, "s")
    starts = [change + quarter * HOUR // 4 for quarter in range(-12, 13)]
    events = [
        CalendarEvent(event_name("abc", i), t, t + HALF, zone, "T", "D", "L", (0.0, 0.0))
        for i, t in enumerate(starts)
    ]
    _, found = read(calendar_text("name", events, ["abc"], change))
    assert sorted(item.start.astimezone(UTC) for item in found) == [instant(t) for t in starts]
    assert {item.end.astimezone(UTC) - item.start.astimezone(UTC) for item in found} == {
        timedelta(minutes=30)
    }


def test_rules_of_the_zone_in_the_file_are_those_of_the_zone():
    """A reader that knows no zones takes the offsets from the file (RFC 5545, 3.6.5)."""
    times = ("2025-11-02T07:30", "2025-11-02T09:30", "2025-11-03T03:00")
    events = [event(t, str(np.datetime64(t, "s") + HOUR // 4)) for t in times]
    calendar, found = read(calendar_text("name", events, ["abc"], NOW))
    zone = calendar.walk("VTIMEZONE")[0].to_tz()
    for item, time in zip(found, times, strict=True):
        local = item.start.replace(tzinfo=None)
        assert str(item.start.tzinfo) == "America/Denver"
        assert local - zone.utcoffset(local) == datetime.fromisoformat(time)


def test_the_hour_that_comes_twice_is_written_in_utc():
    text = calendar_text("n", [event("2025-11-02T08:15", "2025-11-02T09:00")], ["abc"], NOW)
    assert "DTSTART:20251102T081500Z" in text.splitlines()
    first = calendar_text("n", [event("2025-11-02T07:15", "2025-11-02T07:45")], ["abc"], NOW)
    assert "DTSTART;TZID=America/Denver:20251102T011500" in first.splitlines()


def test_the_same_outlook_gives_the_same_file():
    made = in_language("sagebeck", "en")
    assert outlook_calendar(made, "us") == outlook_calendar(made, "us")


def shifted(made, by: np.timedelta64, now_by: np.timedelta64):
    """An outlook made later, its windows moved."""
    fields = []
    for field in made.fields:
        windows = tuple(replace(w, start=w.start + by, end=w.end + by) for w in field.windows)
        fields.append(replace(field, windows=windows))
    return replace(made, now=made.now + now_by, fields=tuple(fields))


def test_a_later_file_replaces_the_events_of_the_one_before():
    made = in_language("sagebeck", "en")
    made = replace(made, fields=(replace(made.fields[0], maybe=()),))
    _, before = read(outlook_calendar(made, "us"))
    _, after = read(outlook_calendar(shifted(made, HOUR // 4, 3 * HOUR), "us"))
    old = {str(item["uid"]): item for item in before}
    new = {str(item["uid"]): item for item in after}
    assert set(old) == set(new)
    assert len(old) == len(before)
    for uid, item in new.items():
        assert int(item["sequence"]) - int(old[uid]["sequence"]) == 180
        assert item.start - old[uid].start == timedelta(minutes=15)


def test_an_event_no_longer_foreseen_is_called_off():
    made = in_language("sagebeck", "en")
    bench, creek = (replace(made, fields=made.fields[i : i + 1]) for i in (0, 1))
    text = outlook_calendar(bench, "us", outlook_calendar(creek, "us"))
    bench = made.fields[0]
    fewer = replace(bench, windows=bench.windows[:1], maybe=())
    _, events = read(outlook_calendar(replace(made, fields=(fewer,)), "us", text))
    gone = [item for item in events if item["status"] == "CANCELLED"]
    gone_windows = len(bench.windows) - 1 + len(bench.maybe)
    assert len(gone) == gone_windows > 1  # other fields are not spoken for
    assert all(not item.walk("VALARM") for item in gone)
    assert {int(item["sequence"]) for item in gone} == {sequence_at(made.now)}
    late = replace(made, now=made.now + 72 * HOUR, fields=(fewer,))
    _, events = read(outlook_calendar(late, "us", text))
    assert [item["status"] for item in events] == ["CONFIRMED"]  # what is past is left alone


@pytest.mark.slow
@pytest.mark.parametrize("before", ["", "no calendar", "BEGIN:VCALENDAR\r\nEND:VEVENT\r\n", None])
def test_a_file_that_is_no_calendar_is_replaced(before):
    made = in_language("sagebeck", "en")
    assert outlook_calendar(made, "us", before) == outlook_calendar(made, "us")


@pytest.mark.slow
def test_names_tell_nights_fields_and_farms_apart():
    made = in_language("sagebeck", "en")
    _, events = read(outlook_calendar(made, "us"))
    uids = [str(item["uid"]) for item in events]
    assert len(set(uids)) == len(uids)
    other = replace(made, farm=replace(made.farm, name="Another"))
    _, others = read(outlook_calendar(other, "us"))
    assert not set(uids) & {str(item["uid"]) for item in others}
    assert all(part.isprintable() and " " not in part for part in uids)


def test_names_with_signs_of_the_format_are_kept():
    made = outlook_of("sagebeck")
    strange = 'Bob\'s; "big", <field>\nBEGIN:VEVENT\\n'
    field = made.fields[0]
    record = replace(field.setting.field, name=strange)
    field = replace(field, setting=replace(field.setting, field=record))
    _, events = read(outlook_calendar(replace(made, fields=(field,)), "us"))
    assert len(events) == len(field.windows) + len(field.maybe)
    assert all(strange in str(item["location"]).replace("\r\n", "\n") for item in events)


def test_every_text_is_escaped_and_no_line_is_longer_than_75_octets():
    """RFC 5545, 3.1 and 3.3.11; read back with icalendar."""
    strange = 'a;b,c\\d:e"f\nBEGIN:VEVENT ' + "\u00f1\u2600" * 60
    beside = strange + "\x00\x0b\r\t"  # what no text may hold becomes a blank
    made = replace(
        event("2025-07-08T06:00", "2025-07-08T08:00"),
        summary=beside, description=beside, location=beside,
        reminders=(Reminder(np.datetime64("2025-07-08T05:00", "s"), beside),),
    )  # fmt: skip
    written = calendar_text(beside, [made], ["abc"], NOW)
    _, (found,) = read(written)
    (alarm,) = found.walk("VALARM")
    texts = [found[name] for name in ("summary", "description", "location")]
    for text in (*texts, alarm["description"]):
        assert str(text).rstrip() == strange
    lines = written.encode().split(b"\r\n")
    assert max(map(len, lines)) <= 75
    whole = written.replace("\r\n ", "")
    assert whole.count('a\\;b\\,c\\\\d:e"f\\nBEGIN:VEVENT') == 5


def test_a_night_without_windows_is_a_calendar_without_events():
    made = outlook_of("sagebeck")
    field = replace(made.fields[0], windows=(), maybe=())
    calendar, events = read(outlook_calendar(replace(made, fields=(field,)), "us"))
    assert events == []
    assert str(calendar["x-wr-calname"]).startswith("Sagebeck")


def test_reminders_are_relative_to_the_start():
    at = np.datetime64("2025-11-01T05:15", "s")
    one = event("2025-11-01T06:00", "2025-11-01T07:00", reminders=(Reminder(at, "look"),))
    text = calendar_text("n", [one], ["abc"], NOW)
    assert "TRIGGER:-PT45M" in text.splitlines()


def test_windows_are_named_by_night_and_side_of_sunrise():
    field = outlook_of("sagebeck").fields[0]
    begin = field.headline.turn - 24 * HOUR  # 14:00 local before the night
    spans = [(4, 8), (11, 12), (13, 14), (19, 21), (26, 28)]
    windows = tuple(Window(Call.NATURAL_DEW, begin + a * HOUR, begin + b * HOUR) for a, b in spans)
    names = [name for name, _ in named_windows(replace(field, windows=windows))]
    assert names == [
        ("20250708", "dew", "night", 1),
        ("20250708", "dew", "night", 2),
        ("20250708", "dew", "night", 3),
        ("20250708", "dew", "morning", 1),
        ("20250709", "dew", "night", 1),
    ]
