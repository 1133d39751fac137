"""State, then advice: the likeliest call of the runs, and whether to go, probe first or wait.

A quarter has the likeliest call of its runs, an hour the likeliest of its
quarters. Beside the call stands one piece of advice. Go: ready in at least half
of the runs, and too wet or not cured in at most one in five. Probe first: ready
in at least a quarter of them. Else wait. What nobody knows is unknown.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Booleans, Floats


class Call(IntEnum):
    """What the hay is; the words stand in the text table as ``call_<name>``."""

    NO_DATA = 0
    NOT_CURED = 1
    TOO_WET = 2
    NATURAL_DEW = 3
    ADD_MOISTURE = 4
    TOO_DRY = 5
    READY = 6
    DAMP_BELOW = 7

    @property
    def word(self) -> str:
        """The word used in data: ``"natural dew"``."""
        return self.name.lower().replace("_", " ")


class Advice(IntEnum):
    """What to do; the words stand in the text table as ``advice_<name>``."""

    UNKNOWN = 0
    WAIT = 1
    PROBE_FIRST = 2
    GO = 3

    @property
    def word(self) -> str:
        """The word used in data: ``"probe first"``."""
        return self.name.lower().replace("_", " ")


class Cause(IntEnum):
    """What brought most of the water that the hay has gained since it was driest."""

    DRYING = 0
    DEW = 1
    HUMID_AIR = 2
    DAMP_GROUND = 3
    RAIN = 4

    @property
    def word(self) -> str:
        """The word used in data: ``"humid air"``."""
        return self.name.lower().replace("_", " ")


AS_IT_LIES = (Call.NATURAL_DEW, Call.READY)
"""Ready without anything added."""
BALED = (Call.NATURAL_DEW, Call.READY, Call.ADD_MOISTURE)
"""Calls that a window may have."""
DANGER = (Call.TOO_WET, Call.NOT_CURED)
"""Calls that mould, or burn a stack."""
CAUTIOUS_FIRST = (
    Call.NO_DATA,
    Call.NOT_CURED,
    Call.TOO_WET,
    Call.DAMP_BELOW,
    Call.TOO_DRY,
    Call.ADD_MOISTURE,
    Call.READY,
    Call.NATURAL_DEW,
)
"""Of calls that are equally likely the first of these is shown."""


@dataclass(frozen=True)
class Risk:
    """When the hay counts as sure enough, ``[risk]`` of the farm file; all assumed.

    Attributes
    ----------
    ready
        Least chance of ready hay for go [-].
    wet
        Largest chance of too wet or not cured for go [-].
    probe
        Least chance of ready hay for probe first [-].
    """

    ready: float = 0.5
    wet: float = 0.2
    probe: float = 0.25


def likeliest(chances: Floats) -> NDArray[np.int8]:
    """The likeliest call in every quarter or hour; of equals the most cautious.

    Parameters
    ----------
    chances
        Of each call, (8, ...).
    """
    order = np.array(CAUTIOUS_FIRST, dtype=np.int8)
    # Sums of weights differ in their last digits; equal chances are to stay equal.
    return np.asarray(order[chances[order].round(9).argmax(axis=0)], dtype=np.int8)


@dataclass(frozen=True)
class Odds:
    """Chances that an advice rests on, each (quarters,).

    Attributes
    ----------
    ready
        That the hay can be baled in the way meant.
    wet
        That it is too wet or not cured then.
    known
        True where any run is known.
    """

    ready: Floats
    wet: Floats
    known: Booleans


def odds_as_it_lies(chances: Floats) -> Odds:
    """Odds of baling the hay as it lies.

    Parameters
    ----------
    chances
        Of each call, (8, quarters).
    """
    return Odds(
        ready=chances[list(AS_IT_LIES)].sum(axis=0),
        wet=chances[list(DANGER)].sum(axis=0),
        known=chances[Call.NO_DATA] < 1,
    )


def advise(odds: Odds, risk: Risk, stopped: Booleans, *, most: Advice = Advice.GO) -> NDArray:
    """The advice of every quarter, (quarters,) of `Advice`.

    Parameters
    ----------
    odds
        Chances that count.
    risk
        Limits of the farm.
    stopped
        Quarters in which work stops: wait, whatever the hay is.
    most
        The boldest that may be said: probe first where the grower has not said
        that the hay is cured, or where rain is not known.
    """
    # A chance of exactly the limit counts as reached, whatever its last digits.
    slack = 1e-9
    go = (odds.ready >= risk.ready - slack) & (odds.wet <= risk.wet + slack)
    probe = odds.ready >= risk.probe - slack
    advice = np.where(
        go, int(Advice.GO), np.where(probe, int(Advice.PROBE_FIRST), int(Advice.WAIT))
    )
    advice = np.minimum(advice, int(most))
    advice = np.where(stopped, int(Advice.WAIT), advice)
    return np.where(odds.known, advice, int(Advice.UNKNOWN)).astype(np.int8)


LEAST_GAIN_DB = 0.002
"""A gain since the driest moment below this is no gain: the hay still dries [kg/kg] (assumed)."""


def cause_of(water_db: Floats, sources: dict[Cause, Floats], since: int) -> NDArray[np.int8]:
    """What brought the water that the hay holds above its driest moment, (quarters, lanes).

    Parameters
    ----------
    water_db
        All water of the windrow at quarter boundaries [kg/kg], (quarters + 1, lanes).
    sources
        Water that each source brought in every quarter, net and in one unit,
        (quarters, lanes); every cause but drying.
    since
        How many quarters back the driest moment is looked for.

    Returns
    -------
    ndarray
        `Cause` of the middle of each quarter; drying where nothing was gained.
    """
    quarters, lanes = water_db.shape[0] - 1, water_db.shape[1]
    driest = _driest_row(water_db, since)
    columns = np.arange(lanes)
    now = (water_db[:-1] + water_db[1:]) / 2
    order = (Cause.DEW, Cause.HUMID_AIR, Cause.DAMP_GROUND, Cause.RAIN)
    gains = []
    for cause in order:
        total = np.concatenate(
            [np.zeros((1, lanes)), np.cumsum(np.nan_to_num(sources[cause]), axis=0)]
        )
        middle = (total[:-1] + total[1:]) / 2
        gains.append(middle - total[driest, columns[None, :]])
    gained = np.stack(gains)
    best = np.array([int(cause) for cause in order], dtype=np.int8)[gained.argmax(axis=0)]
    none = (now - water_db[driest, columns[None, :]] < LEAST_GAIN_DB) | (gained.max(axis=0) <= 0)
    assert best.shape == (quarters, lanes)
    return np.where(none, np.int8(Cause.DRYING), best)


def _driest_row(water_db: Floats, since: int) -> NDArray[np.int64]:
    """Row of the driest boundary among the last `since` up to each quarter, (quarters, lanes)."""
    quarters, lanes = water_db.shape[0] - 1, water_db.shape[1]
    found = np.zeros((quarters, lanes), dtype=np.int64)
    filled = np.where(np.isnan(water_db), np.inf, water_db)
    best = np.zeros(lanes, dtype=np.int64)
    columns = np.arange(lanes)
    for row in range(quarters):
        first = max(row - since, 0)
        # What lies too far back is looked for anew, else one comparison is enough.
        stale = best < first
        if stale.any():
            window = filled[first : row + 1][:, stale]
            best[stale] = first + window.shape[0] - 1 - window[::-1].argmin(axis=0)
        drier = filled[row] <= filled[best, columns]
        best = np.where(drier, row, best)
        found[row] = best
    return found
