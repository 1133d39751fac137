"""State, then advice: the likeliest call of the runs, and whether to go, probe first or wait.

A quarter has the likeliest call of its runs, an hour the likeliest of its
quarters. Beside the call stands one piece of advice. Go: ready in at least 40 in
100 of the runs, and too wet or not cured in at most 15. Probe first: ready in at
least a quarter of them. Else wait. What nobody knows is unknown.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import AS_IT_LIES, BALED, CAUTIOUS_FIRST, DANGER, Call
from hayweather.farm.records import Farm
from hayweather.weather.record import Booleans, Floats


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


@dataclass(frozen=True)
class Risk:
    """When the hay counts as sure enough, ``[risk]`` of the farm file.

    Set in the made-up world of ``tests/twin`` (``python -m twin --advice``), so that
    of the hours told go about one in ten turns out too wet, and fewer after a reading.

    Attributes
    ----------
    ready
        Least chance of ready hay for go [-].
    wet
        Largest chance of too wet or not cured for go [-].
    probe
        Least chance of ready hay for probe first [-].
    """

    ready: float = 0.4
    wet: float = 0.15
    probe: float = 0.25

    @classmethod
    def of(cls, farm: Farm) -> Risk:
        """Those of a farm file."""
        usual, asked = cls(), farm.risk
        ready, wet = asked.ready_percent, asked.wet_percent
        least = usual.ready if ready is None else ready / 100
        most = usual.wet if wet is None else wet / 100
        return cls(least, most, min(usual.probe, least))


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

    def between(self, rows: slice) -> Odds:
        """Those of some quarters."""
        return Odds(self.ready[rows], self.wet[rows], self.known[rows])


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


def advise(
    odds: Odds, risk: Risk, stopped: Booleans, *, most: Advice = Advice.GO
) -> NDArray[np.int8]:
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


def held_longest(advice: NDArray[np.int8], call: Call) -> Advice:
    """The advice of an hour: that of most of its quarters; of equals the more cautious.

    Go stands only beside a call that can be baled.

    Parameters
    ----------
    advice
        Of its quarters.
    call
        Of the hour.
    """
    if call == Call.NO_DATA:
        return Advice.UNKNOWN
    held = np.bincount(advice, minlength=len(Advice))
    found = max(sorted(Advice), key=lambda item: held[item])
    return Advice.PROBE_FIRST if found == Advice.GO and call not in BALED else found
