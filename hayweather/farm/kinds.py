"""Moisture limits by kind of bale: the one table, read by the farm file and the calls.

Ceilings without preservative: extension figures, small square 18-20, large
round 16-18, large square 16-17, 4x4 of 2,500 lb about 14 % wet basis. Bands and
stem limits inside them are assumed and settable in the farm file; the export
top is common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from hayweather.farm.records import Baler
from hayweather.units import FOOT_M

EXPORT_TOP_WB = 13.0
"""Highest moisture for export hay [% wb]; common practice, no source."""

HEAVY_BALE_KG = 1000.0
"""Above this a bale sheds its heat so slowly that the lowest ceiling holds [kg]."""

HEAVY_SIDE_M = 1.15
"""Both sides of the end of a bale from which it counts as four by four [m]."""


@dataclass(frozen=True)
class KindLimits:
    """Limits of one kind of bale, whole windrow and stem, % wet basis."""

    low_wb: float
    high_wb: float
    ceiling_wb: float
    stem_limit_wb: float


LIMITS: dict[str, KindLimits] = {
    "small-square": KindLimits(12.0, 18.0, 20.0, 14.0),
    "three-tie": KindLimits(12.0, 16.0, 17.0, 13.0),
    "round": KindLimits(12.0, 16.0, 18.0, 13.0),
    "large-square": KindLimits(12.0, 16.0, 17.0, 12.0),
}
HEAVY_LIMITS = KindLimits(11.0, 14.0, 14.0, 12.0)


def limits_of(baler: Baler) -> KindLimits:
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
    return HEAVY_LIMITS if is_heavy(baler) else LIMITS[baler.kind]


def is_heavy(baler: Baler) -> bool:
    """Whether its bales are four by four, or over `HEAVY_BALE_KG`."""
    if baler.bale_mass_kg is not None and baler.bale_mass_kg > HEAVY_BALE_KG:
        return True
    sides = bale_end_m(baler.bale_size or "")
    return baler.kind == "large-square" and sides is not None and min(sides) >= HEAVY_SIDE_M


def bale_end_m(text: str) -> tuple[float, float] | None:
    """Sides [m] of the end of a bale written "3x4", "90x120 cm" or "1.2 x 1.3".

    The size of the numbers tells the unit: below 2.5 meters, to 9 feet, to 60
    inches, above centimeters. None when there are no two numbers.

    Examples
    --------
    >>> [round(side, 2) for side in bale_end_m("3x4x8")]
    [0.91, 1.22]
    """
    numbers = [float(number) for number in re.findall(r"\d+(?:\.\d+)?", text)[:2]]
    if len(numbers) < 2 or min(numbers) <= 0:
        return None
    scale = _meters_each(max(numbers))
    return numbers[0] * scale, numbers[1] * scale


def _meters_each(larger: float) -> float:
    """Meters in the unit in which the larger side of a bale's end is `larger`."""
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


def target_of(target_wb: float | None, baler: Baler) -> float:
    """Moisture that added water aims at [% wb]: the rig's, or band bottom + 1.

    Parameters
    ----------
    target_wb
        The rig's own [% wb], or None.
    baler
        Its band counts.
    """
    return band_of(baler)[0] + 1.0 if target_wb is None else target_wb
