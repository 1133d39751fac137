"""From cutting to cured: the water account of a swath until the windrow model takes over.

The swath holds water in its tissue and, free, upon it. Rain is caught and what
is too much drips off, dew and night air wet it, and all of it dries by one
published rate. Everything that wets one swath more than another keeps it the
wetter of the two: more rain never cures hay sooner (a law, tested).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.column import State
from hayweather.windrow.forcing import Forcing
from hayweather.windrow.hay import FILM_HELD_DB, FULL_LEAF_DB, RAIN_HELD_MAX_DB, rain_caught
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air, air_resistance
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4
from hayweather.windrow.sorption import equilibrium_moisture
from hayweather.windrow.starts import state_of
from hayweather.windrow.vapor import KELVIN, saturation_vapor_pressure, slope_of

CUT_MOISTURE_DB = 4.0  # 80 % wet basis at cutting (common practice, no source)
HAND_OVER_DB = 0.25  # 20 % wet basis: from here the windrow model follows the hay
SOIL_MOISTURE_DB = 15.0  # % of dry soil, worth little here (assumed)
WET_SOIL_DB = 30.0  # after much rain, some 10 mm of it bringing most; dries in two days (assumed)
WETTING_RAIN_MM, SOIL_DRIES_H = 10.0, 48.0
UNCONDITIONED_DRYING = 0.7  # of a conditioned swath's rate (assumed)
DRIEST_DB = 0.10  # what a cured swath dries to in the account (assumed)
DARK_W_M2 = 1.0  # less sun is night
NIGHT_SKIN_K = 3.0  # below the air, for the stability of the air over a swath (assumed)
SKIN_PASSES = 4


def drying_rate(
    shortwave_w_m2: Floats,
    vapor_deficit_kpa: Floats,
    swath_density_g_m2: float | Floats,
    *,
    first_day: bool | Floats | Booleans,
    soil_moisture_percent: float | Floats = SOIL_MOISTURE_DB,
) -> Floats:
    """Drying rate of a swath without chemicals [1/h], Rotz & Chen 1985.

    Published, coefficients of the vapor-pressure form from memory; R2 of
    predicted against measured rates 0.64 (abstract read). Measured from 80 to
    20 % wet basis at East Lansing, 1977-1984.

    Parameters
    ----------
    shortwave_w_m2, vapor_deficit_kpa
        Sun and saturation deficit of the air.
    swath_density_g_m2
        Dry matter per area of swath.
    first_day
        True on the day of cutting.
    soil_moisture_percent
        Water in the top soil, % of dry soil.

    Examples
    --------
    >>> round(float(drying_rate(700.0, 2.457, 450.0, first_day=True)), 3)
    0.182
    """
    day = np.asarray(first_day, dtype=np.float64)
    sun_and_air = shortwave_w_m2 + 43.8 * vapor_deficit_kpa
    swath = swath_density_g_m2 * (1.82 - 0.83 * day) * 1.68
    return sun_and_air / (61.4 * soil_moisture_percent + swath + 2767)


def night_wetting(
    water_db: Floats,
    humidity: Floats,
    wind_m_s: Floats,
    swath_density_g_m2: float | Floats,
    hours: float,
) -> Floats:
    """Moisture of hay after some hours of the dark [kg/kg], USDA-ARS farm-model manual 2014.

    Published: toward ``0.4 + 3.6 exp(-0.2 u) exp(-2.5 (1 - h))`` as
    ``exp(-4 t/SD)``. It only wets here: wetter hay stays as it is.

    Parameters
    ----------
    water_db
        Before [kg/kg].
    humidity, wind_m_s
        Of the air [-], and wind [m/s].
    swath_density_g_m2
        Dry matter per area.
    hours
        Of the dark.

    Examples
    --------
    From 10 % wet basis, ten hours at 80 % humidity, 1 m/s, 1500 g/m2: 14.2 % in
    the manual's form.

    >>> wetter = float(night_wetting(np.array(0.1 / 0.9), np.array(0.8), np.array(1.0), 1500.0, 10))
    >>> round(100 * wetter / (1 + wetter), 1)
    14.2
    """
    toward = 0.4 + 3.6 * np.exp(-0.2 * wind_m_s) * np.exp(-2.5 * (1 - humidity))
    share = -np.expm1(-4 * hours / swath_density_g_m2)
    return water_db + np.maximum(toward - water_db, 0.0) * share


def wet_rate(air: Air, windrow: WindrowParameters) -> Floats:
    """What a wet swath takes from the air (+, dew) or gives off (-) [kg/m2/h].

    Energy balance of a wet surface by Newton steps; long-wave loss linear in the
    skin's temperature.

    Parameters
    ----------
    air
        Weather of the hour.
    windrow
        Its sky view, albedo, emissivity and air resistance count.
    """
    skin_c = air.temperature_c
    resistance = air_resistance(
        air.temperature_c,
        air.wind_2m_m_s,
        air.temperature_c - np.where(air.shortwave_w_m2 < DARK_W_M2, NIGHT_SKIN_K, 0.0),
        np.asarray(windrow.air_resistance_s),
        np.asarray(windrow.night_cap),
        np.asarray(windrow.air_resistance_max_s_m),
        np.asarray(windrow.wind_floor_m_s),
    )
    vapor_tie = air.vapor_coefficient / resistance
    seen = windrow.emissivity * np.asarray(windrow.sky_view)
    emission = STEFAN_BOLTZMANN_W_M2_K4 * (air.temperature_c + KELVIN) ** 4
    net = seen * (air.longwave_w_m2 - emission) + (1 - windrow.albedo) * air.shortwave_w_m2
    loses = seen * air.radiating_w_m2_k + air.heat_j_m3_k / resistance
    latent = air.latent_heat_j_kg * vapor_tie
    for _ in range(SKIN_PASSES):
        saturated = saturation_vapor_pressure(skin_c)
        left = net - loses * (skin_c - air.temperature_c)
        left = left - latent * (saturated - air.vapor_pressure_kpa)
        skin_c = skin_c + left / (loses + latent * slope_of(skin_c, saturated))
    lack = air.vapor_pressure_kpa - saturation_vapor_pressure(skin_c)
    return vapor_tie * lack * 3600


@dataclass(frozen=True)
class Swath:
    """How a swath is handled, numbers or (lanes,).

    Attributes
    ----------
    cut_hour
        Hour of the run at whose start it was cut.
    density_kg_m2
        Dry matter on the ground as it was cut.
    raked_hour, raked_kg_m2
        Hour in which it was raked or merged, None where it was not, and its dry
        matter per area since.
    conditioned
        Stems were crushed at the cutting.
    """

    cut_hour: int
    density_kg_m2: float | Floats
    raked_hour: int | None = None
    raked_kg_m2: float | Floats = 1.5
    conditioned: bool = True

    def mass_kg_m2(self, hour: int) -> float | Floats:
        """Dry matter per area in an hour [kg/m2]."""
        raked = self.raked_hour is not None and hour >= self.raked_hour
        return self.raked_kg_m2 if raked else self.density_kg_m2


def dry_down(forcing: Forcing, swath: Swath, windrow: WindrowParameters) -> Floats:
    """All water of a swath [kg/kg], at the hour starts and the end, (hours + 1, lanes).

    NaN before the cutting and from a missing value on. Once a lane is cured, at
    20 % wet basis, dew no longer counts here, for the windrow model follows it;
    rain does: a shower makes hay that a calculation called cured uncured again.

    An hour's rain is caught as `hayweather.windrow.hay.rain_caught` says
    (published), free water drips off beyond 1 kg/kg in 0.8 h and is drawn in, by
    the leaf at once, by the stem in 15 h (Pitt & McGechan 1990, published). At
    night the larger of two counts: the manual's wetting and dew under the open
    sky. In an hour without rain free water goes first, at the rate of a wet
    surface (never slower than a fresh swath dries); then the tissue dries by
    `drying_rate`, each lane by its own ``windrow.drying_factor``; rain wets the
    soil beneath, which slows it.

    Parameters
    ----------
    forcing
        Weather of the run, (hours, lanes).
    swath
        When it was cut and how it lies.
    windrow
        Of every lane.
    """
    lanes = forcing.rain_mm.shape[1]
    water = np.full((forcing.hours + 1, lanes), np.nan)
    total = np.full(lanes, CUT_MOISTURE_DB)
    tissue, cured = total.copy(), np.zeros(lanes, dtype=bool)
    fallen = np.zeros(lanes)  # rain still in the top soil [mm]
    water[swath.cut_hour] = total
    factor = np.asarray(windrow.drying_factor) * (
        1.0 if swath.conditioned else UNCONDITIONED_DRYING
    )
    soaked = FULL_LEAF_DB * np.asarray(windrow.leaf_share)
    for hour in range(swath.cut_hour, forcing.hours):
        mass = np.asarray(swath.mass_kg_m2(hour), dtype=np.float64)
        air = Air(*(values[0] for values in forcing.steps(hour, 1)))
        rain = forcing.rain_mm[hour]
        total = total + rain_caught(rain, total * mass, mass) / mass
        sun = forcing.shortwave_w_m2[hour]
        saturated = saturation_vapor_pressure(air.temperature_c)
        humidity = air.vapor_pressure_kpa / saturated
        dark = sun < DARK_W_M2
        exchange = wet_rate(air, windrow)
        if dark.any():
            wetter = night_wetting(total, humidity, air.wind_2m_m_s, 1000 * mass, 1.0)
            dewy = total + np.maximum(exchange, 0.0) / mass
            night = np.minimum(np.maximum(wetter, dewy), np.maximum(total, RAIN_HELD_MAX_DB))
            total = np.where(dark & ~cured, night, total)
        fallen = fallen * np.exp(-1 / SOIL_DRIES_H) + rain
        wetter_soil = WET_SOIL_DB - SOIL_MOISTURE_DB
        soil = SOIL_MOISTURE_DB - wetter_soil * np.expm1(-fallen / WETTING_RAIN_MM)
        rate = factor * drying_rate(
            sun, saturated - air.vapor_pressure_kpa, 1000 * mass,
            first_day=hour < swath.cut_hour + 24, soil_moisture_percent=soil,
        )  # fmt: skip
        rate = np.maximum(rate, 0.0)
        free = total - tissue
        # Not slower than the tissue at its wettest: so the wetter swath stays the wetter.
        quick = np.maximum(-exchange / mass, RAIN_HELD_MAX_DB * rate) + 1e-12
        left = np.clip(1 - free / quick, 0.0, 1.0)  # of the hour, for the tissue
        dries = tissue * np.exp(-rate * left) + np.maximum(free - quick, 0.0)
        dries = np.where(rain > 0, total, dries)
        total = np.where(cured, np.maximum(dries, np.minimum(total, DRIEST_DB)), dries)
        tissue = np.minimum(tissue, total)
        # Free water is drawn in, and what is too much drips.
        tissue = np.maximum(tissue, np.minimum(total, soaked))
        tissue = tissue + (total - tissue) / (1 + np.asarray(windrow.film_stem_time_h))
        beyond = np.maximum(total - tissue - FILM_HELD_DB, 0.0)
        total = total + beyond * np.expm1(-1 / np.asarray(windrow.drip_time_h))
        water[hour + 1] = total
        cured |= total <= HAND_OVER_DB
    return water


def hand_over(water_db: Floats) -> NDArray[np.int64]:
    """First hour at whose start each lane is at 20 % wet basis or below; -1 where none, (lanes,).

    Parameters
    ----------
    water_db
        Of a swath at hour boundaries [kg/kg], (hours + 1, lanes); NaN where not known.
    """
    dry = water_db <= HAND_OVER_DB
    return np.where(dry.any(axis=0), dry.argmax(axis=0), -1)


def hand_over_state(forcing: Forcing, hour: int, windrow: WindrowParameters) -> State:
    """The windrow at 20 % wet basis: leaf in equilibrium with the air, stem with the rest.

    Parameters
    ----------
    forcing
        Weather of the run, (hours, lanes).
    hour
        At whose start the windrow takes over.
    windrow
        Its parameters; leaf share and curves count here.
    """
    temperature, dew_point = forcing.temperature_c[hour], forcing.dew_point_c[hour]
    vapor = saturation_vapor_pressure(dew_point)
    humidity = vapor / saturation_vapor_pressure(temperature)
    leaf = np.minimum(equilibrium_moisture(humidity, temperature, windrow.leaf), HAND_OVER_DB)
    share = windrow.leaf_share
    stem = (HAND_OVER_DB - share * leaf) / (1 - share)
    return state_of(leaf, stem, temperature, humidity)
