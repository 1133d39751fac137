"""How fast a baler works in a field, alone and behind a rig, and how long moves take."""

from __future__ import annotations

import math

import numpy as np

from hayweather.baling.machines import (
    field_efficiency,
    flow_limit_kg_h,
    mass_along_kg_m,
    speed_limits,
    with_fills_kg_h,
)
from hayweather.farm.records import Baler, Field, Rig, Site
from hayweather.weather.record import Booleans, Floats

EARTH_M = 6_371_000.0
ROAD_DETOUR = 1.3  # roads are longer than the line between two sites (assumed)


def baler_rate_kg_h(baler: Baler, field: Field, rig: Rig | None, moisture_wb: float) -> float:
    """Hay that a baler takes in an hour in the field [kg/h], turns included; 0 if none.

    Its capacity, or less where the windrow is so light that the fastest ground
    speed (a rig's ahead of it too) does not bring as much; nothing where the
    windrow is heavier than it takes.
    """
    if too_heavy(baler, field):
        return 0.0
    capacity = baler.capacity_kg_h or 0.0
    along = mass_along_kg_m(field, moisture_wb)
    if along is None:
        return capacity
    fastest = speed_limits(baler, rig).fastest_m_s
    return min(capacity, fastest * along * 3600 * field_efficiency(baler))


def too_heavy(baler: Baler, field: Field) -> bool:
    """Whether a field's windrow is heavier than the baler takes."""
    limit = baler.windrow_limit_kg_m2
    return limit is not None and field.windrow_mass_kg_m2 > limit


def wetting_kg_h(rate_kg_h: float, rig: Rig, water_l_t: Floats) -> Floats:
    """Hay that passes in an hour while a rig works [kg/h]: the balers' pace or what it wets.

    NaN where there is no dose.
    """
    return np.minimum(rate_kg_h, flow_limit_kg_h(rig, water_l_t))


def behind_rig_kg_h(rate_kg_h: float, rig: Rig, water_l_t: Floats) -> Floats:
    """Hay that is baled in an hour behind a rig [kg/h], waiting for fills included.

    NaN where there is no dose.

    Parameters
    ----------
    rate_kg_h
        Of the balers behind it together.
    rig, water_l_t
        The rig, and the water it puts on.
    """
    wetting = np.maximum(wetting_kg_h(rate_kg_h, rig, water_l_t), 1e-9)
    return with_fills_kg_h(wetting, rig, water_l_t)


def keeps_pace(
    rate_kg_h: float, baler: Baler, rig: Rig, field: Field, water_l_t: Floats, moisture_wb: float
) -> Booleans:
    """Where the pace behind a rig is not below the slowest speed of the machines."""
    along = mass_along_kg_m(field, moisture_wb)
    if along is None:
        return np.ones(water_l_t.shape, dtype=bool)
    slowest = speed_limits(baler, rig).slowest_m_s
    least = slowest * along * 3600 * field_efficiency(baler)
    return np.asarray(wetting_kg_h(rate_kg_h, rig, water_l_t) >= least)


def distance_m(first: Site, second: Site) -> float:
    """Great-circle distance between two sites [m]."""
    a, b = math.radians(first.latitude), math.radians(second.latitude)
    east = math.radians(second.longitude - first.longitude)
    half = math.sin((b - a) / 2) ** 2 + math.cos(a) * math.cos(b) * math.sin(east / 2) ** 2
    return 2 * EARTH_M * math.asin(min(math.sqrt(half), 1.0))


def move_h(baler: Baler, first: Site, second: Site) -> float:
    """Time to go from a field of one site to one of another [h]."""
    road = ROAD_DETOUR * distance_m(first, second) / baler.road_speed_m_s / 3600
    return baler.move_minutes / 60 + road
