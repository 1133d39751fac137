"""What a kilogram of hay brings when it is baled in a quarter, every member at once.

Hay is counted as the kilograms that were cut and cured: water is never sold as
hay. A kilogram loses by rain that fell on it, by leaf that the baler shatters
(alfalfa; other crops have no published loss and lose none), by being baled too
wet, and by lying. Work is charged by the hour elsewhere; water and the fuel of
the burner are charged here, with the rig.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call, QuarterCalls, quarterly, rain_or_none
from hayweather.baling.setting import Setting
from hayweather.baling.value import baling_loss_percent
from hayweather.baling.value_prices import Prices
from hayweather.baling.water import moisture_after
from hayweather.weather.record import Floats, HourlyWeather
from hayweather.windrow.trajectory import QUARTERS

RAIN_MM = 25.0  # the rain that the loss by rain is told for
# Dry matter lost in storage for each point above the band (published rule of extension
# services of about 1 % for a point above the safe moisture, from memory).
STORAGE_LOSS_PER_POINT = 0.01
_WET = (Call.TOO_WET, Call.NOT_CURED)


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
        as_it_lies=kept - _baled(quarters.leaf_wb, quarters.windrow_wb, quarters, setting, prices),
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


def _shattered(leaf_wb: Floats, setting: Setting, prices: Prices) -> Floats:
    """Cost of the leaf that the baler loses; none where leaf is unknown or the crop no alfalfa."""
    if setting.field.crop != "alfalfa":
        return np.zeros_like(leaf_wb)
    loss = baling_loss_percent(leaf_wb, setting.baler.kind) / 100
    return prices.lost_leaf * np.nan_to_num(loss)


def _wet(windrow_wb: Floats, quarters: QuarterCalls, setting: Setting, prices: Prices) -> Floats:
    """Cost of baling above the band or not cured: the flat risk, and what heats away stored."""
    above = np.nan_to_num(np.maximum(windrow_wb - setting.band.high_wb, 0.0))
    heated = prices.price * np.minimum(STORAGE_LOSS_PER_POINT * above, 1.0)
    risky = np.isin(quarters.call, _WET) | (above > 0)
    return np.where(risky, prices.wet_bale, 0.0) + heated


def _baled(
    leaf_wb: Floats, windrow_wb: Floats, quarters: QuarterCalls, setting: Setting, prices: Prices
) -> Floats:
    """What the baler's work loses of a kilogram at these moistures."""
    leaf = _shattered(leaf_wb, setting, prices)
    return leaf + _wet(windrow_wb, quarters, setting, prices)


def _behind_rig(quarters: QuarterCalls, setting: Setting, prices: Prices) -> Floats:
    """What baling behind the rig costs, water included; infinite where lane 0 has no dose."""
    if quarters.dose is None or setting.rig is None:
        return np.full(quarters.windrow_wb.shape, np.inf)
    applied = quarters.dose.applied_l_t[:, :1]
    after = moisture_after(quarters.windrow_wb, applied * quarters.dose.efficiency)
    leaf = quarters.leaf_wb + (after - quarters.windrow_wb)
    cost = _baled(leaf, after, quarters, setting, prices) + applied / 1000 * prices.water_l
    return np.where(np.isfinite(applied), cost, np.inf)


def _driest(quarters: QuarterCalls, setting: Setting, prices: Prices) -> Floats:
    """Leaf lost when the hay is baled at its driest of all these hours instead."""
    known = np.where(np.isnan(quarters.leaf_wb), np.inf, quarters.leaf_wb).min(axis=0)
    driest = np.where(np.isfinite(known), known, np.nan)
    return _shattered(np.broadcast_to(driest, quarters.leaf_wb.shape), setting, prices)
