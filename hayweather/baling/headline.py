"""Facts of the first screen: what the night brings, in numbers for sentences."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import TURN_HOUR, Span, to_local, to_utc, turn_of
from hayweather.baling.course import Course
from hayweather.baling.setting import Setting
from hayweather.baling.windows import LOOK_BEFORE, Window
from hayweather.weather.record import HOUR
from hayweather.windrow.spread import VARIANTS
from hayweather.windrow.trajectory import QUARTER
from hayweather.words import Remark

CHECK_HOUR = 23  # local; when a look at the hay tells most
SHIFTED = ("drier", "damper", "warmer", "colder", "windier", "calmer", "cloudier")


@dataclass(frozen=True)
class Check:
    """What a moisture reading at `time` (UTC) should show, and what follows if not.

    Attributes
    ----------
    expected_wb
        By the forecast.
    low_wb, high_wb
        With drier and damper air, % wet basis.
    dew_if_drier, dew_if_damper
        UTC start of the first window on dew then; None where there is none.
    """

    time: np.datetime64
    expected_wb: float
    low_wb: float
    high_wb: float
    dew_if_drier: np.datetime64 | None
    dew_if_damper: np.datetime64 | None


@dataclass(frozen=True)
class Work:
    """What the hours of one call are worth at the baler's capacity; None where not known."""

    hours: float
    mass_kg: float | None
    area_m2: float | None


@dataclass(frozen=True)
class Headline:
    """Facts of the first screen.

    Attributes
    ----------
    evening
        Local date that names the night.
    turn
        UTC end of the night's hours: the next 14:00 local.
    dew, rig
        Windows before `turn`, on dew and with added moisture.
    dew_work, rig_work
        Hours, mass and area of these.
    check
        The one check rule; None where the night has passed.
    look_at
        UTC time to get up and look; None is "sleep".
    next_night
        Evening of the next night with a window on dew, where this has none and
        the weather reaches so far.
    doubt
        What would change the hours on dew most if the forecast is off.
    """

    evening: date
    turn: np.datetime64
    dew: tuple[Window, ...]
    rig: tuple[Window, ...]
    dew_work: Work
    rig_work: Work
    check: Check | None
    look_at: np.datetime64 | None
    next_night: date | None
    doubt: Remark | None


def headline_of(ahead: Course, setting: Setting, span: Span) -> Headline:
    """Facts of the first screen from the hours ahead.

    Parameters
    ----------
    ahead
        From the current hour to the end of the weather; lanes as
        `hayweather.windrow.spread.VARIANTS`.
    setting, span
        The field, and the hours asked for.
    """
    turn = turn_of(span.evening + timedelta(days=1), str(setting.site.timezone))
    tonight = [window for window in ahead.windows() if window.start < turn]
    dew = tuple(window for window in tonight if window.call == Call.NATURAL_DEW)
    rig = tuple(window for window in tonight if window.call == Call.ADD_MOISTURE)
    return Headline(
        evening=span.evening,
        turn=turn,
        dew=dew,
        rig=rig,
        dew_work=work_of(dew, setting),
        rig_work=work_of(rig, setting),
        check=_check(ahead, setting, span, turn),
        look_at=_look_at(ahead, span, turn) if dew else None,
        next_night=None if dew else _next_night(ahead, setting, turn),
        doubt=_doubt(ahead, turn),
    )


def work_of(windows: tuple[Window, ...], setting: Setting) -> Work:
    """Mass and area that the baler does in some windows, at most the field's own."""
    hours = sum(window.hours for window in windows)
    field, capacity = setting.field, setting.baler.capacity_kg_h
    if capacity is None:
        return Work(hours, None, None)
    mass = capacity * hours
    if field.yield_kg_m2 is None:
        return Work(hours, mass, None)
    area = mass / field.yield_kg_m2
    if field.area_m2 is not None and area > field.area_m2:
        return Work(hours, field.area_m2 * field.yield_kg_m2, field.area_m2)
    return Work(hours, mass, area)


def first_dew(ahead: Course, turn: np.datetime64, lane: int) -> np.datetime64 | None:
    """UTC start of the first window on dew of a lane before `turn`."""
    for window in ahead.windows(lane):
        if window.call == Call.NATURAL_DEW and window.start < turn:
            return window.start
    return None


def dew_hours(ahead: Course, turn: np.datetime64, lane: int) -> float:
    """Hours on dew of a lane before `turn`."""
    quarters = int((turn - ahead.weather.start[lane]) / QUARTER)
    ready = (ahead.quarters.call[:, lane] == Call.NATURAL_DEW) & ~ahead.stopped[:, lane]
    return float(ready[: max(quarters, 0)].sum()) / 4


def _check(ahead: Course, setting: Setting, span: Span, turn: np.datetime64) -> Check | None:
    """The reading to take tonight: at 23:00, or an hour before dew comes if that is earlier."""
    zone = ZoneInfo(str(setting.site.timezone))
    day = span.evening
    at = to_utc(datetime(day.year, day.month, day.day, CHECK_HOUR, tzinfo=zone))
    comes = first_dew(ahead, turn, 0)
    if comes is not None:
        at = min(at, comes.astype("datetime64[h]").astype("datetime64[s]") - HOUR)
    row = int((at - ahead.weather.start[0]) / QUARTER)
    moistures = ahead.trajectory.windrow_wb
    if not 0 < row < moistures.shape[0] or not np.isfinite(moistures[row, 0]):
        return None
    drier, damper = VARIANTS.index("drier"), VARIANTS.index("damper")
    return Check(
        time=at,
        expected_wb=float(moistures[row, 0]),
        low_wb=float(moistures[row, drier]),
        high_wb=float(moistures[row, damper]),
        dew_if_drier=first_dew(ahead, turn, drier),
        dew_if_damper=first_dew(ahead, turn, damper),
    )


def _look_at(ahead: Course, span: Span, turn: np.datetime64) -> np.datetime64:
    """45 minutes before dew comes at the earliest, never before now."""
    starts = [first_dew(ahead, turn, lane) for lane in range(len(VARIANTS))]
    earliest = min(start for start in starts if start is not None)
    return max(earliest - LOOK_BEFORE, span.first)


def _next_night(ahead: Course, setting: Setting, turn: np.datetime64) -> date | None:
    """Evening of the first later night with a window on dew."""
    for window in ahead.windows():
        if window.call == Call.NATURAL_DEW and window.start >= turn:
            local = to_local(window.start, str(setting.site.timezone))
            return local.date() - timedelta(days=0 if local.hour >= TURN_HOUR else 1)
    return None


def _doubt(ahead: Course, turn: np.datetime64) -> Remark | None:
    """The shift of the forecast that changes the hours on dew most, if any does."""
    middle = dew_hours(ahead, turn, 0)
    changes = {name: dew_hours(ahead, turn, VARIANTS.index(name)) - middle for name in SHIFTED}
    worst = max(changes, key=lambda name: abs(changes[name]))
    if changes[worst] == 0:
        return None
    hours = f"{abs(changes[worst]):.1f}"
    direction = "more" if changes[worst] > 0 else "less"
    return Remark(f"doubt_{worst}_{direction}", {"hours": hours})
