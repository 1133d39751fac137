"""Air over the windrow: the weather of one step, and its resistance down to the hay's skin."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from hayweather.weather.record import Floats
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4
from hayweather.windrow.vapor import (
    AIR_HEAT_CAPACITY_J_KG_K,
    KELVIN,
    air_density,
    latent_heat,
    saturation_vapor_pressure,
    vapor_coefficient,
)

GRAVITY_M_S2 = 9.81
WIND_LEVEL_M = 1.8  # 2 m less the displacement height of a 0.3 m windrow
RICHARDSON_LIMIT = 0.2


class Air(NamedTuple):
    """The weather of one step, each (lanes,), or of many, (steps, lanes).

    `longwave_w_m2` is from the sky, `shortwave_w_m2` what falls on the windrow,
    `soil_c` the soil under it; the rest follows from these (`Air.of`):
    vapor coefficient [kg/m3/kPa], heat of a volume of air [J/m3/K], latent heat
    [J/kg], black-body emission per kelvin at air temperature [W/m2/K], and
    saturation at the soil [kPa].
    """

    temperature_c: Floats
    vapor_pressure_kpa: Floats
    wind_2m_m_s: Floats
    longwave_w_m2: Floats
    shortwave_w_m2: Floats
    rain_mm_h: Floats
    soil_c: Floats
    vapor_coefficient: Floats
    heat_j_m3_k: Floats
    latent_heat_j_kg: Floats
    radiating_w_m2_k: Floats
    soil_saturation_kpa: Floats

    @classmethod
    def of(
        cls,
        temperature_c: Floats,
        vapor_pressure_kpa: Floats,
        wind_2m_m_s: Floats,
        pressure_kpa: Floats,
        longwave_w_m2: Floats,
        shortwave_w_m2: Floats,
        rain_mm_h: Floats,
        soil_c: Floats,
    ) -> Air:
        """Complete the weather of a step with what follows from it; arguments as the fields."""
        return cls(
            temperature_c,
            vapor_pressure_kpa,
            wind_2m_m_s,
            longwave_w_m2,
            shortwave_w_m2,
            rain_mm_h,
            soil_c,
            *what_follows(temperature_c, pressure_kpa, soil_c),
        )


def what_follows(
    temperature_c: Floats, pressure_kpa: Floats, soil_c: Floats
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """The last five numbers of an `Air`."""
    kelvin = temperature_c + KELVIN
    return (
        vapor_coefficient(temperature_c, pressure_kpa),
        AIR_HEAT_CAPACITY_J_KG_K * air_density(temperature_c, pressure_kpa),
        latent_heat(temperature_c),
        4.0 * STEFAN_BOLTZMANN_W_M2_K4 * (kelvin * kelvin * kelvin),
        saturation_vapor_pressure(soil_c),
    )


def stability_factor(richardson: Floats, night_cap: Floats) -> Floats:
    """Factor on the neutral air resistance [-] by the bulk Richardson number.

    Stable ``(1-Ri/0.2)^-2`` up to `night_cap`, unstable ``(1-16 Ri)^-0.5``
    (published forms). The cap keeps one solution where the free forms have two.

    Parameters
    ----------
    richardson
        Positive where the air is warmer than the skin.
    night_cap
        Largest factor.
    """
    rest = np.maximum(1.0 - np.maximum(richardson, 0.0) / RICHARDSON_LIMIT, 1e-3)
    unstable = 1.0 / np.sqrt(1.0 - 16.0 * np.minimum(richardson, 0.0))
    return np.where(richardson > 0, np.minimum(1.0 / (rest * rest), night_cap), unstable)


def air_resistance(
    air_c: Floats,
    wind_2m_m_s: Floats,
    skin_c: Floats,
    neutral_s: Floats,
    night_cap: Floats,
    most_s_m: Floats,
    wind_floor_m_s: Floats,
) -> Floats:
    """Resistance from the hay's skin to the air at 2 m [s/m], for heat and vapor alike.

    Parameters
    ----------
    air_c, wind_2m_m_s, skin_c
        Air temperature, wind, and temperature of the top of the hay.
    neutral_s, night_cap, most_s_m, wind_floor_m_s
        As in `WindrowParameters`.
    """
    wind = np.maximum(wind_2m_m_s, wind_floor_m_s)
    buoyancy = GRAVITY_M_S2 * WIND_LEVEL_M / ((air_c + KELVIN) * wind * wind)
    factor = stability_factor(buoyancy * (air_c - skin_c), night_cap)
    return np.minimum(neutral_s / wind * factor, most_s_m)
