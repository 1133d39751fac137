"""A station beside real hours of north-west Colorado, July 2017 (tests/weather/data/services)."""

from dataclasses import replace

import numpy as np
from support.fields import BALER, CURED, farm_of
from weather import server_answers as answers

from hayweather.farm.records import Site
from hayweather.weather.observed import Observed
from hayweather.weather.record import HOUR, HourlyWeather, Source

SITE = Site("home", answers.LATITUDE, answers.LONGITUDE, answers.ELEVATION_M, answers.ZONE)
FIRST = np.datetime64("2017-07-08T00:00", "s")
EVENING = np.datetime64("2017-07-11T03:00", "s")  # 9 pm of the 10th
FIELD = replace(CURED, windrow_mass_kg_m2=1.5, area_m2=400_000.0)
FARM = replace(farm_of(FIELD, rig=None, baler=BALER), sites={"home": SITE})
MEMBERS = 60


def real_weather(hours=144):
    """Six days as a forecast, without rain, clear as its sun says."""
    names = {"air_temperature_c": "temp_c", "dew_point_c": "dewpoint_c",
             "wind_speed_m_s": "wind_ms", "shortwave_w_m2": "sw_wm2"}  # fmt: skip
    columns = {
        name: np.array(answers.real(source, 0, hours))[:, None] for name, source in names.items()
    }
    columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["air_temperature_c"])
    columns["rain_mm"] = np.zeros((hours, 1))
    return HourlyWeather(np.array([FIRST]), columns, 2.0, Source("real hours"))


def station(weather, now, *, hours=40, minutes=10, wind=False, rain=False, **off):
    """A station that measures the weather itself, each column off by `off` (number or (rows,))."""
    step = np.timedelta64(60 * minutes, "s")
    times = np.arange(now - hours * HOUR, now + np.timedelta64(1, "s"), step)
    at = (times - weather.start[0]) / HOUR
    names = ["air_temperature_c", "dew_point_c", *(["wind_speed_m_s"] if wind else [])]
    columns = {}
    for name in names:
        true = np.interp(at, np.arange(weather.hours), weather.columns[name][:, 0])
        columns[name] = true + off.get(name, 0.0)
    columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["air_temperature_c"])
    gauge = {}
    if rain:
        gauge = {"rain_start": now - hours * HOUR, "rain_mm": np.zeros(hours)}
    return Observed("yard", times, columns, **gauge)
