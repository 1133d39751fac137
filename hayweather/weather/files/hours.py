"""From values at a file's stamps to whole hours.

Instants are taken where they lie: on a line between two hourly values, or, for
data finer than an hour, as the mean over half an hour before and after the
hour's start. Sums and means are shared out by how much of their period falls
into each hour; an hour that is not wholly covered by its rain is missing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.files.table import FileColumn, FileTable, Integers, seconds
from hayweather.weather.record import Booleans, Floats

_SNAP_S = 600


def places_of(column: FileColumn, table: FileTable, step_s: int) -> Integers:
    """Where the values of an instant or a mean over the period lie, seconds since 1970."""
    stamps = seconds(table.stamps) + column.shift_s
    fine = step_s < 3000 and table.shape.layout == "plain"
    said = table.clock.hour_origin in ("file", "option")
    if column.timing == "mean" or (fine and said):
        half = step_s // 2
        stamps = stamps + {"start": half, "center": 0, "end": -half}[table.clock.hour]
    return np.asarray(stamps, dtype=np.int64)


def periods_of(column: FileColumn, table: FileTable, step_s: int) -> tuple[Integers, Integers]:
    """Begin and end of what each sum or mean covers.

    Hourly periods that miss the hour by ten minutes or less are taken as the
    hour: an airport's report of minute 53 closes its hour.
    """
    length = column.period_s or step_s
    before = {"start": 0, "center": length // 2, "end": length}[table.clock.hour]
    begins = seconds(table.stamps) + column.shift_s - before
    if length == 3600:
        phase = table.clock.phase_s
        nearest = (begins - phase + 1800) // 3600 * 3600 + phase
        begins = np.where(np.abs(begins - nearest) <= _SNAP_S, nearest, begins)
    return begins, begins + length


HOUR_S = 3600
_HALF_WINDOW_S = 1800
_HOURLY_BRIDGE_S = 5400
_COVERED = 0.999
_SUN_COVERED = 0.5

Seconds = NDArray[np.int64]


def instants_at_hours(places: Seconds, values: Floats, hours: Seconds, *, step_s: float) -> Floats:
    """Instants at the start of each hour.

    Parameters
    ----------
    places
        Where the values lie, rising, seconds, (rows,).
    values
        (rows,), NaN where missing.
    hours
        Starts of the hours, (hours,).
    step_s
        Usual time between rows. Below 50 minutes the values around each hour
        are averaged with trapezoid weights.

    Returns
    -------
    Floats
        (hours,). NaN where no value is near: more than 1.5 steps are not
        bridged here, that is a named repair.
    """
    if step_s == HOUR_S and np.array_equal(places, hours):
        return values.copy()
    known = ~np.isnan(values)
    x, y = places[known], values[known]
    if x.size == 0:
        return np.full(hours.size, np.nan)
    if step_s < 3000:
        return _means_around(x, y, hours, max(1.5 * step_s, float(_HALF_WINDOW_S)))
    return _on_lines(x, y, hours)


def _on_lines(x: Seconds, y: Floats, hours: Seconds) -> Floats:
    """Values on straight lines between neighbors no more than 90 minutes apart."""
    right = np.clip(np.searchsorted(x, hours), 0, x.size - 1)
    left = np.maximum(right - 1, 0)
    exact = x[right] == hours
    width = x[right] - x[left]
    between = (x[left] <= hours) & (hours <= x[right]) & (width > 0) & (width <= _HOURLY_BRIDGE_S)
    share = np.where(between, (hours - x[left]) / np.maximum(width, 1), 0.0)
    line = y[left] + share * (y[right] - y[left])
    return np.where(exact, y[right], np.where(between, line, np.nan))


def _means_around(x: Seconds, y: Floats, hours: Seconds, bridge_s: float) -> Floats:
    """Means over half an hour before and after, less where the series begins or ends."""
    breaks = np.flatnonzero(np.diff(x) > bridge_s)
    starts = np.concatenate(([0], breaks + 1))
    ends = np.concatenate((breaks, [x.size - 1]))
    run = np.clip(np.searchsorted(x[starts], hours, side="right") - 1, 0, starts.size - 1)
    half = np.minimum(hours - x[starts[run]], x[ends[run]] - hours)
    half = np.minimum(half, _HALF_WINDOW_S)
    area = _Area(x, y)
    mean = (area.until(hours + half) - area.until(hours - half)) / np.maximum(2 * half, 1)
    at_edge = area.height(hours)
    return np.where(half > 0, mean, np.where(half == 0, at_edge, np.nan))


class _Area:
    """The area under straight lines through points."""

    def __init__(self, x: Seconds, y: Floats) -> None:
        self.x, self.y = x.astype(np.float64), y
        steps = np.diff(self.x) * (y[1:] + y[:-1]) / 2
        self.sums = np.concatenate(([0.0], np.cumsum(steps)))

    def height(self, at: Seconds | Floats) -> Floats:
        return np.interp(at, self.x, self.y)

    def until(self, at: Seconds | Floats) -> Floats:
        """Area from the first point to `at`, which is clipped to the points."""
        place = np.clip(at.astype(np.float64), self.x[0], self.x[-1])
        left = np.clip(np.searchsorted(self.x, place, side="right") - 1, 0, self.x.size - 1)
        part = (place - self.x[left]) * (self.y[left] + self.height(place)) / 2
        return np.asarray(self.sums[left] + part)


def sums_over_hours(begins: Seconds, ends: Seconds, values: Floats, hours: Seconds) -> Floats:
    """Sums over each hour of amounts that fell from `begins` to `ends`, at most an hour apart.

    NaN where the hour is not wholly covered.
    """
    if _are(begins, ends, hours):
        return values.copy()
    total, covered = _shared_out(begins, ends, values, hours, amounts=True)
    return np.where(covered >= _COVERED, total, np.nan)


def means_over_hours(begins: Seconds, ends: Seconds, values: Floats, hours: Seconds) -> Floats:
    """Means over each hour of means from `begins` to `ends`, at most an hour apart.

    NaN where less than half of the hour is covered.
    """
    if _are(begins, ends, hours):
        return values.copy()
    total, covered = _shared_out(begins, ends, values, hours, amounts=False)
    enough = covered >= _SUN_COVERED
    return np.where(enough, total / np.where(enough, covered, 1.0), np.nan)


def _are(begins: Seconds, ends: Seconds, hours: Seconds) -> bool:
    """Whether the periods are the hours themselves."""
    return np.array_equal(begins, hours) and np.array_equal(ends, hours + HOUR_S)


def _shared_out(
    begins: Seconds, ends: Seconds, values: Floats, hours: Seconds, *, amounts: bool
) -> tuple[Floats, Floats]:
    """Values times their share in each hour, and the share of the hour covered."""
    total, covered = np.zeros(hours.size), np.zeros(hours.size)
    known = ~np.isnan(values)
    begin, end, value = begins[known], ends[known], values[known]
    length = np.maximum(end - begin, 1)
    for index, overlap in _overlaps(begin, end, hours):
        inside = (index >= 0) & (index < hours.size) & (overlap > 0)
        weight = overlap / (length if amounts else HOUR_S)
        place = index[inside]
        total += np.bincount(place, (value * weight)[inside], hours.size)
        covered += np.bincount(place, (overlap / HOUR_S)[inside], hours.size)
    return total, covered


def _overlaps(begin: Seconds, end: Seconds, hours: Seconds) -> list[tuple[Seconds, Seconds]]:
    """For each period its first and its second hour, and the seconds in each."""
    first = (begin - hours[0]) // HOUR_S
    border = hours[0] + (first + 1) * HOUR_S
    return [(first, np.minimum(end, border) - begin), (first + 1, np.maximum(end - border, 0))]


def largest_over_hours(begins: Seconds, ends: Seconds, values: Floats, hours: Seconds) -> Floats:
    """The largest value of each hour; a period counts where a quarter of it falls."""
    largest = np.full(hours.size, np.nan)
    known = ~np.isnan(values)
    begin, end, value = begins[known], ends[known], values[known]
    for index, overlap in _overlaps(begin, end, hours):
        counts = overlap * 4 >= np.maximum(end - begin, 1)
        inside: Booleans = (index >= 0) & (index < hours.size) & counts
        np.fmax.at(largest, index[inside], value[inside])
    return largest
