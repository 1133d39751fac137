"""Imports point down: the rooms of the package in their order, read from the source."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest
from support.source import nodes_of

PACKAGE = Path(__file__).parents[2] / "hayweather"

KNOWN = ("catalog", "units", "errors", "words", "version")
FARM = ("weather.record", "farm", *KNOWN)

# Each room may import itself and the rooms after it in its line.
MAY_IMPORT = {
    "whole_file": [],
    "spreadsheet": [],
    "sample": ["errors", "words", "whole_file"],
    "guide": [],
    "words": [],
    "errors": ["words"],
    "units": ["errors", "words"],
    "version": [],
    "catalog": ["units", "errors", "words"],
    "farm": ["weather.catalog", *KNOWN, "whole_file"],
    "weather.catalog": [],
    "weather.record": ["units", "errors", "words"],
    "weather.reading": ["windrow", "weather.catalog", *FARM, "whole_file"],
    "windrow": ["weather.record", "catalog", "words"],
    "baling": ["windrow", *FARM],
    "log": ["baling", "windrow", *FARM, "whole_file", "spreadsheet"],
    "nights": ["log", "baling", "windrow", *FARM],
    "plan": ["nights", "baling", "windrow", *FARM],
    "show": [
        *("seasons.record", "learning", "plan", "nights", "baling", "windrow"),
        *("weather.reading", "spreadsheet", *FARM),
    ],
    "delivery": ["weather.reading", "weather.catalog", "errors", "words", "whole_file"],
    "web": [
        *("show", "learning", "log", "plan", "nights", "baling", "windrow", "weather.reading"),
        *("whole_file", "delivery", "weather.catalog", *FARM),
    ],
    "learning": [
        "nights",
        "log",
        "weather.reading",
        "weather.catalog",
        "baling",
        "windrow",
        *FARM,
        "whole_file",
    ],
    "seasons.record": [*FARM],
    "seasons": [
        *("seasons.record", "nights", "baling", "windrow", "weather.catalog", "weather.reading"),
        *("whole_file", *FARM),
    ],
}


def room_of(module: str) -> str:
    """The room of a module written without the package's name."""
    head, _, rest = module.partition(".")
    if module == "weather.catalog":
        return module
    if head == "weather":
        return "weather.record" if rest in ("", "record", "observed") else "weather.reading"
    if head == "seasons" and rest.partition(".")[0] in ("", "record"):
        return "seasons.record"
    return head


def imports_of(path: Path) -> set[str]:
    """Modules of the package that a file imports, anywhere in it."""
    found = set()
    for node in nodes_of(path):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    inside = {name.removeprefix("hayweather.") for name in found if name.startswith("hayweather.")}
    return {name for name in inside if is_module(name)}


def is_module(name: str) -> bool:
    """True for a module or package, false for something inside one."""
    place = PACKAGE.joinpath(*name.split("."))
    return place.is_dir() or place.with_suffix(".py").is_file()


def files() -> list[Path]:
    return sorted(path for path in PACKAGE.rglob("*.py") if path != PACKAGE / "__init__.py")


@pytest.mark.parametrize("path", files(), ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_down(path):
    module = ".".join(path.relative_to(PACKAGE).with_suffix("").parts).removesuffix(".__init__")
    room = room_of(module)
    if room in ("cli", "door", "__main__"):
        return
    allowed = {room, *MAY_IMPORT[room]}
    wrong = {
        name for name in imports_of(path) if room_of(name) not in allowed and name != "weather"
    }
    assert not wrong, f"{module} must not import {sorted(wrong)}"


def loaded_by(path: Path) -> set[str]:
    """Files of the package that a file imports when it runs, lazily too; not for types alone."""
    found: set[str] = set()

    def look(node: ast.AST) -> None:
        for inner in ast.iter_child_nodes(node):
            if isinstance(inner, ast.If) and ast.unparse(inner.test) == "TYPE_CHECKING":
                continue
            if isinstance(inner, ast.ImportFrom) and (inner.module or "").startswith("hayweather"):
                for alias in inner.names:
                    inside = f"{inner.module}.{alias.name}"
                    found.add(inside if is_module(inside.removeprefix("hayweather.")) else
                              str(inner.module))  # fmt: skip
            elif isinstance(inner, ast.Import):
                found.update(a.name for a in inner.names if a.name.startswith("hayweather"))
            look(inner)

    look(ast.parse(path.read_text(encoding="utf-8")))
    return found


def circles(imports: dict[str, set[str]]) -> list[list[str]]:
    """Ways from a file through imports back to it, one for each that is on such a way."""
    found = []
    for begin in imports:
        came: dict[str, str] = {}
        waiting = [begin]
        while waiting and begin not in came:
            name = waiting.pop()
            for inner in imports.get(name, set()) - set(came):
                came[inner] = name
                waiting.append(inner)
        if begin in came:
            way = [begin]
            while len(way) == 1 or way[-1] != begin:
                way.append(came[way[-1]])
            found.append(way[::-1])
    return found


@pytest.mark.slow
def test_no_circle_between_files():
    imports = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        name = ".".join(parts).removesuffix(".__init__")
        imports[name] = loaded_by(path) - {name}
    assert len(imports) > 100
    assert circles(imports) == []


def test_a_circle_is_found():
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}}) == [["b", "c", "b"], ["c", "b", "c"]]


def test_the_check_can_fail(tmp_path):
    upward = tmp_path / "upward.py"
    upward.write_text("from hayweather.nights import night\nimport hayweather.units\n")
    assert imports_of(upward) == {"nights", "nights.night", "units"}
    assert room_of("nights.night") not in MAY_IMPORT["windrow"]
    assert room_of("weather.files.plain") not in MAY_IMPORT["windrow"]


@pytest.mark.parametrize(
    "path", sorted((PACKAGE / "windrow").glob("*.py")), ids=lambda path: path.name
)
def test_the_windrow_knows_numpy_only(path):
    """And, in its one compiled loop, numba; `importlib` says whether that is there."""
    roots = set()
    for node in nodes_of(path):
        if isinstance(node, ast.ImportFrom):
            roots.add((node.module or "").partition(".")[0])
        elif isinstance(node, ast.Import):
            roots |= {alias.name.partition(".")[0] for alias in node.names}
    plain = {"__future__", "collections", "dataclasses", "functools", "importlib"}
    assert roots <= {"numpy", "hayweather", "statistics", "typing", *plain}


def test_the_catalog_needs_the_standard_library_only():
    code = (
        "import sys, hayweather.catalog\n"
        "heavy = {'numpy', 'pandas', 'metpy', 'scipy', 'matplotlib', 'typer'}\n"
        "sys.exit(' '.join(sorted(set(sys.modules) & heavy)) or 0)"
    )
    ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert (ended.returncode, ended.stderr.strip()) == (0, "")


# What the nights alone do; everybody else asks them.
NIGHTS_ALONE = {
    "with_cloud",
    "make_members",
    "setting_for",
    "complete_site",
    "first_hour",
}


def driven_in(path: Path) -> set[str]:
    """What a file imports of a drive through the windrow."""
    found = set()
    for node in nodes_of(path):
        if isinstance(node, ast.ImportFrom):
            names = {alias.name for alias in node.names}
            found |= names & NIGHTS_ALONE
            if node.module == "hayweather.windrow.run":
                found |= names
    return found


@pytest.mark.parametrize(
    "path",
    [path for path in files() if path.relative_to(PACKAGE).parts[0] not in ("nights", "windrow")],
    ids=lambda path: str(path.relative_to(PACKAGE)),
)
def test_only_the_nights_drive_the_windrow(path):
    assert not driven_in(path)


def test_the_check_of_the_drive_can_fail():
    assert driven_in(PACKAGE / "nights" / "drive.py") >= {"run", "make_members", "with_cloud"}
