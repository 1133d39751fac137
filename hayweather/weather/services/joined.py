"""Hours that a newer answer no longer has, from answers of the same place stored before it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from hayweather.weather.record import EARLIER, HOUR, Assumption, HourlyWeather

MOST_HOURS_BACK = 5 * 24
"""As far as a start after rain reaches back, and a day more."""


def with_earlier(weather: HourlyWeather, earlier: Iterable[HourlyWeather]) -> HourlyWeather:
    """The weather with the hours before it that earlier answers hold, marked as theirs.

    The newest of them that holds an hour gives it, all its columns; what it lacks
    stays unknown, and a column that the newest answer lacks stays out.

    Parameters
    ----------
    weather
        One lane.
    earlier
        Of the same place, the newest first, one lane each.
    """
    begin, pieces = weather.start[0], []
    limit = begin - MOST_HOURS_BACK * HOUR
    for older in earlier:
        first = max(older.start[0], limit)
        if not first < begin:
            continue
        count = int((begin - first) / HOUR)
        skip = int((first - older.start[0]) / HOUR)
        pieces.append((older.between(skip, min(skip + count, older.hours)), first))
        begin = first
    added = int((weather.start[0] - begin) / HOUR)
    if not added:
        return weather
    columns = {
        name: np.concatenate([np.full((added, 1), np.nan), values])
        for name, values in weather.columns.items()
    }
    repaired = np.concatenate([np.zeros((added, 1), dtype=bool), weather.repaired])
    basis = np.concatenate([np.full((added, 1), EARLIER, dtype=np.uint8), weather.basis])
    known = np.zeros(added, dtype=bool)
    for piece, first in pieces:
        row = int((first - begin) / HOUR)
        rows = slice(row, row + piece.hours)
        for name, values in piece.columns.items():
            if name in columns:
                columns[name][rows] = values
        repaired[rows] = piece.repaired
        basis[rows] = piece.basis | EARLIER
        known[rows] = True
    told = Assumption("hours_from_earlier", {"count": f"{int(known.sum())}"})
    return replace(
        weather,
        start=np.array([begin]),
        columns=columns,
        repaired=repaired,
        basis=basis,
        humidity_percent=None,
        assumed=(*weather.assumed, told),
    )
