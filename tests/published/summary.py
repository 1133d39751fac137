"""The validation table: outcomes in, Markdown out.

A reference package is one source beside our formulas: its points are no
published values and are not counted.
"""

import re
from collections.abc import Iterable

from published.checks import TOUCHES, Check, Outcome

PACKAGE = "reference package"
OUTSIDE = ("published", "published, curve fitted to it", "from memory")
FITTED = "published, curve fitted to it"
HEADINGS = ("touches", "piece", "source", "status", "checks", "worst disagreement", "tolerance")


def source_head(check: Check) -> str:
    """Author and year, without what follows the first semicolon."""
    return check.source.split(";")[0]


def author(check: Check) -> str:
    """The source without what follows the year, the first comma or the semicolon."""
    found = re.match(r"(.*?(?:19|20)\d\d)", source_head(check))
    return found[1] if found else source_head(check).split(",")[0]


def _place(check: Check) -> tuple[int, str]:
    return TOUCHES.index(check.touches), check.piece


def group_outcomes(outcomes: Iterable[Outcome]) -> dict[tuple[str, ...], list[Outcome]]:
    """Outcomes of one piece, source, status, unit and tolerance together, the hay first."""
    groups: dict[tuple[str, ...], list[Outcome]] = {}
    for each in sorted(outcomes, key=lambda item: _place(item.check)):
        check = each.check
        allowed = "range" if check.expected is None else check.tolerance
        key = (check.touches, check.piece, source_head(check), check.status, check.unit, allowed)
        groups.setdefault(key, []).append(each)
    return groups


def strain(outcome: Outcome) -> float:
    """How far toward the limit: 0 in the middle of what is allowed, 1 at its edge."""
    low, high = outcome.check.low, outcome.check.high
    return abs(outcome.computed - (low + high) / 2) / ((high - low) / 2)


def agreement_cells(outcome: Outcome) -> tuple[str, str]:
    """Worst disagreement and tolerance, with unit."""
    check = outcome.check
    unit = "" if check.unit == "-" else f" {check.unit}"
    if check.expected is None:
        return f"{outcome.computed:.3g}{unit}", f"{check.tolerance}{unit}"
    if check.relative:
        share = 100 * outcome.disagreement / check.expected
        return f"{share:+.2g} % of value", f"{check.tolerance.rstrip('%')} % of value"
    return f"{outcome.disagreement:+.2g}{unit}", f"{check.tolerance}{unit}"


def table_rows(outcomes: Iterable[Outcome]) -> list[tuple[str, ...]]:
    """One row a group; the check nearest its limit stands for the group."""
    rows = []
    for (touches, piece, source, status, *_), members in group_outcomes(outcomes).items():
        cells = agreement_cells(max(members, key=strain))
        failed = sum(not each.agrees for each in members)
        marked = f"{len(members)}, {failed} FAILED" if failed else str(len(members))
        rows.append((touches, piece, source, status, marked, *cells))
    return rows


def status_line(outcomes: Iterable[Outcome]) -> str:
    """How many checks there are of each status, and how many do not agree."""
    counts: dict[str, int] = {}
    failed = 0
    for each in outcomes:
        counts[each.check.status] = counts.get(each.check.status, 0) + 1
        failed += not each.agrees
    by_status = ", ".join(f"{status} {count}" for status, count in sorted(counts.items()))
    return f"Checks by status: {by_status}. Not in agreement: {failed}."


def sources_touching(outcomes: Iterable[Outcome], touched: str) -> dict[str, set[str]]:
    """Independent sources of what is touched, and the statuses of their checks."""
    found: dict[str, set[str]] = {}
    for each in outcomes:
        check = each.check
        if check.touches == touched and check.status in OUTSIDE:
            found.setdefault(author(check), set()).add(check.status)
    return found


def hay_line(outcomes: Iterable[Outcome]) -> str:
    """How many independent sources touch the hay itself, in one line."""
    found = list(outcomes)
    hay = sources_touching(found, "hay")
    fitted = sum(FITTED in statuses for statuses in hay.values())
    every = set[str]().union(*(sources_touching(found, touched) for touched in TOUCHES))
    return (
        f"Independent sources that touch the hay itself: {len(hay)} of {len(every)} "
        f"({', '.join(sorted(hay))}), {fitted} of them fitted to; "
        "none is a night measured inside a cured windrow."
    )


def markdown_table(outcomes: Iterable[Outcome]) -> str:
    """The validation table in Markdown, and below it the hay's own sources and the counts."""
    found = list(outcomes)
    lines = [HEADINGS, ("---",) * len(HEADINGS), *table_rows(found)]
    table = "\n".join(f"| {' | '.join(cells)} |" for cells in lines)
    return f"{table}\n\n{hay_line(found)}\n{status_line(found)}\n"
