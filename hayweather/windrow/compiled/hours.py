"""The loop over hours, a tile of lanes at a time."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from hayweather.weather.record import Floats
from hayweather.windrow.compiled import rows as at
from hayweather.windrow.compiled.balance import balance
from hayweather.windrow.compiled.lane import free_water, hay_water
from hayweather.windrow.compiled.move import move
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.compiled.settling import settle
from hayweather.windrow.compiled.shared import Function, inlined, record, whole
from hayweather.windrow.compiled.sun import spread_sun
from hayweather.windrow.parameters import LAYER_SHARES
from hayweather.windrow.trajectory import QUARTERS

TOP, MIDDLE, BOTTOM = LAYER_SHARES

Given = record(
    "Given",
    "parameters temperature dew_point wind pressure cloud_start cloud_end shortwave rain "
    "equilibrium_row may_start equilibrium state_row states middles",
    __name__,
    "What a run reads, all arrays with lanes last; see `hayweather.windrow.compiled.pack`.",
)

Found = record(
    "Found",
    "states sums ledger started final",
    __name__,
    "What a run fills, all arrays with lanes last.",
)


@inlined
def _load(work: Floats, row: int, values: Floats, first: int) -> None:
    """A row of the tile from an array (lanes,); beyond its end the last lane again."""
    last = values.size - 1
    for lane in range(WIDTH):
        work[row + lane] = values[min(first + lane, last)]


@whole
def _load_hour(work: Floats, given: Any, hour: int, first: int) -> bool:
    """The weather of an hour; True where the sun shines on some lane."""
    for shift in range(2):
        row = at.BEGIN + shift * (at.END - at.BEGIN)
        _load(work, row, given.temperature[hour + shift], first)
        _load(work, row + WIDTH, given.dew_point[hour + shift], first)
        _load(work, row + 2 * WIDTH, given.wind[hour + shift], first)
        _load(work, row + 3 * WIDTH, given.pressure[hour + shift], first)
    _load(work, at.BEGIN + 4 * WIDTH, given.cloud_start[hour], first)
    _load(work, at.END + 4 * WIDTH, given.cloud_end[hour], first)
    _load(work, at.SHORTWAVE, given.shortwave[hour], first)
    _load(work, at.RAIN, given.rain[hour], first)
    shines = False
    for lane in range(WIDTH):
        shines |= work[at.SHORTWAVE + lane] > 0.0
    return shines


@inlined
def _begin_in_equilibrium(work: Floats, lane: int, values: Floats, place: int) -> None:
    """The state in equilibrium with the air of the hour's start."""
    for layer in range(3):
        work[at.MOISTURE + 2 * layer * WIDTH + lane] = values[0, place]
        work[at.MOISTURE + (2 * layer + 1) * WIDTH + lane] = values[1, place]
        work[at.FILM + layer * WIDTH + lane] = 0.0
        work[at.HUMIDITY + layer * WIDTH + lane] = values[2, place]
    work[at.SKIN + lane] = work[at.INTERIOR + lane] = work[at.BEGIN + lane]


@whole
def _begin(work: Floats, given: Any, hour: int, lane: int, place: int) -> bool:
    """Start a lane anew where this hour lets it; True if it was."""
    fresh = False
    row = given.equilibrium_row[hour]
    if row >= 0 and given.may_start[row, place]:
        dew_point = work[at.BEGIN + WIDTH + lane]
        if math.isnan(work[at.SKIN + lane]) and math.isfinite(dew_point):
            _begin_in_equilibrium(work, lane, given.equilibrium[row], place)
            fresh = True
    row = given.state_row[hour]
    if row >= 0:
        moisture = 0.0
        for number in range(6):
            moisture += given.states[row, number, place]
        if math.isfinite(moisture):
            for number in range(at.STATE_ROWS):
                work[at.MOISTURE + number * WIDTH + lane] = given.states[row, number, place]
            fresh = True
    return fresh


@inlined
def _forget(work: Floats, lane: int) -> None:
    """Nothing is known of a lane any more."""
    for number in range(at.STATE_ROWS):
        work[at.MOISTURE + number * WIDTH + lane] = math.nan


@whole
def _find_gap(work: Floats, lane: int) -> None:
    """Make a lane unknown whose weather or state is."""
    known = work[at.SHORTWAVE + lane] + work[at.RAIN + lane] + work[at.SKIN + lane]
    for number in range(5):
        known += work[at.BEGIN + number * WIDTH + lane] + work[at.END + number * WIDTH + lane]
    known += hay_water(work, lane) + free_water(work, lane) + work[at.INTERIOR + lane]
    if math.isfinite(known):
        work[at.GAP + lane] = 0.0
    else:
        work[at.GAP + lane] = math.nan
        _forget(work, lane)


@whole
def _keep(work: Floats, states: Floats, row: int, lane: int, place: int) -> None:
    """The state of a lane as the trajectory shows it."""
    first, mass = at.MOISTURE + lane, at.MASS + lane
    leaf, stem = first + 4 * WIDTH, first + 5 * WIDTH
    leaf_mass, stem_mass = work[mass + 4 * WIDTH], work[mass + 5 * WIDTH]
    total = 0.0
    for number in range(6):
        total += work[mass + number * WIDTH]
    free = free_water(work, lane)
    states[0, row, place] = (
        TOP * work[first] + MIDDLE * work[first + 2 * WIDTH] + BOTTOM * work[leaf]
    )
    states[1, row, place] = (
        TOP * work[first + WIDTH] + MIDDLE * work[first + 3 * WIDTH] + BOTTOM * work[stem]
    )
    states[2, row, place] = (hay_water(work, lane) + free) / total
    states[3, row, place] = (work[leaf] * leaf_mass + work[stem] * stem_mass) / (
        leaf_mass + stem_mass
    )
    states[4, row, place] = free
    states[5, row, place] = work[at.SKIN + lane]


@whole
def _balance(work: Floats, width: int, part: float, seconds: float) -> None:
    """The first half of a step in all lanes; of a count unknown here, lest they be unrolled."""
    for lane in range(width):
        balance(work, lane, part, seconds)


@whole
def _settle(work: Floats, width: int, seconds: float) -> None:
    """Films and resting hay of the lanes that ask for it."""
    for lane in range(width):
        if work[at.UNSETTLED + lane] > 0.0 and work[at.GAP + lane] == 0.0:
            settle(work, lane, seconds)


@whole
def _move(work: Floats, width: int, seconds: float) -> None:
    """The second half of a step in all lanes."""
    for lane in range(width):
        move(work, lane, seconds)


@whole
def _begin_hour(work: Floats, given: Any, found: Any, hour: int, first: int, count: int) -> None:
    """Starts, gaps and empty sums of an hour."""
    for lane in range(WIDTH):
        place = min(first + lane, first + count - 1)
        fresh = _begin(work, given, hour, lane, place)
        if lane < count:
            found.started[hour, place] = fresh
            if fresh or hour == 0:
                _keep(work, found.states, QUARTERS * hour, lane, place)
        _find_gap(work, lane)
        for number in range(at.SUM_ROWS):
            work[at.SUMS + number * WIDTH + lane] = 0.0
        work[at.LEDGER + lane] = 0.0


@whole
def _end_quarter(work: Floats, found: Any, row: int, first: int, count: int) -> None:
    """The states at a quarter-hour boundary."""
    for lane in range(WIDTH):
        if math.isnan(work[at.GAP + lane]):
            _forget(work, lane)
            work[at.SKIN_HUMIDITY + lane] = math.nan
    for lane in range(count):
        _keep(work, found.states, row, lane, first + lane)
        found.states[6, row, first + lane] = work[at.SKIN_HUMIDITY + lane]


@whole
def _end_hour(work: Floats, found: Any, hour: int, first: int, count: int) -> None:
    """The sums of an hour."""
    for lane in range(count):
        gap = work[at.GAP + lane]
        for number in range(at.SUM_ROWS):
            found.sums[number, hour, first + lane] = work[at.SUMS + number * WIDTH + lane] + gap
        found.ledger[hour, first + lane] = work[at.LEDGER + lane] + gap


@whole
def _run_hour(
    work: Floats, shapes: Floats, given: Any, found: Any, hour: int, first: int, count: int
) -> None:
    """All steps of an hour."""
    steps = given.middles.size
    shines = _load_hour(work, given, hour, first)
    _begin_hour(work, given, found, hour, first, count)
    if shines:
        spread_sun(work, shapes, hour, given.middles)
    for index in range(steps):
        for lane in range(WIDTH):
            work[at.SHAPE + lane] = shapes[index * WIDTH + lane] if shines else 1.0
        _balance(work, WIDTH, (index + 0.5) / steps, 3600.0 / steps)
        _settle(work, WIDTH, 3600.0 / steps)
        _move(work, WIDTH, 3600.0 / steps)
        if (index + 1) * QUARTERS % steps == 0:
            row = QUARTERS * hour + (index + 1) * QUARTERS // steps
            _end_quarter(work, found, row, first, count)
    _end_hour(work, found, hour, first, count)


@whole
def _follow_tile(
    work: Floats, shapes: Floats, given: Any, found: Any, first: int, count: int
) -> None:
    """A tile of lanes through all hours."""
    for number in range(at.PARAMETER_ROWS):
        _load(work, at.PARAMETERS + number * WIDTH, given.parameters[number], first)
    for lane in range(WIDTH):
        _forget(work, lane)
        work[at.DAY_END + lane] = -math.inf
    for hour in range(given.rain.shape[0]):
        _run_hour(work, shapes, given, found, hour, first, count)
    for lane in range(count):
        for number in range(at.STATE_ROWS):
            found.final[number, first + lane] = work[at.MOISTURE + number * WIDTH + lane]


def follow_of(fingerprint: str) -> Function:
    """The whole loop, not yet compiled: ``follow(given, found, begin, end)``.

    It reads a `Given`, fills a `Found`, for the lanes ``begin`` to ``end - 1``.

    Parameters
    ----------
    fingerprint
        Of the sources. What is kept on disk is found again by what the function
        closes over, so that a changed formula is never served by an old build.
    """

    def follow(given: Any, found: Any, begin: int, end: int) -> None:
        if fingerprint == "":  # pragma: no cover - never so; it is closed over for the build
            return
        work = np.zeros(at.WORK_ROWS * WIDTH)
        shapes = np.ones(given.middles.size * WIDTH)
        for first in range(begin, end, WIDTH):
            _follow_tile(work, shapes, given, found, first, min(WIDTH, end - first))

    return follow
