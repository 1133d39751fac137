"""Crops: what hayweather knows of each, in one record, and whose knowledge it is.

Nothing is copied from one crop to another unsaid: what is not known of a crop
is None, and a borrowed curve is "assumed".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from hayweather.catalog.sources import ASSUMED, Source

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Numbers = float | NDArray[np.float64]


@dataclass(frozen=True)
class Sorption:
    """The sorption curve of one part of the plant; `hayweather.windrow.sorption` has its equations.

    Numbers, or arrays (lanes,), so that lanes can differ.

    Attributes
    ----------
    exponent
        Oswin exponent n [-].
    amount
        Factor A on the moisture held [-]; the tuning knob.
    wetting
        Factor k of the wetting branch [-].
    """

    exponent: Numbers
    amount: Numbers = 1.0
    wetting: Numbers = 0.88


ALFALFA_LEAF = Sorption(0.58)
ALFALFA_STEM = Sorption(0.33)
GRASS = Sorption(0.246, amount=1.079, wetting=0.868)
MIXED_LEAF = Sorption(0.41, amount=1.04, wetting=0.874)
MIXED_STEM = Sorption(0.29, amount=1.04, wetting=0.874)

_GRASS_FIT = Source(
    "fitted", "cured-grass curves of the Canadian fire weather equations at 20 C (published)"
)


@dataclass(frozen=True)
class BalingLoss:
    """Dry matter lost at the baler [%] by leaf moisture m [% wet basis].

    ``level (dry exp(-decay m) + shatter / (1 + exp((m - shatter_at) / shatter_width)))``,
    times the factor of the kind of baler; `hayweather.baling.value` works it out.

    Attributes
    ----------
    dry, decay
        Loss of bone-dry leaf [%], and its fall for each point of moisture [-].
    shatter, shatter_at, shatter_width
        Further loss of brittle leaf [%], the moisture at which half of it is
        gone and the width of the step [% wet basis].
    level, level_range
        Share of the curve that is taken, and the range of published losses [-].
    source, level_source, range_source
        Of the curve, of the level, and of the range.
    """

    dry: float
    decay: float
    shatter: float
    shatter_at: float
    shatter_width: float
    level: float
    level_range: tuple[float, float]
    source: Source
    level_source: Source = ASSUMED
    range_source: Source = ASSUMED


@dataclass(frozen=True)
class HayClass:
    """A class of the trade: least relative feed value [-] and protein [% of dry matter]."""

    name: str
    feed_value: float
    crude_protein: float


@dataclass(frozen=True)
class Quality:
    """What lost leaf does to a laboratory sheet, and the classes of the trade.

    Attributes
    ----------
    protein_points, ndf_points
        Points of protein lost and of NDF gained for each point of leaf that the
        hay holds less (leaf, % of dry matter).
    adf_per_ndf
        Points of ADF that come with a point of NDF.
    classes
        Best first; judged by the worse of feed value and protein.
    lowest_class
        Name of what is below all of them.
    points_source, adf_source, class_source
        Of these numbers.
    """

    protein_points: float
    ndf_points: float
    adf_per_ndf: float
    classes: tuple[HayClass, ...]
    lowest_class: str
    points_source: Source
    class_source: Source
    adf_source: Source = ASSUMED


@dataclass(frozen=True)
class Crop:
    """One crop.

    Attributes
    ----------
    name
        As the farm file writes it.
    text
        Key of its word in `hayweather.words`.
    leaf, stem, curves_source
        Sorption curves.
    leaf_share, leaf_share_source
        Leaf share of dry matter [-].
    leaf_minimum, leaf_minimum_source
        Mean leaf moisture below which leaf shatters [% wet basis]; "band": the
        bottom of the baler's band; None: none, dry hay is dusty, not lost leaf.
    loss
        What the baler loses; None where nobody has told. Without it no leaf
        loss is counted, nor what a rig would save.
    quality
        What lost leaf does to its feed value; None where not known.
    """

    name: str
    text: str
    leaf: Sorption
    stem: Sorption
    curves_source: Source
    leaf_share: float
    leaf_share_source: Source
    leaf_minimum: float | Literal["band"] | None
    leaf_minimum_source: Source = ASSUMED
    loss: BalingLoss | None = None
    quality: Quality | None = None


_LIKE_ALFALFA = Source("assumed", "as alfalfa")

CROPS: dict[str, Crop] = {
    crop.name: crop
    for crop in (
        Crop(
            "alfalfa",
            "crop_alfalfa",
            leaf=ALFALFA_LEAF,
            stem=ALFALFA_STEM,
            curves_source=Source("fitted", "NRAES-5, Nash 1978, cured-grass wetting curves"),
            leaf_share=0.47,
            leaf_share_source=Source("published", "0.45-0.50"),
            leaf_minimum="band",
            leaf_minimum_source=Source("common"),
            loss=BalingLoss(
                dry=11.2,
                decay=0.0534,
                shatter=2.5,
                shatter_at=9.0,
                shatter_width=1.2,
                level=0.6,
                level_range=(0.2, 1.0),
                source=Source("memory", "fit to Pitt 1990 and Orloff & Mueller 2008"),
                level_source=Source(
                    "assumed",
                    "between the curve and Rotz & Abrams 1988 (pickup 1.8 %, chamber 1.1 %)",
                ),
                range_source=Source(
                    "assumed",
                    "a third of it to the whole curve: Rotz & Muck 1994, small square 2-6 % "
                    "about 4 (memory); Kjelgaard, 3 % square, 10 % round (published)",
                ),
            ),
            quality=Quality(
                protein_points=1.2 / 5,
                ndf_points=2.2 / 5,
                adf_per_ndf=0.8,
                classes=(
                    HayClass("supreme", 185.0, 22.0),
                    HayClass("premium", 170.0, 20.0),
                    HayClass("good", 150.0, 18.0),
                    HayClass("fair", 130.0, 16.0),
                ),
                lowest_class="utility",
                points_source=Source(
                    "published", "Undersander, 1.2 and 2.2 points by 5 points of leaf in the hay"
                ),
                class_source=Source("published", "USDA AMS quality guidelines for alfalfa"),
            ),
        ),
        Crop(
            "alfalfa-grass",
            "crop_alfalfa_grass",
            leaf=MIXED_LEAF,
            stem=MIXED_STEM,
            curves_source=Source("assumed", "halfway between alfalfa and grass"),
            leaf_share=0.47,
            leaf_share_source=_LIKE_ALFALFA,
            leaf_minimum=10.0,
        ),
        Crop(
            "grass",
            "crop_grass",
            leaf=GRASS,
            stem=GRASS,
            curves_source=_GRASS_FIT,
            leaf_share=0.47,
            leaf_share_source=_LIKE_ALFALFA,
            leaf_minimum=None,
        ),
        Crop(
            "cereal",
            "crop_cereal",
            leaf=GRASS,
            stem=GRASS,
            curves_source=Source("assumed", "straw as cured grass"),
            leaf_share=0.47,
            leaf_share_source=_LIKE_ALFALFA,
            leaf_minimum=None,
        ),
    )
}
DEFAULT_CROP = "alfalfa"
