"""Every value from outside, within its tolerance; the tables stand in data/.

Sorption tables contradict each other: they are an agreement table, each
disagreement on record and held to 0.1 point.
"""

import dataclasses
import re
from functools import cache

import pytest
from docs.tables import differing, shown
from published.checks import TOUCHES, Outcome, limits, outcome, table_checks
from published.collect import all_checks
from published.summary import HEADINGS, hay_line, markdown_table, sources_touching

CHECKS = all_checks()
STATUSES = {
    "published",
    "published, curve fitted to it",
    "from memory",
    "calculated",
    "common practice, no source",
    "reference package",
}
AGREEMENT_LIMITS_WB = ((60, 3.0), (80, 4.5), (93, 12.0))
outcome_of = cache(outcome)


@pytest.mark.slow
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check.piece}-{check.name}")
def test_agrees(check):
    found = outcome_of(check)
    assert found.agrees, found.line()
    assert found.holds_record, f"moved from {check.recorded}: {found.line()}"


@pytest.mark.slow
def test_the_guide_shows_the_table_as_it_is_now():
    """After a change: ``python tests/docs/pages.py`` writes it anew."""
    fresh = markdown_table([outcome_of(check) for check in CHECKS])
    assert differing(shown("validation"), fresh) == []


def test_every_check_names_source_and_status():
    assert {check.status for check in CHECKS} == STATUSES
    assert all(len(check.source) > 5 and check.unit for check in CHECKS)


def test_every_check_names_what_it_touches():
    assert {check.touches for check in CHECKS} == set(TOUCHES)


@pytest.mark.slow
def test_hay_line_counts_sources_and_no_package():
    found = [outcome(check) for check in CHECKS if check.piece in ("Hay: equilibrium", "Water")]
    package = [outcome(check) for check in CHECKS if check.source.startswith("CoolProp")][:1]
    line = hay_line([*found, *package])
    named = sources_touching(found, "hay")
    assert line.startswith(f"Independent sources that touch the hay itself: {len(named)} of ")
    assert {"NRAES-5", "Nash 1978"} < set(named)
    assert "CoolProp" not in line


def test_hay_rows_keep_the_limits_of_the_agreement_table():
    rows = [c for c in table_checks() if c.piece == "Hay: equilibrium" and c.expected is not None]
    assert len(rows) == 16 + 5 + 8 + 1
    for check in rows:
        humidity = float(re.search(r"humidity_percent=([\d.]+)", check.name)[1])
        allowed = next(room for top, room in AGREEMENT_LIMITS_WB if humidity <= top)
        assert check.high - check.expected == pytest.approx(allowed)
        assert check.recorded is not None


def test_greeley_has_sixty_reference_et_values():
    values = [c for c in CHECKS if c.piece == "Reference ET" and "ASCE-EWRI" in c.source]
    assert len(values) == 60
    assert {check.tolerance for check in values} == {"0.0055"}


def test_the_wrong_water_would_fail():
    right = next(c for c in CHECKS if c.name == "water_lb_ton(moisture_wb=10;target_wb=14)")
    assert not Outcome(right, 80.0).agrees


def test_a_check_fails_outside_its_tolerance_and_off_its_record():
    hay = next(c for c in CHECKS if c.recorded is not None and c.expected is not None)
    assert not Outcome(hay, hay.high + 0.01).agrees
    assert Outcome(hay, hay.expected + hay.recorded + 0.09).holds_record
    assert not Outcome(hay, hay.expected + hay.recorded + 0.11).holds_record


@pytest.mark.parametrize(
    ("value", "tolerance", "found"),
    [
        ("10", "0.5", (9.5, 10.5, 10.0)),
        ("-10", "1%", (-10.1, -9.9, -10.0)),
        ("45..130", "", (45.0, 130.0, None)),
    ],
)
def test_limits_of_a_row(value, tolerance, found):
    assert limits(value, tolerance) == pytest.approx(found)


def test_validation_table_tells_counts_and_failures():
    sample = [check for check in CHECKS if check.piece == "Water"]
    found = [outcome(check) for check in sample]
    table = markdown_table(found)
    assert table.splitlines()[0] == "| " + " | ".join(HEADINGS) + " |"
    assert "FAILED" not in table
    wrong = [dataclasses.replace(found[0], computed=99.0), *found[1:]]
    assert "1 FAILED" in markdown_table(wrong)
