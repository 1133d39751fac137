"""What the range of the loss of leaf does to a finished plan."""

from __future__ import annotations

from hayweather.baling.value import loss_ends
from hayweather.plan.case import Case, case_of
from hayweather.plan.task import Schedule


def gain_range(case: Case, schedule: Schedule, gain: float) -> tuple[float, float]:
    """What the same work brings with the least and with the most loss of leaf, least loss first.

    Both beside leaving everything, valued with the same loss: hay left to lie is
    baled dry later, and loses leaf too.

    Parameters
    ----------
    case, schedule
        The farm as a task with the usual loss, and what every baler does.
    gain
        What the plan is said to bring; what does not hang on leaf stays in it.
    """
    if case.prices is None:
        raise ValueError("a plan without prices has no gain in money")
    usual = float(case.member_gains(schedule).mean())
    least, most = (
        gain + float(case_of(case.night, end).member_gains(schedule).mean()) - usual
        for end in loss_ends(case.prices)
    )
    return least, most
