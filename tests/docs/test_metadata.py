"""What ``pyproject.toml`` says of the package is so."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterable
from pathlib import Path

import pytest
from docs.floors import PROJECT, pins, requirements

PACKAGE = PROJECT.parent / "hayweather"
EXTRAS = ("fast", "grid", "sensors", "web")
NOT_IMPORTED = {
    "tzdata": "zoneinfo reads it where the system has no zones",
    "zarr": "xarray opens Zarr with it",
    "h5netcdf": "xarray opens NetCDF with it",
    "cftime": "xarray reads the calendars of NetCDF with it",
    "dask": "xarray parts a grid with it; its scheduler is imported as distributed",
}
"""Dependencies that something else imports, and what."""


def roots_imported(files: Iterable[Path]) -> set[str]:
    """First names of what some files import from outside the standard library."""
    found = set()
    for path in files:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and not node.level:
                found.add(node.module.partition(".")[0])
            elif isinstance(node, ast.Import):
                found |= {alias.name.partition(".")[0] for alias in node.names}
    return found - sys.stdlib_module_names - {"hayweather"}


def plain(name: str) -> str:
    """The name of a distribution as the index compares it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def imported() -> set[str]:
    """Distributions that the package imports: all of them are named as they are imported."""
    return {plain(root) for root in roots_imported(PACKAGE.rglob("*.py"))}


IMPORTED_AS = {"paho-mqtt": "paho"}


def declared() -> set[str]:
    """Distributions that the package and its extras ask for."""
    asked = requirements(EXTRAS)
    names = {plain(re.split(r"[\[>=<!~ ]", each)[0]) for each in asked}
    names = {IMPORTED_AS.get(name, name) for name in names}
    return names | ({"distributed"} if any("distributed" in each for each in asked) else set())


@pytest.mark.slow
def test_what_is_imported_is_declared() -> None:
    assert imported() - declared() == set()


@pytest.mark.slow
def test_what_is_not_imported_is_no_dependency() -> None:
    assert declared() - imported() - set(NOT_IMPORTED) == set()


def test_an_import_that_is_not_declared_is_seen(tmp_path: Path) -> None:
    file = tmp_path / "one.py"
    file.write_text("import json\n\ndef late():\n    from moon.sea import tide\n")
    assert roots_imported([file]) == {"moon"}


def test_floors_are_pins_of_all_dependencies() -> None:
    found = pins(EXTRAS)
    assert [re.split(r"[\[=]", one)[0] for one in found] == [
        re.split(r"[\[>]", one)[0] for one in requirements(EXTRAS)
    ]
    assert all(re.fullmatch(r"[\w.\[\],-]+==[\d.]+", one) for one in found)


def test_a_dependency_without_a_floor_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("docs.floors.requirements", lambda extras: ["numpy<3"])
    with pytest.raises(ValueError, match="numpy<3"):
        pins()


def test_the_licence_is_that_of_the_file() -> None:
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    (name,) = project["license-files"]
    text = (PROJECT.parent / name).read_text(encoding="utf-8")
    assert project["license"] == "BSD-3-Clause"
    assert text.startswith("BSD 3-Clause License")
    assert project["authors"][0]["name"] in text
    assert "Neither the name of the copyright holder" in text


def test_the_version_is_one() -> None:
    import hayweather

    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    assert project["version"] == hayweather.__version__
