"""``hayweather inspect``: what was read from a file."""

from __future__ import annotations


def inspect() -> None:
    """What was read."""
