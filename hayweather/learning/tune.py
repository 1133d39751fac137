"""Fit the windrow to a farm's own readings: least squares with a prior, honest bars.

Every number to fit has a prior: what is believed before any reading, all
assumed. Readings move it as far as they can tell (maximum a posteriori; bounded
least squares); the bars are those of what is believed then (`posterior`). What
readings cannot tell keeps its prior, is said, and still widens the other bars.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from hayweather.farm.records import Farm, Tuning
from hayweather.learning.knobs import KNOBS, NAMES, Knob
from hayweather.learning.logs import FieldReading
from hayweather.learning.posterior import Belief, believe
from hayweather.learning.problem import SEED, Problem, covariance_of, problem_of, scatter_of, solve
from hayweather.weather.record import Floats, HourlyWeather

Status = Literal["fitted", "unclear", "alike", "needs_skin", "needs_rig"]

TOO_WIDE = 0.75  # of the prior's bar: a number known no better than that keeps its prior
ALIKE = 0.95  # correlation of two numbers' errors from which they cannot be told apart
BAR_LEVELS = (0.025, 0.975)
BAR = 1.96  # standard deviations of a prior on either side of its middle that hold 95 %


@dataclass(frozen=True)
class Fitted:
    """What became of one number.

    Attributes
    ----------
    knob
        The number.
    value, low, high
        Its value and 95 % bar; the prior's where it was kept.
    share
        Width of the bar beside the prior's [-].
    status
        Fitted; kept because readings cannot tell; kept because they are of the
        wrong kind.
    """

    knob: Knob
    value: float
    low: float
    high: float
    share: float
    status: Status


@dataclass(frozen=True)
class Fit:
    """Result of a tuning.

    Attributes
    ----------
    fitted
        Every number, in the order of `KNOBS`.
    used, left_out
        Readings that were used, and that the weather does not reach.
    nights
        Nights that they belong to.
    before, after
        Root mean square of reading less model, with nothing tuned and tuned, in
        standard errors of the readings [-].
    scatter
        How much more the readings scatter than their errors say, at least 1; the
        bars are that much wider.
    bales
        How many of them were bales, which read dew high.
    """

    fitted: tuple[Fitted, ...]
    used: int
    left_out: int
    nights: int
    before: float
    after: float
    scatter: float
    bales: int

    @property
    def told(self) -> tuple[Fitted, ...]:
        """What the readings could tell."""
        return tuple(item for item in self.fitted if item.status == "fitted")

    @property
    def tuning(self) -> Tuning:
        """The tuning to use: fitted numbers, defaults elsewhere."""
        return replace(Tuning(), **{item.knob.attribute: item.value for item in self.told})


def prior_bar(knob: Knob) -> tuple[float, float]:
    """What is believed of a number before any reading, 95 %, within its bounds.

    Parameters
    ----------
    knob
        A number that readings can tell.
    """
    low, high = (knob.value(side * BAR) for side in (-1, 1))
    return max(low, knob.low), min(high, knob.high)


def fit(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    readings: Sequence[FieldReading],
    *,
    at_field: bool = False,
) -> Fit:
    """Fit the windrow to readings; hay is taken as cured, any tuning now in the farm is ignored.

    Parameters
    ----------
    farm
        The farm.
    weather
        Past hourly weather by site name.
    readings
        Of its fields.
    at_field
        True where the weather was measured beside the windrow, so that readings
        are off by the meter alone; else the errors of an hourly forecast are
        added, as assumed for the members of an outlook.

    Raises
    ------
    InputError
        If the weather reaches none of the readings.
    """
    problem = problem_of(farm, weather, readings, at_field=at_field)
    start = np.zeros(len(KNOBS))
    misfit, _ = problem.at(start)
    before = float(np.sqrt((misfit**2).mean()))
    statuses = _by_kind(problem.used)
    free = np.array([statuses.get(name) is None for name in NAMES])
    z = solve(problem, start, free)
    problem.scatter = scatter_of(problem, z, free)
    belief = believe(problem.squares, z, covariance_of(problem, z), SEED)
    _refuse(belief, free, statuses)
    z = solve(problem, np.where(free, z, 0.0), free)
    return _result(problem, z, belief, statuses, len(readings), before)


def _by_kind(readings: Sequence[FieldReading]) -> dict[str, Status]:
    """Numbers that no reading of these kinds can tell, whatever their count."""
    statuses: dict[str, Status] = {}
    if not any(reading.kind == "skin" for reading in readings):
        statuses["sky_view"] = "needs_skin"
    if not any(reading.water_l_t for reading in readings):
        statuses["rig_efficiency"] = "needs_rig"
    return statuses


def _refuse(belief: Belief, free: np.ndarray, statuses: dict[str, Status]) -> None:
    """Take from `free`, and note, what readings cannot tell, or cannot tell apart."""
    covariance = belief.covariance()
    errors = np.sqrt(np.diag(covariance))
    ties = np.abs(covariance / np.outer(errors, errors)) - np.eye(errors.size)
    for row in np.flatnonzero(free):
        others = free & (ties[row] > ALIKE)
        if errors[row] > TOO_WIDE or others.any():
            statuses[NAMES[row]] = "unclear" if errors[row] > TOO_WIDE else "alike"
    free &= np.array([statuses.get(name) is None for name in NAMES])


def _result(
    problem: Problem,
    z: Floats,
    belief: Belief,
    statuses: Mapping[str, Status],
    given: int,
    before: float,
) -> Fit:
    """The numbers with their bars, and how well the readings are met."""
    low, high = belief.quantiles(BAR_LEVELS)
    misfit = problem.at(z)[0] * problem.scatter
    used = problem.used
    return Fit(
        fitted=tuple(
            _fitted(knob, float(at), (float(under), float(over)), statuses.get(knob.name, "fitted"))
            for knob, at, under, over in zip(KNOBS, z, low, high, strict=True)
        ),
        used=len(used),
        left_out=given - len(used),
        nights=problem.nights_used,
        before=before,
        after=float(np.sqrt((misfit**2).mean())),
        scatter=problem.scatter,
        bales=sum(reading.kind == "bale" for reading in used),
    )


def _fitted(knob: Knob, z: float, bar: tuple[float, float], status: Status) -> Fitted:
    """One number with its 95 % bar, within its bounds; the prior's where it was kept."""
    low, high = bar if status == "fitted" else (-BAR, BAR)
    low, high = min(low, z), max(high, z)
    ends = (max(knob.value(low), knob.low), min(knob.value(high), knob.high))
    return Fitted(knob, knob.value(z), *ends, (high - low) / (2 * BAR), status)
