"""What a rig puts on: how much water, what it does to the hay, how warm its burners make it."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from hayweather.farm.records import Rig
from hayweather.units import GALLON_L, POUND_KG
from hayweather.weather.record import Floats

ROOM_TOLERANCE_WB = 1e-9
TARGET_ABOVE_BAND_WB = 1.0  # default target: bottom of the band plus one point


@dataclass(frozen=True)
class Dose:
    """What a rig would put on, arrays of one shape.

    Attributes
    ----------
    applied_l_t
        Water leaving the nozzles [L per tonne of hay as it lies]; NaN where the
        rig cannot help.
    needed_l_t
        What would reach the target, before the rig's range is looked at.
    after_wb
        Windrow moisture after it [% wet basis]; NaN where the rig cannot help.
    efficiency
        Part of the water that stays in the hay [-].
    """

    applied_l_t: Floats
    needed_l_t: Floats
    after_wb: Floats
    efficiency: Floats

    def rows(self, rows: slice) -> Dose:
        """Some rows of it."""
        return Dose(**{item.name: getattr(self, item.name)[rows] for item in fields(self)})


def water_to_add_l_t(moisture_wb: float | Floats, target_wb: float | Floats) -> Floats:
    """Water that must stay in the hay [L per tonne as it lies], mass balance.

    ``1000 (m2 - m1)/(100 - m2)`` with moistures in % wet basis and one litre
    a kilogram; negative where the hay is wetter than the target.

    Examples
    --------
    >>> round(float(water_to_add_l_t(10.0, 14.0)), 2)
    46.51
    """
    target = np.asarray(target_wb, dtype=np.float64)
    return 1000 * (target - moisture_wb) / (100 - target)


def moisture_after(moisture_wb: float | Floats, kept_l_t: float | Floats) -> Floats:
    """Moisture [% wet basis] after `kept_l_t` litres per tonne stayed in the hay.

    Parameters
    ----------
    moisture_wb
        Before [% wet basis], any shape.
    kept_l_t
        Litres per tonne of hay as it lay; what the wind takes is not in it.

    Examples
    --------
    >>> round(float(moisture_after(10.0, 46.5116)), 3)
    14.0
    """
    return (1000 * np.asarray(moisture_wb) / 100 + kept_l_t) / (1000 + np.asarray(kept_l_t)) * 100


def dose(
    moisture_wb: Floats,
    rig: Rig,
    low_wb: float,
    high_wb: float,
    target_wb: float,
    efficiency: float | Floats | None = None,
) -> Dose:
    """What `rig` puts on hay of `moisture_wb` to bring it into the band.

    The need is divided by the application efficiency and held within the rig's
    range. Where the least the rig can give would pass the top of the band, or
    the most it can give does not reach the bottom, or nothing at all would be
    put on, the rig cannot help.

    Parameters
    ----------
    moisture_wb
        Whole windrow with its free water [% wet basis].
    rig
        Range, efficiency.
    low_wb, high_wb, target_wb
        Band and target [% wet basis].
    efficiency
        Part of the water that stays in the hay [-], a number or of the shape of
        `moisture_wb` (`hayweather.baling.machines.application_efficiency`);
        None for the rig's own, as on a calm damp night.
    """
    stays = np.broadcast_to(rig.efficiency if efficiency is None else efficiency, moisture_wb.shape)
    needed = np.maximum(water_to_add_l_t(moisture_wb, target_wb), 0.0) / stays
    applied = np.clip(needed, rig.rate_min_l_t, rig.rate_max_l_t)
    after = moisture_after(moisture_wb, applied * stays)
    helps = (after >= low_wb - ROOM_TOLERANCE_WB) & (after <= high_wb + ROOM_TOLERANCE_WB)
    helps &= applied > 0
    applied, after = np.where(helps, applied, np.nan), np.where(helps, after, np.nan)
    return Dose(applied, needed, after, stays)


def target_for(rig: Rig, low_wb: float) -> float:
    """The moisture a rig aims at [% wet basis]: its own, else one point above the bottom.

    Parameters
    ----------
    rig
        Its own target, None where it has none.
    low_wb
        Bottom of the band [% wet basis].
    """
    return low_wb + TARGET_ABOVE_BAND_WB if rig.target_wb is None else rig.target_wb


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
