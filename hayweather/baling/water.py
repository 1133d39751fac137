"""What a rig puts on: how much water, what it does to the hay, how warm its burners make it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hayweather.catalog.rigs import DEFAULTS, DRAWN, HOTTEST_C
from hayweather.farm.bands import Band
from hayweather.farm.records import Baler, Rig
from hayweather.units import GALLON_L, POUND_KG
from hayweather.weather.record import Booleans, Floats
from hayweather.windrow.trajectory import Layers, Singles, soft_share, wet_share

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
    landing
        Where it lands, for every lane.
    off_dial
        Where the rig would help, if its rate could be set between two steps.
    """

    applied_l_t: Floats
    needed_l_t: Floats
    after_wb: Floats
    efficiency: Floats
    landing: Landing
    off_dial: Booleans

    def rows(self, rows: slice) -> Dose:
        """Some rows of it."""
        arrays = ("applied_l_t", "needed_l_t", "after_wb", "efficiency", "off_dial")
        return replace(self, **{name: getattr(self, name)[rows] for name in arrays})


@dataclass(frozen=True)
class Landing:
    """Where a rig's water lands, numbers or (lanes,).

    Attributes
    ----------
    leaf
        Part that the leaf takes [-].
    top
        Part that falls on the upper half of the windrow [-].
    """

    leaf: float | Floats
    top: float | Floats

    @classmethod
    def of(cls, rig: Rig, drawn: Mapping[str, Floats] | None = None) -> Landing:
        """Of a rig: what its farm file gives, else what is drawn, else the usual (assumed).

        Parameters
        ----------
        rig
            The rig.
        drawn
            Shares of every lane by name.
        """
        shares: dict[str, float | Floats] = {name: DEFAULTS[name].value for name in DRAWN}
        shares |= drawn or {}
        leaf = shares["leaf_share"] if rig.leaf_share is None else rig.leaf_share
        return cls(leaf, shares["top_share"] if rig.top_share is None else rig.top_share)

    def at(self, lanes: NDArray[np.int64]) -> Landing:
        """Of some lanes, side by side."""

        def some(share: float | Floats) -> float | Floats:
            return share if np.ndim(share) == 0 else np.asarray(share)[lanes]

        return Landing(some(self.leaf), some(self.top))


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


@dataclass(frozen=True)
class Limits:
    """What hay must keep to be baled behind a rig.

    Attributes
    ----------
    low_wb, high_wb, target_wb, ceiling_wb, leaf_minimum_wb
        Band, target of the rig, the bale's ceiling and the least leaf moisture
        [% wet basis]; None for a crop whose leaf may be dry.
    soft_share, wet_share
        Least share of soft leaf, largest share of hay above the ceiling [-].
    """

    low_wb: float
    high_wb: float
    target_wb: float
    ceiling_wb: float
    leaf_minimum_wb: float | None
    soft_share: float
    wet_share: float

    @classmethod
    def of(cls, band: Band, baler: Baler, target_wb: float) -> Limits:
        """Those of a band and a baler."""
        return cls(
            band.low_wb,
            band.high_wb,
            target_wb,
            band.ceiling_wb,
            band.leaf_minimum_wb,
            baler.soft_share,
            baler.wet_share,
        )


PART = 32768  # quarters whose dose is worked out at a time; measured
RATE_HALVINGS = 10  # of the rig's range, to find the least rate that softens the leaf


def dose(
    hay: Layers,
    windrow_wb: Floats,
    dry: Booleans,
    rig: Rig,
    limits: Limits,
    stays: Floats,
    landing: Landing | None = None,
    every_need: bool = True,
) -> Dose:
    """The least water of `rig` that brings dry hay into its limits.

    The least within the rig's range that softens enough of the leaf and reaches
    the target; where the range ends before the target but within the limits, the
    most it gives. Where that makes too much of the hay too wet, or passes the top
    of the band, or does not reach the limits, the rig cannot help; nor where no
    step of its dial next to it keeps the limits.

    Parameters
    ----------
    hay, windrow_wb
        Before it, by layer and whole with its free water [% wet basis].
    dry
        Where water may be added, (rows, lanes).
    rig
        Range, and where its water goes.
    limits
        Of the hay behind it.
    stays
        Part of the water that stays in the hay [-], (rows, lanes).
    landing
        Where its water lands in every lane; None: as the rig says.
    every_need
        False leaves `needed_l_t` to the target alone, the leaf not looked at, where
        the most of the rig does not bring the windrow into its band.
    """
    lands = Landing.of(rig) if landing is None else landing
    stays = np.broadcast_to(stays, windrow_wb.shape)
    needed = np.maximum(water_to_add_l_t(windrow_wb, limits.target_wb), 0.0) / stays
    applied, after = np.full(needed.shape, np.nan), np.full(needed.shape, np.nan)
    off_dial = np.zeros(needed.shape, dtype=bool)
    open_ = dry & np.isfinite(needed) & ~np.isnan(windrow_wb)
    if not every_need:
        most = moisture_after(windrow_wb, rig.rate_max_l_t * stays)
        open_ &= most >= limits.low_wb - ROOM_TOLERANCE_WB
    every = np.nonzero(open_)
    for first in range(0, every[0].size, PART):  # so that what is between stays near the core
        asked = (every[0][first : first + PART], every[1][first : first + PART])
        some, moisture, kept = picked(hay, asked), windrow_wb[asked], stays[asked]
        there = lands.at(asked[1])
        floor = np.clip(needed[asked], rig.rate_min_l_t, rig.rate_max_l_t)
        soft = _softening(some, moisture, kept, floor, rig.rate_max_l_t, there, limits)
        least = np.maximum(np.minimum(soft, rig.rate_max_l_t), rig.rate_min_l_t)
        target = np.maximum(needed[asked], soft)
        rate = np.maximum(np.minimum(target, rig.rate_max_l_t), least)
        good = (rate > 0) & brought_in(some, moisture, rate * kept, there, limits)
        dialed = np.zeros_like(good)
        for step in dial_steps(rate, rig):
            left = np.flatnonzero(good & ~dialed & (step > 0))
            dialed[left] = brought_in(
                of_lanes(some, left), moisture[left], (step * kept)[left], there.at(left), limits
            )
        needed[asked], off_dial[asked] = target, good & ~dialed
        good &= dialed
        applied[asked] = np.where(good, rate, np.nan)
        after[asked] = np.where(good, moisture_after(moisture, rate * kept), np.nan)
    return Dose(applied, needed, after, stays, lands, off_dial)


DIAL_HAIR = 1e-9


def dial_steps(rate_l_t: Floats, rig: Rig) -> tuple[Floats, Floats]:
    """What can be dialed next below and above a rate [L/t]: whole steps, or an end of the range.

    Examples
    --------
    >>> rig = Rig("rig", 3000.0, 10.0, 79.0, 40.0, 20.0, rate_step_l_t=2.0)
    >>> [float(x) for rate in (10.5, 13.0, 14.0, 78.5) for x in dial_steps(np.array(rate), rig)]
    [10.0, 12.0, 12.0, 14.0, 14.0, 14.0, 78.0, 79.0]
    """
    steps = np.asarray(rate_l_t) / rig.rate_step_l_t
    below = np.floor(steps + DIAL_HAIR) * rig.rate_step_l_t
    above = np.ceil(steps - DIAL_HAIR) * rig.rate_step_l_t
    return np.maximum(below, rig.rate_min_l_t), np.minimum(above, rig.rate_max_l_t)


def dialed_l_t(
    rate_l_t: Floats, rig: Rig, keeps: Callable[[Floats], Booleans], most_l_t: float | None = None
) -> Floats:
    """What is told to dial for rates [L/t]: the only place where a rate becomes a step.

    The nearest that brings the hay into its limits, of two as near the smaller: never
    less than softens enough of the leaf, nor more than leaves enough of the hay dry
    enough. Where the rate itself would not bring it in, being that of the forecast runs,
    the nearest.

    Parameters
    ----------
    rate_l_t
        As worked out, (n,).
    rig
        Range and step.
    keeps
        Where rates, (n,), bring the hay into its limits.
    most_l_t
        What the flow allows; None: the whole range.

    Returns
    -------
    ndarray
        (n,); NaN where no step beside the rate serves.
    """
    most = rig.rate_max_l_t if most_l_t is None else most_l_t
    exact = np.minimum(rate_l_t, most)
    steps = np.stack(dial_steps(exact, rig))
    nearest = np.argsort(np.abs(steps - exact), axis=0, kind="stable")
    of_the_runs = ~keeps(rate_l_t)
    found = np.full(rate_l_t.shape, np.nan)
    for step in np.take_along_axis(steps, nearest, axis=0):
        in_range = (step >= rig.rate_min_l_t * (1 - DIAL_HAIR)) & (step <= most * (1 + DIAL_HAIR))
        open_ = np.isnan(found) & in_range & (step > 0)
        if open_.any():
            found = np.where(open_ & (of_the_runs | keeps(step)), step, found)
    return found


def picked(hay: Layers, where: tuple[NDArray[np.int64], ...]) -> Layers:
    """The hay of some rows and lanes side by side, as one row of so many lanes.

    Its water alone: the temperatures are left blank.
    """
    rows, lanes = where
    _, layers, wide = hay.leaf_db.shape
    places = rows * (layers * wide) + lanes + np.arange(layers)[:, None] * wide
    parts = {
        name: getattr(hay, name).reshape(-1).take(places)[None]
        for name in ("leaf_db", "stem_db", "film_db")
    }
    share = hay.leaf_share[lanes] if hay.leaf_share.size > 1 else hay.leaf_share
    return replace(hay, leaf_share=share, temperature_c=_blank(parts["leaf_db"]), **parts)


def of_lanes(hay: Layers, lanes: NDArray[np.int64]) -> Layers:
    """Some lanes of what was picked."""
    if lanes.size == hay.leaf_db.shape[-1]:  # in order, so all of them
        return hay
    names = ("leaf_db", "stem_db", "film_db")
    parts = {name: getattr(hay, name).take(lanes, axis=-1) for name in names}
    share = _of_lanes(hay.leaf_share, lanes)
    return replace(hay, leaf_share=share, temperature_c=_blank(parts["leaf_db"]), **parts)


def _blank(like: Singles) -> Singles:
    """Unknown in the shape of something, without memory of its own."""
    return np.broadcast_to(np.float32(np.nan), like.shape)


def _softening(
    hay: Layers,
    windrow_wb: Floats,
    stays: Floats,
    floor_l_t: Floats,
    most_l_t: float,
    landing: Landing,
    limits: Limits,
) -> Floats:
    """Least rate from the floor to the most that softens enough leaf [L/t], (n,).

    0 where the floor does, infinite where nothing does.
    """
    found = np.zeros(windrow_wb.shape)
    if limits.leaf_minimum_wb is None:
        return found

    # All that softness hangs on.
    leaf, gain = hay.leaf_db, _leaf_gain(hay, landing)

    def softens(rate: Floats, lanes: NDArray[np.int64]) -> Booleans:
        kept = kept_db(windrow_wb[lanes], rate * stays[lanes])[None]
        wetted = _wetted(leaf.take(lanes, axis=-1), _of_lanes(gain, lanes), kept)
        soft = soft_share(replace(hay, leaf_db=wetted), limits.leaf_minimum_wb)
        return np.asarray(soft[0] >= limits.soft_share)

    every = np.arange(windrow_wb.size)
    hard = every[~softens(floor_l_t, every)]
    enough = softens(np.full(hard.size, most_l_t), hard)
    found[hard[~enough]] = np.inf
    open_ = hard[enough]
    low, high = floor_l_t[open_], np.full(open_.size, most_l_t)
    for _ in range(RATE_HALVINGS):
        middle = (low + high) / 2
        done = softens(middle, open_)
        low, high = np.where(done, low, middle), np.where(done, middle, high)
    found[open_] = high
    return found


def _of_lanes(values: Floats, lanes: NDArray[np.int64]) -> Floats:
    """The values of some lanes; what all share stays."""
    return values.take(lanes, axis=-1) if values.shape[-1] > 1 else values


def brought_in(
    hay: Layers, windrow_wb: Floats, kept_l_t: Floats, landing: Landing, limits: Limits
) -> Booleans:
    """Whether water that stays brings hay into its limits; one row of hay, (n,) each."""
    after = moisture_after(windrow_wb, kept_l_t)
    good = after >= limits.low_wb - ROOM_TOLERANCE_WB
    good &= after <= limits.high_wb + ROOM_TOLERANCE_WB
    left = np.flatnonzero(good)  # what the whole windrow rules out is not looked at by layer
    kept = kept_db(windrow_wb[left], kept_l_t[left])[None]
    wetted = sprayed(of_lanes(hay, left), kept, landing.at(left))
    soft = soft_share(wetted, limits.leaf_minimum_wb)[0]
    fits = soft >= limits.soft_share - ROOM_TOLERANCE_WB
    good[left] = fits & (wet_share(wetted, limits.ceiling_wb)[0] <= limits.wet_share)
    return np.asarray(good)


def kept_db(windrow_wb: Floats, kept_l_t: Floats) -> Floats:
    """Water that stays, per dry matter [kg/kg], from liters per tonne as the hay lay."""
    return kept_l_t / 1000 / (1 - windrow_wb / 100)


def sprayed(hay: Layers, kept_db: Floats, landing: Landing) -> Layers:
    """The windrow after a rig's water, before it has spread.

    The upper half of the dry matter takes its share of the water and the lower
    half the rest; within each half it lies evenly. The leaf takes its own share.

    Parameters
    ----------
    hay
        Before it.
    kept_db
        Water that stays, per dry matter of the windrow [kg/kg], (rows, lanes).
    landing
        Where the water lands.
    """
    gain = _density(hay, landing) * kept_db[:, None]
    stem = hay.stem_db + gain * (1 - np.asarray(landing.leaf)) / (1 - hay.leaf_share)
    leaf = _wetted(hay.leaf_db, _leaf_gain(hay, landing), kept_db)
    return replace(hay, leaf_db=leaf, stem_db=stem.astype(np.float32))


def _density(hay: Layers, landing: Landing) -> Floats:
    """How much of the water lands in each layer, of an even share [-], (layers, lanes or 1)."""
    below = np.cumsum(hay.shares)
    upper = np.clip(0.5 - (below - hay.shares), 0.0, hay.shares) / hay.shares
    top, upper = np.asarray(landing.top), upper[:, None]
    return 2 * (top * upper + (1 - top) * (1 - upper))


def _leaf_gain(hay: Layers, landing: Landing) -> Floats:
    """What a layer's leaf gains of water that stays in the windrow [-], (layers, n or 1)."""
    return np.asarray(_density(hay, landing) * landing.leaf / hay.leaf_share)


def _wetted(leaf_db: Singles, gain: Floats, kept_db: Floats) -> Singles:
    """The leaf after a rig's water, as `sprayed` has it, (rows, layers, lanes)."""
    return (leaf_db + gain * kept_db[:, None]).astype(np.float32)


BTU_J = 1055.056
DIESEL_J_L = 137_381 * BTU_J / GALLON_L  # 137,381 Btu/gal, US EIA, published
WATER_J_KG_K = BTU_J * 1.8 / POUND_KG  # 1 Btu/lb/F; within 1.5 % up to 120 C
WATER_KG_L = 8.345 * POUND_KG / GALLON_L  # 8.345 lb/gal


def fuel_for_water_l(water_l: float, rise_k: float, efficiency: float) -> float:
    """Diesel [L] that warms water [L] by `rise_k`, with the burner's efficiency [-].

    ``fuel x heating value x efficiency = water x specific heat x rise``; burners
    are taken to run only while water flows. Nothing here is a setting for a
    burner: its manual is.

    Examples
    --------
    >>> gallons = 93.02 / 8.345
    >>> round(fuel_for_water_l(gallons * GALLON_L, 120 / 1.8, 0.8) / GALLON_L, 4)
    0.1016
    """
    return water_l * WATER_KG_L * WATER_J_KG_K * rise_k / (DIESEL_J_L * efficiency)


def rise_from_fuel_k(fuel_l: float, water_l: float, efficiency: float) -> float:
    """Rise of temperature [K] of water [L] by so much diesel [L]."""
    return fuel_l * DIESEL_J_L * efficiency / (water_l * WATER_KG_L * WATER_J_KG_K)


def burner_fuel_l(rig: Rig, water_l: float, flowing_h: float) -> float | None:
    """Fuel of a rig's burners [L] for water that flows through in some hours.

    Their full rate while water flows, but never more than warms the water to the
    most it may have (`hottest_c`): then a burner is turned down or off.

    Parameters
    ----------
    rig
        The rig; 0 where it does not heat.
    water_l
        Water that leaves the tank [L].
    flowing_h
        Hours in which it flows.

    Returns
    -------
    float or None
        Liters; None where neither rate nor temperature is known.
    """
    if not rig.heated:
        return 0.0
    most = None if rig.fuel_rate_l_h is None else rig.fuel_rate_l_h * flowing_h
    if rig.water_out_c is None and most is None:
        return None
    rise = max(hottest_c(rig) - rig.water_in_c, 0.0)
    needed = fuel_for_water_l(water_l, rise, rig.burner_efficiency)
    return needed if most is None else min(needed, most)


def hottest_c(rig: Rig) -> float:
    """The most that water behind the burners may have [C]: the machine's, else the assumed."""
    return HOTTEST_C if rig.water_out_c is None else rig.water_out_c


def full_burners_c(rig: Rig, flow_l_min: float) -> float | None:
    """Temperature [C] behind burners at full rate at a flow [L/min]; None where not known.

    With no burner's rate known, the machine's own temperature. Water under
    pressure or steam is no part of this balance: above `hottest_c` it is no
    forecast but a refusal.
    """
    if not rig.heated or flow_l_min <= 0:
        return None
    if rig.fuel_rate_l_h is None:
        return rig.water_out_c
    rise = rise_from_fuel_k(rig.fuel_rate_l_h, 60 * flow_l_min, rig.burner_efficiency)
    return rig.water_in_c + rise
