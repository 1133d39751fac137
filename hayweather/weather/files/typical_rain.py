"""Rain of typical-year files, whose header says mm and whose numbers may be tenths.

US typical years carry the station archive's whole numbers in tenths of mm
under a header that says mm: gauges there tip at 0.01 inch, so the numbers are
3, 5, 8, 10, 13 ..., the multiples of 2.54 (Greensboro NC, TMY3: 98 % of 358 wet
hours; read as mm its year would have 8,345 mm and two hours of 500 mm).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hayweather.weather.files.table import FileColumn
from hayweather.weather.quality import Repair, counted
from hayweather.weather.record import Booleans, Floats, Times

_ENOUGH_WET_HOURS = 10
_SHARE = 0.85
_TIPS = frozenset(round(2.54 * tips) for tips in range(1, 400))


def in_mm(
    rain: FileColumn, hours: Floats, stamps: Times, lines: Sequence[int]
) -> tuple[FileColumn, tuple[Repair, ...], tuple[Repair, ...]]:
    """Rain of single hours in mm, as far as the numbers show their unit.

    Parameters
    ----------
    rain
        As read, in the header's mm.
    hours
        Over how many hours each value was collected; others than 1 are no rain
        of an hour (0 stands in files that never measured it).

    Returns
    -------
    tuple
        The column; the repair ``rain_in_tenths``; the refused values
        ``rain_unit_unclear`` of files with too few wet hours to tell.
    """
    values = np.where(hours == 1.0, rain.values, np.nan)
    wet: Booleans = np.nan_to_num(values) > 0
    whole = bool((values[wet] == np.round(values[wet])).all())
    if not wet.any() or not whole:
        return replace(rain, values=values), (), ()
    if int(wet.sum()) < _ENOUGH_WET_HOURS:
        refused = counted("rain_unit_unclear", "rain_mm", wet, stamps, lines)
        return replace(rain, values=np.where(wet, np.nan, values)), (), refused
    tips = np.array([int(value) in _TIPS for value in values[wet]])
    if tips.mean() < _SHARE:
        return replace(rain, values=values), (), ()
    repairs = counted("rain_in_tenths", "rain_mm", wet, stamps, lines)
    unit = replace(rain.unit, symbol="mm/10", factor=rain.unit.factor / 10)
    return replace(rain, values=values / 10, unit=unit), repairs, ()
