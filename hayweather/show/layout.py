"""Plain text in lines: wrapping that keeps numbers and units together, named values."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence

from hayweather.show.voice import sentence

WIDEST_NAME = 22
WIDEST_PROSE = 100
"""Sentences are hard to read in longer lines; tables may be wider."""

_HELD = "\u00a0"
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=[^\W\d_]|[%°])")  # a number stays with its unit


def wrapped(text: str, width: int, first: str = "", rest: str | None = None) -> list[str]:
    """A text in lines of at most `width`, `first` before the first, `rest` before the others.

    Parameters
    ----------
    text
        One paragraph.
    width
        Letters in a line.
    first, rest
        Beginnings, counted in the width.

    Examples
    --------
    >>> wrapped("leaf at least 12 %", 17, "- ", "  ")
    ['- leaf at least', '  12 %']
    """
    lines = textwrap.wrap(
        _BEFORE_UNIT.sub(_HELD, text),
        width,
        initial_indent=first,
        subsequent_indent=first if rest is None else rest,
        break_on_hyphens=False,
    )
    return [line.replace(_HELD, " ") for line in lines]


def named_values(pairs: Sequence[tuple[str, str]], width: int, indent: str = "  ") -> list[str]:
    """Names and values in two columns; a long value goes on below itself.

    Parameters
    ----------
    pairs
        Name and value.
    width
        Letters in a line.
    indent
        Blanks before each line.
    """
    if not pairs:
        return []
    column = min(max(len(name) for name, _ in pairs), WIDEST_NAME)
    lines = []
    for name, value in pairs:
        first = f"{indent}{name.ljust(column)}  "
        rest = indent + " " * (column + 2)
        lines += wrapped(value, width, first, rest) or [first.rstrip()]
    return lines


def paragraphs(texts: Iterable[str], width: int) -> list[str]:
    """Each text in lines of its own."""
    return [line for text in texts for line in wrapped(text, width)]


def bulleted_sentences(texts: Iterable[str], width: int) -> list[str]:
    """Sentences, first letter large and a full stop at the end, with a sign before each."""
    return bullets(map(sentence, texts), width)


def bullets(texts: Iterable[str], width: int) -> list[str]:
    """Texts with a sign before each.

    Parameters
    ----------
    texts
        One a bullet.
    width
        Letters in a line.
    """
    return [line for text in texts for line in wrapped(text, width, "- ", "  ")]
