"""Shared by all tests: the loop of the windrow they take, and a watch on skipped tests."""

from __future__ import annotations

import gc
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

# Kept beside their sources, whatever the surroundings say: to write the asserts of all
# modules anew costs each worker, and each process that a test begins, ten seconds.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

from support.quick import compile_beside, quick_plan, quick_windrow  # noqa: E402

__all__ = ["quick_plan", "quick_windrow"]

ALLOWED_SKIPS = Path(__file__).with_name("allowed_skips.txt")
_unlisted: list[str] = []


def pytest_configure(config: pytest.Config) -> None:
    """Where several workers wait for one compiled loop, begin it before they ask."""
    if not hasattr(config, "workerinput") and config.option.dist != "no":
        begun = compile_beside()
        if begun is not None:
            config.add_cleanup(begun.wait)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Every worker begins with tests that follow no windrow, while its loop is compiled.

    The tests in their order are shared out as runs of equal length, one a worker.
    """
    workers = int(os.environ.get("PYTEST_XDIST_WORKER_COUNT", "1"))
    first = [each for each in items if each.path.parent.name == "weather"]
    rest = [each for each in items if each.path.parent.name != "weather"]
    items[:] = [
        each
        for worker in range(workers)
        for part in (first, rest)
        for each in part[len(part) * worker // workers : len(part) * (worker + 1) // workers]
    ]


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """What is collected stays: no search for garbage goes through it, now or later."""
    gc.disable()
    found = yield
    gc.freeze()
    gc.enable()
    return found


@pytest.hookimpl(wrapper=True)
def pytest_collect_file() -> Iterator[None]:
    """No doctests stand in tests/, and none are looked for: its modules are many."""
    found = yield
    return [node for node in found if type(node) is pytest.Module]


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user of the computer can reach."""
    folder = Path(tempfile.mkdtemp(prefix="hayweather-log-"))
    folder.chmod(0o777)
    yield folder
    folder.chmod(0o777)
    shutil.rmtree(folder)


def allowed_reasons() -> list[str]:
    """Beginnings of the reasons for which a test may be skipped."""
    lines = ALLOWED_SKIPS.read_text(encoding="utf-8").splitlines()
    return [line for line in lines if line and not line.startswith("#")]


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Remember a skip whose reason is not on the list."""
    if not report.skipped or hasattr(report, "wasxfail"):
        return
    reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
    text = reason.removeprefix("Skipped: ")
    if not any(text.startswith(known) for known in allowed_reasons()):
        _unlisted.append(f"{report.nodeid}: {text}")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fail a run that asks for it (HAYWEATHER_CHECK_SKIPS=1) when a skip is not on the list."""
    if _unlisted and os.environ.get("HAYWEATHER_CHECK_SKIPS") == "1":
        print("\nskipped, and not on tests/allowed_skips.txt:", *_unlisted, sep="\n  ")
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
