"""Nights, starts and horizons: hours counted on the local clock, by hand and by zoneinfo."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from hayweather.baling.clock import (
    FEW_TIMES,
    hour_index,
    local_hour,
    span_of,
    to_local,
    to_utc,
    turn_of,
    turns_of,
)

DENVER, MADRID, ADELAIDE = "America/Denver", "Europe/Madrid", "Australia/Adelaide"
HOUR = np.timedelta64(3600, "s")

# Days on which the clock changes, and the hours of the local day (tz database).
CHANGES = [
    (DENVER, date(2025, 3, 9), 23),
    (DENVER, date(2025, 11, 2), 25),
    (MADRID, date(2025, 3, 30), 23),
    (MADRID, date(2025, 10, 26), 25),
]


def utc(text):
    return np.datetime64(text, "s")


def at(zone, day, hour, minute=0, fold=0):
    """UTC of a time on the clock of a zone."""
    local = datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZoneInfo(zone), fold=fold)
    return to_utc(local)


@pytest.mark.parametrize("zone", [DENVER, ADELAIDE, "Pacific/Apia"])
def test_turns_of_many_days_are_those_of_each(zone):
    """Apia had no 30 December 2011."""
    days = np.datetime64("2009-01-01") + np.arange(FEW_TIMES + 500)
    expected = np.array([turn_of(day, zone) for day in days.tolist()])
    np.testing.assert_array_equal(turns_of(days, zone), expected)
    np.testing.assert_array_equal(turns_of(days[:3], zone), expected[:3])


@pytest.mark.parametrize(("zone", "day", "hours"), CHANGES)
def test_a_day_of_clock_change_from_turn_to_turn(zone, day, hours):
    """From 14:00 to 14:00 lie 23 or 25 hours, whichever side of the change is asked."""
    before = day - timedelta(days=1)
    assert turn_of(day, zone) - turn_of(before, zone) == hours * HOUR
    span = span_of(at(zone, before, 20, 30), zone)
    assert span.evening == before
    assert span.first == at(zone, before, 20)
    assert span.last == at(zone, day + timedelta(days=1), 14)
    assert span.last - span.first == (18 + hours) * HOUR
    assert span.start == at(zone, before - timedelta(days=1), 14)


@pytest.mark.parametrize(("zone", "day", "hours"), CHANGES)
def test_the_morning_after_the_change_still_belongs_to_the_evening_before(zone, day, hours):
    span = span_of(at(zone, day, 8, 5), zone)
    assert span.evening == day - timedelta(days=1)
    assert span.start == at(zone, day - timedelta(days=2), 14)
    assert span.needed == at(zone, day, 14)
    assert span.last == at(zone, day + timedelta(days=1), 14)
    assert span.last - turn_of(day - timedelta(days=1), zone) == (24 + hours) * HOUR


@pytest.mark.parametrize("fold", [0, 1])
def test_both_passes_of_the_doubled_hour_are_told_apart(fold):
    now = at(DENVER, date(2025, 11, 2), 1, 40, fold)
    span = span_of(now, DENVER)
    assert span.first == utc("2025-11-02T07:00") + fold * HOUR
    assert span.first <= now < span.first + HOUR
    assert span.evening == date(2025, 11, 1)


def test_the_missing_hour_is_never_shown():
    """02:30 does not exist on 9 March 2025 in Denver; an hour after 01:30 it is 03:30."""
    now = at(DENVER, date(2025, 3, 9), 1, 30) + HOUR
    assert to_local(now, DENVER).hour == 3
    assert span_of(now, DENVER).first == utc("2025-03-09T09:00")


@pytest.mark.parametrize(
    ("hour", "minute", "evening", "last", "needed"),
    [
        (13, 59, date(2025, 7, 7), date(2025, 7, 9), at(DENVER, date(2025, 7, 8), 14)),
        (14, 0, date(2025, 7, 8), date(2025, 7, 10), at(DENVER, date(2025, 7, 9), 0)),
        (23, 59, date(2025, 7, 8), date(2025, 7, 10), at(DENVER, date(2025, 7, 9), 0)),
        (0, 0, date(2025, 7, 7), date(2025, 7, 9), at(DENVER, date(2025, 7, 8), 14)),
    ],
)
def test_the_day_turns_at_two_in_the_afternoon(hour, minute, evening, last, needed):
    now = at(DENVER, date(2025, 7, 8), hour, minute)
    span = span_of(now, DENVER)
    assert span.evening == evening
    assert span.last == at(DENVER, last, 14)
    assert span.needed == needed
    assert span.first == now - now.astype(int) % 3600 * np.timedelta64(1, "s")


@pytest.mark.parametrize("minute", [0, 29, 30, 59])
def test_in_a_half_hour_zone_the_first_hour_holds_now(minute):
    """Weather hours are UTC hours: at 18:45 in Adelaide the current one began at 18:30."""
    now = at(ADELAIDE, date(2025, 7, 8), 18, minute)
    span = span_of(now, ADELAIDE)
    assert span.first <= now < span.first + HOUR
    assert to_local(span.first, ADELAIDE).minute == 30
    weather_start = utc("2025-07-01T00:00")
    first = weather_start + hour_index(weather_start, span.first) * HOUR
    assert first <= now < first + HOUR
    assert to_local(span.last, ADELAIDE).isoformat() == "2025-07-10T14:00:00+09:30"


def test_hours_of_the_local_clock_keep_their_shape():
    times = utc("2025-07-08T20:00") + np.arange(4).reshape(2, 2) * HOUR
    assert local_hour(times, DENVER).tolist() == [[14, 15], [16, 17]]
    assert local_hour(times, ADELAIDE).tolist() == [[5, 6], [7, 8]]


def test_the_hour_of_a_time_before_the_weather_is_negative():
    start = utc("2025-07-08T20:00")
    assert hour_index(start, utc("2025-07-08T20:59")) == 0
    assert hour_index(start, utc("2025-07-08T19:59")) == -1
