"""In which language an error is said: that of the farm file once it was read."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from hayweather.cli.options import default_language

_MARK = "hayweather_language"


@contextmanager
def spoken_in(language: str) -> Iterator[None]:
    """Whatever goes wrong inside is said in `language`."""
    try:
        yield
    except Exception as problem:
        setattr(problem, _MARK, language)
        raise


def language_of(problem: BaseException) -> str:
    """The language in which to say `problem`."""
    language: str = getattr(problem, _MARK, default_language())
    return language
