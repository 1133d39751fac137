"""Exponential, logarithm and power on single numbers, made of plain arithmetic.

A call into a mathematical library keeps the compiler from doing several lanes at
once; these polynomials do not. Bounds are checked by dense sweeps against NumPy
(tests/unit/test_compiled_curves.py): relative error of `exp` below 5e-16, absolute
error of `log` below 1e-15; in single precision, `exp_single` and `log_single`, both
below 2e-7.
"""

from __future__ import annotations

from typing import Any

import numpy as np

ROUNDING = 6755399441055744.0  # 1.5 * 2**52: added and taken off, it rounds to a whole number
PER_LN2 = 1.4426950408889634
LN2, LN2_HIGH, LN2_LOW = 0.6931471805599453, 6.93147180369123816490e-01, 1.90821492927058770002e-10
EXP_LEAST, EXP_MOST = -708.0, 709.0  # beyond these the result would leave the range of a float
ROOT_HALF_BITS = 0x3FE6A09E667F3BCD  # of sqrt(1/2)
# The same in single precision.
ROUNDING_SINGLE = 12582912.0  # 1.5 * 2**23
LN2_HIGH_SINGLE, LN2_LOW_SINGLE = 0.693359375, -2.12194440e-4
EXP_LEAST_SINGLE, EXP_MOST_SINGLE = -87.0, 88.0
ROOT_HALF_BITS_SINGLE = 0x3F3504F3


def exp(value: float) -> float:
    """Exponential: two to a whole power times a Taylor series of degree 12 below ln(2)/2."""
    bounded = EXP_LEAST if value < EXP_LEAST else value  # NaN stays
    bounded = EXP_MOST if bounded > EXP_MOST else bounded
    shifted = bounded * PER_LN2 + ROUNDING
    whole = shifted - ROUNDING
    rest = bounded - whole * LN2_HIGH - whole * LN2_LOW
    series = 1 / 479001600
    series = series * rest + 1 / 39916800
    series = series * rest + 1 / 3628800
    series = series * rest + 1 / 362880
    series = series * rest + 1 / 40320
    series = series * rest + 1 / 5040
    series = series * rest + 1 / 720
    series = series * rest + 1 / 120
    series = series * rest + 1 / 24
    series = series * rest + 1 / 6
    series = series * rest + 0.5
    series = series * rest + 1.0
    series = series * rest + 1.0
    # The whole number stands in the lowest bits of `shifted`; it goes into the exponent.
    bits = np.float64(series).view(np.int64) + (np.float64(shifted).view(np.int64) << 52)
    return np.int64(bits).view(np.float64)


def log(value: float) -> float:
    """Natural logarithm of a positive number: its exponent, and an artanh series of degree 21."""
    bits = np.float64(value).view(np.int64)
    exponent = (bits - ROOT_HALF_BITS) >> 52
    mantissa = np.int64(bits - (exponent << 52)).view(np.float64)
    ratio = (mantissa - 1.0) / (mantissa + 1.0)
    square = ratio * ratio
    series = 2 / 21
    series = series * square + 2 / 19
    series = series * square + 2 / 17
    series = series * square + 2 / 15
    series = series * square + 2 / 13
    series = series * square + 2 / 11
    series = series * square + 2 / 9
    series = series * square + 2 / 7
    series = series * square + 2 / 5
    series = series * square + 2 / 3
    series = series * square + 2.0
    return exponent * LN2 + ratio * series


def exp_single(value: Any) -> Any:
    """Exponential in single precision: as `exp`, the series of degree 7."""
    bounded = EXP_LEAST_SINGLE if value < EXP_LEAST_SINGLE else value  # NaN stays
    bounded = EXP_MOST_SINGLE if bounded > EXP_MOST_SINGLE else bounded
    shifted = bounded * PER_LN2 + ROUNDING_SINGLE
    whole = shifted - ROUNDING_SINGLE
    rest = bounded - whole * LN2_HIGH_SINGLE - whole * LN2_LOW_SINGLE
    series: Any = 1 / 5040
    series = series * rest + 1 / 720
    series = series * rest + 1 / 120
    series = series * rest + 1 / 24
    series = series * rest + 1 / 6
    series = series * rest + 0.5
    series = series * rest + 1.0
    series = series * rest + 1.0
    bits = np.float32(series).view(np.int32) + (np.float32(shifted).view(np.int32) << 23)
    return np.int32(bits).view(np.float32)


def log_single(value: Any) -> Any:
    """Natural logarithm in single precision: as `log`, the series of degree 9."""
    bits = np.float32(value).view(np.int32)
    exponent = np.int32(np.int32(bits - ROOT_HALF_BITS_SINGLE) >> 23)
    mantissa = np.int32(bits - np.int32(exponent << 23)).view(np.float32)
    ratio = (mantissa - 1.0) / (mantissa + 1.0)
    square = ratio * ratio
    series: Any = 2 / 9
    series = series * square + 2 / 7
    series = series * square + 2 / 5
    series = series * square + 2 / 3
    series = series * square + 2.0
    return np.float32(exponent) * LN2 + ratio * series


def power(base: float, exponent: float) -> float:
    """A positive number to any power."""
    return exp(exponent * log(base))


def expm1(value: float) -> float:
    """Exponential less one; to 1e-16 of one, not of the result."""
    return exp(value) - 1.0
