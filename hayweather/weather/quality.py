"""Named repairs and checks of weather values, on plain arrays.

Each repair has a name and is counted; nothing is changed in silence. What
cannot be repaired is refused by the caller, who knows the file and the line.

==========================  ====================================================
name                        what is done
==========================  ====================================================
humidity_capped             RH above 100 up to 103 %: 100 (sensor noise)
humidity_floor              RH from 0 up to 1 %: 1
dew_point_capped            dew point above the air by no more than the error of
                            both, 0.5 K and the rounding of the file: the air
dew_point_blanked           dew point further above the air: missing
sun_below_zero              shortwave from -20 up to 0 W/m2: 0 (night offset)
duplicates_averaged         rows of one time that agree within noise: their mean
gap_filled                  up to 3 missing hours of T, Td, wind: a line between
==========================  ====================================================
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.air import LOWEST_HUMIDITY_PERCENT
from hayweather.weather.record import Booleans, Floats, Times

HUMIDITY_NOISE_PERCENT = 103.0
DEW_POINT_NOISE_K = 0.5
MOST_BLANKED_SHARE = 0.02
"""More dew points beyond all error than this and the columns are not what they say (assumed)."""
LONGEST_GAP_HOURS = 3
STUCK_HOURS = 8

RANGES: dict[str, tuple[float, float]] = {
    "air_temperature_c": (-60.0, 60.0),
    "dew_point_c": (-90.0, 45.0),
    "relative_humidity_percent": (0.0, HUMIDITY_NOISE_PERCENT),
    "wind_speed_m_s": (0.0, 75.0),
    "wind_gust_m_s": (0.0, 120.0),
    "cloud_fraction": (0.0, 1.0),
    "pressure_kpa": (45.0, 110.0),
    "altimeter_kpa": (85.0, 110.0),
    "sea_level_pressure_kpa": (85.0, 110.0),
    "shortwave_w_m2": (-20.0, 1600.0),
    "rain_mm": (0.0, 310.0),
    "rain_chance_percent": (0.0, 100.0),
    "thunder_chance_percent": (0.0, 100.0),
    "lightning_level": (0.0, 10.0),
    "weather_code": (0.0, 99.0),
    "red_flag": (0.0, 10.0),
}
"""What is possible on a hay field, inside units. Beyond the records of the World
Meteorological Organization (56.7 C, 113 m/s gust, 305 mm in an hour, 108.5 kPa)."""

NOISE: dict[str, float] = {
    "air_temperature_c": 0.6,
    "dew_point_c": 0.6,
    "relative_humidity_percent": 3.0,
    "wind_speed_m_s": 0.6,
    "wind_gust_m_s": 0.6,
    "cloud_fraction": 0.13,
    "pressure_kpa": 0.1,
    "altimeter_kpa": 0.1,
    "sea_level_pressure_kpa": 0.1,
    "shortwave_w_m2": 20.0,
    "rain_mm": 0.1,
}
"""Two readings of one time that differ by no more than this are the same (assumed)."""


@dataclass(frozen=True)
class Repair:
    """One named thing that was done to one column, and how often.

    Attributes
    ----------
    name
        Text ``repair_<name>``, ``refused_<name>`` or ``flag_<name>`` in `hayweather.words`.
    column
        Column of the record, or empty when it concerns whole rows.
    count
        How many values, rows or hours.
    first
        UTC time of the first, None when unknown.
    line
        Line of the file of the first, None when it is an hour of the record.
    """

    name: str
    column: str
    count: int
    first: np.datetime64 | None = None
    line: int | None = None


def counted(
    name: str,
    column: str,
    where: Booleans,
    stamps: Times,
    lines: Sequence[int] | NDArray[np.int64],
) -> tuple[Repair, ...]:
    """The repair `name` with its count and first row, (rows,); nothing where none was done."""
    if not where.any():
        return ()
    first = int(where.argmax())
    return (Repair(name, column, int(where.sum()), stamps[first], int(lines[first])),)


def outside(values: Floats, column: str) -> list[int]:
    """Indexes of the values that are not possible for `column`.

    Examples
    --------
    >>> outside(np.array([12.0, np.nan, 140.0]), "relative_humidity_percent")
    [2]
    """
    low, high = RANGES[column]
    with np.errstate(invalid="ignore"):
        return [int(row) for row in np.flatnonzero((values < low) | (values > high))]


def first_outside(values: Floats, column: str) -> int | None:
    """Index of the first value that is not possible for `column`; None when all are."""
    found = outside(values, column)
    return found[0] if found else None


def cap_humidity(humidity_percent: Floats) -> tuple[Floats, dict[str, Booleans]]:
    """Cap RH [%] at 100 and lift it to 1; which values were, by name of the repair.

    Parameters
    ----------
    humidity_percent
        Any shape; NaN stays.
    """
    with np.errstate(invalid="ignore"):
        above = humidity_percent > 100.0
        below = humidity_percent < LOWEST_HUMIDITY_PERCENT
    capped = np.clip(humidity_percent, LOWEST_HUMIDITY_PERCENT, 100.0)
    return capped, {"humidity_capped": above, "humidity_floor": below}


def cap_dew_point(dew_point_c: Floats, air_temperature_c: Floats) -> tuple[Floats, Booleans]:
    """Dew point [C] capped at the air temperature [C], and where it was.

    Parameters
    ----------
    dew_point_c, air_temperature_c
        Of the same hours and shape; NaN stays.
    """
    with np.errstate(invalid="ignore"):
        above = dew_point_c > air_temperature_c
    return np.where(above, air_temperature_c, dew_point_c), above


def dew_point_beyond_noise(
    dew_point_c: Floats, air_temperature_c: Floats, rounding_k: float = 0.0
) -> Booleans:
    """Where a dew point stands above the air by more than sensors and rounding explain.

    Parameters
    ----------
    dew_point_c, air_temperature_c
        Of the same hours and shape; NaN is not beyond.
    rounding_k
        Half the last digit of the file [K].
    """
    with np.errstate(invalid="ignore"):
        above = dew_point_c - air_temperature_c
        return np.asarray(above > DEW_POINT_NOISE_K + rounding_k + 1e-9)


def half_digit(values: Floats) -> float:
    """Half the last digit in which numbers are written, of tenths to thousandths and whole ones.

    Examples
    --------
    >>> half_digit(np.array([12.5, 11.0, np.nan])), half_digit(np.array([54.0, 61.0]))
    (0.05, 0.5)
    """
    known = values[np.isfinite(values)]
    for digits in range(3):
        if (np.abs(known - np.round(known, digits)) < 1e-6).all():
            return float(0.5 * 10.0**-digits)
    return 0.0005


def lift_sun(shortwave_w_m2: Floats) -> tuple[Floats, Booleans]:
    """Shortwave [W/m2] with the small negative values of a night sensor read as 0.

    Parameters
    ----------
    shortwave_w_m2
        Mean of each hour, any shape; NaN stays.
    """
    with np.errstate(invalid="ignore"):
        below = shortwave_w_m2 < 0.0
    return np.where(below, 0.0, shortwave_w_m2), below


def fill_short_gaps(
    values: Floats, longest_hours: int = LONGEST_GAP_HOURS
) -> tuple[Floats, Booleans]:
    """Fill gaps of up to `longest_hours` in an hourly series with a straight line.

    Parameters
    ----------
    values
        Hourly instants, (hours,). Gaps at either end stay.

    Returns
    -------
    tuple
        The series and where it was filled.

    Examples
    --------
    >>> fill_short_gaps(np.array([1.0, np.nan, 3.0]))[0].tolist()
    [1.0, 2.0, 3.0]
    """
    blank = np.isnan(values)
    if blank.all() or not blank.any():
        return values.copy(), np.zeros(values.shape, dtype=bool)
    known = np.flatnonzero(~blank)
    hours = np.flatnonzero(blank)
    after = np.searchsorted(known, hours)
    inside = (after > 0) & (after < known.size)
    hours, after = hours[inside], after[inside]
    short = known[after] - known[after - 1] <= longest_hours + 1
    filled = values.copy()
    filled[hours[short]] = np.interp(hours[short], known, values[known])
    return filled, np.isnan(values) & ~np.isnan(filled)


def stuck_runs(values: Floats, hours: int = STUCK_HOURS) -> list[tuple[int, int]]:
    """Runs of at least `hours` equal hourly values, as (first index, length).

    Examples
    --------
    >>> stuck_runs(np.array([1.0] + [2.0] * 9 + [3.0]))
    [(1, 9)]
    """
    changed = values[1:] != values[:-1]
    if changed.size - np.count_nonzero(changed) < hours - 1 or not values.size:
        return []
    changes = np.flatnonzero(changed) + 1
    starts = np.concatenate(([0], changes))
    lengths = np.diff(np.concatenate((starts, [values.size])))
    long = (lengths >= hours) & ~np.isnan(values[starts])
    return [(int(s), int(n)) for s, n in zip(starts[long], lengths[long], strict=True)]
