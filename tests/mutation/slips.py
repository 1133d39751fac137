"""Slips in forcing, sky, ground, start, layers and mixing, and which tests see them.

``cd tests && python -m mutation slips`` prints a table: killed by the values from
outside alone (published values and the measured series), or by all tests of the
windrow. The cosmic operators of `mutants` change a sign or a number at a time;
these change what a physicist would get wrong.
"""

import re
import tomllib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from .sources import load_libraries, passes, source_of

OUTSIDE = ("tests/measured/test_bondville.py", "tests/published/test_published.py")
OWN = (
    "tests/regression",
    "tests/unit/test_windrow_forcing.py",
    "tests/unit/test_windrow_sky.py",
    "tests/unit/test_windrow_run.py",
    "tests/unit/test_windrow_column.py",
    "tests/unit/test_windrow_hay.py",
    "tests/unit/test_windrow_sorption.py",
    "tests/real/test_summers.py",
    "tests/property/test_windrow_laws.py",
)
TABLE = Path(__file__).with_name("slips.toml")
RUNS = ("tests/mutation/test_runs.py",)
"""A slip that only crashes is no slip: these must pass on it."""
WRAPPER = """

from dataclasses import replace
import numpy as np

_slipped = {name}


def {name}(*args, **kwargs):
    made = _slipped(*args, **kwargs)
    return {result}
"""


@dataclass(frozen=True)
class Slip:
    """One wrong version of a module.

    Attributes
    ----------
    of, what
        What it is of, and what is wrong.
    module
        ``windrow.forcing`` and the like.
    source
        The whole wrong source.
    """

    of: str
    what: str
    module: str
    source: str


@dataclass(frozen=True)
class Seen:
    """Which tests saw a slip."""

    slip: Slip
    outside: bool
    any: bool


def slips() -> list[Slip]:
    """Every slip of the table."""
    rows = tomllib.loads(TABLE.read_text(encoding="utf-8"))["slip"]
    return [Slip(row["of"], row["what"], row["module"], _wrong(row)) for row in rows]


def _wrong(row: dict[str, str]) -> str:
    source = source_of(row["module"])
    if "wraps" in row:
        if not re.search(rf"^def {row['wraps']}\(", source, re.MULTILINE):
            raise ValueError(f"{row['module']} has no function {row['wraps']}")
        return source + WRAPPER.format(name=row["wraps"], result=row["returns"])
    pattern = re.escape(row["find"]).replace("@", r"[\d.]+")
    changed, count = re.subn(pattern, lambda _: row["put"], source)
    if count != 1:
        raise ValueError(f"{row['module']}: {row['find']!r} stands {count} times")
    return changed


def seen(chosen: list[Slip], jobs: int = 2) -> Iterator[Seen]:
    """Run the tests against each slip; the unchanged sources must pass first."""
    load_libraries()
    for tests in (OUTSIDE, OWN):
        if not passes("windrow.sky", source_of("windrow.sky"), tests):
            raise SystemExit(f"the tests do not pass on the unchanged sources: {' '.join(tests)}")
    with ThreadPoolExecutor(jobs) as pool:
        yield from pool.map(_judged, chosen)


def _judged(slip: Slip) -> Seen:
    if not passes(slip.module, slip.source, RUNS):
        raise RuntimeError(f"the slip does not run: {slip.of}: {slip.what}")
    outside = not passes(slip.module, slip.source, OUTSIDE)
    return Seen(slip, outside, outside or not passes(slip.module, slip.source, OWN))


def table(found: list[Seen]) -> str:
    """Every slip and who saw it, and the score below, in Markdown."""
    lines = ["| slip | values from outside | all tests |", "| --- | --- | --- |"]
    words = {True: "killed", False: "**survives**"}
    lines += [
        f"| {each.slip.of}: {each.slip.what} | {words[each.outside]} | {words[each.any]} |"
        for each in found
    ]
    outside, every = (sum(getattr(each, name) for each in found) for name in ("outside", "any"))
    lines.append(f"| all {len(found)} | {outside} killed | {every} killed |")
    return "\n".join(lines) + "\n"
