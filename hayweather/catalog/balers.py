"""Kinds of baler: limits, pace, losses and bales of each, in one record.

Moisture limits are % wet basis of the whole windrow, free water included, and
of the stem.
"""

from __future__ import annotations

from dataclasses import dataclass

from hayweather.catalog.sources import ASSUMED, Figure, Source
from hayweather.units import MPH_M_S

EXPORT_TOP_WB = 13.0
"""Highest moisture for export hay [% wb]; common practice, no source."""

HEAVY_BALE_KG = 1000.0
"""Above this a bale sheds its heat so slowly that the lowest limits hold [kg] (assumed)."""

TARGET_ABOVE_BAND_WB = 1.0
"""Added water aims so far above the bottom of the band [points wb] (assumed)."""

SOFT_SHARE = 0.6
"""Least share of the leaf dry matter at or above the leaf minimum [-] (assumed)."""

WET_SHARE = 0.3
"""Largest share of the dry matter above the bale's ceiling [-] (assumed): a wet skin on a soft
windrow is baled every night, a wet third is not."""


@dataclass(frozen=True)
class MoistureLimits:
    """Band, ceiling without preservative, most moisture of a cured stem, % wet basis."""

    low_wb: float
    high_wb: float
    ceiling_wb: float
    stem_limit_wb: float


HEAVY_LIMITS = MoistureLimits(11.0, 14.0, 14.0, 12.0)
"""Of bales over `HEAVY_BALE_KG` and of four by four: 4x4 of 2,500 lb about 14 %
(extension figure, published), band and stem limit assumed."""


@dataclass(frozen=True)
class Pace:
    """Part of the working time in which it bales [-], and usual ground speeds [m/s].

    Attributes
    ----------
    field_efficiency, efficiency_range
        Typical, and from poor to good [-].
    slow_m_s, fast_m_s
        Usual range of ground speed.
    """

    field_efficiency: float
    efficiency_range: tuple[float, float]
    slow_m_s: float
    fast_m_s: float
    source: Source


@dataclass(frozen=True)
class BalerKind:
    """One kind of baler.

    Attributes
    ----------
    name
        As the farm file writes it.
    text
        Key of the word for its bales in `hayweather.words`.
    limits, limits_source
        Moisture limits; the source is the ceiling's, band and stem limit are
        assumed inside it.
    pace
        Field efficiency and speeds.
    capacity
        Hay baled in an hour in the field [kg/h], where a sites file says none.
    loss_factor
        On the crop's loss at the baler [-].
    bale_size, bale_weight
        Round figures of its bales, as the starter file and messages show them.
    heavy_side_m
        Both sides of a bale's end from which `HEAVY_LIMITS` hold [m]; None where
        size does not tell.
    """

    name: str
    text: str
    limits: MoistureLimits
    limits_source: Source
    pace: Pace
    capacity: Figure
    loss_factor: Figure
    bale_size: tuple[str, str]
    bale_weight: tuple[str, str]
    heavy_side_m: float | None = None


D497 = Source("memory", "ASABE D497 (2011)")


def _pace(
    efficiency: float, least: float, most: float, slow_mph: float, fast_mph: float,
    source: Source = D497,
) -> Pace:  # fmt: skip
    """A pace in the units of its source."""
    return Pace(efficiency, (least, most), slow_mph * MPH_M_S, fast_mph * MPH_M_S, source)


BALERS: dict[str, BalerKind] = {
    kind.name: kind
    for kind in (
        BalerKind(
            "small-square",
            "bales_small_square",
            MoistureLimits(12.0, 18.0, 20.0, 14.0),
            Source("published", "extension figures, 18-20 %"),
            _pace(0.75, 0.60, 0.85, 2.5, 6.0),
            capacity=Figure(8_000.0),
            loss_factor=Figure(1.0),
            bale_size=("14x18 in", "36x46 cm"),
            bale_weight=("70", "30"),
        ),
        BalerKind(
            "three-tie",
            "bales_three_tie",
            MoistureLimits(12.0, 16.0, 17.0, 13.0),
            ASSUMED,
            _pace(0.75, 0.60, 0.85, 2.5, 6.0, Source("assumed", "as small square")),
            capacity=Figure(10_000.0),
            loss_factor=Figure(0.75),
            bale_size=("16x23 in", "41x58 cm"),
            bale_weight=("110", "50"),
        ),
        BalerKind(
            "round",
            "bales_round",
            MoistureLimits(12.0, 16.0, 18.0, 13.0),
            Source("published", "extension figures, 16-18 %"),
            _pace(0.65, 0.55, 0.75, 3.0, 8.0),
            capacity=Figure(10_000.0),
            loss_factor=Figure(1.5),
            bale_size=("4x5", "120x150 cm"),
            bale_weight=("1000", "450"),
        ),
        BalerKind(
            "large-square",
            "bales_large_square",
            MoistureLimits(12.0, 16.0, 17.0, 12.0),
            Source("published", "extension figures, 16-17 %"),
            _pace(0.80, 0.70, 0.90, 4.0, 8.0),
            capacity=Figure(13_000.0, Source("published", "Kemmerer & Liu 2012, in straw")),
            loss_factor=Figure(0.75),
            bale_size=("3x4", "90x120 cm"),
            bale_weight=("1300", "550"),
            heavy_side_m=1.15,
        ),
    )
}
DEFAULT_BALER = "large-square"
