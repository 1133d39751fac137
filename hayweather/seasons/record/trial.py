"""Strips with and without added moisture, and what they can show."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Treatment = Literal["water", "none"]
MOST_NEEDED = 1000  # blocks, or strips of each kind, beyond which none are counted (assumed)


@dataclass(frozen=True)
class Strip:
    """One strip; None is "not measured".

    Attributes
    ----------
    block
        Empty where the strips stand in no blocks.
    area_m2, bales, bale_kg
        Area, number and mean weight of its bales as they are.
    bale_moisture_wb
        Mean of its bales [% wb].
    crude_protein, adf, ndf
        Percent of dry matter, by a laboratory.
    """

    block: str
    name: str
    treatment: Treatment
    area_m2: float
    bales: float
    bale_kg: float
    bale_moisture_wb: float | None = None
    crude_protein: float | None = None
    adf: float | None = None
    ndf: float | None = None

    @property
    def weight_kg_m2(self) -> float:
        """Weight of its bales as they are."""
        return self.bales * self.bale_kg / self.area_m2

    @property
    def dry_matter_kg_m2(self) -> float | None:
        """Dry matter in its bales."""
        wet = self.bale_moisture_wb
        return None if wet is None else self.weight_kg_m2 * (1 - wet / 100)

    @property
    def water_kg_m2(self) -> float | None:
        """Water in its bales."""
        wet = self.bale_moisture_wb
        return None if wet is None else self.weight_kg_m2 * wet / 100


@dataclass(frozen=True)
class StripFile:
    """The strips of one file; `invented` where it says that they are made up."""

    strips: tuple[Strip, ...]
    invented: bool = False


@dataclass(frozen=True)
class Difference:
    """With added moisture less without, of one quantity.

    Attributes
    ----------
    with_water, without
        Means of both.
    value
        Their difference; of blocks, the mean of the differences within.
    low, high
        Range that holds the true difference nine times in ten, whatever the
        meter's bias within its limit; None with too few strips to tell any.
    t, degrees, probability
        Student's t of it, its degrees of freedom, and the two-sided chance of
        one as large without a difference.
    paired
        True where blocks were compared within.
    count
        Blocks; else strips with and without, ``(n1, n2)``.
    shown
        True where the range leaves out zero.
    smallest
        Difference that as many strips would show eight times in ten.
    needed
        Blocks, or strips of each kind, that would show a difference as large as
        the one found eight times in ten; None where it is not known, or beyond
        `MOST_NEEDED`.
    meter
        What a moisture meter that is off between treatments may make of nothing,
        either way; 0 for what does not hang on a meter.
    """

    with_water: float
    without: float
    value: float
    low: float | None
    high: float | None
    t: float | None
    degrees: float | None
    probability: float | None
    paired: bool
    count: tuple[int, int]
    shown: bool
    smallest: float | None
    needed: int | None
    meter: float = 0.0


@dataclass(frozen=True)
class TrialMoney:
    """Money by area, as a difference: with added moisture less without.

    Attributes
    ----------
    hay, hay_range
        Worth of the dry matter, at 12 % moisture, with its range.
    water
        What a buyer by weight pays besides, for water alone.
    cost
        Of adding moisture.
    after, after_range
        `hay` less `cost`.
    """

    hay: float
    hay_range: tuple[float, float] | None
    water: float
    cost: float
    after: float
    after_range: tuple[float, float] | None


@dataclass(frozen=True)
class LeafLoss:
    """Loss of leaf at the baler beside the catalog's curve, as strips tell it [-].

    Attributes
    ----------
    factor, low, high
        On the assumed loss; the range holds the truth nine times in ten, a
        meter that reads one treatment off by `meter_bias_wb` counted in.
    kind
        Of the baler.
    meter_bias_wb
        Points by which a meter may be off between treatments.
    published
        Range of published losses beside the assumed one.
    """

    factor: float
    low: float
    high: float
    kind: str
    meter_bias_wb: float
    published: tuple[float, float]

    @property
    def tells(self) -> bool:
        """Whether the strips tell more than is published."""
        least, most = self.published
        return self.high > 0 and self.high - self.low < most - least


@dataclass(frozen=True)
class Trial:
    """What the strips of one file can show.

    Attributes
    ----------
    file
        Its name.
    strips
        As read.
    dry_matter, water, weight
        Dry matter, water and weight by area [kg/m2]; the first two None without
        bale moistures.
    quality
        ``{crude_protein, adf, ndf: Difference}`` [points of % of dry matter],
        those that were measured.
    verdict
        What can be said; text ``trial_verdict_<verdict>``: "hay" more dry
        matter, "water_only" more water and no more, "less" less dry matter,
        "unsettled", "no_moisture", "too_few".
    needed_bales
        Bales in the blocks or strips that `dry_matter` needs, were each like
        those of the file; None where their number is not known.
    left_out
        Blocks that hold one kind only.
    money
        None without a price.
    leaf_loss
        None where the strips have no range, or are equally moist.
    meter_bias_wb
        Points by which a meter may be off between treatments.
    blanks
        ``{column: names of strips}`` that are blank where others are not: left
        out of what needs it.
    """

    file: str
    strips: tuple[Strip, ...]
    dry_matter: Difference | None
    water: Difference | None
    weight: Difference | None
    quality: dict[str, Difference]
    verdict: str
    needed_bales: int | None
    left_out: tuple[str, ...]
    money: TrialMoney | None
    leaf_loss: LeafLoss | None = None
    meter_bias_wb: float = 0.0
    blanks: dict[str, tuple[str, ...]] = field(default_factory=dict)
