"""Results to their places: whole or not at all, and only after all are made."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

from hayweather.errors import OutputError
from hayweather.whole_file import whole_file
from hayweather.words import say

SCREEN = "-"
Written = list[tuple[str, str | bytes]]
"""Places and what is to be written there."""


def write_all(results: Written, language: str) -> None:
    """Write results to their places; files first, then the screen.

    Parameters
    ----------
    results
        Place and contents of each; the place ``-`` is standard output.
    language
        Of what is said about it on standard error.

    Raises
    ------
    OutputError
        If a file cannot be written; then none is, and nothing is left behind.
    """
    files = [(Path(place), contents) for place, contents in results if place != SCREEN]
    check_places([place for place, _ in results])
    _write_files(files)
    for path, _ in files:
        print(say("written", language, path=path), file=sys.stderr)
    for place, contents in results:
        if place == SCREEN:
            sys.stdout.write(contents if isinstance(contents, str) else contents.decode())


def check_places(places: Sequence[str], read: Sequence[Path | None] = ()) -> None:
    """Refuse places that cannot be meant, before any work is done for them.

    Parameters
    ----------
    places
        Where results are to go.
    read
        Files that the results are made from; none of them is written over.

    Raises
    ------
    OutputError
        If one is a folder, lies in a folder that is not there, stands twice, or
        is a file that was read.
    """
    paths = [Path(place) for place in places if place != SCREEN]
    for path in paths:
        if path.is_dir():
            raise OutputError("out_is_folder", str(path))
        if not path.parent.is_dir():
            raise OutputError("out_no_folder", str(path))
    sources = {path.resolve() for path in read if path is not None}
    resolved = [path.resolve() for path in paths]
    for number, path in enumerate(resolved):
        if path in sources:
            raise OutputError("out_is_read", str(paths[number]))
        if path in resolved[:number]:
            raise OutputError("out_twice", str(paths[number]))


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
