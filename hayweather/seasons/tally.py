"""Nights counted by month and year, and followed: how much of a cutting is baled in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.water import burner_fuel_l
from hayweather.farm.records import Rig
from hayweather.seasons.record.nights import LEFT_OUT_SHARE, Missing, Nights
from hayweather.seasons.record.results import Finish, MissingNight, Spread, Tally, Year
from hayweather.seasons.record.sites import Work
from hayweather.weather.record import Booleans, Floats

_DAY = np.timedelta64(1, "D")
_EXACT = 1e-9


def spread_of(values: Floats) -> Spread:
    """How values spread; quartiles and median by straight interpolation.

    Examples
    --------
    >>> spread_of(np.array([0.0, 1.0, 2.0, 3.0, 4.0]))
    Spread(median=2.0, p20=1.0, p25=1.0, p75=3.0, p80=4.0, mean=2.0)
    """
    if values.size == 0:
        return Spread()
    rising = np.sort(values)  # once for all five: `np.quantile` asks a hundred times as long
    low, middle, high = (_quantile(rising, part) for part in (0.25, 0.5, 0.75))
    four_in_five, one_in_five = _reached(rising, 0.8), _reached(rising, 0.2)
    return Spread(middle, four_in_five, low, high, one_in_five, float(values.mean()))


def _quantile(rising: Floats, part: float) -> float:
    """A quantile of sorted values, straight between two of them, as `np.quantile` rounds it."""
    place = (rising.size - 1) * part
    first = int(place)
    low, high = rising.item(first), rising.item(min(first + 1, rising.size - 1))
    rest = place - first
    step = high - low
    return high - step * (1 - rest) if rest >= 0.5 else low + step * rest


def reached_by(values: Sequence[float] | Floats, share: float) -> float:
    """The largest value that at least `share` of the values reach or pass."""
    return _reached(np.sort(values), share)


def _reached(rising: Floats, share: float) -> float:
    """As `reached_by`, of sorted values."""
    index = int((1 - share) * rising.size + _EXACT)
    return float(rising.item(min(index, rising.size - 1)))


def usable(nights: Nights, useful_hours: float) -> Booleans:
    """Counted nights with usable dew: at least `useful_hours` ready on dew."""
    return nights.counted & (nights.dew_h >= useful_hours)


def longest_without(nights: Nights, useful_hours: float, *, real: bool) -> int:
    """Longest run of counted evenings, day after day, without usable dew.

    A missing night or a rain night ends a run: it is not known, or not dry. So
    does the end of a month where the year is not a real one.
    """
    return _longest(nights, nights.counted, usable(nights, useful_hours), real=real)


def _longest(nights: Nights, counted: Booleans, good: Booleans, *, real: bool) -> int:
    """As `longest_without`, of what counts and what is good."""
    order = np.argsort(nights.evening)
    evening = nights.evening[order]
    dry = (counted & ~good)[order]
    follows = np.diff(evening, prepend=evening[:1]) == _DAY
    if not real:
        follows &= np.diff(nights.month[order], prepend=0) == 0
    longest = run = 0
    for without, goes_on in zip(dry.tolist(), follows.tolist(), strict=True):
        run = (run + 1 if goes_on else 1) if without else 0
        longest = max(longest, run)
    return longest


def tally_of(
    nights: Nights, useful_hours: float, rig: Rig, capacity_kg_h: float, *, real: bool
) -> Tally:
    """Some nights of a site counted.

    Parameters
    ----------
    nights
        Any number, also none.
    useful_hours
        Hours on dew that make a night usable.
    rig, capacity_kg_h
        For fuel, and for hay baled on dew.
    real
        False for typical years, whose months do not follow each other.
    """
    here = nights.counted
    dew_h, water_l_t = nights.dew_h[here], nights.water_l_t[here]
    good = dew_h >= useful_hours
    water_l = float(nights.water_l[here].sum())
    return Tally(
        nights=nights.count,
        missing=int((~nights.known).sum()),
        rain_nights=int(nights.rain_night.sum()) if nights.rain_known.any() else None,
        counted=int(here.sum()),
        without_spin_up=int((~nights.spun_up[here]).sum()),
        with_dew=int(good.sum()),
        dew_h=spread_of(dew_h),
        rig_h=spread_of(nights.rig_h[here]),
        wet_h=spread_of(nights.wet_h[here]),
        dry_h=spread_of(nights.dry_h[here]),
        longest_without=_longest(nights, here, here & (nights.dew_h >= useful_hours), real=real),
        first_h=_median(nights.first_h[here][good]),
        last_h=_median(nights.last_h[here][good]),
        water_l_t=_median(water_l_t[np.isfinite(water_l_t)]),
        dew_kg=float(dew_h.sum() * capacity_kg_h),
        rig_kg=float(nights.rig_kg[here].sum()),
        water_l=water_l,
        fuel_l=_fuel(rig, water_l, float(nights.flow_h[here].sum())),
    )


def fuel_of(nights: Nights, rig: Rig) -> float:
    """Fuel of a rig's burners over some nights [L], as on the run sheet.

    NaN where it does not heat, or neither its fuel rate nor the water's
    temperature behind the burner is known.
    """
    return _fuel(rig, float(nights.water_l.sum()), float(nights.flow_h.sum()))


def _fuel(rig: Rig, water_l: float, flow_h: float) -> float:
    """Fuel for so much water [L]; NaN where it is not known."""
    fuel = burner_fuel_l(rig, water_l, flow_h) if rig.heated else None
    return float("nan") if fuel is None else fuel


def _median(values: Floats) -> float:
    """Median, NaN of nothing."""
    return float(_quantile(np.sort(values), 0.5)) if values.size else float("nan")


def year_of(
    nights: Nights,
    year: int | None,
    months: Sequence[int],
    useful_hours: float,
    rig: Rig,
    capacity_kg_h: float,
) -> Year:
    """One year of a site, whole and by month; `year` None for a typical year."""

    def counted(chosen: Nights) -> Tally:
        return tally_of(chosen, useful_hours, rig, capacity_kg_h, real=year is not None)

    unknown = nights.only(~nights.known)
    share = unknown.count / nights.count if nights.count else 1.0
    return Year(
        year=year,
        whole=counted(nights),
        months={month: counted(nights.only(nights.month == month)) for month in months},
        share_missing=share,
        left_out=share > LEFT_OUT_SHARE,
        gaps=tuple(
            MissingNight(day, int(causes))
            for day, causes in zip(unknown.evening.tolist(), unknown.missing, strict=True)
        ),
    )


def kept_nights(nights: Nights, years: Sequence[Year]) -> Nights:
    """The nights of years that are not left out; all or none of a typical year."""
    if any(year.year is None for year in years):
        return nights.only(np.full(nights.count, not any(year.left_out for year in years)))
    kept = [year.year for year in years if year.year is not None and not year.left_out]
    return nights.only(np.isin(nights.year, kept))


def with_rain_known(nights: Nights, *, real: bool) -> Nights:
    """The nights from which whole seasons are counted: of years that know rain, where any does.

    A season in which nights after rain count is longer than one in which they
    do not, so the two are never averaged together. In a year that knows rain a
    night without is not known.

    Parameters
    ----------
    nights
        Of the years kept.
    real
        False for typical years, which are one.
    """
    there = nights.known & nights.rain_known
    if not there.any():
        return nights
    blank = nights.known & ~nights.rain_known
    found = replace(nights, missing=np.where(blank, Missing.RAIN, nights.missing).astype(np.int16))
    return found.only(np.isin(nights.year, nights.year[there])) if real else found


_DONE = 1 - 1e-9


@dataclass(frozen=True)
class Followed:
    """Runs of nights from every evening that can be followed, each array (starts,).

    Attributes
    ----------
    year
        Of the first evening.
    done_dew, done_rig
        Share of the cutting baled within the nights, on dew alone and with the
        rig besides, at most 1; rain nights are idle.
    dry_dew, dry_rig
        The same, but nothing from the first rain on.
    rain_known
        Whether the rain of all these nights is known.
    """

    year: NDArray[np.int64]
    done_dew: Floats
    done_rig: Floats
    dry_dew: Floats
    dry_rig: Floats
    rain_known: Booleans

    def only(self, chosen: Booleans) -> Followed:
        """Some of the runs."""
        return Followed(**{item.name: getattr(self, item.name)[chosen] for item in fields(self)})

    def where_rain_is_known(self) -> Followed:
        """The runs whose rain is known, where any is: without it no night would be idle."""
        return self.only(self.rain_known) if self.rain_known.any() else self


def follow(nights: Nights, work: Work, capacity_kg_h: float, *, real: bool) -> Followed:
    """Follow the cutting from every counted evening over as many nights as it may wait.

    Parameters
    ----------
    nights
        Of one site.
    work
        The cutting, and how many nights it may wait.
    capacity_kg_h
        Of the baler on dew.
    real
        False for typical years: runs then stay within a month.
    """
    if nights.count == 0:
        blank = np.zeros(0)
        return Followed(np.zeros(0, dtype=np.int64), *(blank,) * 4, np.zeros(0, dtype=bool))
    chosen, windows = _windows(nights, work.nights, real=real)
    rain = nights.rain_night[windows]
    open_ = ~np.logical_or.accumulate(rain, axis=1)
    share = 1 / work.cutting_kg
    dew = np.where(rain, 0.0, nights.dew_h[windows] * capacity_kg_h) * share
    both = dew + np.where(rain, 0.0, nights.rig_kg[windows]) * share
    return Followed(
        year=nights.year[chosen],
        done_dew=_done(dew),
        done_rig=_done(both),
        dry_dew=_done(np.where(open_, dew, 0.0)),
        dry_rig=_done(np.where(open_, both, 0.0)),
        rain_known=np.asarray(nights.rain_known[windows].all(axis=1)),
    )


def _windows(
    nights: Nights, length: int, *, real: bool
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First night of each run that can be followed, and all its nights, (starts, length)."""
    days = nights.evening.astype(np.int64)
    days = days - days.min()
    place = np.full(int(days.max()) + length, -1)
    place[days] = np.arange(nights.count)
    windows = place[np.sort(days)[:, None] + np.arange(length)]
    known = (windows >= 0).all(axis=1) & nights.known[windows].all(axis=1)
    if not real:
        known &= (nights.month[windows] == nights.month[windows[:, :1]]).all(axis=1)
    windows = windows[known]
    windows = windows[nights.counted[windows[:, 0]]]
    return windows[:, 0], windows


def _done(shares: Floats) -> Floats:
    """Share baled over a run, at most all of it."""
    return np.minimum(shares.sum(axis=1), 1.0)


def finish_of(followed: Followed, work: Work) -> Finish | None:
    """The chance to be done; None where no run could be followed."""
    if followed.year.size == 0:
        return None
    runs = followed.where_rain_is_known()
    known = bool(runs.rain_known.any())
    return Finish(
        nights=work.nights,
        starts=int(runs.year.size),
        within_dew=_share(runs.done_dew),
        within_rig=_share(runs.done_rig),
        dry_dew=_share(runs.dry_dew) if known else None,
        dry_rig=_share(runs.dry_rig) if known else None,
        dry_starts=int(runs.year.size) if known else 0,
    )


def _share(done: Floats) -> float:
    """Share of runs that are done."""
    return float((done >= _DONE).mean())


@dataclass(frozen=True)
class Waited:
    """A cutting that waits for dew, and one with the rig, night by night, from every evening.

    Attributes
    ----------
    year
        Of the first evening, (starts,).
    done_dew, done_rig
        Share in after each night, on dew alone and with the rig besides, (starts, nights);
        rain nights are idle, then it goes on.
    by_rig
        Share that the rig does, dew first in every night, (starts,).
    rain_dew, rain_rig
        Rain that fell on what still lay, times its share [mm], (starts,); rain after
        the last night is not in it.
    rain_known
        Whether the rain of all these nights is known, (starts,).
    """

    year: NDArray[np.int64]
    done_dew: Floats
    done_rig: Floats
    by_rig: Floats
    rain_dew: Floats
    rain_rig: Floats
    rain_known: Booleans

    def only(self, chosen: Booleans) -> Waited:
        """Some of the runs."""
        return Waited(**{item.name: getattr(self, item.name)[chosen] for item in fields(self)})

    @property
    def days_dew(self) -> Floats:
        """Mean days that a ton lies on from the first night, to the last at most, (starts,)."""
        return np.asarray((1 - self.done_dew[:, :-1]).sum(axis=1))

    @property
    def days_rig(self) -> Floats:
        """The same with the rig, (starts,)."""
        return np.asarray((1 - self.done_rig[:, :-1]).sum(axis=1))


def wait(nights: Nights, work: Work, capacity_kg_h: float, *, real: bool) -> Waited:
    """Follow the cutting as `follow` does, but through rain, which falls on what still lies.

    Parameters
    ----------
    nights, work, capacity_kg_h, real
        As in `follow`; at least one night.
    """
    chosen, windows = _windows(nights, work.nights, real=real)
    rain, share = nights.rain_night[windows], 1 / work.cutting_kg
    dew = np.where(rain, 0.0, nights.dew_h[windows] * capacity_kg_h) * share
    rig = np.where(rain, 0.0, nights.rig_kg[windows]) * share
    done_dew = np.minimum(np.cumsum(dew, axis=1), 1.0)
    done_rig = np.minimum(np.cumsum(dew + rig, axis=1), 1.0)
    before = np.pad(done_rig[:, :-1], ((0, 0), (1, 0)))
    by_rig = (done_rig - np.minimum(before + dew, 1.0)).sum(axis=1)
    # Two days are in each sum: what a night has more than the one before fell since.
    fallen = np.where(rain, nights.rain_before_mm[windows], 0.0)
    fresh = np.maximum(np.diff(fallen, axis=1), 0.0)
    return Waited(
        year=nights.year[chosen],
        done_dew=done_dew,
        done_rig=done_rig,
        by_rig=by_rig,
        rain_dew=(fresh * (1 - done_dew[:, :-1])).sum(axis=1),
        rain_rig=(fresh * (1 - done_rig[:, :-1])).sum(axis=1),
        rain_known=np.asarray(nights.rain_known[windows].all(axis=1)),
    )
