"""The formulas of the NumPy step, compiled for single numbers from the same source.

Each function is taken as it stands and compiled with ``np`` meaning the scalar
functions of `hayweather.windrow.compiled.curves`, so that no formula is written
twice. Records (`Air`, `Ties`, ...) become named tuples of the same fields, layers
tuples of three numbers.
"""

from __future__ import annotations

import math
from collections import namedtuple
from collections.abc import Callable
from dataclasses import fields
from types import FunctionType, ModuleType
from typing import Any

import numba
import numpy as np

from hayweather.windrow import exchange, film, layers, skin, sky, sorption, vapor, vapor_flow
from hayweather.windrow.compiled import curves

Function = Callable[..., Any]

# Sums may be fused and divisions shared; order and NaN stay as written.
OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract", "arcp", "nsz"}}


def inlined(function: Function) -> Function:
    """A function compiled into its callers, so that they can do several lanes at once."""
    return numba.njit(forceinline=True, **OPTIONS)(function)


def whole(function: Function) -> Function:
    """A function compiled on its own."""
    return numba.njit(**OPTIONS)(function)


def _where(condition: bool, yes: float, no: float) -> float:
    return yes if condition else no


# A first argument that is NaN stays, as a value held to a limit is always written.
def _minimum(first: float, second: float) -> float:
    return second if second < first else first


def _maximum(first: float, second: float) -> float:
    return second if second > first else first


def _clip(value: float, low: float, high: float) -> float:
    above = low if value < low else value
    return high if above > high else above


def _less(first: float, second: float) -> bool:
    return first < second


def _itself(value: Any) -> Any:
    return value


def _curve(name: str) -> Function:
    """A curve compiled, the curves that it calls with it; sums in the order written."""
    function = getattr(curves, name)
    callees = {"power": ("exp", "log"), "expm1": ("exp",), "cosine": ("sine",)}.get(name, ())
    known = {**function.__globals__, **{callee: _curve(callee) for callee in callees}}
    known |= {"min": minimum, "max": maximum}
    copy = FunctionType(function.__code__, known, name)
    return numba.njit(forceinline=True, error_model="numpy", fastmath={"contract"})(copy)


minimum, maximum, clip, where = (inlined(each) for each in (_minimum, _maximum, _clip, _where))
exp, log, power, expm1, sine, cosine = (
    _curve(name) for name in ("exp", "log", "power", "expm1", "sine", "cosine")
)

_scalar_numpy = ModuleType("scalar_numpy")
_scalar_numpy.__dict__.update(
    minimum=minimum,
    maximum=maximum,
    clip=clip,
    where=where,
    exp=exp,
    power=power,
    expm1=expm1,
    sin=sine,
    cos=cosine,
    sqrt=math.sqrt,
    floor=np.floor,
    pi=math.pi,
    less=inlined(_less),
    any=inlined(_itself),
    asarray=inlined(_itself),
    stack=inlined(_itself),
)
_compiled: dict[str, Function] = {}


def _share(module: ModuleType, *names: str) -> None:
    """Compile functions of a module, callees first."""
    for name in names:
        function = getattr(module, name)
        known = {**function.__globals__, **_compiled, "np": _scalar_numpy}
        copy = FunctionType(function.__code__, known, name, function.__defaults__)
        _compiled[name] = inlined(copy)


_share(vapor, "saturation_vapor_pressure", "saturation_vapor_pressure_ice", "frost_limit")
_share(vapor, "slope_of", "latent_heat", "air_density", "vapor_coefficient")
_share(sky, "clear_sky_emissivity", "sky_longwave", "declination", "hour_angle", "mean_height")
_share(sorption, "moisture_scale", "pace")
_share(exchange, "activity_pair", "gives_off", "pull_of")
_share(film, "rain_caught", "drawn_in", "dripping")
_share(skin, "stability_factor", "air_resistance", "top_vapor_pressure")
_share(skin, "net_radiation", "newton_pass")
_share(vapor_flow, "eliminate_below", "solve_vapor", "supply")
_share(layers, "vapor_moved")

saturation_vapor_pressure = _compiled["saturation_vapor_pressure"]
frost_limit = _compiled["frost_limit"]
latent_heat = _compiled["latent_heat"]
air_density = _compiled["air_density"]
vapor_coefficient = _compiled["vapor_coefficient"]
sky_longwave = _compiled["sky_longwave"]
declination = _compiled["declination"]
hour_angle = _compiled["hour_angle"]
mean_height = _compiled["mean_height"]
moisture_scale = _compiled["moisture_scale"]
pace = _compiled["pace"]
activity_pair = _compiled["activity_pair"]
gives_off = _compiled["gives_off"]
pull_of = _compiled["pull_of"]
rain_caught = _compiled["rain_caught"]
drawn_in = _compiled["drawn_in"]
dripping = _compiled["dripping"]
air_resistance = _compiled["air_resistance"]
newton_pass = _compiled["newton_pass"]
eliminate_below = _compiled["eliminate_below"]
solve_vapor = _compiled["solve_vapor"]
supply = _compiled["supply"]
vapor_moved = _compiled["vapor_moved"]


def record(name: str, columns: str, module: str, summary: str) -> Any:
    """A named tuple, which compiled code reads as it reads a record.

    Parameters
    ----------
    name
        Of the record.
    columns
        Names of its values.
    module
        Where it is kept under its name: a build on disk is found again by it.
    summary
        What it is.
    """
    kind: Any = namedtuple(name, columns, module=module)  # type: ignore[misc]
    kind.__doc__ = summary
    return kind


def like(kind: type[Any]) -> Any:
    """A named tuple with the fields of a record of the NumPy step.

    Parameters
    ----------
    kind
        The record's class.
    """
    names = " ".join(item.name for item in fields(kind))
    return record(kind.__name__, names, __name__, f"Holds the values of `{kind.__name__}`.")


Air, TopAir, Ties = like(skin.Air), like(skin.TopAir), like(vapor_flow.Ties)
