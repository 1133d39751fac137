"""One night has one plan: outlook, plan, sheets, page, calendar and message name the same work.

The sample farm, whose fields want one baler at the same hours.
"""

import csv
import io
import json
import re
from dataclasses import replace
from datetime import timedelta
from functools import cache
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from support.outlooks import each_sample, outlook_of

from hayweather.baling.advice import Advice
from hayweather.errors import FarmFileError
from hayweather.nights import Night, night_of
from hayweather.plan.make import (
    plan_is_needed,
    plan_of_night,
    plan_shown,
    plan_work,
    show_plan,
)
from hayweather.plan.sheet import make_runsheet
from hayweather.show.calendar import outlook_calendar, plan_calendar, runsheet_calendar
from hayweather.show.evening import field_tonight
from hayweather.show.message import runsheet_message
from hayweather.show.outlook_data import outlook_csv, outlook_json
from hayweather.show.outlook_plan import stretches_of
from hayweather.show.outlook_text import outlook_text
from hayweather.show.outlook_words import farm_voice, field_sentences, field_voice
from hayweather.show.page import outlook_page, plan_page, runsheet_page
from hayweather.show.plan_data import plan_json
from hayweather.show.plan_text import plan_text
from hayweather.show.runsheet_data import runsheet_json
from hayweather.show.runsheet_text import runsheet_text
from hayweather.weather.asked import weather_for

Work = tuple[str, str, str, pd.Timestamp, pd.Timestamp]
"""Baler, field, way, start and end."""
WAYS = {"dew": "on dew", "rig": "with the rig", "dry": "dry"}


@cache
def night() -> Night:
    return outlook_of("sagebeck")


@cache
def work() -> tuple[Work, ...]:
    """The plan's work until the night ends, as the outlook's JSON has it."""
    rows = json.loads(outlook_json(night(), "us"))["plan"]
    return tuple(
        (row["baler"], row["field"], row["how"], *map(pd.Timestamp, (row["start"], row["end"])))
        for row in rows
    )


def clock(time: pd.Timestamp) -> str:
    """``9:45 pm``, as a text says it."""
    if (time.hour, time.minute) in ((0, 0), (12, 0)):
        return "midnight" if time.hour == 0 else "noon"
    minute = f":{time.minute:02d}" if time.minute else ""
    return f"{(time.hour - 1) % 12 + 1}{minute} {'am' if time.hour < 12 else 'pm'}"


def flat(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def in_order(text: str, parts: list[str]) -> None:
    """Every part stands in the text, one after another."""
    at = 0
    for part in parts:
        found = text.find(part, at)
        assert found >= 0, f"{part!r} is not in its place"
        at = found


def test_the_farm_wants_its_baler_in_two_fields_at_once():
    assert plan_is_needed(night())
    assert len({field for _, field, *_ in work()}) > 1


def test_no_machine_is_in_two_places():
    by_baler: dict[str, list[Work]] = {}
    for item in work():
        by_baler.setdefault(item[0], []).append(item)
    for items in by_baler.values():
        for one, two in pairwise(items):
            assert one[4] <= two[3]


def test_the_plan_says_the_same():
    plan = json.loads(plan_json(plan_work(night(), unseen=0), "us"))
    ends = max(end for *_, end in work())
    found = [
        (row["baler"], row["field"], row["how"], *map(pd.Timestamp, (row["start"], row["end"])))
        for row in plan["blocks"]
    ]
    assert tuple(item for item in found if item[4] <= ends) == work()


@pytest.mark.slow
def test_texts_of_outlook_and_plan():
    rows = [f"{clock(a)} to {clock(b)}: {baler} in {field}, {WAYS[how]}"
            for baler, field, how, a, b in work()]  # fmt: skip
    in_order(flat(outlook_text(night(), "us")).lower(), rows)
    in_order(flat(outlook_page(night(), "us")).replace("\u00a0", " ").lower(), rows)
    in_order(flat(outlook_csv(night(), "us")).lower(), rows)
    page = flat(re.sub(r"<[^>]+>", " ", plan_page(plan_of_night(night()), "us"))).lower()
    in_order(page, [f"{clock(a)} to {clock(b)} {field} {WAYS[how]}"
                    for _, field, how, a, b in work()])  # fmt: skip
    lines = plan_text(plan_work(night(), unseen=0), "us").splitlines()
    for baler, field, how, a, b in work():
        row = re.compile(rf"{clock(a)} - {clock(b)} +{baler} +{field} +{WAYS[how]}")
        assert any(row.search(line) for line in lines), row.pattern


def test_the_sheet_of_the_baler():
    sheet = make_runsheet(night())
    parts = [f"{field} {clock(a)} to {clock(b)} {WAYS[how]}" for _, field, how, a, b in work()]
    in_order(flat(runsheet_text(sheet, "us")), parts)
    page = flat(re.sub(r"<[^>]+>", " ", runsheet_page(sheet, "us"))).replace("\u00a0", " ")
    for _, field, _, a, b in work():
        assert field in page
        assert clock(a) in page
        assert clock(b) in page
    [machine] = [
        item for item in json.loads(runsheet_json(sheet, "us"))["machines"]
        if item["kind"] == "baler"
    ]  # fmt: skip
    spans = merged(
        (row["field"], row["how"], *map(pd.Timestamp, (row["start"], row["end"])))
        for row in machine["steps"]
        if row["kind"] == "work"
    )
    # A fill of the rig makes the baler wait inside the plan's hours.
    for field, how, start, end in spans:
        assert any(
            (field, how) == (item[1], item[2]) and item[3] <= start and end <= item[4]
            for item in work()
        ), (field, how, start, end)


def merged(rows):
    """Pieces side by side as one."""
    found: list[tuple] = []
    for row in rows:
        if found and found[-1][:2] == row[:2] and found[-1][3] == row[2]:
            found[-1] = (*found[-1][:3], row[3])
        else:
            found.append(row)
    return found


def events(text: str) -> set[tuple[pd.Timestamp, pd.Timestamp, str]]:
    """Start, end and title of the events of a calendar."""
    plain = text.replace("\r\n ", "")
    found = set()
    for part in plain.split("BEGIN:VEVENT")[1:]:
        start = pd.Timestamp(re.search(r"DTSTART[^:]*:(\S+)", part)[1])
        end = pd.Timestamp(re.search(r"DTEND[^:]*:(\S+)", part)[1])
        found.add((start, end, re.search(r"SUMMARY:([^\r\n]+)", part)[1]))
    return found


@pytest.mark.slow
def test_calendars():
    for text in (
        outlook_calendar(night(), "us"),
        plan_calendar(plan_of_night(night()), "us"),
    ):
        found = events(text)
        for baler, field, _, a, b in work():
            hours = (a.tz_localize(None), b.tz_localize(None))
            mine = [title for start, end, title in found if (start, end) == hours]
            assert any(field in title and baler in title for title in mine), (field, a, b)
    sheets = events(runsheet_calendar(make_runsheet(night()), "us"))
    for _, field, _, a, _ in work():
        begin = a.tz_localize(None)
        assert any(start == begin and field in title for start, _, title in sheets), (field, a)


def test_the_message_names_every_start():
    text = flat(" ".join(runsheet_message(make_runsheet(night()), "us")))
    for _, field, _, a, _ in work():
        assert field in text
        assert clock(a) in text


@pytest.mark.slow
def test_a_missed_date_is_the_first_line_of_every_output():
    made = night()
    due = made.now + np.timedelta64(5, "h")
    fields = {
        name: replace(field, finish_before=due) if name == "bench" else field
        for name, field in made.farm.fields.items()
    }
    late = replace(
        made,
        farm=replace(made.farm, fields=fields),
        fields=tuple(
            replace(item, setting=replace(item.setting, field=fields[item.name]))
            for item in made.fields
        ),
    )
    said = "BENCH MISSES ITS DATE"
    sheet = make_runsheet(late)
    mark = outlook_text(late, "us").splitlines()[0]  # an invented sample says so first
    for text in (outlook_text(late, "us"), plan_text(plan_work(late, unseen=0), "us"),
                 runsheet_text(sheet, "us")):  # fmt: skip
        lines = text.splitlines()
        assert lines[0] == mark
        assert lines[1].startswith(said)
    assert said in outlook_page(late, "us")
    assert said in runsheet_page(sheet, "us")
    assert said in plan_page(plan_of_night(late), "us")
    assert said in outlook_calendar(late, "us").replace("\r\n ", "")
    assert said in " ".join(runsheet_message(sheet, "us"))
    found = json.loads(outlook_json(late, "us"))
    assert found["missed"][0].startswith(said)
    head = next(iter(csv.reader(io.StringIO(outlook_csv(late, "us")))))
    assert said in head[0]


def test_one_field_alone_says_that_others_share_its_baler():
    alone = replace(night(), fields=night().fields[:1])
    assert not plan_is_needed(alone)
    text = flat(outlook_text(alone, "us"))
    assert "creek and saddle may want the same baler" in text
    assert "The plan" not in text


@pytest.mark.parametrize(
    "name", ["vallumbria", pytest.param("sagebeck_no_dew", marks=pytest.mark.slow)]
)
def test_other_samples_have_one_plan_too(name):
    made = outlook_of(name)
    plan = plan_shown(made)
    rows = json.loads(outlook_json(made, "us"))["plan"]
    if not plan_is_needed(made):
        assert rows == []
        return
    ends = max(item.headline.turn for item in made) + np.timedelta64(0, "s")
    expected = [(block.field, block.way) for block in plan.blocks if block.start < ends]
    assert [(row["field"], row["how"]) for row in rows] == expected
    assert timedelta(0) <= max(pd.Timestamp(r["end"]) for r in rows) - min(
        pd.Timestamp(r["start"]) for r in rows
    )


def test_a_field_is_left_for_what_the_outlook_shows_then():
    """Creek of the shower: the outlook says probe first when the baler leaves it."""
    made = outlook_of("sagebeck_shower")
    plan = plan_of_night(made)
    left = {visit.field: visit for visit in plan.visits if visit.why_left is not None}
    visit = left["creek"]
    field = made["creek"]
    row = int((visit.end - field.shown.weather.start[0]) / np.timedelta64(900, "s"))
    assert field.shown.advice[row] == Advice.PROBE_FIRST
    assert visit.why_left.key == "fields_leaves_unsure"


@pytest.mark.parametrize("name", each_sample("sagebeck_shower"))
def test_a_field_with_hours_to_probe_in_is_not_called_nothing_to_bale(name):
    made = outlook_of(name)
    voice = farm_voice(made, "us")
    for field in made:
        said = " ".join(field_sentences(field, field_voice(field, voice)))
        assert not (field.maybe and "nothing to bale tonight" in said)
    if name == "sagebeck_shower":
        assert "Likely not cured" in flat(outlook_text(made, "us"))


def test_an_evening_tells_the_chances_of_the_screen():
    voice = farm_voice(night(), "us")
    sheet = make_runsheet(night())
    told = 0
    for field in night():
        lines = " ".join(line.text for line in field_tonight(field, sheet, voice).lines)
        for stretch in stretches_of(field, night()):
            whole, half = stretch.window.good_throughout, stretch.window.half_good
            said = f"throughout {10 * whole:.0f} in 10, half of it {10 * half:.0f} in 10"
            assert said in lines
            told += 1
    assert told


def test_a_farm_of_one_field_works_when_its_crew_does():
    """Crews of the sample work from 8 pm to 11 am; the hay of the bench is ready before."""
    bench = night()["bench"]
    farm = replace(night().farm, fields={"bench": bench.setting.field})
    alone = replace(night(), farm=farm, fields=(bench,))
    hay = min(window.start for window in bench.windows)
    found = stretches_of(bench, alone)
    assert found
    assert found[0].window.start == max(hay, np.datetime64("2025-07-09T03:00"))
    assert hay < found[0].window.start
    assert stretches_of(bench, replace(alone, farm=replace(farm, shifts=())))[0].window.start == hay


def test_a_windrow_too_heavy_for_its_baler_hides_no_hours():
    """Run sheets refuse it in one line; what the hay allows is told all the same."""
    made = night()
    balers = {name: replace(baler, speed_min_m_s=9.0) for name, baler in made.farm.balers.items()}
    farm = replace(made.farm, balers=balers)
    slow = night_of(farm, weather_for(farm, farm.sites), made.now, members=0)
    assert plan_of_night(slow).cautions[0].key == "fields_too_heavy"
    assert plan_shown(slow).blocks
    with pytest.raises(FarmFileError, match="at its slowest"):
        make_runsheet(slow)


def test_hay_baled_dry_by_the_growers_word_is_told_by_every_output():
    """No two fields want a machine at once, yet the hours of go are not the plan: dry is none."""
    made = outlook_of("sagebeck_no_dew")
    bench = made.farm.fields["bench"]
    farm = replace(
        made.farm,
        fields={"bench": replace(bench, irrigation_due=None, area_m2=3 * bench.area_m2)},
        money=replace(
            made.farm.money, allow_dry=True, never_dry_below_wb=0.1, wait_cost_per_kg_day=1.0
        ),
        shifts=(),
    )
    three = made.now + np.timedelta64(10, "h")
    dry = night_of(farm, weather_for(farm, farm.sites), three, members=0)
    field, sheet = dry["bench"], make_runsheet(dry)
    block = plan_shown(dry).blocks[0]
    assert (block.way, block.start) == ("dry", three)
    assert block.end > field.headline.turn  # it goes on after the night
    assert [row["how"] for row in json.loads(outlook_json(dry, "us"))["plan"]] == ["dry"]
    assert sheet.machines[0].totals.dry_hours == pytest.approx(11.0)
    assert "no work" not in " ".join(runsheet_message(sheet, "us"))
    told = [stretch.area_m2 for stretch in stretches_of(field, dry)]
    assert told == [pytest.approx(sheet.fields[0].totals.area_m2)]  # until the night ends


def test_rates_of_another_rig_are_its_own():
    """A rig of which half as much water stays puts on more than the one shown in the field."""
    made = night()
    rig = next(iter(made.farm.rigs.values()))
    wasteful = replace(rig, name="old", efficiency=rig.efficiency / 2)
    two = replace(made, farm=replace(made.farm, rigs={rig.name: rig, "old": wasteful}))
    plan = plan_shown(made)
    blocks = [replace(block, rig="old") for block in plan.blocks if block.way == "rig"]
    show_plan(two, replace(plan, blocks=tuple(blocks)))
    own, other = stretches_of(made["bench"], made), stretches_of(two["bench"], two)
    own = [stretch for stretch in own if stretch.rig is not None]
    assert own
    for one, behind in zip(own, other, strict=True):
        assert max(behind.rates_l_t) > 1.5 * max(one.rates_l_t)
        assert behind.window.water_l_t == (min(behind.rates_l_t), max(behind.rates_l_t))
