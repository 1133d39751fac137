"""Rewetting rigs: what is taken where a rig's own figures are not given.

Attributes are those of `hayweather.farm.Rig`. The farm's manual comes first.
"""

from __future__ import annotations

from hayweather.catalog.sources import Figure, Source
from hayweather.units import MPH_M_S, UnitSystem, to_inside

_PLACEHOLDER = Source("assumed", "round placeholder; the manual's figure replaces it")
_LEANS = Source("assumed", "no measured rig stands behind it")

PLACEHOLDERS: dict[str, Figure] = {
    "tank_l": Figure(4000.0, _PLACEHOLDER, "1000", "4000"),
    "rate_min_l_t": Figure(20.0, _PLACEHOLDER, "5", "20"),
    "rate_max_l_t": Figure(80.0, _PLACEHOLDER, "20", "80"),
    "flow_max_l_min": Figure(40.0, _PLACEHOLDER, "10", "40"),
    "fill_minutes": Figure(20.0, _PLACEHOLDER, "20"),
}
"""A rig of round figures, where a comparison of sites has none of its own."""

DEFAULTS: dict[str, Figure] = {
    "efficiency": Figure(0.8, _LEANS),
    "vapor_loss": Figure(0.1, _LEANS),
    "wind_loss": Figure(0.03, _LEANS),
    "lag_loss": Figure(0.01, _LEANS),
    "lag_minutes": Figure(5.0, _LEANS, "5"),
    "rate_step_l_t": Figure(2.0, _LEANS, "0.5", "2"),
    "leaf_share": Figure(0.8, _LEANS, "0.8"),
    "top_share": Figure(0.5, _LEANS, "0.5"),
    "burner_efficiency": Figure(0.8, _LEANS),
    "water_in_c": Figure(15.0, _LEANS, "60", "15"),
}
"""What holds of any rig unless the farm file says otherwise."""

DRAWN: dict[str, tuple[float, float]] = {"leaf_share": (0.65, 0.95), "top_share": (0.35, 0.65)}
"""Ends between which a share that is not given is drawn evenly for every forecast run (assumed)."""

ROUND_STEPS_L_T: dict[UnitSystem, float] = {
    "us": to_inside(0.5, "water_rate", "gal/ton"),
    "metric": 2.0,
}
"""Smallest change of the rate where a farm file gives none: round in its own units (assumed)."""

SLOWEST_M_S = 1.0 * MPH_M_S
"""Slowest steady crawl where no machine has a slowest speed [m/s] (assumed)."""

HOTTEST_C = to_inside(250.0, "temperature", "°F")
"""Water behind the burners may not pass this where a rig names no limit [C] (assumed)."""

FREE_DEFICIT_KPA = 1.0
"""Vapor pressure deficit up to which no more water is lost than on a damp night [kPa] (assumed)."""

FREE_WIND_M_S = 2.0
"""Wind at 2 m up to which no more is lost [m/s] (assumed)."""

FREE_LAG_MINUTES = 5.0
"""Time from rig to baler up to which no more is lost [min] (assumed)."""

LEAST_EFFICIENCY = 0.3
"""Losses are never said to be larger than this leaves [-] (assumed)."""
