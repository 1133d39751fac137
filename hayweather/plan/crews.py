"""Who works when: crews, their rest in one piece, shifts on the calendar, relief.

A crew keeps the same hours every day. Where its hours leave no rest of the
length the farm asks for, the hours of the day that bring least are taken off
for it. Awake for 18 hours is like 0.05 % of alcohol in the blood, for 24 hours
like 0.10 % (US CDC, quoted by Clemson University, published).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.baling.clock import to_local, to_utc
from hayweather.farm.records import Farm, Shift
from hayweather.plan.sheet_record import Piece
from hayweather.plan.task import DAY_QUARTERS
from hayweather.weather.record import HOUR, Booleans, Floats, Times
from hayweather.words import Remark

QUARTER_MINUTES = 15
ALL_DAY = Shift(0, 24 * 60)


@dataclass(frozen=True)
class Crews:
    """Who may work when.

    Attributes
    ----------
    names
        Of the crews, in the order of the farm file.
    works
        Which quarters of the local day each works, (crews, 96).
    rests
        Minutes after local midnight from which hours were taken off for rest,
        and to which; None for a crew whose hours leave rest enough.
    need
        Quarters of rest in one piece; 0: none is asked for.
    """

    names: tuple[str, ...]
    works: Booleans
    rests: tuple[tuple[int, int] | None, ...]
    need: int = 0

    def may_work(self, starts: Times, timezone: str) -> Booleans:
        """True in quarters (UTC starts, one after the other) in which some crew works.

        In the night of a clock change the hours of the clock hold an hour of rest less,
        or of work more: there a crew begins later, or ends sooner.
        """
        works = self.works[:, quarter_of_day(starts, timezone)]
        if self.need:
            works = np.stack([_rested_in_time(on, self.need) for on in works])
        return np.asarray(works.any(axis=0))


def quarter_of_day(starts: Times, timezone: str) -> np.ndarray:
    """Quarter of the local day of UTC times, 0 to 95."""
    local = [to_local(time, timezone) for time in starts]
    quarters = [(60 * time.hour + time.minute) // QUARTER_MINUTES for time in local]
    return np.array(quarters, dtype=np.int64)


def crews_of(shifts: Sequence[Shift], rest_h: float, worth: Floats) -> Crews:
    """The crews of a farm, each with its rest.

    Parameters
    ----------
    shifts
        As the farm file says; none for people who work at any hour.
    rest_h
        Rest in one piece, the longest move between fields included.
    worth
        What each quarter of the day is worth, (96,).
    """
    by_name: dict[str, Booleans] = {}
    for number, shift in enumerate(shifts or (ALL_DAY,)):
        name = shift.crew or str(number + 1)
        hours = by_name.setdefault(name, np.zeros(DAY_QUARTERS, dtype=bool))
        hours |= _hours(shift)
    found = [_rested(hours, rest_h, worth) for hours in by_name.values()]
    works = np.stack([hours for hours, _ in found])
    need = int(np.ceil(rest_h * 60 / QUARTER_MINUTES - 1e-9))
    need = need if need < DAY_QUARTERS else 0
    return Crews(tuple(by_name), works, tuple(rest for _, rest in found), need)


def _rested_in_time(hours: Booleans, need: int) -> Booleans:
    """Hours of one crew in quarters that pass, at most 24 h less the rest between two rests."""
    may, begin, off = hours.copy(), 0, need
    for quarter, on in enumerate(hours):
        if on and off >= need:
            begin = quarter
        may[quarter] = on and quarter - begin < DAY_QUARTERS - need
        off = 0 if may[quarter] else off + 1
    return may


def _hours(shift: Shift) -> Booleans:
    """Quarters of the day that lie wholly within a shift."""
    length = (shift.end_minute - shift.start_minute) % (24 * 60) or 24 * 60
    starts = QUARTER_MINUTES * np.arange(DAY_QUARTERS)
    since = (starts - shift.start_minute) % (24 * 60)
    return np.asarray(since + QUARTER_MINUTES <= length)


def _rested(
    hours: Booleans, rest_h: float, worth: Floats
) -> tuple[Booleans, tuple[int, int] | None]:
    """Hours of a crew with a rest in them, and the rest where it had to be made."""
    need = min(int(np.ceil(rest_h * 60 / QUARTER_MINUTES - 1e-9)), DAY_QUARTERS)
    if need == 0 or _longest_gap(hours) >= need:
        return hours, None
    turned = np.stack([np.roll(np.arange(DAY_QUARTERS) < need, k) for k in range(DAY_QUARTERS)])
    lost = (turned * np.where(hours, worth, 0.0)).sum(axis=1)
    first = int(lost.argmin())
    rest = (first * QUARTER_MINUTES, (first + need) % DAY_QUARTERS * QUARTER_MINUTES)
    return hours & ~turned[first], rest


def _longest_gap(hours: Booleans) -> int:
    """Longest run of quarters off, round the clock."""
    if not hours.any():
        return DAY_QUARTERS
    on = np.flatnonzero(np.concatenate([hours, hours]))
    return int(np.diff(on).max()) - 1


AWAKE_H = 18
DAY_H = 24.0
UP_AT = 6  # local clock: when people rise on a working day (assumed)


@dataclass(frozen=True)
class Duty:
    """One crew's shift of one day, UTC."""

    start: np.datetime64
    end: np.datetime64
    crew: str

    @property
    def hours(self) -> float:
        """Length [h]."""
        return float((self.end - self.start) / HOUR)


def duties_of(
    farm: Farm, timezone: str, first: np.datetime64, last: np.datetime64
) -> list[Duty] | None:
    """Shifts from the day before `first` to `last`, in order; None where the farm names none.

    Parameters
    ----------
    farm
        The farm; its shifts are of the local clock.
    timezone
        Of the field's site.
    first, last
        UTC.
    """
    if not farm.shifts:
        return None
    begin = first - int(DAY_H) * HOUR
    day, end = (to_local(time, timezone).date() for time in (begin, last))
    day -= timedelta(days=1)
    found = []
    while day <= end:
        found += [_on(shift, day, timezone) for shift in farm.shifts]
        day += timedelta(days=1)
    return sorted((d for d in found if d.end > begin and d.start < last), key=lambda d: d.start)


def _on(shift: Shift, day: date, timezone: str) -> Duty:
    """A shift that begins on a day."""
    later = shift.end_minute <= shift.start_minute
    start, end = (
        _at(day + timedelta(days=int(next_day)), minute, timezone)
        for next_day, minute in ((False, shift.start_minute), (later, shift.end_minute))
    )
    return Duty(start, end, shift.crew)


def _at(day: date, minute: int, timezone: str) -> np.datetime64:
    """A time of the local clock as UTC."""
    hour, rest = divmod(minute, 60)
    return to_utc(datetime(day.year, day.month, day.day, hour, rest, tzinfo=ZoneInfo(timezone)))


def duty_at(duties: Sequence[Duty] | None, time: np.datetime64) -> Duty | None:
    """Who works at a time; None where nobody does, or no shifts are named."""
    return next((duty for duty in duties or () if duty.start <= time < duty.end), None)


def relief_remarks(
    pieces: Sequence[Piece], duties: Sequence[Duty] | None, farm: Farm, timezone: str
) -> tuple[Remark, ...]:
    """When crews are relieved, and who has been up too long.

    Parameters
    ----------
    pieces
        Of the run sheet, in order.
    duties
        From `duties_of`.
    farm
        Its rest in one piece.
    timezone
        Of the field's site.
    """
    if not pieces:
        return ()
    if duties is None:
        return _awake(pieces, timezone)
    working = [duty for duty in duties if any(_in(piece, duty) for piece in pieces)]
    return (*_hand_overs(working), *_long(working, farm.rest_h), *_rests(duties, working, farm))


def _in(piece: Piece, duty: Duty) -> bool:
    """Whether a piece lies in a duty."""
    return bool(piece.start < duty.end and duty.start < piece.end)


def _awake(pieces: Sequence[Piece], timezone: str) -> tuple[Remark, ...]:
    """Who rose in the morning and still works after midnight."""
    for piece in pieces:
        local = to_local(piece.end, timezone)
        since = (local.hour + local.minute / 60 - UP_AT) % DAY_H
        if since > AWAKE_H:
            day = local.date() - timedelta(days=1)
            up = _at(day, 60 * UP_AT, timezone)
            times: dict[str, object] = {"up": up, "time": up + AWAKE_H * HOUR}
            return (Remark("relief_awake", {**times, "whole": up + int(DAY_H) * HOUR}),)
    return ()


def _hand_overs(working: Sequence[Duty]) -> list[Remark]:
    """Where one crew follows another."""
    remarks = []
    for before, after in zip([None, *working], working, strict=False):
        crew: dict[str, object] = {"crew": _name(after), "time": after.start}
        if before is not None and before.end == after.start and before.crew != after.crew:
            remarks.append(Remark("relief_by", {**crew, "before": _name(before)}))
    return remarks


def _long(working: Sequence[Duty], rest_h: float) -> list[Remark]:
    """Shifts too long for the rest."""
    remarks = []
    for duty in working:
        if duty.hours > DAY_H - rest_h:
            until = duty.start + np.timedelta64(round(3600 * (DAY_H - rest_h)), "s")
            values = {"crew": _name(duty), "time": until, "rest": (rest_h, "hours")}
            remarks.append(Remark("relief_long", values))
    return remarks


def _rests(duties: Sequence[Duty], working: Sequence[Duty], farm: Farm) -> list[Remark]:
    """Crews that come back before they have rested."""
    remarks = []
    for duty in working:
        earlier = [d for d in duties if d.crew == duty.crew and d.crew and d.end <= duty.start]
        if not earlier:
            continue
        rest = float((duty.start - max(d.end for d in earlier)) / HOUR)
        if rest < farm.rest_h:
            values: dict[str, object] = {"crew": _name(duty), "time": duty.start}
            amounts = {"hours": (rest, "hours"), "rest": (farm.rest_h, "hours")}
            remarks.append(Remark("relief_rest", {**values, **amounts}))
    return remarks


def _name(duty: Duty) -> object:
    """A crew's name, or what stands for it."""
    return duty.crew or Remark("relief_crew")
