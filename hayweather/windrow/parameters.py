"""The windrow's own numbers: every one named, with its source or "assumed".

A number may be a float or an array (lanes,), so that lanes can differ.
"""

from __future__ import annotations

from dataclasses import dataclass

from hayweather.catalog import CROPS, DEFAULT_CROP, Sorption
from hayweather.weather.record import Floats

_USUAL = CROPS[DEFAULT_CROP]
GROUND_RESISTANCE_S_M = {"dry": 2000.0, "damp": 600.0, "wet": 300.0}  # assumed
GROUND_HUMIDITY = {"damp": 0.9, "wet": 1.0}  # assumed; dry ground has the air's own


@dataclass(frozen=True)
class WindrowParameters:
    """What a windrow is made of and how it exchanges heat and vapor.

    After each number: range, and *pub* published, *mem* published but from
    memory, *fit* fitted here, *assumed* judgement. What is assumed is drawn
    among the members (`hayweather.windrow.spread`).

    Attributes
    ----------
    dry_matter_kg_m2
        Dry matter per area of windrow [kg/m2], 1-3.2.
    density_kg_m3
        Dry matter per volume [kg/m3], 5-7.5: 0.2-0.3 m of depth for 1.5 kg/m2 (assumed).
    leaf, stem, leaf_share
        Sorption curves, and leaf share of dry matter [-], of the crop
        (`hayweather.catalog.crops`).
    leaf_time_h, stem_time_h
        Time constants toward equilibrium at 15 C [h], 0.1-1 and 2-8 (assumed); a
        stem that was not conditioned takes 8.
    sky_view, albedo, emissivity
        Sky-view factor 0.85-1 (assumed), albedo (Monteith 1959, pub), longwave
        emissivity (mem) [-].
    air_resistance_s
        ra0 = this / wind at 2 m, neutral air [-], 110-208; log law over a 0.3 m
        windrow (FAO-56 Eq 4, pub).
    night_cap
        Largest stability multiplier on ra0 [-], 1.25-2 (fit: two measured sites).
    air_resistance_max_s_m
        Ceiling of the air resistance [s/m], 200-400 (fit).
    wind_floor_m_s
        Least wind at 2 m that counts [m/s] (ASCE-EWRI 2005 habit, mem).
    hay_area_m2_kg, clumping
        One-sided area of leaf and stem [m2/kg], 6-14, and the share of it that
        works because hay lies in clumps [-], 0.45-0.8 (assumed).
    sun_extinction, longwave_extinction
        Of that area [-], 0.5-0.6 and 0.7-1 (assumed).
    still_mixing_m2_s
        Diffusion of heat and vapor in the still air of the hay [m2/s], 2.4e-5:
        2.2 mm/s through 11 mm of residue (Tanner & Shen 1990, pub, abstract).
    wind_mixing
        What wind adds to it at the top, times still air, per m/s at 1 m [s/m],
        0.9-4 (assumed; 0.89 in thin residue, Tanner & Shen 1990).
    wind_reach_m
        Depth in which that dies to a third [m], 0.05-0.2 (assumed).
    free_mixing
        Most that free convection adds, times still air [-], 10-40 (assumed).
    permeability_m2
        Of the hay to air [m2], 3e-6-3e-5 (assumed): sets from which temperature
        difference free convection acts (Elder 1967, ``Nu = Ra/40``, mem).
    side_flow_m_s
        Air through the sides per top area at 1.5 m/s of wind [m/s], 0.0002-0.004
        (assumed); 0 shuts them.
    soil_contact_w_m2_k
        From soil to the bottom layer, radiation included [W/m2/K], 2-5 (assumed).
    soil_swing, soil_lag_h, soil_memory_h, soil_offset_k
        Soil at 2-4 cm: its swing over the air's [-], 0.25-0.6, the lag's time [h],
        1-4, the time of its mean [h] and how much warmer it is [K], -1-3 (fit to
        Bondville, July 1998, under leaves; under hay assumed).
    ground_resistance_s_m, ground_humidity
        From the ground to the bottom layer [s/m]; humidity NaN means the air's
        own (assumed).
    heat_capacity_j_kg_k
        Of dry hay [J/kg/K], 1300-1800 (assumed, as wood and straw).
    film_leaf_time_h, film_stem_time_h, drip_time_h
        Free water into leaf 0.1-1 (assumed), into stem and dripping through the whole
        windrow (Pitt & McGechan 1990, pub) [h].
    drying_factor
        On the drying rate from cutting to cured (`hayweather.windrow.drying`) [-];
        log-normal among the members, size assumed from the model's R2 of 0.64.
    """

    dry_matter_kg_m2: float | Floats = 1.5
    density_kg_m3: float | Floats = 6.0
    leaf: Sorption = _USUAL.leaf
    stem: Sorption = _USUAL.stem
    leaf_share: float | Floats = _USUAL.leaf_share
    leaf_time_h: float | Floats = 0.3
    stem_time_h: float | Floats = 4.0
    sky_view: float | Floats = 0.9
    albedo: float | Floats = 0.25
    emissivity: float | Floats = 0.97
    air_resistance_s: float | Floats = 143.0
    night_cap: float | Floats = 1.5
    air_resistance_max_s_m: float | Floats = 300.0
    wind_floor_m_s: float | Floats = 0.5
    hay_area_m2_kg: float | Floats = 11.0
    clumping: float | Floats = 0.6
    sun_extinction: float | Floats = 0.55
    longwave_extinction: float | Floats = 0.85
    still_mixing_m2_s: float | Floats = 2.4e-5
    wind_mixing: float | Floats = 2.0
    wind_reach_m: float | Floats = 0.1
    free_mixing: float | Floats = 20.0
    permeability_m2: float | Floats = 1e-5
    side_flow_m_s: float | Floats = 0.0005
    soil_contact_w_m2_k: float | Floats = 3.0
    soil_swing: float | Floats = 0.4
    soil_lag_h: float | Floats = 1.5
    soil_memory_h: float | Floats = 48.0
    soil_offset_k: float | Floats = 1.0
    ground_resistance_s_m: float | Floats = 2000.0
    ground_humidity: float | Floats = float("nan")
    heat_capacity_j_kg_k: float | Floats = 1500.0
    film_leaf_time_h: float | Floats = 0.2
    film_stem_time_h: float | Floats = 15.0
    drip_time_h: float | Floats = 0.8
    drying_factor: float | Floats = 1.0
