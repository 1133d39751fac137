"""The entry, ``hayweather`` and ``python -m hayweather``: from here on a stop is one line."""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType
from typing import NoReturn

from hayweather.words import default_language, say  # whole before a stop can break its loading

heard: list[int] = []
"""Signals to stop that came, the first one first."""


def main() -> NoReturn:
    """Run the command of this process and leave with its exit code."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _stop)
    if signal.getsignal(signal.SIGTERM) == signal.SIG_DFL:
        signal.signal(signal.SIGTERM, _stop)
    sys.unraisablehook = _not_raised
    try:
        from hayweather.cli.main import main as command

        code = command()
        sys.stdout.flush()
    except BaseException:
        if not heard:
            raise
        code = _leave()
    for number in (signal.SIGINT, signal.SIGTERM):  # what is left is Python's own end
        signal.signal(number, signal.SIG_IGN if heard else signal.SIG_DFL)
    exec("")  # Python forgets a stop that came in an exec, else it would end as if killed
    sys.exit(128 + heard[0] if heard else code)


def _stop(number: int, _frame: FrameType | None) -> None:
    """The first stops the work, the second must not break what ends it, the third does."""
    heard.append(number)
    if len(heard) == 1:
        raise KeyboardInterrupt
    if len(heard) > 2:
        os._exit(128 + number)


def _not_raised(problem: sys.UnraisableHookArgs) -> None:
    """A stop that came where Python drops errors; other errors there as usual."""
    if heard and problem.exc_type is KeyboardInterrupt:
        os._exit(_leave())
    sys.__unraisablehook__(problem)


def _leave() -> int:
    """Say that the user stopped it, where no command did; the exit code."""
    print(say("interrupted", default_language()), file=sys.stderr, flush=True)
    return 128 + heard[0]


if __name__ == "__main__":
    main()
