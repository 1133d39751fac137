"""Runs of real nights: how much of a cutting is baled when it must not wait."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.sites import Work
from hayweather.seasons.record.tallies import Finish
from hayweather.weather.record import Floats

_DONE = 1 - 1e-9


@dataclass(frozen=True)
class Runs:
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
    """

    year: NDArray[np.int64]
    done_dew: Floats
    done_rig: Floats
    dry_dew: Floats
    dry_rig: Floats


def follow(nights: Nights, work: Work, capacity_kg_h: float, *, real: bool) -> Runs:
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
        return Runs(np.zeros(0, dtype=np.int64), blank, blank, blank, blank)
    chosen, windows = _windows(nights, work.nights, real=real)
    rain = nights.rain_night[windows]
    open_ = ~np.logical_or.accumulate(rain, axis=1)
    share = 1 / work.cutting_kg
    dew = np.where(rain, 0.0, nights.dew_h[windows] * capacity_kg_h) * share
    both = dew + np.where(rain, 0.0, nights.rig_kg[windows]) * share
    return Runs(
        year=nights.year[chosen],
        done_dew=_done(dew),
        done_rig=_done(both),
        dry_dew=_done(np.where(open_, dew, 0.0)),
        dry_rig=_done(np.where(open_, both, 0.0)),
    )


def _windows(
    nights: Nights, length: int, *, real: bool
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First night of each run that can be followed, and all its nights, (starts, length)."""
    days = nights.evening.astype(np.int64)
    place = np.full(int(days.max() - days.min()) + length, -1)
    place[days - days.min()] = np.arange(nights.count)
    windows = sliding_window_view(place, length)
    known = (windows >= 0).all(axis=1) & nights.known[windows].all(axis=1)
    if not real:
        known &= (nights.month[windows] == nights.month[windows[:, :1]]).all(axis=1)
    windows = windows[known]
    windows = windows[nights.counted[windows[:, 0]]]
    return windows[:, 0], windows


def _done(shares: Floats) -> Floats:
    """Share baled over a run, at most all of it."""
    return np.minimum(shares.sum(axis=1), 1.0)


def finish_of(runs: Runs, work: Work, *, rain_known: bool) -> Finish | None:
    """The chance to be done; None where no run could be followed."""
    if runs.year.size == 0:
        return None
    return Finish(
        nights=work.nights,
        starts=int(runs.year.size),
        within_dew=_share(runs.done_dew),
        within_rig=_share(runs.done_rig),
        dry_dew=_share(runs.dry_dew) if rain_known else None,
        dry_rig=_share(runs.dry_rig) if rain_known else None,
    )


def _share(done: Floats) -> float:
    """Share of runs that are done."""
    return float((done >= _DONE).mean())
