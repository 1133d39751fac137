"""The store of answers: whole files or none, aged, bounded, safe for two at once."""

from __future__ import annotations

import errno
import hashlib
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
from weather import server_answers as answers
from weather.server import WeatherServer, reply
from weather.services_common import NOW, OPEN_METEO, SITE, settings_for

from hayweather.weather.services import fetch_site_weather
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.store import AnswerStore, Lookup, StoredAnswer

REQUEST = "https://api.example/v1/forecast?latitude=1"


def answer(body: bytes = b'{"a": 1}', request: str = REQUEST, kept: bool = False) -> StoredAnswer:
    return StoredAnswer(request, body, NOW, kept)


def files(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


@pytest.fixture
def store(tmp_path: Path) -> AnswerStore:
    return AnswerStore(tmp_path / "store")


def note_keys(server: WeatherServer, folder: Path, **more: bool) -> set[str]:
    weather = fetch_site_weather(OPEN_METEO, SITE, settings_for(server, folder), now=NOW, **more)
    assert weather.hours == answers.HOURS
    return {note.key for note in weather.assumed}


def test_what_is_stored_comes_back_with_its_age(store: AnswerStore) -> None:
    assert store.load(REQUEST).answer is None
    assert store.save(answer())
    assert store.load(REQUEST).answer == answer()
    assert store.load(REQUEST + "0").answer is None
    newer = replace(answer(b"{}"), fetched=NOW + np.timedelta64(1, "h"))
    assert store.save(newer)
    assert store.load(REQUEST).answer == newer
    assert len(files(store.folder)) == 1


@given(body=st.binary(max_size=2000), request_text=st.text(max_size=60), kept=st.booleans())
@hypothesis_settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None
)
def test_any_bytes_come_back_as_they_were(
    tmp_path: Path, body: bytes, request_text: str, kept: bool
) -> None:
    store = AnswerStore(tmp_path / str(uuid.uuid4()))
    wanted = StoredAnswer(request_text.encode("utf-8", "replace").decode(), body, NOW, kept)
    assert store.save(wanted)
    assert store.load(wanted.request).answer == wanted


@pytest.mark.parametrize("share", [0.0, 0.1, 0.5, 0.99])
def test_a_file_cut_short_counts_as_absent_and_is_said(
    server: WeatherServer, tmp_path: Path, share: float
) -> None:
    note_keys(server, tmp_path)
    [path] = tmp_path.iterdir()
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    server.always = reply(503, "")
    with pytest.raises(ServiceError) as caught:
        note_keys(server, tmp_path)
    assert caught.value.stored == "damaged"
    assert caught.value.exit_code == 3
    assert caught.value.line().endswith("the stored forecast of this place is damaged")
    server.always = None
    assert "store_damaged" in note_keys(server, tmp_path)
    assert note_keys(server, tmp_path) == set()


@given(data=st.data())
@hypothesis_settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None
)
def test_a_file_with_any_other_byte_is_never_believed(tmp_path: Path, data: st.DataObject) -> None:
    store = AnswerStore(tmp_path / "bytes")
    wanted = answer(b'{"temperature": [1.0, 2.0]}')
    store.save(wanted)
    [path] = store.folder.iterdir()
    content = bytearray(path.read_bytes())
    place = data.draw(st.integers(0, len(content) - 1))
    content[place] ^= data.draw(st.integers(1, 255))
    path.write_bytes(content)
    assert store.load(REQUEST).answer in (None, wanted)


@pytest.mark.parametrize(("old", "new"), [(b"2017-07", b"2018-07"), (b"false", b"true ")])
def test_an_age_that_was_changed_is_never_believed(
    store: AnswerStore, old: bytes, new: bytes
) -> None:
    store.save(answer())
    [path] = store.folder.iterdir()
    content = path.read_bytes()
    assert old in content
    path.write_bytes(content.replace(old, new))
    found = store.load(REQUEST)
    assert found.answer is None
    assert found.damaged


def digested(content: bytes) -> bytes:
    """The content with its true digest in front, as the store writes it."""
    return hashlib.sha256(content).hexdigest().encode() + b"\n" + content


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (b'{"schema"', b'"schema"'),
        (b'"fetched"', b'"taken"'),
        (b"answer/1", b"answer/9"),
        (b"2017-07", b"July"),
        (b"\x1f\x8b", b"PK"),
    ],
)
def test_a_file_of_another_making_is_never_believed(
    store: AnswerStore, old: bytes, new: bytes
) -> None:
    store.save(answer())
    [path] = store.folder.iterdir()
    content = path.read_bytes().partition(b"\n")[2]
    assert old in content
    path.write_bytes(digested(content.replace(old, new)))
    assert store.load(REQUEST) == Lookup(None, damaged=True)
    path.write_bytes(digested(content))
    assert store.load(REQUEST).answer == answer()


def test_an_answer_under_the_name_of_another_is_never_believed(store: AnswerStore) -> None:
    store.save(answer())
    [path] = store.folder.iterdir()
    store.save(answer(request="another"))
    [other] = set(store.folder.iterdir()) - {path}
    other.write_bytes(path.read_bytes())
    assert store.load("another") == Lookup(None, damaged=True)


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


def test_a_link_to_nowhere_is_damaged_and_goes(store: AnswerStore) -> None:
    store.save(answer())
    gone = store.folder / "passing-gone.answer"
    gone.symlink_to(store.folder / "nowhere")
    assert [entry.request for entry in store.entries()] == [REQUEST, None]
    store.prune()
    assert [entry.request for entry in store.entries()] == [REQUEST]
    assert not gone.is_symlink()


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
