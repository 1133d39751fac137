"""Hay and humid air: how much water leaf and stem hold, and how fast they follow.

The equilibrium is a modified Oswin relation fitted for this project to three
published tables that contradict each other (see tests/published and the
residuals printed there): ``M = k A (16.4 - 0.12 T)/100 (r/(1-r))^n`` in kg per
kg dry matter. Hay that takes up water follows ``k`` below 1 (hysteresis), hay
that gives it off ``k = 1``; in between it rests.
"""

from __future__ import annotations

import numpy as np

from hayweather.catalog.crops import (
    ALFALFA_LEAF,
    ALFALFA_STEM,
    GRASS,
    MIXED_LEAF,
    MIXED_STEM,
    Sorption,
)
from hayweather.weather.record import Floats
from hayweather.windrow.vapor import Values

__all__ = [
    "ALFALFA_LEAF",
    "ALFALFA_STEM",
    "GRASS",
    "MIXED_LEAF",
    "MIXED_STEM",
    "Sorption",
    "dry_basis",
    "equilibrium_moisture",
    "moisture_scale",
    "pace",
    "water_activity",
    "wet_basis",
]

HUMIDITY_RANGE = (0.03, 0.97)  # range of the fit
TEMPERATURE_RANGE_C = (0.0, 38.0)  # range of the fit


def moisture_scale(temperature_c: Values) -> Floats:
    """Moisture at half humidity [kg/kg dry matter] on the drying branch, before `amount`."""
    low, high = TEMPERATURE_RANGE_C
    return (16.4 - 0.12 * np.clip(temperature_c, low, high)) / 100.0


def equilibrium_moisture(
    relative_humidity: Values, temperature_c: Values, curve: Sorption, *, wetting: bool = False
) -> Floats:
    """Moisture [kg/kg dry matter] in equilibrium with air, modified Oswin.

    Fitted here; +/-3 points wet basis below 65 % humidity, +/-4 at 70-80 %,
    +/-10 at 90 %.

    Parameters
    ----------
    relative_humidity
        Fraction; clipped to 0.03-0.97.
    temperature_c
        Clipped to 0-38 C.
    curve
        Leaf or stem.
    wetting
        True on the branch of hay that takes up water.

    Examples
    --------
    >>> round(float(equilibrium_moisture(0.5, 20.0, ALFALFA_LEAF)), 3)
    0.14
    """
    humidity = np.clip(relative_humidity, *HUMIDITY_RANGE)
    branch = curve.wetting if wetting else 1.0
    odds = humidity / (1 - humidity)
    return branch * curve.amount * moisture_scale(temperature_c) * odds**curve.exponent


def water_activity(
    moisture_db: Values, temperature_c: Values, curve: Sorption, *, wetting: bool = False
) -> Floats:
    """Humidity [fraction] that hay of this moisture is in equilibrium with.

    The inverse of `equilibrium_moisture`, not clipped.

    Examples
    --------
    >>> m = equilibrium_moisture(0.7, 15.0, ALFALFA_STEM, wetting=True)
    >>> round(float(water_activity(m, 15.0, ALFALFA_STEM, wetting=True)), 6)
    0.7
    """
    branch = curve.wetting if wetting else 1.0
    scale = branch * curve.amount * moisture_scale(temperature_c)
    odds = (moisture_db / scale) ** (1 / curve.exponent)
    return odds / (1 + odds)


def pace(temperature_c: Values) -> Floats:
    """How much faster than at 15 C hay follows the air [-] (assumed; clipped 0.5-2)."""
    return np.clip(np.exp(0.0365 * (temperature_c - 15.0)), 0.5, 2.0)


def wet_basis(moisture_db: Values) -> Floats:
    """Percent wet basis from kg per kg dry matter.

    Parameters
    ----------
    moisture_db
        Water by dry matter [kg/kg], any shape; NaN stays.

    Examples
    --------
    >>> round(float(wet_basis(0.25)), 6)
    20.0
    """
    moisture = np.asarray(moisture_db, dtype=np.float64)
    return np.asarray(100 * moisture / (1 + moisture))


def dry_basis(moisture_wb: Values) -> Floats:
    """Kg per kg dry matter from percent wet basis.

    Examples
    --------
    >>> float(dry_basis(20.0))
    0.25
    """
    return np.asarray(moisture_wb / (100 - moisture_wb))
