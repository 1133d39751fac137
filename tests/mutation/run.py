"""Run a module's tests against its mutants: a forked process each, nothing on disk changed."""

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from .mutants import Mutant, mutants_of
from .sources import load_libraries, passes, source_of

TESTS = {
    "windrow.sorption": (
        "tests/unit/test_windrow_sorption.py",
        "tests/regression/test_night.py",
        "tests/published/test_published.py",
    ),
    "windrow.skin": (
        "tests/unit/test_windrow_column.py",
        "tests/measured/test_bondville.py",
        "tests/regression/test_night.py",
        "tests/published/test_published.py",
        "tests/regression/test_step.py",
    ),
    "baling.calls": (
        "tests/unit/test_baling_calls.py",
        "tests/unit/test_baling_hours.py",
        "tests/unit/test_baling_reasons.py",
    ),
    "baling.water": (
        "tests/unit/test_baling_water.py",
        "tests/unit/test_baling_runsheet.py",
        "tests/published/test_published.py",
    ),
    "baling.advice": (
        "tests/unit/test_baling_advice.py",
        "tests/unit/test_baling_chances.py",
    ),
    "baling.windows": (
        "tests/unit/test_baling_windows.py",
        "tests/unit/test_baling_headline.py",
    ),
    "baling.hours": (
        "tests/unit/test_baling_hours.py",
        "tests/unit/test_baling_reasons.py",
        "tests/unit/test_baling_cautions.py",
        "tests/unit/test_baling_calls.py",
    ),
    "baling.headline": ("tests/unit/test_baling_headline.py",),
    "baling.value": ("tests/unit/test_baling_value.py",),
    "plan.task": ("tests/unit/test_plan_task.py", "tests/unit/test_fields_solve.py"),
    "plan.candidates": (
        "tests/unit/test_plan_results.py",
        "tests/unit/test_fields_reasons.py",
        "tests/unit/test_plan_loss_range.py",
    ),
    "plan.results": (
        "tests/unit/test_plan_results.py",
        "tests/unit/test_fields_reasons.py",
        "tests/unit/test_fields_parts.py",
        "tests/unit/test_fields_plan.py",
    ),
    "plan.sheet_walk": ("tests/unit/test_plan_work.py", "tests/unit/test_baling_runsheet.py"),
    "plan.work": (
        "tests/unit/test_plan_work.py",
        "tests/unit/test_plan_results.py",
        "tests/unit/test_plan_carried_out.py",
        "tests/unit/test_baling_runsheet.py",
    ),
    "plan.pace": (
        "tests/unit/test_plan_pace.py",
        "tests/unit/test_fields_parts.py",
        "tests/unit/test_baling_runsheet.py",
    ),
}
"""The tests that hold a module, quickest first: the first failure ends a run."""


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant, and in how many seconds."""

    mutant: Mutant
    killed: bool
    seconds: float


def outcomes(module: str, mutants: list[Mutant], jobs: int = 2) -> Iterator[Outcome]:
    """Run the tests against each mutant, in order; the unchanged file must pass first."""
    load_libraries()
    if not passes(module, source_of(module), TESTS[module]):
        raise SystemExit(f"{module}: its tests do not pass on the unchanged source")
    with ThreadPoolExecutor(jobs) as pool:
        yield from pool.map(lambda each: _judged(module, each), mutants)


def all_mutants(module: str) -> list[Mutant]:
    """List the mutants of a module."""
    return list(mutants_of(source_of(module)))


def _judged(module: str, mutant: Mutant) -> Outcome:
    begun = time.monotonic()
    killed = not passes(module, mutant.source, TESTS[module])
    return Outcome(mutant, killed, time.monotonic() - begun)
