"""A folder that is whole the old one or whole the new one, whatever stops the writing.

The new folder is written beside the old one and takes its place in one step: where the
system can exchange two names (Linux, macOS) there is no moment without a folder. Elsewhere
the old one is set aside first, and the next evening puts it back should it have come
to that. Only folders that hayweather wrote, and nothing else in them, are replaced.

What must outlast a folder (what was told, what was sent) stands beside it in a hidden
folder of its own, with the lock by which one evening waits for another.
"""

from __future__ import annotations

import ctypes
import errno
import json
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hayweather.errors import OutputError
from hayweather.whole_file import whole_file

MARK = ".hayweather.json"
"""The file by which a folder is known to be ours: whose it is, and what is in it."""
SCHEMA = "hayweather/folder/1"
FIRST_PAGE = frozenset({"index.html", "sw.js", "manifest.webmanifest", "icon.svg"})
"""What stands beside the folders of several farms."""
PATIENCE_S = 120.0
STATE = "state.json"
_EXCHANGE = {"linux": ("renameat2", 2), "darwin": ("renamex_np", 2)}
_HERE = -100  # AT_FDCWD of Linux
_CANNOT = (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EPERM)

Json = dict[str, Any]


@dataclass(frozen=True)
class Owner:
    """A farm whose folder it is; the same by its file or by its name.

    Attributes
    ----------
    key
        Of the farm file's place, not to be read back.
    name
        Of the farm; empty where its file cannot be read.
    """

    key: str
    name: str

    def is_in(self, others: Sequence[Owner]) -> bool:
        """Whether one of them is the same."""
        return any(self.key == o.key or (self.name and self.name == o.name) for o in others)


class Place:
    """A folder to serve, with what stands beside it; use `locked` around all changes.

    Parameters
    ----------
    path
        The folder; its parents are made where they are not there.
    owners
        The farms whose nights it holds.
    several
        Whether each of them has a folder of its own in it.
    """

    def __init__(self, path: Path, owners: Sequence[Owner], *, several: bool) -> None:
        self.path = Path(os.path.abspath(path))
        self.owners = tuple(owners)
        self.several = several
        hidden = f".{self.path.name}.hayweather"
        self.beside = self.path / ".hayweather" if several else self.path.parent / hidden

    def check(self, read: Sequence[Path | None]) -> None:
        """Refuse a place in which something would be lost, before any work is done for it.

        Parameters
        ----------
        read
            Files that the run reads.

        Raises
        ------
        OutputError
            If it is a file, or a disk of its own that would have to be exchanged, holds
            what is read, what is not ours, or the nights of other farms.
        """
        with _said(self.path):
            if self.path.exists() and not self.path.is_dir():
                raise OutputError("folder_is_file", str(self.path))
            if os.path.ismount(self.path) and not self.several:
                raise OutputError("folder_is_disk", str(self.path))
            own = self.path.resolve()
            for file in read:
                inside = file is not None and file.resolve().is_relative_to(own)
                if file is not None and inside and not self.several:
                    raise OutputError("folder_holds_read", str(self.path), file=file.name)
            self._check_owners(self.path, self.owners)
            if self.several:
                _check_files(self.path, FIRST_PAGE)
            else:
                check_ours(self.path)

    def _check_owners(self, folder: Path, owners: Sequence[Owner]) -> None:
        """Refuse the folder of other farms, or one that is not laid out like this."""
        mark = _mark(folder)
        if mark is None:
            return
        before = [Owner(str(key), str(name)) for key, name in mark["farms"]]
        fits = bool(mark.get("several")) == self.several
        if not (fits and all(one.is_in(owners) for one in before)):
            farms = ", ".join(one.name or "?" for one in before)
            raise OutputError("folder_other_farm", str(folder), farms=farms)

    @contextmanager
    def locked(self) -> Iterator[None]:
        """One evening at a time; what a killed one left is put in order first.

        Raises
        ------
        OutputError
            If another does not end, or the place cannot be written.
        """
        with _said(self.path):
            self.beside.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle = os.open(self.beside / "lock", os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _lock(handle, self.path)
            with _said(self.path):
                self._mend()
            yield
        finally:
            os.close(handle)

    def _mend(self) -> None:
        """Put back what was set aside by a process that was killed; remove unfinished folders."""
        for left in sorted(self.beside.glob("old-*")):
            with suppress(FileNotFoundError):
                place = self.path.joinpath(*json.loads((left / "place.json").read_text()))
                if not place.exists():
                    os.rename(left / "folder", place)
            shutil.rmtree(left, ignore_errors=True)
        for left in self.beside.glob("new-*"):
            shutil.rmtree(left, ignore_errors=True)

    def put(self, files: Mapping[str, str], inside: str = "") -> None:
        """Give the folder, or the one of a farm inside it, these files and no others.

        Raises
        ------
        OutputError
            If they cannot be written; the old folder then stands as it was.
        """
        place = self.path / inside if inside else self.path
        with _said(place):
            check_ours(place)
            place.parent.mkdir(parents=True, exist_ok=True)
            new = Path(tempfile.mkdtemp(prefix="new-", dir=self.beside))
            try:
                folder = new / "folder"
                folder.mkdir()
                for name, text in {**files, MARK: self._marked(files)}.items():
                    with open(folder / name, "wb") as file:
                        file.write(text.encode())
                        file.flush()
                        os.fsync(file.fileno())
                    (folder / name).chmod(0o644)
                folder.chmod(0o755)
                _swap(folder, place, self._aside(inside))
            finally:
                shutil.rmtree(new, ignore_errors=True)

    def put_beside(self, files: Mapping[str, str]) -> None:
        """Give the folder these files beside the folders of the farms, each file whole.

        Raises
        ------
        OutputError
            If they cannot be written.
        """
        with _said(self.path):
            _check_files(self.path, FIRST_PAGE)
            for name, text in {MARK: self._marked(files), **files}.items():
                with whole_file(self.path / name, lasting=True, for_others=True) as file:
                    file.write(text.encode())

    def _marked(self, files: Mapping[str, str]) -> str:
        """The mark of a folder."""
        farms = [[one.key, one.name] for one in self.owners]
        form = {"schema": SCHEMA, "several": self.several, "farms": farms, "files": sorted(files)}
        return json.dumps(form, ensure_ascii=False) + "\n"

    def _aside(self, inside: str) -> Callable[[], Path]:
        """Where the old folder goes for a moment where two names cannot be exchanged."""

        def made() -> Path:
            aside = Path(tempfile.mkdtemp(prefix="old-", dir=self.beside))
            (aside / "place.json").write_text(json.dumps([inside] if inside else []))
            return aside

        return made

    def read(self, name: str, inside: str = "") -> str | None:
        """A file of the folder; None where there is none that can be read."""
        with suppress(OSError, ValueError):
            return (self.path / inside / name).read_bytes().decode("utf-8")
        return None

    def files(self, inside: str = "") -> dict[str, str]:
        """All files of the folder that are ours, by name."""
        mark = _mark(self.path / inside)
        names = [] if mark is None else mark["files"]
        found = {name: self.read(name, inside) for name in names}
        return {name: text for name, text in found.items() if text is not None}

    def state(self) -> Json:
        """What outlasts the folder: what was told, and what was sent."""
        with suppress(OSError, ValueError):
            found = json.loads((self.beside / STATE).read_text(encoding="utf-8"))
            if isinstance(found, dict):
                return found
        return {}

    def keep_state(self, state: Json) -> None:
        """Keep it, whole or not at all."""
        with _said(self.beside), whole_file(self.beside / STATE, lasting=True) as file:
            file.write(json.dumps(state, ensure_ascii=False).encode())


def check_ours(folder: Path) -> None:
    """Refuse a folder that holds anything that is not ours; an empty one is free.

    Raises
    ------
    OutputError
        Naming the first such thing.
    """
    if not folder.exists():
        return
    if folder.is_symlink() or not folder.is_dir():
        raise OutputError("folder_is_file", str(folder))
    _check_files(folder)


def check_served(folder: Path) -> None:
    """Refuse to serve a folder that hayweather did not write; one that is not there yet may come.

    Raises
    ------
    OutputError
        If something else stands there.
    """
    if (folder.exists() or folder.is_symlink()) and _mark(folder) is None:
        raise OutputError("folder_not_evening", str(folder))


def files_to_serve(folder: Path) -> dict[str, Path]:
    """Every file that a folder's marks name, by its address below the folder; nothing else of it.

    A folder that hayweather did not write has none; links on the disk are not followed.
    """
    found: dict[str, Path] = {}
    mark = _mark(folder)
    if mark is None:
        return found
    places = [(folder, "", mark)]
    with suppress(OSError):
        inside = sorted(item for item in folder.iterdir() if not item.name.startswith("."))
        for item in inside if mark.get("several") else ():
            own = None if item.is_symlink() else _mark(item)
            places += [] if own is None else [(item, f"{item.name}/", own)]
    for place, begin, own in places:
        for name in own["files"]:
            path = place / name
            if path.name == name and path.is_file() and not path.is_symlink():
                found[begin + name] = path
    return found


def _check_files(folder: Path, names: frozenset[str] | None = None) -> None:
    """The same; with `names` only these are looked at, others may stand beside them."""
    if not folder.is_dir():
        return
    mark = _mark(folder)
    ours = {MARK, *(() if mark is None else mark["files"])}
    present = sorted(item.name for item in folder.iterdir())
    strange = [name for name in present if name not in ours and (names is None or name in names)]
    if strange:
        raise OutputError("folder_not_ours", str(folder), name=strange[0])


def _mark(folder: Path) -> Json | None:
    """The mark of a folder that hayweather wrote; None where it did not."""
    with suppress(OSError, ValueError, KeyError, TypeError):
        mark = json.loads((folder / MARK).read_text(encoding="utf-8"))
        if mark["schema"] == SCHEMA and all(len(one) == 2 for one in mark["farms"]):
            return {**mark, "files": [str(name) for name in mark["files"]]}
    return None


@contextmanager
def _said(place: Path) -> Iterator[None]:
    """What the system refuses, in one line."""
    try:
        yield
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        raise OutputError("folder_failed", str(place), reason=reason) from None


def _swap(new: Path, place: Path, aside: Callable[[], Path]) -> None:
    """Let `new` take the place of what stands there, in one step where that can be done."""
    if not place.exists():
        os.rename(new, place)
    elif not exchange(new, place):
        old = aside()
        os.rename(place, old / "folder")
        try:
            os.rename(new, place)
        except OSError:
            os.rename(old / "folder", place)
            raise
        shutil.rmtree(old, ignore_errors=True)
    _settle(place.parent)


def exchange(one: Path, other: Path) -> bool:
    """Exchange two names in one step; False where the system or the disk cannot do it.

    Raises
    ------
    OSError
        If it could, and did not.
    """
    name, flag = _EXCHANGE.get(sys.platform, ("", 0))
    call = getattr(ctypes.CDLL(None, use_errno=True), name, None) if name else None
    if call is None:
        return False
    first, second = os.fsencode(one), os.fsencode(other)
    if sys.platform == "darwin":
        failed = call(first, second, ctypes.c_uint(flag))
    else:
        failed = call(_HERE, first, _HERE, second, ctypes.c_uint(flag))
    if not failed:
        return True
    number = ctypes.get_errno()
    if number in _CANNOT:
        return False
    raise OSError(number, os.strerror(number))


def _settle(folder: Path) -> None:
    """Make sure that the new names are on the disk, where the system can say so."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _lock(handle: int, place: Path) -> None:
    """Wait for the lock on an open file; it ends with the file."""
    end = time.monotonic() + PATIENCE_S
    while True:
        try:
            _take(handle)
            return
        except OSError as problem:
            if problem.errno not in (errno.EAGAIN, errno.EACCES, errno.EDEADLK):
                raise
        if time.monotonic() > end:
            raise OutputError("folder_busy", str(place), seconds=f"{PATIENCE_S:.0f}")
        time.sleep(0.1)


if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> None:
        """Take the lock at once, or fail."""
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

else:
    import fcntl

    def _take(handle: int) -> None:
        """Take the lock at once, or fail."""
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
