"""Films and resting hay of one lane, as `hayweather.windrow.vapor_flow.settle` finds them."""

from __future__ import annotations

from typing import Any

from hayweather.weather.record import Floats
from hayweather.windrow.compiled import rows as at
from hayweather.windrow.compiled.lane import (
    against_branch,
    below_floor,
    ties_at,
    uptake_at,
)
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.compiled.shared import inlined, solve_vapor, supply
from hayweather.windrow.vapor_flow import OVER_SATURATION, SETTLING_PASSES


@inlined
def _conductance(work: Floats, lane: int, layer: int) -> float:
    """Conductance of a layer's hay."""
    leaf = at.PULL + 2 * layer * WIDTH + lane
    return work[leaf] + work[leaf + WIDTH]


@inlined
def _release(work: Floats, lane: int, layer: int) -> float:
    """What a layer gives off: its hay, and a film that is spent within the step."""
    leaf = 2 * layer * WIDTH + lane
    stem = leaf + WIDTH
    hay = (
        work[at.PULL + leaf] * work[at.ACTIVITY + leaf]
        + work[at.PULL + stem] * work[at.ACTIVITY + stem]
    )
    return hay + work[at.SPENT + layer * WIDTH + lane]


@inlined
def _solve(work: Floats, lane: int, ties: Any) -> None:
    """Write the vapor pressures for the films and the hay that take part now."""
    row = at.WET + lane
    total = (_conductance(work, lane, 0), _conductance(work, lane, 1), _conductance(work, lane, 2))
    release = (_release(work, lane, 0), _release(work, lane, 1), _release(work, lane, 2))
    wet = (work[row] > 0.0, work[row + WIDTH] > 0.0, work[row + 2 * WIDTH] > 0.0)
    vapor = solve_vapor(ties, total, release, wet)
    for layer in range(3):
        work[at.VAPOR + layer * WIDTH + lane] = vapor[layer]


@inlined
def _film_changes(
    work: Floats, lane: int, layer: int, ceiling: float, left: float, seconds: float
) -> bool:
    """Let a layer's film begin or be spent, where it must; True if one did."""
    row = layer * WIDTH + lane
    if work[at.WET + row] > 0.0:
        if left >= 0.0:
            return False
        work[at.WET + row], work[at.GONE + row] = 0.0, 1.0
        work[at.SPENT + row] = work[at.BEFORE + row] / seconds
        return True
    begins = work[at.VAPOR + row] > ceiling * OVER_SATURATION and work[at.GONE + row] == 0.0
    if begins:
        work[at.WET + row] = 1.0
    return begins


@inlined
def _films_change(work: Floats, lane: int, ties: Any, seconds: float) -> bool:
    """Let the films of all layers begin or be spent; True if one did."""
    row = at.VAPOR + lane
    gained = supply(ties, (work[row], work[row + WIDTH], work[row + 2 * WIDTH]))
    changed = False
    for layer in range(3):
        leaf = 2 * layer * WIDTH + lane
        humidity = work[row + layer * WIDTH] / ties.over_water[layer]
        taken = uptake_at(work, leaf, humidity) + uptake_at(work, leaf + WIDTH, humidity)
        left = work[at.BEFORE + layer * WIDTH + lane] + (gained[layer] - taken) * seconds
        changed |= _film_changes(work, lane, layer, ties.ceiling[layer], left, seconds)
    return changed


@inlined
def _hay_rests(work: Floats, lane: int, ties: Any, judge: bool, seconds: float) -> bool:
    """Let hay rest that is at its floor, or on the wrong branch; True if some does."""
    changed = False
    for place in range(6):
        layer, organ = place // 2, place * WIDTH + lane
        humidity = work[at.VAPOR + layer * WIDTH + lane] / ties.over_water[layer]
        uptake = uptake_at(work, organ, humidity)
        still = below_floor(work, organ, uptake, seconds)
        still |= judge and against_branch(work, organ, humidity)
        if still:
            work[at.RESTS + organ] = 1.0
            changed = True
    return changed


@inlined
def settle(work: Floats, lane: int, seconds: float) -> None:
    """Find which films of a lane hold, which are spent, and which of its hay rests.

    Parameters
    ----------
    work
        The tile's work array.
    lane
        Which of its lanes.
    seconds
        Length of the step.
    """
    ties = ties_at(work, lane)
    for layer in range(3):
        work[at.SPENT + layer * WIDTH + lane] = work[at.GONE + layer * WIDTH + lane] = 0.0
    judged = False
    for _ in range(SETTLING_PASSES):
        for organ in range(6):
            work[at.RESTS + organ * WIDTH + lane] = 0.0
        films = _films_change(work, lane, ties, seconds)
        rests = _hay_rests(work, lane, ties, not (judged or films), seconds)
        judged |= not films
        if not (films or rests):
            return
        for organ in range(6):
            if work[at.RESTS + organ * WIDTH + lane] > 0.0:
                work[at.PULL + organ * WIDTH + lane] = 0.0
        _solve(work, lane, ties)
