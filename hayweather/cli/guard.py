"""What may be written where: never over what a run reads, over nothing that is not our own.

A result knows itself again by a mark in it: the schema of JSON, the last line of
text, the last note of CSV, the column names of CSV without notes, the last sentence
of a text message, the generator of a page, PRODID and UID of a calendar, the
software of a picture, an attribute of NetCDF. Anything else is somebody's own.
"""

from __future__ import annotations

import csv
import glob
import mmap
import os
import re
import stat
import unicodedata
from collections.abc import Iterable, Sequence
from contextlib import suppress
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path

from hayweather.cli.options import SCREEN
from hayweather.errors import OutputError
from hayweather.words import LANGUAGES, say

COPIES = ".bak*"
WORTH_KEEPING = frozenset({"fetch", "log", "kept", "learned"})
"""Kinds that hold what cannot be made again: only their own command replaces them."""

MOST_BYTES = 64_000_000
"""In which a mark is looked for."""

_MAY_WRITE = 0o222
_WILD = frozenset("*?[")
_KEPT_NAME = re.compile(r"_\d{8}T\d{4}Z\.json$")
_NOTE = re.compile(rb"(?:#[^\n]*\n)*?# hayweather (\w+)\r?\n")
_LAST_LINE = re.compile(rb"\n# hayweather (\w+)\s*\Z")
_SCHEMA = re.compile(rb'\s*\{\s*"schema":\s*"hayweather/([\w-]+)/\d+"')
_OWN_WEATHER = b"# hayweather: weather "
_PICTURES = (
    re.compile(rb"\x89PNG\r\n.{,60}?tEXtSoftware\x00hayweather", re.DOTALL),
    re.compile(rb"<\?xml.*<dc:creator>\s*<cc:Agent>\s*<dc:title>hayweather</dc:title>", re.DOTALL),
)
_PAGE = re.compile(rb'<!doctype html>.*<meta name="generator" content="hayweather">', re.DOTALL)
_CALENDAR = re.compile(rb"\nPRODID:-//hayweather//")
_HDF5, _NETCDF_SCHEMA = b"\x89HDF\r\n\x1a\n", b"hayweather/grid/"


def marked(text: str, kind: str) -> str:
    """A result with a mark: where it has none a line at its end, in CSV after the notes."""
    if kind_of(text.encode()) is not None:
        return text
    lines = (text if text.endswith("\n") else f"{text}\n").splitlines(keepends=True)
    notes = next((at for at, line in enumerate(lines) if line[:1] != "#"), len(lines))
    lines.insert(notes or len(lines), f"# hayweather {kind}\n")
    return "".join(lines)


def kind_of(content: bytes) -> str | None:
    """What kind of result this is: "outlook", "page", ...; None where it is none of ours."""
    found = _SCHEMA.match(content) or _NOTE.match(content) or _LAST_LINE.search(content)
    if found is not None:
        kind = found[1].decode()
        return kind if kind != "log" or _rows_have_uuids(content) else None
    if content.startswith(b"PK") and _NETCDF_SCHEMA in content:
        return "grid"
    if content.startswith(b"PAR1"):
        return "seasons" if b"hayweather/nights/" in content else None
    if content.startswith(_OWN_WEATHER):
        return "fetch"
    if any(mark.match(content) for mark in _PICTURES):
        return "chart"
    if _PAGE.match(content):
        return "page"
    if _CALENDAR.search(content):
        return "calendar" if _events_are_ours(content) else None
    return _plain_kind(content)


def _plain_kind(content: bytes) -> str | None:
    """The kind of CSV without lines before its names, or of a text message."""
    with suppress(UnicodeDecodeError):
        text = content.decode()
        if text.rstrip().endswith(_danger_lines()):
            return "runsheet"
        return _headings().get(text.partition("\n")[0].rstrip("\r"))
    return None


@cache
def _danger_lines() -> tuple[str, ...]:
    """What every text message ends with, in plain letters."""
    from hayweather.show.message import plain

    return tuple(plain(say("message_danger", language)) for language in LANGUAGES)


@cache
def _headings() -> dict[str, str]:
    """First lines of the CSV files that begin with the names of their columns."""
    from hayweather.show.inspect import COLUMNS, SETTINGS
    from hayweather.show.inspect_station import STATION_COLUMNS
    from hayweather.show.score import COLUMNS as SCORE
    from hayweather.show.store import ANSWERS
    from hayweather.show.tune import NUMBERS

    tables = {
        "weather-file": COLUMNS,
        "farm-file": SETTINGS,
        "station-file": STATION_COLUMNS,
        "store": ANSWERS,
        "tune": NUMBERS,
    }
    found = {
        ",".join(table.names(units)): kind
        for kind, table in tables.items()
        for units in ("us", "metric")
    }
    return found | {",".join(SCORE): "score"}


def _rows_have_uuids(content: bytes) -> bool:
    """Whether every row of a sheet came out of a log; one written in by hand has no uuid."""
    lines = [line for line in content.decode(errors="replace").splitlines() if line[:1] != "#"]
    rows = csv.DictReader(lines)
    return "uuid" not in (rows.fieldnames or ()) or all(row.get("uuid") for row in rows)


def _events_are_ours(content: bytes) -> bool:
    """Whether nobody has put events of their own into a calendar."""
    names = re.findall(rb"\nUID:(.*(?:\r?\n[ \t].*)*)", content)
    ours = [re.sub(rb"\r?\n[ \t]", b"", name).rstrip().endswith(b"@hayweather") for name in names]
    kept = len(re.findall(rb"\nBEGIN:V(?:EVENT|TODO|JOURNAL)", content))
    return len(ours) == kept and all(ours)


def kind_at(path: Path) -> str | None:
    """What kind of result stands in a file; None where it is none of ours."""
    with path.open("rb") as file:
        if file.read(len(_HDF5)) == _HDF5:
            with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
                return "grid" if content.find(_NETCDF_SCHEMA) >= 0 else None
        file.seek(0)
        found = kind_of(file.read(MOST_BYTES) + file.read(1))  # the last line only where it is one
    return "kept" if found == "outlook" and _KEPT_NAME.search(path.name) else found


def copies_of(path: Path) -> Path:
    """The pattern of the copies that are kept of a farm file."""
    return path.with_name(glob.escape(path.name) + COPIES)


def check_places(
    places: Iterable[str], read: Sequence[Path | None], kind: str, *, replace: bool = False
) -> None:
    """Refuse places that cannot be written, or must not.

    Parameters
    ----------
    places
        Where results shall go; ``-`` is the screen.
    read
        Everything that the run reads: files, folders of files, patterns.
    kind
        Of the results.
    replace
        Whether something that is not our own may be replaced; what is read never is.

    Raises
    ------
    OutputError
        If a place is a folder, a device or read-only, lies in a folder that is not
        there, stands twice, or holds something that is read or somebody's own.
    """
    seen: set[str] = set()
    sources = [path for path in read if path is not None]
    for path in (Path(place) for place in places if place != SCREEN):
        try:
            check_kind(path)
            if any(_reads(source, path) for source in sources):
                raise OutputError("out_is_read", str(path))
            if _name(path) in seen:
                raise OutputError("out_twice", str(path))
            if not (replace or _may_go(path, kind)):
                raise OutputError("out_not_ours", str(path))
        except OSError as problem:
            raise OutputError("out_failed", str(path), reason=problem.strerror) from None
        seen.add(_name(path))


def check_kind(path: Path) -> None:
    """Refuse a folder, a device, a file or folder that is read-only, a folder that is not there."""
    mode = path.stat().st_mode if path.exists() else None
    folder = path.resolve().parent
    if path.is_dir():
        raise OutputError("out_is_folder", str(path))
    if mode is not None and not stat.S_ISREG(mode):
        raise OutputError("out_is_device", str(path))
    if not folder.is_dir():
        raise OutputError("out_no_folder", str(path))
    if not _writable(folder) or (mode is not None and not _writable(path)):
        raise OutputError("out_read_only", str(path))


def _writable(path: Path) -> bool:
    """Whether its rights allow to write, also where the user could overrule them."""
    return bool(path.stat().st_mode & _MAY_WRITE) and os.access(path, os.W_OK)


def _may_go(path: Path, kind: str) -> bool:
    """Whether nothing is lost when a result of this kind takes the place."""
    if not path.exists() or path.stat().st_size == 0:
        return True
    found = kind_at(path)
    return found is not None and (found == kind or found not in WORTH_KEEPING)


def _name(path: Path) -> str:
    """The place's name as it is compared: links followed, letters alike in any case."""
    return unicodedata.normalize("NFC", str(path.resolve())).casefold()


def _reads(source: Path, place: Path) -> bool:
    """Whether reading `source`, a file, a folder or a pattern, reads what stands at `place`."""
    if source.is_dir():
        return _lies_in(place, source)
    if source.exists() or not _WILD & set(source.name):
        return _same(source, place)
    beside = _name(place.resolve().parent) == _name(source.parent)
    if beside and fnmatchcase(place.name.casefold(), source.name.casefold()):
        return True
    return any(_same(found, place) for found in source.parent.glob(source.name))


def _lies_in(place: Path, folder: Path) -> bool:
    """Whether a place lies in a folder, by name or by a link to one of its files."""
    if Path(_name(place)).is_relative_to(_name(folder)):
        return True
    linked = place.exists() and place.stat().st_nlink > 1
    return linked and any(_same(one, place) for one in folder.rglob("*"))


def _same(one: Path, other: Path) -> bool:
    """Whether two names mean one file, also one that is not there yet."""
    if _name(one) == _name(other):
        return True
    return one.exists() and other.exists() and one.samefile(other)
