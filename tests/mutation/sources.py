"""Another source than the file's for one module, and the tests run on it in a forked process."""

import importlib
import importlib.abc
import importlib.util
import os
import signal
import sys
import time
from collections.abc import Sequence
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType

TOP = Path(__file__).parents[2]
LONGEST_S = 300
"""Wrong sources whose tests take longer hang: they count as killed."""
LIBRARIES = (
    "pytest",
    "hypothesis",
    "numpy.testing",
    "scipy.optimize",
    "pandas",
    "metpy.calc",
    "psychrolib",
    "pvlib",
    "refet",
    "CoolProp.CoolProp",
    "typer.testing",
    "jinja2",
)


class Swap(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module another source than the file's."""

    def __init__(self, name: str, source: str) -> None:
        self.name, self.source = name, source
        self.path = str(TOP / (name.replace(".", "/") + ".py"))

    def find_spec(self, name: str, path: object, target: object = None) -> ModuleSpec | None:
        """Answer for that module only."""
        if name != self.name:
            return None
        return importlib.util.spec_from_file_location(name, self.path, loader=self)

    def create_module(self, spec: ModuleSpec) -> None:
        """Leave the making to Python."""

    def exec_module(self, module: ModuleType) -> None:
        """Run the other source as the module."""
        exec(compile(self.source, self.path, "exec"), module.__dict__)


def source_of(module: str) -> str:
    """Source of ``windrow.skin`` and the like."""
    return (TOP / "hayweather" / (module.replace(".", "/") + ".py")).read_text(encoding="utf-8")


def load_libraries() -> None:
    """Import what is large once, so that a fork has it; nothing of hayweather."""
    os.chdir(TOP)
    os.environ.update(OPENBLAS_NUM_THREADS="1", OMP_NUM_THREADS="1", MPLBACKEND="Agg")
    os.environ["HAYWEATHER_TESTS_BY_NUMPY"] = "1"  # the compiled loop is built from the files
    for name in LIBRARIES:
        importlib.import_module(name)
    if any(name.split(".")[0] == "hayweather" for name in sys.modules):
        raise RuntimeError("hayweather was loaded before the mutants")


def passes(module: str, source: str, tests: Sequence[str]) -> bool:
    """True where the tests pass on that source of the module."""
    child = os.fork()
    if child == 0:
        os._exit(_tested(module, source, tests))
    status = _ended(child)
    return status is not None and os.waitstatus_to_exitcode(status) == 0


def _ended(child: int) -> int | None:
    """Exit status of a child, or None after it had to be stopped."""
    end = time.monotonic() + LONGEST_S
    while time.monotonic() < end:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            return status
        time.sleep(0.02)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return None


def _tested(module: str, source: str, tests: Sequence[str]) -> int:
    """In the child: the tests on this source, without a word; 0 when all pass."""
    import pytest

    quiet = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(quiet, stream)
    sys.meta_path.insert(0, Swap(f"hayweather.{module}", source))
    sys.dont_write_bytecode = True
    try:
        asked = ["-x", "-q", "-n", "0", "-p", "no:cacheprovider"]
        asked += ["-W", "ignore::pytest.PytestAssertRewriteWarning"]  # plugins loaded before
        return int(pytest.main([*asked, *tests]))
    except BaseException:
        return 1
