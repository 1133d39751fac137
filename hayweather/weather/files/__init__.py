"""Weather files: one reader a layout, one record out.

`read_weather_file` looks at the contents, never at the name, reads the layout
it finds, and hands over an `HourlyWeather` with a `ReadReport` that declares
how everything was understood and what was repaired.
"""

from __future__ import annotations

from hayweather.weather.files.frames import weather_from
from hayweather.weather.files.own import write_weather_csv
from hayweather.weather.files.read import read_weather_file
from hayweather.weather.files.table import ColumnRead, ReadOptions, ReadReport

__all__ = [
    "ColumnRead",
    "ReadOptions",
    "ReadReport",
    "read_weather_file",
    "weather_from",
    "write_weather_csv",
]
