"""Tests take the compiled loop where there is one; it is compiled once.

Both loops give the same to 1e-9 (`test_compiled_agrees`), the compiled one in a
fiftieth of the time for the single nights that these tests look at. Tests of the
loops themselves, and of run times, take what a run takes by itself.
"""

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from support.nights import HIGH_PLACE, weather_of_test_night

from hayweather.plan import solve
from hayweather.weather.record import HourlyWeather
from hayweather.windrow import run
from hayweather.windrow.compiled import fingerprint
from hayweather.windrow.parameters import WindrowParameters

BY_ITSELF = (
    "unit.test_windrow_", "unit.test_compiled_", "regression.test_lanes", "speed.",
)  # fmt: skip
"""Beginnings of the modules in which a run takes its loop by itself."""
BY_NUMPY = "HAYWEATHER_TESTS_BY_NUMPY"
"""Set to 1: no test takes the compiled loop unless it names it."""


@pytest.fixture(autouse=True, scope="module")
def quick_windrow(request: pytest.FixtureRequest) -> Iterator[None]:
    name = f"{request.path.parent.name}.{request.path.stem}"
    with pytest.MonkeyPatch.context() as here:
        here.setattr(run, "_STAYS", False)  # a server that was tested before may have set it
        if asked_for() and not name.startswith(BY_ITSELF):
            here.setattr(run, "_worth_compiling", compiled_where_it_can_be)
        yield


def asked_for() -> bool:
    """Whether the compiled loop is to be taken, which is the rule."""
    return os.environ.get(BY_NUMPY) != "1"


def compiled_where_it_can_be(weather: HourlyWeather) -> bool:
    """For runs of every size."""
    if not run.has_compiled_loop():
        return False
    compile_once()
    return True


@cache
def compile_once() -> None:
    """One worker compiles, the others wait and then read what it kept on disk."""
    try:
        import fcntl
    except ImportError:  # not on this system: each worker compiles for itself
        return
    mine = f"hayweather-compiles-{fingerprint()[:16]}.lock"
    with Path(tempfile.gettempdir(), mine).open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        _compile(single=False)


def _compile(single: bool) -> None:
    run.run(
        weather_of_test_night(), HIGH_PLACE, WindrowParameters(), loop="compiled", single=single
    )


def compile_beside() -> "subprocess.Popen[bytes] | None":
    """In a tree that has no compiled loop yet: make it while the workers still collect."""
    kept = Path(run.__file__).with_name("compiled") / "__pycache__"
    if not asked_for() or not run.has_compiled_loop() or any(kept.glob("*.nbi")):
        return None
    begin = "from support import quick; quick.compile_once(); quick._compile(single=True)"
    surroundings = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    return subprocess.Popen([sys.executable, "-c", begin], env=surroundings)


OWN_PLANS = ("unit.test_fields_", "unit.test_plan_", "cli.test_fields", "docs.", "speed.", "page.")
"""Beginnings of the modules in which the plan is looked for as users have it."""


@pytest.fixture(autouse=True, scope="module")
def quick_plan(request: pytest.FixtureRequest) -> Iterator[None]:
    """A short look for the plan, where what is looked at is not how good it is."""
    name = f"{request.path.parent.name}.{request.path.stem}"
    if name.startswith(OWN_PLANS):
        yield
        return
    with pytest.MonkeyPatch.context() as here:
        here.setattr(solve, "FIRST_STEPS", 40)
        here.setattr(solve, "MORE_STEPS", 10)
        here.setattr(solve, "STALE", 4)
        here.setattr(solve, "SMALL", 20)
        yield
