"""The formulas of the NumPy step, compiled for single numbers from the same source.

Each function is taken as it stands and compiled with ``np`` meaning the scalar
functions of `hayweather.windrow.compiled.curves`, so that no formula is written
twice; in single precision its numbers are narrowed, for nothing else would keep
the compiler from working in double.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from types import FunctionType, ModuleType
from typing import Any

import numba
import numpy as np

from hayweather.windrow import column, hay, skin, sky, sorption, vapor
from hayweather.windrow.compiled import curves
from hayweather.windrow.vapor import Real

Function = Callable[..., Any]

# Sums may be fused and divisions shared; order and NaN stay as written.
OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": {"contract", "arcp", "nsz"}}


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


# Functions of a module, callees first.
_FORMULAS: tuple[tuple[ModuleType, tuple[str, ...]], ...] = (
    (vapor, ("saturation_vapor_pressure", "saturation_vapor_pressure_ice", "slope_of")),
    (vapor, ("air_density", "vapor_coefficient", "latent_heat")),
    (sky, ("prata_emissivity", "dilley_longwave", "clear_sky_emissivity", "sky_longwave")),
    (sorption, ("moisture_scale", "pace")),
    (hay, ("exchange", "rain_caught", "drawn_in", "dripping")),
    (skin, ("stability_factor", "air_resistance", "what_follows")),
    (column, ("nusselt", "rows_of", "eliminate", "ice_limits")),
)


class Formulas:
    """The formulas for numbers of one precision, each under its own name.

    Attributes
    ----------
    real
        `numpy.float64` or `numpy.float32`.
    exp, log
        Their curves.
    minimum, maximum, clip, where
        As NumPy's, of single numbers.
    of
        The formulas of the NumPy step by name.
    """

    def __init__(self, real: Real) -> None:
        self.real = real
        single = real is np.float32
        self.exp, self.log = (
            self._curve(f"{name}_single" if single else name) for name in ("exp", "log")
        )
        self.minimum, self.maximum, self.clip, self.where, asarray = (
            self.inlined(each) for each in (_minimum, _maximum, _clip, _where, _asarray)
        )
        numpy = ModuleType("scalar_numpy")
        numpy.__dict__.update(
            minimum=self.minimum, maximum=self.maximum, clip=self.clip, where=self.where,
            sqrt=math.sqrt, exp=self.exp, asarray=asarray,
            power=self._curve("power", exp=self.exp, log=self.log),
            expm1=self._curve("expm1", exp=self.exp),
        )  # fmt: skip
        self.of: dict[str, Function] = {}
        for module, names in _FORMULAS:
            for name in names:
                self.of[name] = self.inlined(getattr(module, name), np=numpy, **self.of)

    def inlined(self, function: Function, **known: object) -> Function:
        """A function compiled into its callers, so that they can do several lanes at once."""
        return numba.njit(forceinline=True, **OPTIONS)(self._narrowed(function, known))

    def whole(self, function: Function) -> Function:
        """A function compiled on its own."""
        return numba.njit(**OPTIONS)(self._narrowed(function, {}))

    def _curve(self, name: str, **callees: Function) -> Function:
        """A curve compiled, sums in the order written."""
        copy = self._narrowed(getattr(curves, name), callees)
        return numba.njit(forceinline=True, error_model="numpy", fastmath={"contract"})(copy)

    def _narrowed(self, function: Any, known: dict[str, Any]) -> Any:
        """The function with the numbers in it, and those of its module, in this precision."""
        code, names = function.__code__, function.__globals__
        if self.real is np.float32:
            code = code.replace(co_consts=tuple(map(self._number, code.co_consts)))
            names = {name: self._number(value) for name, value in names.items()}
        return FunctionType(
            code, {**names, **known}, function.__name__, function.__defaults__,
            function.__closure__,
        )  # fmt: skip

    def _number(self, value: Any) -> Any:
        """A float, or each float of a tuple, in this precision; anything else as it is."""
        if type(value) is tuple:
            return tuple(map(self._number, value))
        return self.real(value) if type(value) is float else value


@cache
def formulas(single: bool) -> Formulas:
    """The formulas in single or double precision, made once."""
    return Formulas(np.float32 if single else np.float64)
