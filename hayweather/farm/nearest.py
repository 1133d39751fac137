"""The known word that is nearest to what was written."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

CLOSE = 0.7
"""Likeness from which a word may well be a slip for another (assumed)."""


def nearest(word: str, known: Iterable[str]) -> str:
    """The nearest of `known`, whatever the distance.

    Parameters
    ----------
    word
        What was written.
    known
        What it may be; at least one.

    Examples
    --------
    >>> nearest("acres", ["area", "yield", "cutting"])
    'area'
    """
    return _matches(word, known, 0.0)[0]


def likely(word: str, known: Iterable[str]) -> str | None:
    """The one of `known` that may well be meant; None where none is like `word`.

    Examples
    --------
    >>> likely("Metric", ["us", "metric"]), likely("imperial", ["us", "metric"])
    ('metric', None)
    """
    return next(iter(_matches(word, known, CLOSE)), None)


def _matches(word: str, known: Iterable[str], cutoff: float) -> list[str]:
    """The most alike, if it is as alike as `cutoff`."""
    by_plain = {choice.casefold(): choice for choice in known}
    found = difflib.get_close_matches(word.casefold(), list(by_plain), n=1, cutoff=cutoff)
    return [by_plain[plain] for plain in found]
