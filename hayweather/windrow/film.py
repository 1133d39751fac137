"""Free water on and in the windrow: rain caught, soaking in, dripping down."""

from __future__ import annotations

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.exchange import FULL_DB
from hayweather.windrow.parameters import WindrowParameters

RAIN_HELD_MAX_DB = 4.0  # USDA-ARS farm-model manual, Rotz et al. 2014
RAIN_CATCH = 150.0 / 1000.0  # same source, per mm of rain and kg/m2 of dry matter
FILM_HELD_DB = 1.0  # free water beyond this drips (Pitt & McGechan 1990)


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


def soak(
    moisture_db: Floats,
    film_kg_m2: Floats,
    organ_mass: Floats,
    frozen: Booleans,
    windrow: WindrowParameters,
    seconds: float,
) -> tuple[Floats, Floats]:
    """Free water drawn into leaf and stem: new moisture (3, 2, lanes), film (3, lanes).

    Leaf takes it with `film_leaf_time_h` up to 0.8, stem with
    `film_stem_time_h` up to 2 kg/kg; frost is not drawn in.
    """
    room = np.where(frozen[:, None, :], 0.0, np.maximum(FULL_DB - moisture_db, 0.0) * organ_mass)
    hours = seconds / 3600
    leaf = drawn_in(film_kg_m2, -np.expm1(-hours / windrow.film_leaf_time_h), room[:, 0])
    left = film_kg_m2 - leaf
    stem = drawn_in(left, -np.expm1(-hours / windrow.film_stem_time_h), room[:, 1])
    taken = np.stack([leaf, stem], axis=1)
    return moisture_db + taken / organ_mass, left - stem


def drawn_in(film_kg_m2: Floats, share: float | Floats, room_kg_m2: Floats) -> Floats:
    """Free water that one leaf or stem draws in [kg/m2]: a share of it, no more than its room."""
    return np.minimum(share * film_kg_m2, room_kg_m2)


def drip(
    film_kg_m2: Floats,
    layer_mass: Floats,
    frozen: Booleans,
    windrow: WindrowParameters,
    seconds: float,
) -> tuple[Floats, Floats]:
    """Free water sinking from layer to layer: new film (3, lanes), run-off (lanes,)."""
    share = -np.expm1(-seconds / 3600 / windrow.drip_time_h)
    falling = dripping(film_kg_m2, layer_mass, frozen, share)
    film = film_kg_m2 - falling
    film[1:] += falling[:-1]
    return film, falling[2]


def dripping(
    film_kg_m2: Floats, layer_mass: Floats, frozen: Booleans, share: float | Floats
) -> Floats:
    """Free water that leaves a layer downward [kg/m2]: a share of what it cannot hold."""
    beyond = np.maximum(film_kg_m2 - FILM_HELD_DB * layer_mass, 0.0)
    return np.where(frozen, 0.0, beyond * share)
