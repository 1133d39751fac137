"""Answers of the weather services, kept on this computer.

The last three answers to a request stay, and of three days one every six hours, so
that hours which a newer answer no longer has can be had from an older one.
One file an answer: a digest, a line that says what it is, the packed answer. A file
is written beside its place and moved there whole, so that neither a break nor
another process leaves half a file; one that is damaged all the same counts as
absent. The request that names an answer never holds the key.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import time
import zlib
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np

from hayweather.whole_file import whole_file

SCHEMA = "hayweather/answer/1"
PAST = "past-"
PASSING = "passing-"
SUFFIX = ".answer"
UNFINISHED = ".unfinished"
PASSING_LIMIT_BYTES = 50_000_000
PASSING_AGE_S = 30 * 86400
UNFINISHED_AGE_S = 3600
LAST_KEPT = 3
SPACED_KEPT, SPACED_S = 12, 6 * 3600
"""How many answers to a request stay, and how many more, one in each so long a time (assumed)."""


@dataclass(frozen=True)
class StoredAnswer:
    """An answer as it was stored.

    Attributes
    ----------
    request
        The request it answers, without the key.
    body
        The answer, byte by byte as it came.
    fetched
        UTC time of the fetch, ``datetime64[s]``.
    kept
        True for past hours, which are kept for good.
    """

    request: str
    body: bytes
    fetched: np.datetime64
    kept: bool


@dataclass(frozen=True)
class StoreEntry:
    """One file of the store, for showing; a damaged one has no `request`.

    Attributes
    ----------
    path, size_bytes
        The file.
    request, fetched
        What was asked, without a key, and when, UTC; None where damaged.
    kept
        True for past hours, which are never cleared with forecasts.
    """

    path: Path
    size_bytes: int
    request: str | None
    fetched: np.datetime64 | None
    kept: bool


@dataclass(frozen=True)
class Lookup:
    """What the store has for a request; `damaged` when a file is there but unfit.

    `earlier` are answers before `answer`, the newest first.
    """

    answer: StoredAnswer | None
    damaged: bool = False
    earlier: tuple[StoredAnswer, ...] = ()

    @property
    def answers(self) -> tuple[StoredAnswer, ...]:
        """All of them, the newest first."""
        return () if self.answer is None else (self.answer, *self.earlier)


class _DamagedError(Exception):
    """A file of the store that does not hold what its first line says."""


@dataclass(frozen=True)
class AnswerStore:
    """The folder of stored answers.

    Attributes
    ----------
    folder
        Where the files lie; made when first needed.
    limit_bytes
        Room for answers that are not kept for good; the oldest go first.
    """

    folder: Path
    limit_bytes: int = PASSING_LIMIT_BYTES

    def load(self, request: str) -> Lookup:
        """What is stored for `request`; never raises for a bad file."""
        paths = [self._path(request, kept) for kept in (True, False)]
        found = [_read(path, request) for path in (*paths, *self._earlier(request))]
        answers = [lookup.answer for lookup in found if lookup.answer is not None]
        damaged = found[0].damaged or found[1].damaged
        if not answers:
            return Lookup(None, damaged)
        answers.sort(key=lambda answer: (answer.kept, answer.fetched), reverse=True)
        return Lookup(answers[0], damaged, tuple(answers[1:]))

    def save(self, answer: StoredAnswer) -> bool:
        """Store an answer before the older ones; False when that is not possible."""
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            place = self._path(answer.request, answer.kept)
            self._step_back(answer)
            with whole_file(place, ending=UNFINISHED, lasting=True) as file:
                file.write(_pack(answer))
        except OSError:
            return False
        if answer.kept:
            for path in (self._path(answer.request, kept=False), *self._earlier(answer.request)):
                _remove(path)
        self.prune()
        return True

    def _step_back(self, answer: StoredAnswer) -> None:
        """Give the answer that was the last a name of its own, and let go what is too much."""
        place = self._path(answer.request, kept=False)
        last = _read(place, answer.request).answer
        if last is not None and last.fetched != answer.fetched:
            stamp = str(last.fetched.astype("datetime64[s]")).replace("-", "").replace(":", "")
            name = f"{place.name.removesuffix(SUFFIX)}-{stamp}{SUFFIX}"
            with suppress(OSError):  # another process may have been faster
                place.replace(place.with_name(name))
        stamps = [(path, _stamp_of(path)) for path in self._earlier(answer.request)]
        stays = set(range(LAST_KEPT - 1))
        slots: set[int] = set()
        for index, (_, stamp_s) in enumerate(stamps):
            slot = stamp_s // SPACED_S
            if slot not in slots and len(slots) < SPACED_KEPT:
                slots.add(slot)
                stays.add(index)
        for index, (path, _) in enumerate(stamps):
            if index not in stays:
                _remove(path)

    def _earlier(self, request: str) -> list[Path]:
        """Files of the answers before the last, the newest first."""
        name = self._path(request, kept=False).name.removesuffix(SUFFIX)
        with suppress(OSError):
            return sorted(self.folder.glob(f"{name}-*{SUFFIX}"), reverse=True)
        return []

    def entries(self) -> tuple[StoreEntry, ...]:
        """Every stored answer, the newest first, the damaged last."""
        found = [_entry(path) for path in self._files(SUFFIX)]
        never = np.datetime64(0, "s")
        return tuple(sorted(found, key=lambda entry: entry.fetched or never, reverse=True))

    def clear(self, *, past_too: bool = False) -> int:
        """Remove stored answers and return how many; past hours only on request."""
        going = [path for path in self._files(SUFFIX) if past_too or not _is_past(path)]
        return sum(_remove(path) for path in going)

    def prune(self) -> None:
        """Remove leftovers, answers past use, and the oldest beyond the limit."""
        now = time.time()
        for path in self._files(UNFINISHED):
            if now - _written_and_size(path)[0] > UNFINISHED_AGE_S:
                _remove(path)
        passing = [path for path in self._files(SUFFIX) if not _is_past(path)]
        room = self.limit_bytes
        for path in sorted(passing, key=_written_and_size, reverse=True):
            written, size = _written_and_size(path)
            room -= size
            if room < 0 or now - written > PASSING_AGE_S:
                _remove(path)

    def _path(self, request: str, kept: bool) -> Path:
        name = hashlib.sha256(request.encode()).hexdigest()[:32]
        return self.folder / f"{PAST if kept else PASSING}{name}{SUFFIX}"

    def _files(self, suffix: str) -> list[Path]:
        with suppress(OSError):
            return sorted(self.folder.glob(f"*{suffix}"))
        return []


def _is_past(path: Path) -> bool:
    return path.name.startswith(PAST)


def _stamp_of(path: Path) -> int:
    """When an earlier answer was fetched, by its name [s since 1970]; 0 for a foreign name."""
    text = path.name.removesuffix(SUFFIX).rpartition("-")[2]
    try:
        return int(datetime.strptime(text, "%Y%m%dT%H%M%S").replace(tzinfo=UTC).timestamp())
    except ValueError:
        return 0


def _read(path: Path, request: str) -> Lookup:
    """What the file at `path` holds, if it is the answer to `request`."""
    try:
        answer = _unpack(path.read_bytes())
    except (FileNotFoundError, NotADirectoryError):
        return Lookup(None)
    except (OSError, _DamagedError):
        return Lookup(None, damaged=True)
    return Lookup(answer) if answer.request == request else Lookup(None, damaged=True)


def _entry(path: Path) -> StoreEntry:
    """One file of the store, for showing."""
    size = _written_and_size(path)[1]
    try:
        answer = _unpack(path.read_bytes())
    except (OSError, _DamagedError):
        return StoreEntry(path, size, None, None, _is_past(path))
    return StoreEntry(path, size, answer.request, answer.fetched, answer.kept)


def _pack(answer: StoredAnswer) -> bytes:
    """The bytes of a file: a digest of what follows, a head, the packed answer."""
    head = {
        "schema": SCHEMA,
        "request": answer.request,
        "fetched": str(answer.fetched.astype("datetime64[s]")),
        "kept": answer.kept,
    }
    packed = gzip.compress(answer.body, compresslevel=6, mtime=0)
    content = json.dumps(head).encode() + b"\n" + packed
    return _digest(content) + b"\n" + content


def _unpack(whole: bytes) -> StoredAnswer:
    """The answer in the bytes of a file.

    Raises
    ------
    _DamagedError
        If anything in it is not as it was written.
    """
    digest, _, content = whole.partition(b"\n")
    if digest != _digest(content):
        raise _DamagedError
    first, _, packed = content.partition(b"\n")
    try:
        head: dict[str, Any] = json.loads(first)
        fetched = np.datetime64(head["fetched"], "s")
        body = gzip.decompress(packed)
        known = head["schema"] == SCHEMA
        answer = StoredAnswer(str(head["request"]), body, fetched, bool(head["kept"]))
    except (ValueError, KeyError, TypeError, OSError, EOFError, zlib.error):
        known = False
    if not known:
        raise _DamagedError
    return answer


def _digest(content: bytes) -> bytes:
    return hashlib.sha256(content).hexdigest().encode()


def _written_and_size(path: Path) -> tuple[float, int]:
    """When a file was written and its size; zeros when another process removed it."""
    try:
        status = path.stat()
    except OSError:
        return 0.0, 0
    return status.st_mtime, status.st_size


def _remove(path: Path) -> bool:
    """Remove a file; False when it is gone already or cannot be removed."""
    try:
        path.unlink()
    except OSError:
        return False
    return True
