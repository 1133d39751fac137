"""From cutting to cured: how a swath dries until the windrow model takes over."""

from __future__ import annotations

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.column import State
from hayweather.windrow.forcing import Forcing
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import state_of
from hayweather.windrow.sorption import equilibrium_moisture
from hayweather.windrow.vapor import saturation_vapor_pressure

CUT_MOISTURE_DB = 4.0  # 80 % wet basis at cutting (common practice, no source)
HAND_OVER_DB = 0.25  # 20 % wet basis: from here the windrow model follows the hay
SOIL_MOISTURE_DB = 15.0  # % of dry soil, worth little here (assumed)
DRYING_R2 = 0.64  # of the published regression, Rotz & Chen 1985


def drying_rate(
    shortwave_w_m2: Floats,
    vapor_deficit_kpa: Floats,
    swath_density_g_m2: float | Floats,
    *,
    first_day: bool | Floats | Booleans,
    soil_moisture_percent: float = SOIL_MOISTURE_DB,
) -> Floats:
    """Drying rate of a swath without chemicals [1/h], Rotz & Chen 1985.

    Published, coefficients of the vapor-pressure form from memory; R2 of the
    regression 0.64.

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


def dry_down(forcing: Forcing, cut_hour: int, swath_density_g_m2: float) -> Floats:
    """Moisture of a swath cut at the start of `cut_hour` [kg/kg], (hours + 1, lanes).

    NaN before the cutting and from a missing value on. Rain is not in the
    regression: an hour with rain does not dry.

    Parameters
    ----------
    forcing
        Weather of the run, (hours, lanes).
    cut_hour
        Hour at whose start it was cut.
    swath_density_g_m2
        Dry matter on the ground [g/m2].
    """
    temperature = (forcing.temperature_c[:-1] + forcing.temperature_c[1:]) / 2
    dew_point = (forcing.dew_point_c[:-1] + forcing.dew_point_c[1:]) / 2
    deficit = saturation_vapor_pressure(temperature) - saturation_vapor_pressure(dew_point)
    hours = np.arange(forcing.hours)[:, None]
    rate = drying_rate(
        forcing.shortwave_w_m2, deficit, swath_density_g_m2, first_day=hours < cut_hour + 24
    )
    rate = np.where(forcing.rain_mm > 0, 0.0, rate)
    rate = np.where(hours < cut_hour, 0.0, rate)
    moisture = np.full((forcing.hours + 1, rate.shape[1]), np.nan)
    moisture[cut_hour] = CUT_MOISTURE_DB
    moisture[cut_hour + 1 :] = CUT_MOISTURE_DB * np.exp(-np.cumsum(rate[cut_hour:], axis=0))
    return moisture


def hand_over(moisture_db: Floats) -> int | None:
    """First hour at whose start every known lane is at 20 % wet basis or below.

    Parameters
    ----------
    moisture_db
        Of a swath at hour boundaries [kg/kg], (hours + 1, lanes); NaN where not known. None
        comes back where it never gets there.
    """
    dry = moisture_db <= HAND_OVER_DB
    reached = np.flatnonzero(dry.all(axis=1))
    return int(reached[0]) if reached.size else None


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
