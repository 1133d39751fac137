"""Energy balance at the skin of the windrow.

``eps f (Ld - sigma Ts^4) + (1-albedo) Rs + G = rho cp (Ts-Ta)/ra - lambda q``
with the vapor that stays in the top layer, ``q = (Kv/ra)(ea - x)`` from the air
plus what comes from the layer below, positive toward the hay, and ``x`` the
vapor pressure of the air in the top layer. (Vapor that only passes through to
the inside gives its heat there, and the inside follows the air.) That air is
tied to the hay and to the layers below; `TopAir` holds this tie as one straight
line, so that skin temperature and vapor are found together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4
from hayweather.windrow.vapor import (
    AIR_HEAT_CAPACITY_J_KG_K,
    KELVIN,
    WIND_FLOOR_M_S,
    air_density,
    frost_limit,
    latent_heat,
    saturation_vapor_pressure,
    slope_of,
    vapor_coefficient,
)

GRAVITY_M_S2 = 9.81
WIND_LEVEL_M = 1.8  # 2 m less the displacement height of a 0.3 m windrow
RICHARDSON_LIMIT = 0.2
SORPTION_HEAT_J_KG = 0.2e6  # on top of the latent heat, near 10 % moisture (assumed)
LARGEST_MOVE_K = 6.0  # damping of one Newton pass


@dataclass(frozen=True)
class Air:
    """The weather of one step, each (lanes,).

    `longwave_w_m2` is from the sky; `shortwave_w_m2` what falls on the windrow.
    """

    temperature_c: Floats
    vapor_pressure_kpa: Floats
    wind_2m_m_s: Floats
    pressure_kpa: Floats
    longwave_w_m2: Floats
    shortwave_w_m2: Floats
    rain_mm_h: Floats
    vapor_coefficient: Floats
    density_kg_m3: Floats
    latent_heat_j_kg: Floats

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
    ) -> Air:
        """Complete the weather of a step with what follows from it."""
        return cls(
            temperature_c,
            vapor_pressure_kpa,
            wind_2m_m_s,
            pressure_kpa,
            longwave_w_m2,
            shortwave_w_m2,
            rain_mm_h,
            vapor_coefficient(temperature_c, pressure_kpa),
            air_density(temperature_c, pressure_kpa),
            latent_heat(temperature_c),
        )


@dataclass(frozen=True)
class TopAir:
    """How the vapor pressure ``x`` in the top layer's air follows from the skin.

    ``(Kv/ra) (ea - x) + inflow - outflow x = uptake x / es(Ts) - release``, each
    (lanes,); never above saturation, and at saturation while `wet`.

    Attributes
    ----------
    inflow, outflow
        Exchange with the layer below [kg/m2/s], [kg/m2/s/kPa].
    uptake, release
        Conductance of leaf and stem, and that times their activity [kg/m2/s].
    wet
        True where free water lies on the top.
    """

    inflow: Floats
    outflow: Floats
    uptake: Floats
    release: Floats
    wet: Booleans


@dataclass(frozen=True)
class Skin:
    """What the balance gives, each (lanes,)."""

    temperature_c: Floats
    air_resistance_s_m: Floats


def stability_factor(richardson: Floats, night_cap: float | Floats) -> tuple[Floats, Floats]:
    """Factor on the neutral air resistance [-] by the bulk Richardson number, and its steepness.

    Stable ``(1-Ri/0.2)^-2`` up to `night_cap`, unstable ``(1-16 Ri)^-0.5``
    (published forms). The cap keeps one solution where the free forms have two.

    Parameters
    ----------
    richardson
        Positive where the air is warmer than the skin.
    night_cap
        Largest factor.

    Returns
    -------
    factor, steepness
        Steepness is the relative growth of the factor with `richardson`; 0 at
        the cap.
    """
    rest = np.maximum(1 - np.maximum(richardson, 0.0) / RICHARDSON_LIMIT, 1e-3)
    open_air = 1 - 16 * np.minimum(richardson, 0.0)
    stable = richardson > 0
    root = 1 / np.where(stable, rest, np.sqrt(open_air))
    square = root * root
    factor = np.where(stable, np.minimum(square, night_cap), root)
    steepness = np.where(stable, 2 / RICHARDSON_LIMIT * root, 8 * square)
    return factor, np.where(stable & (square >= night_cap), 0.0, steepness)


def air_resistance(
    air: Air, skin_temperature_c: Floats, windrow: WindrowParameters
) -> tuple[Floats, Floats]:
    """Resistance from skin to the air at 2 m [s/m], and how fast it falls as the skin warms.

    For heat and vapor alike; wind below 0.5 m/s counts as 0.5. The second is
    ``-d ln(ra)/d Ts`` [1/K]; both (lanes,).
    """
    wind = np.maximum(air.wind_2m_m_s, WIND_FLOOR_M_S)
    buoyancy = GRAVITY_M_S2 * WIND_LEVEL_M / ((air.temperature_c + KELVIN) * wind**2)
    richardson = buoyancy * (air.temperature_c - skin_temperature_c)
    factor, steepness = stability_factor(richardson, windrow.night_cap)
    free = windrow.air_resistance_s / wind * factor
    ceiling = windrow.air_resistance_max_s_m
    falls = np.where(free < ceiling, steepness * buoyancy, 0.0)
    return np.minimum(free, ceiling), falls


def top_vapor_pressure(
    air: Air, top: TopAir, skin_temperature_c: Floats, over_water_kpa: Floats, conductance: Floats
) -> tuple[Floats, Floats]:
    """Vapor pressure in the top layer's air [kPa], and its slope on skin temperature [kPa/K].

    Parameters
    ----------
    air, top
        Weather of the step and the tie of the top layer's air, (lanes,).
    skin_temperature_c, over_water_kpa
        Skin temperature and saturation over water there, (lanes,).
    conductance
        From skin to air [kg/m2/s/kPa], (lanes,).
    """
    slope = slope_of(skin_temperature_c, over_water_kpa)
    supply = conductance * air.vapor_pressure_kpa + top.inflow + top.release
    uptake = top.uptake / over_water_kpa
    demand = conductance + top.outflow + uptake
    free = supply / demand
    free_slope = free * uptake * slope / over_water_kpa / demand
    ceiling = frost_limit(skin_temperature_c, over_water_kpa)
    pinned = top.wet | (free > ceiling)
    return np.where(pinned, ceiling, free), np.where(pinned, slope, free_slope)


def solve_skin(
    air: Air,
    top: TopAir,
    first_guess_c: Floats,
    interior_c: Floats,
    windrow: WindrowParameters,
    passes: int = 3,
) -> Skin:
    """Skin temperature by damped Newton passes, all lanes at once.

    Parameters
    ----------
    air, top
        Weather of the step and the tie of the top layer's air, (lanes,).
    first_guess_c, interior_c
        Skin temperature of the step before, temperature inside [C], (lanes,).
    windrow
        Its parameters.
    passes
        Newton passes; three suffice from the step before (tested).
    """
    skin = first_guess_c
    for _ in range(passes):
        skin = newton_pass(air, top, skin, interior_c, windrow)
    resistance, _ = air_resistance(air, skin, windrow)
    return Skin(skin, resistance)


def newton_pass(
    air: Air, top: TopAir, skin_c: Floats, interior_c: Floats, windrow: WindrowParameters
) -> Floats:
    """Skin temperature [C] nearer to balance by one damped Newton pass, (lanes,)."""
    resistance, falls = air_resistance(air, skin_c, windrow)
    over_water = saturation_vapor_pressure(skin_c)
    conductance = air.vapor_coefficient / resistance
    vapor, vapor_slope = top_vapor_pressure(air, top, skin_c, over_water, conductance)
    from_air = conductance * (air.vapor_pressure_kpa - vapor)
    to_air = (
        air.density_kg_m3 * AIR_HEAT_CAPACITY_J_KG_K / resistance * (skin_c - air.temperature_c)
    )
    taken_up = top.uptake * vapor / over_water - top.release
    arriving = from_air + top.inflow - top.outflow * vapor
    excess = (
        net_radiation(air, skin_c, windrow)
        + windrow.conduction_w_m2_k * (interior_c - skin_c)
        + air.latent_heat_j_kg * arriving
        + SORPTION_HEAT_J_KG * taken_up
        - to_air
    )
    radiating = windrow.emissivity * windrow.sky_view * STEFAN_BOLTZMANN_W_M2_K4
    slope = (
        4 * radiating * (skin_c + KELVIN) ** 3
        + windrow.conduction_w_m2_k
        + air.latent_heat_j_kg * (conductance + top.outflow) * vapor_slope
        + air.density_kg_m3 * AIR_HEAT_CAPACITY_J_KG_K / resistance
        + np.maximum(to_air - air.latent_heat_j_kg * from_air, 0.0) * falls
    )
    return skin_c + np.clip(excess / slope, -LARGEST_MOVE_K, LARGEST_MOVE_K)


def net_radiation(air: Air, skin_c: Floats, windrow: WindrowParameters) -> Floats:
    """Radiation that the skin keeps [W/m2], (lanes,)."""
    longwave = windrow.emissivity * windrow.sky_view
    emitted = STEFAN_BOLTZMANN_W_M2_K4 * (skin_c + KELVIN) ** 4
    absorbed = (1 - windrow.albedo) * air.shortwave_w_m2
    return longwave * (air.longwave_w_m2 - emitted) + absorbed
