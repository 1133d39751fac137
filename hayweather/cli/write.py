"""Results to their places: checked before any work, written whole or not at all.

A command makes its `Destinations` from its options and all that it reads, works,
and hands over what it made. `guard` says what may be written over.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from hayweather.cli.guard import check_places, marked
from hayweather.cli.options import SCREEN, Format, Output, Pictures
from hayweather.errors import OptionError, OutputError
from hayweather.whole_file import whole_file
from hayweather.words import say

Written = list[tuple[str, str | bytes]]
"""Places and what is to be written there."""

ENDINGS = {"chart": (".png", ".svg"), "page": (".html", ".htm"), "calendar": (".ics",)}
NAMED_WRONG = {"chart": "chart_name", "page": "page_name", "calendar": "calendar_name"}


@dataclass(frozen=True)
class Destinations(Pictures):
    """Where a command's results go, and how they look there.

    Attributes
    ----------
    kind
        Of the answer, as in its schema: "outlook".
    read
        Everything that the run reads: files, folders of files, patterns.
    language
        Of what is said about it on standard error.
    keep
        A folder for what is kept, made where it is not there.
    """

    kind: str = ""
    read: tuple[Path | None, ...] = ()
    language: str = "en"
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

    @property
    def place(self) -> str:
        """Of the answer itself."""
        return self.out or SCREEN

    def check(self) -> None:
        """Refuse what cannot be meant, before any work is done for it.

        Raises
        ------
        OptionError
            If a name promises something else.
        OutputError
            If a place must not be written; see `guard.check_places`.
        """
        beside: list[str] = []
        for name, endings in ENDINGS.items():
            path: Path | None = getattr(self, name)
            if path is not None:
                beside.append(str(path))
                if path.suffix.lower() not in endings:
                    raise OptionError(NAMED_WRONG[name], f"--{name}", value=path.name)
            if self.out is not None and Path(self.out).suffix.lower() in endings:
                raise OptionError("out_name", "--out", value=Path(self.out).name, option=name)
        if self.keep is not None and self.keep.exists() and not self.keep.is_dir():
            raise OutputError("keep_failed", str(self.keep), reason=os.strerror(errno.ENOTDIR))
        self.check_also([self.place, *beside])

    def check_also(self, places: Sequence[str]) -> None:
        """The same for places that no option names."""
        kept = () if self.keep is None else (self.keep / "*.json",)
        check_places(places, (*self.read, *kept), self.kind, replace=self.replace)

    def write(self, results: Written, kept: Written = ()) -> None:  # type: ignore[assignment]
        """Write all results, or none; files first, then the screen.

        Parameters
        ----------
        results
            Place and contents of each; the place ``-`` is standard output.
        kept
            What goes into the folder `keep`.

        Raises
        ------
        OutputError
            If a file cannot be written; then none is, and nothing is left behind.
        """
        files = [(Path(place), contents) for place, contents in results if place != SCREEN]
        self.check_also([place for place, _ in results])
        if kept and self.keep is not None:
            self._make_room(kept)
        _write_files(
            [
                (path, marked(each, self.kind) if isinstance(each, str) else each)
                for path, each in files
            ]
            + [(Path(place), contents) for place, contents in kept]
        )
        if kept:
            said = say("keep_done", self.language, count=len(kept), folder=self.keep)
            print(said, file=sys.stderr)
        for path, _ in files:
            print(say("written", self.language, path=path), file=sys.stderr)
        for place, contents in results:
            if place == SCREEN:
                sys.stdout.write(contents if isinstance(contents, str) else contents.decode())

    def _make_room(self, kept: Written) -> None:
        """The folder for what is kept; nothing there but what was kept before is replaced."""
        try:
            Path(self.keep or "").mkdir(parents=True, exist_ok=True)
        except OSError as problem:
            reason = problem.strerror or type(problem).__name__
            raise OutputError("keep_failed", str(self.keep), reason=reason) from None
        check_places([place for place, _ in kept], self.read, "kept", replace=self.replace)


def checked(
    kind: str,
    output: Output,
    read: Sequence[Path | None] = (),
    language: str = "en",
    keep: Path | None = None,
) -> Destinations:
    """The destinations that options name, each of them looked at; see `Destinations`.

    Raises
    ------
    OptionError, OutputError
        As `Destinations.check`.
    """
    where = Destinations(**vars(output), kind=kind, read=tuple(read), language=language, keep=keep)
    where.check()
    return where


def _write_files(files: Sequence[tuple[Path, str | bytes]]) -> None:
    """Write every file beside its place first, then give all their names."""
    current = Path()
    try:
        with ExitStack() as places:
            for current, contents in files:
                file = places.enter_context(whole_file(current.resolve(), for_others=True))
                file.write(contents.encode() if isinstance(contents, str) else contents)
                file.flush()
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        raise OutputError("out_failed", str(current), reason=reason) from None
