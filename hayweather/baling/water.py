"""Water to add: a mass balance, the rig's range, and the top of the band."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from hayweather.catalog.balers import TARGET_ABOVE_BAND_WB
from hayweather.farm.records import Rig
from hayweather.weather.record import Floats

ROOM_TOLERANCE_WB = 1e-9


@dataclass(frozen=True)
class Dose:
    """What a rig would put on, arrays of one shape.

    Attributes
    ----------
    applied_l_t
        Water leaving the nozzles [L per tonne of hay as it lies]; NaN where the
        rig cannot help.
    needed_l_t
        What would reach the target, before the rig's range is looked at.
    after_wb
        Windrow moisture after it [% wet basis]; NaN where the rig cannot help.
    efficiency
        Part of the water that stays in the hay [-].
    """

    applied_l_t: Floats
    needed_l_t: Floats
    after_wb: Floats
    efficiency: Floats

    def rows(self, rows: slice) -> Dose:
        """Some rows of it."""
        return Dose(**{item.name: getattr(self, item.name)[rows] for item in fields(self)})


def water_to_add_l_t(moisture_wb: float | Floats, target_wb: float | Floats) -> Floats:
    """Water that must stay in the hay [L per tonne as it lies], mass balance.

    ``1000 (m2 - m1)/(100 - m2)`` with moistures in % wet basis and one litre
    a kilogram; negative where the hay is wetter than the target.

    Examples
    --------
    >>> round(float(water_to_add_l_t(10.0, 14.0)), 2)
    46.51
    """
    target = np.asarray(target_wb, dtype=np.float64)
    return 1000 * (target - moisture_wb) / (100 - target)


def moisture_after(moisture_wb: float | Floats, kept_l_t: float | Floats) -> Floats:
    """Moisture [% wet basis] after `kept_l_t` litres per tonne stayed in the hay.

    Parameters
    ----------
    moisture_wb
        Before [% wet basis], any shape.
    kept_l_t
        Litres per tonne of hay as it lay; what the wind takes is not in it.

    Examples
    --------
    >>> round(float(moisture_after(10.0, 46.5116)), 3)
    14.0
    """
    return (1000 * np.asarray(moisture_wb) / 100 + kept_l_t) / (1000 + np.asarray(kept_l_t)) * 100


def dose(
    moisture_wb: Floats,
    rig: Rig,
    low_wb: float,
    high_wb: float,
    target_wb: float,
    efficiency: float | Floats | None = None,
) -> Dose:
    """What `rig` puts on hay of `moisture_wb` to bring it into the band.

    The need is divided by the application efficiency and held within the rig's
    range. Where the least the rig can give would pass the top of the band, or
    the most it can give does not reach the bottom, or nothing at all would be
    put on, the rig cannot help.

    Parameters
    ----------
    moisture_wb
        Whole windrow with its free water [% wet basis].
    rig
        Range, efficiency.
    low_wb, high_wb, target_wb
        Band and target [% wet basis].
    efficiency
        Part of the water that stays in the hay [-], a number or of the shape of
        `moisture_wb` (`hayweather.baling.machines.application_efficiency`);
        None for the rig's own, as on a calm damp night.
    """
    stays = np.broadcast_to(rig.efficiency if efficiency is None else efficiency, moisture_wb.shape)
    needed = np.maximum(water_to_add_l_t(moisture_wb, target_wb), 0.0) / stays
    applied = np.clip(needed, rig.rate_min_l_t, rig.rate_max_l_t)
    after = moisture_after(moisture_wb, applied * stays)
    helps = (after >= low_wb - ROOM_TOLERANCE_WB) & (after <= high_wb + ROOM_TOLERANCE_WB)
    helps &= applied > 0
    applied, after = np.where(helps, applied, np.nan), np.where(helps, after, np.nan)
    return Dose(applied, needed, after, stays)


def target_for(rig: Rig, low_wb: float) -> float:
    """The moisture a rig aims at [% wet basis]: its own, else one point above the bottom.

    Parameters
    ----------
    rig
        Its own target, None where it has none.
    low_wb
        Bottom of the band [% wet basis].
    """
    return low_wb + TARGET_ABOVE_BAND_WB if rig.target_wb is None else rig.target_wb
