"""One record a check: what is compared with what, how close it must be, how close it is.

A table of tests/published/data has the columns

==========  ================================================================
touches     hay (the windrow's own moisture) / skin / air / sun / machine / money /
            safety
piece       what of the project is looked at
quantity    function of `published.quantities`
inputs      ``name=value`` pairs, ``;`` between
value       the value from outside, or ``low..high``
tolerance   in the unit of the value, or with ``%`` relative to it
status      published / from memory / calculated / common practice / package
source      author, year, table
recorded    disagreement (or, beside a range, value) found when it was entered;
            a check fails when it moves by more than 0.1
==========  ================================================================
"""

import csv
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

from published.quantities import find_quantity

DATA = Path(__file__).parent / "data"
RECORDED_MOVES = 0.1
ROUNDING = 1e-9
TOUCHES = ("hay", "skin", "air", "sun", "machine", "money", "safety")


@dataclass(frozen=True)
class Check:
    """A value from outside, and how to compute ours.

    Attributes
    ----------
    touches
        What it speaks of, one of `TOUCHES`.
    low, high
        Where ours must lie.
    expected
        The value from outside; None where it is a range.
    tolerance
        As printed.
    relative
        True when agreement is told in percent of the expected value.
    compute
        Gives ours.
    recorded
        Disagreement, or value beside a range, on record; None where not kept.
    """

    touches: str
    piece: str
    name: str
    source: str
    status: str
    unit: str
    low: float
    high: float
    expected: float | None
    tolerance: str
    relative: bool
    compute: Callable[[], float]
    recorded: float | None = None


@dataclass(frozen=True)
class Outcome:
    """A check with our value."""

    check: Check
    computed: float

    @property
    def disagreement(self) -> float:
        """Ours less theirs; beside a range, our value itself."""
        expected = self.check.expected
        return self.computed if expected is None else self.computed - expected

    @property
    def agrees(self) -> bool:
        """True within the tolerance."""
        return self.check.low - ROUNDING <= self.computed <= self.check.high + ROUNDING

    @property
    def holds_record(self) -> bool:
        """True where the disagreement is the recorded one, or none was recorded."""
        recorded = self.check.recorded
        return recorded is None or abs(self.disagreement - recorded) <= RECORDED_MOVES + ROUNDING

    def line(self) -> str:
        """The check in words."""
        check = self.check
        theirs = check.tolerance if check.expected is None else f"{check.expected:g}"
        return (
            f"{check.touches} | {check.piece} | {check.name}: "
            f"ours {self.computed:.5g}, theirs {theirs}, "
            f"disagreement {self.disagreement:+.4g} {check.unit}, tolerance {check.tolerance} "
            f"({check.status}; {check.source})"
        )


def limits(value: str, tolerance: str) -> tuple[float, float, float | None]:
    """Lowest and highest allowed, and the expected value."""
    if ".." in value:
        low, high = (float(part) for part in value.split(".."))
        return low, high, None
    expected = float(value)
    relative = tolerance.endswith("%")
    room = abs(expected) * float(tolerance[:-1]) / 100 if relative else float(tolerance)
    return expected - room, expected + room, expected


def parse_inputs(text: str) -> dict[str, float | str]:
    """``a=1;b=x`` as a dictionary; numbers where they are numbers."""
    found: dict[str, float | str] = {}
    for pair in text.split(";"):
        name, value = pair.split("=")
        try:
            found[name] = float(value)
        except ValueError:
            found[name] = value
    return found


def check_of(row: dict[str, str]) -> Check:
    """One line of a table."""
    low, high, expected = limits(row["value"], row["tolerance"])
    inputs, quantity = parse_inputs(row["inputs"]), find_quantity(row["quantity"])
    return Check(
        touches=row["touches"],
        piece=row["piece"],
        name=f"{row['quantity']}({row['inputs']})",
        source=row["source"],
        status=row["status"],
        unit=row["unit"],
        low=low,
        high=high,
        expected=expected,
        tolerance=row["tolerance"] or row["value"].replace("..", " to "),
        relative=row["tolerance"].endswith("%"),
        compute=lambda: float(quantity(**inputs)),
        recorded=float(row["recorded"]) if row["recorded"] else None,
    )


def read_table(path: Path) -> list[Check]:
    """All checks of one table."""
    with path.open(newline="") as file:
        return [check_of(row) for row in csv.DictReader(file)]


def table_checks() -> list[Check]:
    """The checks of every table in data/ but Greeley, which has its own shape."""
    tables = sorted(DATA.glob("*.csv"))
    return [check for path in tables if path.stem != "greeley_hours" for check in read_table(path)]


def outcome(check: Check) -> Outcome:
    """Compute ours."""
    return Outcome(check, check.compute())


def outcomes(checks: Iterable[Check]) -> list[Outcome]:
    """Compute ours for each."""
    return [outcome(check) for check in checks]
