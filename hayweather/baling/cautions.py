"""Stops and cautions: thunder, fire weather, spray wind, rain ahead, frost.

A stop leaves the call visible and keeps the hour out of every window. Local
orders always come first; none of these figures replaces one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.baling.setting import Setting
from hayweather.farm.records import Rig
from hayweather.units import FOOT_M, MILE_M
from hayweather.weather.record import HOUR, Booleans, Floats, HourlyWeather
from hayweather.windrow.trajectory import QUARTERS, WindrowTrajectory
from hayweather.windrow.vapor import saturation_vapor_pressure, wind_at_two_meters
from hayweather.words import Remark

FIRE_STOP = 50.0  # Fosberg 1978: 50 and above is significant
FIRE_CAUTION = 35.0  # assumed
FIRE_WIND_HEIGHT_M = 20 * FOOT_M
LIGHTNING_STOP = 3.0  # assumed
THUNDER_STOP_PERCENT = 15.0  # assumed
THUNDER_CODES = (95.0, 99.0)  # WMO present weather, thunderstorm
RAIN_AHEAD_HOURS = 6
RAIN_AHEAD_MM = 0.1
RAIN_AHEAD_CHANCE_PERCENT = 30.0  # assumed
FROST_C = 0.0


def fosberg_index(
    temperature_c: float | Floats, humidity_percent: float | Floats, wind_m_s: float | Floats
) -> Floats:
    """Fire weather index of Fosberg 1978 [-], 0-100; wind at 20 ft (published).

    Examples
    --------
    >>> round(float(fosberg_index((90 - 32) / 1.8, 8.0, 20 * 0.44704)), 2)
    58.79
    """
    fahrenheit = np.asarray(temperature_c) * 1.8 + 32
    humidity = np.asarray(humidity_percent, dtype=np.float64)
    mph = np.asarray(wind_m_s) * 3600 / MILE_M
    dry = 0.03229 + 0.281073 * humidity - 0.000578 * humidity * fahrenheit
    middle = 2.22749 + 0.160107 * humidity - 0.01478 * fahrenheit
    damp = 21.0606 + 0.005565 * humidity**2 - 0.00035 * humidity * fahrenheit - 0.483199 * humidity
    moisture = np.where(humidity < 10, dry, np.where(humidity <= 50, middle, damp)) / 30
    damping = 1 - 2 * moisture + 1.5 * moisture**2 - 0.5 * moisture**3
    return np.clip(damping * np.sqrt(1 + mph**2) / 0.3002, 0.0, 100.0)


def relative_humidity(weather: HourlyWeather) -> Floats:
    """Relative humidity at the hour starts [%], over water, (hours, lanes)."""
    dew_point = saturation_vapor_pressure(weather.columns["dew_point_c"])
    return 100 * dew_point / saturation_vapor_pressure(weather.columns["air_temperature_c"])


@dataclass(frozen=True)
class Dangers:
    """What can stop work, hour by hour, (hours, lanes); NaN where not given.

    Attributes
    ----------
    fire_index
        Fosberg index.
    wind_2m_m_s
        Wind at 2 m, the larger of both ends of the hour.
    thunder, red_flag
        True where forecast.
    """

    fire_index: Floats
    wind_2m_m_s: Floats
    thunder: Booleans
    red_flag: Booleans

    def everyone(self) -> Booleans:
        """True in hours when nobody should work, (hours, lanes)."""
        return np.asarray(self.thunder | self.red_flag | (self.fire_index >= FIRE_STOP))

    def rig_only(self, rig: Rig | None) -> Booleans:
        """True in hours too windy for the rig, (hours, lanes)."""
        if rig is None or rig.spray_wind_limit_m_s is None:
            return np.zeros_like(self.thunder)
        return np.asarray(self.wind_2m_m_s > rig.spray_wind_limit_m_s)


def dangers_of(weather: HourlyWeather) -> Dangers:
    """What can stop work in each hour; the worse of both ends of the hour.

    Parameters
    ----------
    weather
        Hourly; what its source does not give (thunder, alerts) stops nothing.
    """
    wind = weather.columns["wind_speed_m_s"]
    at_two = wind_at_two_meters(wind, weather.wind_height_m)
    # At 20 ft, by the same profile turned round.
    at_fire_height = at_two / wind_at_two_meters(1.0, FIRE_WIND_HEIGHT_M)
    humidity = relative_humidity(weather)
    index = fosberg_index(weather.columns["air_temperature_c"], humidity, at_fire_height)
    return Dangers(
        fire_index=_worse_end(index),
        wind_2m_m_s=_worse_end(at_two),
        thunder=_thunder(weather),
        red_flag=_reaches(weather, "red_flag", 1.0),
    )


def _worse_end(instants: Floats) -> Floats:
    """The larger of the values at both ends of each hour."""
    return np.fmax(instants, np.concatenate([instants[1:], instants[-1:]]))


def _reaches(weather: HourlyWeather, name: str, limit: float) -> Booleans:
    """True where a column is given and at or above a limit."""
    column = weather.get(name)
    if column is None:
        return np.zeros((weather.hours, weather.lanes), dtype=bool)
    return np.asarray(column >= limit)


def _thunder(weather: HourlyWeather) -> Booleans:
    """True where thunder is forecast by any layer that was given."""
    low, high = THUNDER_CODES
    coded = _reaches(weather, "weather_code", low) & ~_reaches(weather, "weather_code", high + 1)
    lightning = _reaches(weather, "lightning_level", LIGHTNING_STOP)
    return coded | lightning | _reaches(weather, "thunder_chance_percent", THUNDER_STOP_PERCENT)


def stop_reasons(dangers: Dangers, hour: int, setting: Setting, *, rig_runs: bool) -> list[Remark]:
    """Why work stops in an hour (lane 0); empty when it does not."""
    reasons = []
    if dangers.thunder[hour, 0]:
        reasons.append(Remark("stop_thunder"))
    if dangers.red_flag[hour, 0]:
        reasons.append(Remark("stop_red_flag"))
    index = float(dangers.fire_index[hour, 0])
    if index >= FIRE_STOP:
        reasons.append(Remark("stop_fire", {"index": f"{index:.0f}", "limit": f"{FIRE_STOP:.0f}"}))
    if rig_runs and dangers.rig_only(setting.rig)[hour, 0] and setting.rig is not None:
        wind = (float(dangers.wind_2m_m_s[hour, 0]), "wind_speed")
        limit = (setting.rig.spray_wind_limit_m_s, "wind_speed")
        reasons.append(Remark("stop_spray_wind", {"wind": wind, "limit": limit}))
    return reasons


def hour_cautions(
    weather: HourlyWeather,
    trajectory: WindrowTrajectory,
    dangers: Dangers,
    setting: Setting,
    hour: int,
) -> list[Remark]:
    """Cautions that stand beside an hour (lane 0)."""
    found = [
        _rain_ahead(weather, hour),
        _fire_near(dangers, hour),
        _frost(weather, trajectory, hour),
        Remark("caution_filled") if weather.repaired[hour, 0] else None,
        Remark("caution_rain_unknown") if weather.get("rain_mm") is None else None,
        Remark("caution_dusty") if setting.band.leaf_minimum_wb is None else None,
    ]
    return [remark for remark in found if remark is not None]


def _rain_ahead(weather: HourlyWeather, hour: int) -> Remark | None:
    """Rain forecast for this hour or the six after it."""
    until = hour + RAIN_AHEAD_HOURS + 1
    rain, chance = weather.get("rain_mm"), weather.get("rain_chance_percent")
    if rain is not None:
        ahead = np.nan_to_num(rain[hour:until, 0])
        wet = np.flatnonzero(ahead >= RAIN_AHEAD_MM)
        if wet.size:
            first = hour + int(wet[0])
            at = weather.start[0] + first * HOUR
            amount = (_spell_mm(rain[first:, 0]), "rain")
            return Remark("caution_rain_ahead", {"time": at, "amount": amount})
    if chance is not None:
        ahead = np.nan_to_num(chance[hour:until, 0])
        likely = np.flatnonzero(ahead >= RAIN_AHEAD_CHANCE_PERCENT)
        if likely.size:
            at = weather.start[0] + (hour + int(likely[0])) * HOUR
            return Remark("caution_rain_chance", {"chance": f"{ahead.max():.0f}", "time": at})
    return None


def _spell_mm(rain_mm: Floats) -> float:
    """Rain from its first hour until as many dry ones follow as are looked ahead [mm].

    The same from whichever hour before it is asked.
    """
    wet = np.flatnonzero(np.nan_to_num(rain_mm) >= RAIN_AHEAD_MM)
    gaps = np.flatnonzero(np.diff(wet) > RAIN_AHEAD_HOURS)
    last = int(wet[gaps[0]] if gaps.size else wet[-1])
    return float(np.nansum(rain_mm[: last + 1]))


def _fire_near(dangers: Dangers, hour: int) -> Remark | None:
    """Fire weather below the stop."""
    index = float(dangers.fire_index[hour, 0])
    if not FIRE_CAUTION <= index < FIRE_STOP:
        return None
    return Remark("caution_fire", {"index": f"{index:.0f}"})


def _frost(weather: HourlyWeather, trajectory: WindrowTrajectory, hour: int) -> Remark | None:
    """Air or windrow at or below freezing within the hour."""
    air = weather.columns["air_temperature_c"][hour : hour + 2, 0]
    skin = trajectory.skin_temperature_c[QUARTERS * hour : QUARTERS * (hour + 1) + 1, 0]
    coldest = np.fmin(np.nanmin([*air, np.inf]), np.nanmin([*skin, np.inf]))
    return Remark("caution_frost") if coldest <= FROST_C else None
