"""One step of one lane, in two halves: vapor is found, then water is moved.

The same order and the same formulas as `hayweather.windrow.layers.step`. All is
written without a branch, so that the compiler does several lanes at once; what
needs branches, films and resting hay, is settled between the halves for the few
lanes that ask for it (`hayweather.windrow.compiled.settling`).
"""

from __future__ import annotations

from typing import Any

from hayweather.weather.record import Floats
from hayweather.windrow.compiled import rows as at
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.compiled.shared import (
    Air,
    Ties,
    TopAir,
    activity_pair,
    air_density,
    air_resistance,
    drawn_in,
    dripping,
    eliminate_below,
    expm1,
    frost_limit,
    gives_off,
    inlined,
    latent_heat,
    maximum,
    minimum,
    moisture_scale,
    newton_pass,
    pace,
    pull_of,
    rain_caught,
    record,
    saturation_vapor_pressure,
    sky_longwave,
    solve_vapor,
    supply,
    vapor_coefficient,
    vapor_moved,
    where,
)
from hayweather.windrow.exchange import MOISTURE_FLOOR_DB
from hayweather.windrow.vapor_flow import OVER_SATURATION

Windrow = record(
    "Windrow",
    "night_cap air_resistance_s air_resistance_max_s_m emissivity sky_view albedo "
    "conduction_w_m2_k",
    __name__,
)


@inlined
def _between(work: Floats, lane: int, number: int, part: float) -> float:
    """An instant within the hour, by its number among the weather's rows."""
    begin = work[at.BEGIN + number * WIDTH + lane]
    return begin + (work[at.END + number * WIDTH + lane] - begin) * part


@inlined
def _air(work: Floats, lane: int, part: float) -> Any:
    """The weather in the middle of a step."""
    temperature = _between(work, lane, 0, part)
    vapor = saturation_vapor_pressure(_between(work, lane, 1, part))
    pressure = _between(work, lane, 3, part)
    return Air(
        temperature,
        vapor,
        _between(work, lane, 2, part),
        pressure,
        sky_longwave(temperature, vapor, _between(work, lane, 4, part)),
        work[at.SHORTWAVE + lane] * work[at.SHAPE + lane],
        work[at.RAIN + lane],
        vapor_coefficient(temperature, pressure),
        air_density(temperature, pressure),
        latent_heat(temperature),
    )


@inlined
def _windrow(work: Floats, lane: int) -> Any:
    """The numbers that the balance of the skin reads."""
    return Windrow(
        work[at.NIGHT_CAP + lane],
        work[at.AIR_RESISTANCE + lane],
        work[at.AIR_RESISTANCE_MOST + lane],
        work[at.EMISSIVITY + lane],
        work[at.SKY_VIEW + lane],
        work[at.ALBEDO + lane],
        work[at.CONDUCTION + lane],
    )


@inlined
def _layer_mass(work: Floats, lane: int, layer: int) -> float:
    """Dry matter of a layer [kg/m2]."""
    leaf = at.MASS + 2 * layer * WIDTH + lane
    return work[leaf] + work[leaf + WIDTH]


@inlined
def hay_water(work: Floats, lane: int) -> float:
    """Water in leaf and stem of all layers [kg/m2]."""
    first, mass = at.MOISTURE + lane, at.MASS + lane
    return (
        work[first] * work[mass]
        + work[first + WIDTH] * work[mass + WIDTH]
        + work[first + 2 * WIDTH] * work[mass + 2 * WIDTH]
        + work[first + 3 * WIDTH] * work[mass + 3 * WIDTH]
        + work[first + 4 * WIDTH] * work[mass + 4 * WIDTH]
        + work[first + 5 * WIDTH] * work[mass + 5 * WIDTH]
    )


@inlined
def free_water(work: Floats, lane: int) -> float:
    """Free water of all layers [kg/m2]."""
    first = at.FILM + lane
    return work[first] + work[first + WIDTH] + work[first + 2 * WIDTH]


@inlined
def _catch_rain(work: Floats, lane: int, rain_mm: float) -> None:
    """The films with the rain of the step on the top, and how much was caught."""
    mass = _layer_mass(work, lane, 0) + _layer_mass(work, lane, 1) + _layer_mass(work, lane, 2)
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
def ties_at(work: Floats, lane: int) -> Any:
    """The ties of the layers as they stand in the work array."""
    inside, limit = work[at.OVER_WATER + WIDTH + lane], work[at.CEILING + WIDTH + lane]
    return Ties(
        work[at.TIE_AIR + lane],
        work[at.TIE_LAYER + lane],
        work[at.TIE_GROUND + lane],
        work[at.AIR_KPA + lane],
        work[at.GROUND_KPA + lane],
        (work[at.OVER_WATER + lane], inside, inside),
        (work[at.CEILING + lane], limit, limit),
    )


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
    ties, windrow = ties_at(work, lane), _windrow(work, lane)
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
    air = _air(work, lane, part)
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
def uptake_at(work: Floats, place: int, humidity: float) -> float:
    """Vapor that one leaf or stem takes up at a humidity [kg/m2/s]."""
    return work[at.PULL + place] * (humidity - work[at.ACTIVITY + place])


@inlined
def below_floor(work: Floats, place: int, uptake: float, seconds: float) -> bool:
    """True where a leaf or stem would dry below its floor."""
    spare = (MOISTURE_FLOOR_DB - work[at.MOISTURE + place]) * work[at.MASS + place]
    return (uptake < 0.0) & (uptake * seconds < spare)


@inlined
def against_branch(work: Floats, place: int, humidity: float) -> bool:
    """True where the branch chosen does not fit the humidity that came out."""
    dries, takes_up = humidity < work[at.ACTIVITY + place], work[at.TAKES_UP + place] > 0.0
    return (work[at.PULL + place] > 0.0) & (dries == takes_up)


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
    falls = dripping(film, _layer_mass(work, lane, layer), frozen, work[at.DRIP + lane])
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
