"""What owning a machine costs a year, and how much work pays for it."""

from __future__ import annotations


def capital_recovery(price: float, salvage: float, interest: float, years: float) -> float:
    """Yearly cost of owning a machine: capital recovery of price less salvage, interest on salvage.

    ``(P - S) i (1+i)^n / ((1+i)^n - 1) + S i`` (published); interest as a
    fraction a year, 0 for plain shares.

    Parameters
    ----------
    price, salvage
        In any currency.
    interest
        Fraction a year, 0 or more.
    years
        Of use, above 0.

    Examples
    --------
    >>> round(capital_recovery(50_000, 5_000, 0.10, 5))
    12371
    >>> round(capital_recovery(130_000, 34_500, 0.08, 15))
    13917
    """
    if interest == 0:
        return (price - salvage) / years
    growth = (1 + interest) ** years
    return (price - salvage) * interest * growth / (growth - 1) + salvage * interest


def break_even(fixed: float, gain: float, variable: float) -> float:
    """How much pays for the fixed cost; infinite where the gain does not pass the variable cost.

    Parameters
    ----------
    fixed
        Cost a year, in any currency.
    gain, variable
        By the same amount of hay, or by the hour.

    Examples
    --------
    >>> round(break_even(1000.0, 21.0, 4.0), 1)
    58.8
    """
    return fixed / (gain - variable) if gain > variable else float("inf")
