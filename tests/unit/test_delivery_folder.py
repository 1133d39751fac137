"""The folder: whole the old one or whole the new one, never over what is somebody's own."""

import json
import os
import random
import resource
import signal
import sys
import time
from multiprocessing import get_context
from pathlib import Path

import pytest

from hayweather.delivery import folder as folders
from hayweather.delivery.folder import MARK, Owner, Place
from hayweather.errors import OutputError

HILL, DALE = Owner("k1", "Hill"), Owner("k2", "Dale")
NAMES = [f"page-{number}.html" for number in range(12)]
KILLS = 6


def contents(letter: str) -> dict[str, str]:
    """Files of one night: all of one letter."""
    return dict.fromkeys(NAMES, letter * 20000)


def held(folder: Path) -> str:
    """The letter of the night that stands there, all of it; fails where it is a mixture."""
    assert {item.name for item in folder.iterdir()} == {*NAMES, MARK}
    texts = {(folder / name).read_text() for name in NAMES}
    assert len(texts) == 1, "two nights in one folder"
    (text,) = texts
    assert len(text) == 20_000, "half a file"
    return text[0]


def put(place: Place, letter: str) -> None:
    with place.locked():
        place.put(contents(letter))


def no_exchange(monkeypatch) -> None:
    """A system that cannot exchange two names."""
    monkeypatch.setattr(folders, "exchange", lambda one, other: False)


@pytest.mark.parametrize("system", ["exchange", "two renames"])
def test_a_new_night_takes_the_place_of_the_old(tmp_path, monkeypatch, system):
    if system == "two renames":
        no_exchange(monkeypatch)
    place = Place(tmp_path / "www", [HILL], several=False)
    for letter in "abc":
        put(place, letter)
        assert held(tmp_path / "www") == letter
    assert os.listdir(place.beside) == ["lock"]


def test_what_was_set_aside_by_a_killed_process_is_put_back(tmp_path, monkeypatch):
    """Without an exchange of names there is a moment without a folder; the next run ends it."""
    place = Place(tmp_path / "www", [HILL], several=False)
    put(place, "a")
    no_exchange(monkeypatch)
    true_rename, calls = os.rename, []

    def killed_after_the_first(one, other):
        calls.append(one)
        if len(calls) > 1:
            raise KeyboardInterrupt
        true_rename(one, other)

    monkeypatch.setattr(os, "rename", killed_after_the_first)
    with pytest.raises(KeyboardInterrupt), place.locked():
        place.put(contents("b"))
    assert not (tmp_path / "www").exists()
    monkeypatch.setattr(os, "rename", true_rename)
    with place.locked():
        assert held(tmp_path / "www") == "a"


def write_on(path: Path) -> None:
    """What the process that is killed does."""
    place = Place(path, [HILL], several=False)
    while True:
        for letter in "bc":
            put(place, letter)


def kill_in_a_write(path: Path, chance: random.Random) -> None:
    """Let a process write for a while and kill it."""
    process = get_context("fork").Process(target=write_on, args=(path,))
    process.start()
    time.sleep(chance.uniform(0.02, 0.15))
    process.kill()
    process.join()
    assert process.exitcode == -signal.SIGKILL


def check_kills(path: Path, kills: int) -> set[str]:
    put(Place(path, [HILL], several=False), "a")
    chance = random.Random(kills)
    seen = set()
    for _ in range(kills):
        kill_in_a_write(path, chance)
        seen.add(held(path))
    put(Place(path, [HILL], several=False), "d")
    assert held(path) == "d"
    assert set(os.listdir(Place(path, [HILL], several=False).beside)) == {"lock"}
    return seen


fork_of_threads = pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")
needs_exchange = pytest.mark.skipif(
    sys.platform not in ("linux", "darwin"), reason="names cannot be exchanged here"
)


@fork_of_threads
@needs_exchange
def test_killed_at_some_moments(tmp_path):
    check_kills(tmp_path / "www", KILLS)


@pytest.mark.long
@fork_of_threads
@needs_exchange
def test_killed_at_a_hundred_moments(tmp_path):
    assert check_kills(tmp_path / "www", 100) >= {"b", "c"}


@fork_of_threads
@needs_exchange
def test_files_written_in_place_are_found_out(tmp_path, monkeypatch):
    """The check can fail."""

    def in_place(self, files, inside=""):
        for name, text in {**files, MARK: self._marked(files)}.items():
            (self.path / name).write_text(text)
            time.sleep(0.002)

    path = tmp_path / "www"
    put(Place(path, [HILL], several=False), "a")
    monkeypatch.setattr(Place, "put", in_place)
    with pytest.raises(AssertionError):
        check_kills(path, 20)


def full(path: Path) -> None:
    """In a child: a disk on which no file may grow beyond a few bytes."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (9_000, 9_000))
    place = Place(path, [HILL], several=False)
    try:
        put(place, "b")
    except OutputError as problem:
        print(problem.line())
        os._exit(2)


@fork_of_threads
def test_a_full_disk_leaves_the_old_night(tmp_path):
    path = tmp_path / "www"
    place = Place(path, [HILL], several=False)
    put(place, "a")
    process = get_context("fork").Process(target=full, args=(path,))
    process.start()
    process.join()
    assert process.exitcode == 2
    assert held(path) == "a"
    assert os.listdir(place.beside) == ["lock"]


def turns(path: Path, letter: str) -> None:
    """In a child: many nights, each noted in the state."""
    place = Place(path, [HILL], several=False)
    for number in range(10):
        with place.locked():
            place.put(contents(letter))
            state = place.state()
            place.keep_state({**state, f"{letter}{number}": True})


@fork_of_threads
def test_two_at_once_lose_nothing(tmp_path):
    path = tmp_path / "www"
    both = [get_context("fork").Process(target=turns, args=(path, letter)) for letter in "ab"]
    for process in both:
        process.start()
    for process in both:
        process.join()
    assert [process.exitcode for process in both] == [0, 0]
    assert held(path) in "ab"
    state = Place(path, [HILL], several=False).state()
    assert set(state) == {f"{letter}{number}" for letter in "ab" for number in range(10)}


def mine(folder: Path) -> None:
    (folder / "www").mkdir()
    (folder / "www" / "photo.jpg").write_bytes(b"mine")


def beside_ours(folder: Path) -> None:
    put(Place(folder / "www", [HILL], several=False), "a")
    (folder / "www" / "photo.jpg").write_bytes(b"mine")


def looks_like_ours(folder: Path) -> None:
    (folder / "www").mkdir()
    (folder / "www" / MARK).write_text('{"schema": "something/1", "farms": [], "files": ["x"]}')
    (folder / "www" / "x").write_text("mine")


def a_link(folder: Path) -> None:
    (folder / "else").mkdir()
    (folder / "else" / "photo.jpg").write_bytes(b"mine")
    (folder / "www").symlink_to("else")


def a_file(folder: Path) -> None:
    (folder / "www").write_text("mine")


@pytest.mark.parametrize("before", [mine, beside_ours, looks_like_ours, a_link, a_file])
def test_what_is_somebody_s_own_is_never_lost(tmp_path, before):
    before(tmp_path)
    kept = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    place = Place(tmp_path / "www", [HILL], several=False)
    with pytest.raises(OutputError) as problem:
        place.check([])
    assert problem.value.key in ("folder_not_ours", "folder_is_file")
    with pytest.raises(OutputError), place.locked():
        place.put(contents("b"))
    left = {path: path.read_bytes() for path in kept}
    assert left == kept


def test_files_that_the_run_reads_and_other_farms_nights_are_refused(tmp_path):
    own = Place(tmp_path / "www", [HILL], several=False)
    put(own, "a")
    own.check([tmp_path / "farm.toml", None])
    for place, read, key in (
        (own, [tmp_path / "www" / "farm.toml"], "folder_holds_read"),
        (Place(tmp_path / "www", [DALE], several=False), [], "folder_other_farm"),
        (Place(tmp_path / "www", [HILL, DALE], several=True), [], "folder_other_farm"),
    ):
        with pytest.raises(OutputError) as problem:
            place.check(read)
        assert problem.value.key == key
    Place(tmp_path / "www", [Owner("k1", "Hill Farm")], several=False).check([])  # renamed
    Place(tmp_path / "www", [Owner("k9", "Hill")], several=False).check([])  # moved


def test_the_mark_names_no_path(tmp_path):
    put(Place(tmp_path / "www", [HILL], several=False), "a")
    mark = json.loads((tmp_path / "www" / MARK).read_text())
    assert str(tmp_path) not in json.dumps(mark)
    assert mark["files"] == sorted(NAMES)
