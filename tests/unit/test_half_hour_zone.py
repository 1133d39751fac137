"""A clock half an hour off the whole ones (South Australia, India) takes nothing from a night.

The sample's night moved around the globe to two clocks, its sun with it: one whole hour
from UTC, one with half an hour. Work, checks and calls of both are the same.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.outlooks import FOLDER

from hayweather.baling.clock import hour_start, to_local
from hayweather.farm import read_farm
from hayweather.nights import Night, night_of
from hayweather.plan.make import plan_of_night
from hayweather.plan.sheet import make_runsheet
from hayweather.weather.asked import weather_for

HOME_OFFSET_H = -7.0
CLOCKS = {"Australia/Brisbane": 10.0, "Australia/Adelaide": 9.5}


@cache
def moved(zone: str, minutes: int = 0, *, two_grids: bool = False) -> Night:
    """The sample's night, `minutes` later, on the clock of `zone`."""
    farm = read_farm(FOLDER / "sagebeck.toml")
    weather = weather_for(farm, farm.sites)
    hours = CLOCKS[zone] - HOME_OFFSET_H
    by = np.timedelta64(round(-3600 * hours), "s")
    place, site = next(iter(farm.sites.items()))
    site = replace(site, timezone=zone, longitude=site.longitude + 15 * hours)
    there = replace(weather[place], start=weather[place].start + by)
    sites, series = {place: site}, {place: there}
    due = dict.fromkeys(("finish_before", "irrigation_due", "irrigated_at"))
    fields = {name: replace(farm.fields[name], **due) for name in ("bench", "creek")}
    if two_grids:
        sites["hill"] = replace(site, name="hill")
        series["hill"] = replace(there, start=there.start + np.timedelta64(1800, "s"))
        first = next(iter(fields))
        fields[first] = replace(fields[first], site="hill")
    farm = replace(farm, sites=sites, fields=fields, log=None)
    now = farm.weather.now + by + np.timedelta64(60 * minutes, "s")
    return night_of(farm, series, now, members=8)


def told(night: Night) -> dict[str, object]:
    """What hangs on the hours: work, checks and calls, on the local clock."""

    def local(time: np.datetime64 | None) -> str | None:
        return None if time is None else f"{to_local(time, night.timezone):%d %H:%M}"

    sheet = make_runsheet(night)
    return {
        "work": [(b.baler, b.field, b.way, local(b.start), local(b.end))
                 for b in plan_of_night(night).blocks],
        "checks": [f.headline.check and local(f.headline.check.time) for f in night],
        "looks": [local(f.headline.look_at) for f in night],
        "hours": [(local(hour.start), hour.call) for f in night for hour in f.hours],
        "pieces": [local(piece.start) for m in sheet.machines for piece in m.pieces],
    }  # fmt: skip


@pytest.mark.parametrize("minutes", [pytest.param(0, marks=pytest.mark.slow), 200])
def test_a_night_is_that_of_a_whole_hour(minutes):
    whole, half = (told(moved(zone, minutes)) for zone in CLOCKS)
    assert len(whole["work"]) > 2
    assert whole == half


def test_sites_whose_hours_differ_by_half_are_planned_quarter_by_quarter():
    night = moved("Australia/Brisbane", two_grids=True)
    starts = {field.shown.weather.start[0] for field in night}
    assert len(starts) == 2
    plan = plan_of_night(night)
    assert plan.blocks  # inspected against every field's own quarters, else an error
    assert min(block.start for block in plan.blocks) >= night.now


def test_a_night_is_weighed_again_until_the_next_hour_of_its_weather():
    night = moved("Australia/Adelaide", 200)  # 20:20
    assert to_local(night.now, night.timezone).minute == 20
    last = night.now + np.timedelta64(39, "m")
    assert night.weighed_again(last, {}) is not None
    assert night.weighed_again(last + np.timedelta64(1, "m"), {}) is None


def test_hours_of_the_clock_begin_where_people_have_them():
    for zone in CLOCKS:
        time = hour_start(np.datetime64("2026-10-03T08:10"), zone)
        assert to_local(time, zone).minute == 0
        assert time <= np.datetime64("2026-10-03T08:10") < time + np.timedelta64(1, "h")
