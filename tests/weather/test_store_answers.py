"""The store of answers: whole files or none, aged, bounded, safe for two at once."""

from __future__ import annotations

import errno
import os
import resource
import signal
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from weather.server import WeatherServer
from weather.services_common import NOW, REQUEST, answer, note_keys

from hayweather.weather.store import AnswerStore, StoredAnswer


def files(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def test_what_is_stored_comes_back_with_its_age(store: AnswerStore) -> None:
    assert store.load(REQUEST).answer is None
    assert store.save(answer())
    assert store.load(REQUEST).answer == answer()
    assert store.load(REQUEST + "0").answer is None
    newer = replace(answer(b"{}"), fetched=NOW + np.timedelta64(1, "h"))
    assert store.save(newer)
    assert store.load(REQUEST).answer == newer
    assert store.load(REQUEST).earlier == (answer(),)


def test_the_last_three_stay_and_one_every_six_hours(store: AnswerStore) -> None:
    for hour in range(60):
        store.save(replace(answer(), fetched=NOW + np.timedelta64(hour, "h")))
    found = store.load(REQUEST)
    ages = [59 - int((item.fetched - NOW) / np.timedelta64(1, "h")) for item in found.answers]
    assert ages[:3] == [0, 1, 2]
    assert len(ages) <= 3 + 12
    assert max(ages) > 48
    assert max(np.diff(ages)) <= 11
    assert store.clear() == len(ages)
    assert files(store.folder) == []


def test_an_older_answer_serves_where_the_last_one_is_damaged(store: AnswerStore) -> None:
    store.save(answer(b"first"))
    store.save(replace(answer(b"second"), fetched=NOW + np.timedelta64(1, "h")))
    last = next(path for path in store.folder.iterdir() if path.name.count("-") == 1)
    last.write_bytes(b"not an answer")
    found = store.load(REQUEST)
    assert found.damaged
    assert found.answer == answer(b"first")


@given(body=st.binary(max_size=2000), request_text=st.text(max_size=60), kept=st.booleans())
@hypothesis_settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=15, deadline=None
)
def test_any_bytes_come_back_as_they_were(
    tmp_path: Path, body: bytes, request_text: str, kept: bool
) -> None:
    store = AnswerStore(tmp_path / str(uuid.uuid4()))
    wanted = StoredAnswer(request_text.encode("utf-8", "replace").decode(), body, NOW, kept)
    assert store.save(wanted)
    assert store.load(wanted.request).answer == wanted


def test_the_store_is_a_file_or_below_one(server: WeatherServer, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    assert note_keys(server, tmp_path / "file") == {"store_not_written"}
    assert note_keys(server, tmp_path / "file" / "deeper") == {"store_not_written"}


def test_a_store_under_a_name_that_no_system_takes() -> None:
    store = AnswerStore(Path("x" * 5000))
    assert not store.save(answer())
    assert store.load(REQUEST).answer is None
    assert store.entries() == ()


@pytest.fixture
def read_only_folder() -> Iterator[Path]:
    """A folder in which this process, a common user for now, may not write."""
    with tempfile.TemporaryDirectory(dir="/tmp") as name:
        folder = Path(name)
        folder.chmod(0o555)
        is_root = os.geteuid() == 0
        if is_root:
            os.seteuid(65534)
        try:
            yield folder
        finally:
            if is_root:
                os.seteuid(0)
            folder.chmod(0o755)


def test_a_read_only_store(server: WeatherServer, read_only_folder: Path) -> None:
    assert note_keys(server, read_only_folder) == {"store_not_written"}


@pytest.mark.parametrize("number", [errno.EROFS, errno.EACCES, errno.ENOSPC])
@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_the_answer_serves_when_it_cannot_be_stored(
    server: WeatherServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, call: str
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, call, refuse)
    assert note_keys(server, tmp_path) == {"store_not_written"}
    assert files(tmp_path) == []


def test_a_disk_without_room_leaves_the_old_answer(server: WeatherServer, tmp_path: Path) -> None:
    """A true refusal by the system: no file of this process may pass 100 bytes."""
    note_keys(server, tmp_path)
    before = files(tmp_path)
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        resource.setrlimit(resource.RLIMIT_FSIZE, (100, hard))
        assert note_keys(server, tmp_path) == {"store_not_written"}
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, handler)
    assert files(tmp_path) == before
    assert "stored_offline" in note_keys(server, tmp_path, offline=True)


def test_two_processes_at_once_leave_a_whole_answer(store: AnswerStore) -> None:
    code = (
        "import sys, numpy as np; from pathlib import Path;"
        "from hayweather.weather.store import AnswerStore, Lookup, StoredAnswer;"
        "store = AnswerStore(Path(sys.argv[1]));"
        "now = np.datetime64('2017-07-09T18:00:00');"
        "body = sys.argv[2].encode() * 40_000;"
        "ok = [store.save(StoredAnswer(sys.argv[3], body, now, False)) for _ in range(60)];"
        "sys.exit(0 if all(ok) else 1)"
    )
    command = [sys.executable, "-c", code, str(store.folder)]
    both = [subprocess.Popen([*command, letter, REQUEST]) for letter in "ab"]
    seen = set()
    while any(process.poll() is None for process in both):
        found = store.load(REQUEST)
        assert not found.damaged
        if found.answer is not None:
            seen.add(found.answer.body)
    assert [process.wait() for process in both] == [0, 0]
    assert seen <= {b"a" * 40_000, b"b" * 40_000}
    assert len(files(store.folder)) == 1


def test_many_threads_at_once(store: AnswerStore) -> None:
    saved: list[bool] = []
    work = [
        threading.Thread(target=lambda n=n: saved.append(store.save(answer(b"%d" % n))))
        for n in range(16)
    ]
    for thread in work:
        thread.start()
    for thread in work:
        thread.join()
    assert saved == [True] * 16
    assert store.load(REQUEST).answer is not None
    assert len(files(store.folder)) == 1


def test_the_oldest_go_first_and_past_hours_stay(tmp_path: Path) -> None:
    store = AnswerStore(tmp_path, limit_bytes=6000)
    store.save(answer(os.urandom(2500), "past", kept=True))
    for number in range(4):
        store.save(answer(os.urandom(2500), f"request {number}"))
        for path in tmp_path.glob("*.answer"):
            earlier = path.stat().st_mtime - 60
            os.utime(path, (earlier, earlier))
    there = {entry.request for entry in store.entries()}
    assert there == {"past", "request 2", "request 3"}


def test_leftovers_and_answers_past_use_are_removed(store: AnswerStore) -> None:
    store.save(answer(request="old"))
    store.save(answer(request="past", kept=True))
    leftover = store.folder / "passing-x.unfinished"
    leftover.write_bytes(b"half")
    long_ago = time.time() - 40 * 86400
    for path in store.folder.iterdir():
        os.utime(path, (long_ago, long_ago))
    store.save(answer(request="new"))
    assert {entry.request for entry in store.entries()} == {"new", "past"}
    assert not leftover.exists()


def test_a_kept_answer_takes_the_place_of_a_passing_one(store: AnswerStore) -> None:
    store.save(answer(b"early"))
    store.save(answer(b"final", kept=True))
    found = store.load(REQUEST).answer
    assert found is not None
    assert (found.body, found.kept) == (b"final", True)
    assert len(files(store.folder)) == 1


def test_the_store_can_be_shown_and_cleared(store: AnswerStore) -> None:
    assert store.entries() == ()
    assert store.clear() == 0
    store.save(answer(request="a"))
    store.save(replace(answer(request="b"), fetched=NOW + np.timedelta64(1, "h")))
    store.save(replace(answer(request="c", kept=True), fetched=NOW - np.timedelta64(1, "D")))
    (store.folder / "passing-broken.answer").write_bytes(b"not an answer")
    entries = store.entries()
    assert [entry.request for entry in entries] == ["b", "a", "c", None]
    assert all(entry.size_bytes > 0 for entry in entries)
    assert store.clear() == 3
    assert [entry.request for entry in store.entries()] == ["c"]
    assert store.clear(past_too=True) == 1
    assert files(store.folder) == []
