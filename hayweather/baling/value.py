"""What hay and hours are worth: leaf lost, feed value, prices, what a kilogram brings when.

Hay is counted as the kilograms that were cut and cured: water is never sold as
hay. A kilogram loses by rain that fell on it, by leaf that the baler shatters
(a crop without a known loss loses none), by being baled too wet, and by lying.
What lost leaf costs is worked out in `worth_per_kg` alone, by what the farm is
paid for: leaf by weight, relative feed value, or class. Rain counts as far as
it falls in each member, so by the forecast's odds, and nowhere else. Work is
charged by the hour elsewhere; water is charged here, with the rig. A class of
hay is what the figures resemble, never what a buyer will write.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

import numpy as np

from hayweather.baling.calls import DANGER, QuarterCalls, quarterly, rain_or_none
from hayweather.baling.setting import Setting
from hayweather.baling.water import Dose, kept_db, moisture_after, of_lanes, picked, sprayed
from hayweather.catalog import Quality, crop_of, kind_of
from hayweather.catalog.prices import PRICES, STORAGE_LOSS_PER_POINT
from hayweather.farm.records import Baler, Field, Money, PriceBy
from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.sorption import wet_basis
from hayweather.windrow.trajectory import QUARTERS, Layers
from hayweather.words import Remark

Level: TypeAlias = "float | Floats"
LossEnd = Literal["least", "usual", "most"]

RAIN_MM = 25.0  # the rain that the loss by rain is told for
CLASS_SPREAD = (5.0, 0.5)
"""How far a buyer's test strays from the hay: relative feed value [-] and protein [points],
standard deviations (assumed). A class is paid by its odds, so that no plan hangs on a hair."""


def baling_loss_percent(leaf_wb: Level, crop: str, kind: str, scale: float = 1.0) -> Floats:
    """Dry matter lost at the baler [%] by leaf moisture [% wet basis].

    The crop's curve (`hayweather.catalog.crops.BalingLoss`) times the factor of
    the kind of baler.

    Parameters
    ----------
    leaf_wb
        Any shape; NaN stays.
    crop, kind
        Names of the catalog; NaN all over where the crop's loss is not known.
    scale
        On the curve as it is taken, from `loss_scale`.

    Examples
    --------
    >>> from hayweather.catalog import DEFAULT_BALER, DEFAULT_CROP
    >>> round(float(baling_loss_percent(12.0, DEFAULT_CROP, DEFAULT_BALER)), 2)
    2.74
    """
    moisture = np.asarray(leaf_wb, dtype=np.float64)
    curve = crop_of(crop).loss
    if curve is None:
        return np.full(moisture.shape, np.nan)
    brittle = curve.shatter / (1 + np.exp((moisture - curve.shatter_at) / curve.shatter_width))
    lost = curve.dry * np.exp(-curve.decay * moisture) + brittle
    return np.asarray(scale * curve.level * kind_of(kind).loss_factor.value * lost)


def loss_scale(baler: Baler, crop: str, end: LossEnd = "usual") -> float:
    """Factor on the catalog's curve [-]: what the farm measured, or the ends of what is published.

    Parameters
    ----------
    baler
        `leaf_loss` of a trial, with its range, where the farm file has them.
    crop
        Name of the catalog.
    end
        The least or the most that is published; where the farm gives its own
        range, the ends of that.
    """
    measured, curve = baler.leaf_loss, crop_of(crop).loss
    middle = 1.0 if measured is None else measured
    if end == "usual" or curve is None:
        return middle
    which = 0 if end == "least" else 1
    if baler.leaf_loss_range is not None:
        return baler.leaf_loss_range[which]
    return middle * curve.level_range[which] / curve.level


def layered_loss_percent(hay: Layers, crop: str, baler: Baler, end: LossEnd = "usual") -> Floats:
    """Dry matter lost at the baler [%], summed over the layers, (rows, lanes).

    The curve bends: hay wet on top and dry beneath loses more than its mean leaf
    moisture says, above some 9 % where the curve is convex. The one loss of
    plan, seasons and values.

    Parameters
    ----------
    hay
        Every layer; NaN stays.
    crop, baler, end
        As in `loss_scale`.
    """
    scale = loss_scale(baler, crop, end)
    lost = baling_loss_percent(wet_basis(hay.of_kind("leaf")), crop, baler.kind, scale)
    return np.asarray(np.einsum("i,til->tl", hay.shares, lost))


def behind_rig(hay: Layers, windrow_wb: Floats, water: Dose, applied_l_t: Floats) -> Layers:
    """The hay after a rig's water, as `sprayed` says where it lands.

    Parameters
    ----------
    hay, windrow_wb
        Before it, by layer and whole [% wet basis], (rows, lanes).
    water
        What stays of it and where it lands.
    applied_l_t
        Rate, (rows, lanes or 1); where NaN, none.
    """
    kept = np.nan_to_num(applied_l_t) * water.efficiency
    return sprayed(hay, kept_db(windrow_wb, kept), water.landing)


def losses_percent(
    hay: Layers,
    windrow_wb: Floats,
    water: Dose,
    baled: Booleans,
    behind: Booleans,
    crop: str,
    baler: Baler,
) -> tuple[Floats, Floats]:
    """`layered_loss_percent` as the hay lies, and behind the rig, NaN where not asked for.

    Parameters
    ----------
    hay, windrow_wb, water
        As in `behind_rig`, at the rate of `water`.
    baled, behind
        Where the first is asked for, and where of these the second, (rows, lanes).
    crop, baler
        As in `layered_loss_percent`.
    """
    lies, helped = np.full(baled.shape, np.nan), np.full(baled.shape, np.nan)
    asked = np.nonzero(baled)
    if asked[0].size:
        some = picked(hay, asked)
        lies[asked] = layered_loss_percent(some, crop, baler)[0]
        places = np.flatnonzero(behind[asked])
        where = (asked[0][places], asked[1][places])
        kept = np.nan_to_num(water.applied_l_t[where]) * water.efficiency[where]
        gain = kept_db(windrow_wb[where], kept)[None]
        wetted = sprayed(of_lanes(some, places), gain, water.landing.at(where[1]))
        helped[where] = layered_loss_percent(wetted, crop, baler)[0]
    return lies, helped


def crop_cautions(crop: str) -> tuple[Remark, ...]:
    """What must be said of a crop of which less is known than of the best known one."""
    known = crop_of(crop)
    doubts = {
        "caution_crop_curves": known.curves_source.status == "assumed",
        "caution_crop_loss": known.loss is None,
    }
    values: dict[str, object] = {"crop": Remark(known.text)}
    return tuple(Remark(key, values) for key, doubtful in doubts.items() if doubtful)


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


def leaf_points_lost(dry_matter_loss_percent: Level, crop: str) -> Floats:
    """Points of leaf that the hay holds less [% of dry matter] for a loss [%], all of it leaf.

    By mass: a share s of leaf is (s - l)/(1 - l) after a loss l. Not the part
    of the leaf that is gone, which is l/s.

    Examples
    --------
    >>> from hayweather.catalog import DEFAULT_CROP
    >>> round(float(leaf_points_lost(4.7, DEFAULT_CROP)), 2)
    2.61
    """
    lost = np.asarray(dry_matter_loss_percent, dtype=np.float64)
    return np.asarray(lost * (1 - crop_of(crop).leaf_share) / (1 - lost / 100))


def baled_sheet(sheet: Sheet, loss_percent: Level, crop: str) -> Sheet:
    """The figures of the bale after the baler lost so much leaf; as they were where none is known.

    Leaf and stem mix, so each figure moves in proportion to the leaf's share
    (`hayweather.catalog.crops.Quality`).

    Parameters
    ----------
    sheet
        Of the standing crop.
    loss_percent
        Dry matter lost, all of it leaf [%].
    crop
        Name of the catalog.

    Examples
    --------
    >>> from hayweather.catalog import DEFAULT_CROP
    >>> after = baled_sheet(Sheet(20.0, 38.0, 30.0), 4.7, DEFAULT_CROP)
    >>> round(float(after.crude_protein), 2), round(float(after.ndf), 2)
    (19.37, 39.15)
    """
    quality = crop_of(crop).quality
    if quality is None:
        return sheet
    points = leaf_points_lost(loss_percent, crop)
    fiber = quality.ndf_points * points
    protein, ndf, adf = sheet.crude_protein, sheet.ndf, sheet.adf
    return Sheet(
        None if protein is None else protein - quality.protein_points * points,
        None if ndf is None else ndf + fiber,
        None if adf is None else adf + quality.adf_per_ndf * fiber,
    )


def standing_sheet(field: Field) -> Sheet:
    """The laboratory figures of a field's standing crop, as the farm file says."""
    return Sheet(field.crude_protein_percent, field.ndf_percent, field.adf_percent)


def relative_feed_value(adf_percent: Level, ndf_percent: Level) -> Floats:
    """Relative feed value [-], ``(88.9 - 0.779 ADF)(120/NDF)/1.29``.

    As extension services print it (Boman, Utah State University; published).

    Examples
    --------
    >>> round(float(relative_feed_value(27.0, 34.0)), 1)
    185.7
    """
    digestible = 88.9 - 0.779 * np.asarray(adf_percent, dtype=np.float64)
    intake = 120 / np.asarray(ndf_percent, dtype=np.float64)
    return digestible * intake / 1.29


def likely_class(feed_value: float, crude_protein_percent: float | None, quality: Quality) -> str:
    """The class that figures resemble, by the worse of feed value and protein.

    Examples
    --------
    >>> from hayweather.catalog import DEFAULT_CROP
    >>> likely_class(172.0, 18.5, crop_of(DEFAULT_CROP).quality)
    'good'
    """
    for level in quality.classes:
        rich = crude_protein_percent is None or crude_protein_percent >= level.crude_protein
        if feed_value >= level.feed_value and rich:
            return level.name
    return quality.lowest_class


@dataclass(frozen=True)
class HayPrice:
    """What a kilogram of hay is paid by; attributes as in `hayweather.farm.records.Money`.

    Attributes
    ----------
    price
        Of hay that lost nothing [/kg], or of hay of `price_rfv`.
    by
        "leaf": the price less what leaf costs; "rfv": by relative feed value;
        "class": by class.
    lost_leaf
        Of leaf lost at the baler [/kg of leaf], with "leaf".
    price_rfv
        Relative feed value that `price` is for; None: that of the field.
    rfv_prices
        ``(feed value, price)``, rising, in place of a price in proportion.
    class_prices
        ``(class, price)`` [/kg].
    """

    price: float
    by: PriceBy = "leaf"
    lost_leaf: float = 0.0
    price_rfv: float | None = None
    rfv_prices: tuple[tuple[float, float], ...] | None = None
    class_prices: tuple[tuple[str, float], ...] | None = None

    def times(self, factor: float) -> HayPrice:
        """The same with every price of hay times a factor."""
        points, classes = self.rfv_prices, self.class_prices
        return replace(
            self,
            price=self.price * factor,
            rfv_prices=None if points is None else tuple((x, factor * y) for x, y in points),
            class_prices=None if classes is None else tuple((x, factor * y) for x, y in classes),
        )

    def of_rfv(self, sheet: Sheet, standing: Sheet) -> Floats:
        """Price of hay by its relative feed value [/kg]."""
        value, own = sheet.feed_value, standing.feed_value
        if value is None or own is None:
            return np.asarray(self.price)
        if self.rfv_prices is not None:
            points, prices = zip(*self.rfv_prices, strict=True)
            return np.asarray(np.interp(value, points, prices))
        return self.price * value / (own if self.price_rfv is None else self.price_rfv)

    def of_class(self, sheet: Sheet, quality: Quality) -> Floats:
        """Price of hay by the class that a buyer's test is likely to give it [/kg].

        The mean over the test's spread (`CLASS_SPREAD`), feed value and protein
        apart from each other.
        """
        from scipy.special import ndtr

        value, protein = sheet.feed_value, sheet.crude_protein
        if value is None or self.class_prices is None:
            return np.asarray(self.price)
        prices, (by_value, by_protein) = dict(self.class_prices), CLASS_SPREAD
        worth, better = np.zeros_like(np.asarray(value)), np.zeros_like(np.asarray(value))
        for level in quality.classes:
            odds = ndtr((value - level.feed_value) / by_value)
            if protein is not None:
                odds = odds * ndtr((np.asarray(protein) - level.crude_protein) / by_protein)
            worth = worth + (odds - better) * prices[level.name]
            better = odds
        return np.asarray(worth + (1 - better) * prices[quality.lowest_class])


def worth_per_kg(loss_percent: Level, field: Field, hay: HayPrice) -> Floats:
    """What a kilogram as it was cut and cured brings once the baler lost a part of it [/kg].

    The one worth of leaf, for plan and seasons. By "rfv" and "class" the leaf
    is missed twice, as weight and in the figures of the rest; by "leaf" both
    are in what lost leaf is said to cost. A crop of which nobody knows what
    leaf does to its figures is paid as by "leaf".

    Parameters
    ----------
    loss_percent
        Dry matter that the baler loses, all of it leaf [%]; NaN, not known, counts as none.
    field
        Its crop and the laboratory figures of the standing crop.
    hay
        What it is paid by.

    Examples
    --------
    >>> bench = Field("bench", "home", ndf_percent=38.0, adf_percent=30.0)
    >>> by_rfv = HayPrice(190.0, "rfv")
    >>> (worth_per_kg(np.array([0.0, 4.7]), bench, by_rfv)).round(1).tolist()
    [190.0, 173.8]
    """
    lost = np.nan_to_num(np.asarray(loss_percent, dtype=np.float64))
    quality = crop_of(field.crop).quality
    if hay.by == "leaf" or quality is None:
        return np.asarray(hay.price - hay.lost_leaf * lost / 100)
    standing = standing_sheet(field)
    sheet = baled_sheet(standing, lost, field.crop)
    price = hay.of_rfv(sheet, standing) if hay.by == "rfv" else hay.of_class(sheet, quality)
    return np.asarray((1 - lost / 100) * price)


# Attribute of `Prices`, and of `Money`.
_MONEY = {
    "wet_bale": "wet_bale_cost_per_kg",
    "wait_day": "wait_cost_per_kg_day",
    "late": "late_cost_per_kg_day",
    "rain_loss_percent": "rain_loss_percent",
    "baler_h": "baler_cost_per_h",
    "rig_h": "rig_cost_per_h",
    "wage_h": "wage_per_h",
    "fuel_l": "fuel_price_per_l",
    "water_l": "water_price_per_l",
}


@dataclass(frozen=True)
class Prices:
    """What hay brings and what work costs, one currency.

    Attributes
    ----------
    hay
        What a kilogram of hay is paid by.
    wet_bale
        Of hay baled above its band [/kg].
    wait_day, late
        Of hay that lies a day more [/kg/day]; of each day that it lies after its
        field was due, besides [/kg/day].
    rain_loss_percent
        Of the price, lost to 25 mm of rain on the windrow.
    baler_h, rig_h, wage_h
        Of a baler and a rig, each with its tractor, and of one person [/h].
    fuel_l, water_l
        Of fuel and of water [/L].
    assumed
        Names of those that were not given.
    loss
        Which loss at the baler is counted: the usual one, or an end of its range.
    """

    hay: HayPrice
    wet_bale: float
    wait_day: float
    late: float
    rain_loss_percent: float
    baler_h: float
    rig_h: float
    wage_h: float
    fuel_l: float
    water_l: float
    assumed: tuple[str, ...] = ()
    loss: LossEnd = "usual"

    @property
    def price(self) -> float:
        """The price of the farm file [/kg]."""
        return self.hay.price


def hay_price_of(money: Money, price_per_kg: float) -> HayPrice:
    """What a farm file says hay is paid by; what lost leaf costs is assumed where not given."""
    given = money.lost_leaf_cost_per_kg
    return HayPrice(
        price_per_kg,
        money.price_by,
        PRICES["lost_leaf_cost_per_kg"].value if given is None else given,
        money.price_rfv,
        money.rfv_prices,
        money.class_prices,
    )


def prices_of(money: Money, price_per_kg: float) -> Prices:
    """The prices of a farm file, the rest assumed and named.

    Parameters
    ----------
    money
        As the farm file says.
    price_per_kg
        Of the hay; never assumed, for no currency has a usual one.
    """
    given = {name: getattr(money, attribute) for name, attribute in _MONEY.items()}
    values: dict[str, Any] = {
        name: PRICES[_MONEY[name]].value if value is None else float(value)
        for name, value in given.items()
    }
    missing = tuple(name for name, value in given.items() if value is None)
    if money.price_by == "leaf" and money.lost_leaf_cost_per_kg is None:
        missing = ("lost_leaf", *missing)
    return Prices(hay_price_of(money, price_per_kg), **values, assumed=missing)


def loss_ends(prices: Prices) -> tuple[Prices, Prices]:
    """The same prices with the least and with the most loss that is published, or measured."""
    return replace(prices, loss="least"), replace(prices, loss="most")


@dataclass(frozen=True)
class HourValues:
    """Currency per kilogram of hay, (4 * hours, lanes), before the work is paid.

    Attributes
    ----------
    as_it_lies
        Baled without adding water.
    with_rig
        Baled behind the rig with the dose of lane 0; minus infinity where it has none.
    standing
        Still lying, fit to be baled as dry as it gets.
    """

    as_it_lies: Floats
    with_rig: Floats
    standing: Floats


def hour_values(
    quarters: QuarterCalls, weather: HourlyWeather, setting: Setting, prices: Prices
) -> HourValues:
    """What hay brings in every quarter and member.

    Parameters
    ----------
    quarters, weather
        The same hours and lanes; the first quarter is now: rain and waiting
        count from there.
    setting, prices
        The field; what things cost.
    """
    whole = float(worth_per_kg(0.0, setting.field, prices.hay))
    kept = whole * (1 - rain_lost(weather, prices)) - _lying(quarters, prices)
    return HourValues(
        as_it_lies=kept - _baled(quarters.hay, quarters.windrow_wb, quarters, setting, prices),
        with_rig=kept - _behind_rig(quarters, setting, prices),
        standing=kept - _driest(quarters, setting, prices),
    )


def rain_lost(weather: HourlyWeather, prices: Prices) -> Floats:
    """Part of the price lost to the rain fallen by the end of each quarter, at most all."""
    fallen = np.cumsum(np.nan_to_num(quarterly(rain_or_none(weather))), axis=0) / QUARTERS
    return np.minimum(prices.rain_loss_percent / 100 * fallen / RAIN_MM, 1.0)


def _lying(quarters: QuarterCalls, prices: Prices) -> Floats:
    """Cost of having lain until each quarter, (4 * hours, 1)."""
    days = (np.arange(quarters.call.shape[0]) + 0.5) / (24 * QUARTERS)
    return prices.wait_day * days[:, None]


def _shattered(hay: Layers, setting: Setting, prices: Prices) -> Floats:
    """Cost of the leaf that the baler loses in this field."""
    field = setting.field
    loss = layered_loss_percent(hay, field.crop, setting.baler, prices.loss)
    return worth_per_kg(0.0, field, prices.hay) - worth_per_kg(loss, field, prices.hay)


def _wet(windrow_wb: Floats, quarters: QuarterCalls, setting: Setting, prices: Prices) -> Floats:
    """Cost of baling above the band or not cured: the flat risk, and what heats away stored."""
    above = np.nan_to_num(np.maximum(windrow_wb - setting.band.high_wb, 0.0))
    whole = worth_per_kg(0.0, setting.field, prices.hay)
    heated = whole * np.minimum(STORAGE_LOSS_PER_POINT * above, 1.0)
    risky = np.isin(quarters.call, DANGER) | (above > 0)
    return np.where(risky, prices.wet_bale, 0.0) + heated


def worth_in_band(field: Field, baler: Baler, low_wb: float, prices: Prices) -> float:
    """What a kilogram baled now at the bottom of its band brings, before the work is paid."""
    scale = loss_scale(baler, field.crop, prices.loss)
    loss = baling_loss_percent(low_wb, field.crop, baler.kind, scale)
    return float(worth_per_kg(loss, field, prices.hay))


def _baled(
    hay: Layers, windrow_wb: Floats, quarters: QuarterCalls, setting: Setting, prices: Prices
) -> Floats:
    """What the baler's work loses of a kilogram at these moistures."""
    leaf = _shattered(hay, setting, prices)
    return leaf + _wet(windrow_wb, quarters, setting, prices)


def _behind_rig(quarters: QuarterCalls, setting: Setting, prices: Prices) -> Floats:
    """What baling behind the rig costs, water included; infinite where lane 0 has no dose."""
    if quarters.dose is None or setting.rig is None:
        return np.full(quarters.windrow_wb.shape, np.inf)
    applied = quarters.dose.applied_l_t[:, :1]
    after = moisture_after(quarters.windrow_wb, applied * quarters.dose.efficiency)
    hay = behind_rig(quarters.hay, quarters.windrow_wb, quarters.dose, applied)
    cost = _baled(hay, after, quarters, setting, prices) + applied / 1000 * prices.water_l
    return np.where(np.isfinite(applied), cost, np.inf)


def _driest(quarters: QuarterCalls, setting: Setting, prices: Prices) -> Floats:
    """Leaf lost when the hay is baled at its driest of all these hours instead."""
    cost = _shattered(quarters.hay, setting, prices)
    return np.broadcast_to(cost.max(axis=0), cost.shape)
