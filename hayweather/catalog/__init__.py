"""What hayweather knows of crops, kinds of baler, rigs and prices: data, each record in one place.

A crop is one `Crop` in `hayweather.catalog.crops`, a kind of baler one
`BalerKind` in `hayweather.catalog.balers`, each with its sources; their words
stand in ``words/catalog.toml``. Everybody asks here: the farm file for its
choices, the windrow for its curves, the calls for their limits. Nothing here
needs more than the standard library.
"""

from __future__ import annotations

from typing import TypeVar

from hayweather.catalog.balers import BALERS, DEFAULT_BALER, BalerKind, MoistureLimits
from hayweather.catalog.crops import CROPS, DEFAULT_CROP, BalingLoss, Crop, Quality, Sorption
from hayweather.catalog.sources import Figure, Source
from hayweather.errors import InputError

__all__ = [
    "BALERS",
    "CROPS",
    "DEFAULT_BALER",
    "DEFAULT_CROP",
    "BalerKind",
    "BalingLoss",
    "Crop",
    "Figure",
    "MoistureLimits",
    "Quality",
    "Sorption",
    "Source",
    "crop_of",
    "kind_of",
]

Record = TypeVar("Record")


def crop_of(name: str) -> Crop:
    """The record of a crop.

    Raises
    ------
    InputError
        If the catalog has none of that name; the line lists those it has.

    Examples
    --------
    >>> crop_of("grass").loss is None
    True
    """
    return _known(CROPS, name, "crop")


def kind_of(name: str) -> BalerKind:
    """The record of a kind of baler.

    Raises
    ------
    InputError
        If the catalog has none of that name; the line lists those it has.

    Examples
    --------
    >>> kind_of("round").limits.ceiling_wb
    18.0
    """
    return _known(BALERS, name, "kind")


def _known(records: dict[str, Record], name: str, where: str) -> Record:
    """The record of that name."""
    if name in records:
        return records[name]
    choices = ", ".join(f'"{choice}"' for choice in records)
    raise InputError("farm_choice_far", where, value=f'"{name}"', choices=choices)
