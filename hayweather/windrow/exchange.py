"""Leaf and stem against the air around them, for one step.

With hysteresis a leaf or stem of one moisture has two activities: it takes up
vapor when its air is above the wetting one, gives off when below the drying
one, and rests in between. Within a step the exchange is linear:
``uptake = conductance (h - activity)``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.sorption import HUMIDITY_RANGE, moisture_scale, pace

MOISTURE_FLOOR_DB = 0.02  # drier than this nothing is given off (assumed)
EQUILIBRIUM_WITHIN = 1e-9  # far beyond rounding, far below what matters
FULL_ODDS = HUMIDITY_RANGE[1] / (1 - HUMIDITY_RANGE[1])
FULL_DB = np.array([0.8, 2.0])[None, :, None]  # leaf, stem: vapor and liquid together (assumed)


@dataclass(frozen=True)
class Exchange:
    """How strongly leaf and stem exchange vapor in one step, (3, 2, lanes).

    Attributes
    ----------
    conductance
        Uptake per unit of humidity [kg/m2/s]; 0 at rest.
    activity
        Humidity at which nothing moves [-].
    takes_up
        True on the wetting branch.
    """

    conductance: Floats
    activity: Floats
    takes_up: Booleans

    def total(self) -> Floats:
        """Conductance of each layer, (3, lanes)."""
        return self.conductance.sum(axis=1)

    def release(self) -> Floats:
        """Conductance times activity of each layer, (3, lanes)."""
        return (self.conductance * self.activity).sum(axis=1)

    def uptake(self, humidity: Floats) -> Floats:
        """Vapor taken up at `humidity` (3, lanes) by leaf and stem [kg/m2/s], (3, 2, lanes)."""
        return self.conductance * (humidity[:, None, :] - self.activity)

    def against_branch(self, humidity: Floats) -> Booleans:
        """True where the branch chosen does not fit the humidity that came out."""
        dries = humidity[:, None, :] < self.activity
        return (self.conductance > 0) & (dries == self.takes_up)

    def resting(self, still: Booleans) -> Exchange:
        """The same with some leaf or stem at rest."""
        return replace(self, conductance=np.where(still, 0.0, self.conductance))


def leaf_and_stem(leaf: float | Floats, stem: float | Floats) -> Floats:
    """Two numbers, or two arrays (lanes,), as one array (1, 2, lanes or 1)."""
    return np.stack(np.broadcast_arrays(np.atleast_1d(leaf), np.atleast_1d(stem)))[None]


def activities(
    moisture_db: Floats, temperature_c: Floats, windrow: WindrowParameters
) -> tuple[Floats, Floats, Floats]:
    """Drying and wetting water activity of leaf and stem [-], and moisture full of vapor [kg/kg].

    Each (3, 2, lanes). Vapor fills hay up to a wetting activity of 0.97.

    Parameters
    ----------
    moisture_db
        (3, 2, lanes).
    temperature_c
        Of each layer, (3, lanes).
    windrow
        Gives the curves.
    """
    leaf, stem = windrow.leaf, windrow.stem
    power = 1 / leaf_and_stem(leaf.exponent, stem.exponent)
    wetting = leaf_and_stem(leaf.wetting, stem.wetting)
    scale = leaf_and_stem(leaf.amount, stem.amount) * moisture_scale(temperature_c)[:, None, :]
    full = np.minimum(wetting * FULL_ODDS ** (1 / power) * scale, FULL_DB)
    return *activity_pair(moisture_db, scale, power, wetting**-power), full


def activity_pair(
    moisture_db: Floats, scale_db: Floats, power: Floats, wetting_odds: Floats
) -> tuple[Floats, Floats]:
    """Drying and wetting activity of one leaf or stem [-].

    Parameters
    ----------
    moisture_db, scale_db
        Moisture, and that at half humidity on the drying branch [kg/kg].
    power, wetting_odds
        One over the Oswin exponent; the wetting factor to minus that power.
    """
    odds = np.power(moisture_db / scale_db, power)
    wetter = odds * wetting_odds
    return odds / (1 + odds), wetter / (1 + wetter)


def exchange_for(
    moisture_db: Floats,
    humidity: Floats,
    temperature_c: Floats,
    windrow: WindrowParameters,
    organ_mass: Floats,
    seconds: float,
) -> Exchange:
    """The exchange of one step, the branch chosen by the last step's humidity.

    Parameters
    ----------
    moisture_db
        Leaf and stem of each layer [kg/kg], (3, 2, lanes).
    humidity, temperature_c
        Of each layer's air [-] and of its hay [C], (3, lanes).
    windrow, organ_mass
        Parameters, and dry matter of leaf and stem [kg/m2], (3, 2, lanes or 1).
    seconds
        Length of the step.
    """
    drying, wetting, full = activities(moisture_db, temperature_c, windrow)
    exponent = leaf_and_stem(windrow.leaf.exponent, windrow.stem.exponent)
    hours = leaf_and_stem(windrow.leaf_time_h, windrow.stem_time_h)
    share = -np.expm1(-(seconds / 3600) * pace(temperature_c)[:, None, :] / hours)
    takes_up = (humidity[:, None, :] > wetting) & (moisture_db < full)
    activity = np.where(takes_up, wetting, drying)
    pull = pull_of(moisture_db, activity, takes_up, full, exponent * share)
    moves = takes_up | gives_off(humidity[:, None, :], drying)
    return Exchange(np.where(moves, pull * organ_mass / seconds, 0.0), activity, takes_up)


def gives_off(humidity: Floats, drying: Floats) -> Booleans:
    """True where hay gives off vapor; in equilibrium, as at a start, it does whatever rounds."""
    return humidity < drying * (1 + EQUILIBRIUM_WITHIN)


def pull_of(
    moisture_db: Floats, activity: Floats, takes_up: Booleans, full_db: Floats, steepness: Floats
) -> Floats:
    """Moisture taken up in one step per unit of humidity beyond the activity [kg/kg].

    One step, in the dampest or driest air, never carries hay past full or its floor.

    Parameters
    ----------
    moisture_db, activity, takes_up
        Moisture [kg/kg], activity and branch of leaf or stem.
    full_db
        Moisture full of vapor [kg/kg].
    steepness
        Oswin exponent times the share of the way to equilibrium in one step [-].
    """
    within = np.clip(activity, HUMIDITY_RANGE[0], HUMIDITY_RANGE[1])
    spare = np.maximum(moisture_db - MOISTURE_FLOOR_DB, 0.0)
    most = np.where(takes_up, (full_db - moisture_db) * within, spare * (1 - within))
    return np.minimum(moisture_db * steepness, most) / (within * (1 - within))
