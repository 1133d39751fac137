"""Outlooks of the sample farms, made once, for tests of what is shown of them."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from hayweather.farm import read_farm
from hayweather.nights import Night, night_of
from hayweather.weather.asked import weather_for

FOLDER = Path(__file__).parents[2] / "sample_forecasts"
SAMPLES = (
    "sagebeck",
    "sagebeck_no_dew",
    "sagebeck_shower",
    "sagebeck_hot_wind",
    "sagebeck_frost",
    "vallumbria",
)


def each_sample(*quick: str) -> list[object]:
    """All samples as parameters, of which a default run takes the quick ones."""
    slow = pytest.mark.slow
    return [name if name in quick else pytest.param(name, marks=slow) for name in SAMPLES]


EACH_SAMPLE = each_sample("sagebeck", "vallumbria")
MEMBERS = 40


@cache
def outlook_of(name: str) -> Night:
    """The outlook of a sample farm, with few members to be quick."""
    farm = read_farm(FOLDER / f"{name}.toml")
    return night_of(farm, weather_for(farm, farm.sites), farm.weather.now, members=MEMBERS)


@cache
def in_language(name: str, language: str) -> Night:
    """The outlook of a sample farm as a farm of another language would get it.

    Without the notes of the farm file, which are sentences of its own language.
    """
    made = outlook_of(name)
    return replace(made, farm=replace(made.farm, language=language, notes=()))
