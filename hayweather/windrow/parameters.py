"""The windrow's own numbers: every one named, with its source or "assumed".

A number may be a float or an array (lanes,), so that lanes can differ.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.catalog import CROPS, DEFAULT_CROP, Sorption
from hayweather.weather.record import Floats

_USUAL = CROPS[DEFAULT_CROP]
LAYER_SHARES = (0.15, 0.35, 0.50)  # top, middle, bottom share of dry matter (assumed)
GROUND_RESISTANCE_S_M = {"dry": 2000.0, "damp": 600.0, "wet": 300.0}  # assumed
GROUND_HUMIDITY = {"damp": 0.9, "wet": 1.0}  # assumed; dry ground has the air's own


@dataclass(frozen=True)
class WindrowParameters:
    """What a windrow is made of and how it exchanges heat and vapor.

    Attributes
    ----------
    dry_matter_kg_m2
        Dry matter per area of windrow [kg/m2].
    leaf, stem, leaf_share
        Sorption curves, and leaf share of dry matter [-], of the crop
        (`hayweather.catalog.crops`).
    leaf_time_h, stem_time_h
        Time constants toward equilibrium at 15 C [h] (assumed); a stem that
        was not conditioned takes 8.
    sky_view, albedo, emissivity
        Sky-view factor (assumed, 0.85-1), albedo (Monteith 1959, published),
        longwave emissivity (from memory) [-].
    air_resistance_s
        ra0 = this / wind at 2 m, neutral air [-]; log law over a 0.3 m windrow.
    night_cap
        Largest stability multiplier on ra0 [-] (Water 2017, 9, 607, published).
    air_resistance_max_s_m
        Ceiling of the air resistance [s/m], fitted here to measurement.
    layer_resistance_s_m
        Between neighbouring layers [s/m] (assumed, 300-1500).
    conduction_w_m2_k
        From the interior to the skin: 0.05 W/m/K over 0.07 m (assumed).
    interior_time_h
        Time in which the interior follows the air [h] (assumed, 0.5-4).
    ground_resistance_s_m, ground_humidity
        From the ground to the bottom layer; humidity NaN means the air's own.
    film_leaf_time_h, film_stem_time_h, drip_time_h
        Free water into leaf (assumed), into stem and dripping down (Pitt &
        McGechan 1990, published) [h].
    """

    dry_matter_kg_m2: float | Floats = 1.5
    leaf: Sorption = _USUAL.leaf
    stem: Sorption = _USUAL.stem
    leaf_share: float | Floats = _USUAL.leaf_share
    leaf_time_h: float | Floats = 0.3
    stem_time_h: float | Floats = 4.0
    sky_view: float | Floats = 0.9
    albedo: float = 0.25
    emissivity: float = 0.97
    air_resistance_s: float | Floats = 143.0
    night_cap: float | Floats = 2.0
    air_resistance_max_s_m: float | Floats = 300.0
    layer_resistance_s_m: float | Floats = 600.0
    conduction_w_m2_k: float = 0.05 / 0.07
    interior_time_h: float | Floats = 1.5
    ground_resistance_s_m: float | Floats = 2000.0
    ground_humidity: float | Floats = float("nan")
    film_leaf_time_h: float = 0.2
    film_stem_time_h: float = 15.0
    drip_time_h: float = 0.8

    def organ_mass(self) -> Floats:
        """Dry matter of each layer's leaf and stem [kg/m2], (3, 2, lanes or 1)."""
        mass = np.atleast_1d(np.asarray(self.dry_matter_kg_m2, dtype=np.float64))
        leaf = np.atleast_1d(np.asarray(self.leaf_share, dtype=np.float64))
        organ = np.stack([leaf, 1 - leaf])
        return np.array(LAYER_SHARES)[:, None, None] * organ * mass
