"""Foreign columns to ours: units converted or refused, impossible values refused."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.units import to_inside
from hayweather.weather.air import dew_point_from_humidity
from hayweather.weather.quality import DEW_POINT_NOISE_K, cap_dew_point, first_outside, lift_sun
from hayweather.weather.record import NEEDED, Assumption, Booleans, Floats
from hayweather.weather.services.body import number_or_none
from hayweather.weather.services.failures import ServiceError, quote

HUMIDITY = "relative_humidity_percent"
"""Read beside our own columns, only to derive a dew point that is absent."""

DEW_POINT_SLACK_K = 5.0
"""A dew point this far above the air is in another unit or of another place (assumed)."""


@dataclass(frozen=True)
class Variable:
    """One foreign column.

    Attributes
    ----------
    column
        Our column.
    quantity
        Quantity in `hayweather.units`; None for a plain index or code.
    scale
        From the inside unit of the quantity to our column.
    hour_before
        True when the value at a stamp speaks of the hour that ends there.
    unit_if_none
        The unit that holds when the service names none, None to refuse.
    """

    column: str
    quantity: str | None = None
    scale: float = 1.0
    hour_before: bool = False
    unit_if_none: str | None = None


def number_array(values: Sequence[object], name: str, service: str) -> Floats:
    """Numbers of an answer as an array, null as NaN.

    Raises
    ------
    ServiceError
        If anything but a finite number or null stands there.
    """
    numbers = [number_or_none(value) for value in values]
    for value, number in zip(values, numbers, strict=True):
        if number is None and value is not None:
            raise ServiceError("service_value", service, name=name, value=quote(value))
    return np.array(numbers, dtype=np.float64)


def to_column(
    values: Floats, variable: Variable, unit: str | None, name: str, service: str
) -> Floats:
    """Values in our unit, checked against what is possible.

    Raises
    ------
    ServiceError
        If the unit is not known or a value is impossible.
    """
    converted = values
    if variable.quantity is not None:
        symbol = unit or variable.unit_if_none
        try:
            converted = to_inside(values, variable.quantity, symbol or "") * variable.scale
        except KeyError:
            symbol = None
        if symbol is None:
            raise ServiceError("service_unit", service, name=name, unit=quote(unit or ""))
    outside = first_outside(converted, variable.column)
    if outside is not None:
        raise ServiceError("service_value", service, name=name, value=f"{values[outside]:g}")
    return lift_sun(converted)[0] if variable.column == "shortwave_w_m2" else converted


def settle_dew_point(
    columns: dict[str, Floats], service: str
) -> tuple[dict[str, Floats], Booleans, tuple[Assumption, ...]]:
    """Columns with a dew point no higher than the air, derived from humidity if absent.

    Returns
    -------
    tuple
        The columns without humidity, where a dew point was pulled down by more
        than noise, and what people should know.

    Raises
    ------
    ServiceError
        If the dew point is far above the air.
    """
    air = columns.get("air_temperature_c")
    humidity = columns.pop(HUMIDITY, None)
    dew_point = columns.get("dew_point_c")
    if air is None:
        return columns, np.zeros((0, 0), dtype=bool), ()
    notes: tuple[Assumption, ...] = ()
    if dew_point is None:
        dew_point = np.full_like(air, np.nan)
    if humidity is not None and np.any(np.isnan(dew_point) & ~np.isnan(humidity + air)):
        derived = dew_point_from_humidity(air, humidity)
        dew_point = np.where(np.isnan(dew_point), derived, dew_point)
        notes = (Assumption("dew_point_from_humidity"),)
    elif "dew_point_c" not in columns:
        return columns, np.zeros(air.shape, dtype=bool), notes
    above = np.nan_to_num(dew_point - air, nan=0.0)
    if np.any(above > DEW_POINT_SLACK_K):
        worst = f"{dew_point.ravel()[above.argmax()]:g}"
        raise ServiceError("service_value", service, name="dew point", value=worst)
    capped, _ = cap_dew_point(dew_point, air)
    return {**columns, "dew_point_c": capped}, above > DEW_POINT_NOISE_K, notes


def require(columns: Mapping[str, Floats], service: str) -> None:
    """Raise when a column that the windrow cannot do without is not there.

    Raises
    ------
    ServiceError
        Naming the first column that is absent.
    """
    for name in NEEDED:
        if name not in columns:
            raise ServiceError("service_lacks", service, name=name)


def without_blank(columns: Mapping[str, Floats]) -> dict[str, Floats]:
    """Columns without those that are blank throughout and can be derived or left out.

    Rain stays: blank rain is "not known", and only an absent column may be
    taken as none.
    """
    stay = (*NEEDED, "rain_mm")
    return {
        name: values
        for name, values in columns.items()
        if name in stay or not np.isnan(values).all()
    }
