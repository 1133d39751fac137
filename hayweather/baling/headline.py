"""Facts of the first screen: what the night brings, in numbers for sentences."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.calls import AS_IT_LIES, BALED
from hayweather.baling.clock import (
    TURN_HOUR,
    Span,
    hour_index,
    hour_start,
    to_local,
    to_utc,
    turn_of,
)
from hayweather.baling.course import Course
from hayweather.baling.setting import Setting
from hayweather.baling.windows import LOOK_BEFORE, Window
from hayweather.weather.record import HOUR, Booleans, Floats
from hayweather.windrow.readings import weighted_quantile
from hayweather.windrow.trajectory import QUARTER, QUARTERS
from hayweather.words import Remark

CHECK_HOUR = 23  # local; when a look at the hay tells most
FIFTH = 0.2
# What costs hours on dew: the first word where more of it gives more hours.
ADVERSE = {
    "air_temperature_c": ("colder", "warmer"),
    "dew_point_c": ("drier", "damper"),
    "wind_speed_m_s": ("calmer", "windier"),
    "cloud_fraction": ("clearer", "cloudier"),
    "dry_matter_kg_m2": ("lighter", "heavier"),
}


@dataclass(frozen=True)
class Check:
    """What a moisture reading at `time` (UTC) should show, and what follows if not.

    Attributes
    ----------
    expected_wb
        As shown, % wet basis.
    low_wb, high_wb
        Eight in ten members lie between, % wet basis.
    dew_if_drier, dew_if_damper
        UTC start of the first window on dew in the middle of the driest
        (dampest) fifth of the members; None where most of these have none.
    time
        UTC.
    """

    time: np.datetime64
    expected_wb: float
    low_wb: float
    high_wb: float
    dew_if_drier: np.datetime64 | None
    dew_if_damper: np.datetime64 | None


@dataclass(frozen=True)
class Work:
    """What the hours of one call are worth at the baler's capacity; None where not known.

    Attributes
    ----------
    hours
        Of that call.
    mass_kg, area_m2
        Hay, and field that it comes from; None where capacity or yield is not known.
    """

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
    dew, ready, rig
        Windows of go until `turn`: on natural dew, ready as it lies for another
        reason, with added moisture; one that goes on is cut there.
    maybe
        Windows until `turn` in which to probe first.
    dew_work, ready_work, rig_work
        Hours, mass and area of the windows of go.
    check
        The one check rule; None where the night has passed.
    look_at
        UTC time to get up and look; None is "sleep", or unknown.
    unknown
        Whether the hours of tonight, or some of a night without a window, cannot
        be called.
    next_night
        Evening of the next night with a window on dew, where this has none and
        the weather reaches so far.
    doubt
        What the hours on dew hang on most.
    dew_chance
        Chance of at least the baler's useful hours ready as the hay lies within
        the windows named (go, else maybe; without any, before `turn`); None without
        members.
    """

    evening: date
    turn: np.datetime64
    dew: tuple[Window, ...]
    ready: tuple[Window, ...]
    rig: tuple[Window, ...]
    maybe: tuple[Window, ...]
    dew_work: Work
    ready_work: Work
    rig_work: Work
    check: Check | None
    look_at: np.datetime64 | None
    next_night: date | None
    doubt: Remark | None
    dew_chance: float | None
    unknown: bool

    @property
    def as_it_lies(self) -> tuple[Window, ...]:
        """Windows of go without anything added, in order of time."""
        return tuple(sorted((*self.dew, *self.ready), key=lambda window: window.start))


def headline_of(
    ahead: Course, setting: Setting, span: Span, errors: Mapping[str, Floats]
) -> Headline:
    """Facts of the first screen from the hours ahead.

    Parameters
    ----------
    ahead
        From the current hour to the end of the weather.
    setting, span
        The field, and the hours asked for.
    errors
        What makes each member differ, by name, (lanes,).
    """
    turn = turn_of(span.evening + timedelta(days=1), str(setting.site.timezone))
    hours = hour_index(ahead.weather.start[0], turn)
    tonight = ahead.between(0, hours)
    found = {call: [w for w in tonight.windows() if w.call == call] for call in BALED}
    dew, ready, rig = (tuple(found[call]) for call in BALED)
    lying = tuple(sorted((*dew, *ready), key=lambda window: window.start))
    maybe = tuple(tonight.windows(Advice.PROBE_FIRST))
    asked = tuple(window for window in maybe if window.call in AS_IT_LIES)
    nights = Nights.of(ahead, turn)
    begin = span.first if ahead.now is None else max(ahead.now, span.first)
    blank = tonight.advice == Advice.UNKNOWN
    return Headline(
        evening=span.evening,
        turn=turn,
        dew=dew,
        ready=ready,
        rig=rig,
        maybe=maybe,
        dew_work=work_of(dew, setting),
        ready_work=work_of(ready, setting),
        rig_work=work_of(rig, setting),
        check=_check(ahead, nights, lying, asked, setting, span),
        look_at=_look_at(lying or asked or (() if rig else maybe), begin),
        next_night=None if lying else _next_night(ahead.windows(), setting),
        doubt=doubt_of(nights, errors),
        dew_chance=_chance_inside(tonight, lying or asked, setting.baler.useful_hours),
        unknown=bool(blank.all() or (blank.any() and not lying and not maybe and not rig)),
    )


def _chance_inside(tonight: Course, windows: tuple[Window, ...], hours: float) -> float | None:
    """Chance of at least so many hours ready as the hay lies in some windows, or at all."""
    weights = tonight.weights.weights
    if not weights.any():
        return None
    rows = np.full(tonight.lies.shape[0], not windows)
    for window in windows:
        first, past = ((t - tonight.weather.start[0]) / QUARTER for t in (window.start, window.end))
        rows[int(first) : int(past)] = True
    return float(weights[tonight.lies[rows].sum(axis=0) / QUARTERS >= hours].sum())


@dataclass(frozen=True)
class Nights:
    """The same night in every member: hours on dew, when dew comes, how much each counts.

    `first` is the first ready quarter, NaN where the night has none; all are
    (lanes,). Lane 0 is what is shown and has no weight.
    """

    start: np.datetime64
    hours: Floats
    first: Floats
    weights: Floats

    @classmethod
    def of(cls, ahead: Course, turn: np.datetime64) -> Nights:
        """The quarters of `ahead` before `turn`."""
        start = ahead.weather.start[0]
        rows = max(int((turn - start) / QUARTER), 0)
        ready = ahead.lies[:rows]
        first = np.where(ready.any(axis=0), ready.argmax(axis=0), np.nan) if rows else None
        lanes = ahead.lies.shape[1]
        return cls(
            start,
            ready.sum(axis=0) / QUARTERS,
            np.full(lanes, np.nan) if first is None else first,
            ahead.weights.weights,
        )

    def first_among(self, chosen: Booleans) -> np.datetime64 | None:
        """When dew comes in the middle of some members; None where most have none."""
        weights = np.where(chosen, self.weights, 0.0)
        have = weights[np.isfinite(self.first)].sum()
        if not weights.any() or have < weights.sum() / 2:
            return None
        row = weighted_quantile(self.first, weights, [0.5])[0]
        return self.start + round(float(row)) * QUARTER


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


def _check(
    ahead: Course,
    nights: Nights,
    dew: tuple[Window, ...],
    asked: tuple[Window, ...],
    setting: Setting,
    span: Span,
) -> Check | None:
    """The reading to take tonight: at 23:00, or an hour before dew comes if that is earlier.

    Where only the hay itself can say (`asked`), an hour before it may come, if that is ahead.
    """
    zone = ZoneInfo(str(setting.site.timezone))
    day = span.evening
    at = to_utc(datetime(day.year, day.month, day.day, CHECK_HOUR, tzinfo=zone))
    for window in (dew or asked)[:1]:
        before = hour_start(window.start, zone.key) - HOUR
        if dew or before > nights.start:
            at = min(at, before)
    row = int((at - nights.start) / QUARTER)
    if not 0 < row < ahead.trajectory.windrow_db.shape[0]:
        return None
    moistures = ahead.trajectory.windrow_wb[row]
    if not np.isfinite(moistures[0]) or not nights.weights.any():
        return None
    levels = (FIFTH / 2, FIFTH, 1 - FIFTH, 1 - FIFTH / 2)
    low, dry, damp, high = weighted_quantile(moistures, nights.weights, levels)
    return Check(
        time=at,
        expected_wb=float(moistures[0]),
        low_wb=float(low),
        high_wb=float(high),
        dew_if_drier=nights.first_among(moistures <= dry),
        dew_if_damper=nights.first_among(moistures >= damp),
    )


def _look_at(dew: tuple[Window, ...], now: np.datetime64) -> np.datetime64 | None:
    """45 minutes before dew comes at the earliest (one in ten), never before now; None: sleep."""
    if not dew:
        return None
    window = dew[0]
    earliest = window.start if window.start_range is None else window.start_range[0]
    return max(earliest - LOOK_BEFORE, now)


def _next_night(windows: list[Window], setting: Setting) -> date | None:
    """Evening of the first night with a window on dew."""
    for window in windows:
        if window.call in AS_IT_LIES:
            local = to_local(window.start, str(setting.site.timezone))
            return local.date() - timedelta(days=0 if local.hour >= TURN_HOUR else 1)
    return None


def doubt_of(nights: Nights, errors: Mapping[str, Floats]) -> Remark | None:
    """What the hours on dew hang on most, said as the side that costs hours.

    Parameters
    ----------
    nights
        Hours on dew of every member.
    errors
        What makes each member differ, by the names of `ADVERSE`, (lanes,).
    """
    counted = nights.weights > 0
    hours = nights.hours[counted]
    if not hours.size or hours.std() == 0:
        return None
    ties = {name: _tie(values[counted], hours) for name, values in errors.items()}
    name = max(ties, key=lambda item: abs(ties[item]))
    if ties[name] == 0:
        return None
    word = ADVERSE[name][0 if ties[name] > 0 else 1]
    values = errors[name][counted] * (1 if ties[name] > 0 else -1)
    costly = values <= np.quantile(values, FIFTH)
    lost = max(float(hours.mean() - hours[costly].mean()), 0.0)
    return Remark(f"doubt_{word}", {"hours": f"{lost:.1f}"})


def _tie(values: Floats, hours: Floats) -> float:
    """How the hours on dew follow an error in units of its spread; 0 where it does not vary."""
    spread = float(values.std())
    return float(((values - values.mean()) * hours).mean()) / spread if spread else 0.0
