"""Speeds, tons and burners in the units of their sources."""

from hayweather.baling.machines import speed_for_m_s
from hayweather.baling.water import WATER_KG_L, fuel_for_water_l, rise_from_fuel_k
from hayweather.units import ACRE_M2, FOOT_M, GALLON_L, MPH_M_S, POUND_KG, SHORT_TON_KG


def speed_at_capacity_mph(tons_per_hour, tons_per_acre, width_ft):
    along_kg_m = tons_per_acre * SHORT_TON_KG / ACRE_M2 * width_ft * FOOT_M
    return speed_for_m_s(tons_per_hour * SHORT_TON_KG, along_kg_m) / MPH_M_S


def tons_per_hour_at_capacity(tons_per_hour, tons_per_acre, width_ft, efficiency):
    speed = speed_at_capacity_mph(tons_per_hour, tons_per_acre, width_ft)
    return speed * width_ft * efficiency / 8.25 * tons_per_acre  # Kentucky Extension AEN-73


def burner_fuel_gal(water_lb, cold_f, hot_f, efficiency):
    water_l = water_lb * POUND_KG / WATER_KG_L
    return fuel_for_water_l(water_l, (hot_f - cold_f) / 1.8, efficiency) / GALLON_L


def burner_rise_f(fuel_gal_h, water_gal_h, efficiency):
    return 1.8 * rise_from_fuel_k(fuel_gal_h * GALLON_L, water_gal_h * GALLON_L, efficiency)
