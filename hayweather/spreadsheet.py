"""Texts in CSV that no spreadsheet runs as a formula, and the same texts read again.

A cell that begins with = + - @, a tab or a line break may be run (OWASP, CSV
injection); an apostrophe before it makes it text. Numbers stay numbers.
"""

from __future__ import annotations

import re

RUN = ("=", "+", "-", "@", "\t", "\r", "\n")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_CELL_IN_NOTE = re.compile(r"([,;])(?=[=+\-@])")


def held_back(cell: object) -> object:
    """A cell that no spreadsheet runs; one that looks as if it were held back already, too.

    Examples
    --------
    >>> held_back("=HYPERLINK(1)"), held_back("-0.25"), held_back("bench"), held_back("'=1")
    ("'=HYPERLINK(1)", '-0.25', 'bench', "''=1")
    """
    runs = isinstance(cell, str) and cell.lstrip("'").startswith(RUN)
    return f"'{cell}" if runs and not _NUMBER.fullmatch(str(cell)) else cell


def let_go(text: str) -> str:
    """A text as it was before `held_back`."""
    return text[1:] if text.startswith("'") and text.lstrip("'").startswith(RUN) else text


def note_held_back(note: str) -> str:
    """A line of notes, which a spreadsheet cuts at its commas, with no cell that it runs.

    Examples
    --------
    >>> note_held_back("North,=1+1, at -5 C")
    "North,'=1+1, at -5 C"
    """
    return _CELL_IN_NOTE.sub(r"\1'", note)
