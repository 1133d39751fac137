"""Results to their places: checked before any work, written whole or not at all.

A command makes its `Destinations` from its options, adds what it reads, checks
them all, works, and hands over what it made. Nothing that was read is ever
written over.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from hayweather.cli.options import Csv, Format
from hayweather.errors import OptionError, OutputError
from hayweather.whole_file import whole_file
from hayweather.words import say

SCREEN = "-"
Written = list[tuple[str, str | bytes]]
"""Places and what is to be written there."""

ENDINGS = {"chart": (".png", ".svg"), "page": (".html", ".htm"), "calendar": (".ics",)}
NAMED_WRONG = {"chart": "chart_name", "page": "page_name", "calendar": "calendar_name"}
MAY_WRITE = 0o222
WILD = frozenset("*?[")


@dataclass(frozen=True)
class Destinations:
    """Where a command's results go, and how they look there.

    Attributes
    ----------
    out
        Place of the answer itself; None and ``-`` for the screen.
    format, csv
        As asked for; without a format, the ending of `out` tells it.
    chart, page, calendar
        Files beside the answer.
    keep
        A folder for what is kept, made where it is not there.
    """

    out: str | None = None
    format: Format | None = None
    csv: Csv = "safe"
    chart: Path | None = None
    page: Path | None = None
    calendar: Path | None = None
    keep: Path | None = None

    @property
    def form(self) -> Format:
        """The format of the answer."""
        if self.format is not None:
            return self.format
        ending = "" if self.out is None else Path(self.out).suffix.lower()
        return "csv" if ending == ".csv" else "json" if ending == ".json" else "table"

    @property
    def raw(self) -> bool:
        """Whether CSV leaves alone what a spreadsheet would run."""
        return self.csv == "raw"

    def places(self) -> list[str]:
        """Every place that is named."""
        beside = (self.chart, self.page, self.calendar)
        return [self.out or SCREEN, *(str(path) for path in beside if path is not None)]

    def check(self, *read: Path | None) -> None:
        """Refuse what cannot be meant, before any work is done for it.

        Parameters
        ----------
        *read
            Everything that the run reads: files, folders of files, patterns.

        Raises
        ------
        OptionError
            If a name promises something else.
        OutputError
            If a place is a folder, a device or read-only, lies in a folder that
            is not there, stands twice, or holds something that is read.
        """
        for name, endings in ENDINGS.items():
            path: Path | None = getattr(self, name)
            if path is not None and path.suffix.lower() not in endings:
                raise OptionError(NAMED_WRONG[name], f"--{name}", value=path.name)
            if self.out is not None and Path(self.out).suffix.lower() in endings:
                raise OptionError("out_name", "--out", value=Path(self.out).name, option=name)
        if self.keep is not None and self.keep.exists() and not self.keep.is_dir():
            raise OutputError("keep_failed", str(self.keep), reason=os.strerror(errno.ENOTDIR))
        check_places(self.places(), read)

    def write(self, results: Written, language: str, read: Sequence[Path | None] = ()) -> None:
        """Write all results, or none; see `write_all`."""
        write_all(results, language, read)


def write_all(results: Written, language: str, read: Sequence[Path | None] = ()) -> None:
    """Write results to their places; files first, then the screen.

    Parameters
    ----------
    results
        Place and contents of each; the place ``-`` is standard output.
    language
        Of what is said about it on standard error.
    read
        What the results are made from.

    Raises
    ------
    OutputError
        If a file cannot be written; then none is, and nothing is left behind.
    """
    files = [(Path(place), contents) for place, contents in results if place != SCREEN]
    check_places([place for place, _ in results], read)
    _write_files(files)
    for path, _ in files:
        print(say("written", language, path=path), file=sys.stderr)
    for place, contents in results:
        if place == SCREEN:
            sys.stdout.write(contents if isinstance(contents, str) else contents.decode())


def check_places(places: Iterable[str], read: Sequence[Path | None] = ()) -> None:
    """Refuse places that cannot be written, or must not; see `Destinations.check`."""
    seen: list[Path] = []
    sources = [path for path in read if path is not None]
    for path in (Path(place) for place in places if place != SCREEN):
        _check_kind(path)
        resolved = path.resolve()
        if any(_reads(source, path) for source in sources):
            raise OutputError("out_is_read", str(path))
        if resolved in seen:
            raise OutputError("out_twice", str(path))
        seen.append(resolved)


def _check_kind(path: Path) -> None:
    """Refuse a folder, a device, a file or folder that is read-only, a folder that is not there."""
    try:
        mode = path.stat().st_mode if path.exists() else None
        folder = path.parent.stat().st_mode if path.parent.is_dir() else None
    except OSError as problem:
        raise OutputError("out_failed", str(path), reason=problem.strerror) from None
    if path.is_dir():
        raise OutputError("out_is_folder", str(path))
    if mode is not None and not stat.S_ISREG(mode):
        raise OutputError("out_is_device", str(path))
    if folder is None:
        raise OutputError("out_no_folder", str(path))
    if not folder & MAY_WRITE or (mode is not None and not mode & MAY_WRITE):
        raise OutputError("out_read_only", str(path))


def _reads(source: Path, place: Path) -> bool:
    """Whether reading `source`, a file, a folder or a pattern, reads what stands at `place`."""
    if not place.exists():
        return place.resolve() == source.resolve()
    if source.is_dir():
        return place.resolve().is_relative_to(source.resolve())
    if not source.exists() and WILD & set(source.name):
        return any(place.samefile(found) for found in source.parent.glob(source.name))
    return source.exists() and place.samefile(source)


def _write_files(files: Sequence[tuple[Path, str | bytes]]) -> None:
    """Write every file beside its place first, then give all their names."""
    current = Path()
    try:
        with ExitStack() as places:
            for current, contents in files:
                file = places.enter_context(whole_file(current, for_others=True))
                file.write(contents.encode() if isinstance(contents, str) else contents)
                file.flush()
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        raise OutputError("out_failed", str(current), reason=reason) from None
