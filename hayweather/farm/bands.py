"""Moisture limits: what a baler allows, and the band that holds for it in a field.

The numbers by kind of bale and crop stand in `hayweather.catalog`; a farm
file's own figures win. Ceilings without preservative are extension figures,
the rest is assumed or common practice, as said there.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from hayweather.catalog import MoistureLimits, crop_of, kind_of
from hayweather.catalog.balers import (
    EXPORT_TOP_WB,
    HEAVY_BALE_KG,
    HEAVY_LIMITS,
    TARGET_ABOVE_BAND_WB,
)
from hayweather.farm.records import Baler, Field, Rig
from hayweather.units import FOOT_M
from hayweather.words import Remark


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
    >>> band = band_for(Baler("baler"), Field("north", "home"))
    >>> band.low_wb, band.high_wb, band.leaf_minimum_wb
    (12.0, 16.0, 12.0)
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


def limits_remark(baler: Baler, field: Field) -> Remark:
    """The crop, the bales and the limits that hold for them, in one sentence."""
    band, crop = band_for(baler, field), Remark(crop_of(field.crop).text)
    leaf = Remark("limits_no_leaf")
    if band.leaf_minimum_wb is not None:
        leaf = Remark("limits_leaf", {"leaf": (band.leaf_minimum_wb, "percent")})
    values: dict[str, object] = {
        "crop": crop,
        "bales": Remark(kind_of(baler.kind).text),
        "low": (band.low_wb, "percent"),
        "high": (band.high_wb, "percent"),
        "leaf": leaf,
        "stem": (band.stem_limit_wb, "percent"),
    }
    return Remark("limits", values)


def leaf_minimum(baler: Baler, crop: str) -> float | None:
    """Mean leaf moisture needed [% wb]: the baler's own, else the crop's; None for none."""
    if baler.leaf_minimum_wb is not None:
        return baler.leaf_minimum_wb
    least = crop_of(crop).leaf_minimum
    return band_of(baler)[0] if least == "band" else least


def limits_of(baler: Baler) -> MoistureLimits:
    """Limits of a baler's kind; four by four and heavy bales have the lowest.

    A bale of any kind over `HEAVY_BALE_KG` counts as heavy (assumed: the
    table's row is for large squares).

    Parameters
    ----------
    baler
        Its kind, bale size and bale weight count.

    Examples
    --------
    >>> limits_of(Baler("baler", bale_size="4x4")).ceiling_wb
    14.0
    """
    return HEAVY_LIMITS if is_heavy(baler) else kind_of(baler.kind).limits


def is_heavy(baler: Baler) -> bool:
    """Whether its bales are over `HEAVY_BALE_KG`, or their ends large for its kind."""
    if baler.bale_mass_kg is not None and baler.bale_mass_kg > HEAVY_BALE_KG:
        return True
    sides, heavy_m = bale_end_m(baler.bale_size or ""), kind_of(baler.kind).heavy_side_m
    return heavy_m is not None and sides is not None and min(sides) >= heavy_m


def bale_end_m(text: str) -> tuple[float, float] | None:
    """Sides [m] of the end of a bale written "3x4", "90x120 cm", "1.2 x 1.3" or "1,2 x 1,3".

    Where no unit is named, the size of the numbers tells it: below 2.5 meters, to 9
    feet, to 60 inches, above centimeters. None when there are no two numbers.

    Examples
    --------
    >>> [round(side, 2) for side in bale_end_m("3x4x8")]
    [0.91, 1.22]
    """
    written = re.findall(r"\d+(?:[.,]\d+)?", text)[:2]
    sides = [float(number.replace(",", ".")) for number in written]
    if len(sides) < 2 or min(sides) <= 0:
        return None
    named = re.search(r"\d\s*(cm|mm|m|ft|in)\b", text.casefold())
    scale = _UNITS_M[named[1]] if named else _meters_each(max(sides))
    return sides[0] * scale, sides[1] * scale


_UNITS_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": FOOT_M / 12, "ft": FOOT_M}


def _meters_each(larger: float) -> float:
    """Meters in the unit, not named, in which the larger side of a bale's end is `larger`."""
    if larger < 2.5:
        return 1.0
    if larger <= 9:
        return FOOT_M
    return FOOT_M / 12 if larger <= 60 else 0.01


def ceiling_of(baler: Baler) -> float:
    """Moisture above which this baler never bales [% wb].

    With a preservative it is the user's own figure, by the label.

    Parameters
    ----------
    baler
        Its kind, market, bale and preservative count.
    """
    if baler.preservative is not None:
        return baler.preservative.ceiling_wb
    return limits_of(baler).ceiling_wb


def top_allowed(baler: Baler) -> float:
    """Highest band top that the ceiling and the market allow [% wb]."""
    ceiling = ceiling_of(baler)
    return min(ceiling, EXPORT_TOP_WB) if baler.market == "export" else ceiling


def band_of(baler: Baler) -> tuple[float, float]:
    """Bottom and top of the band of a baler [% wb]: its own, or that of its kind.

    Parameters
    ----------
    baler
        Its band may be None.
    """
    if baler.band_wb is not None:
        return baler.band_wb
    limits = limits_of(baler)
    return limits.low_wb, min(limits.high_wb, top_allowed(baler))


def target_of(rig: Rig | None, low_wb: float) -> float:
    """Moisture that added water aims at [% wb]: the rig's own, else one point above the bottom.

    Parameters
    ----------
    rig
        Its own target, None where it has none; None for no rig.
    low_wb
        Bottom of the band [% wb].
    """
    if rig is None or rig.target_wb is None:
        return low_wb + TARGET_ABOVE_BAND_WB
    return rig.target_wb
