"""Where each number of a tile of lanes stands in its one work array.

A tile is `WIDTH` lanes that go through all hours together; a row is one number
of each. One array with rows at fixed places lets the compiler see that rows
never overlap, and do several lanes at once.
"""

from __future__ import annotations

from itertools import count

WIDTH = 32  # measured; narrower ones are not done several lanes at once
_next = count(0, WIDTH)


def _row() -> int:
    """The next free row."""
    return next(_next)


def _rows(number: int) -> int:
    """The first of some rows that follow each other."""
    return min([next(_next) for _ in range(number)])


# State: leaf and stem of each layer, free water and humidity of each layer, temperatures.
MOISTURE, FILM, HUMIDITY = _rows(6), _rows(3), _rows(3)
SKIN, INTERIOR = _row(), _row()
STATE_ROWS = 14

# The windrow's numbers, in the order that `hayweather.windrow.compiled.pack` fills them.
PARAMETERS = MASS = _rows(6)
EXPONENT, AMOUNT, POWER = _rows(2), _rows(2), _rows(2)
WETTING_ODDS, FULL_SHARE, FULL_MOST, RATE = _rows(2), _rows(2), _rows(2), _rows(2)
SKY_VIEW, ALBEDO, EMISSIVITY = _row(), _row(), _row()
AIR_RESISTANCE, NIGHT_CAP, AIR_RESISTANCE_MOST = _row(), _row(), _row()
LAYER_RESISTANCE, CONDUCTION = _row(), _row()
GROUND_RESISTANCE, GROUND_HUMIDITY = _row(), _row()
KEPT_HALF, KEPT_WHOLE = _row(), _row()
LEAF_SOAK, STEM_SOAK, DRIP = _row(), _row(), _row()
LATITUDE, LONGITUDE, START = _row(), _row(), _row()
PARAMETER_ROWS = (START - PARAMETERS) // WIDTH + 1

# Weather at both ends of the hour: temperature, dew point, wind, pressure, cloud.
BEGIN, END = _rows(5), _rows(5)
SHORTWAVE, RAIN, SHAPE = _row(), _row(), _row()
GAP = _row()  # 0 where the lane is known in this hour, else NaN

# The sun of the day: its end, its angle at midnight, and what the day fixes.
DAY_END, MIDNIGHT, SUNSET = _row(), _row(), _row()
STRAIGHT, SWINGING, DISTANCE = _row(), _row(), _row()

# Between the two halves of a step.
VAPOR, WET, OVER_WATER, CEILING = _rows(3), _rows(3), _rows(2), _rows(2)
TIE_AIR, TIE_LAYER, TIE_GROUND = _row(), _row(), _row()
AIR_KPA, GROUND_KPA = _row(), _row()
PULL, ACTIVITY, TAKES_UP = _rows(6), _rows(6), _rows(6)
BEFORE, CAUGHT, UNSETTLED, INSIDE = _rows(3), _row(), _row(), _row()
SPENT, GONE, RESTS = _rows(3), _rows(3), _rows(6)

# Sums of the hour, in the order of the trajectory's fluxes; then the ledger, and the air.
SUMS = _rows(6)
LEDGER, AIR_C, SKIN_HUMIDITY = _row(), _row(), _row()
SUM_ROWS = 6

WORK_ROWS = next(_next) // WIDTH
