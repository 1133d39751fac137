"""Vapor between air, layers and ground in one step, with free water in any layer.

Each layer's air holds no water itself: supply from above and below equals
uptake. A layer with free water has saturated air; a layer whose air would pass
saturation gets free water; a film that would be overdrawn is spent within the
step. All lanes settle together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.exchange import MOISTURE_FLOOR_DB, Exchange
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air, TopAir
from hayweather.windrow.vapor import frost_limit, saturation_vapor_pressure

SETTLING_PASSES = 6
OVER_SATURATION = 1 + 1e-9


@dataclass(frozen=True)
class Ties:
    """What binds the air of the layers to its neighbours.

    Attributes
    ----------
    air, layer, ground
        Conductances [kg/m2/s/kPa]: skin to air, layer to layer, bottom to ground.
    air_kpa, ground_kpa
        Vapor pressure of the air and at the ground [kPa], (lanes,).
    over_water, ceiling
        Saturation of each layer over water, and where vapor condenses (over ice
        below 0 C) [kPa], (3, lanes).
    """

    air: Floats
    layer: Floats
    ground: Floats
    air_kpa: Floats
    ground_kpa: Floats
    over_water: Floats
    ceiling: Floats


@dataclass(frozen=True)
class Settled:
    """The vapor of one step: pressures (3, lanes), who takes part, and the films.

    `spent` is the rate at which an overdrawn film gives its last water
    [kg/m2/s], `wet` where free water holds the air saturated, both (3, lanes).
    """

    vapor_kpa: Floats
    exchange: Exchange
    spent: Floats
    wet: Booleans


def ties_inside(interior_c: Floats, air: Air, windrow: WindrowParameters) -> Ties:
    """The ties of the two lower layers; the top's wait for the skin."""
    over_water = saturation_vapor_pressure(interior_c)
    humidity = np.asarray(windrow.ground_humidity)
    ground = np.where(np.isnan(humidity), air.vapor_pressure_kpa, humidity * over_water)
    inside = np.stack([over_water, over_water, over_water])
    ceiling = frost_limit(interior_c, over_water)
    return Ties(
        air=air.vapor_coefficient,
        layer=air.vapor_coefficient / windrow.layer_resistance_s_m,
        ground=air.vapor_coefficient / windrow.ground_resistance_s_m,
        air_kpa=air.vapor_pressure_kpa,
        ground_kpa=np.minimum(ground, over_water),
        over_water=inside,
        ceiling=np.stack([ceiling, ceiling, ceiling]),
    )


def ties_with_skin(inside: Ties, skin_c: Floats, air_resistance_s_m: Floats) -> Ties:
    """The ties completed by skin temperature and air resistance, (lanes,)."""
    over_water, ceiling = inside.over_water.copy(), inside.ceiling.copy()
    over_water[0] = saturation_vapor_pressure(skin_c)
    ceiling[0] = frost_limit(skin_c, over_water[0])
    return Ties(
        air=inside.air / air_resistance_s_m,
        layer=inside.layer,
        ground=inside.ground,
        air_kpa=inside.air_kpa,
        ground_kpa=inside.ground_kpa,
        over_water=over_water,
        ceiling=ceiling,
    )


def eliminate_below(
    ties: Ties, total: Floats, release: Floats, wet: Booleans
) -> tuple[Floats, Floats, Floats, Floats]:
    """Both lower layers as lines in the one above: ``x3 = a3 + b3 x2``, ``x2 = a2 + b2 x1``.

    Parameters
    ----------
    ties
        Conductances and saturation.
    total, release
        Conductance and release of each layer's hay, (3, lanes).
    wet
        Layers held at saturation, (3, lanes).

    Returns
    -------
    a2, b2, a3, b3
        Each (lanes,).
    """
    down = ties.layer + ties.ground + total[2] / ties.over_water[2]
    a3 = np.where(wet[2], ties.ceiling[2], (ties.ground * ties.ground_kpa + release[2]) / down)
    b3 = np.where(wet[2], 0.0, ties.layer / down)
    mid = ties.layer * (2 - b3) + total[1] / ties.over_water[1]
    a2 = np.where(wet[1], ties.ceiling[1], (ties.layer * a3 + release[1]) / mid)
    b2 = np.where(wet[1], 0.0, ties.layer / mid)
    return a2, b2, a3, b3


def top_air(exchange: Exchange, inside: Ties, wet: Booleans) -> TopAir:
    """The tie of the top layer's air with the layers below folded in."""
    total, release = exchange.total(), exchange.release()
    a2, b2, _, _ = eliminate_below(inside, total, release, wet)
    return TopAir(
        inflow=inside.layer * a2,
        outflow=inside.layer * (1 - b2),
        uptake=total[0],
        release=release[0],
        wet=wet[0],
    )


def solve_vapor(ties: Ties, total: Floats, release: Floats, wet: Booleans) -> Floats:
    """Vapor pressure in each layer's air [kPa], (3, lanes); arguments as `eliminate_below`."""
    a2, b2, a3, b3 = eliminate_below(ties, total, release, wet)
    demand = ties.air + ties.layer * (1 - b2) + total[0] / ties.over_water[0]
    free = (ties.air * ties.air_kpa + ties.layer * a2 + release[0]) / demand
    top = np.where(wet[0], ties.ceiling[0], free)
    middle = a2 + b2 * top
    return np.stack((top, middle, a3 + b3 * middle))


def supply(ties: Ties, vapor_kpa: Floats) -> Floats:
    """Vapor reaching each layer from above and below [kg/m2/s], (3, lanes)."""
    to_middle = ties.layer * (vapor_kpa[0] - vapor_kpa[1])
    to_bottom = ties.layer * (vapor_kpa[1] - vapor_kpa[2])
    from_air = ties.air * (ties.air_kpa - vapor_kpa[0])
    from_ground = ties.ground * (ties.ground_kpa - vapor_kpa[2])
    return np.stack((from_air - to_middle, to_middle - to_bottom, to_bottom + from_ground))


def settle(
    ties: Ties,
    exchange: Exchange,
    moisture_db: Floats,
    film_kg_m2: Floats,
    organ_mass: Floats,
    seconds: float,
) -> Settled:
    """Find which films hold, which are spent, and which hay rests in this step.

    Parameters
    ----------
    ties, exchange
        Of this step.
    moisture_db
        Moisture [kg/kg] of leaf and stem, (3, 2, lanes).
    film_kg_m2
        Free water in each layer at the start, (3, lanes).
    organ_mass
        Dry matter [kg/m2] of leaf and stem, (3, 2, lanes).
    seconds
        Length of the step.
    """
    wet = film_kg_m2 > 0
    gone = np.zeros_like(wet)
    spent = np.zeros_like(film_kg_m2)
    judged = np.zeros_like(wet[0])
    for _ in range(SETTLING_PASSES):
        vapor = solve_vapor(ties, exchange.total(), exchange.release() + spent, wet)
        humidity = vapor / ties.over_water
        uptake = exchange.uptake(humidity)
        left = film_kg_m2 + (supply(ties, vapor) - uptake.sum(axis=1)) * seconds
        over = ~wet & ~gone & (vapor > ties.ceiling * OVER_SATURATION)
        overdrawn = wet & (left < 0)
        still = (uptake < 0) & (uptake * seconds < (MOISTURE_FLOOR_DB - moisture_db) * organ_mass)
        settled = ~(over | overdrawn).any(axis=0)
        # Judged once, each lane for itself: when its films hold.
        if not judged.all():
            still |= exchange.against_branch(humidity) & settled & ~judged
        judged |= settled
        if settled.all() and not still.any():
            break
        wet, gone = (wet | over) & ~overdrawn, gone | overdrawn
        spent = np.where(overdrawn, film_kg_m2 / seconds, spent)
        exchange = exchange.resting(still) if still.any() else exchange
    vapor = solve_vapor(ties, exchange.total(), exchange.release() + spent, wet)
    return Settled(vapor, exchange, spent, wet)
