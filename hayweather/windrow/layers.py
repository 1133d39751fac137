"""One step of the windrow: state in, state and fluxes out.

Three layers (top, middle, bottom) of leaf and stem, free water in each, the
skin's temperature and that of the interior. Arrays have layers first, then part
(leaf, stem) where there is one, lanes last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.exchange import exchange_for
from hayweather.windrow.film import drip, rain_caught, soak
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air, solve_skin
from hayweather.windrow.vapor_flow import (
    Settled,
    Ties,
    settle,
    supply,
    ties_inside,
    ties_with_skin,
    top_air,
)


@dataclass(frozen=True)
class State:
    """The windrow at one moment.

    Attributes
    ----------
    moisture_db
        Leaf and stem of each layer [kg/kg], (3, 2, lanes).
    film_kg_m2
        Free water in each layer [kg/m2], (3, lanes).
    humidity
        Humidity of each layer's air in the step before [-], (3, lanes).
    skin_c, interior_c
        Temperatures [C], (lanes,).
    """

    moisture_db: Floats
    film_kg_m2: Floats
    humidity: Floats
    skin_c: Floats
    interior_c: Floats

    def water(self, organ_mass: Floats) -> Floats:
        """All water in the windrow [kg/m2], (lanes,)."""
        return (self.moisture_db * organ_mass).sum(axis=(0, 1)) + self.film_kg_m2.sum(axis=0)


@dataclass(frozen=True)
class Fluxes:
    """Water that moved in one step [kg/m2, the same as mm], each (lanes,).

    Attributes
    ----------
    from_air, from_ground
        Vapor toward the hay; negative when it dries.
    dew
        Vapor of the air that condensed because the skin was below its dew point.
    internal
        Vapor from inside the windrow that reached a saturated top; not dew.
    rain_caught, runoff
        Rain held by the windrow; water dripping to the ground.
    skin_humidity
        Vapor pressure of the air over saturation at the skin [-].
    """

    from_air: Floats
    from_ground: Floats
    dew: Floats
    internal: Floats
    rain_caught: Floats
    runoff: Floats
    skin_humidity: Floats


def step(
    state: State,
    air: Air,
    windrow: WindrowParameters,
    organ_mass: Floats,
    seconds: float,
) -> tuple[State, Fluxes]:
    """Carry the windrow through one step.

    Parameters
    ----------
    state
        The windrow before the step.
    air
        Weather in the middle of the step, (lanes,).
    windrow, organ_mass
        Its parameters, and its dry matter [kg/m2], (3, 2, lanes or 1).
    seconds
        Length of the step.
    """
    film, caught = _catch_rain(state, air, organ_mass, seconds)
    interior = follow_air(state.interior_c, air.temperature_c, windrow.interior_time_h, seconds / 2)
    temperature = np.stack([state.skin_c, interior, interior])
    exchange = exchange_for(
        state.moisture_db, state.humidity, temperature, windrow, organ_mass, seconds
    )
    inside = ties_inside(interior, air, windrow)
    top = top_air(exchange, inside, film > 0)
    skin = solve_skin(air, top, state.skin_c, interior, windrow)
    ties = ties_with_skin(inside, skin.temperature_c, skin.air_resistance_s_m)
    settled = settle(ties, exchange, state.moisture_db, film, organ_mass, seconds)
    moisture, film, vapor = _move_vapor(state.moisture_db, film, settled, ties, organ_mass, seconds)
    frozen = np.stack([skin.temperature_c, interior, interior]) < 0
    moisture, film = soak(moisture, film, organ_mass, frozen, windrow, seconds)
    film, runoff = drip(film, organ_mass.sum(axis=1), frozen, windrow, seconds)
    after = State(
        moisture,
        film,
        np.minimum(settled.vapor_kpa / ties.over_water, 1.0),
        skin.temperature_c,
        follow_air(state.interior_c, air.temperature_c, windrow.interior_time_h, seconds),
    )
    skin_humidity = air.vapor_pressure_kpa / ties.ceiling[0]
    return after, Fluxes(*vapor, caught, runoff, skin_humidity)


def follow_air(interior_c: Floats, air_c: Floats, hours: float | Floats, seconds: float) -> Floats:
    """Interior temperature [C] after a step: it relaxes to the air in `hours`."""
    return air_c + (interior_c - air_c) * np.exp(-seconds / 3600 / np.asarray(hours))


def _catch_rain(
    state: State, air: Air, organ_mass: Floats, seconds: float
) -> tuple[Floats, Floats]:
    """Film with the rain of the step on the top layer, and how much was caught."""
    rain_mm = air.rain_mm_h * seconds / 3600
    if not rain_mm.any():
        return state.film_kg_m2, rain_mm
    caught = rain_caught(rain_mm, state.water(organ_mass), organ_mass.sum(axis=(0, 1)))
    film = state.film_kg_m2.copy()
    film[0] += caught
    return film, caught


def _move_vapor(
    moisture_db: Floats,
    film_kg_m2: Floats,
    settled: Settled,
    ties: Ties,
    organ_mass: Floats,
    seconds: float,
) -> tuple[Floats, Floats, tuple[Floats, Floats, Floats, Floats]]:
    """Moisture and film after the vapor moved; from air, from ground, dew, internal."""
    vapor = settled.vapor_kpa
    uptake = settled.exchange.uptake(vapor / ties.over_water)
    gain = supply(ties, vapor) - uptake.sum(axis=1)
    film = np.where(settled.wet, film_kg_m2 + gain * seconds, 0.0)
    short = np.minimum(film, 0.0)  # beyond the settling passes: taken from the air, never lost
    moved = vapor_moved(ties, vapor, settled.wet[0], short.sum(axis=0), seconds)
    moisture = moisture_db + uptake * seconds / organ_mass
    return moisture, film - short, moved


def vapor_moved(
    ties: Ties, vapor_kpa: Floats, saturated: Booleans, short_kg_m2: Floats, seconds: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Vapor of one step [kg/m2], each (lanes,): from air, from ground, dew, internal.

    Parameters
    ----------
    ties, vapor_kpa
        Conductances, and vapor pressure of the layers [kPa], (3, lanes).
    saturated
        True where free water lies on the top, (lanes,).
    short_kg_m2
        Films that fell below zero, to be made good by the air; 0 or less.
    seconds
        Length of the step.
    """
    from_air = ties.air * (ties.air_kpa - vapor_kpa[0]) * seconds - short_kg_m2
    from_ground = ties.ground * (ties.ground_kpa - vapor_kpa[2]) * seconds
    condenses = saturated & (ties.air_kpa > ties.ceiling[0])
    dew = np.where(condenses, np.maximum(from_air, 0.0), 0.0)
    upward = ties.layer * np.maximum(vapor_kpa[1] - vapor_kpa[0], 0.0) * seconds
    return from_air, from_ground, dew, np.where(saturated, upward, 0.0)
