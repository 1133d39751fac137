"""Where the values of a column lie in time, given its stamps and the hour convention."""

from __future__ import annotations

import numpy as np

from hayweather.weather.files.check import seconds
from hayweather.weather.files.table import FileColumn, FileTable, Integers

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
