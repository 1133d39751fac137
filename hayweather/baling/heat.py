"""Burners of a heated rig: fuel, water flow and temperature in one balance.

``fuel x heating value x efficiency = water x specific heat x rise``. Burners
are taken to run only while water flows. Nothing here is a setting for a
burner: its manual is.
"""

from __future__ import annotations

from hayweather.farm.records import Rig
from hayweather.units import GALLON_L, POUND_KG

BTU_J = 1055.056
DIESEL_J_L = 137_381 * BTU_J / GALLON_L  # 137,381 Btu/gal, US EIA, published
WATER_J_KG_K = BTU_J * 1.8 / POUND_KG  # 1 Btu/lb/F; within 1.5 % up to 120 C
WATER_KG_L = 8.345 * POUND_KG / GALLON_L  # 8.345 lb/gal


def fuel_for_water_l(water_l: float, rise_k: float, efficiency: float) -> float:
    """Diesel [L] that warms water [L] by `rise_k`, with the burner's efficiency [-].

    Examples
    --------
    >>> gallons = 93.02 / 8.345
    >>> round(fuel_for_water_l(gallons * GALLON_L, 120 / 1.8, 0.8) / GALLON_L, 4)
    0.1016
    """
    return water_l * WATER_KG_L * WATER_J_KG_K * rise_k / (DIESEL_J_L * efficiency)


def rise_from_fuel_k(fuel_l: float, water_l: float, efficiency: float) -> float:
    """Rise of temperature [K] of water [L] by so much diesel [L]."""
    return fuel_l * DIESEL_J_L * efficiency / (water_l * WATER_KG_L * WATER_J_KG_K)


def burner_fuel_l(rig: Rig, water_l: float, flowing_h: float) -> float | None:
    """Fuel of a rig's burners [L] for water that flows through in some hours.

    By the balance where the water's temperature after the burner is known, at
    most what the burners can burn; else their full rate while water flows.

    Parameters
    ----------
    rig
        The rig; 0 where it does not heat.
    water_l
        Water that leaves the tank [L].
    flowing_h
        Hours in which it flows.

    Returns
    -------
    float or None
        Liters; None where neither rate nor temperature is known.
    """
    if not rig.heated:
        return 0.0
    most = None if rig.fuel_rate_l_h is None else rig.fuel_rate_l_h * flowing_h
    if rig.water_out_c is None:
        return most
    rise = max(rig.water_out_c - rig.water_in_c, 0.0)
    needed = fuel_for_water_l(water_l, rise, rig.burner_efficiency)
    return needed if most is None else min(needed, most)


def water_reaches_c(rig: Rig, flow_l_min: float) -> float | None:
    """Temperature [C] behind the burners at a flow [L/min]; None where not known or not heated.

    At most the rig's own; steam is no part of this balance.
    """
    if not rig.heated or flow_l_min <= 0:
        return None
    wanted = rig.water_out_c
    if rig.fuel_rate_l_h is None:
        return wanted
    rise = rise_from_fuel_k(rig.fuel_rate_l_h, 60 * flow_l_min, rig.burner_efficiency)
    reached = rig.water_in_c + rise
    return reached if wanted is None else min(reached, wanted)
