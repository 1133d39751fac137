"""What stands on every output: made-up data named, and the cautions."""

from __future__ import annotations

from hayweather.farm.records import Farm
from hayweather.words import say

CAUTIONS = ("safety_planning", "safety_authority")


def headings(farm: Farm) -> list[str]:
    """The first line of an invented sample; nothing for a real farm."""
    return [say("outlook_invented", farm.language), ""] if farm.weather.invented else []


def cautions(farm: Farm) -> list[str]:
    """The cautions that hold for tuning and scoring too."""
    return [say(key, farm.language) for key in CAUTIONS]
