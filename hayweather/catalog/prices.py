"""What hay, work and machines are taken to cost where the farm file does not say.

Round figures of `YEAR` in the farm's own currency, all assumed, none a
quotation; where one leans on something published, its source says so.
Attributes are those of `hayweather.farm.Money`, values in its units.

A day that hay lies costs what machines break of the regrowth: 6 % of the next
cutting a day where they drive (Undersander, trials in six states, published), on
a quarter of the field (baling one windrow at a time, the same), of a cutting
like this one at 200 a ton: 3 a ton. Shade under the windrow and bleaching come
on top and have no figure. A day late costs regrowth without water: 150 lb an
acre and day (Undersander, published) at 200 a ton is 10 for each ton of a
cutting of 1.5 ton an acre, if all growth stops; half of it is taken.
"""

from __future__ import annotations

from hayweather.catalog.sources import Figure, Source
from hayweather.units import GALLON_L

YEAR = 2025
_ROUND = Source("assumed", f"round figure of {YEAR}")

PRICES: dict[str, Figure] = {
    "lost_leaf_cost_per_kg": Figure(
        0.26, Source("assumed", "between the price of its weight and its feed value"), "260"
    ),
    "wet_bale_cost_per_kg": Figure(0.04, _ROUND, "40"),
    "fuel_price_per_l": Figure(4.0 / GALLON_L, _ROUND, "4", "1"),
    "water_price_per_l": Figure(0.01 / GALLON_L, _ROUND, "0.01", "0.002"),
    "wage_per_h": Figure(25.0, _ROUND, "25", "15"),
    "wait_cost_per_kg_day": Figure(
        0.003,
        Source("assumed", "6 % of the next cutting a day (Undersander) on a quarter of the field"),
        "3",
    ),
    "late_cost_per_kg_day": Figure(
        0.005,
        Source("assumed", "half of the growth of 150 lb an acre and day (Undersander)"),
        "5",
    ),
    "rain_loss_percent": Figure(
        25.0,
        Source("assumed", "22 % of dry matter lost to 1 inch, 6 without rain (Collins); color"),
        "25",
    ),
    "baler_cost_per_h": Figure(150.0, _ROUND, "150", "130"),
    "rig_cost_per_h": Figure(60.0, _ROUND, "60", "50"),
    "rig_price": Figure(100_000.0, _ROUND, "100000"),
    "rig_salvage": Figure(20_000.0, _ROUND, "20000"),
    "rig_years": Figure(10.0, _ROUND, "10"),
    "interest_percent": Figure(7.0, _ROUND, "7"),
    "taxes_and_insurance_percent": Figure(1.0, _ROUND, "1"),
    "repairs_percent": Figure(2.0, _ROUND, "2"),
}
"""The price of hay itself is never assumed: no currency has a usual one."""

STORAGE_LOSS_PER_POINT = 0.01
"""Dry matter lost in store for each point above the band [-]; a rule of extension
services, about 1 % a point, from memory."""
