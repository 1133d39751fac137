"""The farm's log: written once, removed without loss, refused in one line where it cannot be."""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
import uuid
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from support.fields import CURED, EVENING, HOME, RIG, farm_of

from hayweather.baling.setting import out_of_order, own_machines
from hayweather.errors import HayweatherError, InputError, OutputError
from hayweather.learning.past import (
    logged_events,
    logged_readings,
    read_log,
    read_readings,
)
from hayweather.log import (
    LoggedBales,
    Observation,
    as_reading,
    keep_issued,
    open_log,
    readings_for_night,
)
from hayweather.log import database as database_module
from hayweather.log.joined import farm_now
from hayweather.log.records import new_uuid
from hayweather.log.sheets import COLUMNS, read_entries, rows_of
from hayweather.nights.trust import baled_already
from hayweather.show.table import csv_text
from hayweather.weather.record import HOUR
from hayweather.windrow.readings import Reading, joined
from hayweather.words import Remark

MINUTE = np.timedelta64(60, "s")
ODD = 'Robert"); DROP TABLE entries;-- ñ ø 干草'
ZONES = {"home": HOME.timezone}
SITES = {"home": HOME}


def utc(text):
    return np.datetime64(text, "s")


@pytest.fixture
def farm(tmp_path):
    """Denver; `EVENING` is 19:00 of 2 July 2024 there."""
    names = ("north", "=south", ODD)
    found = farm_of(fields={name: replace(CURED, name=name) for name in names})
    return replace(found, log=tmp_path / "hayweather.sqlite")


@pytest.fixture
def log(farm):
    with open_log(farm) as found:
        yield found


def check_line(caught, part=""):
    """One line in both languages, no field left open, exit 2."""
    for language in ("en", "es"):
        line = caught.value.line(language)
        assert "\n" not in line
        assert "{" not in line
    assert caught.value.exit_code == 2
    assert part in str(caught.value), str(caught.value)


# Readings


def test_a_reading_is_there_when_the_log_is_opened_again(farm):
    with open_log(farm) as log:
        given = log.add_reading(
            "north", 10.5, time=EVENING, kind="leaf", layer="top", meter_error=0.7, bias=0.3,
            method="oven", water_l_t=12.5, note="by\nhand  ", by="Ana", now=EVENING,
        )  # fmt: skip
        assert (given.id, given.note, given.value) == (1, "by hand", 10.5 - 0.3)
    with open_log(farm, only_read=True) as log:
        assert log.readings() == [given]
        assert log.entry(1) == given
    assert sorted(path.name for path in farm.log.parent.iterdir()) == ["hayweather.sqlite"]


def test_names_that_look_like_orders_are_names(log):
    for name in log.farm.fields:
        log.add_reading(name, 10.0, note=ODD, by="'--", time=EVENING)
    assert [entry.field for entry in log.readings()] == list(log.farm.fields)
    assert [entry.field for entry in log.readings(ODD)] == [ODD]
    assert all(entry.note == ODD and entry.by == "'--" for entry in log.readings())


def test_the_same_uuid_is_written_once(log):
    name = str(uuid.uuid4())
    first = log.add_reading("north", 10, time=EVENING, uuid=name)
    again = log.add_reading("NORTH ", 10.0, time=EVENING, uuid=name.upper())
    assert again == first
    assert len(log.readings()) == 1
    with pytest.raises(InputError) as caught:
        log.add_reading("north", 11, time=EVENING, uuid=name)
    check_line(caught, "belongs to entry 1")
    log.remove(1)
    assert log.add_reading("north", 10, time=EVENING, uuid=name).removed is not None
    assert log.readings() == []


def test_what_was_removed_is_marked_and_its_number_never_used_again(log):
    log.add_reading("north", 10, time=EVENING)
    last = log.add_reading("north", 12, time=EVENING)
    gone = log.remove(last.id, now=EVENING)
    assert gone == replace(last, removed=EVENING)
    assert [entry.id for entry in log.readings()] == [1]
    assert log.readings(removed=True)[-1] == gone
    assert log.add_reading("north", 13, time=EVENING).id == 3
    for number, part in ((2, "was removed before"), (9, "no entry 9")):
        with pytest.raises(InputError) as caught:
            log.remove(number)
        check_line(caught, part)


def test_readings_by_field_and_time(log):
    for number in range(6):
        log.add_reading(("north", ODD)[number % 2], 10 + number, time=EVENING + number * HOUR)
    assert [e.moisture_wb for e in log.readings("north")] == [10, 12, 14]
    between = log.readings(since=EVENING + HOUR, until=EVENING + 3 * HOUR)
    assert [e.moisture_wb for e in between] == [11, 12, 13]


@pytest.mark.parametrize(
    ("given", "part"),
    [
        ({"field": "nrth"}, 'did you mean "north"'),
        ({"moisture_wb": 130}, "between 0 and 100"),
        ({"moisture_wb": float("nan")}, "between 0 and 100"),
        ({"moisture_wb": 0.105}, "write 10.5"),
        ({"moisture_wb": 80}, "--sure"),
        ({"moisture_wb": None}, "needs a moisture"),
        ({"kind": "root"}, "it can be: windrow"),
        ({"layer": "side"}, "it can be: top"),
        ({"time": EVENING + 61 * MINUTE}, "lies after now (2024-07-02T20:00:00-06:00)"),
        ({"time": "soon"}, "not understood"),
        ({"time": np.datetime64("NaT")}, "not understood"),
        ({"time": "2024-03-10T02:30"}, "clocks went forward"),
        ({"meter_error": 0}, "between 0.1 and 20"),
        ({"meter_error": 21}, "between 0.1 and 20"),
        ({"bias": 16}, "between -15 and 15"),
        ({"water_l_t": -1}, "between 0 and 500"),
        ({"note": "x" * 501}, "501 letters"),
        ({"uuid": "7"}, "no uuid"),
    ],
    ids=lambda value: str(value)[:30],
)
def test_what_cannot_be_is_one_line_and_nothing_is_written(log, given, part):
    usual = {"field": "north", "moisture_wb": 10.0, "time": EVENING, "now": EVENING + HOUR}
    with pytest.raises(InputError) as caught:
        log.add_reading(**{**usual, **given})
    check_line(caught, part)
    assert log.readings(removed=True) == []


def test_who_is_sure_is_believed(log):
    assert log.add_reading("north", 80, time=EVENING, sure=True).moisture_wb == 80


def test_times_in_all_their_forms(log):
    """18:40 in Denver in July is 00:40 UTC of the next day."""
    forms = [
        "2024-07-02T18:40",
        "2024-07-03T00:40Z",
        pd.Timestamp("2024-07-02 18:40"),
        pd.Timestamp("2024-07-03 02:40", tz="Europe/Madrid"),
        np.datetime64("2024-07-03T00:40"),
    ]
    for form in forms:
        assert log.add_reading("north", 10, time=form).time == utc("2024-07-03T00:40")


# Work, bales, stations, what was issued


def test_work_that_lasts_and_moments(log):
    spell = log.add_work("north", "baled", time=EVENING, end=EVENING + HOUR, moisture_wb=13.2)
    moment = log.add_work("north", "filled", time=EVENING + HOUR, machine="rig 1")
    assert log.work() == [spell, moment]
    for given, part in (
        ({"event": "baled"}, "lasts from one time to another"),
        ({"event": "filled", "end": EVENING + HOUR}, "is a moment"),
        ({"event": "baled", "end": EVENING}, "not after the start"),
        ({"event": "baled", "end": EVENING + 49 * HOUR}, "longer than 48 hours"),
        ({"event": "sold"}, "it can be: baled"),
    ):
        with pytest.raises(InputError) as caught:
            log.add_work("north", **{"time": EVENING, **given})
        check_line(caught, part)
    assert len(log.work(removed=True)) == 2


def bales(field, time, **what):
    """Bales as a sheet of them is read."""
    return LoggedBales(field=field, time=time, uuid=new_uuid(), **what)


def test_bales(log):
    given = bales("north", EVENING, count=42, mass_kg=590.5, moisture_wb=13.1)
    assert log.add_all([given]) == [(log.bales()[0], True)]
    assert log.bales()[0].content() == given.content()


def test_values_of_a_station_are_kept_once_and_corrected(log):
    rows = [Observation("house", EVENING + k * HOUR, "air_temperature_c", 20.0 - k) for k in (0, 1)]
    unknown = replace(rows[0], time=EVENING + 5 * HOUR, value=float("nan"))
    assert log.add_observations([*rows, unknown]) == 2
    assert log.add_observations(rows) == 0
    assert log.add_observations([replace(rows[1], value=18.5)]) == 1
    assert [item.value for item in log.observations("house")] == [20.0, 18.5]
    assert log.observations("house", since=EVENING + HOUR)[0].value == 18.5
    assert log.observations("barn") == []


def test_outlooks_and_plans_keep_every_digit_once(log):
    third = np.float64(1) / 3
    form = {
        "now": "2024-07-02T19:00:00-06:00",
        "fields": [
            {"field": name, "headline": f"bale {name}", "hours": np.array([third, np.nan])}
            for name in ("north", ODD)
        ],
    }
    assert keep_issued(log, form, {"visits": [third], "headline": ["a", "b"]}) == 3
    assert keep_issued(log, form, {"visits": [third], "headline": ["a", "b"]}) == 0
    (issued,) = log.outlooks(ODD)
    assert (issued.made, issued.advice) == (EVENING, f"bale {ODD}")
    assert issued.content["fields"][0]["hours"] == [float(third), None]
    (plan,) = log.plans(since=EVENING)
    assert (plan.advice, plan.content["visits"]) == ("a b", [float(third)])
    assert log.outlooks(until=EVENING - HOUR) == []
    assert log.counts() == {"observations": 0, "outlooks": 2, "plans": 1, "forecasts": 0}


def test_frames(log):
    log.add_reading("north", 10.5, time=EVENING)
    log.add_reading("north", 11.5, time=EVENING)
    log.remove(2)
    log.add_observations([Observation("house", EVENING, "wind_2m_m_s", 2.0)])
    frames = log.to_frames()
    readings = frames["readings"]
    assert readings["moisture_wb"].tolist() == [10.5]
    assert readings["time"].iloc[0] == pd.Timestamp("2024-07-03T01:00Z")
    assert frames["observations"]["value"].tolist() == [2.0]
    assert all(str(frame["time"].dtype).endswith("UTC]") for name, frame in frames.items()
               if name in ("readings", "work", "bales", "observations"))  # fmt: skip
    assert set(frames) == {"readings", "work", "bales", "observations", "outlooks"}


# Joined for the night


def read_at(log, name="north"):
    """What the windrow weighs of the log's readings of a field."""
    return joined(as_reading(item) for item in log.readings(name))


def test_readings_within_twenty_minutes_are_one_with_their_spread(log):
    for minute, moisture in ((0, 10), (10, 12), (20, 14), (21, 30)):
        log.add_reading("north", moisture, time=EVENING + minute * MINUTE)
    first, second = read_at(log)
    assert (first.true_wb, first.values_wb) == (12, (10, 12, 14))
    assert first.time == EVENING + 10 * MINUTE
    assert first.error_wb == pytest.approx(np.hypot(1, 2 / np.sqrt(3)))
    assert (second.true_wb, second.error_wb, second.values_wb) == (30, 1.0, ())


def test_the_same_reading_twice_is_no_surer_than_once(log):
    log.add_reading("north", 12, time=EVENING)
    log.add_reading("north", 12, time=EVENING)
    (both,) = read_at(log)
    assert both.error_wb == 1.0


def test_only_what_is_alike_is_joined(log):
    log.add_reading("north", 12, time=EVENING)
    for other in (
        {"kind": "leaf"}, {"kind": "stem"}, {"layer": "top"}, {"water_l_t": 20.0},
    ):  # fmt: skip
        log.add_reading("north", 20, time=EVENING, **other)
    assert len(read_at(log)) == 5


def test_the_bias_is_taken_off_before_anything_else(log):
    log.add_reading("north", 14, bias=2, time=EVENING)
    log.add_reading("north", 12, time=EVENING)
    (both,) = read_at(log)
    assert (both.true_wb, both.values_wb) == (12, (12, 12))
    weighed = as_reading(log.readings()[0])
    assert (weighed.true_wb, weighed.bias_wb) == (12, 2)


def test_one_layer_is_never_weighed_as_the_whole(log):
    log.add_reading("north", 30, time=EVENING, layer="top")
    weighed = as_reading(log.readings()[0])
    assert weighed.layer == "top"
    bale = log.add_reading("north", 12, time=EVENING, kind="bale")
    skin = log.add_reading("north", time=EVENING, kind="skin", skin_temperature_c=9.0)
    assert as_reading(skin) is None
    assert as_reading(bale).kind == "bale"


def test_the_night_begins_at_two_and_ends_now(log):
    """14:00 in Denver is 20:00 UTC."""
    turn = utc("2024-07-02T20:00")
    for moment in (turn - MINUTE, turn, EVENING, EVENING + HOUR):
        log.add_reading("north", 10, time=moment)
    found = readings_for_night(log, log.farm, EVENING)
    assert [reading.time for reading in found["north"]] == [turn, EVENING]
    assert set(found) == {"north"}
    assert all(isinstance(reading, Reading) for reading in found["north"])
    morning = readings_for_night(log, log.farm, utc("2024-07-03T19:59"))["north"]
    assert [item.time for item in morning] == [turn, EVENING, EVENING + HOUR]
    assert readings_for_night(log, log.farm, utc("2024-07-03T20:00")) == {}


def test_a_removed_reading_is_not_weighed(log):
    log.add_reading("north", 10, time=EVENING)
    assert readings_for_night(log, log.farm, EVENING)
    log.remove(1)
    assert readings_for_night(log, log.farm, EVENING) == {}


def test_without_a_log_nothing_is_known_and_none_is_made(farm):
    with open_log(farm, only_read=True) as log:
        assert readings_for_night(log, farm, EVENING) == {}
        assert logged_readings(log) == logged_events(log) == []
        with pytest.raises(OutputError) as caught:
            log.add_reading("north", 10, time=EVENING)
        check_line(caught)
    assert not farm.log.exists()


def test_a_field_that_left_the_farm_keeps_its_entries(farm):
    with open_log(farm) as log:
        log.add_reading(ODD, 10, time=EVENING)
    smaller = replace(farm, fields={"north": farm.fields["north"]})
    with open_log(smaller) as log:
        assert len(log.readings()) == 1
        assert logged_readings(log) == []
        assert readings_for_night(log, smaller, EVENING) == {}


# As tune and score read it


def exported(log, name, path):
    """A sheet of the log in a file."""
    entries = {"readings": log.readings, "work": log.work, "bales": log.bales}[name]()
    rows = rows_of(name, entries, lambda field: HOME.timezone)
    path.write_text(csv_text(COLUMNS[name], rows, ["a note"]), encoding="utf-8")
    return path


def filled(log):
    """A log with an entry of every kind."""
    for number, name in enumerate(log.farm.fields):
        time = EVENING + number * HOUR
        log.add_reading(name, 10 + 1 / 3, time=time, note="=1+1", by="'=x", bias=-0.1)
        log.add_reading(name, 11, time=time, kind="bale", meter_error=1.7, water_l_t=0.1 + 0.2)
        log.add_reading(name, kind="skin", skin_temperature_c=70 / 9, time=time)
        log.add_work(name, "too_wet", time=time, end=time + HOUR, moisture_wb=22.5, note="@home")
        log.add_work(name, "started", time=time, machine="-b")
        log.add_all([bales(name, time, count=3, mass_kg=590 + 1 / 3, note='"quoted", and ; more')])


def test_tune_and_score_read_the_log_as_its_sheets(log, tmp_path):
    filled(log)
    log.add_work("north", "stopped", time=EVENING + 2 * HOUR, machine="-b", moisture_wb=12)
    farm = log.farm
    readings = logged_readings(log)
    assert readings == read_readings(exported(log, "readings", tmp_path / "r.csv"), farm, ZONES)
    assert len(readings) == 9
    events = logged_events(log)
    assert events == read_log(exported(log, "work", tmp_path / "l.csv"), farm, ZONES)
    assert [event.event for event in events].count("too_wet") == 3
    (ran,) = (event for event in events if event.event == "baled")
    assert (ran.start, ran.end, ran.moisture_wb) == (EVENING, EVENING + 2 * HOUR, 12)


def test_started_and_stopped_of_a_rig(farm, log):
    with_rig = replace(farm, rigs={"rig": RIG})
    with open_log(with_rig) as same:
        same.add_work("north", "started", time=EVENING, machine="rig")
        same.add_work("north", "stopped", time=EVENING + HOUR, machine="rig")
        same.add_work("north", "stopped", time=EVENING + 2 * HOUR, machine="rig")
        (event,) = logged_events(same)
    assert (event.event, event.end) == ("rig", EVENING + HOUR)


@pytest.mark.parametrize("name", ["readings", "work", "bales"])
def test_exported_and_imported_are_the_same_entries(log, tmp_path, name):
    filled(log)
    path = exported(log, name, tmp_path / "sheet.csv")
    other = replace(log.farm, log=tmp_path / "other.sqlite")
    with open_log(other) as empty:
        sheet = read_entries(path, other, ZONES)
        assert sheet.name == name
        assert all(new for _, new in empty.add_all(sheet.entries))
        assert not any(new for _, new in empty.add_all(read_entries(path, other, ZONES).entries))
        kind = {"readings": "readings", "work": "work", "bales": "bales"}[name]
        before, after = getattr(log, kind)(), getattr(empty, kind)()
        key = lambda entry: entry.uuid  # noqa: E731
        assert [replace(e, id=0) for e in sorted(after, key=key)] == [
            replace(e, id=0) for e in sorted(before, key=key)
        ]


def test_rows_without_uuid_are_added_once_and_equal_rows_stay_apart(log, tmp_path):
    path = tmp_path / "r.csv"
    row = "2024-07-02T18:00,north,10.5\n"
    path.write_text("time,field,moisture_wb\n" + row + row, encoding="utf-8")
    for _ in range(2):
        log.add_all(read_entries(path, log.farm, ZONES).entries)
        assert len(log.readings()) == 2
    path.write_text("time,field,moisture_wb\n" + row + row + row, encoding="utf-8")
    log.add_all(read_entries(path, log.farm, ZONES).entries)
    assert len(log.readings()) == 3


def test_samples_at_three_depths(log, tmp_path):
    path = tmp_path / "night.csv"
    path.write_text(
        "time;field;top;middle;bottom;method\n"
        "2024-07-02T22:00;north;11,5;9,8;10,4;oven\n"
        "2024-07-02T23:00;north;14,1;;10,3;meter\n",
        encoding="utf-8",
    )
    sheet = read_entries(path, log.farm, ZONES)
    assert sheet.name == "depths"
    log.add_all(sheet.entries)
    found = log.readings()
    assert [(e.layer, e.moisture_wb) for e in found] == [
        ("top", 11.5), ("middle", 9.8), ("bottom", 10.4), ("top", 14.1), ("bottom", 10.3),
    ]  # fmt: skip
    assert [e.meter_error for e in found] == [0.5, 0.5, 0.5, 1.0, 1.0]
    assert [item.layer for item in logged_readings(log)] == [e.layer for e in found]


@pytest.mark.parametrize(
    ("rows", "part"),
    [
        ("2024-07-02T18:00,north,,,\n", "line 2, top: this row has no moisture"),
        ("2024-07-02T18:00,north,9,120,\n", "line 2, middle"),
        ("2024-03-10T02:30,north,9,9,9\n", "line 2, time"),
        ("2024-07-02T18:00,north,9,9,9\n2030-07-02T22:00,north,9,9,9\n", "line 3, time"),
    ],
)
def test_a_bad_row_of_samples_is_named(log, tmp_path, rows, part):
    path = tmp_path / "night.csv"
    path.write_text("time,field,top,middle,bottom\n" + rows, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_entries(path, log.farm, ZONES, now=EVENING)
    check_line(caught, part)


def test_hours_that_come_twice_are_told_apart_by_their_order(log, tmp_path):
    """3 November 2024: 01:00 to 02:00 in Denver comes at 07:00 and again at 08:00 UTC."""
    path = tmp_path / "night.csv"
    clocks = ("00:30", "01:30", "01:30", "02:30")
    lines = "".join(f"2024-11-03T{clock},north,9,,\n" for clock in clocks)
    path.write_text("time,field,top,middle,bottom\n" + lines, encoding="utf-8")
    sheet = read_entries(path, log.farm, ZONES)
    assert [str(e.time)[11:16] for e in sheet.entries] == ["06:30", "07:30", "08:30", "09:30"]
    assert sheet.doubled == 1


def test_a_layer_stays_a_layer_on_every_way_to_tune_and_score(log, tmp_path):
    """From the log, from its sheet, and from the night's sheet of samples."""
    log.add_reading("north", 30, time=EVENING, layer="top", method="oven")
    log.add_reading("north", 12, time=EVENING, layer="bottom", method="oven")
    logged = logged_readings(log)
    assert [(item.layer, item.value) for item in logged] == [("top", 30.0), ("bottom", 12.0)]
    assert read_readings(exported(log, "readings", tmp_path / "r.csv"), log.farm, ZONES) == logged
    sheet = tmp_path / "night.csv"
    sheet.write_text(
        "time,field,top,middle,bottom,method\n2024-07-02T19:00,north,30,,12,oven\n",
        encoding="utf-8",
    )
    assert read_readings(sheet, log.farm, ZONES) == logged


# The file


def test_a_copy_is_a_whole_log(log, tmp_path):
    filled(log)
    path = tmp_path / "copy.sqlite"
    path.write_bytes(log.copy())
    with open_log(replace(log.farm, log=path)) as copy:
        assert copy.readings() == log.readings()


def test_a_log_of_an_older_version_is_brought_up_to_date(farm, monkeypatch):
    with open_log(farm) as log:
        given = log.add_reading("north", 10.5, time=EVENING)
    step = ("CREATE TABLE later (id INTEGER)", "INSERT INTO later VALUES (7)")
    monkeypatch.setattr(database_module, "MIGRATIONS", (*database_module.MIGRATIONS, step))
    before = farm.log.read_bytes()
    with open_log(farm, only_read=True) as log:
        assert log.readings() == [given]
    assert farm.log.read_bytes() == before
    with open_log(farm) as log:
        assert log.readings() == [given]
    assert asked(farm.log, "SELECT id FROM later") == [(7,)]
    assert asked(farm.log, "PRAGMA user_version") == [(len(database_module.MIGRATIONS),)]


def test_a_step_that_fails_leaves_the_older_version(farm, monkeypatch):
    with open_log(farm) as log:
        given = log.add_reading("north", 10.5, time=EVENING)
    step = ("CREATE TABLE later (id INTEGER)", "INSERT INTO nowhere VALUES (7)")
    with monkeypatch.context() as patched:
        patched.setattr(database_module, "MIGRATIONS", (*database_module.MIGRATIONS, step))
        with pytest.raises(OutputError):
            open_log(farm)
    assert asked(farm.log, "PRAGMA user_version") == [(len(database_module.MIGRATIONS),)]
    assert asked(farm.log, "SELECT name FROM sqlite_master WHERE name = 'later'") == []
    with open_log(farm) as log:
        assert log.readings() == [given]


def asked(path, question):
    """The answer of a database, which is closed again."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(question).fetchall()


@pytest.mark.parametrize("only_read", [False, True])
def test_files_that_are_no_log_are_left_as_they_are(farm, only_read):
    def other(path):
        connection = sqlite3.connect(path)
        connection.execute("CREATE TABLE cows (name)")
        connection.commit()
        connection.close()

    def newer(path):
        open_log(farm).close()
        connection = sqlite3.connect(path)
        connection.execute("PRAGMA user_version = 9")
        connection.close()

    cases = (
        (lambda path: path.write_text("not a database, " * 400), "damaged"),
        (lambda path: path.write_bytes(os.urandom(9000)), "damaged"),
        (other, "another program"),
        (newer, f"version 9; this one knows {len(database_module.MIGRATIONS)}"),
    )
    for write, part in cases:
        farm.log.unlink(missing_ok=True)
        write(farm.log)
        before = farm.log.read_bytes()
        with pytest.raises(OutputError) as caught:
            open_log(farm, only_read=only_read)
        check_line(caught, part)
        assert farm.log.read_bytes() == before
    farm.log.unlink()
    farm.log.mkdir()
    with pytest.raises(OutputError) as caught:
        open_log(farm, only_read=only_read)
    check_line(caught, "something else")


def test_a_pipe_is_no_log(farm):
    os.mkfifo(farm.log)
    with pytest.raises(OutputError) as caught:
        open_log(farm)
    check_line(caught, "something else")


def test_a_farm_without_file_or_folder(farm, tmp_path):
    for changed, part in ((None, "no file"), (tmp_path / "none" / "x.sqlite", "no such folder")):
        with pytest.raises(HayweatherError) as caught:
            open_log(replace(farm, log=changed))
        check_line(caught, part)


def test_another_farms_log_is_not_taken_for_this_ones(farm):
    with open_log(farm) as log:
        log.add_reading("north", 10, time=EVENING)
    near = replace(HOME, latitude=HOME.latitude + 0.1)
    open_log(replace(farm, sites={"home": near})).close()
    far = replace(HOME, latitude=HOME.latitude + 1)
    with pytest.raises(InputError) as caught:
        open_log(replace(farm, sites={"home": far}))
    check_line(caught, 'field "north" 111 km')


def test_a_log_that_another_program_holds(farm, monkeypatch):
    monkeypatch.setattr(database_module, "WAIT_S", 0.1)
    with open_log(farm) as log:
        log.add_reading("north", 10, time=EVENING)
        holder = sqlite3.connect(farm.log, isolation_level=None)
        holder.execute("BEGIN IMMEDIATE")
        with pytest.raises(OutputError) as caught:
            log.add_reading("north", 11, time=EVENING)
        check_line(caught, "close that program")
        with open_log(farm, only_read=True) as reader:
            assert len(reader.readings()) == 1
        holder.execute("ROLLBACK")
        holder.close()
        log.add_reading("north", 11, time=EVENING)


def test_a_full_disk_is_one_line_and_nothing_is_half_written(farm):
    """The file may not grow: what a full disk says, said by a limit on the size of files."""
    with open_log(farm) as log:
        log.add_reading("north", 10, time=EVENING)
    code = (
        "import resource, sys\n"
        "import log_child as child\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))\n"
        "child.fill(sys.argv[1])\n"
    )
    done = child_process(code, str(farm.log))
    assert "make room" in done.stdout, done.stdout + done.stderr
    sound(farm.log)
    with open_log(farm) as log:
        assert len(log.readings()) >= 1
        log.add_reading("north", 11, time=EVENING)


def test_a_folder_that_cannot_be_written(farm, open_folder):
    farm = replace(farm, log=open_folder / "hayweather.sqlite")
    with open_log(farm) as log:
        log.add_reading("north", 10, time=EVENING)
    farm.log.chmod(0o444)
    open_folder.chmod(0o555)
    code = "import sys, log_child as child; child.look(sys.argv[1])"
    done = child_process(code, str(farm.log))
    assert done.stdout.splitlines()[0] == "1 readings", done.stderr
    assert done.stderr == ""
    assert "cannot be written here" in done.stdout.splitlines()[1]
    assert [path.name for path in open_folder.iterdir()] == ["hayweather.sqlite"]


def child_process(code, *arguments):
    """What a Python of its own prints."""
    here = Path(__file__).parent
    path = os.pathsep.join([str(here), str(here.parent), *sys.path])
    return subprocess.run(
        [sys.executable, "-c", code, *arguments],
        capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": path},
    )  # fmt: skip


def sound(path):
    """The file is whole, and every entry has its other half."""
    assert asked(path, "PRAGMA integrity_check") == [("ok",)]
    assert asked(path, "PRAGMA foreign_key_check") == []
    halves = "SELECT id FROM readings UNION SELECT id FROM work UNION SELECT id FROM bales"
    assert asked(path, f"SELECT id FROM entries WHERE id NOT IN ({halves})") == []


def test_files_beside_a_log_that_was_left_open_are_read(farm):
    """As after a kill: changes still wait in the file beside it."""
    with open_log(farm) as log:
        log.add_reading("north", 10, time=EVENING)
        left = farm.log.with_name("left.sqlite")
        for ending in ("", "-wal"):
            shutil.copy(f"{farm.log}{ending}", f"{left}{ending}")
    assert Path(f"{left}-wal").stat().st_size > 0
    with open_log(replace(farm, log=left), only_read=True) as log:
        assert len(log.readings()) == 1
    with open_log(replace(farm, log=left)) as log:
        assert log.add_reading("north", 11, time=EVENING).id == 2
    assert not Path(f"{left}-wal").exists()


def test_any_damage_is_one_line_or_does_no_harm(farm):
    with open_log(farm) as log:
        filled(log)
        keep_issued(log, {"now": "2024-07-02T19:00:00-06:00", "fields": [{"field": "north"}]})
    whole = farm.log.read_bytes()
    chance = random.Random(7)
    refused = unharmed = 0
    for _ in range(150):
        content = bytearray(whole)
        for _ in range(chance.choice((1, 4, 200))):
            content[chance.randrange(len(content))] = chance.randrange(256)
        farm.log.write_bytes(
            content[: chance.choice((len(content), chance.randrange(len(content))))]
        )
        for ending in ("-wal", "-shm"):
            Path(f"{farm.log}{ending}").unlink(missing_ok=True)
        try:
            with open_log(farm, only_read=True) as log:
                for read in (log.readings, log.work, log.bales, log.outlooks, log.observations):
                    read()
                log.copy()
        except HayweatherError as problem:
            refused += problem.line().count("\n") == 0
        else:
            unharmed += 1
    assert refused + unharmed == 150
    assert refused > 50


def test_what_the_log_has_as_baled_this_night_lies_there_no_more(farm, log):
    """18 t/h on 40 ha of 3 t/ha: 6 ha an hour, whoever logged it and however often."""

    def left(now):
        return [round(field.area_m2 / 10_000, 6) for field in farm_now(farm, now).fields.values()]

    def work(event, field, begin, end=None, machine="baler"):
        times = {
            "time": EVENING + begin * HOUR,
            "end": None if end is None else EVENING + end * HOUR,
        }
        log.add_work(field, event, machine=machine, now=EVENING + 9 * HOUR, **times)

    assert farm_now(farm, EVENING) == farm
    work("baled", "north", -30, -28)  # the night before: the farm file knows it
    work("baled", "north", 0, 2)
    work("baled", "north", 1, 3)  # an hour of it twice
    work("started", "=south", 3)
    assert left(EVENING + 4 * HOUR) == [22.0, 34.0, 40.0]
    work("started", ODD, 5)  # who begins elsewhere has left
    work("stopped", ODD, 6)
    work("rig", ODD, 5, 7, machine="rig")  # the same bales, told of the rig
    work("baled", ODD, 6, 7, machine="of the neighbor")
    assert left(EVENING + 8 * HOUR) == [22.0, 28.0, 28.0]
    work("baled", "north", 3, 7)
    done = farm_now(farm, EVENING + 8 * HOUR).fields["north"]
    assert done.all_baled
    assert done.baled_m2 == 400_000
    assert left(EVENING + 24 * HOUR) == [40.0, 40.0, 40.0]
    # The next evening nobody knows whether the farm file says so already: it is asked back.
    north, south, odd = farm_now(farm, EVENING + 24 * HOUR).fields.values()
    ha = [field.baled_before_m2 / 10_000 for field in (north, south, odd)]
    assert ha == pytest.approx([42.0, 12.0, 12.0])
    (said,) = baled_already(north)
    assert said.key == "field_baled_before"
    assert said.values["left"] == (400_000, "area")
    assert not any(f.baled_before_m2 for f in farm_now(farm, EVENING + 48 * HOUR).fields.values())


def test_a_machine_out_of_order_is_planned_without_until_it_runs(farm, log):
    """By the log, across nights; a farm's only baler leaves hours that are never go."""

    def said(event, machine, hours, field="north"):
        log.add_work(
            field, event, machine=machine, time=EVENING + hours * HOUR, now=EVENING + 99 * HOUR
        )

    def out(hours):
        return [name for name, _ in farm_now(farm, EVENING + hours * HOUR).out_of_order]

    baler, rig = next(iter(farm.balers)), next(iter(farm.rigs))
    said("broken", f" {rig.upper()} ", 1)
    said("broken", rig, 2)  # told twice: since the first
    assert out(0) == []
    assert out(40) == [rig]  # it does not mend itself by noon
    (field, *_) = farm.fields.values()
    found = farm_now(farm, EVENING + 40 * HOUR)
    assert own_machines(found, field)[1] == ()
    (remark,) = out_of_order(found)
    assert remark.values == {"machine": Remark("sheet_machine_rig"), "time": EVENING + HOUR}
    said("mended", rig, 41)
    said("broken", baler, 50)
    assert out(51) == [baler]
    alone = farm_now(farm, EVENING + 51 * HOUR)
    assert [item.name for item in own_machines(alone, field)[0]] == [baler]  # its limits hold
    two = replace(alone, balers={**farm.balers, "spare": replace(farm.balers[baler], name="spare")})
    assert [item.name for item in own_machines(two, field)[0]] == ["spare"]
    named = replace(field, baler=baler)  # another one is not sent where one is named
    assert [item.name for item in own_machines(two, named)[0]] == [baler]
    said("started", baler, 60)  # who starts it has mended it
    assert out(61) == []


def test_what_is_broken_is_named(farm, log):
    with pytest.raises(InputError, match=r"say which machine of the farm file: .*--machine"):
        log.add_work("north", "broken", now=EVENING)
    with pytest.raises(InputError, match='no machine of the farm file is called "loader"'):
        log.add_work("north", "broken", machine="loader", now=EVENING)


def test_a_log_without_breakdowns_keeps_its_work_and_takes_them(farm, monkeypatch):
    """Version 2 knew neither word, and refused them in the table itself."""
    with monkeypatch.context() as patched:
        patched.setattr(database_module, "MIGRATIONS", database_module.MIGRATIONS[:2])
        with open_log(farm) as old:
            before = old.add_work("north", "started", machine="baler", time=EVENING, now=EVENING)
    with open_log(farm) as log:
        assert log.work() == [before]
        log.add_work("north", "broken", machine="baler", time=EVENING + HOUR, now=EVENING + HOUR)
        assert [item.event for item in log.work()] == ["started", "broken"]
