"""Reference packages beside our air, sun and reference ET, over grids.

Each check is the worst disagreement over its grid. The grid of air: -10 to
45 C, 5 to 100 % humidity, 600 to 1050 hPa. Tolerances are what the published
forms that the model uses are good for, found here and told.
"""

import importlib.metadata
import itertools
from collections.abc import Callable
from functools import cache

import numpy as np
from published import reference_et
from published.checks import Check

from hayweather.windrow import sky, vapor

TEMPERATURE_C = np.linspace(-10, 45, 12)
HUMIDITY = np.linspace(0.05, 1, 11)
PRESSURE_KPA = np.linspace(60, 105, 10)
AIR, WET, WEIGHT = (
    grid.ravel() for grid in np.meshgrid(TEMPERATURE_C, HUMIDITY, PRESSURE_KPA, indexing="ij")
)
VAPOR_KPA = WET * vapor.saturation_vapor_pressure(AIR)
THAWED = TEMPERATURE_C > 0.1
THAWED_AIR = AIR > 0.1
DEW_ABOVE_C = -20.0
YEAR_START = np.datetime64("2024-01-01T00:00", "s")
YEAR = YEAR_START + np.arange(0, 366 * 24, 7) * np.timedelta64(3600, "s")
SUN_SITES = ((40.53, -108.54), (32.17, -110.88), (-20.0, 30.0))
GREELEY = (40.41, -104.78, 1462.4)


def worst_percent(ours, theirs) -> float:
    """Largest relative difference [%]."""
    return float(np.max(np.abs(np.asarray(ours) / np.asarray(theirs) - 1)) * 100)


def worst(ours, theirs) -> float:
    """Largest difference."""
    return float(np.max(np.abs(np.asarray(ours) - np.asarray(theirs))))


def metpy_saturation() -> float:
    from metpy.calc import saturation_vapor_pressure
    from metpy.units import units

    theirs = saturation_vapor_pressure(units.Quantity(TEMPERATURE_C, "degC")).to("kPa").magnitude
    return worst_percent(vapor.saturation_vapor_pressure(TEMPERATURE_C), theirs)


def metpy_dew_point() -> float:
    from metpy.calc import dewpoint
    from metpy.units import units

    ours = vapor.dew_point(VAPOR_KPA)
    theirs = dewpoint(units.Quantity(VAPOR_KPA, "kPa")).to("degC").magnitude
    return worst(ours[ours > DEW_ABOVE_C], theirs[ours > DEW_ABOVE_C])


def metpy_density() -> float:
    from metpy.calc import density, mixing_ratio
    from metpy.units import units

    weight = units.Quantity(WEIGHT, "kPa")
    ratio = mixing_ratio(units.Quantity(VAPOR_KPA, "kPa"), weight)
    theirs = density(weight, units.Quantity(AIR, "degC"), ratio).to("kg/m^3").magnitude
    return worst_percent(vapor.air_density(AIR, WEIGHT), theirs)


def psychrolib_saturation() -> float:
    """Over ice below 0 C, as theirs."""
    psychrolib = load_psychrolib()
    theirs = [psychrolib.GetSatVapPres(float(each)) / 1000 for each in TEMPERATURE_C]
    frozen = TEMPERATURE_C < 0
    ice, water = vapor.saturation_vapor_pressure_ice, vapor.saturation_vapor_pressure
    return worst_percent(np.where(frozen, ice(TEMPERATURE_C), water(TEMPERATURE_C)), theirs)


def psychrolib_density() -> float:
    """Air up to 25 C; in hotter moist air the fixed 1.01 of FAO-56 is up to 5 % out."""
    psychrolib = load_psychrolib()
    cool = AIR <= 25
    theirs = [
        psychrolib.GetMoistAirDensity(
            float(air),
            psychrolib.GetHumRatioFromRelHum(float(air), float(wet), kpa * 1000),
            kpa * 1000,
        )
        for air, wet, kpa in zip(AIR[cool], WET[cool], WEIGHT[cool], strict=True)
    ]
    return worst_percent(vapor.air_density(AIR, WEIGHT)[cool], theirs)


def psychrolib_dew_point() -> float:
    psychrolib = load_psychrolib()
    theirs = np.array(
        [
            psychrolib.GetTDewPointFromRelHum(float(a), float(w))
            for a, w in zip(AIR, WET, strict=True)
        ]
    )
    return worst(vapor.dew_point(VAPOR_KPA)[theirs > 0], theirs[theirs > 0])


@cache
def load_psychrolib():
    """PsychroLib in SI units."""
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    return psychrolib


def coolprop_air(output: str) -> np.ndarray:
    """A property of humid air above 0 C over the grid, CoolProp."""
    from CoolProp.HumidAirProp import HAPropsSI

    points = zip(AIR[THAWED_AIR], WET[THAWED_AIR], WEIGHT[THAWED_AIR], strict=True)
    return np.array(
        [HAPropsSI(output, "T", a + 273.15, "R", w, "P", kpa * 1000) for a, w, kpa in points]
    )


def coolprop_vapor() -> float:
    """Vapor pressure of humid air; theirs has the enhancement by pressure, up to 0.5 %."""
    return worst_percent(VAPOR_KPA[THAWED_AIR], coolprop_air("P_w") / 1000)


def coolprop_dew_point() -> float:
    theirs = coolprop_air("D") - 273.15
    return worst(vapor.dew_point(VAPOR_KPA)[THAWED_AIR][theirs > 0], theirs[theirs > 0])


def coolprop_saturation() -> float:
    """Saturation of pure water by IAPWS-95."""
    from CoolProp.CoolProp import PropsSI

    kelvin = TEMPERATURE_C[THAWED] + 273.15
    theirs = [PropsSI("P", "T", each, "Q", 1, "Water") / 1000 for each in kelvin]
    return worst_percent(vapor.saturation_vapor_pressure(TEMPERATURE_C[THAWED]), theirs)


def coolprop_latent_heat() -> float:
    from CoolProp.CoolProp import PropsSI

    theirs = [
        PropsSI("H", "T", each, "Q", 1, "Water") - PropsSI("H", "T", each, "Q", 0, "Water")
        for each in TEMPERATURE_C[THAWED] + 273.15
    ]
    return worst_percent(vapor.latent_heat(TEMPERATURE_C[THAWED]), theirs)


def pvlib_elevation(times: np.ndarray, latitude: float, longitude: float) -> np.ndarray:
    """Elevation of the sun's center [degrees], NREL algorithm."""
    from pandas import DatetimeIndex
    from pvlib.solarposition import get_solarposition

    index = DatetimeIndex(times).tz_localize("UTC")
    return get_solarposition(index, latitude, longitude).elevation.to_numpy()


def pvlib_sun() -> float:
    """FAO-56's declination is itself up to 1.2 degrees out about the first of October."""
    return max(
        worst(np.rad2deg(sky.sun_elevation(YEAR, *site)), pvlib_elevation(YEAR, *site))
        for site in SUN_SITES
    )


def pvlib_summer_sun() -> float:
    """The same from May to August."""
    months = YEAR.astype("datetime64[M]").astype(int) % 12
    summer = YEAR[(months >= 4) & (months <= 7)]
    return max(
        worst(np.rad2deg(sky.sun_elevation(summer, *site)), pvlib_elevation(summer, *site))
        for site in SUN_SITES
    )


def pvlib_extraterrestrial() -> float:
    """Hourly means from five-minute positions of the sun and Spencer's distance."""
    import pandas as pd
    from pvlib.irradiance import get_extra_radiation

    def theirs(site: tuple[float, float]) -> np.ndarray:
        parts = (YEAR[:, None] + (np.arange(12) * 300 + 150) * np.timedelta64(1, "s")).ravel()
        sine = np.sin(np.deg2rad(pvlib_elevation(parts, *site)))
        day = pd.DatetimeIndex(parts).day_of_year.to_numpy()
        whole = get_extra_radiation(day) * np.maximum(sine, 0)
        return whole.reshape(-1, 12).mean(axis=1)

    return max(
        worst(sky.extraterrestrial_shortwave(YEAR, *site), theirs(site)) for site in SUN_SITES
    )


def refet_hours() -> list[tuple[int, int, np.datetime64]]:
    """Day, UTC hour and start of hours with the sun above 0.3 rad from end to end."""
    latitude, longitude, _ = GREELEY
    found = []
    for day, hour in itertools.product((160, 200, 240), range(14, 24)):
        start = YEAR_START + np.timedelta64((day - 1) * 24 + hour, "h")
        both = start + np.array([0, 3600]) * np.timedelta64(1, "s")
        if sky.sun_elevation(both, latitude, longitude).min() > reference_et.LOW_SUN_RAD:
            found.append((day, hour, start))
    return found


REFET_WEATHER = list(
    itertools.product((5.0, 20.0, 38.0), (0.1, 0.5, 0.9), (0.2, 2.0, 6.0), (0.35, 0.7, 1.0))
)


def refet_pair(day: int, hour: int, start: np.datetime64, weather: tuple) -> float:
    """Difference of short and tall reference ET of one hour [mm]."""
    import refet

    latitude, longitude, elevation_m = GREELEY
    air, wet, wind, part = weather
    vapor_kpa = wet * vapor.saturation_vapor_pressure(air)
    above = reference_et.extraterrestrial_mj(np.array([start]), latitude, longitude)
    sun = float(part * sky.clear_sky_shortwave(above, elevation_m)[0])
    theirs = refet.Hourly(
        tmean=air, ea=vapor_kpa, rs=sun, uz=wind, zw=3.0, elev=elevation_m,
        lat=latitude, lon=longitude, doy=day, time=hour, method="asce",
    )  # fmt: skip
    clouds = reference_et.cloud_function(part)
    rest = (air, vapor_kpa, sun, clouds, wind, 3.0, elevation_m)
    short, tall = (
        reference_et.hourly_et(each, *rest) for each in (reference_et.SHORT, reference_et.TALL)
    )
    return max(worst(short, theirs.eto()), worst(tall, theirs.etr()))


def refet_reference_et() -> float:
    """Both reference surfaces while the sun stands above 0.3 rad for the whole hour."""
    pairs = itertools.product(refet_hours()[::3], REFET_WEATHER)
    return max(refet_pair(*hour, weather) for hour, weather in pairs)


def oracle(piece: str, package: str, compute: Callable[[], float], unit: str, room: float) -> Check:
    """One package and quantity: one check, however many points its grid has."""
    version = importlib.metadata.version(package)
    return Check(
        touches="sun" if piece.startswith("Sun") else "air",
        piece=piece,
        name=f"{compute.__name__} over a grid",
        source=f"{package} {version}",
        status="reference package",
        unit=unit,
        low=0.0,
        high=room,
        expected=0.0,
        tolerance=f"{room:g}",
        relative=False,
        compute=compute,
    )


def checks() -> list[Check]:
    """All oracles."""
    rows: tuple[tuple[str, str, Callable[[], float], str, float], ...] = (
        ("Air: saturation", "metpy", metpy_saturation, "%", 0.4),
        ("Air: saturation", "PsychroLib", psychrolib_saturation, "%", 0.2),
        ("Air: saturation", "CoolProp", coolprop_saturation, "%", 0.15),
        ("Air: humid air", "CoolProp", coolprop_vapor, "%", 0.7),
        ("Air: dew point", "metpy", metpy_dew_point, "K", 0.15),
        ("Air: dew point", "PsychroLib", psychrolib_dew_point, "K", 0.02),
        ("Air: dew point", "CoolProp", coolprop_dew_point, "K", 0.04),
        ("Air: density", "metpy", metpy_density, "%", 5.5),
        ("Air: density", "PsychroLib", psychrolib_density, "%", 1.1),
        ("Air: latent heat", "CoolProp", coolprop_latent_heat, "%", 0.04),
        ("Sun: elevation", "pvlib", pvlib_sun, "degrees", 1.4),
        ("Sun: elevation, May-August", "pvlib", pvlib_summer_sun, "degrees", 0.9),
        ("Sun: above the atmosphere", "pvlib", pvlib_extraterrestrial, "W/m2", 28.0),
        ("Reference ET", "refet", refet_reference_et, "mm/h", 0.0005),
    )
    return [oracle(*row) for row in rows]
