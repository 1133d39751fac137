"""What the tables check: one function a quantity, named as in their column.

Percent, C, kPa and m/s in; the unit of the table out.
"""

from collections.abc import Callable

import numpy as np
from published import machines, money, nights, reference_et, summers

from hayweather.baling.cautions import fosberg_index
from hayweather.baling.water import water_to_add_l_t
from hayweather.weather.air import dew_point_from_humidity
from hayweather.windrow import sky, sorption, vapor
from hayweather.windrow.drying import drying_rate

US_GALLONS_PER_LITRE = 1 / 3.785411784
TONNES_PER_SHORT_TON = 0.90718474
POUNDS_PER_GALLON = 8.345
METERS_PER_MILE_H = 1609.344 / 3600
LEAF_SHARE = 0.47
MINUTES = np.arange(1440) * np.timedelta64(60, "s")
HOURS = np.arange(24) * np.timedelta64(3600, "s")


def saturation_kpa(temperature_c):
    return vapor.saturation_vapor_pressure(temperature_c)


def saturation_over_ice_kpa(temperature_c):
    return vapor.saturation_vapor_pressure_ice(temperature_c)


def standard_pressure_kpa(elevation_m):
    return vapor.standard_pressure(elevation_m)


def vapor_by_wet_bulb_kpa(temperature_c, wet_bulb_c, pressure_kpa):
    """Vapor pressure by ASHRAE Fundamentals 2017, chapter 1, Eq 33, with our saturation."""
    saturated = vapor.saturation_vapor_pressure(wet_bulb_c)
    full = vapor.VAPOR_RATIO * saturated / (pressure_kpa - saturated)
    heat = (2501 - 2.326 * wet_bulb_c) * full - 1.006 * (temperature_c - wet_bulb_c)
    ratio = heat / (2501 + 1.86 * temperature_c - 4.186 * wet_bulb_c)
    return pressure_kpa * ratio / (vapor.VAPOR_RATIO + ratio)


def dew_point_by_wet_bulb_c(temperature_c, wet_bulb_c, pressure_kpa):
    return vapor.dew_point(vapor_by_wet_bulb_kpa(temperature_c, wet_bulb_c, pressure_kpa))


def humidity_by_wet_bulb_percent(temperature_c, wet_bulb_c, pressure_kpa):
    found = vapor_by_wet_bulb_kpa(temperature_c, wet_bulb_c, pressure_kpa)
    return 100 * found / vapor.saturation_vapor_pressure(temperature_c)


def dew_point_by_reader_c(temperature_c, humidity_percent):
    return dew_point_from_humidity(np.array([temperature_c]), np.array([humidity_percent]))[0]


def extraterrestrial_daily_mj(day, latitude):
    times = np.datetime64(day, "s") + HOURS
    return reference_et.extraterrestrial_mj(times, latitude, 0.0).sum()


def daylight_h(day, latitude):
    height = sky.sun_elevation(np.datetime64(day, "s") + MINUTES, latitude, 0.0)
    return (height > 0).sum() / 60


def prata_emissivity(temperature_c, vapor_pressure_kpa):
    return sky.prata_emissivity(temperature_c, vapor_pressure_kpa)


def dilley_clear_longwave_w_m2(temperature_c, vapor_pressure_kpa):
    return sky.dilley_longwave(temperature_c, vapor_pressure_kpa)


def whole_hay_db(humidity_percent, temperature_c, wetting):
    """Leaf and stem of alfalfa together [kg/kg]."""
    leaf, stem = (
        sorption.equilibrium_moisture(humidity_percent / 100, temperature_c, curve, wetting=wetting)
        for curve in (sorption.ALFALFA_LEAF, sorption.ALFALFA_STEM)
    )
    return LEAF_SHARE * leaf + (1 - LEAF_SHARE) * stem


def whole_hay_drying_wb(humidity_percent, temperature_c):
    return sorption.wet_basis(whole_hay_db(humidity_percent, temperature_c, False))


def whole_hay_wetting_wb(humidity_percent, temperature_c):
    return sorption.wet_basis(whole_hay_db(humidity_percent, temperature_c, True))


def grass_wetting_wb(humidity_percent, temperature_c):
    moisture = sorption.equilibrium_moisture(
        humidity_percent / 100, temperature_c, sorption.GRASS, wetting=True
    )
    return sorption.wet_basis(moisture)


def grass_drying_wb(humidity_percent, temperature_c):
    moisture = sorption.equilibrium_moisture(humidity_percent / 100, temperature_c, sorption.GRASS)
    return sorption.wet_basis(moisture)


def humidity_of_hay_wetting_percent(moisture_wb, temperature_c):
    """Humidity at which hay that takes up water holds `moisture_wb`, by search."""
    humidity = np.linspace(3, 97, 9401)
    return np.interp(moisture_wb, whole_hay_wetting_wb(humidity, temperature_c), humidity)


def drying_rate_per_h(
    shortwave_w_m2, temperature_c, humidity_percent, soil_moisture_percent, density_g_m2, first_day
):
    deficit = (1 - humidity_percent / 100) * vapor.saturation_vapor_pressure(temperature_c)
    return drying_rate(
        shortwave_w_m2,
        deficit,
        density_g_m2,
        first_day=bool(first_day),
        soil_moisture_percent=soil_moisture_percent,
    )


def water_gal_ton(moisture_wb, target_wb):
    litres = water_to_add_l_t(moisture_wb, target_wb)
    return litres * TONNES_PER_SHORT_TON * US_GALLONS_PER_LITRE


def water_lb_ton(moisture_wb, target_wb):
    return water_gal_ton(moisture_wb, target_wb) * POUNDS_PER_GALLON


def water_at_efficiency_gal_ton(moisture_wb, target_wb, efficiency):
    return water_gal_ton(moisture_wb, target_wb) / efficiency


def fire_index(temperature_f, humidity_percent, wind_mph):
    """Fosberg index; its published form is in F and mph."""
    return fosberg_index((temperature_f - 32) / 1.8, humidity_percent, wind_mph * METERS_PER_MILE_H)


_ELSEWHERE = (
    machines.burner_fuel_gal,
    machines.burner_rise_f,
    machines.speed_at_capacity_mph,
    machines.tons_per_hour_at_capacity,
    money.break_even_units,
    money.cost_of_a_point_of_leaf,
    money.cost_of_owning_a_year,
    money.feed_value,
    money.ndf_gained_points,
    money.price_ratio_percent,
    money.protein_lost_points,
    money.small_bale_loss_percent,
    nights.overcast_night_gain_g_m2,
    nights.calm_clear_skin_drop_k,
    summers.night_water_from_air_mean_mm,
    summers.night_water_from_air_most_mm,
    summers.night_dew_mean_mm,
    summers.nights_with_dew_percent,
    summers.hour_dew_most_mm,
    summers.dew_beyond_ceiling_mm,
    summers.skin_drop_median_k,
    summers.skin_drop_beyond_10_k_percent,
)


def find_quantity(name: str) -> Callable[..., float]:
    """The function of a table's quantity."""
    return {each.__name__: each for each in _ELSEWHERE}.get(name) or globals()[name]
