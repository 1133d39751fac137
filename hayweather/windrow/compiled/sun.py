"""How the sun of an hour is spread over its steps, for the lanes of a tile."""

from __future__ import annotations

import math

from hayweather.weather.record import Floats
from hayweather.windrow.compiled import rows as at
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.compiled.shared import (
    cosine,
    declination,
    hour_angle,
    inlined,
    maximum,
    mean_height,
    sine,
    where,
    whole,
)

DAY_S, TURN_PER_S = 86400.0, math.pi / 43200


@inlined
def day_of_year(day: int) -> int:
    """Day of the year, 1 to 366, of a count of days from 1970-01-01.

    Counted in eras of 400 years that begin in March, so that a leap day is the
    last of its year.

    Parameters
    ----------
    day
        Days since 1970-01-01.
    """
    shifted = day + 719468
    of_era = shifted % 146097
    year = (of_era - of_era // 1460 + of_era // 36524 - of_era // 146096) // 365
    from_march = of_era - (365 * year + year // 4 - year // 100)
    if from_march >= 306:
        return from_march - 305
    leap = (year % 4 == 0) and (year % 100 != 0 or year % 400 == 0)
    return from_march + (61 if leap else 60)


@whole
def _new_day(work: Floats, lane: int, second: float) -> None:
    """Write what a day fixes of the sun's course."""
    number = math.floor(second / DAY_S)
    day = float(day_of_year(int(number)))
    phi, tilt = math.radians(work[at.LATITUDE + lane]), declination(day)
    rises = -math.tan(phi) * math.tan(tilt)
    work[at.DAY_END + lane] = (number + 1) * DAY_S
    work[at.MIDNIGHT + lane] = hour_angle(0.0, day, work[at.LONGITUDE + lane])
    work[at.SUNSET + lane] = math.acos(min(max(rises, -1.0), 1.0))
    work[at.STRAIGHT + lane] = sine(phi) * sine(tilt)
    work[at.SWINGING + lane] = cosine(phi) * cosine(tilt)


@whole
def _heights(
    work: Floats, shapes: Floats, width: int, place: int, second: float, half: float
) -> None:
    """Mean height of the sun in one step, `second` after each lane's start."""
    for lane in range(width):
        now = work[at.START + lane] + second
        if not work[at.DAY_END + lane] - DAY_S <= now < work[at.DAY_END + lane]:
            _new_day(work, lane, now)
    for lane in range(width):
        since = work[at.START + lane] + second - (work[at.DAY_END + lane] - DAY_S)
        angle = work[at.MIDNIGHT + lane] + since * TURN_PER_S
        height = mean_height(
            angle,
            half,
            work[at.SUNSET + lane],
            work[at.STRAIGHT + lane],
            work[at.SWINGING + lane],
        )
        shapes[place + lane] = maximum(height, 0.0)


@whole
def spread_sun(work: Floats, shapes: Floats, hour: int, middles: Floats) -> None:
    """Sun of each step of an hour over its mean [-], 1 in the dark.

    Parameters
    ----------
    work
        The tile's work array.
    shapes
        Filled, (steps * WIDTH,).
    hour
        Which hour of the run.
    middles
        Seconds from the hour's start to the middle of each step.
    """
    count = middles.size
    for index in range(count):
        second = hour * 3600.0 + middles[index]
        _heights(work, shapes, WIDTH, index * WIDTH, second, math.pi / 24 / count)
    for lane in range(WIDTH):
        total = 0.0
        for index in range(count):
            total += shapes[index * WIDTH + lane]
        shown = total > 0.0
        factor = count / where(shown, total, 1.0)
        for index in range(count):
            place = index * WIDTH + lane
            shapes[place] = where(shown, shapes[place] * factor, 1.0)
