"""``learn`` and ``fetch SITES.toml`` killed at random moments: every file old or new, and resumed.

The whole command runs in a process of its own and gets SIGKILL at any moment of it. What it
writes must then be what stood there before or what it writes undisturbed; the same command
again goes on and ends as the undisturbed one, and of a service it asks only what is missing.
A kill or two of each with ``-m slow``, 40 with ``-m long``.
"""

from __future__ import annotations

import random
import shutil
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from cli.test_fetch_processes import hours_in
from cli.test_fetch_sites import ARCHIVE, sites_file
from cli.test_learn import made
from support.children import Ended, begin, done_by, program
from weather import server_answers as answers
from weather.server import WeatherServer

SOME, MANY = 2, 40
SITES = ("bench", "meadow", "rim")


@dataclass
class Killed:
    """A command that is killed.

    Attributes
    ----------
    before, after
        Folders as they were before it, and as it leaves them undisturbed.
    command
        Run with the folder as the current one.
    held
        What a folder holds, by name of each file that the command writes.
    takes_s
        Undisturbed.
    """

    before: Path
    after: Path
    command: tuple[str, ...]
    held: Callable[[Path], dict[str, object]]
    takes_s: float = 0.0

    def whole(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> Ended:
        """The command in a folder, to its end."""
        monkeypatch.chdir(folder)
        monkeypatch.setenv("HAYWEATHER_STORE", str(folder / "store"))
        ended = done_by(program, *self.command)
        assert ended.code == 0, ended.err
        return ended

    def kill(self, folder: Path, after_s: float, monkeypatch: pytest.MonkeyPatch) -> bool:
        """Begin the command there and kill it so long after; whether it still ran."""
        shutil.copytree(self.before, folder)
        monkeypatch.chdir(folder)
        monkeypatch.setenv("HAYWEATHER_STORE", str(folder / "store"))
        child = begin(program, *self.command)
        time.sleep(after_s)
        child.process.kill()
        return child.wait().code == -signal.SIGKILL


def check_kills(case: Killed, kills: int, folder: Path, monkeypatch: pytest.MonkeyPatch) -> dict:
    """Every file old or new after each kill, new after the next run; how many were which."""
    old, new = case.held(case.before), case.held(case.after)
    assert set(old) <= set(new)
    assert all(old.get(name) != new[name] for name in new)
    chance = random.Random(kills)
    counted = {"killed": 0, "old": 0, "new": 0}
    for number in range(kills):
        place = folder / f"killed {number}"
        after_s = chance.uniform(0.0, case.takes_s)
        while not case.kill(place, after_s, monkeypatch):  # it was done before, quicker than once
            assert case.held(place) == new
            shutil.rmtree(place)
            after_s /= 2
        counted["killed"] += 1
        for name, content in case.held(place).items():
            assert content in (old.get(name), new[name]), f"half a file: {name}"
            counted["new" if content == new[name] else "old"] += 1
        case.whole(place, monkeypatch)
        assert case.held(place) == new
        shutil.rmtree(place)
    return counted


def case_of(folder: Path, command: tuple[str, ...], held: Callable, monkeypatch) -> Killed:
    """A command on the folder `before`, once undisturbed."""
    case = Killed(folder / "before", folder / "after", command, held)
    shutil.copytree(case.before, case.after)
    begun = time.monotonic()
    case.whole(case.after, monkeypatch)
    case.takes_s = time.monotonic() - begun
    return case


LEARNED = "farm.learned.json"


def learning(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Killed:
    """`learn` over a file of fewer nights."""
    before = folder / "before"
    before.mkdir()
    _, command = made(before, 28)
    late = sorted((before / "issued").iterdir())[21:]
    (before / "late").mkdir()
    for path in late:
        path.rename(before / "late" / path.name)
    names = tuple(each.replace(f"{before}/", "") for each in command)
    monkeypatch.chdir(before)
    assert done_by(program, *names).code == 0
    for path in (before / "late").iterdir():
        path.rename(before / "issued" / path.name)
    return case_of(folder, names, learned_held, monkeypatch)


def learned_held(folder: Path) -> dict[str, object]:
    return {LEARNED: (folder / LEARNED).read_text(encoding="utf-8")}


@pytest.mark.slow
def test_learn_killed(tmp_path, monkeypatch):
    assert check_kills(learning(tmp_path, monkeypatch), 1, tmp_path, monkeypatch)["killed"] == 1


@pytest.fixture
def server(monkeypatch):
    def again(name: str, first: int = 0, hours: int = answers.HOURS) -> list[float]:
        days = answers.real_hours()
        return [days[(first + hour) % len(days)][name] for hour in range(hours)]

    monkeypatch.setattr(answers, "real", again)
    with WeatherServer() as found:
        for name, value in found.environment().items():
            monkeypatch.setenv(name, value)
        yield found


def fetching(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Killed:
    """`fetch SITES.toml` of two years over files of one."""
    before = folder / "before"
    before.mkdir()
    sites_file(before, **dict.fromkeys(SITES, ARCHIVE))
    command = ("fetch", "sites.toml", "--to", "past", "--years")
    Killed(before, before, (*command, "2014"), past_held).whole(before, monkeypatch)
    return case_of(folder, (*command, "2014:2015"), past_held, monkeypatch)


def past_held(folder: Path) -> dict[str, object]:
    return {path.name: hours_in(path) for path in (folder / "past").glob("[!.]*")}


def check_fetch(kills: int, server: WeatherServer, folder: Path, monkeypatch) -> dict:
    case = fetching(folder, monkeypatch)
    before = len(server.seen)
    counted = check_kills(case, kills, folder, monkeypatch)
    asked = len(server.seen) - before
    # A place and a year each site, and again what a kill has cut off in the middle.
    assert asked <= kills * (len(SITES) * 2 + 1)
    return counted


@pytest.mark.slow
def test_fetch_of_sites_killed(server, tmp_path, monkeypatch):
    assert check_fetch(SOME, server, tmp_path, monkeypatch)["killed"] == SOME


@pytest.mark.long
def test_learn_killed_at_many_moments(tmp_path, monkeypatch):
    counted = check_kills(learning(tmp_path, monkeypatch), MANY, tmp_path, monkeypatch)
    print(f"\nlearn: {counted}")
    assert counted["old"] > 0


@pytest.mark.long
def test_fetch_of_sites_killed_at_many_moments(server, tmp_path, monkeypatch):
    counted = check_fetch(MANY, server, tmp_path, monkeypatch)
    print(f"\nfetch SITES.toml: {counted}")
    assert counted["old"] > 0
    assert counted["new"] > 0
