"""What hay and hours are worth: leaf lost, feed value, prices, what a kilogram brings when.

Hay is counted as the kilograms that were cut and cured: water is never sold as
hay. A kilogram loses by rain that fell on it, by leaf that the baler shatters
(a crop without a known loss loses none), by being baled too wet, and by lying.
Work is charged by the hour elsewhere; water is charged here, with the rig. A
class of hay is what the figures resemble, never what a buyer will write.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from hayweather.baling.calls import Call, QuarterCalls, quarterly, rain_or_none
from hayweather.baling.setting import Setting
from hayweather.baling.water import Dose, kept_db, moisture_after, picked, sprayed
from hayweather.catalog import Quality, crop_of, kind_of
from hayweather.catalog.prices import PRICES, STORAGE_LOSS_PER_POINT
from hayweather.farm.records import Money
from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.sorption import wet_basis
from hayweather.windrow.trajectory import QUARTERS, Layers
from hayweather.words import Remark

Level: TypeAlias = "float | Floats"

RAIN_MM = 25.0  # the rain that the loss by rain is told for
_WET = (Call.TOO_WET, Call.NOT_CURED)


def baling_loss_percent(leaf_wb: Level, crop: str, kind: str) -> Floats:
    """Dry matter lost at the baler [%] by leaf moisture [% wet basis].

    The crop's curve (`hayweather.catalog.crops.BalingLoss`) times the factor of
    the kind of baler.

    Parameters
    ----------
    leaf_wb
        Any shape; NaN stays.
    crop, kind
        Names of the catalog; NaN all over where the crop's loss is not known.

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
    return np.asarray(curve.level * kind_of(kind).loss_factor.value * lost)


def layered_loss_percent(hay: Layers, crop: str, kind: str) -> Floats:
    """Dry matter lost at the baler [%], summed over the layers, (rows, lanes).

    The curve bends: hay wet on top and dry beneath loses more than its mean leaf
    moisture says, above some 9 % where the curve is convex. The one loss of
    plan, seasons and values.

    Parameters
    ----------
    hay
        Every layer; NaN stays.
    crop, kind
        As in `baling_loss_percent`.
    """
    lost = baling_loss_percent(wet_basis(hay.of_kind("leaf")), crop, kind)
    return np.asarray(np.einsum("i,til->tl", hay.shares, lost))


def marked_loss_percent(hay: Layers, marks: Booleans, crop: str, kind: str) -> Floats:
    """`layered_loss_percent` where it is asked for, NaN elsewhere, (rows, lanes)."""
    loss, asked = np.full(marks.shape, np.nan), np.nonzero(marks)
    if asked[0].size:
        loss[asked] = layered_loss_percent(picked(hay, asked), crop, kind)[0]
    return loss


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


def shattered_cost(loss_percent: Level, lost_leaf: float) -> Floats:
    """Cost of the leaf that a baler loses, in the unit of `lost_leaf`, the price of leaf.

    Nothing where the loss is not known.
    """
    return lost_leaf * np.nan_to_num(np.asarray(loss_percent) / 100)


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


def leaf_lost_percent(dry_matter_loss_percent: Level, crop: str) -> Floats:
    """Part of the leaf that is gone [% of leaf] for a loss of dry matter [%], all of it leaf.

    Examples
    --------
    >>> from hayweather.catalog import DEFAULT_CROP
    >>> round(float(leaf_lost_percent(4.7, DEFAULT_CROP)), 6)
    10.0
    """
    return np.asarray(dry_matter_loss_percent) / crop_of(crop).leaf_share


def shifted(sheet: Sheet, leaf_percent: Level, quality: Quality) -> Sheet:
    """The figures after `leaf_percent` of the leaf is gone.

    Examples
    --------
    >>> from hayweather.catalog import DEFAULT_CROP
    >>> after = shifted(Sheet(20.0, 38.0, 30.0), 5.0, crop_of(DEFAULT_CROP).quality)
    >>> round(float(after.crude_protein), 2), round(float(after.ndf), 2)
    (18.8, 40.2)
    """
    lost = np.asarray(leaf_percent, dtype=np.float64)
    fiber = quality.ndf_points * lost
    protein, ndf, adf = sheet.crude_protein, sheet.ndf, sheet.adf
    return Sheet(
        None if protein is None else protein - quality.protein_points * lost,
        None if ndf is None else ndf + fiber,
        None if adf is None else adf + quality.adf_per_ndf * fiber,
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


# Attribute of `Prices`, and of `Money`.
_MONEY = {
    "lost_leaf": "lost_leaf_cost_per_kg",
    "wet_bale": "wet_bale_cost_per_kg",
    "wait_day": "wait_cost_per_kg_day",
    "late": "late_cost_per_kg",
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
    price
        Of hay that lost nothing [/kg].
    lost_leaf, wet_bale
        Of leaf lost at the baler [/kg of leaf]; of hay baled above its band [/kg].
    wait_day, late
        Of hay that lies a day more [/kg/day]; that still lies when its field is due [/kg].
    rain_loss_percent
        Of the price, lost to 25 mm of rain on the windrow.
    baler_h, rig_h, wage_h
        Of a baler and a rig, each with its tractor, and of one person [/h].
    fuel_l, water_l
        Of fuel and of water [/L].
    assumed
        Names of those that were not given.
    """

    price: float
    lost_leaf: float
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
    values = {
        name: PRICES[_MONEY[name]].value if value is None else float(value)
        for name, value in given.items()
    }
    missing = tuple(name for name, value in given.items() if value is None)
    return Prices(price=price_per_kg, **values, assumed=missing)


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
    kept = prices.price * (1 - rain_lost(weather, prices)) - _lying(quarters, prices)
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
    loss = layered_loss_percent(hay, setting.field.crop, setting.baler.kind)
    return shattered_cost(loss, prices.lost_leaf)


def _wet(windrow_wb: Floats, quarters: QuarterCalls, setting: Setting, prices: Prices) -> Floats:
    """Cost of baling above the band or not cured: the flat risk, and what heats away stored."""
    above = np.nan_to_num(np.maximum(windrow_wb - setting.band.high_wb, 0.0))
    heated = prices.price * np.minimum(STORAGE_LOSS_PER_POINT * above, 1.0)
    risky = np.isin(quarters.call, _WET) | (above > 0)
    return np.where(risky, prices.wet_bale, 0.0) + heated


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
