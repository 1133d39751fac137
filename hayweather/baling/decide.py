"""Which call to show: the best by expected outcome, behind a fence.

The middle forecast is one run; the members say how sure it is. Each member
tells what baling or waiting would cost if it came true. Baling is on dew where
hay in the band is likelier than dry hay, else with the rig. An hour is shown
ready only where its chance of "too wet" or "not cured" stays within the fence.
Costs may make a call more cautious on the wet side, never less.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import READY, Call, QuarterCalls
from hayweather.baling.setting import Setting
from hayweather.baling.value import shattered_cost
from hayweather.baling.water import moisture_after
from hayweather.catalog.prices import PRICES, RIG_COST_PER_T, WAIT_COST_PER_T
from hayweather.farm.records import Money
from hayweather.weather.record import Floats

FENCE = PRICES["wet_chance_limit_percent"].value / 100
"""Largest chance of too wet or not cured in a ready hour [-]."""

_WET = (Call.TOO_WET, Call.NOT_CURED)


@dataclass(frozen=True)
class Costs:
    """What a wrong hour costs, currency per tonne, and the fence [-].

    Attributes
    ----------
    lost_leaf
        Of leaf that the baler loses, per tonne of leaf.
    wet_bale
        Of hay baled too wet or not cured, per tonne of hay.
    rig, wait
        Of running the rig, and of letting an hour pass, per tonne of hay.
    fence
        Largest chance of too wet or not cured in an hour shown ready.
    assumed
        True when one of the first two was not given.
    """

    lost_leaf: float
    wet_bale: float
    rig: float = RIG_COST_PER_T
    wait: float = WAIT_COST_PER_T
    fence: float = FENCE
    assumed: bool = False

    @classmethod
    def of(cls, money: Money) -> Costs:
        """Costs of a farm file, the rest assumed."""
        names = ("lost_leaf_cost_per_kg", "wet_bale_cost_per_kg", "wet_chance_limit_percent")
        given = [getattr(money, name) for name in names]
        leaf, wet, limit = (
            PRICES[name].value if value is None else value
            for name, value in zip(names, given, strict=True)
        )
        return cls(1000 * leaf, 1000 * wet, fence=limit / 100, assumed=None in given[:2])


def decide(
    quarters: QuarterCalls, chances: Floats, weights: Floats, setting: Setting, costs: Costs
) -> NDArray[np.int8]:
    """The call to show in every quarter, (4 * hours,).

    Parameters
    ----------
    quarters
        Calls of all lanes; lane 0 is the middle forecast, whose dose a rig
        would put on.
    chances
        Chance of each call, (6, 4 * hours).
    weights
        Of the lanes, sum 1 over the members.
    setting, costs
        Limits of the field; what wrong hours cost.
    """
    middle = quarters.call[:, 0]
    counted = weights > 0
    choices = (_on_dew, _with_rig, _waiting)
    expected = np.stack(
        [cost(quarters, setting, costs)[:, counted] @ weights[counted] for cost in choices]
    )
    dry = chances[[Call.ADD_MOISTURE, Call.TOO_DRY]].sum(axis=0)
    likely_dry = dry > chances[Call.NATURAL_DEW]
    expected[0, likely_dry] = np.inf
    expected[1, ~likely_dry] = np.inf
    danger = chances[list(_WET)].sum(axis=0)
    wet_word = np.where(
        chances[Call.NOT_CURED] > chances[Call.TOO_WET], Call.NOT_CURED, Call.TOO_WET
    )
    # Hay that is rather in the band than dry waits because some runs are too wet.
    wait_word = np.where(likely_dry, Call.TOO_DRY, wet_word)
    options = np.stack(np.broadcast_arrays(Call.NATURAL_DEW, Call.ADD_MOISTURE, wait_word))
    best = np.take_along_axis(options, expected.argmin(axis=0)[None], axis=0)[0]
    best = np.where(danger > costs.fence, wet_word, best)
    kept = np.isin(middle, (Call.NO_DATA, *_WET)) | (chances[Call.NO_DATA] > 0)
    return np.where(kept, middle, best).astype(np.int8)


def _leaf_cost(leaf_wb: Floats, setting: Setting, costs: Costs) -> Floats:
    """Cost of the leaf that the baler loses, per tonne of hay."""
    return shattered_cost(leaf_wb, setting.field.crop, setting.baler.kind, costs.lost_leaf)


def _on_dew(quarters: QuarterCalls, setting: Setting, costs: Costs) -> Floats:
    """What baling as it lies would cost in every lane, (4 * hours, lanes)."""
    wet = np.isin(quarters.call, _WET)
    return np.where(wet, costs.wet_bale, _leaf_cost(quarters.leaf_wb, setting, costs))


def _with_rig(quarters: QuarterCalls, setting: Setting, costs: Costs) -> Floats:
    """What baling with lane 0's dose would cost in every lane; endless without a dose."""
    if quarters.dose is None or setting.rig is None:
        return np.full(quarters.windrow_wb.shape, np.inf)
    kept = quarters.dose.applied_l_t[:, :1] * quarters.dose.efficiency
    after = moisture_after(quarters.windrow_wb, kept)
    wet = np.isin(quarters.call, _WET) | (after > setting.band.high_wb)
    leaf = quarters.leaf_wb + (after - quarters.windrow_wb)
    cost = np.where(wet, costs.wet_bale, _leaf_cost(leaf, setting, costs))
    return np.where(np.isfinite(kept), cost + costs.rig, np.inf)


def _waiting(quarters: QuarterCalls, setting: Setting, costs: Costs) -> Floats:
    """What letting the hour pass would cost: the hay baled at its driest instead."""
    driest = np.nanmin(np.where(np.isnan(quarters.leaf_wb), np.inf, quarters.leaf_wb), axis=0)
    missed = _leaf_cost(np.broadcast_to(driest, quarters.leaf_wb.shape), setting, costs)
    return np.where(np.isin(quarters.call, READY), missed + costs.wait, 0.0)
