"""What lost leaf does to a laboratory sheet: protein, fiber, relative feed value, class.

A class is what the figures resemble, never what a buyer will write.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from hayweather.weather.record import Floats

HayClass = Literal["supreme", "premium", "good", "fair", "utility"]
Level: TypeAlias = "float | Floats"

LEAF_SHARE = 0.47  # of dry matter (published, 0.45-0.50)
# Undersander, published: each 5 % of the leaf lost costs 1.2 points of protein, adds 2.2 of NDF.
PROTEIN_POINTS_PER_LEAF_PERCENT = 1.2 / 5
NDF_POINTS_PER_LEAF_PERCENT = 2.2 / 5
ADF_PER_NDF = 0.8  # points of ADF that come with a point of NDF (assumed)

# USDA AMS quality guidelines for alfalfa (published): class, least relative feed value, least
# protein [% of dry matter]. Judged by the worse of the two.
CLASSES: tuple[tuple[HayClass, float, float], ...] = (
    ("supreme", 185.0, 22.0),
    ("premium", 170.0, 20.0),
    ("good", 150.0, 18.0),
    ("fair", 130.0, 16.0),
)


@dataclass(frozen=True)
class Sheet:
    """Laboratory figures, % of dry matter, numbers or arrays of one shape; None where not known.

    Attributes
    ----------
    crude_protein, ndf, adf
        As the laboratory prints them.
    """

    crude_protein: Level | None = None
    ndf: Level | None = None
    adf: Level | None = None

    @property
    def feed_value(self) -> Floats | None:
        """Relative feed value [-]; None without both fibers."""
        return (
            None
            if self.adf is None or self.ndf is None
            else relative_feed_value(self.adf, self.ndf)
        )


def leaf_lost_percent(dry_matter_loss_percent: Level) -> Floats:
    """Part of the leaf that is gone [% of leaf] for a loss of dry matter [%], all of it leaf.

    Examples
    --------
    >>> round(float(leaf_lost_percent(4.7)), 6)
    10.0
    """
    return np.asarray(dry_matter_loss_percent) / LEAF_SHARE


def shifted(sheet: Sheet, leaf_percent: Level) -> Sheet:
    """The figures after `leaf_percent` of the leaf is gone (Undersander, published).

    Examples
    --------
    >>> after = shifted(Sheet(20.0, 38.0, 30.0), 5.0)
    >>> round(float(after.crude_protein), 2), round(float(after.ndf), 2)
    (18.8, 40.2)
    """
    lost = np.asarray(leaf_percent, dtype=np.float64)
    fiber = NDF_POINTS_PER_LEAF_PERCENT * lost
    protein, ndf, adf = sheet.crude_protein, sheet.ndf, sheet.adf
    return Sheet(
        None if protein is None else protein - PROTEIN_POINTS_PER_LEAF_PERCENT * lost,
        None if ndf is None else ndf + fiber,
        None if adf is None else adf + ADF_PER_NDF * fiber,
    )


def relative_feed_value(adf_percent: Level, ndf_percent: Level) -> Floats:
    """Relative feed value [-], ``(88.9 - 0.779 ADF)(120/NDF)/1.29`` (from memory).

    Examples
    --------
    >>> round(float(relative_feed_value(27.0, 34.0)), 1)
    185.7
    """
    digestible = 88.9 - 0.779 * np.asarray(adf_percent, dtype=np.float64)
    intake = 120 / np.asarray(ndf_percent, dtype=np.float64)
    return digestible * intake / 1.29


def likely_class(feed_value: float, crude_protein_percent: float | None = None) -> HayClass:
    """The USDA class that figures resemble, by the worse of feed value and protein.

    Examples
    --------
    >>> likely_class(172.0, 21.0), likely_class(172.0, 18.5), likely_class(120.0)
    ('premium', 'good', 'utility')
    """
    for name, least_value, least_protein in CLASSES:
        rich = crude_protein_percent is None or crude_protein_percent >= least_protein
        if feed_value >= least_value and rich:
            return name
    return "utility"
