"""What strips with and without added moisture can show, and what they cannot.

Blocks are compared within (paired t of Student 1908); strips without blocks by
the t of Welch 1947, which does not ask for equal spread. Ranges hold the true
difference nine times in ten. What rests on a moisture meter is known only to
within the meter's bias between treatments, which no number of strips takes away:
its range is that of a value known to within bounds (Imbens & Manski 2004, with
Student's t for the normal; equation from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from hayweather.baling.value import baling_loss_percent
from hayweather.catalog import DEFAULT_BALER, DEFAULT_CROP, crop_of
from hayweather.seasons.record.trial import (
    MOST_NEEDED,
    Difference,
    LeafLoss,
    Strip,
    Treatment,
    Trial,
    TrialMoney,
)
from hayweather.weather.record import Floats

CONFIDENCE = 0.90
POWER = 0.80
STANDARD_MOISTURE_WB = 12.0  # moisture at which dry matter is priced as hay (assumed)
QUALITY = ("crude_protein", "adf", "ndf")
METER_BIAS_WB = 1.5  # points by which a meter may be off between treatments (assumed)

Value = Callable[[Strip], float | None]


def judge_trial(
    file: str,
    strips: Sequence[Strip],
    price_per_kg: float | None = None,
    cost_per_kg: float = 0.0,
    *,
    kind: str = DEFAULT_BALER,
    meter_bias_wb: float = METER_BIAS_WB,
) -> Trial:
    """What the strips of a trial can show.

    Parameters
    ----------
    file
        Name of the file.
    strips
        At least one of each kind.
    price_per_kg, cost_per_kg
        Of hay, and of adding moisture, per kg of hay; without a price nothing
        is said of money.
    kind, meter_bias_wb
        As in `leaf_loss_of`.
    """
    blocks = _whole_blocks(strips)
    dry_matter = compare(strips, blocks, lambda strip: strip.dry_matter_kg_m2)
    water = compare(strips, blocks, lambda strip: strip.water_kg_m2)
    found_loss = leaf_loss_of(strips, dry_matter, kind, meter_bias_wb)
    off = meter_bias_wb / 100 * _wet_weight(strips)
    dry_matter, water = (
        None if each is None else with_meter(each, off) for each in (dry_matter, water)
    )
    weight = compare(strips, blocks, lambda strip: strip.weight_kg_m2)
    quality = {name: compare(strips, blocks, _reader(name)) for name in QUALITY}
    named = {strip.block for strip in strips if strip.block}
    return Trial(
        file=file,
        strips=tuple(strips),
        dry_matter=dry_matter,
        water=water,
        weight=weight,
        quality={name: found for name, found in quality.items() if found is not None},
        verdict=_verdict(dry_matter, water),
        needed_bales=None if dry_matter is None else _needed_bales(strips, blocks, dry_matter),
        left_out=tuple(sorted(named - set(blocks))) if blocks else (),
        money=_money(strips, dry_matter, water, price_per_kg, cost_per_kg),
        leaf_loss=found_loss,
        meter_bias_wb=meter_bias_wb,
        blanks=_blanks(strips, blocks),
    )


def _wet_weight(strips: Sequence[Strip]) -> float:
    """Mean weight by area of the strips with added moisture and a bale moisture [kg/m2]."""
    found = [
        strip.weight_kg_m2
        for strip in strips
        if strip.treatment == "water" and strip.bale_moisture_wb is not None
    ]
    return float(np.mean(found)) if found else 0.0


def _blanks(strips: Sequence[Strip], blocks: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Strips that lack what others have, by column; the block, where blocks are compared."""
    found = {}
    for name in ("bale_moisture_wb", *QUALITY):
        blank = [strip for strip in strips if getattr(strip, name) is None]
        if 0 < len(blank) < len(strips):
            found[name] = tuple(_named(strip) for strip in blank)
    if blocks and (alone := [strip.name for strip in strips if not strip.block]):
        found["block"] = tuple(alone)
    return found


def _named(strip: Strip) -> str:
    """A strip by its block and name."""
    return f"{strip.block}/{strip.name}" if strip.block else strip.name


def with_meter(found: Difference, off: float) -> Difference:
    """A difference of what a meter told, its range holding for any bias up to `off`.

    Parameters
    ----------
    found
        As the strips alone tell it.
    off
        Largest bias either way, in its unit; 0 changes nothing.
    """
    if off <= 0 or found.low is None or found.high is None or found.degrees is None:
        return found
    limit = _t(found.degrees)
    error = (found.high - found.value) / limit
    half = off + (_bounded_t(off / error, found.degrees) * error if error > 0 else 0.0)
    beyond = abs(found.value) - off
    needed = None
    if beyond > 0 and error > 0:
        needed = _needed(beyond, error, found.count, paired=found.paired)
    return replace(
        found,
        low=found.value - half,
        high=found.value + half,
        shown=abs(found.value) > half,
        smallest=None if found.smallest is None else found.smallest + off,
        needed=needed,
        meter=off,
    )


def _t(degrees: float) -> float:
    """Student's t that nine in ten stay within."""
    from scipy import stats

    return float(stats.t.ppf((1 + CONFIDENCE) / 2, degrees))


def _bounded_t(ratio: float, degrees: float) -> float:
    """Errors to add beyond a bias of `ratio` errors so that nine in ten hold at its worst."""
    from scipy import stats
    from scipy.optimize import brentq

    def held(c: float) -> float:
        both = stats.t.cdf(c + 2 * ratio, degrees) - stats.t.cdf(-c, degrees)
        return float(both) - CONFIDENCE

    return float(brentq(held, 0.0, _t(degrees)))


def leaf_loss_of(
    strips: Sequence[Strip],
    dry_matter: Difference | None,
    kind: str = DEFAULT_BALER,
    meter_bias_wb: float = METER_BIAS_WB,
    crop: str = DEFAULT_CROP,
) -> LeafLoss | None:
    """The loss of leaf at the baler beside the catalog's curve; None where nothing tells.

    Dry matter saved, beside what the curve says is saved between the moistures
    of the bales; leaf is taken as moist as the bale (assumed), all that was
    saved as leaf, and the hay before the baler from the strips without water.

    Parameters
    ----------
    strips
        All strips.
    dry_matter
        Their difference by area.
    kind, crop
        Names of the catalog: of the baler and of the hay.
    meter_bias_wb
        How far a meter may be off between treatments [points wb]; 0 for bales
        dried in an oven.
    """
    if dry_matter is None or dry_matter.low is None or dry_matter.high is None:
        return None
    kinds: tuple[Treatment, ...] = ("water", "none")
    wet, dry = (
        np.mean([s.bale_moisture_wb for s in strips if s.treatment == name and s.bale_moisture_wb])
        for name in kinds
    )
    lost_wet, lost_dry = baling_loss_percent(np.array([wet, dry]), crop, kind) / 100
    curve = crop_of(crop).loss
    if curve is None or not lost_dry - lost_wet > 0:
        return None
    saved = dry_matter.without / (1 - lost_dry) * (lost_dry - lost_wet)
    weight = dry_matter.with_water / (1 - wet / 100)
    off = meter_bias_wb / 100 * weight
    return LeafLoss(
        factor=float(dry_matter.value / saved),
        low=float((dry_matter.low - off) / saved),
        high=float((dry_matter.high + off) / saved),
        kind=kind,
        meter_bias_wb=meter_bias_wb,
        published=(curve.level_range[0] / curve.level, curve.level_range[1] / curve.level),
    )


def _reader(name: str) -> Value:
    """Reads one laboratory value of a strip."""
    return lambda strip: getattr(strip, name)


def _whole_blocks(strips: Sequence[Strip]) -> list[str]:
    """Blocks that hold both kinds; empty where fewer than two do, so that strips are compared."""
    kinds: dict[str, set[str]] = {}
    for strip in strips:
        if strip.block:
            kinds.setdefault(strip.block, set()).add(strip.treatment)
    whole = [block for block, found in kinds.items() if len(found) == 2]
    return whole if len(whole) >= 2 else []


def compare(strips: Sequence[Strip], blocks: Sequence[str], value: Value) -> Difference | None:
    """The difference of one quantity; None where a kind has no value of it.

    Parameters
    ----------
    strips
        All strips; those without the value are left out.
    blocks
        Blocks to compare within; empty to compare all strips.
    value
        The quantity of a strip.
    """
    measured = [(strip, number) for strip in strips if (number := value(strip)) is not None]
    if blocks:
        pairs = [_block_means(measured, block) for block in blocks]
        whole = np.array([pair for pair in pairs if pair is not None])
        if len(whole) >= 2:
            return paired_difference(whole[:, 0], whole[:, 1])
    wet, dry = (
        np.array([number for strip, number in measured if strip.treatment == kind])
        for kind in ("water", "none")
    )
    return welch_difference(wet, dry) if wet.size and dry.size else None


def _block_means(measured: Sequence[tuple[Strip, float]], block: str) -> tuple[float, float] | None:
    """Means with and without added moisture in one block."""
    found = [
        [number for strip, number in measured if (strip.block, strip.treatment) == (block, kind)]
        for kind in ("water", "none")
    ]
    return None if not all(found) else (float(np.mean(found[0])), float(np.mean(found[1])))


def paired_difference(with_water: Floats, without: Floats) -> Difference:
    """Difference within pairs, Student 1908 (published), (pairs,)."""
    apart = with_water - without
    count = apart.size
    error = float(apart.std(ddof=1) / math.sqrt(count)) if count > 1 else math.nan
    return _difference(with_water, without, error, count - 1.0, paired=True)


def welch_difference(with_water: Floats, without: Floats) -> Difference:
    """Difference of two unlike groups, Welch 1947 (published), (n1,) and (n2,)."""
    sizes = np.array([with_water.size, without.size])
    if sizes.min() < 2:
        return _difference(with_water, without, math.nan, math.nan, paired=False)
    parts = np.array([with_water.var(ddof=1), without.var(ddof=1)]) / sizes
    total = float(parts.sum())
    spread = float((parts**2 / (sizes - 1)).sum())
    degrees = total**2 / spread if spread > 0 else float(sizes.sum() - 2)
    return _difference(with_water, without, math.sqrt(total), degrees, paired=False)


def _difference(
    with_water: Floats, without: Floats, error: float, degrees: float, *, paired: bool
) -> Difference:
    """A difference with its range, from its standard error and degrees of freedom."""
    from scipy import stats

    wet, dry = float(with_water.mean()), float(without.mean())
    value = wet - dry
    count = (with_water.size, without.size)
    if not (math.isfinite(error) and degrees >= 1):
        return Difference(
            wet, dry, value, None, None, None, None, None, paired, count, False, None, None
        )
    half = _t(degrees) * error
    t = value / error if error > 0 else math.copysign(math.inf, value) if value else 0.0
    return Difference(
        with_water=wet,
        without=dry,
        value=value,
        low=value - half,
        high=value + half,
        t=t,
        degrees=degrees,
        probability=float(2 * stats.t.sf(abs(t), degrees)),
        paired=paired,
        count=count,
        shown=value != 0 and abs(value) > half,
        smallest=_smallest(error, degrees),
        needed=_needed(value, error, count, paired=paired),
    )


def _power(ratio: float, degrees: float) -> float:
    """Chance that a difference of `ratio` standard errors is shown; of the side it is on."""
    from scipy import stats

    limit = float(stats.t.ppf((1 + CONFIDENCE) / 2, degrees))
    return float(stats.nct.sf(limit, degrees, ratio))


def _smallest(error: float, degrees: float) -> float:
    """Difference that as many strips would show eight times in ten."""
    from scipy.optimize import brentq

    ratio = brentq(lambda r: _power(r, degrees) - POWER, 0.0, 100.0)
    return float(ratio) * error


def _needed(value: float, error: float, count: tuple[int, int], *, paired: bool) -> int | None:
    """Blocks, or strips of each kind, that would show this difference eight times in ten."""
    if value == 0 or error == 0:
        return None
    # Standard error of one block, or of one strip of each kind.
    harmonic = 2 / (1 / count[0] + 1 / count[1])
    single = error * math.sqrt(count[0] if paired else harmonic)

    def enough(number: int) -> bool:
        degrees = number - 1 if paired else 2 * (number - 1)
        return _power(abs(value) * math.sqrt(number) / single, degrees) >= POWER

    if not enough(MOST_NEEDED):
        return None
    low, high = 1, MOST_NEEDED
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _needed_bales(
    strips: Sequence[Strip], blocks: Sequence[str], difference: Difference
) -> int | None:
    """Bales in as many blocks, or strips of each kind, as a difference needs to be shown."""
    if difference.needed is None:
        return None
    if difference.paired:
        each = sum(strip.bales for strip in strips if strip.block in blocks) / len(blocks)
    else:
        kinds: tuple[Treatment, ...] = ("water", "none")
        each = sum(
            float(np.mean([strip.bales for strip in strips if strip.treatment == kind]))
            for kind in kinds
        )
    return math.ceil(difference.needed * each)


def _verdict(dry_matter: Difference | None, water: Difference | None) -> str:
    """What may be said; never more than the range of dry matter allows."""
    if dry_matter is None or water is None:
        return "no_moisture"
    if dry_matter.low is None:
        return "too_few"
    if dry_matter.shown:
        return "hay" if dry_matter.value > 0 else "less"
    return "water_only" if water.shown and water.value > 0 else "unsettled"


def _money(
    strips: Sequence[Strip],
    dry_matter: Difference | None,
    water: Difference | None,
    price_per_kg: float | None,
    cost_per_kg: float,
) -> TrialMoney | None:
    """Money by area [currency/m2]: hay told apart from water, before and after costs."""
    if price_per_kg is None or dry_matter is None or water is None:
        return None
    worth = price_per_kg / (1 - STANDARD_MOISTURE_WB / 100)
    hay = dry_matter.value * worth
    weight = dry_matter.value + water.value
    treated = [strip.weight_kg_m2 for strip in strips if strip.treatment == "water"]
    cost = cost_per_kg * float(np.mean(treated))
    hay_range = after_range = None
    if dry_matter.low is not None and dry_matter.high is not None:
        hay_range = (dry_matter.low * worth, dry_matter.high * worth)
        after_range = (hay_range[0] - cost, hay_range[1] - cost)
    return TrialMoney(
        hay=hay,
        hay_range=hay_range,
        water=weight * price_per_kg - hay,
        cost=cost,
        after=hay - cost,
        after_range=after_range,
    )
