"""What each baler may do in each field and slot, and what it brings: from courses to slots.

A slot may be used where both its quarters may, by the call shown: on dew, behind
the rig, or dry where it is cured but too dry.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import Call
from hayweather.baling.course import Course
from hayweather.baling.setting import Setting, with_machines
from hayweather.baling.value_hours import hour_values
from hayweather.baling.value_prices import Prices
from hayweather.farm.records import Baler, Rig
from hayweather.nights import FieldNight
from hayweather.plan.rates import baler_rate_kg_h, behind_rig_kg_h, keeps_pace
from hayweather.plan.task import SLOT_H, SLOT_MINUTES, Whole
from hayweather.weather.record import Booleans, Floats

SLOT_QUARTERS = SLOT_MINUTES // 15


@dataclass(frozen=True)
class Look:
    """A field as a kind of baler finds it, as it lies or behind a rig, by slots.

    Attributes
    ----------
    good
        Where it may be baled so, by the call shown and the stops, (slots,).
    call
        The call shown, of the first quarter.
    value
        What a kilogram brings before the work is paid, (slots, members).
    standing
        What a kilogram still lying at the end brings, (members,).
    water_l_t
        Water put on [L/t], the more of the two quarters; NaN without a rig.
    leaf_wb, windrow_wb
        Of the forecast [% wet basis].
    added_wb
        Points that the rig's water adds to them; 0 without a rig.
    rain_mm
        Of the forecast, in each slot.
    """

    good: Booleans
    call: NDArray[np.int8]
    value: Floats
    standing: Floats
    water_l_t: Floats
    leaf_wb: Floats
    windrow_wb: Floats
    added_wb: Floats
    rain_mm: Floats


@dataclass(frozen=True)
class Way:
    """One baler in one field, one way of baling, over all slots.

    Attributes
    ----------
    look
        The field as this baler finds it.
    rate_kg
        Hay in a full slot [kg], 0 where it may not be baled.
    together_kg
        Most that the rig serves in a slot for all balers; the rate without a rig.
    member_value
        What a kilogram brings, work paid, (slots, members); 0 where nothing is known.
    """

    look: Look
    rate_kg: Floats
    together_kg: Floats
    member_value: NDArray[np.float32]


def look_of(
    field: FieldNight, baler: Baler, rig: Rig | None, prices: Prices, members: Whole
) -> Look:
    """A field as a kind of baler finds it.

    Parameters
    ----------
    field
        With its members.
    baler, rig
        Machines; no rig to bale as the hay lies.
    prices
        What things cost.
    members
        Lanes that count the same, as many in every field.
    """
    course = field.course(baler, rig)
    setting = with_machines(field.setting, baler, rig)
    values = hour_values(course.quarters, course.weather, setting, prices)
    each = values.as_it_lies if rig is None else values.with_rig
    return Look(
        good=_good(course, rig),
        call=course.quarters.call[::SLOT_QUARTERS, 0],
        value=_slots(each[:, members]),
        standing=values.standing[-1, members],
        water_l_t=_water(course),
        leaf_wb=_slots(course.quarters.leaf_wb[:, :1])[:, 0],
        windrow_wb=_slots(course.quarters.windrow_wb[:, :1])[:, 0],
        added_wb=_added(course),
        rain_mm=_slots(course.quarters.rain_mm_h[:, :1])[:, 0] * SLOT_H,
    )


def _slots(quarters: Floats) -> Floats:
    """Mean of the quarters of each slot, (quarters, n) to (slots, n)."""
    return np.asarray(quarters.reshape(-1, SLOT_QUARTERS, quarters.shape[1]).mean(axis=1))


def _good(course: Course, rig: Rig | None) -> Booleans:
    """Slots whose quarters all may be baled, by the call shown and the stops."""
    calls = (Call.NATURAL_DEW, Call.TOO_DRY) if rig is None else (Call.ADD_MOISTURE,)
    good = np.isin(course.quarters.call[:, 0], calls) & ~course.stopped[:, 0]
    return np.asarray(good.reshape(-1, SLOT_QUARTERS).all(axis=1))


def _water(course: Course) -> Floats:
    """Water put on in each slot [L/t]; NaN without a rig."""
    if course.quarters.dose is None:
        return np.full(course.quarters.call.shape[0] // SLOT_QUARTERS, np.nan)
    applied = course.quarters.dose.applied_l_t[:, 0]
    return np.asarray(applied.reshape(-1, SLOT_QUARTERS).max(axis=1))


def _added(course: Course) -> Floats:
    """Points that the water of each slot adds; 0 without a rig, NaN where it cannot help."""
    quarters = course.quarters
    after = quarters.windrow_wb if quarters.dose is None else quarters.dose.after_wb
    return _slots(after[:, :1] - quarters.windrow_wb[:, :1])[:, 0]


def way_of(
    look: Look, setting: Setting, rig: Rig | None, prices: Prices, together_kg_h: float
) -> Way:
    """One baler's pace and gain in a field.

    Parameters
    ----------
    look
        The field as this kind of baler finds it.
    setting
        With this baler.
    rig
        That it follows; None to bale as the hay lies.
    prices
        What work costs.
    together_kg_h
        Capacity of all balers that may follow the rig.
    """
    baler, field, moisture = setting.baler, setting.field, setting.band.low_wb
    alone = baler_rate_kg_h(baler, field, rig, moisture)
    water, may = look.water_l_t, look.good & (alone > 0)
    rate, many = np.full(may.shape, alone), np.full(may.shape, alone)
    if rig is not None:
        rate, many = (behind_rig_kg_h(pace, rig, water) for pace in (alone, together_kg_h))
        may = may & np.isfinite(rate) & keeps_pace(alone, baler, rig, field, water, moisture)
    brought = look.value - _work(rate, baler, rig, prices)[:, None]
    return Way(
        look=look,
        rate_kg=np.where(may, rate * SLOT_H, 0.0),
        together_kg=np.where(may, many * SLOT_H, 0.0),
        member_value=np.where(np.isfinite(brought), brought, 0.0).astype(np.float32),
    )


def without_work(way: Way) -> Way:
    """A way of machines that the field does not want."""
    none = np.zeros_like(way.rate_kg)
    return replace(way, rate_kg=none, together_kg=none)


def _work(rate: Floats, baler: Baler, rig: Rig | None, prices: Prices) -> Floats:
    """Machines, wages and the burner's fuel for a kilogram, as if one baler followed the rig.

    Infinite where nothing is baled.
    """
    hourly = prices.baler_h + prices.wage_h
    if rig is not None:
        fuel = (rig.fuel_rate_l_h or 0.0) if rig.heated else 0.0
        hourly += prices.rig_h + prices.wage_h + fuel * prices.fuel_l
    return np.divide(hourly, rate, out=np.full(rate.shape, np.inf), where=rate > 0)
