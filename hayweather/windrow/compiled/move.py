"""Second half of a step of one lane: vapor and free water are moved, and added up.

Without a branch, as the first half (`hayweather.windrow.compiled.balance`).
"""

from __future__ import annotations

from typing import Any

from hayweather.weather.record import Floats
from hayweather.windrow.compiled import rows as at
from hayweather.windrow.compiled.lane import (
    free_water,
    hay_water,
    layer_mass,
    ties_at,
    uptake_at,
)
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.compiled.shared import (
    drawn_in,
    dripping,
    inlined,
    maximum,
    minimum,
    supply,
    vapor_moved,
    where,
)


@inlined
def _layer_moves(
    work: Floats, lane: int, layer: int, over_water: float, gained: float, seconds: float
) -> float:
    """Vapor into leaf, stem and film of a layer; how far the film fell below zero."""
    row, leaf = layer * WIDTH + lane, 2 * layer * WIDTH + lane
    stem = leaf + WIDTH
    humidity = work[at.VAPOR + row] / over_water
    leaf_uptake, stem_uptake = uptake_at(work, leaf, humidity), uptake_at(work, stem, humidity)
    kept = work[at.BEFORE + row] + (gained - leaf_uptake - stem_uptake) * seconds
    film = where(work[at.WET + row] > 0.0, kept, 0.0)
    work[at.MOISTURE + leaf] += leaf_uptake * seconds / work[at.MASS + leaf]
    work[at.MOISTURE + stem] += stem_uptake * seconds / work[at.MASS + stem]
    work[at.FILM + row] = maximum(film, 0.0)
    work[at.HUMIDITY + row] = minimum(humidity, 1.0)
    return minimum(film, 0.0)


@inlined
def _soak_organ(work: Floats, place: int, most: float, share: float, film: float) -> float:
    """Free water into a leaf or stem [kg/m2]."""
    mass = work[at.MASS + place]
    room = maximum(most - work[at.MOISTURE + place], 0.0) * mass
    taken = drawn_in(film, share, room)
    work[at.MOISTURE + place] += taken / mass
    return taken


@inlined
def _soak(work: Floats, lane: int, layer: int, frozen: bool) -> float:
    """Free water into leaf and stem of a layer, and what then falls to the next [kg/m2]."""
    row, leaf = at.FILM + layer * WIDTH + lane, 2 * layer * WIDTH + lane
    thawed = where(frozen, 0.0, 1.0)
    film = work[row]
    film -= _soak_organ(
        work, leaf, work[at.FULL_MOST + lane], work[at.LEAF_SOAK + lane] * thawed, film
    )
    film -= _soak_organ(
        work, leaf + WIDTH, work[at.FULL_MOST + WIDTH + lane],
        work[at.STEM_SOAK + lane] * thawed, film,
    )  # fmt: skip
    falls = dripping(film, layer_mass(work, lane, layer), frozen, work[at.DRIP + lane])
    work[row] = film - falls
    return falls


@inlined
def move(work: Floats, lane: int, seconds: float) -> None:
    """Second half of a step: vapor and free water are moved, and added up.

    Parameters
    ----------
    work
        The tile's work array.
    lane
        Which of its lanes.
    seconds
        Length of the step.
    """
    ties, row, caught = ties_at(work, lane), at.VAPOR + lane, work[at.CAUGHT + lane]
    before = hay_water(work, lane) + free_water(work, lane)
    vapor = (work[row], work[row + WIDTH], work[row + 2 * WIDTH])
    gained, over = supply(ties, vapor), ties.over_water
    short = _layer_moves(work, lane, 0, over[0], gained[0], seconds)
    short += _layer_moves(work, lane, 1, over[1], gained[1], seconds)
    short += _layer_moves(work, lane, 2, over[2], gained[2], seconds)
    saturated = work[at.WET + lane] > 0.0
    from_air, from_ground, dew, internal = vapor_moved(ties, vapor, saturated, short, seconds)
    inside_frozen = work[at.INSIDE + lane] < 0.0
    to_middle = _soak(work, lane, 0, work[at.SKIN + lane] < 0.0)
    to_bottom = _soak(work, lane, 1, inside_frozen)
    runoff = _soak(work, lane, 2, inside_frozen)
    work[at.FILM + WIDTH + lane] += to_middle
    work[at.FILM + 2 * WIDTH + lane] += to_bottom
    air_c = work[at.AIR_C + lane]
    work[at.INTERIOR + lane] = (
        air_c + (work[at.INTERIOR + lane] - air_c) * work[at.KEPT_WHOLE + lane]
    )
    after = hay_water(work, lane) + free_water(work, lane)
    error = abs(after - before - (from_air + from_ground + caught - runoff))
    work[at.LEDGER + lane] = maximum(work[at.LEDGER + lane], error)
    work[at.SKIN_HUMIDITY + lane] = ties.air_kpa / ties.ceiling[0]
    _add(work, lane, (dew, internal, from_air, from_ground, caught, runoff))


@inlined
def _add(work: Floats, lane: int, moved: Any) -> None:
    """Add what a step moved to the sums of the hour."""
    first = at.SUMS + lane
    work[first] += moved[0]
    work[first + WIDTH] += moved[1]
    work[first + 2 * WIDTH] += moved[2]
    work[first + 3 * WIDTH] += moved[3]
    work[first + 4 * WIDTH] += moved[4]
    work[first + 5 * WIDTH] += moved[5]
