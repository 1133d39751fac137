"""A field's course: calls of every quarter, how likely each is, and which one is shown.

The middle forecast is one run; the members say how sure it is. Each member
tells what baling or waiting would cost if it came true. Baling is on dew where
hay in the band is likelier than dry hay, else with the rig. An hour is shown
ready only where its chance of "too wet" or "not cured" stays within the fence.
Costs may make a call more cautious on the wet side, never less.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import READY, Call, QuarterCalls, call_quarters
from hayweather.baling.cautions import dangers_of
from hayweather.baling.setting import Setting
from hayweather.baling.value import shattered_cost
from hayweather.baling.water import moisture_after
from hayweather.baling.windows import Window, find_windows, stopped_quarters, stretches
from hayweather.catalog.prices import PRICES, RIG_COST_PER_T, WAIT_COST_PER_T
from hayweather.farm.records import Money
from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.readings import Weights, weighted_quantile
from hayweather.windrow.trajectory import QUARTER, QUARTERS, STATE_NAMES, WindrowTrajectory

TIMED_FROM_CHANCE = 0.2  # a window less likely than this is too uncertain to time
RANGE_LEVELS = (0.1, 0.9)


def quarter_chances(quarters: QuarterCalls, weights: Floats) -> Floats:
    """Chance of each call in every quarter, (6, 4 * hours), in the order of `Call`.

    Members without data in a quarter do not count there; where no member has
    data the chance of "no data" is 1.
    """
    count = len(Call)
    chances = np.stack([(quarters.call == call) @ weights for call in range(count)])
    known = chances[1:].sum(axis=0)
    shares = np.where(known > 0, chances / np.where(known > 0, known, 1.0), 0.0)
    shares[Call.NO_DATA] = np.where(known > 0, 0.0, 1.0)
    return shares


def hour_chances(chances: Floats) -> list[dict[Call, float]]:
    """Chance of each call in every hour: the mean of its quarters; each sums to 1."""
    hours = chances.reshape(len(Call), -1, QUARTERS).mean(axis=2)
    return [{call: float(hours[call, hour]) for call in Call} for hour in range(hours.shape[1])]


def with_chance(
    window: Window,
    start: np.datetime64,
    quarters: QuarterCalls,
    stopped: Booleans,
    weights: Floats,
) -> Window:
    """A window with its chance, and the range of its start and end.

    A member has the window where one of its own stretches of that call shares a
    quarter with it; of several, the one that shares most. The ranges are of the
    members that have it, eight in ten; none where the chance is below 0.2.

    Parameters
    ----------
    window
        As shown.
    start
        UTC start of the first quarter.
    quarters, stopped
        Calls and stops of all lanes, (4 * hours, lanes).
    weights
        Of the lanes, sum 1.
    """
    first = int((window.start - start) / QUARTER)
    past = int((window.end - start) / QUARTER)
    ready = (quarters.call == window.call) & ~stopped
    begins = np.full(weights.size, np.nan)
    ends = np.full(weights.size, np.nan)
    for lane in np.flatnonzero(weights > 0):
        own = matching_run(ready[:, lane], first, past)
        if own is not None:
            begins[lane], ends[lane] = own
    chance = float(weights[np.isfinite(begins)].sum())
    if chance < TIMED_FROM_CHANCE:
        return replace(window, chance=chance)
    return replace(
        window,
        chance=chance,
        start_range=_range(begins, weights, start),
        end_range=_range(ends, weights, start),
    )


def matching_run(ready: Booleans, first: int, past: int) -> tuple[int, int] | None:
    """The run of True in `ready` that shares most with ``first`` to ``past - 1``."""
    if not ready[first:past].any():
        return None
    shared = {run: min(run[1], past) - max(run[0], first) for run in stretches(ready)}
    return max(shared, key=lambda run: shared[run])


def _range(
    rows: Floats, weights: Floats, start: np.datetime64
) -> tuple[np.datetime64, np.datetime64]:
    """Eight in ten of the rows, as UTC times on quarter hours, outward."""
    low, high = weighted_quantile(rows, weights, RANGE_LEVELS)
    return start + int(np.floor(low)) * QUARTER, start + int(np.ceil(high)) * QUARTER


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
    quarters: QuarterCalls,
    chances: Floats,
    weights: Floats,
    setting: Setting,
    costs: Costs,
    instead: slice = slice(None),
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
    instead
        Quarters in which hay that waits may be baled: those shown.
    """
    middle = quarters.call[:, 0]
    counted = weights > 0
    choices = (
        _on_dew(quarters, setting, costs),
        _with_rig(quarters, setting, costs),
        _waiting(quarters, setting, costs, instead),
    )
    expected = np.stack([cost[:, counted] @ weights[counted] for cost in choices])
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


def _waiting(quarters: QuarterCalls, setting: Setting, costs: Costs, instead: slice) -> Floats:
    """What letting the hour pass would cost: the hay baled at its driest instead."""
    leaf = quarters.leaf_wb[instead]
    driest = np.where(np.isnan(leaf), np.inf, leaf).min(axis=0, initial=np.inf)
    missed = _leaf_cost(np.broadcast_to(driest, quarters.leaf_wb.shape), setting, costs)
    return np.where(np.isin(quarters.call, READY), missed + costs.wait, 0.0)


@dataclass(frozen=True)
class Course:
    """The hours of one field in full.

    Lane 0 is what is shown: the forecast as it stands, or, where readings were
    taken, the mean of the members that agree with them; the other lanes are the
    members.

    Attributes
    ----------
    weather, trajectory, quarters
        The same hours and lanes; lane 0 of `quarters` is the call shown.
    middle
        Call of lane 0 before chances and costs were looked at, (4 * hours,).
    stopped
        Quarters in which work stops, (4 * hours, lanes).
    chances
        Chance of each call in every quarter, (6, 4 * hours).
    weights
        How much each member counts.
    fence
        Largest chance of too wet or not cured in a ready quarter.
    """

    weather: HourlyWeather
    trajectory: WindrowTrajectory
    quarters: QuarterCalls
    middle: NDArray[np.int8]
    stopped: Booleans
    chances: Floats
    weights: Weights
    fence: float = FENCE

    def between(self, first: int, last: int) -> Course:
        """The hours ``first`` to ``last - 1``."""
        rows = slice(QUARTERS * first, QUARTERS * last)
        return Course(
            self.weather.between(first, last),
            self.trajectory.between(first, last),
            self.quarters.between(first, last),
            self.middle[rows],
            self.stopped[rows],
            self.chances[:, rows],
            self.weights,
            self.fence,
        )

    def windows(self) -> list[Window]:
        """The windows shown, in order of time, with their chances."""
        start = self.weather.start[0]
        found = find_windows(start, self.quarters, self.stopped)
        if not self.weights.weights.any():
            return found
        weights = self.weights.weights
        return [
            with_chance(window, start, self.quarters, self.stopped, weights) for window in found
        ]

    def first_ready(self) -> int | None:
        """First quarter shown that can be baled."""
        ready = np.isin(self.quarters.call[:, 0], READY) & ~self.stopped[:, 0]
        return int(ready.argmax()) if ready.any() else None


def course_of(
    weather: HourlyWeather,
    trajectory: WindrowTrajectory,
    setting: Setting,
    uncured: Booleans,
    weights: Weights,
    costs: Costs,
    instead: slice = slice(None),
) -> Course:
    """Call every quarter hour of a run, look at chances, and decide what to show.

    Parameters
    ----------
    weather, trajectory
        The same hours; lane 0 the forecast, the others members.
    setting
        The field.
    uncured
        Quarters that are not cured whatever the stem says, (4 * hours, lanes).
    weights
        How much each member counts.
    costs
        What wrong hours cost.
    instead
        As in `decide`.
    """
    quarters = call_quarters(weather, trajectory, setting, uncured)
    chances = quarter_chances(quarters, weights.weights)
    middle = quarters.call[:, 0].copy()
    if weights.weights.any():
        call = quarters.call.copy()
        call[:, 0] = decide(quarters, chances, weights.weights, setting, costs, instead)
        quarters = replace(quarters, call=call)
    stopped = stopped_quarters(quarters, dangers_of(weather), setting)
    return Course(weather, trajectory, quarters, middle, stopped, chances, weights, costs.fence)


def shown_as_mean(trajectory: WindrowTrajectory, weights: Weights) -> WindrowTrajectory:
    """The run with lane 0 replaced by the weighted mean of the members."""
    counted = weights.weights > 0
    if not counted.any():
        return trajectory
    shares = weights.weights[counted]
    states: dict[str, Any] = {}
    for name in STATE_NAMES:
        values: Floats = getattr(trajectory, name).copy()
        values[:, 0] = values[:, counted] @ shares
        states[name] = values
    return replace(trajectory, **states)
