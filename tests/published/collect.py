"""All checks, from tables, Greeley and reference packages."""

from published import greeley, oracles
from published.checks import Check, table_checks


def all_checks() -> list[Check]:
    """Every check of tests/published."""
    return [*table_checks(), *greeley.checks(), *oracles.checks()]
