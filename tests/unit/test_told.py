"""What has changed since it was told: what is said again, and what is not."""

import re
from dataclasses import replace

import numpy as np
import pytest
from icalendar import Calendar
from support.outlooks import outlook_of

from hayweather.baling.clock import to_utc
from hayweather.plan.sheet import make_runsheet
from hayweather.show.evening import (
    Evening,
    evening_files,
    evening_form,
    message_lines,
    safe_name,
)
from hayweather.show.told import Danger, Told, Work, changes, told_from, told_of

NIGHT = np.datetime64("2026-07-09T00:00", "s")


def at(hours: float) -> np.datetime64:
    """UTC time so many hours after the evening began."""
    return NIGHT + np.timedelta64(round(3600 * hours), "s")


def span(first: float, past: float) -> tuple[np.datetime64, np.datetime64]:
    return at(first), at(past)


def told(*work, go=(), maybe=(), unknown=(), dangers=()) -> Told:
    """A field's night: work as first and past hour, and stretches of each kind."""
    return Told(
        "bench",
        at(16),
        work=tuple(Work("baler", "dew", *span(*each)) for each in work),
        go=tuple(span(*each) for each in go),
        maybe=tuple(span(*each) for each in maybe),
        unknown=tuple(span(*each) for each in unknown),
        dangers=tuple(Danger(key, *span(*each)) for key, *each in dangers),
    )


def keys(before: Told, after: Told, now: float) -> list[str]:
    return [remark.key for remark in changes([before], [after], at(now))]


PLAN = told((8, 12), go=[(8, 12)])
THUNDER, RAIN = "stop_thunder", "caution_rain_ahead"


@pytest.mark.parametrize(
    ("before", "after", "now", "said"),
    [
        (PLAN, PLAN, 2, []),
        (PLAN, told((8.25, 12), go=[(8.25, 12)]), 2, []),
        (PLAN, told((8.5, 12), go=[(8, 12)]), 2, ["changed_start"]),
        (PLAN, told((7.5, 12), go=[(7.5, 12)]), 2, ["changed_start"]),
        # Begun before now, going on: the start has not moved, and what is past is not lost.
        (PLAN, told((10, 12), go=[(10, 12)]), 10, []),
        (PLAN, told((11, 12), go=[(11, 12)]), 10, ["changed_start", "changed_less_go"]),
        (PLAN, told(), 10, ["changed_no_work"]),
        (PLAN, told(), 12, []),
        (told(), PLAN, 2, ["changed_new_work"]),
        (PLAN, told((8, 11.5), go=[(8, 11.5)]), 2, ["changed_less_go"]),
        (PLAN, told((8, 11.75), go=[(8, 11.75)]), 2, []),
        (PLAN, told(unknown=[(2, 16)]), 2, ["changed_no_work", "changed_unknown"]),
        (told(maybe=[(5, 9)]), told(), 2, ["changed_no_maybe"]),
        (told(maybe=[(5, 9)]), told(maybe=[(8, 9)]), 2, []),
        # A quarter hour of go within hours to probe: all of it gone is more than a quarter hour.
        (told(go=[(6, 6.25)], maybe=[(4, 6)]), told(), 2, ["changed_no_maybe"]),
        (told(go=[(6, 6.25)], maybe=[(4, 6)]), told(maybe=[(4, 6)]), 2, []),
        (told(go=[(6, 6.25)]), told(), 2, []),
        (PLAN, replace(PLAN, dangers=(Danger(THUNDER, *span(9, 10)),)), 2, ["changed_danger"]),
        (PLAN, replace(PLAN, dangers=(Danger(THUNDER, *span(1, 2)),)), 2, []),
        (told(dangers=[(RAIN, 9, 12)]), told(dangers=[(RAIN, 8.5, 12)]), 2, []),
        (told(dangers=[(RAIN, 9, 12)]), told(dangers=[(RAIN, 8, 12)]), 2, ["changed_danger"]),
        (told(dangers=[(RAIN, 9, 12)]), told(), 2, []),
    ],
)
def test_what_is_said_again(before, after, now, said):
    assert keys(before, after, now) == said


def test_a_slow_drift_is_said_once_it_has_come_to_half_an_hour():
    """Compared with what was told, not with the last look."""
    looks = [told((8 + quarter / 4, 12), go=[(8, 12)]) for quarter in range(4)]
    assert [keys(PLAN, look, 2) for look in looks] == [
        [], [], ["changed_start"], ["changed_start"],
    ]  # fmt: skip


def test_no_night_differs_from_itself_at_any_minute():
    night = outlook_of("sagebeck_shower")
    own = told_of(make_runsheet(night))
    assert any(field.work or field.dangers or field.maybe for field in own)
    for minute in range(0, 20 * 60, 7):
        assert changes(own, own, night.now + np.timedelta64(minute, "m")) == []


def test_what_is_kept_is_read_back():
    sheet = make_runsheet(outlook_of("sagebeck"))
    made = Evening(sheet.night.farm, sheet.night.now, "us", sheet)
    assert told_from(evening_form(made)) == made.told


@pytest.mark.slow
def test_start_stop_and_how_sure_stand_on_the_page_in_the_message_and_in_the_calendar():
    """Of the sample's dewy night: the run sheet's work of every field, in both texts."""
    sheet = make_runsheet(outlook_of("sagebeck"))
    made = Evening(sheet.night.farm, sheet.night.now, "us", sheet)
    files = evening_files(made)
    page = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", files["index.html"]))
    message = "\n".join(message_lines(made))
    voice = made.voice
    works = [work for field in made.told for work in field.work]
    assert len(works) > 2
    for work in works:
        text = voice.span(work.start, work.end)
        assert text in page
        assert text in message
    assert " in 10" in message
    starts = {
        to_utc(event["dtstart"].dt)
        for event in Calendar.from_ical(files["night.ics"]).walk("VEVENT")
    }
    assert {work.start for work in works} <= starts
    assert "INVENTED" in page
    assert "INVENTED" in message
    assert message.endswith("Never read while driving.")
    assert len(files) == len({name.lower() for name in files})


def test_names_of_files_are_plain_and_differ():
    names = [
        "bench",
        "Bench",
        "bench ",
        "b/e",
        "b e",
        "../x",
        "<script>",
        "Ñu",
        "ñu",
        "草",
        "con",
        "",
    ]
    safe = [safe_name(name) for name in names]
    assert len({each.lower() for each in safe}) == len(names)
    assert all(re.fullmatch("[a-z0-9]+(-[a-z0-9]+)*", each) for each in safe)
    assert len(safe_name("x y" * 200)) < 60
