"""A bar on standard error while something long goes on."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from hayweather.words import say

BAR_WIDTH = 30


@contextmanager
def progress_bar(text: Callable[[int, int], str]) -> Iterator[Callable[[int, int], None]]:
    """A function to call with the pieces done and their number; it draws the bar on a terminal.

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


def progress_line(
    language: str, clock: Callable[[], float], words: str = "seasons_progress"
) -> Callable[[int, int], None]:
    """Draws nights done, all nights, and the time left at the pace so far."""
    begin = clock()

    def show(done: int, total: int) -> None:
        left = (clock() - begin) * (total - done) / max(done, 1)
        text = say(words, language, done=done, total=total, left=time_left(left))
        end = "\n" if done >= total else ""
        print(f"\r{bar_text(done, total)} {text}   ", end=end, file=sys.stderr, flush=True)

    return show


def time_left(seconds: float) -> str:
    """A length of time, roughly.

    Examples
    --------
    >>> time_left(42.0), time_left(200.0), time_left(9000.0)
    ('42 s', '3 min', '2.5 h')
    """
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"
