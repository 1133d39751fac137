"""Polynomials of the compiled loop against NumPy, by dense sweeps over their whole use.

Bounds are those that the module states.
"""

import numpy as np
import pytest

pytest.importorskip("numba")

from hayweather.windrow.compiled import curves
from hayweather.windrow.compiled.shared import formulas

SWEEP = 20_001
DOUBLE, SINGLE = formulas(single=False), formulas(single=True)


def swept(function, values):
    return np.array([function(float(value)) for value in values])


@pytest.mark.parametrize("of", [curves, DOUBLE])
def test_exp_over_its_range(of):
    values = np.linspace(-700.0, 700.0, SWEEP)
    assert np.abs(swept(of.exp, values) / np.exp(values) - 1).max() < 5e-16


@pytest.mark.parametrize("of", [curves, DOUBLE])
def test_exp_beside_zero_and_beyond_its_range(of):
    values = np.linspace(-1.0, 1.0, SWEEP)
    assert np.abs(swept(of.exp, values) / np.exp(values) - 1).max() < 5e-16
    assert of.exp(0.0) == 1.0
    assert 0.0 < of.exp(-1e9) < 1e-300
    assert of.exp(1e9) > 1e300


@pytest.mark.parametrize("of", [curves, DOUBLE])
def test_log_over_many_magnitudes(of):
    values = np.exp(np.linspace(-9.0, 9.0, SWEEP))
    assert np.abs(swept(of.log, values) - np.log(values)).max() < 1e-15


@pytest.mark.parametrize("of", [curves, DOUBLE])
def test_log_near_one(of):
    values = np.linspace(0.5, 2.0, SWEEP)
    assert np.abs(swept(of.log, values) - np.log(values)).max() < 5e-16


def test_exp_in_single_precision():
    values = np.linspace(-86.0, 87.0, SWEEP).astype(np.float32)
    found = np.array([SINGLE.exp(value) for value in values])
    np.testing.assert_array_equal(found, found.astype(np.float32))
    assert np.abs(found / np.exp(values.astype(float)) - 1).max() < 2e-7
    assert SINGLE.exp(np.float32(0.0)) == 1.0
    assert 0.0 < SINGLE.exp(np.float32(-1e9)) < 1e-37
    assert SINGLE.exp(np.float32(1e9)) > 1e38
    assert np.isnan(SINGLE.exp(np.float32(np.nan)))


def test_log_in_single_precision():
    values = np.exp(np.linspace(-9.0, 9.0, SWEEP)).astype(np.float32)
    found = np.array([SINGLE.log(value) for value in values])
    np.testing.assert_array_equal(found, found.astype(np.float32))
    wrong = np.abs(found - np.log(values.astype(float)))
    assert (wrong / np.maximum(np.abs(found), 1.0)).max() < 2e-7


@pytest.mark.parametrize("exponent", [1 / 0.58, 1 / 0.33, 1 / 0.246, -4.0])
def test_power_as_the_sorption_curves_use_it(exponent):
    ratios = np.linspace(0.1, 40.0, SWEEP)
    found = np.array([curves.power(value, exponent) for value in ratios])
    assert np.abs(found / ratios**exponent - 1).max() < 2e-14


@pytest.mark.parametrize("of", [curves, DOUBLE])
def test_exp_of_what_is_not_known_is_not_known(of):
    assert np.isnan(of.exp(np.nan))


@pytest.mark.parametrize("name", ["minimum", "maximum"])
def test_what_is_not_known_stays_so_when_held_to_a_limit(name):
    """As NumPy has it: a wind that is missing is not the least wind."""
    ours, numpys = getattr(DOUBLE, name), getattr(np, name)
    for value in (np.nan, -1.0, 0.5, 2.0):
        np.testing.assert_equal(ours(value, 0.5), numpys(value, 0.5))


def test_what_is_not_known_stays_so_between_two_limits():
    for value in (np.nan, -1.0, 0.0, 0.5, 1.0, 2.0):
        np.testing.assert_equal(DOUBLE.clip(value, 0.0, 1.0), np.clip(value, 0.0, 1.0))
