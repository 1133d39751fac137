"""Processes that begin with everything imported: forked from a server that has it.

For tests of what a process does (what it prints, its memory, its exit), not of how
one begins: importing takes a second each time, a fork some milliseconds.
"""

import os
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from multiprocessing import forkserver, get_context
from multiprocessing.process import BaseProcess
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
FORKS = get_context("forkserver")
FORKS.set_forkserver_preload(["support.preloaded"])


@cache
def serve() -> None:
    """Start the server, which finds the folders of tests/ by its environment."""
    paths = [str(TESTS), str(TESTS.parent), os.environ.get("PYTHONPATH", "")]
    with pytest.MonkeyPatch.context() as here:
        here.setenv("PYTHONPATH", os.pathsep.join(filter(None, paths)))
        here.setenv("HAYWEATHER_TESTS_SERVER", "1")
        forkserver.ensure_running()


@dataclass(frozen=True)
class Ended:
    """What a process left: its exit code (negative: the signal that ended it) and its output."""

    code: int
    out: str
    err: str


@dataclass(frozen=True)
class Child:
    """A process that was begun, and the folder that holds its output."""

    process: BaseProcess
    folder: tempfile.TemporaryDirectory[str]

    def wait(self, most_s: float = 60.0) -> Ended:
        """Its end; a process that does not come to one is killed and fails the test."""
        self.process.join(most_s)
        if self.process.exitcode is None:
            self.process.kill()
            self.process.join()
            raise AssertionError(f"no end within {most_s} s")
        out, err = (Path(self.folder.name, name).read_text("utf-8") for name in ("out", "err"))
        code = self.process.exitcode
        self.process.close()
        self.folder.cleanup()
        return Ended(code, out, err)


def begin(task: Callable[..., object], *arguments: object) -> Child:
    """Begin a function of a module in a process; its result is not handed back."""
    serve()
    folder = tempfile.TemporaryDirectory()
    given = (task, arguments, folder.name, Path.cwd(), dict(os.environ))
    process = FORKS.Process(target=_work, args=given)
    process.start()
    return Child(process, folder)


def done_by(task: Callable[..., object], *arguments: object) -> Ended:
    """A function in a process of its own, to its end."""
    return begin(task, *arguments).wait()


def program(*arguments: object) -> None:
    """What ``python -m hayweather`` does."""
    from hayweather.cli.main import run

    sys.exit(run([str(argument) for argument in arguments]))


def _work(
    task: Callable[..., object],
    arguments: tuple[object, ...],
    folder: str,
    current: Path,
    environment: dict[str, str],
) -> None:
    """In the child: output to files, the folder and the environment of who asked."""
    os.environ.clear()
    os.environ.update(environment)
    os.chdir(current)
    for number, name in ((1, "out"), (2, "err")):
        place = os.open(Path(folder, name), os.O_WRONLY | os.O_CREAT)
        os.dup2(place, number)
        os.close(place)
    task(*arguments)
