"""The formulas of the NumPy step, compiled for single numbers from the same source.

Each function is taken as it stands and compiled with ``np`` meaning the scalar
functions of `hayweather.windrow.compiled.curves`, so that no formula is written
twice.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from types import FunctionType, ModuleType
from typing import Any

import numba

from hayweather.windrow import column, hay, skin, sky, sorption, vapor
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


def _asarray(value: float) -> float:
    return value


def _curve(name: str) -> Function:
    """A curve compiled, the curves that it calls with it; sums in the order written."""
    function = getattr(curves, name)
    callees = {"power": ("exp", "log"), "expm1": ("exp",)}.get(name, ())
    known = {**function.__globals__, **{callee: _curve(callee) for callee in callees}}
    copy = FunctionType(function.__code__, known, name)
    return numba.njit(forceinline=True, error_model="numpy", fastmath={"contract"})(copy)


minimum, maximum, clip, where, asarray = (
    inlined(each) for each in (_minimum, _maximum, _clip, _where, _asarray)
)
exp, log, power, expm1 = (_curve(name) for name in ("exp", "log", "power", "expm1"))
_scalar_numpy = ModuleType("scalar_numpy")
_scalar_numpy.__dict__.update(
    minimum=minimum, maximum=maximum, clip=clip, where=where, sqrt=math.sqrt,
    exp=exp, power=power, expm1=expm1, asarray=asarray,
)  # fmt: skip
_compiled: dict[str, Function] = {}


def _share(module: ModuleType, *names: str) -> None:
    """Compile functions of a module, callees first."""
    for name in names:
        function = getattr(module, name)
        known = {**function.__globals__, **_compiled, "np": _scalar_numpy}
        _compiled[name] = inlined(
            FunctionType(function.__code__, known, name, function.__defaults__)
        )


_share(vapor, "saturation_vapor_pressure", "saturation_vapor_pressure_ice", "slope_of")
_share(vapor, "air_density", "vapor_coefficient", "latent_heat")
_share(sky, "prata_emissivity", "dilley_longwave", "clear_sky_emissivity", "sky_longwave")
_share(sorption, "moisture_scale", "pace")
_share(hay, "exchange", "rain_caught", "drawn_in", "dripping")
_share(skin, "stability_factor", "air_resistance", "what_follows")
_share(column, "nusselt", "rows_of", "eliminate", "ice_limits")

saturation_vapor_pressure, slope_of = _compiled["saturation_vapor_pressure"], _compiled["slope_of"]
exchange, rain_caught = _compiled["exchange"], _compiled["rain_caught"]
drawn_in, dripping = _compiled["drawn_in"], _compiled["dripping"]
air_resistance, nusselt = _compiled["air_resistance"], _compiled["nusselt"]
sky_longwave, what_follows = _compiled["sky_longwave"], _compiled["what_follows"]
rows_of, eliminate, ice_limits = (
    _compiled["rows_of"], _compiled["eliminate"], _compiled["ice_limits"],
)  # fmt: skip
