"""A pull of many past hours: what it will ask, what that counts, at which pace."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from hayweather.farm.records import Site
from hayweather.weather.services.answers import open_access
from hayweather.weather.services.open_meteo import PAST, Progress, past_requests
from hayweather.weather.services.open_meteo_days import cost_in_calls
from hayweather.weather.services.settings import ServiceSettings
from hayweather.weather.store import StoredAnswer

# What the free API allows, by its terms.
CALLS_A_DAY = 10_000
CALLS_AN_HOUR = 5_000
CALLS_A_MINUTE = 600


@dataclass(frozen=True)
class Pull:
    """What a pull will ask.

    Attributes
    ----------
    costs
        What each piece counts against the allowance [calls], 0 where the store
        holds it for good.
    """

    costs: tuple[float, ...]

    @property
    def calls(self) -> float:
        """What the whole pull counts [calls]."""
        return sum(self.costs)

    @property
    def requests(self) -> int:
        """How many pieces have to be asked for."""
        return sum(cost > 0 for cost in self.costs)


def pull_of(
    site: Site, first: date, last: date, settings: ServiceSettings, *, now: np.datetime64
) -> Pull:
    """What pulling the past hours of a place will ask, without asking anything.

    Parameters
    ----------
    site
        The place.
    first, last
        UTC days, both included.
    settings
        Its store says which pieces are there already.
    now
        UTC.

    Raises
    ------
    OptionError
        If there are no past hours between the two days.
    """
    access = open_access(settings, now=now, bulk=True)
    pieces = past_requests(access, site, first, last)
    return Pull(
        tuple(
            0.0 if _is_kept(access.store.load(request.identity).answer) else _cost(begin, end)
            for (begin, end), request in pieces.items()
        )
    )


def _is_kept(answer: StoredAnswer | None) -> bool:
    """True for a stored answer that is kept for good."""
    return answer is not None and answer.kept


def _cost(begin: date, end: date) -> float:
    """What the hours of some days count [calls]."""
    return cost_in_calls(len(PAST), (end - begin).days + 1)


def shortest_wait_s(calls: float, whole: float) -> float:
    """Time that `calls` of a pull of `whole` calls must take at least [s].

    A pull beyond the allowance of an hour keeps to that, a smaller one to the
    allowance of a minute.

    Parameters
    ----------
    calls
        What the next request counts as.
    whole
        What all of them count as.

    Examples
    --------
    >>> shortest_wait_s(60, 600), shortest_wait_s(50, 8000)
    (6.0, 36.0)
    """
    seconds = 60 / CALLS_A_MINUTE if whole <= CALLS_AN_HOUR else 3600 / CALLS_AN_HOUR
    return calls * seconds


def paced(
    progress: Progress,
    costs: Sequence[float],
    settings: ServiceSettings,
    *,
    clock: Callable[[], float] = time.monotonic,
) -> Progress:
    """`progress`, and between two pieces a wait that keeps to the free allowance.

    Parameters
    ----------
    progress
        Called first.
    costs
        Of the pieces, as in `Pull`.
    settings
        Users with a key are not held back.
    clock
        Seconds.
    """
    since = [clock()]

    def step(done: int, of: int) -> None:
        progress(done, of)
        needed = shortest_wait_s(costs[done - 1], sum(costs))
        wait = needed - (clock() - since[0])
        if settings.key is None and done < of and wait > 0:
            settings.sleep(wait)
        since[0] = clock()

    return step
