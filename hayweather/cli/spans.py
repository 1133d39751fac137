"""Spans of years and months as options give them."""

from __future__ import annotations

from datetime import date, timedelta

from hayweather.cli.options import as_given
from hayweather.errors import OptionError

MOST_OVER_NEW_YEAR = 6
FIRST_YEAR, LAST_YEAR = 1800, 2200


def years_of(text: str) -> tuple[int, int]:
    """First and last year of ``A:B`` or ``A``.

    Raises
    ------
    OptionError
        If it is none, or the first comes after the last.
    """
    ends = _ends(text)
    if ends is None or not FIRST_YEAR <= ends[0] <= ends[1] <= LAST_YEAR:
        raise OptionError("seasons_years_unread", "--years", value=as_given(text))
    return ends


def days_of(years: str, today: date) -> tuple[date, date]:
    """First and last day of ``A:B`` or ``A``; this year ends yesterday.

    Raises
    ------
    OptionError
        If these are no years, or none of them has begun.
    """
    ends = _ends(years)
    if ends is None or not all(FIRST_YEAR <= year <= LAST_YEAR for year in ends):
        raise OptionError("years_unread", "--years", value=as_given(years))
    first, last = date(ends[0], 1, 1), date(ends[1], 12, 31)
    if not first <= last or first >= today:
        raise OptionError("years_order", "--years", value=as_given(years), today=today.year)
    return first, min(last, today - timedelta(days=1))


def months_of(text: str) -> tuple[int, ...]:
    """Months of ``A:B`` or ``A``; over the new year where the first is the larger.

    Raises
    ------
    OptionError
        If it is no span of months, or one over the new year so long that it
        will be meant the other way round.

    Examples
    --------
    >>> months_of("11:2")
    (11, 12, 1, 2)
    """
    first, last = _ends(text) or (0, 0)
    if not (1 <= first <= 12 and 1 <= last <= 12):
        raise OptionError("seasons_months_unread", "--months", value=as_given(text))
    if first <= last:
        return tuple(range(first, last + 1))
    found = (*range(first, 13), *range(1, last + 1))
    if len(found) > MOST_OVER_NEW_YEAR:
        raise OptionError(
            "seasons_months_many",
            "--months",
            value=f"{first}:{last}",
            count=len(found),
            most=MOST_OVER_NEW_YEAR,
            other=f"{last}:{first}",
        )
    return found


def _ends(text: str) -> tuple[int, int] | None:
    """The numbers of ``A:B`` or ``A``; None where they are none."""
    begin, _, end = text.partition(":")
    try:
        return int(begin), int(end or begin)
    except ValueError:
        return None
