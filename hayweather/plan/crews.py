"""When crews work: their shifts, and their rest in one piece.

A crew keeps the same hours every day. Where a crew's hours leave no rest of
the length the farm asks for, the hours of the day that bring least are taken
off for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from hayweather.baling.clock import to_local
from hayweather.farm.records import Shift
from hayweather.plan.task import DAY_SLOTS, SLOT_MINUTES
from hayweather.weather.record import Booleans, Floats, Times

ALL_DAY = Shift(0, 24 * 60)


@dataclass(frozen=True)
class Crews:
    """Who may work when.

    Attributes
    ----------
    names
        Of the crews, in the order of the farm file.
    works
        Which half hours of the local day each works, (crews, 48).
    rests
        Minutes after local midnight from which hours were taken off for rest,
        and to which; None for a crew whose hours leave rest enough.
    """

    names: tuple[str, ...]
    works: Booleans
    rests: tuple[tuple[int, int] | None, ...]

    def may_work(self, slots: Times, timezone: str) -> Booleans:
        """True in slots (UTC starts) in which some crew works."""
        someone = np.asarray(self.works.any(axis=0))
        last = slots + np.timedelta64(SLOT_MINUTES - 1, "m")  # clocks off by a quarter hour
        both = someone[slot_of_day(slots, timezone)] & someone[slot_of_day(last, timezone)]
        return np.asarray(both)


def slot_of_day(slots: Times, timezone: str) -> np.ndarray:
    """Half hour of the local day of UTC times, 0 to 47."""
    return np.array([_half_hour(to_local(time, timezone)) for time in slots], dtype=np.int64)


def _half_hour(local: datetime) -> int:
    """Half hour of the day."""
    return (60 * local.hour + local.minute) // SLOT_MINUTES


def crews_of(shifts: Sequence[Shift], rest_h: float, worth: Floats) -> Crews:
    """The crews of a farm, each with its rest.

    Parameters
    ----------
    shifts
        As the farm file says; none for people who work at any hour.
    rest_h
        Rest in one piece, the longest move between fields included.
    worth
        What each half hour of the day is worth, (48,).
    """
    by_name: dict[str, Booleans] = {}
    for number, shift in enumerate(shifts or (ALL_DAY,)):
        name = shift.crew or str(number + 1)
        hours = by_name.setdefault(name, np.zeros(DAY_SLOTS, dtype=bool))
        hours |= _hours(shift)
    found = [_rested(hours, rest_h, worth) for hours in by_name.values()]
    works = np.stack([hours for hours, _ in found])
    return Crews(tuple(by_name), works, tuple(rest for _, rest in found))


def _hours(shift: Shift) -> Booleans:
    """Half hours that lie wholly within a shift."""
    length = (shift.end_minute - shift.start_minute) % (24 * 60) or 24 * 60
    starts = SLOT_MINUTES * np.arange(DAY_SLOTS)
    since = (starts - shift.start_minute) % (24 * 60)
    return np.asarray(since + SLOT_MINUTES <= length)


def _rested(
    hours: Booleans, rest_h: float, worth: Floats
) -> tuple[Booleans, tuple[int, int] | None]:
    """Hours of a crew with a rest in them, and the rest where it had to be made."""
    need = min(int(np.ceil(rest_h * 60 / SLOT_MINUTES - 1e-9)), DAY_SLOTS)
    if need == 0 or _longest_gap(hours) >= need:
        return hours, None
    turned = np.stack([np.roll(np.arange(DAY_SLOTS) < need, k) for k in range(DAY_SLOTS)])
    lost = (turned * np.where(hours, worth, 0.0)).sum(axis=1)
    first = int(lost.argmin())
    rest = (first * SLOT_MINUTES, (first + need) % DAY_SLOTS * SLOT_MINUTES)
    return hours & ~turned[first], rest


def _longest_gap(hours: Booleans) -> int:
    """Longest run of half hours off, round the clock."""
    if not hours.any():
        return DAY_SLOTS
    on = np.flatnonzero(np.concatenate([hours, hours]))
    return int(np.diff(on).max()) - 1
