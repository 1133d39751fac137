"""In which language an error is said: that of the farm file."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from hayweather.errors import HayweatherError
from hayweather.words import LANGUAGES, default_language

_MARK = "hayweather_language"
_LANGUAGE_LINE = re.compile(r"""^[ \t]*language[ \t]*=[ \t]*["'](\w+)["']""", re.MULTILINE)


class Stopped(BaseException):
    """The user stopped a command; with a word in it where that has been said.

    The parser of options has its own mind of what a `KeyboardInterrupt` is.
    """

    def __init__(self, stop: KeyboardInterrupt) -> None:
        super().__init__(*stop.args)
        setattr(self, _MARK, language_of(stop))


@contextmanager
def spoken_in(language: str) -> Iterator[None]:
    """Whatever goes wrong inside is said in `language`."""
    try:
        yield
    except BaseException as problem:
        setattr(problem, _MARK, language)
        raise


@contextmanager
def spoken_as_written(path: Path) -> Iterator[None]:
    """Whatever is wrong with the farm file at `path` is said in the language it names."""
    try:
        yield
    except HayweatherError as problem:
        language = _written_language(path)
        if language is not None:
            setattr(problem, _MARK, language)
        raise


def _written_language(path: Path) -> str | None:
    """The language that a farm file names, None where it cannot be told."""
    from hayweather.farm.document import LARGEST_BYTES

    try:
        if path.stat().st_size > LARGEST_BYTES:
            return None
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, ValueError):
        return None
    try:
        head = tomllib.loads(text).get("farm")
        language = head.get("language") if isinstance(head, dict) else None
    except (ValueError, RecursionError):  # a line that is wrong hides no line that is right
        named = _LANGUAGE_LINE.search(text)
        language = None if named is None else named[1]
    return language if language in LANGUAGES else None


def language_of(problem: BaseException) -> str:
    """The language in which to say `problem`."""
    language: str = getattr(problem, _MARK, default_language())
    return language
