"""The README's examples: found, run, and written anew.

A block that begins with ```` ```console ```` holds one command after ``$ `` and
what it prints. A line of three dots stands for lines left out.
``python tests/docs/readme.py`` runs every command and writes its output back;
the blocks between ``<!-- table: NAME -->`` and ``<!-- end -->`` are written by
the command in `TABLES`, those that take minutes only when named:
``python tests/docs/readme.py twin tuning``.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

TOP = Path(__file__).parents[2]
README = TOP / "README.md"
BLOCK = re.compile(r"```console\n\$ (?P<command>[^\n]+)\n(?P<printed>.*?)```", re.DOTALL)
TABLE = re.compile(r"<!-- table: (?P<name>\w+) -->\n(?P<rows>.*?)<!-- end -->", re.DOTALL)
GAP = "..."
TABLES = {
    "validation": [sys.executable, "-m", "published"],
    "skin": [sys.executable, "-m", "open_data"],
}
LONG_TABLES = {
    "twin": [sys.executable, "-m", "twin"],
    "summers": [sys.executable, "-m", "real"],
    "rig_hours": [sys.executable, "-m", "real", "rig"],
    "layouts": [sys.executable, "-m", "weather.layouts"],
    "tuning": [sys.executable, "-m", "twin", "--tune", "100"],
}


@dataclass(frozen=True)
class Example:
    """One command of the README and the lines it is said to print."""

    command: str
    printed: tuple[str, ...]


def examples() -> list[Example]:
    """All examples, in the order of the README."""
    text = README.read_text(encoding="utf-8")
    return [
        Example(match["command"], tuple(match["printed"].splitlines()))
        for match in BLOCK.finditer(text)
    ]


def run(command: str, folder: Path) -> list[str]:
    """What a command prints in `folder`, at 80 columns, with this Python's hayweather."""
    environment = {
        **os.environ,
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "COLUMNS": "80",
        "HAYWEATHER_STORE": str(folder / "store"),
        "MPLCONFIGDIR": str(folder / "matplotlib"),
    }
    done = subprocess.run(
        command, shell=True, cwd=folder, env=environment, capture_output=True, text=True
    )
    printed = done.stdout if done.returncode == 0 else done.stdout + done.stderr
    return [line.rstrip() for line in printed.splitlines()]


def prepared(folder: Path) -> Path:
    """`folder` with what the examples need."""
    shutil.copytree(TOP / "sample_forecasts", folder / "sample_forecasts")
    return folder


def shortened(example: Example, lines: list[str]) -> list[str]:
    """Fresh lines, with the gap where the example has one."""
    if GAP not in example.printed:
        return lines
    place = example.printed.index(GAP)
    tail = len(example.printed) - place - 1
    return [*lines[:place], GAP, *(lines[-tail:] if tail else [])]


def rewrite(named: Sequence[str] = ()) -> None:
    """Run every command and write what it prints into the README; long tables where named."""
    commands = {**TABLES, **{name: LONG_TABLES[name] for name in named}}
    text = README.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as name:
        folder = prepared(Path(name))

        def fresh(match: re.Match[str]) -> str:
            example = Example(match["command"], tuple(match["printed"].splitlines()))
            lines = shortened(example, run(example.command, folder))
            return "\n".join(["```console", f"$ {example.command}", *lines, "```"])

        text = BLOCK.sub(fresh, text)

    def table(match: re.Match[str]) -> str:
        if match["name"] not in commands:
            return match[0]
        done = subprocess.run(
            commands[match["name"]], cwd=TOP / "tests", capture_output=True, text=True, check=True
        )
        return f"<!-- table: {match['name']} -->\n\n{done.stdout.strip()}\n\n<!-- end -->"

    README.write_text(TABLE.sub(table, text), encoding="utf-8")


if __name__ == "__main__":
    rewrite(sys.argv[1:])
