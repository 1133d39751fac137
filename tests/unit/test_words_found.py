"""A text's key can be found by grep: whole in the source, or by the family it belongs to."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest
from support.source import nodes_of

import hayweather
from hayweather.words import FAMILIES, table

SOURCE = Path(hayweather.__file__).parent
KEY = re.compile(r"[\w-]+")


@cache
def source() -> str:
    """All code and templates of the package."""
    files = [*SOURCE.rglob("*.py"), *SOURCE.rglob("*.html")]
    return "\n".join(path.read_text(encoding="utf-8") for path in sorted(files))


@cache
def written() -> frozenset[str]:
    """Every word of the source, as it stands and in small letters."""
    words = KEY.findall(source())
    return frozenset(words) | {word.lower() for word in words}


def family_of(key: str) -> str | None:
    """The longest family that a key belongs to."""
    fitting = [family for family in FAMILIES if key.startswith(family) and key != family]
    return max(fitting, key=len, default=None)


def found_in_parts(rest: str) -> bool:
    """Whether what follows a family's beginning is written in the source, in one or two parts."""
    if rest.isdigit() or rest in written():
        return True
    cuts = [at for at, letter in enumerate(rest) if letter == "_"]
    return any(found_in_parts(rest[:at]) and rest[at + 1 :] in written() for at in cuts)


def not_found(keys: list[str]) -> list[str]:
    """Keys that grep finds neither whole nor by their family."""
    left = [key for key in keys if key not in written()]
    return [
        key
        for key in left
        if (family := family_of(key)) is None or not found_in_parts(key.removeprefix(family))
    ]


@cache
def beginnings() -> frozenset[str]:
    """What stands before the first gap of every f-string of the source that may be a text's key."""
    found = set()
    keys = (*table(), *bare_errors())
    for path in SOURCE.rglob("*.py"):
        for node in nodes_of(path):
            if not isinstance(node, ast.JoinedStr) or not isinstance(node.values[0], ast.Constant):
                continue
            parts = [
                re.escape(part.value) if isinstance(part, ast.Constant) else r"[\w-]+"
                for part in node.values
            ]
            first, whole = str(node.values[0].value), re.compile("".join(parts))
            if any(key.startswith(first) and whole.fullmatch(key) for key in keys):
                found.add(first)
    return frozenset(found)


@cache
def bare_errors() -> tuple[str, ...]:
    """Keys of errors as the code gives them."""
    return tuple(key.removeprefix("error_") for key in table() if key.startswith("error_"))


def test_every_key_is_found_by_grep() -> None:
    assert not_found(list(table())) == []


def test_a_key_that_nothing_gives_is_seen() -> None:
    lost = ["outlook_rig_of_old", "call_of_the_moon", "reason_of_the_moon"]
    assert not_found(lost) == lost


@pytest.mark.slow
def test_keys_are_put_together_in_listed_families_only() -> None:
    """Another one: write its keys whole, or list its beginning in `FAMILIES`."""
    assert beginnings() - set(FAMILIES) == set()


def test_no_family_is_left_behind() -> None:
    """Its f-string is in the source, or its name is handed to one that begins with it."""
    made = beginnings()
    left = [family for family in FAMILIES if family not in made]
    assert [family for family in left if f'"{family[:-1]}"' not in source()] == []


def test_families_stand_in_order_and_once() -> None:
    assert list(FAMILIES) == sorted(set(FAMILIES))
