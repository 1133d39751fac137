"""A bar on standard error while something long goes on; nothing where that is no terminal."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

BAR_WIDTH = 30


@contextmanager
def progress_bar(text: Callable[[int, int], str]) -> Iterator[Callable[[int, int], None]]:
    """A function to call with the pieces done and their number; it draws the bar.

    Parameters
    ----------
    text
        What stands behind the bar, from the same two numbers.
    """
    if not sys.stderr.isatty():
        yield lambda done, of: None
        return
    shown = False

    def show(done: int, of: int) -> None:
        nonlocal shown
        shown = True
        print(f"\r{bar_text(done, of)} {text(done, of)}", end="", file=sys.stderr, flush=True)

    try:
        yield show
    finally:
        if shown:
            print(file=sys.stderr)


def bar_text(done: int, of: int) -> str:
    """The bar itself.

    Examples
    --------
    >>> bar_text(1, 3)
    '[##########....................]'
    """
    filled = round(BAR_WIDTH * done / max(of, 1))
    return f"[{'#' * filled}{'.' * (BAR_WIDTH - filled)}]"
