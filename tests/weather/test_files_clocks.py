"""Local clocks: both clock changes in two zones, a half-hour zone, and odd labels.

Clock changes of 2026 from the IANA time zone database (package tzdata):
America/Denver 8 March 02:00 and 1 November 02:00, Europe/Madrid 29 March 02:00
and 25 October 03:00 local.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from weather.files_common import column, first_hour, read_text, refusal

from hayweather.weather.files import ReadOptions, ReadReport, times
from hayweather.weather.files.cells import letters_of
from hayweather.weather.record import HourlyWeather

HEADER = "time,temp_c,dewpoint_c,wind_ms,rain_mm"
CHANGES = [
    ("America/Denver", "2026-03-08", 23),
    ("America/Denver", "2026-11-01", 25),
    ("Europe/Madrid", "2026-03-29", 23),
    ("Europe/Madrid", "2026-10-25", 25),
]


def local_day(zone: str, day: str, *, step_minutes: int = 60) -> list[datetime]:
    """UTC moments from a day's local midnight to the next one, both included."""
    start = datetime.fromisoformat(day).replace(tzinfo=ZoneInfo(zone))
    end = (start + timedelta(days=1)).replace(hour=0).astimezone(UTC)
    moments = [start.astimezone(UTC)]
    while moments[-1] < end:
        moments.append(moments[-1] + timedelta(minutes=step_minutes))
    return moments


def local_file(moments: list[datetime], zone: str) -> str:
    """A file whose rows carry the local clock; the temperature counts the rows."""
    rows = [
        f"{m.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M},{0.25 * i},-10,1,{i % 2}"
        for i, m in enumerate(moments)
    ]
    return "\n".join([HEADER, *rows])


def names(report: ReadReport) -> list[str]:
    return [repair.name for repair in report.repairs]


@pytest.mark.parametrize(("zone", "day", "hours"), CHANGES)
def test_day_of_a_clock_change_is_whole(tmp_path: Path, zone: str, day: str, hours: int) -> None:
    moments = local_day(zone, day)
    assert len(moments) == hours + 1
    weather, report = read_text(tmp_path, local_file(moments, zone), ReadOptions(timezone=zone))
    assert weather.hours == hours + 1
    assert first_hour(weather) == f"{moments[0]:%Y-%m-%dT%H:%M}"
    # Every local hour at its place, none lost, none doubled, none repaired.
    assert column(weather, "air_temperature_c") == [0.25 * i for i in range(hours + 1)]
    assert column(weather, "rain_mm") == [float(i % 2) for i in range(hours + 1)]
    assert not weather.repaired.any()
    assert names(report) == (["clock_change_doubled"] if hours == 25 else [])


@pytest.mark.parametrize(("zone", "day", "hours"), CHANGES)
def test_quarter_hours_over_a_clock_change(tmp_path: Path, zone: str, day: str, hours: int) -> None:
    moments = local_day(zone, day, step_minutes=15)
    rows = local_file(moments, zone)
    weather, _ = read_text(tmp_path, rows, ReadOptions(timezone=zone))
    assert weather.hours == hours + 1
    # A straight rise of 0.25 C a quarter hour is 1 C an hour, averaging keeps it.
    assert column(weather, "air_temperature_c", 4)[1:-1] == [float(i) for i in range(1, hours)]


@pytest.mark.parametrize(("zone", "day"), [(z, d) for z, d, hours in CHANGES if hours == 25])
def test_repeated_hour_that_stands_once(tmp_path: Path, zone: str, day: str) -> None:
    moments = local_day(zone, day)
    lines = local_file(moments, zone).splitlines()
    clock = [line[:16] for line in lines]
    second = next(i for i in range(1, len(clock)) if clock[i] == clock[i - 1])
    text = "\n".join(lines[:second] + lines[second + 1 :])
    weather, report = read_text(tmp_path, text, ReadOptions(timezone=zone))
    assert weather.hours == 26
    filled = np.flatnonzero(weather.repaired[:, 0])
    assert filled.tolist() == [second - 1]
    # Rain is never made up: the hour that is not there is missing.
    assert np.isnan(weather.columns["rain_mm"][second - 1, 0])
    assert "clock_change_single" in names(report)
    assert "clock_change_single" in [a.key for a in weather.assumed]


def test_clock_on_standard_time_is_refused_and_its_zone_asked_for(tmp_path: Path) -> None:
    start = datetime(2026, 3, 8)
    rows = [f"{start + timedelta(hours=h):%Y-%m-%d %H:%M},5,0,1,0" for h in range(24)]
    text = "\n".join([HEADER, *rows])
    error = refusal(tmp_path, text, ReadOptions(timezone="America/Denver"))
    assert "line 4: 2026-03-08 02:00:00 does not exist in America/Denver" in str(error)
    weather, _ = read_text(tmp_path, text, ReadOptions(timezone="UTC-07:00"))
    assert first_hour(weather) == "2026-03-08T07:00"
    assert weather.hours == 24


@pytest.mark.parametrize(("zone", "day", "hours"), CHANGES)
def test_hours_labeled_by_their_start_plus_one(
    tmp_path: Path, zone: str, day: str, hours: int
) -> None:
    starts = local_day(zone, day)[:-1]
    rows = []
    for i, moment in enumerate(starts):
        label = moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None) + timedelta(hours=1)
        rows.append(f"{label:%Y-%m-%d %H:%M},{i},-10,1,{i}")
    text = "\n".join([HEADER.replace("time", "hour ending"), *rows])
    weather, report = read_text(tmp_path, text, ReadOptions(timezone=zone))
    assert weather.hours == hours
    assert "clock_change_labels" in names(report)
    assert first_hour(weather) == f"{starts[0] + timedelta(hours=1):%Y-%m-%dT%H:%M}"
    # Rain of the row that ends at an hour's end; the last instant has no row after it.
    assert column(weather, "rain_mm")[:-1] == [float(i) for i in range(1, hours)]


@pytest.mark.parametrize(
    ("option", "stamp"),
    [("Asia/Kolkata", "2026-07-09 {:02d}:00"), (None, "2026-07-09T{:02d}:00+05:30")],
)
def test_half_hour_zone_keeps_its_local_hours(
    tmp_path: Path, option: str | None, stamp: str
) -> None:
    rows = [f"{stamp.format(h)},{20 + h / 2},10,1,{h}" for h in range(24)]
    weather, _ = read_text(tmp_path, "\n".join([HEADER, *rows]), ReadOptions(timezone=option))
    assert first_hour(weather) == "2026-07-08T18:30"
    assert weather.hours == 24
    assert column(weather, "air_temperature_c") == [20 + h / 2 for h in range(24)]
    assert column(weather, "rain_mm") == [float(h) for h in range(24)]


def test_offsets_in_the_stamps_over_a_clock_change(tmp_path: Path) -> None:
    moments = local_day("America/Denver", "2026-11-01")
    rows = [
        f"{m.astimezone(ZoneInfo('America/Denver')).isoformat()},{i},-10,1,0"
        for i, m in enumerate(moments)
    ]
    weather, report = read_text(tmp_path, "\n".join([HEADER, *rows]))
    assert column(weather, "air_temperature_c") == [float(i) for i in range(26)]
    assert (report.timezone, report.timezone_from) == ("UTC-06:00", "file")


@pytest.mark.parametrize(
    ("zone", "header"),
    [
        ("UTC", "time (UTC)"),
        ("GMT-07:00", "Date Time [GMT-07:00]"),
        ("America/Denver", "time (America/Denver)"),
    ],
)
def test_zone_named_in_the_header(tmp_path: Path, zone: str, header: str) -> None:
    rows = [f"2026-01-09 {h:02d}:00,5,0,1,0" for h in range(3)]
    _, report = read_text(tmp_path, "\n".join([HEADER.replace("time", header, 1), *rows]))
    assert (report.timezone, report.timezone_from) == (zone, "file")


def reads(tmp_path: Path, stamps: list[str], head: str = "time") -> HourlyWeather:
    """The record of a file with these stamps."""
    rows = [f"{stamp},{i},-10,1,0" for i, stamp in enumerate(stamps)]
    header = HEADER.replace("time", head, 1)
    return read_text(tmp_path, "\n".join([header, *rows]), ReadOptions(timezone="UTC"))[0]


@pytest.mark.parametrize(
    ("stamps", "head"),
    [
        (["2026-07-08 23:00", "2026-07-08 24:00", "2026-07-09 01:00"], "time"),
        (["7/8/2026 11:00 PM", "7/9/2026 12:00 AM", "7/19/2026 1:00 AM"][:2], "Date (MM/DD/YYYY)"),
        (["31.12.2025 23:00", "01.01.2026 00:00"], "time"),
        (["12/31/2025 23:00", "01/01/2026 00:00"], "time"),
        (["20260708T230000", "20260709T000000"], "time"),
        (["2026-07-08,23", "2026-07-08,24"], "date,hour"),
        (["2026-07-08,11:00 pm", "2026-07-09,12:00 am"], "date,time"),
        (["2026,7,8,23", "2026,7,8,24"], "year,month,day,hour"),
        (["2026,7,8,2300", "2026,7,8,2400"], "Year,Month,Day,Hour"),
        (["8/7/26 23:00", "9/7/26 0:00"], "fecha (DD/MM/AA)"),
        (["2026/07/08 23:00", "2026/07/09 00:00"], "time"),
        (["7/8/2026 23:00:00 UTC", "7/9/2026 00:00:00 GMT"], "Date (MM/DD/YYYY)"),
        (["7/8/2026 16:00 -07:00", "7/8/2026 17:00 -0700"], "Date (MM/DD/YYYY)"),
    ],
)
def test_ways_to_write_a_time(tmp_path: Path, stamps: list[str], head: str) -> None:
    weather = reads(tmp_path, stamps, head)
    assert first_hour(weather) in ("2026-07-08T23:00", "2025-12-31T23:00")
    assert weather.hours == len(stamps)


def test_day_and_month_by_the_shorter_span(tmp_path: Path) -> None:
    """Hours over the end of a month make sense in one order only."""
    stamps = [f"08/07/2026 {h}:00" for h in (22, 23)] + ["09/07/2026 0:00", "09/07/2026 1:00"]
    assert first_hour(reads(tmp_path, stamps)) == "2026-07-08T22:00"
    stamps = [f"07/08/2026 {h}:00" for h in (22, 23)] + ["07/09/2026 0:00", "07/09/2026 1:00"]
    assert first_hour(reads(tmp_path, stamps)) == "2026-07-08T22:00"


def test_day_and_month_that_are_the_same_number(tmp_path: Path) -> None:
    assert first_hour(reads(tmp_path, ["7/7/2026 1:00", "7/7/2026 2:00"])) == "2026-07-07T01:00"


@pytest.mark.parametrize(
    ("stamp", "head"),
    [
        ("2026/07/09 25:00", "time"),
        ("2026/07/09 13:00 pm", "time"),
        ("2026/07/09 10:00:75", "time"),
        ("2026/02/30 10:00", "time"),
        ("2026/07/09 10:00 +24:00", "time"),
        ("2026-07-09T10:00+14:30", "time"),
        ("1812/07/09 10:00", "time"),
        ("2026,,9,10", "year,month,day,hour"),
        ("2026,7.5,9,10", "year,month,day,hour"),
        ("2026,7,9,75", "year,month,day,hour"),
    ],
)
def test_stamps_that_are_no_time(tmp_path: Path, stamp: str, head: str) -> None:
    text = "\n".join([HEADER.replace("time", head, 1), f"{stamp},20,-10,1,0"])
    error = refusal(tmp_path, text, ReadOptions(timezone="UTC"))
    assert (error.key, error.values["line"]) == ("weather_time_not_understood", 2)


def test_labels_that_fit_neither_way_are_refused(tmp_path: Path) -> None:
    """Ends of hours in the hour that Denver skips, an hour short of what their starts need."""
    head = HEADER.replace("time", "hour ending")
    for hours in (["01", "02", "03"], ["02", "03", "02"]):
        rows = [f"2026-03-08 {hour}:30,20,-10,1,0" for hour in hours]
        error = refusal(tmp_path, "\n".join([head, *rows]), ReadOptions(timezone="America/Denver"))
        assert error.key == "weather_time_skipped"


def test_labels_that_go_back_without_a_clock_change_are_unsorted(tmp_path: Path) -> None:
    head = HEADER.replace("time", "hour ending")
    rows = [f"2026-07-08 {hour}:00,20,-10,1,0" for hour in ("03", "02", "04")]
    error = refusal(tmp_path, "\n".join([head, *rows]), ReadOptions(timezone="America/Denver"))
    assert (error.key, error.values["line"]) == ("weather_times_unsorted", 3)


def stamps_of(*texts: str, day_first: bool | None = None) -> times.Stamps | None:
    letters = letters_of(texts)
    return None if letters is None else times._by_shape(letters, day_first)


def test_stamps_read_letter_by_letter_are_those_of_pandas():
    """Every day of 200 years in several shapes, and what is no stamp or not like the others."""
    days = pd.date_range("1900-01-01", "2100-12-31", freq="1D")
    for shape in ("%Y-%m-%dT23:58:59", "%m/%d/%Y 11:58:59 PM", "%Y/%m/%d 23:58:59 UTC"):
        found = stamps_of(*days.strftime(shape))
        expected = days + pd.Timedelta("23:58:59")
        np.testing.assert_array_equal(found.clock, expected.to_numpy("datetime64[s]"))
    short = [f"{day.month}/{day.day}/{day.year} 0:00" for day in days]
    np.testing.assert_array_equal(stamps_of(*short).clock, days.to_numpy("datetime64[s]"))
    good = "2024-02-29 10:00:00+05:30"
    found = stamps_of(good, "2024-02-29 24:00:00-01:00")
    assert found.offset_s.tolist() == [19800, -3600]
    assert str(found.clock[1]) == "2024-03-01T00:00:00"
    for odd in (
        "2023-02-29 10:00:00+05:30", "2024-13-01 10:00:00+05:30", "2024-00-01 10:00:00+05:30",
        "2024-02-29 25:00:00+05:30", "2024-02-29 10:61:00+05:30", "2024-02-29 10:00:00+05:3",
        "2024-02-29 10:00:60+05:30", "2024-02-29 10:00:00+05:60", "2024-02-29 10:00:00+19:30",
        "2024-02-29 10:00:00+05:301", "2024-02-29 10:00:0x+05:30", "2024-02-29 10:00:00",
        "1824-02-29 10:00:00+05:30", "2024-02-29 10:00:0٣+05:30", "",
    ):  # fmt: skip
        assert stamps_of(good, odd) is None
    for odd in ("13:00 PM", "0:00 AM", "10:00 XM", "10:00", "10:00:00.5 PM"):
        assert stamps_of("7/29/2024 10:00 PM", f"7/29/2024 {odd}") is None
    assert stamps_of("7/8/2024 10:00", "8/7/2024 10:00") is None
    assert stamps_of("7/8/2024 10:00", day_first=True).clock[0] == np.datetime64("2024-08-07T10")
