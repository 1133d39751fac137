"""A table of the guide beside a fresh one: the same but for rounding and versions."""

from __future__ import annotations

import re

from docs.pages import TABLE, documents

NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:e[-+]?\d+)?")
VERSION = re.compile(r"\b\d+\.\d+\.\d+\b")
NEAR = 0.05
"""Share of the largest number of a row by which machines may differ (assumed)."""


def differing(old: str, new: str) -> list[tuple[str, str]]:
    """Lines whose words differ, or whose numbers differ by more than rounding and versions do."""
    one, two = (VERSION.sub("", text).strip().splitlines() for text in (old, new))
    if len(one) != len(two):
        return [(f"{len(one)} lines", f"{len(two)} lines")]
    return [pair for pair in zip(one, two, strict=True) if not alike(*pair)]


def alike(old: str, new: str) -> bool:
    """Whether two lines say the same."""
    if NUMBER.sub("#", old) != NUMBER.sub("#", new):
        return False
    numbers = [[float(number) for number in NUMBER.findall(line)] for line in (old, new)]
    allowed = NEAR * max(map(abs, numbers[0]), default=0.0)
    last = old.rsplit("|", 2)[-2] if old.count("|") > 2 else old
    limit = max((abs(float(number)) for number in NUMBER.findall(last)), default=allowed)
    return all(abs(a - b) <= min(allowed, NEAR * limit) for a, b in zip(*numbers, strict=True))


def shown(name: str) -> str:
    """A table as it stands in its page."""
    texts = [path.read_text(encoding="utf-8") for path in documents()]
    (rows,) = [m["rows"] for text in texts for m in TABLE.finditer(text) if m["name"] == name]
    return rows
