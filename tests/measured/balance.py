"""Night half-hours of a flux site, and the windrow's skin balance driven by them.

A stand, not a windrow: the whole sky, no hay beneath, measured ground heat in
place of what comes from inside.
"""

from dataclasses import dataclass, fields

import numpy as np

from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air, air_resistance
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4, clear_sky_emissivity, sky_longwave
from hayweather.windrow.vapor import (
    KELVIN,
    saturation_vapor_pressure,
    saturation_vapor_pressure_ice,
)

EMISSIVITY = 0.97
COLDEST_K, WARMEST_K, HALVINGS = 25.0, 15.0, 30


@dataclass(frozen=True)
class Nights:
    """Half-hours, each (half-hours,); `period` is what one held-out part is made of.

    `cloud_of_the_day` is what the model takes by night from the sun of the day
    before, `cloud_held` the same with nothing taken off; `soil_heat_w_m2` is positive
    into the ground.
    """

    period: np.ndarray
    air_c: np.ndarray
    vapor_kpa: np.ndarray
    wind_2m_m_s: np.ndarray
    pressure_kpa: np.ndarray
    longwave_w_m2: np.ndarray
    skin_c: np.ndarray
    soil_heat_w_m2: np.ndarray
    latent_heat_flux_w_m2: np.ndarray
    cloud_of_the_day: np.ndarray
    cloud_held: np.ndarray

    def where(self, chosen: np.ndarray) -> "Nights":
        """Some of the half-hours."""
        return Nights(*(getattr(self, item.name)[chosen] for item in fields(self)))

    @property
    def black_w_m2(self) -> np.ndarray:
        """What a black body at air temperature radiates."""
        return STEFAN_BOLTZMANN_W_M2_K4 * (self.air_c + KELVIN) ** 4

    @property
    def emissivity(self) -> np.ndarray:
        """Of the sky, measured [-]."""
        return self.longwave_w_m2 / self.black_w_m2

    @property
    def cloud(self) -> np.ndarray:
        """Cloud fraction that explains the measured longwave, Unsworth & Monteith 1975."""
        clear = clear_sky_emissivity(self.air_c, self.vapor_kpa)
        return np.clip((self.emissivity - clear) / (0.84 * (1 - clear)), 0.0, 1.0)


def model_skin(nights: Nights, longwave_w_m2: np.ndarray | None = None, **changed) -> np.ndarray:
    """Skin temperature [C] by the windrow's balance, for a stand under the whole sky.

    A dry skin, or a wet one where it falls below the dew point. Measured ground
    heat comes in place of what a windrow gets from below. Found by halving.
    """
    stand = WindrowParameters(**{"sky_view": 1.0, **changed})
    sky = nights.longwave_w_m2 if longwave_w_m2 is None else longwave_w_m2
    low, high = nights.air_c - COLDEST_K, nights.air_c + WARMEST_K
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        gains = excess_w_m2(nights, sky, middle, stand) > 0
        low, high = np.where(gains, middle, low), np.where(gains, high, middle)
    return (low + high) / 2


def excess_w_m2(
    nights: Nights, sky_w_m2: np.ndarray, skin_c: np.ndarray, stand: WindrowParameters
) -> np.ndarray:
    """What a skin of that temperature gains [W/m2]."""
    nothing = np.zeros_like(skin_c)
    air = Air.of(
        nights.air_c,
        nights.vapor_kpa,
        nights.wind_2m_m_s,
        nights.pressure_kpa,
        sky_w_m2,
        nothing,
        nothing,
        nights.air_c,
    )
    resistance = air_resistance(
        nights.air_c,
        nights.wind_2m_m_s,
        skin_c,
        stand.air_resistance_s,
        stand.night_cap,
        stand.air_resistance_max_s_m,
        stand.wind_floor_m_s,
    )
    emitted = STEFAN_BOLTZMANN_W_M2_K4 * (skin_c + KELVIN) ** 4
    radiation = EMISSIVITY * stand.sky_view * (sky_w_m2 - emitted)
    ice, water = saturation_vapor_pressure_ice(skin_c), saturation_vapor_pressure(skin_c)
    condensing = np.maximum(nights.vapor_kpa - np.where(skin_c < 0, ice, water), 0.0)
    latent = air.latent_heat_j_kg * air.vapor_coefficient / resistance * condensing
    to_air = air.heat_j_m3_k / resistance * (skin_c - nights.air_c)
    return radiation - nights.soil_heat_w_m2 + latent - to_air


def bias_and_spread(nights: Nights, skin_c: np.ndarray) -> tuple[float, float]:
    """Mean and root mean square of modelled less measured skin [K]."""
    error = skin_c - nights.skin_c
    return float(error.mean()), float(np.sqrt((error**2).mean()))


def computed_longwave(nights: Nights) -> np.ndarray:
    """Longwave as where no cloud is given: the cloud of the day before, held."""
    return sky_longwave(nights.air_c, nights.vapor_kpa, nights.cloud_of_the_day)
