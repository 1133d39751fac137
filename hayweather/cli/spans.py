"""Spans of years and months as options give them."""

from __future__ import annotations

from hayweather.errors import OptionError

MOST_OVER_NEW_YEAR = 6


def years_of(text: str) -> tuple[int, int]:
    """First and last year of ``A:B`` or ``A``.

    Raises
    ------
    OptionError
        If it is none, or the first comes after the last.
    """
    begin, _, end = text.partition(":")
    shown = " ".join(text.split())[:40]
    try:
        first, last = int(begin), int(end or begin)
    except ValueError:
        raise OptionError("seasons_years_unread", "--years", value=shown) from None
    if not 1800 <= first <= last <= 2200:
        raise OptionError("seasons_years_unread", "--years", value=shown)
    return first, last


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
    begin, _, end = text.partition(":")
    try:
        first, last = int(begin), int(end or begin)
    except ValueError:
        first = last = 0
    if not (1 <= first <= 12 and 1 <= last <= 12):
        shown = " ".join(text.split())[:40]
        raise OptionError("seasons_months_unread", "--months", value=shown)
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
