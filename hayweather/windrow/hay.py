"""Leaf and stem against the air around them, and free water on them, for one step.

With hysteresis a leaf or stem of one moisture has two activities: it takes up
vapor when its air is above the wetting one, gives off when below the drying
one, and rests in between. Within a step the exchange is linear:
``uptake = conductance (h - activity)``. Arrays are (part, layers, lanes), leaf
before stem, or (layers, lanes).
"""

from __future__ import annotations

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.sorption import HUMIDITY_RANGE, moisture_scale, pace

MOISTURE_FLOOR_DB = 0.02  # drier than this nothing is given off (assumed)
EQUILIBRIUM_WITHIN = 1e-5  # beyond rounding, in single precision too; far below what matters
FULL_ODDS = HUMIDITY_RANGE[1] / (1 - HUMIDITY_RANGE[1])
FULL_LEAF_DB, FULL_STEM_DB = 0.8, 2.0  # vapor and liquid together (assumed)
RAIN_HELD_MAX_DB = 4.0  # USDA-ARS farm-model manual, Rotz et al. 2014
RAIN_CATCH = 150.0 / 1000.0  # same source, per mm of rain and kg/m2 of dry matter
FILM_HELD_DB = 1.0  # free water beyond this drips (Pitt & McGechan 1990)
FILM_LEAST_KG_M2 = 1e-6  # a thinner film is drawn into the leaf whole; a thousandth of a millimeter


def exchange(
    moisture_db: Floats,
    humidity: Floats,
    temperature_c: Floats,
    amount: Floats,
    exponent: Floats,
    wetting_odds: Floats,
    full_share: Floats,
    full_db: Floats,
    way: Floats,
) -> tuple[Floats, Floats]:
    """How strongly leaf and stem exchange vapor in one step, and the humidity where nothing moves.

    The branch is chosen by the humidity of the step before.

    Parameters
    ----------
    moisture_db
        Leaf and stem of each layer [kg/kg], (2, layers, lanes).
    humidity, temperature_c
        Of each layer's air [-] and of its hay [C], (layers, lanes).
    amount, exponent, wetting_odds
        Of the sorption curves, (2, 1, lanes or 1); the last is the wetting factor
        to minus one over the exponent.
    full_share, full_db
        Moisture full of vapor: share of the moisture at half humidity, and limit [kg/kg].
    way
        Step over time constant at 15 C [-], (2, 1, lanes or 1).

    Returns
    -------
    pull, activity
        Moisture taken up in the step per unit of humidity beyond the activity
        [kg/kg], 0 at rest, and activity [-], both (2, layers, lanes).
    """
    scale = amount * moisture_scale(temperature_c)
    odds = np.power(moisture_db / scale, 1.0 / exponent)
    wetter = odds * wetting_odds
    drying, wet = odds / (1.0 + odds), wetter / (1.0 + wetter)
    full = np.minimum(full_share * scale, full_db)
    share = -np.expm1(-way * pace(temperature_c))
    takes_up = (humidity > wet) & (moisture_db < full)
    activity = np.where(takes_up, wet, drying)
    # One step, in the dampest or driest air, never carries hay past full or its floor.
    within = np.clip(activity, HUMIDITY_RANGE[0], HUMIDITY_RANGE[1])
    spare = np.maximum(moisture_db - MOISTURE_FLOOR_DB, 0.0)
    most = np.where(takes_up, (full - moisture_db) * within, spare * (1.0 - within))
    pull = np.minimum(moisture_db * exponent * share, most) / (within * (1.0 - within))
    # In equilibrium, as at a start, hay gives off whatever rounds.
    moves = takes_up | (humidity < drying * (1.0 + EQUILIBRIUM_WITHIN))
    return np.where(moves, pull, 0.0), activity


def rain_caught(rain_mm: Floats, water_kg_m2: Floats, dry_matter_kg_m2: Floats) -> Floats:
    """Rain that the windrow holds [kg/m2], USDA-ARS farm-model manual 2014 (published).

    ``(4 - M)(1 - exp(-150 R/(1000 m)))`` per kg of dry matter; the same whether
    a rain comes in one step or in many. Never more than the rain, never below 0.

    Examples
    --------
    >>> round(float(rain_caught(2.0, 0.15, 1.5)), 3)
    1.06
    """
    room = np.maximum(RAIN_HELD_MAX_DB * dry_matter_kg_m2 - water_kg_m2, 0.0)
    return -room * np.expm1(-RAIN_CATCH * rain_mm / dry_matter_kg_m2)


def drawn_in(
    film_kg_m2: Floats, share: Floats, moisture_db: Floats, full_db: float, mass: Floats
) -> Floats:
    """Free water that leaf or stem draws in [kg/m2]: a share of it, no more than its room."""
    room = np.maximum(full_db - moisture_db, 0.0) * mass
    asked = np.where(film_kg_m2 < FILM_LEAST_KG_M2, np.minimum(share * 1e9, 1.0), share)
    return np.minimum(asked * film_kg_m2, room)


def dripping(film_kg_m2: Floats, layer_mass: Floats, frozen: Booleans, share: Floats) -> Floats:
    """Free water that leaves a layer downward [kg/m2]: a share of what it cannot hold."""
    beyond = np.maximum(film_kg_m2 - FILM_HELD_DB * layer_mass, 0.0)
    return np.where(frozen, 0.0, beyond * share)
