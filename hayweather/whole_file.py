"""A file that is written whole or not at all, whatever stops the writing."""

from __future__ import annotations

import os
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO


@contextmanager
def whole_file(
    path: Path,
    *,
    ending: str = ".part",
    lasting: bool = False,
    for_others: bool = False,
    never_over: bool = False,
) -> Iterator[BinaryIO]:
    """Write into a file beside `path` that takes its place when the block ends well.

    When it does not, what stood at `path` stays, and nothing else is left; a
    process that is killed leaves the unfinished file, known by its `ending`.

    Parameters
    ----------
    path
        The place; its folder exists.
    ending
        Of the unfinished file's name.
    lasting
        True to make sure that it is on disk before it takes its place.
    for_others
        True where other users may read it, unless they might not read what stood there.
    never_over
        True to leave what stands at `path` as it is.

    Yields
    ------
    BinaryIO
        What to write into.

    Raises
    ------
    FileExistsError
        If something stands there that is `never_over` to be replaced.
    OSError
        If it cannot be written.
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}.", suffix=ending)
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            if lasting:
                file.flush()
                os.fsync(file.fileno())
        if for_others:
            os.chmod(name, stat.S_IMODE(path.stat().st_mode) if path.exists() else 0o644)
        if never_over:
            _place_new(name, path)
        else:
            os.replace(name, path)
    finally:
        with suppress(OSError):
            os.unlink(name)


def _place_new(name: str, path: Path) -> None:
    """Give a written file its name; where links do not exist, check and rename."""
    try:
        os.link(name, path)
    except FileExistsError:
        raise
    except OSError:
        if path.exists():
            raise FileExistsError(path) from None
        os.replace(name, path)
