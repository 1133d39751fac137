"""One night, one truth: what every command writes of random real nights agrees.

Real weather (tests/data/README.md; in the long lane the recorded series as well), farms of one
to three fields, balers, rigs, dates and the minute of asking drawn with a fixed seed. The
checkers read the outputs alone: outlook, run sheet, plan, evening folder, messages, calendars.
"""

import pytest
from support.agree import disagreements
from support.agree_figures import figure_disagreements
from support.agree_work import work_disagreements
from support.all_outputs import outlook_outputs, work_outputs
from support.random_nights import drawn
from support.seasons import recorded_folder

SAMPLE = 10
"""A night of a sample farm, with a plan over three fields."""


def written(number: int, *, recorded: bool = False) -> dict[str, str]:
    """Everything that is written of one random night."""
    night = drawn(number, recorded_folder() if recorded else None).night()
    return {**outlook_outputs(night, 80 if number % 2 else 120), **work_outputs(night)}


def found_in(said: dict[str, str]) -> list[str]:
    """What does not agree."""
    return [*disagreements(said), *work_disagreements(said), *figure_disagreements(said)]


@pytest.fixture(autouse=True)
def _fewer_fresh_ones(monkeypatch):
    monkeypatch.setattr("hayweather.nights.drive.MOST_MEMBERS", 64)


@pytest.mark.parametrize("number", [1, 2, 3, 5, 8, SAMPLE])
def test_outputs_of_a_random_real_night_agree(number):
    assert found_in(written(number)) == []


@pytest.mark.long
@pytest.mark.parametrize("number", range(300))
def test_outputs_of_any_random_real_night_agree(number):
    assert found_in(written(number, recorded=True)) == []


CHANGES = (
    ("csv", ",wait,", ",go,"),
    ("json", '"advice": "wait"', '"advice": "go"'),
    ("text", " wait ", " go   "),
    ("sheet csv", "work,2025-07-09T08", "work,2025-07-09T07"),
    ("plan csv", "bench,rig,rig,2025", "creek,rig,rig,2025"),
    ("plan page", "bring", "cost"),
    ("page", '<td class="text">wait', '<td class="text">go'),
    ("page", "4 in 10", "3 in 10"),
    ("sheet page", "<td>rig</td>", "<td>dew</td>"),
    ("sheet page", "7:45\u00a0am to 8\u00a0am", "7:45\u00a0am to 8:30\u00a0am"),
    (
        "sheet calendar",
        "DTEND;TZID=America/Los_Angeles:20250709T0",
        "DTEND;TZID=Europe/Rome:20250709T0",
    ),
    ("message", "bench ", "creek "),
    ("evening/index.html", "with the rig", "on dew"),
    ("evening/index.html", "in 10", "in 10, half of it 9 in 10"),
    ("evening/night.json", '"advice": "wait"', '"advice": "go"'),
    ("csv", ",0.672,", ",0.872,"),
    ("screen", "22 of 118", "62 of 118"),
    ("sheet text", "7.5   3.3", "4.5   3.3"),
    ("sheet text", "8 am   8:45 am  rig", "8 am   9:15 am  rig"),
    ("sheet csv", ",7.1667,3.1354,", ",14.5,3.1354,"),
    ("sheet json", '"water_gal": 112.875', '"water_gal": 98.0'),
    ("plan csv", ",427.2784,112.875", ",427.2784,92.875"),
    ("message", "8:15 am 7.5", "8:15 am 5.5"),
    ("sheet calendar", "Rates to dial: 8 am 4.5", "Rates to dial: 8 am 14.5"),
    ("evening/machine-rig.txt", "21.5 gal/ton", "31.5 gal/ton"),
    ("calendar", "On dew: bench", "On dew: creek"),
    (
        "calendar",
        "DTSTART;TZID=America/Los_Angeles:20250709T0730",
        "DTSTART;TZID=America/Los_Angeles:20250709T0630",
    ),
)


@pytest.fixture(scope="module")
def sample():
    return written(SAMPLE)


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: f"{change[0]} {change[1]}")
def test_the_checker_can_fail(change, sample):
    """A word changed in one output is found."""
    kind, old, new = change
    changed = {**sample, kind: sample[kind].replace(old, new)}
    assert changed != sample
    assert found_in(changed), kind
