"""The numbers of a windrow that readings can move, and what is believed of them before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.farm.records import Tuning
from hayweather.weather.record import Floats


@dataclass(frozen=True)
class Knob:
    """One number to fit.

    Attributes
    ----------
    name
        Key of the farm file's ``[tuning]``.
    attribute
        Of `Tuning`.
    center, spread
        Prior: middle, and standard deviation (of the logarithm where `log`).
    low, high
        Bounds.
    log
        A factor.
    """

    name: str
    attribute: str
    center: float
    spread: float
    low: float
    high: float
    log: bool = False

    def value(self, z: float) -> float:
        """From standard deviations of the prior to the number itself."""
        if self.log:
            return float(self.center * np.exp(self.spread * z))
        return float(self.center + self.spread * z)

    def z(self, value: float) -> float:
        """The inverse of `value`."""
        off = np.log(value / self.center) if self.log else value - self.center
        return float(off / self.spread)


# Priors (assumed): mass within a third two times in three, dew point of the site within
# 1.5 K, leaf and stem as far as published curves differ, sky view 0.85-0.95.
KNOBS = (
    Knob("windrow_mass", "windrow_mass", 1.0, 0.3, 0.3, 3.0, log=True),
    Knob("dew_point_offset", "dew_point_offset_k", 0.0, 1.5, -6.0, 6.0),
    Knob("leaf_moisture", "leaf_moisture", 1.0, 0.13, 0.4, 2.5, log=True),
    Knob("stem_moisture", "stem_moisture", 1.0, 0.13, 0.4, 2.5, log=True),
    Knob("sky_view", "sky_view", 0.9, 0.05, 0.5, 1.0),
    Knob("rig_efficiency", "rig_efficiency", 0.8, 0.1, 0.2, 1.0),
)
NAMES = tuple(knob.name for knob in KNOBS)


def tuning_at(z: Floats) -> Tuning:
    """The tuning that lies `z` standard deviations of the priors off their middles, in bounds."""
    values = {
        knob.attribute: float(np.clip(knob.value(float(at)), knob.low, knob.high))
        for knob, at in zip(KNOBS, z, strict=True)
    }
    return Tuning(**values)
