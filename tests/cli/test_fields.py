"""The command fields: what it says on the sample farms, in both languages, and what it refuses."""

import csv
import io
import json
import re
from collections import Counter
from dataclasses import replace
from datetime import UTC
from functools import cache

import numpy as np
import pytest
from cli.commands import done, farm_with, refused
from icalendar import Calendar
from support.outlooks import FOLDER

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.baling.clock import to_local
from hayweather.cli.guard import kind_at
from hayweather.farm import read_farm
from hayweather.plan.make import plan_fields
from hayweather.show.calendar import plan_calendar
from hayweather.show.plan_data import plan_csv, plan_form
from hayweather.show.plan_text import plan_text
from hayweather.show.plan_words import plan_voice
from hayweather.show.voice import short_safety_texts
from hayweather.weather.asked import weather_for

MEMBERS = 12
QUICK = ("--time-limit", "2")


@cache
def plan_of(name: str, days: int = 2):
    """The plan of a sample farm, with few members to be quick."""
    farm = read_farm(FOLDER / f"{name}.toml")
    weather = weather_for(farm, farm.sites)
    return plan_fields(
        farm, weather, farm.weather.now, days=days, seconds=5, members=MEMBERS, unseen=MEMBERS
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", ["sagebeck", "vallumbria"])
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("width", [80, 120])
def test_text_fits_the_width_and_says_what_it_must(name, units, width):
    plan = plan_of(name)
    text = plan_text(plan, units, width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert text.startswith(("INVENTED SAMPLE", "EJEMPLO INVENTADO"))
    assert ("Planning aid only" in text) or ("Solo es ayuda para planear" in text)
    for block in plan.blocks:
        assert block.field in text
    assert "{" not in text
    assert "nan" not in re.findall(r"\w+", text.lower())


@pytest.mark.slow
def test_totals_are_the_sum_of_their_parts():
    plan = plan_of("sagebeck")
    assert len(plan.blocks) > 2
    for item in plan.fields:
        baled = sum(block.kg for block in plan.blocks if block.field == item.field.name)
        assert baled == pytest.approx(item.baled_kg, abs=1e-3)
        assert item.baled_kg + item.left_kg == pytest.approx(item.kg)
        assert item.kg == pytest.approx(item.field.area_m2 * item.field.yield_kg_m2)
    hay = sum(b.kg * b.gain_per_kg for b in plan.blocks)
    assert hay - plan.moves_cost == pytest.approx(plan.gain)
    assert plan.gain <= plan.bound * (1 + 1e-6)
    assert all(item.expected <= plan.gain + 1e-6 for item in plan.comparisons)


def test_each_block_has_its_reasons_and_lies_in_the_shifts():
    plan = plan_of("sagebeck")
    for block in plan.blocks:
        keys = {remark.key for remark in block.reasons}
        assert f"fields_reason_{block.way}" in keys
        assert "fields_reason_gain" in keys
        assert plan.night.start <= block.start < block.end <= plan.night.end


def test_json_has_twins_and_no_unknown_numbers():
    form = plan_form(plan_of("sagebeck"), "us")
    json.dumps(form, allow_nan=False)
    assert form["schema"] == "hayweather/fields/1"
    assert form["invented"] is True
    block = form["blocks"][0]
    assert block["hay_tons"] == pytest.approx(block["hay_t"] * 1.10231, rel=1e-3)
    assert block["area_acres"] == pytest.approx(block["area_ha"] * 2.47105, rel=1e-3)
    assert block["gain_per_t"] == pytest.approx(block["gain_per_ton"] * 1.10231, rel=1e-2)
    assert len(form["cautions"]) > 10


def test_csv_has_one_row_a_block():
    plan = plan_of("sagebeck")
    lines = plan_csv(plan, "us").splitlines()
    assert lines[0].startswith("# INVENTED SAMPLE")
    rows = list(csv.DictReader(io.StringIO("\n".join(x for x in lines if not x.startswith("#")))))
    assert [row["field"] for row in rows] == [block.field for block in plan.blocks]


@pytest.mark.slow
def test_a_forecast_that_is_too_short_is_said():
    plan = plan_of("sagebeck", 3)
    assert plan.night.short_by_h > 0
    assert "forecast ends" in plan_text(plan, "us")
    assert "forecast ends" not in plan_text(plan_of("sagebeck"), "us")


@pytest.mark.slow
def test_the_command_plans_and_writes(capsys, tmp_path):
    farm = farm_with(tmp_path)
    said = done(capsys, "fields", farm, "--days", 1, *QUICK, "--format", "json")
    form = json.loads(said)
    assert form["days"] == 1
    assert form["source"] in ("plan", "longest_cured", "rain_first")
    assert form["gap"] >= 0
    assert form["gain"] <= form["bound"] * 1.05  # of fills spread evenly, not as they fall
    assert form["gap"] == pytest.approx(max(form["bound"] / form["gain"] - 1, 0), abs=1e-4)
    assert len(form["visits"]) <= len(form["blocks"])
    assert form["unseen"]["p10"] <= form["unseen"]["p90"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("price = 190 ", "# price ", "no price of hay"),
        ("capacity = 21 ", "# capacity ", "has no capacity"),
        ("capacity = 21 ", "capacity = 0 ", "capacity"),
        ("area = 118 ", "# area ", "[field.bench] has no area"),
        ("area = 118 ", "area = 0 ", "area"),
        ("yield = 1.4 ", "windrow_mass = 0.3 # ", "[field.bench] has no yield"),
        ('start = "03:00"', 'start = "02:00"', "overlaps"),
        ("capacity = 21 ", "windrow_limit = 0.12\ncapacity = 21 ", "heavier than every baler"),
    ],
)
def test_what_is_missing_is_one_clear_line(capsys, tmp_path, old, new, said):
    assert said in refused(capsys, "fields", farm_with(tmp_path, (old, new)))


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [
        ("--days", 0, "0 nights"),
        ("--days", 8, "8 nights"),
        ("--time-limit", 0, "0 seconds"),
        ("--time-limit", "nan", "nan seconds"),
    ],
)
def test_options_out_of_range_are_one_clear_line(capsys, tmp_path, option, value, said):
    assert said in refused(capsys, "fields", farm_with(tmp_path), option, value)


@pytest.mark.parametrize(
    ("allowed", "floor_wb", "dry"), [(False, None, False), (True, 1.0, True), (True, 20.0, False)]
)
def test_dry_hay_is_planned_by_the_growers_word_alone_and_above_the_floor(allowed, floor_wb, dry):
    from dataclasses import replace

    farm = read_farm(FOLDER / "sagebeck_no_dew.toml")
    money = replace(farm.money, allow_dry=allowed, never_dry_below_wb=floor_wb)
    bare = replace(farm, rigs={}, fields={"bench": farm.fields["bench"]}, money=money)
    weather = weather_for(bare, bare.sites)
    plan = plan_fields(
        bare, weather, farm.weather.now, days=1, seconds=2, members=MEMBERS, unseen=0
    )
    assert {block.way for block in plan.blocks} <= ({"dew", "dry"} if dry else {"dew"})
    assert plan.unseen is None
    keys = {remark.key for remark in plan.fields[0].remarks}
    assert {"fields_none_fit", "fields_instead_dry" if dry else "fields_instead_only_wait"} <= keys
    assert ("instead: bale dry" in plan_text(plan, "us")) == dry
    for field in plan.night.fields:  # whatever the plan may do, the advice does not change
        lying = field.course(field.balers[0], None)
        assert not any(
            hour.advice == Advice.GO for hour in field.hours if hour.call == Call.TOO_DRY
        )
        assert lying.may_bale(False).any() == dry


@pytest.mark.slow
@pytest.mark.parametrize("name", ["sagebeck", "vallumbria"])
def test_work_is_planned_in_hours_of_go_alone(name):
    plan = plan_of(name)
    assert plan.blocks
    for block in plan.blocks:
        field = plan.night[block.field]
        baler = next(item for item in field.balers if item.name == block.baler)
        rig = next((item for item in field.rigs if item.name == block.rig), None)
        course = field.course(baler, rig)
        first, past = (
            int((at - course.weather.start[0]) / np.timedelta64(900, "s"))
            for at in (block.start, block.end)
        )
        assert (course.advice[first:past] == Advice.GO).all()
        assert ((course.way[first:past] == Call.ADD_MOISTURE) == (block.way == "rig")).all()


@pytest.mark.parametrize("name", ["sagebeck", pytest.param("vallumbria", marks=pytest.mark.slow)])
def test_every_block_of_work_is_an_event_of_the_calendar(name):
    plan = plan_of(name)
    calendar = Calendar.from_ical(plan_calendar(plan, "us"))
    assert calendar.errors == []
    events = calendar.walk("VEVENT")
    told = sorted((each.start.astimezone(UTC), each.end.astimezone(UTC)) for each in events)
    blocks = sorted(tuple(to_local(time, "UTC") for time in (b.start, b.end)) for b in plan.blocks)
    assert told == blocks
    assert told
    assert len({str(each["uid"]) for each in events}) == len(events)
    short = short_safety_texts(plan_voice(plan, "us"))[0].rstrip(".")
    assert all(short in str(each["description"]) for each in events)


def test_a_block_no_longer_planned_is_called_off():
    plan = plan_of("sagebeck")
    before = plan_calendar(plan, "us")
    after = plan_calendar(replace(plan, blocks=plan.blocks[1:]), "us", before)
    status = Counter(str(each["status"]) for each in Calendar.from_ical(after).walk("VEVENT"))
    assert status == {"CONFIRMED": len(plan.blocks) - 1, "CANCELLED": 1}


@pytest.mark.slow
@pytest.mark.usefixtures("quick_windrow")
def test_the_command_writes_the_calendar(tmp_path, capsys):
    place = tmp_path / "plan.ics"
    for _ in range(2):
        done(capsys, "plan", FOLDER / "sagebeck.toml", *QUICK, "--calendar", place)
    assert kind_at(place) == "calendar"
