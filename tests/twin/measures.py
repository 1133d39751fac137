"""From arrays to figures, each with the range that resampled blocks of nights give."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from twin.collect import Collected, RuleNights, Timed

from hayweather.baling.calls import AS_IT_LIES, BALED, Call
from hayweather.learning.score import Bin, Counts, band_of_other_months, never, reliability
from hayweather.weather.record import Floats

BLOCK_NIGHTS = 5
RESAMPLES = 500
BOOTSTRAP_SEED = 9
FULL_BIN_HOURS = 100
ONE_DAY = np.timedelta64(1, "D")


@dataclass(frozen=True)
class Figure:
    """A figure and its 2.5-97.5 % range over resampled blocks of nights."""

    value: float
    low: float
    high: float


def bootstrap(sums: Floats, figure: Callable[[Floats], float]) -> Figure:
    """A figure made of sums over nights, (nights, sums), with its range.

    Blocks of five nights in a row are drawn with replacement: nights of one
    spell of weather are alike.
    """
    count = sums.shape[0]
    random = np.random.default_rng(BOOTSTRAP_SEED)
    blocks = -(-count // BLOCK_NIGHTS)
    values = []
    for _ in range(RESAMPLES):
        starts = random.integers(0, count, blocks)
        rows = (starts[:, None] + np.arange(BLOCK_NIGHTS)).ravel()[:count] % count
        values.append(figure(sums[rows].sum(axis=0)))
    low, high = np.nanquantile(values, [0.025, 0.975])
    return Figure(figure(sums.sum(axis=0)), float(low), float(high))


def hours_of(world: Collected, call: str) -> tuple[Floats, Floats]:
    """Chances and outcomes of a call, (nights, hours, truths)."""
    happened = np.stack(world.happened[call])
    return np.broadcast_to(np.stack(world.said[call])[:, :, None], happened.shape), happened


def bins_of(world: Collected, call: str) -> list[Bin]:
    """Reliability of a call in five bins."""
    said, happened = hours_of(world, call)
    return reliability(said.ravel(), happened.ravel())


def slope_of(world: Collected, call: str) -> Figure:
    """Slope of outcome on chance."""
    said, happened = hours_of(world, call)
    parts = [np.ones_like(said), said, happened, said**2, said * happened]

    def figure(total: Floats) -> float:
        count, p, o, pp, po = total
        return float((po - p * o / count) / (pp - p * p / count))

    found = bootstrap(np.stack([part.sum(axis=(1, 2)) for part in parts], axis=1), figure)
    assert abs(found.value - np.polyfit(said.ravel(), happened.ravel(), 1)[0]) < 1e-6
    return found


def skill_of(world: Collected, call: str, *, by_hour: bool = False) -> Figure:
    """Brier skill over the frequency of the month in the same nights (or month and hour)."""
    said, happened = hours_of(world, call)
    month = np.array([number for _, number in world.blocks])
    reference = np.empty_like(happened)
    for number in np.unique(month):
        axes = (0, 2) if by_hour else None
        frequency = np.asarray(happened[month == number].mean(axis=axes))
        reference[month == number] = frequency[..., None] if by_hour else frequency
    squares = [(said - happened) ** 2, (reference - happened) ** 2]
    sums = np.stack([part.sum(axis=(1, 2)) for part in squares], axis=1)
    return bootstrap(sums, lambda total: float(1 - total[0] / total[1]))


@dataclass(frozen=True)
class Held:
    """How often starts lay in the range shown, how many did, how wide it was, what had none."""

    share: Figure
    draws: int
    night_draws: int
    width_h: float
    untimed: int


def starts_held(world: Collected, calls: Sequence[Call] = BALED) -> Held:
    """Starts of windows that happened, in the 10-90 % range shown."""
    chosen = [[each for each in night if each.call in calls] for night in world.windows]
    timed = [[each for each in night if not each.untimed] for night in chosen]
    sums = np.array([[_held(night), _known(night)] for night in timed], dtype=float)
    widths = [(each.high - each.low) / 4 for night in timed for each in night]
    draws = sum(
        int(np.isfinite([each.begins for each in night]).any(axis=0).sum())
        for night in timed
        if night
    )
    share = bootstrap(sums, lambda total: float(total[0] / total[1]) if total[1] else np.nan)
    untimed = sum(each.untimed for night in chosen for each in night)
    return Held(share, int(sums[:, 1].sum()), draws, float(np.mean(widths)), untimed)


def _held(windows: list[Timed]) -> int:
    """Starts within the range."""
    return sum(
        int(((each.begins >= each.low) & (each.begins <= each.high)).sum()) for each in windows
    )


def _known(windows: list[Timed]) -> int:
    """Starts that happened."""
    return sum(int(np.isfinite(each.begins).sum()) for each in windows)


@dataclass(frozen=True)
class Gain:
    """Root mean square error at 06:00 as shown, of the mean, with the reading; what it cut."""

    shown_wb: float
    mean_wb: float
    with_reading_wb: float
    cut: Figure

    @property
    def without_wb(self) -> float:
        """The better of the two errors without the reading."""
        return min(self.shown_wb, self.mean_wb)


def gain_of(world: Collected, time: str) -> Gain:
    """What a reading at a time gained, beside the better of the two errors without it."""
    errors = np.stack(world.errors[time])
    squares = (errors**2).sum(axis=2)
    shown, mean, read = np.sqrt((errors**2).mean(axis=(0, 2)))
    without = 1 if mean <= shown else 0
    cut = bootstrap(squares, lambda total: float(1 - np.sqrt(total[2] / total[without])))
    return Gain(float(shown), float(mean), float(read), cut)


@dataclass(frozen=True)
class RuleResult:
    """One rule on all hours: counts of dew hours, and how many false alarms were too wet."""

    name: str
    counts: Counts
    too_wet: int


def rule_results(rules: RuleNights) -> list[RuleResult]:
    """The outlook beside plain rules, on the same hours of all truths.

    Only nights whose night before is there too; where no night has one (every
    n-th night taken), all nights, without the rule that needs it.
    """
    true = np.stack(rules.true)
    later = np.concatenate(
        [[False], np.diff(np.array(rules.days, dtype="datetime64[D]")) == ONE_DAY]
    )
    yesterday = np.zeros_like(true)
    yesterday[1:] = true[:-1]
    said = {
        "never bale": never(np.isin(true, AS_IT_LIES)),
        "yesterday's window again": np.isin(yesterday, AS_IT_LIES),
        "air humidity as forecast, best band": _band(rules, true, np.stack(rules.humidity)),
        "air humidity as measured in the field, best band": _band(
            rules, true, np.stack(rules.field_humidity)
        ),
        "outlook, middle forecast alone": _is_dew(rules.middle, true),
        "outlook, likeliest call": _is_dew(rules.likely, true),
        "outlook, call as shown": _is_dew(rules.shown, true),
        "outlook, advice to go": np.broadcast_to(np.stack(rules.go)[:, :, None], true.shape),
    }
    if not later.any():
        del said["yesterday's window again"]
        later = ~later
    return [_result(name, calls[later], true[later]) for name, calls in said.items()]


def _result(name: str, said: np.ndarray, true: np.ndarray) -> RuleResult:
    """Counts of one rule."""
    wet = int((said & (true == Call.TOO_WET)).sum())
    return RuleResult(name, Counts.of(said, np.isin(true, AS_IT_LIES)), wet)


def _is_dew(calls: list[np.ndarray], true: np.ndarray) -> np.ndarray:
    """Hours called ready as the hay lies, the same for every truth."""
    return np.broadcast_to(np.isin(np.stack(calls), AS_IT_LIES)[:, :, None], true.shape)


def _band(rules: RuleNights, true: np.ndarray, humidity: Floats) -> np.ndarray:
    """The best humidity band, each month by the one fitted on the other months."""
    spread = humidity if humidity.ndim == 3 else humidity[:, :, None]
    months = np.array([number for _, number in rules.blocks])[:, None, None]
    flat = [np.broadcast_to(item, true.shape).ravel() for item in (spread, months)]
    said = band_of_other_months(flat[0], np.isin(true, AS_IT_LIES).ravel(), flat[1])
    assert said is not None
    return said.reshape(true.shape)
