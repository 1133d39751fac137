"""What machines do in the field: tons, ground speed, water that stays in the hay.

Field efficiencies and usual speeds by kind of baler, and what is assumed of
rigs, stand in `hayweather.catalog`. The capacity of a farm file is what the
baler does in an hour in the field, turns and stops included; between turns it
takes capacity over field efficiency.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.catalog import kind_of
from hayweather.catalog.rigs import (
    FREE_DEFICIT_KPA,
    FREE_LAG_MINUTES,
    FREE_WIND_M_S,
    LEAST_EFFICIENCY,
    SLOWEST_M_S,
)
from hayweather.farm.records import Baler, Field, Rig
from hayweather.weather.record import Floats, HourlyWeather
from hayweather.windrow.forcing import Place, air_at_field
from hayweather.windrow.trajectory import QUARTERS
from hayweather.windrow.vapor import saturation_vapor_pressure


def field_efficiency(baler: Baler) -> float:
    """Part of the working time in which a baler bales [-]: its own, else its kind's.

    Parameters
    ----------
    baler
        Its own, or its kind.
    """
    own = baler.field_efficiency
    return kind_of(baler.kind).pace.field_efficiency if own is None else own


def speed_for_m_s(throughput_kg_h: float, mass_kg_m: float) -> float:
    """Ground speed [m/s] at which a windrow of `mass_kg_m` [kg/m] gives a throughput [kg/h]."""
    return throughput_kg_h / mass_kg_m / 3600


def covered_width_m(field: Field) -> float | None:
    """Width of field that one windrow holds [m]; None where the swath's is not known."""
    return None if field.swath_width_m is None else field.swath_width_m * field.swaths_per_windrow


def mass_along_kg_m(field: Field, moisture_wb: float) -> float | None:
    """Hay as it lies in a meter of windrow [kg/m]; None where nothing tells it.

    From the yield and the width that a windrow holds, else from the windrow's
    dry matter and width.

    Parameters
    ----------
    field
        The field; its yield is of hay as baled.
    moisture_wb
        Of the windrow [% wet basis], for what is given as dry matter.
    """
    width = covered_width_m(field)
    if field.yield_kg_m2 is not None and width is not None:
        return field.yield_kg_m2 * width
    if field.windrow_width_m is None:
        return None
    return field.windrow_mass_kg_m2 * field.windrow_width_m / (1 - moisture_wb / 100)


def flow_limit_kg_h(rig: Rig, water_l_t: Floats) -> Floats:
    """Hay that a rig's whole flow wets in an hour of moving [kg/h].

    In the field water flows between turns only: field efficiency times this
    much hay is wetted in an hour there.

    Parameters
    ----------
    rig
        Its largest flow.
    water_l_t
        Water put on [L/t], above 0, any shape.

    Examples
    --------
    >>> rig = Rig("rig", 4000.0, 10.0, 80.0, 40.0, 30.0)
    >>> flow_limit_kg_h(rig, np.array([100.0, 200.0])).tolist()
    [24000.0, 12000.0]
    """
    return 60 * rig.flow_max_l_min / water_l_t * 1000


def with_fills_kg_h(working_kg_h: Floats, rig: Rig, water_l_t: Floats) -> Floats:
    """Hay baled behind a rig in an hour [kg/h], waiting for fills included.

    A tank of water serves so much hay, then filling takes its time.

    Parameters
    ----------
    working_kg_h
        Hay baled in an hour between fills.
    rig, water_l_t
        The rig, and the water it puts on.
    """
    filling_h_kg = rig.fill_minutes / 60 * water_l_t / 1000 / rig.tank_l
    return np.asarray(1 / (1 / working_kg_h + filling_h_kg))


@dataclass(frozen=True)
class SpeedLimits:
    """Slowest and fastest ground speed of the machines at work [m/s]."""

    slowest_m_s: float
    fastest_m_s: float


def speed_limits(baler: Baler, rig: Rig | None) -> SpeedLimits:
    """Ground speeds that the baler, and a rig ahead of it, both keep.

    Where the baler has no fastest speed of its own, the top of its kind's usual
    range holds; where neither machine has a slowest, `SLOWEST_M_S`.
    """
    machines = (baler,) if rig is None else (baler, rig)
    slowest = [m.speed_min_m_s for m in machines if m.speed_min_m_s is not None]
    fastest = [m.speed_max_m_s for m in machines if m.speed_max_m_s is not None]
    if baler.speed_max_m_s is None:
        fastest.append(kind_of(baler.kind).pace.fast_m_s)
    return SpeedLimits(max(slowest, default=min(SLOWEST_M_S, *fastest)), min(fastest))


def application_efficiency(
    rig: Rig, deficit_kpa: float | Floats, wind_2m_m_s: float | Floats
) -> Floats:
    """Part of a rig's water that stays in the hay until it is baled [-].

    ``efficiency - vapor_loss (D - 1) - wind_loss (u - 2) - lag_loss (t - 5) D``,
    no term below zero: vapor pressure deficit D [kPa] above 1, wind u above
    2 m/s, minutes t from rig to baler above 5. All assumed; bounded by
    `LEAST_EFFICIENCY` and the rig's own. NaN where the air is not known.

    Examples
    --------
    >>> rig = Rig("rig", 3000.0, 10.0, 100.0, 40.0, 20.0)
    >>> [round(float(application_efficiency(rig, d, u)), 2) for d, u in ((0.5, 1.0), (2.0, 4.0))]
    [0.8, 0.64]
    """
    deficit, wind = np.asarray(deficit_kpa), np.asarray(wind_2m_m_s)
    lag = max(rig.lag_minutes - FREE_LAG_MINUTES, 0.0)
    lost = rig.vapor_loss * np.maximum(deficit - FREE_DEFICIT_KPA, 0.0)
    lost = lost + rig.wind_loss * np.maximum(wind - FREE_WIND_M_S, 0.0)
    lost = lost + rig.lag_loss * lag * np.maximum(deficit, 0.0)
    least = min(LEAST_EFFICIENCY, rig.efficiency)
    return np.clip(rig.efficiency - lost, least, rig.efficiency)


def quarter_air(weather: HourlyWeather, place: Place) -> tuple[Floats, Floats]:
    """Vapor pressure deficit [kPa] and wind at 2 m [m/s] of every quarter hour.

    In the middle of each, at the field (the site's offsets applied), (4 * hours,
    lanes).
    """
    temperature, dew_point, wind = (_in_quarters(values) for values in air_at_field(weather, place))
    deficit = saturation_vapor_pressure(temperature) - saturation_vapor_pressure(dew_point)
    return deficit, wind


def _in_quarters(instants: Floats) -> Floats:
    """Instants of hours, linear in between, in the middle of every quarter."""
    part = ((np.arange(QUARTERS) + 0.5) / QUARTERS)[None, :, None]
    start, end = instants[:-1, None], instants[1:, None]
    return (start + (end - start) * part).reshape(-1, instants.shape[-1])
