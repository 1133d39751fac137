"""The band, ceiling, leaf minimum and stem limit that hold for a baler in a field.

The numbers by kind of bale stand in `hayweather.farm.kinds`, because the farm
file is checked against them.
"""

from __future__ import annotations

from dataclasses import dataclass

from hayweather.farm.kinds import band_of, ceiling_of, limits_of
from hayweather.farm.records import Baler, Crop, Field

LEAF_MINIMUM_WB: dict[Crop, float] = {"alfalfa-grass": 10.0}
"""Leaf minimum by crop [% wb], assumed. Alfalfa's is the bottom of the band;
grass and cereal have none: dry is dusty, not lost leaf."""


@dataclass(frozen=True)
class Band:
    """Moisture limits of one baler in one field, % wet basis.

    Attributes
    ----------
    low_wb, high_wb
        The band of the whole windrow with its free water.
    ceiling_wb
        Never baled above this.
    leaf_minimum_wb
        Mean leaf moisture below which leaf shatters; None where none holds.
    stem_limit_wb
        Stem moisture above which the hay is not cured.
    by_label
        True when the ceiling is the user's, by a preservative's label.
    """

    low_wb: float
    high_wb: float
    ceiling_wb: float
    leaf_minimum_wb: float | None
    stem_limit_wb: float
    by_label: bool = False


def band_for(baler: Baler, field: Field) -> Band:
    """The limits that hold for `baler` in `field`: its own, else those of kind and crop.

    Parameters
    ----------
    baler
        Its own limits win; else those of its kind and market.
    field
        Its crop sets the leaf's least moisture.

    Examples
    --------
    >>> from hayweather.farm.records import Baler, Field
    >>> band_for(Baler("baler", "round"), Field("north", "home", "alfalfa-grass"))
    Band(low_wb=12.0, high_wb=16.0, ceiling_wb=18.0, leaf_minimum_wb=10.0, stem_limit_wb=13.0, \
by_label=False)
    """
    low_wb, high_wb = band_of(baler)
    own_stem = baler.stem_limit_wb
    return Band(
        low_wb=low_wb,
        high_wb=high_wb,
        ceiling_wb=ceiling_of(baler),
        leaf_minimum_wb=leaf_minimum(baler, field.crop),
        stem_limit_wb=limits_of(baler).stem_limit_wb if own_stem is None else own_stem,
        by_label=baler.preservative is not None,
    )


def leaf_minimum(baler: Baler, crop: Crop) -> float | None:
    """Mean leaf moisture needed [% wb]: the baler's own, else the crop's; None for none."""
    if baler.leaf_minimum_wb is not None:
        return baler.leaf_minimum_wb
    return band_of(baler)[0] if crop == "alfalfa" else LEAF_MINIMUM_WB.get(crop)
