"""A field's course: weather, windrow and calls of the same hours, held together."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import READY, QuarterCalls, call_quarters
from hayweather.baling.cautions import dangers_of
from hayweather.baling.chances import quarter_chances, with_chance
from hayweather.baling.decide import FENCE, Costs, decide
from hayweather.baling.setting import Setting
from hayweather.baling.windows import Window, find_windows, stopped_quarters
from hayweather.weather.record import Booleans, Floats, HourlyWeather
from hayweather.windrow.readings import Weights
from hayweather.windrow.trajectory import QUARTERS, STATE_NAMES, WindrowTrajectory


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
    """
    quarters = call_quarters(weather, trajectory, setting, uncured)
    chances = quarter_chances(quarters, weights.weights)
    middle = quarters.call[:, 0].copy()
    if weights.weights.any():
        call = quarters.call.copy()
        call[:, 0] = decide(quarters, chances, weights.weights, setting, costs)
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
