"""Prices and costs of hay, hours and weather, those not given called assumed.

The assumed ones are round figures of 2025 in the farm's own currency, the same
that the starter farm file shows; none is a quotation.
"""

from __future__ import annotations

from dataclasses import dataclass

from hayweather.baling.course import LOST_LEAF_COST_PER_T, WET_BALE_COST_PER_T
from hayweather.farm.records import Money
from hayweather.units import GALLON_L

ASSUMED_IN = 2025

# Attribute of `Prices`, of `Money`, and what is assumed where nothing is given.
DEFAULTS: tuple[tuple[str, str, float], ...] = (
    ("lost_leaf", "lost_leaf_cost_per_kg", LOST_LEAF_COST_PER_T / 1000),
    ("wet_bale", "wet_bale_cost_per_kg", WET_BALE_COST_PER_T / 1000),
    ("wait_day", "wait_cost_per_kg_day", 1.0 / 1000),
    ("late", "late_cost_per_kg", 20.0 / 1000),
    ("rain_loss_percent", "rain_loss_percent", 25.0),
    ("baler_h", "baler_cost_per_h", 150.0),
    ("rig_h", "rig_cost_per_h", 60.0),
    ("wage_h", "wage_per_h", 25.0),
    ("fuel_l", "fuel_price_per_l", 4.0 / GALLON_L),
    ("water_l", "water_price_per_l", 0.01 / GALLON_L),
)


@dataclass(frozen=True)
class Prices:
    """What hay brings and what work costs, one currency.

    Attributes
    ----------
    price
        Of hay that lost nothing [/kg].
    lost_leaf, wet_bale
        Of leaf lost at the baler [/kg of leaf]; of hay baled above its band [/kg].
    wait_day, late
        Of hay that lies a day more [/kg/day]; that still lies when its field is due [/kg].
    rain_loss_percent
        Of the price, lost to 25 mm of rain on the windrow.
    baler_h, rig_h, wage_h
        Of a baler and a rig, each with its tractor, and of one person [/h].
    fuel_l, water_l
        Of fuel and of water [/L].
    assumed
        Names of those that were not given.
    """

    price: float
    lost_leaf: float
    wet_bale: float
    wait_day: float
    late: float
    rain_loss_percent: float
    baler_h: float
    rig_h: float
    wage_h: float
    fuel_l: float
    water_l: float
    assumed: tuple[str, ...] = ()


def prices_of(money: Money, price_per_kg: float) -> Prices:
    """The prices of a farm file, the rest assumed and named.

    Parameters
    ----------
    money
        As the farm file says.
    price_per_kg
        Of the hay; never assumed, for no currency has a usual one.
    """
    given = {name: getattr(money, attribute) for name, attribute, _ in DEFAULTS}
    values = {
        name: usual if given[name] is None else float(given[name]) for name, _, usual in DEFAULTS
    }
    missing = tuple(name for name, _, _ in DEFAULTS if given[name] is None)
    return Prices(price=price_per_kg, **values, assumed=missing)
