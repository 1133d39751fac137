"""The oldest versions that ``pyproject.toml`` allows, as pins for pip.

``python tests/docs/floors.py`` prints them for the package itself,
``python tests/docs/floors.py fast grid`` with some of its extras.
"""

from __future__ import annotations

import re
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path

PROJECT = Path(__file__).parents[2] / "pyproject.toml"
FLOOR = re.compile(r"(?P<name>[\w.-]+)(?:\[[\w,-]+\])?>=(?P<version>[\w.]+)")


def requirements(extras: Sequence[str] = ()) -> list[str]:
    """What the package asks for, as it stands in the project's file."""
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    asked = [project["dependencies"], *(project["optional-dependencies"][one] for one in extras)]
    return [each for part in asked for each in part]


def pins(extras: Sequence[str] = ()) -> list[str]:
    """``name==version`` of each.

    Raises
    ------
    ValueError
        If one is asked for without ``>=`` and a version alone.
    """
    found = []
    for each in requirements(extras):
        match = FLOOR.fullmatch(each)
        if match is None:
            raise ValueError(f"{each}: a dependency is written as NAME>=VERSION")
        name = each[: each.index(">=")]
        found.append(f"{name}=={match['version']}")
    return found


if __name__ == "__main__":
    print("\n".join(pins(sys.argv[1:])))
