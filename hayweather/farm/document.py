"""From a path to a TOML document, with errors that name the line."""

from __future__ import annotations

import re
import tomllib
from os import PathLike
from pathlib import Path
from typing import Any

from hayweather.errors import FarmFileError, InputError

LARGEST_BYTES = 500_000
"""A farm file is a page of text; anything above this is another file."""

MOST_BITS = 14_000
"""Of a whole number; Python writes none of more than 4,300 digits."""

_BARE_TIME = re.compile(r"=\s*\d{4}-\d\d-\d\d[T ]\d\d:\d\d\s*(#.*)?$")
_BARE_WORDS = re.compile(r"=\s*(?=[\w /.-]*[^\W\d_])[\w /.-]+$")
_HEADING = re.compile(r"^\[+\s*[^\]\"'\s]+\s+[^\]\"']+\]")
_BARE_SIGN = re.compile(r"=\s*[^\w\s\"'\[{.+-]+$")
_SLIPS = (
    ("farm_backslash", re.compile(r'=\s*"[^"]*\\')),
    ("farm_quotes", re.compile(r'=\s*(?:[“”„«‘’\']|"[^"]*$)')),
    ("farm_decimal_comma", re.compile(r"=\s*-?\d+,\d+$")),
    ("farm_true_false", re.compile(r"=\s*(?:true|false|yes|no|sí|si)$", re.IGNORECASE)),
    ("farm_bare_words", _BARE_WORDS),
    ("farm_bare_words", _BARE_SIGN),
)
"""What a line shows of the slip in it, the first that fits."""
_AT_LINE = re.compile(r" \(at line (\d+), column \d+\)$")


def path_of(given: object) -> Path:
    """What a caller gave as the path of a file.

    Raises
    ------
    InputError
        If it is no path: one line.
    """
    if isinstance(given, str | PathLike):
        return Path(given)
    raise InputError("door_path", value=shorten(repr(given)), kind=type(given).__name__)


def load_document(path: Path) -> dict[str, Any]:
    """The TOML document in `path`.

    Parameters
    ----------
    path
        A farm file or a sites file; only read.

    Raises
    ------
    FarmFileError
        If the file is missing, a folder, unreadable, too large, empty, not
        UTF-8 or not TOML.
    """
    text = _decode(_read_bytes(path), path)
    try:
        document = tomllib.loads(text)
        _refuse_huge(document)
    except tomllib.TOMLDecodeError as problem:
        raise _toml_error(str(problem), text, path) from None
    except (RecursionError, ValueError):  # thousands of brackets, thousands of digits
        raise FarmFileError("farm_beyond_reason", path.name) from None
    if not document:
        raise FarmFileError("farm_empty", path.name)
    return document


def _refuse_huge(document: dict[str, Any]) -> None:
    """Refuse a whole number too long to be shown in an error.

    Raises
    ------
    ValueError
        If there is one.
    """
    left: list[Any] = [document]
    while left:
        found = left.pop()
        if isinstance(found, dict):
            left += found.values()
        elif isinstance(found, list):
            left += found
        elif isinstance(found, int) and found.bit_length() > MOST_BITS:
            raise ValueError


def _read_bytes(path: Path) -> bytes:
    """Bytes of the file, or an error that says why there are none."""
    try:
        if path.stat().st_size > LARGEST_BYTES:
            raise FarmFileError("farm_too_large", str(path), value=path.stat().st_size)
        return path.read_bytes()
    except FileNotFoundError:
        raise FarmFileError("farm_missing", str(path)) from None
    except OSError as problem:
        key = "farm_folder" if path.is_dir() else "farm_unreadable"
        raise FarmFileError(key, str(path), value=problem.strerror or problem) from None
    except ValueError:
        raise FarmFileError("farm_missing", repr(str(path))) from None


def _decode(content: bytes, path: Path) -> str:
    """UTF-8 text, with or without a byte order mark."""
    try:
        return content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as problem:
        line = content[: problem.start].count(b"\n") + 1
        value = f"0x{content[problem.start]:02x}"
        raise FarmFileError("farm_not_utf8", path.name, line=line, value=value) from None


def _toml_error(problem: str, text: str, path: Path) -> FarmFileError:
    """Say which line is wrong, and the likely reason."""
    lines = text.splitlines()
    place = _AT_LINE.search(problem)
    line = int(place[1]) if place else len(lines)
    shown = shorten(lines[line - 1].strip()) if 0 < line <= len(lines) else ""
    return FarmFileError(_reason(problem, shown), path.name, line=line, value=shown)


def _reason(problem: str, shown: str) -> str:
    """Key of the error text that fits what the parser stumbled over."""
    if _HEADING.search(shown):
        return "farm_heading"
    if problem.startswith(("Cannot declare", "Cannot overwrite", "Duplicate")):
        return "farm_twice"
    if _BARE_TIME.search(shown):
        return "farm_bare_time"
    bare = shown if '"' in shown else shown.partition("#")[0].rstrip()
    return next((key for key, slip in _SLIPS if slip.search(bare)), "farm_toml")


def shorten(text: str, longest: int = 60) -> str:
    """`text` on one line, with control characters out and at most `longest` long.

    Parameters
    ----------
    text
        What somebody wrote.
    longest
        Letters that may stay; more end in dots.
    """
    plain = "".join(letter if letter.isprintable() else " " for letter in text)
    return plain if len(plain) <= longest else plain[: longest - 1] + "…"
