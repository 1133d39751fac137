"""The validation table: outcomes in, Markdown out."""

from collections.abc import Iterable

from published.checks import Check, Outcome

HEADINGS = ("piece", "source", "status", "checks", "worst disagreement", "tolerance")


def source_head(check: Check) -> str:
    """Author and year, without what follows the first semicolon."""
    return check.source.split(";")[0]


def group_outcomes(outcomes: Iterable[Outcome]) -> dict[tuple[str, ...], list[Outcome]]:
    """Outcomes of one piece, source, status, unit and tolerance together, in order of the piece."""
    groups: dict[tuple[str, ...], list[Outcome]] = {}
    for each in sorted(outcomes, key=lambda item: item.check.piece):
        check = each.check
        allowed = "range" if check.expected is None else check.tolerance
        key = (check.piece, source_head(check), check.status, check.unit, allowed)
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
    for (piece, source, status, *_), members in group_outcomes(outcomes).items():
        count = sum(each.check.count for each in members)
        cells = agreement_cells(max(members, key=strain))
        failed = sum(not each.agrees for each in members)
        marked = f"{count}, {failed} FAILED" if failed else str(count)
        rows.append((piece, source, status, marked, *cells))
    return rows


def status_line(outcomes: Iterable[Outcome]) -> str:
    """How many checks there are of each status, and how many do not agree."""
    counts: dict[str, int] = {}
    failed = 0
    for each in outcomes:
        counts[each.check.status] = counts.get(each.check.status, 0) + each.check.count
        failed += not each.agrees
    by_status = ", ".join(f"{status} {count}" for status, count in sorted(counts.items()))
    return f"Checks by status: {by_status}. Not in agreement: {failed}."


def markdown_table(outcomes: Iterable[Outcome]) -> str:
    """The validation table in Markdown, and the counts by status below it."""
    found = list(outcomes)
    lines = [HEADINGS, ("---",) * len(HEADINGS), *table_rows(found)]
    table = "\n".join(f"| {' | '.join(cells)} |" for cells in lines)
    return f"{table}\n\n{status_line(found)}\n"
