"""From nights to arrays: what was said beside what came true, one world at a time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from twin.world import TRUTHS, Night, Truth

from hayweather.baling.advice import Advice
from hayweather.baling.calls import AS_IT_LIES, Call
from hayweather.baling.course import matching_runs
from hayweather.baling.hours import longest_call
from hayweather.nights.drive import Drawn, fresh_members, members_that_agree
from hayweather.weather.record import HOUR, Floats
from hayweather.windrow.readings import Reading, moisture_at
from hayweather.windrow.trajectory import QUARTER, QUARTERS, WindrowTrajectory

CALLS = {"natural dew": Call.NATURAL_DEW, "too wet": Call.TOO_WET}
READING_TIMES = {"20:00": 30, "00:00": 34, "03:00": 37}  # hours of the run
DAWN = 40  # 06:00
METER_SEED = 55_000
LEAST_READING_WB = 1.0


@dataclass(frozen=True)
class Timed:
    """One window shown with a range of its start, and when it began in every truth.

    Quarters from 18:00 on; `begins` is NaN where a truth has no such window, or
    one that was open at 18:00 already. `untimed` where its chance was too low.
    """

    call: Call
    low: int
    high: int
    begins: Floats
    untimed: bool


@dataclass
class Collected:
    """One world, night by night.

    Attributes
    ----------
    blocks
        Season and month of each night.
    said, happened
        By call: chance of each hour (20,), and part of each hour in which it
        was so (20, truths).
    windows
        Those that do not begin before 18:00.
    errors
        By time of the reading: error of the moisture at 06:00 as shown, as the
        mean of the members, and with the reading, (3, truths).
    """

    blocks: list[tuple[str, int]] = field(default_factory=list)
    said: dict[str, list[Floats]] = field(default_factory=lambda: {name: [] for name in CALLS})
    happened: dict[str, list[Floats]] = field(default_factory=lambda: {name: [] for name in CALLS})
    windows: list[list[Timed]] = field(default_factory=list)
    errors: dict[str, list[Floats]] = field(
        default_factory=lambda: {name: [] for name in READING_TIMES}
    )


@dataclass
class RuleNights:
    """Calls of whole hours, night by night: shown, middle forecast, likelier, and true (truths).

    `go` where baling as the hay lies is advised in more than half of an hour.
    """

    blocks: list[tuple[str, int]] = field(default_factory=list)
    days: list[date] = field(default_factory=list)
    shown: list[np.ndarray] = field(default_factory=list)
    middle: list[np.ndarray] = field(default_factory=list)
    likely: list[np.ndarray] = field(default_factory=list)
    go: list[np.ndarray] = field(default_factory=list)
    true: list[np.ndarray] = field(default_factory=list)
    humidity: list[Floats] = field(default_factory=list)
    field_humidity: list[Floats] = field(default_factory=list)


def hourly(quarters: np.ndarray) -> np.ndarray:
    """Mean over the quarters of each hour, first axis."""
    return quarters.reshape(-1, QUARTERS, *quarters.shape[1:]).mean(axis=1)


def add_night(into: Collected, night: Night, truth: Truth, pool: Pool | None) -> None:
    """One night of one world; with a pool of members also what readings would have done."""
    into.blocks.append((night.season, night.day.month))
    for name, call in CALLS.items():
        into.said[name].append(hourly(night.course.chances[call]))
        into.happened[name].append(hourly((truth.call == call).astype(float)))
    into.windows.append(list(timed_windows(night, truth)))
    if pool is not None:
        for name, hour in READING_TIMES.items():
            into.errors[name].append(reading_errors(pool, truth, hour))


def timed_windows(night: Night, truth: Truth) -> Iterable[Timed]:
    """Windows shown that begin after 18:00."""
    start = night.course.weather.start[0]
    for window in night.windows:
        first, past = (int((time - start) / QUARTER) for time in (window.start, window.end))
        if first == 0:
            continue
        alike = AS_IT_LIES if window.call in AS_IT_LIES else (window.call,)
        ready = np.isin(truth.call, alike) & ~truth.stopped
        begins = matching_runs(ready, first, past)[0]
        begins = np.where(begins > 0, begins, np.nan)
        low, high = (
            (-1, -1)
            if window.start_range is None
            else (int((time - start) / QUARTER) for time in window.start_range)
        )
        yield Timed(window.call, low, high, begins, window.start_range is None)


class Pool:
    """The members of one night, and the fresh ones drawn for it, kept for all truths."""

    def __init__(self, night: Night) -> None:
        self.night = night
        self.kept: dict[int, tuple[Drawn, WindrowTrajectory]] = {}

    def draw(self, plan: Drawn, count: int) -> tuple[Drawn, WindrowTrajectory]:
        """As `fresh_members`, once for each count."""
        if count not in self.kept:
            self.kept[count] = fresh_members(plan, count)
        return self.kept[count]


def reading_errors(pool: Pool, truth: Truth, hour: int) -> Floats:
    """Error of the moisture at 06:00 without and with a reading at an hour, (3, truths)."""
    members = pool.night.members
    time, dawn = (Reading(members.start[0] + at * HOUR, 0.0, error_wb=1.0) for at in (hour, DAWN))
    true_then, true_dawn = (moisture_at(truth.trajectory, at) for at in (time, dawn))
    random = np.random.default_rng(METER_SEED + 100 * pool.night.day.toordinal() + hour)
    shown = np.maximum(true_then + random.standard_normal(TRUTHS), LEAST_READING_WB)
    said = moisture_at(members, dawn)
    errors = np.empty((3, TRUTHS))
    errors[0], errors[1] = said[0] - true_dawn, said[1:].mean() - true_dawn
    for draw in range(TRUTHS):
        reading = Reading(time.time, float(shown[draw]), error_wb=1.0)
        _, run, weights = members_that_agree(pool.night.plan, members, [reading], pool.draw)
        errors[2, draw] = moisture_at(run, dawn) @ weights.weights - true_dawn[draw]
    return errors


def hour_calls_of(calls: np.ndarray, hours: range) -> np.ndarray:
    """The call that holds longest in each hour."""
    return np.array([longest_call(calls[QUARTERS * h : QUARTERS * (h + 1)]) for h in hours])


def add_rules(into: RuleNights, night: Night, truth: Truth) -> None:
    """One night for the comparison with plain rules."""
    course = night.course
    hours = range(course.weather.hours)
    into.blocks.append((night.season, night.day.month))
    into.days.append(night.day)
    into.shown.append(hour_calls_of(course.quarters.call[:, 0], hours))
    into.middle.append(hour_calls_of(course.middle, hours))
    chances = course.chances.reshape(len(Call), -1, QUARTERS).mean(axis=2)
    into.likely.append(chances.argmax(axis=0))
    go = (course.advice == Advice.GO) & np.isin(course.way, AS_IT_LIES)
    into.go.append(hourly(go) > 0.5)
    true = [hour_calls_of(truth.call[:, draw], hours) for draw in range(TRUTHS)]
    into.true.append(np.stack(true, axis=1))
    into.humidity.append(night.humidity)
    into.field_humidity.append(truth.humidity)


def collect(
    nights: Iterable[Night], reading_worlds: Iterable[str] = (), steady: str | None = None
) -> tuple[dict[str, Collected], RuleNights]:
    """Every world of some nights; readings only in the worlds named."""
    worlds: dict[str, Collected] = {}
    rules = RuleNights()
    named = set(reading_worlds)
    for night in nights:
        pool = Pool(night)
        for world, truth in night.truths.items():
            if world == steady:
                add_rules(rules, night, truth)
                continue
            into = worlds.setdefault(world, Collected())
            add_night(into, night, truth, pool if world in named else None)
    return worlds, rules
