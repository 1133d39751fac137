"""First half of a step of one lane: the skin, and the vapor of the layers.

The same order and the same formulas as `hayweather.windrow.layers.step`. All is
written without a branch, so that the compiler does several lanes at once; what
needs branches, films and resting hay, is settled between the halves for the few
lanes that ask for it (`hayweather.windrow.compiled.settling`).
"""

from __future__ import annotations

from typing import Any

from hayweather.weather.record import Floats
from hayweather.windrow.compiled import rows as at
from hayweather.windrow.compiled.lane import (
    against_branch,
    air_at,
    below_floor,
    free_water,
    hay_water,
    layer_mass,
    ties_at,
    uptake_at,
    windrow_at,
)
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.compiled.shared import (
    TopAir,
    activity_pair,
    air_resistance,
    eliminate_below,
    expm1,
    frost_limit,
    gives_off,
    inlined,
    minimum,
    moisture_scale,
    newton_pass,
    pace,
    pull_of,
    rain_caught,
    saturation_vapor_pressure,
    solve_vapor,
    supply,
    where,
)
from hayweather.windrow.vapor_flow import OVER_SATURATION


@inlined
def _catch_rain(work: Floats, lane: int, rain_mm: float) -> None:
    """The films with the rain of the step on the top, and how much was caught."""
    mass = layer_mass(work, lane, 0) + layer_mass(work, lane, 1) + layer_mass(work, lane, 2)
    water = hay_water(work, lane) + free_water(work, lane)
    caught = where(rain_mm > 0.0, rain_caught(rain_mm, water, mass), 0.0)
    work[at.CAUGHT + lane] = caught
    work[at.BEFORE + lane] = work[at.FILM + lane] + caught
    work[at.BEFORE + WIDTH + lane] = work[at.FILM + WIDTH + lane]
    work[at.BEFORE + 2 * WIDTH + lane] = work[at.FILM + 2 * WIDTH + lane]


@inlined
def _organ(
    work: Floats, lane: int, layer: int, organ: int, scale: float, speed: float, seconds: float
) -> Any:
    """The exchange of one leaf or stem: its conductance, and that times its activity."""
    place, own = (2 * layer + organ) * WIDTH + lane, organ * WIDTH + lane
    moisture, humidity = work[at.MOISTURE + place], work[at.HUMIDITY + layer * WIDTH + lane]
    amount = work[at.AMOUNT + own] * scale
    full = minimum(work[at.FULL_SHARE + own] * amount, work[at.FULL_MOST + own])
    drying, wetting = activity_pair(
        moisture, amount, work[at.POWER + own], work[at.WETTING_ODDS + own]
    )
    share = -expm1(-work[at.RATE + own] * speed)
    takes_up = (humidity > wetting) & (moisture < full)
    activity = where(takes_up, wetting, drying)
    pull = pull_of(moisture, activity, takes_up, full, work[at.EXPONENT + own] * share)
    moves = takes_up | gives_off(humidity, drying)
    conductance = where(moves, pull * work[at.MASS + place] / seconds, 0.0)
    work[at.PULL + place] = conductance
    work[at.ACTIVITY + place] = activity
    work[at.TAKES_UP + place] = where(takes_up, 1.0, 0.0)
    return conductance, conductance * activity


@inlined
def _layer(work: Floats, lane: int, layer: int, scale: float, speed: float, seconds: float) -> Any:
    """The exchange of a layer: its conductance, and its release."""
    leaf, leaf_release = _organ(work, lane, layer, 0, scale, speed, seconds)
    stem, stem_release = _organ(work, lane, layer, 1, scale, speed, seconds)
    return leaf + stem, leaf_release + stem_release


@inlined
def _tie_inside(work: Floats, lane: int, interior: float, air: Any) -> None:
    """Write the ties of the lower layers; the top's until the skin is known."""
    over_water = saturation_vapor_pressure(interior)
    limit = frost_limit(interior, over_water)
    humidity = work[at.GROUND_HUMIDITY + lane]
    own = humidity != humidity  # NaN: the air's own
    ground = where(own, air.vapor_pressure_kpa, humidity * over_water)
    work[at.OVER_WATER + lane] = work[at.OVER_WATER + WIDTH + lane] = over_water
    work[at.CEILING + lane] = work[at.CEILING + WIDTH + lane] = limit
    work[at.TIE_LAYER + lane] = air.vapor_coefficient / work[at.LAYER_RESISTANCE + lane]
    work[at.TIE_GROUND + lane] = air.vapor_coefficient / work[at.GROUND_RESISTANCE + lane]
    work[at.AIR_KPA + lane] = air.vapor_pressure_kpa
    work[at.GROUND_KPA + lane] = minimum(ground, over_water)
    work[at.TIE_AIR + lane] = air.vapor_coefficient
    work[at.AIR_C + lane] = air.temperature_c


@inlined
def _solve_skin(
    work: Floats, lane: int, air: Any, interior: float, total: Any, release: Any, wet: Any
) -> None:
    """Skin temperature by three Newton passes, and the ties that follow from it."""
    ties, windrow = ties_at(work, lane), windrow_at(work, lane)
    a2, b2, _, _ = eliminate_below(ties, total, release, wet)
    top = TopAir(ties.layer * a2, ties.layer * (1 - b2), total[0], release[0], wet[0])
    skin = newton_pass(air, top, work[at.SKIN + lane], interior, windrow)
    skin = newton_pass(air, top, skin, interior, windrow)
    skin = newton_pass(air, top, skin, interior, windrow)
    resistance, _ = air_resistance(air, skin, windrow)
    over_water = saturation_vapor_pressure(skin)
    work[at.SKIN + lane] = skin
    work[at.TIE_AIR + lane] = air.vapor_coefficient / resistance
    work[at.OVER_WATER + lane] = over_water
    work[at.CEILING + lane] = frost_limit(skin, over_water)


@inlined
def balance(work: Floats, lane: int, part: float, seconds: float) -> None:
    """First half of a step: skin, and vapor of the layers if films and branches hold.

    Parameters
    ----------
    work
        The tile's work array.
    lane
        Which of its lanes.
    part
        Middle of the step within the hour, 0 to 1.
    seconds
        Length of the step.
    """
    air = air_at(work, lane, part)
    _catch_rain(work, lane, air.rain_mm_h * seconds / 3600)
    interior = (
        air.temperature_c
        + (work[at.INTERIOR + lane] - air.temperature_c) * work[at.KEPT_HALF + lane]
    )
    work[at.INSIDE + lane] = interior
    skin = work[at.SKIN + lane]
    scale, speed = moisture_scale(interior), pace(interior)
    total1, release1 = _layer(work, lane, 0, moisture_scale(skin), pace(skin), seconds)
    total2, release2 = _layer(work, lane, 1, scale, speed, seconds)
    total3, release3 = _layer(work, lane, 2, scale, speed, seconds)
    total, release = (total1, total2, total3), (release1, release2, release3)
    before = at.BEFORE + lane
    wet = (work[before] > 0.0, work[before + WIDTH] > 0.0, work[before + 2 * WIDTH] > 0.0)
    _tie_inside(work, lane, interior, air)
    _solve_skin(work, lane, air, interior, total, release, wet)
    vapor = solve_vapor(ties_at(work, lane), total, release, wet)
    work[at.VAPOR + lane], work[at.VAPOR + WIDTH + lane] = vapor[0], vapor[1]
    work[at.VAPOR + 2 * WIDTH + lane] = vapor[2]
    work[at.WET + lane] = where(wet[0], 1.0, 0.0)
    work[at.WET + WIDTH + lane] = where(wet[1], 1.0, 0.0)
    work[at.WET + 2 * WIDTH + lane] = where(wet[2], 1.0, 0.0)
    _judge(work, lane, seconds)


@inlined
def _layer_asks(
    work: Floats, lane: int, layer: int, over_water: float, ceiling: float, gained: float,
    seconds: float,
) -> bool:  # fmt: skip
    """True where a layer's film does not hold or its hay must rest."""
    row, leaf = layer * WIDTH + lane, 2 * layer * WIDTH + lane
    stem = leaf + WIDTH
    vapor, wet = work[at.VAPOR + row], work[at.WET + row] > 0.0
    humidity = vapor / over_water
    leaf_uptake, stem_uptake = uptake_at(work, leaf, humidity), uptake_at(work, stem, humidity)
    left = work[at.BEFORE + row] + (gained - leaf_uptake - stem_uptake) * seconds
    over = (vapor > ceiling * OVER_SATURATION) & (not wet)
    rests = below_floor(work, leaf, leaf_uptake, seconds) | against_branch(work, leaf, humidity)
    rests |= below_floor(work, stem, stem_uptake, seconds) | against_branch(work, stem, humidity)
    return over | (wet & (left < 0.0)) | rests


@inlined
def _judge(work: Floats, lane: int, seconds: float) -> None:
    """Mark a lane whose films do not hold or whose hay must rest."""
    ties, row = ties_at(work, lane), at.VAPOR + lane
    gained = supply(ties, (work[row], work[row + WIDTH], work[row + 2 * WIDTH]))
    over, limit = ties.over_water, ties.ceiling
    asks = _layer_asks(work, lane, 0, over[0], limit[0], gained[0], seconds)
    asks |= _layer_asks(work, lane, 1, over[1], limit[1], gained[1], seconds)
    asks |= _layer_asks(work, lane, 2, over[2], limit[2], gained[2], seconds)
    work[at.UNSETTLED + lane] = where(asks, 1.0, 0.0)
