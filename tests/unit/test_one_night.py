"""Night, run sheet, plan, score and seasons of one night give one set of figures."""

import json
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from support.fields import BALER, CURED, EVENING, HOME, RIG, days, farm_of
from support.fields_farm import MONEY, farm_with, field
from support.kept import keep_outlook

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.baling.clock import turn_of
from hayweather.errors import FarmFileError
from hayweather.farm.records import Baler
from hayweather.learning.keep import load_kept
from hayweather.nights import night_of
from hayweather.nights.drive import calls_of, setting_in
from hayweather.plan.case import equal_lanes
from hayweather.plan.make import plan_fields, plan_work
from hayweather.plan.sheet import make_runsheet
from hayweather.seasons.blocks import Piece, block_of
from hayweather.seasons.nights import cuts_of, driven, nights_of
from hayweather.show.outlook_data import outlook_form
from hayweather.weather.record import HOUR
from hayweather.windrow.readings import Reading
from hayweather.windrow.trajectory import QUARTER, QUARTERS

FARM = farm_of(replace(CURED, area_m2=5e6), money=replace(MONEY, allow_dry=False))
WEATHER = {"home": days(80)}
MEMBERS = 24


@pytest.fixture(scope="module")
def night():
    return night_of(FARM, WEATHER, EVENING, members=MEMBERS)


@pytest.fixture(scope="module")
def plan():
    return planned()


def planned(farm=FARM, readings=None, seconds=1.0):
    return plan_fields(
        farm,
        WEATHER,
        EVENING,
        days=2,
        seconds=seconds,
        readings=readings,
        members=MEMBERS,
        unseen=0,
    )


def row(night, time):
    return int((time - night["north"].shown.weather.start[0]) / QUARTER)


def test_the_night_is_dewy_and_the_rig_has_hours(night):
    calls = {window.call for window in night["north"].windows}
    assert calls == {Call.NATURAL_DEW, Call.ADD_MOISTURE}
    assert repr(night) == "<Night of Sagebeck, 2024-07-02: north>"
    assert [item.name for item in night] == ["north"]
    with pytest.raises(FarmFileError):
        night["nowhere"]


def test_hours_and_windows_are_of_the_same_quarters(night):
    shown, north = night["north"].shown, night["north"]
    ready = shown.advice == Advice.GO
    inside = np.zeros_like(ready)
    for window in north.windows:
        inside[row(night, window.start) : row(night, window.end)] = True
    np.testing.assert_array_equal(inside, ready)
    for number, hour in enumerate(north.hours):
        part = slice(QUARTERS * number, QUARTERS * (number + 1))
        assert hour.hay.windrow_wb == pytest.approx(shown.quarters.windrow_wb[part, 0].mean())
        assert (shown.quarters.call[part, 0] == hour.call).sum() >= 1


def test_the_run_sheet_works_in_these_windows_with_these_moistures(night):
    north, sheet = night["north"], make_runsheet(night)
    pieces = sheet.machines[0].pieces
    assert north.windows[0].start <= pieces[0].start < north.windows[0].end
    late = pieces[0].start > north.windows[0].start
    assert late == any(note.key == "sheet_beyond_flow" for note in sheet.fields[0].notes)
    for piece in pieces:
        around = [item for item in north.windows if item.start <= piece.start < item.end]
        assert [item.call for item in around] == [piece.call]
        assert piece.end <= around[0].end
        rows = slice(row(night, piece.start), row(night, piece.end - QUARTER // 900) + 1)
        moistures = north.shown.quarters.windrow_wb[rows, 0]
        assert moistures.min() - 1e-9 <= piece.windrow_wb <= moistures.max() + 1e-9


def test_the_plan_sees_the_same_quarters(night, plan):
    course = plan.night["north"].course(BALER, night["north"].rigs[0])
    shown = night["north"].shown
    rows = slice(0, shown.quarters.call.shape[0])
    np.testing.assert_array_equal(course.quarters.call[rows], shown.quarters.call)
    np.testing.assert_array_equal(course.quarters.windrow_wb[rows], shown.quarters.windrow_wb)
    np.testing.assert_array_equal(course.chances[:, rows], shown.chances)
    ways = {"dew": Call.NATURAL_DEW, "rig": Call.ADD_MOISTURE}
    blocks = [block for block in plan.blocks if block.way in ways]
    assert blocks
    for block in blocks:
        # On dew the plan leaves the rig at home: the same quarters, called without one.
        course = plan.night["north"].course(BALER, RIG if block.way == "rig" else None)
        calls = course.quarters.call[row(night, block.start) : row(night, block.end), 0]
        assert set(calls) == {ways[block.way]}


def test_a_plan_of_the_night_shown_stays_within_its_hours(night):
    made = plan_work(night, seconds=1.0, unseen=0)
    assert made.days == night.days == 2
    assert night.end == night["north"].hours[-1].start + HOUR
    assert all(night.start <= block.start < block.end <= night.end for block in made.blocks)
    assert made.blocks


def test_score_reads_back_what_was_shown(night, tmp_path):
    form = json.loads(json.dumps(outlook_form(night, "us")))
    keep_outlook(form, tmp_path)
    (kept,), other = load_kept(tmp_path)
    assert not other
    north = night["north"]
    assert list(kept.starts) == [hour.start for hour in north.hours]
    shown = [Call.NO_DATA if hour.stop else hour.call for hour in north.hours]
    assert list(kept.calls) == shown
    moistures = [hour.hay.windrow_wb for hour in north.hours]
    np.testing.assert_allclose(kept.windrow_wb, moistures, atol=0.051)
    for window, item in zip(kept.windows, north.windows, strict=True):
        assert (window.call, window.start, window.end) == (item.call, item.start, item.end)
        assert window.start_range == item.start_range
        assert window.chance == pytest.approx(item.chance, abs=0.006)


def test_seasons_count_the_same_quarters():
    """The same hours and setting without members: equal to single precision."""
    evening = date(2024, 7, 2)
    weather = days(80)
    setting = setting_in(FARM, FARM.fields["north"], weather, weather.start[0])
    lanes = cuts_of(weather, "America/Denver", HOME.latitude, HOME.longitude, [evening])
    block = block_of(Piece(0, weather, lanes, setting, BALER.capacity_kg_h))
    ran, trajectory = driven(block)
    quarters, stopped = calls_of(ran.weather, trajectory, setting)
    made = night_of(FARM, {"home": weather}, turn_of(evening, "America/Denver"), members=0)
    shown = made["north"].shown
    first = int((shown.weather.start[0] - trajectory.start[0]) / QUARTER)
    count = min(quarters.call.shape[0] - first, shown.quarters.call.shape[0]) - QUARTERS
    rows = slice(first, first + count)
    np.testing.assert_array_equal(quarters.call[rows, 0], shown.quarters.call[:count, 0])
    np.testing.assert_array_equal(stopped[rows, 0], shown.stopped[:count, 0])
    for name in ("windrow_wb", "leaf_wb", "free_water_mm"):
        got, expected = getattr(quarters, name)[rows, 0], getattr(shown.quarters, name)[:count, 0]
        np.testing.assert_allclose(got, expected, rtol=0, atol=1e-4)
    begin, past = block.cuts.window[0] - first
    for call, name in ((Call.NATURAL_DEW, "dew_h"), (Call.TOO_WET, "wet_h")):
        hours = (shown.quarters.call[begin:past, 0] == call).sum() / QUARTERS
        assert getattr(nights_of(block), name)[0] == hours


def test_calls_of_an_evening_need_no_calls_of_the_hours_before_it():
    """The hours of spin-up are run, and looked back at; no call is made of them."""
    evening = date(2024, 7, 2)
    weather = days(80)
    setting = setting_in(FARM, FARM.fields["north"], weather, weather.start[0])
    setting = replace(setting, place=replace(setting.place, clear_night_air_offset_k=-1.0))
    lanes = cuts_of(weather, "America/Denver", HOME.latitude, HOME.longitude, [evening])
    block = block_of(Piece(0, weather, lanes, setting, BALER.capacity_kg_h))
    ran, trajectory = driven(block)
    whole, stops = calls_of(ran.weather, trajectory, setting)
    ran, trajectory = driven(block, layers_from=24)
    later, stops_later = calls_of(ran.weather, trajectory, setting, first=24)
    rows = slice(24 * QUARTERS, None)
    np.testing.assert_array_equal(later.call, whole.call[rows])
    np.testing.assert_array_equal(stops_later, stops[rows])
    for name in ("cause", "stem_driest_wb", "soft_share", "windrow_wb"):
        np.testing.assert_array_equal(getattr(later, name), getattr(whole, name)[rows])
    np.testing.assert_array_equal(later.dose.applied_l_t, whole.dose.applied_l_t[rows])


def test_a_reading_reaches_outlook_sheet_and_plan_alike(night, plan):
    time = EVENING
    shown = night["north"].shown.quarters.windrow_wb[row(night, time), 0]
    readings = {"north": [Reading(time, float(shown) + 2.5)]}
    read = night_of(FARM, WEATHER, EVENING, readings, members=MEMBERS)
    replanned = planned(readings=readings)
    course = replanned.night["north"].course(BALER, night["north"].rigs[0])
    rows = slice(0, read["north"].shown.quarters.call.shape[0])
    np.testing.assert_array_equal(course.quarters.call[rows], read["north"].shown.quarters.call)
    assert [w.start for w in read["north"].windows] != [w.start for w in night["north"].windows]
    sheet = make_runsheet(read)
    first = sheet.machines[0].pieces[0].start
    assert read["north"].windows[0].start <= first < read["north"].windows[0].end
    told = [(block.start, block.end, block.way) for block in plan.blocks]
    assert [(block.start, block.end, block.way) for block in replanned.blocks] != told
    assert replanned.gain != plan.gain


def test_the_plan_counts_members_as_readings_weigh_them(plan):
    weights = np.array([0.0, 0.5, 0.0, 0.3, 0.2])
    assert list(equal_lanes(weights, 10)) == [1, 1, 1, 1, 1, 3, 3, 3, 4, 4]
    assert list(equal_lanes(np.array([0, 0.25, 0.25, 0.25, 0.25]), 4)) == [1, 2, 3, 4]
    assert list(equal_lanes(np.zeros(1), 0)) == [0]
    assert list(equal_lanes(np.zeros(3), 2)) == [1, 2]
    assert list(equal_lanes(plan.night["north"].weighed.weights.weights, MEMBERS)) == list(
        range(1, MEMBERS + 1)
    )


BALERS = {"a": Baler("a", capacity_kg_h=18_000.0), "b": Baler("b", capacity_kg_h=17_000.0)}
RIGS = {"one": replace(RIG, name="one"), "two": replace(RIG, name="two", rate_max_l_t=40.0)}


def two_machines(**named):
    farm = farm_with({"north": field("north", 900, **named)}, BALERS, RIGS)
    return replace(farm, money=MONEY)


def keys(remarks):
    return [item.key for item in remarks if item.key.startswith("machines_")]


@pytest.mark.slow
def test_a_field_without_names_shows_the_first_machines_and_says_so():
    farm = two_machines()
    made = night_of(farm, WEATHER, EVENING, members=0)
    assert made["north"].setting.baler is BALERS["a"]
    assert keys(made["north"].remarks) == ["machines_baler", "machines_rig"]
    said = {item.key: item.values for item in made["north"].remarks}
    assert said["machines_baler"] == {"shown": "a", "others": "b"}
    assert keys(make_runsheet(made).fields[0].notes) == ["machines_baler", "machines_rig"]
    blocks = planned(farm).blocks
    assert {block.baler for block in blocks} == {"a", "b"}


def test_a_field_is_worked_by_the_machines_that_it_names():
    farm = two_machines(baler="b", rig="two")
    made = night_of(farm, WEATHER, EVENING, members=0)
    assert made["north"].setting.baler.name == "b"
    assert made["north"].setting.rig.name == "two"
    assert keys(made["north"].remarks) == []
    blocks = planned(farm).blocks
    assert {block.baler for block in blocks} == {"b"}
    assert {block.rig for block in blocks} <= {None, "two"}


def test_every_pair_of_machines_sees_the_same_hay():
    made = night_of(two_machines(), WEATHER, EVENING, members=0)["north"]
    for baler in made.balers:
        for rig in (None, *made.rigs):
            course = made.course(baler, rig)
            np.testing.assert_array_equal(
                course.quarters.windrow_wb, made.shown.quarters.windrow_wb
            )
            assert (course.quarters.dose is None) == (rig is None)
