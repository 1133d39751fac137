"""The house: short functions, short files, docstrings on everything public.

Sizes are those of DEVELOPERS.md; docstrings are judged by numpydoc's own
validator (https://numpydoc.readthedocs.io, version installed).
"""

import ast
import dataclasses
import importlib
import inspect
import pkgutil
import statistics
from pathlib import Path

from numpydoc.docscrape import ClassDoc, FunctionDoc
from numpydoc.validate import validate

import hayweather

TOP = Path(hayweather.__file__).parent
LONGEST_FILE, LONGEST_BODY, NINE_IN_TEN, MEDIAN = 300, 50, 30, 10
# Types stand in the annotations, short functions say what they return in the
# first line, and "hours of a night" is no verb.
LEFT_TO_TASTE = {"SA01", "EX01", "ES01", "PR01", "PR04", "RT01", "YD01", "SS05"}
NAMES_SAY_IT = {"hayweather.farm.records", "hayweather.units", "hayweather.baling.outlook"}
"""Rooms whose parameters are told elsewhere: a key of the farm file has its text in
words/farm.toml, a quantity its row in the table of units; an outlook is told by its parts."""


def files():
    return sorted(TOP.rglob("*.py"))


def bodies():
    """Lines of every function without its signature and docstring."""
    found = {}
    for path in files():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                body = node.body[1:] if ast.get_docstring(node) else node.body
                lines = body[-1].end_lineno - body[0].lineno + 1 if body else 0
                found[f"{path.relative_to(TOP)}:{node.lineno} {node.name}"] = lines
    return found


def public_names():
    """Full names of the public functions and classes, where they are defined."""
    for module in pkgutil.walk_packages(hayweather.__path__, "hayweather."):
        if module.name.endswith("__main__"):
            continue
        for name, item in vars(importlib.import_module(module.name)).items():
            known = inspect.isfunction(item) or inspect.isclass(item)
            if known and not name.startswith("_") and item.__module__ == module.name:
                yield f"{module.name}.{name}"


def test_files_are_short():
    lines = {str(path): len(path.read_text(encoding="utf-8").splitlines()) for path in files()}
    assert {name: count for name, count in lines.items() if count > LONGEST_FILE} == {}


def test_functions_are_short():
    found = bodies()
    assert {name: lines for name, lines in found.items() if lines > LONGEST_BODY} == {}
    assert statistics.quantiles(found.values(), n=10)[-1] <= NINE_IN_TEN
    assert statistics.median(found.values()) <= MEDIAN


def test_public_docstrings_are_whole():
    wrong = {}
    for name in public_names():
        found = {f"{code}: {text}" for code, text in validate(name)["errors"]}
        found = {each for each in found if each[:4] not in LEFT_TO_TASTE}
        if found:
            wrong[name] = sorted(found)
    assert wrong == {}


def room_of(module):
    return module.split(".")[1]


def crossing():
    """What one room imports from another: module and name."""
    found = set()
    for path in files():
        here = path.relative_to(TOP).parts[0].removesuffix(".py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            module = node.module or "" if isinstance(node, ast.ImportFrom) else ""
            if module.startswith("hayweather.") and room_of(module) != here:
                found |= {(module, alias.name) for alias in node.names}
    return sorted(found)


def untold(item):
    """Parameters of a function, or fields of a record, that its docstring leaves out."""
    if inspect.isfunction(item):
        told = FunctionDoc(item)["Parameters"]
        needed = list(inspect.signature(item).parameters)
    elif inspect.isclass(item) and dataclasses.is_dataclass(item):
        told = ClassDoc(item)["Attributes"] + ClassDoc(item)["Parameters"]
        own = inspect.get_annotations(item)
        needed = [each.name for each in dataclasses.fields(item) if each.name in own]
    else:
        return []
    names = {name.strip().lstrip("*") for each in told for name in each.name.split(",")}
    return [name for name in needed if name not in names and not name.startswith("_")]


def test_what_other_rooms_use_tells_every_parameter():
    wrong = {}
    for module, name in crossing():
        item = getattr(importlib.import_module(module), name)
        if getattr(item, "__module__", None) == module and module not in NAMES_SAY_IT:
            wrong[f"{module}.{name}"] = untold(item)
    assert len(wrong) > 150
    assert {name: left for name, left in wrong.items() if left} == {}


def test_modules_say_what_they_are():
    silent = [str(path) for path in files() if not ast.get_docstring(ast.parse(path.read_text()))]
    assert silent == []
