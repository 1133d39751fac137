"""Which call to show: the best by expected outcome, behind a fence.

The middle forecast is one run; the members say how sure it is. Each member
tells what baling on dew, baling with the rig or waiting would cost if it came
true. An hour is shown ready only where its chance of "too wet" or "not cured"
stays within the fence. Costs may make a call more cautious on the wet side,
never less.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import READY, Call, QuarterCalls
from hayweather.baling.setting import Setting
from hayweather.baling.water import moisture_after
from hayweather.farm.records import Money
from hayweather.weather.record import Floats

FENCE = 0.2  # largest chance of too wet or not cured in a ready hour (assumed)
LOST_LEAF_COST_PER_T = 15.0  # of baling hay far too dry, currency/t (assumed)
WET_BALE_COST_PER_T = 40.0  # of baling hay too wet or not cured, currency/t (assumed)
RIG_COST_PER_T = 3.0  # of running a rig: water, fuel, wages, currency/t (assumed)
FAR_TOO_DRY_WB = 3.0  # points below its limit at which the whole leaf cost falls due (assumed)
_WET = (Call.TOO_WET, Call.NOT_CURED)
_CHOICES = np.array([Call.NATURAL_DEW, Call.ADD_MOISTURE, Call.TOO_DRY], dtype=np.int8)


@dataclass(frozen=True)
class Costs:
    """What a wrong hour costs, currency per tonne, and the fence [-].

    `assumed` is True where a cost was not given.
    """

    lost_leaf: float
    wet_bale: float
    rig: float = RIG_COST_PER_T
    fence: float = FENCE
    assumed: bool = False

    @classmethod
    def of(cls, money: Money) -> Costs:
        """Costs of a farm file, the rest assumed."""
        leaf, wet = money.lost_leaf_cost_per_kg, money.wet_bale_cost_per_kg
        return cls(
            lost_leaf=LOST_LEAF_COST_PER_T if leaf is None else 1000 * leaf,
            wet_bale=WET_BALE_COST_PER_T if wet is None else 1000 * wet,
            assumed=leaf is None or wet is None,
        )


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
    expected = np.stack(
        [
            _on_dew(quarters, setting, costs)[:, counted] @ weights[counted],
            _with_rig(quarters, setting, costs)[:, counted] @ weights[counted],
            costs.lost_leaf * chances[list(READY)].sum(axis=0),
        ]
    )
    danger = chances[list(_WET)].sum(axis=0)
    best = _CHOICES[expected.argmin(axis=0)]
    wetter = chances[Call.NOT_CURED] > chances[Call.TOO_WET]
    best = np.where(danger > costs.fence, np.where(wetter, Call.NOT_CURED, Call.TOO_WET), best)
    kept = np.isin(middle, (Call.NO_DATA, *_WET)) | (chances[Call.NO_DATA] > 0)
    return np.where(kept, middle, best).astype(np.int8)


def _dry_cost(shortfall_wb: Floats, costs: Costs) -> Floats:
    """Cost of leaves lost in hay that is some points too dry, per tonne."""
    return costs.lost_leaf * np.clip(shortfall_wb / FAR_TOO_DRY_WB, 0.0, 1.0)


def _on_dew(quarters: QuarterCalls, setting: Setting, costs: Costs) -> Floats:
    """What baling as it lies would cost in every lane, (4 * hours, lanes)."""
    band = setting.band
    short = band.low_wb - quarters.windrow_wb
    if band.leaf_minimum_wb is not None:
        short = np.maximum(short, band.leaf_minimum_wb - quarters.leaf_wb)
    wet = np.isin(quarters.call, _WET)
    return np.where(wet, costs.wet_bale, _dry_cost(np.nan_to_num(short), costs))


def _with_rig(quarters: QuarterCalls, setting: Setting, costs: Costs) -> Floats:
    """What baling with lane 0's dose would cost in every lane; endless without a dose."""
    if quarters.dose is None or setting.rig is None:
        return np.full(quarters.windrow_wb.shape, np.inf)
    kept = quarters.dose.applied_l_t[:, :1] * setting.rig.efficiency
    after = moisture_after(quarters.windrow_wb, kept)
    wet = np.isin(quarters.call, _WET) | (after > setting.band.high_wb)
    cost = np.where(wet, costs.wet_bale, _dry_cost(setting.band.low_wb - after, costs))
    return np.where(np.isfinite(kept), cost + costs.rig, np.inf)
