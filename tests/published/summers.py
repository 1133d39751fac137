"""Real summers through the windrow: dew and skin, beside what was published."""

from functools import cache

import numpy as np
from published.comparison import condensation_ceiling
from support.seasons import default_run, known_nights, read_season

from hayweather.windrow.forcing import Forcing, prepare
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4, sun_elevation
from hayweather.windrow.vapor import KELVIN

NIGHT_HOURS = slice(28, 46)  # 18:00 to 12:00 of the night that counts
STEPS = 12
DEW_NIGHT_MM = 0.005
CLEAR, CALM_M_S, SUSPECT_K = 0.2, 2.0, 10.0


def night_sums(name: str, season: str) -> np.ndarray:
    """A flux summed over each night without a gap [mm]; only what came in."""
    hours = getattr(default_run(season), name)[NIGHT_HOURS]
    return np.maximum(hours, 0.0).sum(axis=0)[known_nights(season)]


def night_water_from_air_mean_mm(season):
    return night_sums("from_air_mm", season).mean()


def night_water_from_air_most_mm(season):
    return night_sums("from_air_mm", season).max()


def night_dew_mean_mm(season):
    """Mean over the nights that have dew."""
    dew = night_sums("dew_mm", season)
    return dew[dew > DEW_NIGHT_MM].mean()


def nights_with_dew_percent(season):
    return 100 * (night_sums("dew_mm", season) > DEW_NIGHT_MM).mean()


def hour_dew_most_mm(season):
    return np.nanmax(default_run(season).dew_mm)


@cache
def forcing_of(season: str) -> Forcing:
    """The weather as the windrow felt it."""
    known = read_season(season)
    return prepare(known.weather, known.place)


def ceiling_mm(forcing: Forcing, hour: int) -> np.ndarray:
    """Most dew of one hour [mm], (lanes,), from isothermal net radiation."""
    windrow, air = WindrowParameters(), forcing.steps(hour, STEPS)
    radiated = STEFAN_BOLTZMANN_W_M2_K4 * (air.temperature_c + KELVIN) ** 4
    net = windrow.emissivity * windrow.sky_view * (air.longwave_w_m2 - radiated)
    loss = np.maximum(-net - (1 - windrow.albedo) * air.shortwave_w_m2, 0.0)
    pressure = (forcing.pressure_kpa[hour] + forcing.pressure_kpa[hour + 1]) / 2
    return condensation_ceiling(air.temperature_c, pressure, loss).mean(axis=0)


def dew_beyond_ceiling_mm(season):
    """How far the hour of most dew passes its ceiling, at least 0."""
    forcing, dew = forcing_of(season), default_run(season).dew_mm
    beyond = [dew[hour] - ceiling_mm(forcing, hour) for hour in range(forcing.hours)]
    return max(0.0, np.nanmax(beyond))


def skin_drops_k(season: str) -> np.ndarray:
    """Air minus skin in nearly clear night hours below 2 m/s [K], one flat array."""
    known, forcing, run = read_season(season), forcing_of(season), default_run(season)
    times = known.weather.times()
    dark = sun_elevation(times, known.place.latitude, known.place.longitude) < 0
    clear = forcing.cloud_start < CLEAR
    calm = forcing.wind_2m_m_s[:-1] < CALM_M_S
    drop = forcing.temperature_c[:-1] - run.skin_temperature_c[:-1:4]
    chosen = (dark & clear & calm & np.isfinite(drop))[NIGHT_HOURS]
    return drop[NIGHT_HOURS][chosen]


def skin_drop_median_k(season):
    return np.median(skin_drops_k(season))


def skin_drop_beyond_10_k_percent(season):
    return 100 * (skin_drops_k(season) > SUSPECT_K).mean()
