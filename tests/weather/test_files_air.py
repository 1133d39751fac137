"""Air at the door, and the named repairs on plain arrays.

ASHRAE Fundamentals 2017 ch. 1 for single values; PsychroLib (ASHRAE's own
formulas) as an oracle over a grid; altimeter settings against the definition
in the US standard atmosphere of 1976.
"""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from numpy.testing import assert_allclose

from hayweather.weather import air, quality

NAN = float("nan")


def grid() -> tuple[np.ndarray, np.ndarray]:
    """Air temperature and humidity over what a hay field sees above freezing."""
    temperature, humidity = np.meshgrid(np.arange(1.0, 46.0, 4.0), np.arange(5.0, 101.0, 9.5))
    return temperature.ravel(), humidity.ravel()


def test_dew_point_against_psychrolib() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)
    temperature, humidity = grid()
    pairs = zip(temperature, humidity, strict=True)
    oracle = np.array([psychrolib.GetTDewPointFromRelHum(t, h / 100) for t, h in pairs])
    ours = air.dew_point_from_humidity(temperature, humidity)
    # PsychroLib's dew point is over ice below 0 C, MetPy's over water: compared above 0 C only.
    wet = oracle > 0
    assert wet.sum() > 60
    assert_allclose(ours[wet], oracle[wet], atol=0.15)


def test_dew_point_at_the_ends_and_of_nothing() -> None:
    temperature = np.array([20.0, 20.0, NAN, 20.0])
    dew = air.dew_point_from_humidity(temperature, np.array([100.0, 0.0, 50.0, NAN]))
    assert dew[0] == 20.0
    assert -40 < dew[1] < -30
    assert np.isnan(dew[2:]).all()


def test_nothing_known_gives_nothing_known() -> None:
    blank = np.full(3, NAN)
    assert np.isnan(air.dew_point_from_humidity(blank, np.full(3, 50.0))).all()


@pytest.mark.parametrize(("elevation", "pressure"), [(0, 101.325), (500, 95.461), (1000, 89.875)])
def test_altimeter_of_standard_air_gives_its_pressure(elevation: float, pressure: float) -> None:
    # ASHRAE Fundamentals 2017 ch. 1, standard pressure by elevation.
    setting = np.array([101.325, NAN])
    got = air.station_pressure_from_altimeter(setting, float(elevation))
    assert_allclose(got, [pressure, NAN], rtol=4e-4)


def test_sea_level_pressure_turned_round_gives_back_metpys_reduction() -> None:
    from metpy.calc import altimeter_to_sea_level_pressure
    from metpy.units import units

    setting, height, temperature = 30.0 * units.inHg, 1443.0 * units.m, 285.0 * units.kelvin
    reduced = altimeter_to_sea_level_pressure(setting, height, temperature).to("kPa").magnitude
    station = air.station_pressure_from_altimeter(
        np.array([setting.to("kPa").magnitude]), height.magnitude
    )
    back = air.station_pressure_from_sea_level(np.array([reduced]), 1443.0, np.array([11.85]))
    assert_allclose(back, station, rtol=1e-9)


def test_vapor_pressure_near_the_ashrae_table() -> None:
    # ASHRAE Fundamentals 2017 ch. 1 table 3: 872.6 Pa at 5 C, 3169.7 Pa at 25 C over water.
    got = air.vapor_pressure_from_dew_point(np.array([5.0, 25.0]))
    assert_allclose(got, [0.8726, 3.1697], rtol=2e-3)
    assert_allclose(air.dew_point_from_vapor_pressure(got), [5.0, 25.0], atol=1e-9)


@pytest.mark.parametrize(
    ("values", "filled"),
    [
        ([1, NAN, 3], [1, 2, 3]),
        ([1, NAN, NAN, NAN, 5], [1, 2, 3, 4, 5]),
        ([1, NAN, NAN, NAN, NAN, 6], [1, NAN, NAN, NAN, NAN, 6]),
        ([NAN, 2, NAN], [NAN, 2, NAN]),
        ([NAN, NAN], [NAN, NAN]),
        ([1, NAN, 2, NAN, NAN, NAN, NAN, 2, NAN, 1], [1, 1.5, 2, NAN, NAN, NAN, NAN, 2, 1.5, 1]),
    ],
)
def test_short_gaps(values: list[float], filled: list[float]) -> None:
    given = np.array(values, dtype=float)
    got, where = quality.fill_short_gaps(given)
    assert_allclose(got, filled)
    assert np.array_equal(where, np.isnan(given) & ~np.isnan(got))


def test_stuck_runs() -> None:
    values = np.array([1.0] * 7 + [2.0] * 8 + [NAN] * 9 + [3.0])
    assert quality.stuck_runs(values) == [(7, 8)]
    assert quality.stuck_runs(np.array([])) == []
    assert quality.stuck_runs(np.full(8, 4.0)) == [(0, 8)]


def test_caps() -> None:
    humidity, marks = quality.cap_humidity(np.array([100.0, 100.1, 103.0, 0.5, 0.0, NAN]))
    assert_allclose(humidity, [100, 100, 100, 1, 1, NAN])
    assert marks["humidity_capped"].sum() == 2
    assert marks["humidity_floor"].sum() == 2
    dew, above = quality.cap_dew_point(np.array([5.0, 6.0, NAN]), np.array([5.0, 5.7, 1.0]))
    assert_allclose(dew, [5.0, 5.7, NAN])
    assert above.tolist() == [False, True, False]
    assert quality.dew_point_beyond_noise(np.array([5.5, 5.51]), np.array([5.0, 5.0])).tolist() == [
        False,
        True,
    ]
    assert not quality.dew_point_beyond_noise(np.array([5.6, NAN]), np.array([5.0, 5.0]), 0.1).any()
    sun, below = quality.lift_sun(np.array([-3.0, 0.0, 7.0, NAN]))
    assert_allclose(sun, [0, 0, 7, NAN])
    assert below.sum() == 1


@pytest.mark.parametrize("name", sorted(quality.RANGES))
def test_ranges_find_the_first_value_outside(name: str) -> None:
    low, high = quality.RANGES[name]
    inside = np.array([low, high, NAN])
    assert quality.first_outside(inside, name) is None
    assert quality.first_outside(np.append(inside, [high + 1, low - 1]), name) == 3
