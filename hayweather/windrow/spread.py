"""How far one forecast may be off: the same weather, shifted one thing at a time.

The sizes are standard errors of an hourly forecast at one field (assumed).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hayweather.weather.record import Floats, HourlyWeather

AIR_TEMPERATURE_SD_K = 1.6
DEW_POINT_SD_K = 2.2
LOG_WIND_SD = 0.4
CLOUD_SD = 0.25
VARIANTS = ("middle", "drier", "damper", "warmer", "colder", "windier", "calmer", "cloudier")


def variants(weather: HourlyWeather) -> HourlyWeather:
    """The weather of lane 0 as it is and shifted by one standard error, lanes as `VARIANTS`.

    Without a cloud column the cloudier lane is the middle one: where cloud was
    never given nothing can be said of its error.
    """
    lanes = len(VARIANTS)
    columns = {
        name: np.repeat(values[:, :1], lanes, axis=1) for name, values in weather.columns.items()
    }
    temperature, dew_point = columns["air_temperature_c"], columns["dew_point_c"]
    _add(dew_point, {"drier": -DEW_POINT_SD_K, "damper": DEW_POINT_SD_K})
    _add(temperature, {"warmer": AIR_TEMPERATURE_SD_K, "colder": -AIR_TEMPERATURE_SD_K})
    wind = columns["wind_speed_m_s"]
    wind[:, VARIANTS.index("windier")] *= np.exp(LOG_WIND_SD)
    wind[:, VARIANTS.index("calmer")] *= np.exp(-LOG_WIND_SD)
    cloud = columns.get("cloud_fraction")
    if cloud is not None:
        _add(cloud, {"cloudier": CLOUD_SD})
        np.clip(cloud, 0.0, 1.0, out=cloud)
    columns["dew_point_c"] = np.minimum(dew_point, temperature)
    return replace(
        weather,
        start=np.repeat(weather.start[:1], lanes),
        columns=columns,
        repaired=np.repeat(weather.repaired[:, :1], lanes, axis=1),
    )


def _add(values: Floats, shifts: dict[str, float]) -> None:
    """Shift some lanes of a fresh array."""
    for name, shift in shifts.items():
        values[:, VARIANTS.index(name)] += shift
