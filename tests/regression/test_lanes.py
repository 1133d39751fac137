"""Lanes side by side equal single runs; a run equals its steps one by one."""

import numpy as np
import pytest
from support.nights import HIGH_PLACE, hourly, weather_of_test_night
from support.seasons import default_run, read_season

from hayweather.weather.record import HourlyWeather
from hayweather.windrow.column import column_of, step
from hayweather.windrow.forcing import prepare
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.skin import Air
from hayweather.windrow.starts import FINE_STEPS, moisture_state


def first_state(weather: HourlyWeather):
    air, dew_point = (weather.columns[name][0] for name in ("air_temperature_c", "dew_point_c"))
    return moisture_state(8.0, 8.0, air, dew_point)


@pytest.mark.slow
@pytest.mark.parametrize("lane", [0, 40, 99, 151])
def test_lane_equals_single_run(lane):
    season = read_season("NW Colorado 2023")
    alone = repeat_weather(season.weather, [lane])
    begins = np.zeros((alone.hours, 1), dtype=bool)
    begins[0] = True
    found = run(alone, season.place, WindrowParameters(), equilibrium_starts=begins)
    together = default_run("NW Colorado 2023")
    np.testing.assert_allclose(found.windrow_db[:, 0], together.windrow_db[:, lane], rtol=1e-12)
    np.testing.assert_allclose(
        found.from_air_mm[:, 0], together.from_air_mm[:, lane], rtol=0, atol=1e-12
    )


def test_run_equals_its_steps():
    weather, windrow = weather_of_test_night(), WindrowParameters()
    whole = run(weather, HIGH_PLACE, windrow, {0: first_state(weather)}, steps_per_hour=FINE_STEPS)
    state, forcing = first_state(weather), prepare(weather, HIGH_PLACE)
    for hour in range(weather.hours):
        air = forcing.steps(hour, FINE_STEPS)
        for index in range(FINE_STEPS):
            now = Air(*(values[index] for values in air))
            seconds = 3600 / FINE_STEPS
            state, _ = step(state, now, column_of(windrow), seconds)
    for ours, theirs in zip(state, whole.final, strict=True):
        np.testing.assert_array_equal(ours, theirs)


def test_a_parameter_may_differ_by_lane():
    weather = hourly(12, lanes=2, air_temperature_c=12.0, dew_point_c=9.0)
    light, heavy = 0.75, 3.0
    both = WindrowParameters(dry_matter_kg_m2=np.array([light, heavy]))
    found = run(weather, HIGH_PLACE, both, {0: first_state(weather)})
    for lane, mass in enumerate((light, heavy)):
        alone = repeat_weather(weather, [lane])
        single = WindrowParameters(dry_matter_kg_m2=mass)
        expected = run(alone, HIGH_PLACE, single, {0: first_state(alone)})
        np.testing.assert_allclose(
            found.windrow_db[:, lane], expected.windrow_db[:, 0], rtol=0, atol=1e-12
        )
