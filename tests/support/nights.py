"""Made-up nights for comparison between implementations; no claim on nature."""

import numpy as np

from hayweather.weather.record import HourlyWeather, Source
from hayweather.windrow.forcing import Place
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.starts import moisture_state
from hayweather.windrow.trajectory import WindrowTrajectory

NO_GROUND_S_M = 1e12
HIGH_PLACE = Place(40.0, -105.0, 1500.0)
TEST_NIGHT_C = (28, 25, 21.9, 18.9, 17.2, 15.6, 13.9, 13.0, 12.0, 11.1, 10.6, 10.0)
TEST_NIGHT_FIRST_HOUR = 18
AT_FIVE = 11  # hours from 18 h to 05 h


def hourly(hours: int, lanes: int = 1, **values: object) -> HourlyWeather:
    """Weather whose columns are numbers, (hours,) or (hours, lanes); wind at 2 m.

    What is not named: 20 C, dew point 5 C, 2 m/s, clear, no sun, no rain.
    """
    named = {
        "air_temperature_c": 20.0,
        "dew_point_c": 5.0,
        "wind_speed_m_s": 2.0,
        "cloud_fraction": 0.0,
        "shortwave_w_m2": 0.0,
        "rain_mm": 0.0,
        **values,
    }
    columns = {}
    for name, value in named.items():
        given = np.asarray(value, dtype=float)
        shaped = given[:, None] if given.ndim == 1 else given
        columns[name] = np.broadcast_to(shaped, (hours, lanes)).copy()
    start = np.full(lanes, np.datetime64("2024-07-02T01:00", "s"))
    return HourlyWeather(start, columns, 2.0, Source("made up"))


def weather_of_test_night(**changed: object) -> HourlyWeather:
    """The test night; `changed` columns replace its own."""
    named = {
        "air_temperature_c": np.array(TEST_NIGHT_C),
        "dew_point_c": 7.0,
        "wind_speed_m_s": 1.5,
        **changed,
    }
    return hourly(len(TEST_NIGHT_C), **named)


def test_night_windrow(**changed: object) -> WindrowParameters:
    """The windrow of the test night: soil at the mean of its temperatures, sides shut."""
    plain = {"side_flow_m_s": 0.0, "soil_swing": 0.0, "soil_offset_k": 0.0, "soil_memory_h": 1e9}
    return WindrowParameters(**{**plain, **changed})  # type: ignore[arg-type]


test_night_windrow.__test__ = False  # type: ignore[attr-defined]


def run_test_night(
    windrow: WindrowParameters | None = None, steps: int | None = None, **changed: object
) -> WindrowTrajectory:
    """The test night from 8 % wet basis everywhere."""
    parameters = windrow or test_night_windrow()
    weather = weather_of_test_night(**changed)
    air, dew_point = (weather.columns[name][0] for name in ("air_temperature_c", "dew_point_c"))
    first = moisture_state(8.0, 8.0, air, dew_point)
    return run(weather, HIGH_PLACE, parameters, {0: first}, steps_per_hour=steps)


def run_from(
    weather: HourlyWeather,
    leaf_wb: float = 10.0,
    stem_wb: float = 10.0,
    windrow: WindrowParameters | None = None,
    place: Place = HIGH_PLACE,
) -> WindrowTrajectory:
    """A windrow of given moisture through `weather`, started at its first hour."""
    air, dew_point = (weather.columns[name][0] for name in ("air_temperature_c", "dew_point_c"))
    first = moisture_state(leaf_wb, stem_wb, air, dew_point)
    return run(weather, place, windrow or WindrowParameters(), {0: first})
