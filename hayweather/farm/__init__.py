"""The farm file: sites, fields, balers, rigs, and how they are read."""

from hayweather.farm.read import farm_of, read_farm
from hayweather.farm.records import (
    Baler,
    Farm,
    Field,
    Money,
    Rig,
    Shift,
    Site,
    Tuning,
    WeatherChoice,
)

__all__ = [
    "Baler",
    "Farm",
    "Field",
    "Money",
    "Rig",
    "Shift",
    "Site",
    "Tuning",
    "WeatherChoice",
    "farm_of",
    "read_farm",
]
