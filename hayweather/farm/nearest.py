"""The known word that is nearest to what was written."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def nearest(word: str, known: Iterable[str]) -> str:
    """The nearest of `known`, whatever the distance.

    Examples
    --------
    >>> nearest("acres", ["area", "yield", "cutting"])
    'area'
    """
    by_plain = {choice.casefold(): choice for choice in known}
    found = difflib.get_close_matches(word.casefold(), list(by_plain), n=1, cutoff=0.0)
    return by_plain[found[0]]
