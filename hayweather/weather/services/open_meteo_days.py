"""Days to pull, and what pulling them counts against the allowance of the free API.

Free use ends at 10,000 calls a day, 5,000 an hour, 600 a minute.
"""

from __future__ import annotations

from datetime import date

import numpy as np

from hayweather.errors import OptionError

FIRST_YEAR = 1940


def days_with_past(first: date, last: date, now: np.datetime64) -> tuple[date, date]:
    """The days asked for, up to today and not before the service's first year.

    Raises
    ------
    OptionError
        If no day is left.
    """
    today: date = now.astype("datetime64[D]").item()
    if first.year < FIRST_YEAR or first > min(last, today):
        raise OptionError(
            "service_days", "--years", value=f"{first} - {last}", first=FIRST_YEAR, last=today
        )
    return first, min(last, today)


def years_between(first: date, last: date) -> list[tuple[date, date]]:
    """Whole days from `first` to `last`, cut at the turn of each year.

    Examples
    --------
    >>> [f"{a}/{b}" for a, b in years_between(date(2022, 5, 1), date(2023, 9, 30))]
    ['2022-05-01/2022-12-31', '2023-01-01/2023-09-30']
    """
    if last < first:
        raise ValueError(f"{last} is before {first}")
    return [
        (max(first, date(year, 1, 1)), min(last, date(year, 12, 31)))
        for year in range(first.year, last.year + 1)
    ]


def cost_in_calls(variables: int, days: int, *, runs: int = 1, places: int = 1) -> float:
    """What one request counts against the daily allowance of the free API [calls].

    Ten columns over two weeks are one call, more of either counts in
    proportion, and nothing counts less than one; every run of a set counts as
    columns of its own. The rule is the service's, from memory: an estimate.

    Examples
    --------
    >>> round(cost_in_calls(10, 365), 1)
    26.1
    """
    share = variables * runs / 10
    return max(1.0, share, share * days / 14) * places
