"""Every name that a reader hands out has its text, in both languages, with the right fields."""

from __future__ import annotations

import re
import string
import tomllib
from importlib import resources
from pathlib import Path

import pytest

import hayweather.weather.files as package
from hayweather import words
from hayweather.weather.files import maps
from hayweather.weather.files.read import LAYOUTS
from hayweather.words import LANGUAGES, table

SOURCES = [path.read_text("utf-8") for path in Path(package.__path__[0]).glob("*.py")]


def names(pattern: str) -> set[str]:
    """Names in the source that `pattern` catches."""
    return {name for source in SOURCES for name in re.findall(pattern, source)}


def fields(key: str, language: str) -> set[str]:
    """The fields of a text."""
    return {name for _, name, _, _ in string.Formatter().parse(table()[key][language]) if name}


def test_errors_have_texts_and_texts_have_errors() -> None:
    made = names(r'Error\("(map_[a-z_0-9]+)"') | names(r'error\("(map_[a-z_0-9]+)"')
    made |= names(r'"(weather_[a-z_0-9]+)"') - {"weather_code", "weather_from"}
    made |= {f"weather_missing_{name}" for name in ("air_temperature_c", "humidity", "wind")}
    text = resources.files(words).joinpath("errors_weather_files.toml").read_text("utf-8")
    assert {f"error_{name}" for name in made} == set(tomllib.loads(text))


@pytest.mark.parametrize(
    "key",
    [
        *(f"weather_layout_{each.name}" for each in LAYOUTS if each.name not in maps.shipped()),
        "weather_layout_own",
        *(f"weather_hour_{hour}" for hour in ("start", "center", "end")),
        *(f"weather_timing_{timing}" for timing in ("instant", "mean", "sum", "period")),
        *(f"weather_origin_{origin}" for origin in ("file", "layout", "option", "assumed")),
        "flag_stuck",
    ],
)
def test_words_of_the_report(key: str) -> None:
    assert all(table()[key][language] for language in LANGUAGES)


def test_repairs_refusals_and_assumptions_have_texts() -> None:
    made = names(r'(?:Repair|counted|_repair)\(\s*"([a-z_]+)"') - {"stuck"}
    made |= {"humidity_capped", "humidity_floor", "clock_change_doubled", "clock_change_single"}
    assert len(made) > 8
    known = {key.split("_", 1)[1] for key in table() if key.startswith(("repair_", "refused_"))}
    assert made <= known
    told = names(r'Assumption\("([a-z_]+)"')
    assert {f"assumed_{name}" for name in told} <= set(table())
    from hayweather.weather.files.read import _TOLD

    assert all(fields(f"assumed_{name}", "en") <= {"count"} for name in _TOLD)


@pytest.mark.parametrize("key", sorted(k for k in table() if "weather_" in k or "assumed_" in k))
def test_both_languages_name_the_same_fields(key: str) -> None:
    assert fields(key, "en") == fields(key, "es")
