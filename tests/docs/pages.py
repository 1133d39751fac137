"""README and guide: their examples and tables found, run, and written anew.

A block that begins with ```` ```console ```` holds one command after ``$ `` and
what it prints; a line of three dots stands for what is left out, whole paragraphs
where an empty line stands beside it. A ```` ```python ````
block is run, with the blocks of its page before it; what it prints stands in a
```` ```text ```` block right below. Examples of one page share a folder.

``python tests/docs/pages.py`` runs every example and writes what it prints back, and
renews the tables that take seconds. Tables stand between ``<!-- table: NAME -->`` and
``<!-- end -->``; those that take minutes are renewed where they are named:
``python tests/docs/pages.py twin tuning``, or all of them: ``... all``.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

TOP = Path(__file__).parents[2]
README = TOP / "README.md"
GUIDE = TOP / "hayweather" / "guide"
CONSOLE = re.compile(r"```console\n\$ (?P<command>[^\n]+)\n(?P<printed>.*?)```", re.DOTALL)
PYTHON = re.compile(r"```python\n(?P<code>.*?)```(?:\n\n?```text\n(?P<printed>.*?)```)?", re.DOTALL)
TABLE = re.compile(r"<!-- table: (?P<name>\w+) -->\n(?P<rows>.*?)<!-- end -->", re.DOTALL)
GAP = "..."
SHELL = frozenset("|<>;&$*")
TABLES = {"validation": ("published",), "rig_shares": ("docs.rig_shares",)}
LONG_TABLES = {
    "skin": ("open_data",),
    "layouts": ("weather.layouts",),
    "summers": ("real",),
    "speed": ("speed.file_to_answer",),
    "worth": ("docs.worth",),
    "worth_hours": ("docs.worth", "hours"),
    "rig_hours": ("real", "rig"),
    "layer_rule": ("real", "layers"),
    "forty_nights": ("real", "advice"),
    "advice": ("twin", "--advice", "--every", "4"),
    "twin": ("twin", "--every", "4"),
    "stations": ("twin", "--stations", "--every", "4"),
    "learned": ("twin", "--learn"),
    "tuning": ("twin", "--tune", "100"),
}
"""Table and the module of tests/ that prints it, with its arguments."""


@dataclass(frozen=True)
class Example:
    """A command or a piece of Python, and the lines it is said to print."""

    command: str
    printed: tuple[str, ...]
    python: bool = False
    page: str = ""

    def shortened(self, lines: list[str]) -> list[str]:
        """Fresh lines, with the gap where the example has one.

        Beside an empty line the gap leaves out whole paragraphs, else lines: as many are
        kept before and behind it as the example shows.
        """
        if GAP not in self.printed:
            return lines
        place = self.printed.index(GAP)
        head, tail = list(self.printed[:place]), list(self.printed[place + 1 :])
        kept = beginning(lines, head)
        return [*kept, GAP, *beginning(lines[::-1], tail[::-1])[::-1]]


def beginning(lines: list[str], shown: list[str]) -> list[str]:
    """As many lines as are shown; as many paragraphs where an empty line ends them."""
    if not shown or shown[-1]:
        return lines[: len(shown)]
    ends = [number for number, line in enumerate(lines, 1) if not line]
    wanted = sum(not line for line in shown)
    return lines[: ends[wanted - 1]] if wanted <= len(ends) else lines


@dataclass
class Room:
    """A folder with the samples, and the names that the Python of a page has bound."""

    folder: Path
    names: dict[str, object] = field(default_factory=dict)

    def __post_init__(self) -> None:
        shutil.copytree(TOP / "sample_forecasts", self.folder / "sample_forecasts")

    def run(self, example: Example) -> list[str]:
        """What an example prints at 80 columns."""
        environment = {
            "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
            "COLUMNS": "80",
            "HAYWEATHER_STORE": str(self.folder / "store"),
            "MPLBACKEND": "Agg",
        }
        with surroundings(self.folder, environment):
            printed = self._python(example) if example.python else self._command(example)
        return [line.rstrip() for line in printed.splitlines()]

    def _python(self, example: Example) -> str:
        """Run a piece of Python in this process."""
        with contextlib.redirect_stdout(io.StringIO()) as said:
            exec(compile(example.command, example.page, "exec"), self.names)
        return said.getvalue()

    def _command(self, example: Example) -> str:
        """Run a command: in this process, or in a shell where it needs one."""
        program, *arguments = shlex.split(example.command)
        if program != "hayweather" or SHELL & set(example.command):
            done = subprocess.run(example.command, shell=True, capture_output=True, text=True)
            return done.stdout if done.returncode == 0 else done.stdout + done.stderr
        from hayweather.cli.main import run

        said, told = io.StringIO(), io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(told):
            code = run(arguments)
        return said.getvalue() if code == 0 else said.getvalue() + told.getvalue()


@contextlib.contextmanager
def surroundings(folder: Path, environment: dict[str, str]) -> Iterator[None]:
    """Work in a folder, with some variables set."""
    before = {name: os.environ.get(name) for name in environment}
    os.environ.update(environment)
    try:
        with contextlib.chdir(folder):
            yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name)
            else:
                os.environ[name] = value


def documents() -> list[Path]:
    """README and the pages of the guide."""
    return [README, *sorted(GUIDE.glob("*.md"))]


def open_door() -> bool:
    """Whether the functions that the page on Python shows are there."""
    import hayweather

    return hasattr(hayweather, "night_of")


def example_of(match: re.Match[str], page: str) -> Example:
    """What a block of one of the two kinds holds."""
    found = match.groupdict()
    printed = tuple((found["printed"] or "").splitlines())
    return Example(found.get("command") or found.get("code", ""), printed, "code" in found, page)


def examples(path: Path) -> list[Example]:
    """The examples of a page that can run here, in their order."""
    text = path.read_text(encoding="utf-8")
    kinds = [CONSOLE, PYTHON] if open_door() else [CONSOLE]
    found = [match for kind in kinds for match in kind.finditer(text)]
    return [example_of(match, path.name) for match in sorted(found, key=re.Match.start)]


def table(name: str) -> str:
    """A table as its command prints it now, with the day where it takes long."""
    module, *arguments = {**TABLES, **LONG_TABLES}[name]
    done = subprocess.run(
        [sys.executable, "-m", module, *arguments],
        cwd=TOP / "tests",
        capture_output=True,
        text=True,
        check=True,
    )
    rows = done.stdout.strip()
    if name in LONG_TABLES:
        day = datetime.now(UTC)
        rows += f"\n\nRun on {day.day} {day:%B %Y}."
    return rows


def rewrite(named: Sequence[str] = ()) -> None:
    """Run every example and write what it prints into its page; long tables where named."""
    wanted = {*TABLES, *(LONG_TABLES if "all" in named else named)}
    for path in documents():
        text = path.read_text(encoding="utf-8")
        with tempfile.TemporaryDirectory() as folder:
            room = Room(Path(folder))

            def fresh(match: re.Match[str], room: Room = room, page: str = path.name) -> str:
                example = example_of(match, page)
                lines = "".join(f"{line}\n" for line in example.shortened(room.run(example)))
                if not example.python:
                    return f"```console\n$ {example.command}\n{lines}```"
                shown = f"\n\n```text\n{lines}```" if lines else ""
                return f"```python\n{example.command}```{shown}"

            for kind in [CONSOLE, PYTHON] if open_door() else [CONSOLE]:
                text = kind.sub(fresh, text)

        def renewed(match: re.Match[str]) -> str:
            name = match["name"]
            if name not in wanted:
                return match[0]
            return f"<!-- table: {name} -->\n\n{table(name)}\n\n<!-- end -->"

        path.write_text(TABLE.sub(renewed, text), encoding="utf-8")


if __name__ == "__main__":
    rewrite(sys.argv[1:])
