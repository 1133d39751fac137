"""HourCall: one hour of the outlook, as tables and data show it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call, QuarterCalls
from hayweather.baling.cautions import (
    dangers_of,
    hour_cautions,
    relative_humidity,
    stop_reasons,
)
from hayweather.baling.reasons import facts_of, reasons_for
from hayweather.baling.setting import Setting
from hayweather.weather.record import HOUR, Floats, HourlyWeather
from hayweather.windrow.trajectory import QUARTERS, WindrowTrajectory
from hayweather.windrow.vapor import wind_at_two_meters
from hayweather.words import Remark


@dataclass(frozen=True)
class AirHour:
    """The weather of an hour; instants at its start, NaN where unknown."""

    temperature_c: float
    dew_point_c: float
    relative_humidity: float
    wind_2m_m_s: float
    rain_mm: float


@dataclass(frozen=True)
class HayHour:
    """The windrow in an hour, means over it, NaN where unknown.

    Moistures are % wet basis, the windrow's with its free water; skin humidity
    is percent, at most 100.
    """

    windrow_wb: float
    leaf_wb: float
    stem_wb: float
    free_water_mm: float
    skin_temperature_c: float
    skin_humidity: float


@dataclass(frozen=True)
class HourCall:
    """One hour: the call that holds longest in it, and why.

    Attributes
    ----------
    start
        UTC.
    call
        The call that holds longest.
    humid_air
        Ready without having taken up water since sunset.
    stop
        Work stops in this hour; the first reasons say why.
    reasons, cautions
        Texts with values.
    air, hay
        Weather and windrow.
    water_l_t, after_wb
        Water to add [L/t] and moisture after it [% wb]; only with "add
        moisture", else NaN.
    chance
        Chance of each call, or None while there is one forecast only.
    """

    start: np.datetime64
    call: Call
    humid_air: bool
    stop: bool
    reasons: tuple[Remark, ...]
    cautions: tuple[Remark, ...]
    air: AirHour
    hay: HayHour
    water_l_t: float = float("nan")
    after_wb: float = float("nan")
    chance: dict[Call, float] | None = None


def hour_calls(
    weather: HourlyWeather,
    trajectory: WindrowTrajectory,
    quarters: QuarterCalls,
    setting: Setting,
) -> list[HourCall]:
    """Every hour of lane 0: call, reasons, cautions, water.

    Parameters
    ----------
    weather, trajectory, quarters
        The same hours; only lane 0 is read.
    setting
        Field, band, rig.
    """
    dangers = dangers_of(weather)

    def one(hour: int) -> HourCall:
        call = longest_call(quarters, hour)
        rows = np.zeros(quarters.call.shape[0], dtype=bool)
        rows[QUARTERS * hour : QUARTERS * (hour + 1)] = True
        facts = facts_of(quarters, rows & (quarters.call[:, 0] == call))
        rig_runs = call == Call.ADD_MOISTURE
        stops = stop_reasons(dangers, hour, setting, rig_runs=rig_runs)
        return HourCall(
            start=weather.start[0] + hour * HOUR,
            call=call,
            humid_air=call == Call.NATURAL_DEW and facts.humid_air,
            stop=bool(stops),
            reasons=(*stops, *reasons_for(call, facts, setting, weather, hour)),
            cautions=tuple(hour_cautions(weather, trajectory, dangers, setting, hour)),
            air=_air_hour(weather, hour),
            hay=_hay_hour(trajectory, hour),
            water_l_t=facts.applied_l_t if rig_runs else float("nan"),
            after_wb=facts.after_wb if rig_runs else float("nan"),
        )

    return [one(hour) for hour in range(weather.hours)]


def longest_call(quarters: QuarterCalls, hour: int) -> Call:
    """The call that holds longest in an hour (lane 0); of two equal ones the more cautious."""
    block = quarters.call[QUARTERS * hour : QUARTERS * (hour + 1), 0]
    return Call(int(np.bincount(block, minlength=len(Call)).argmax()))


def _air_hour(weather: HourlyWeather, hour: int) -> AirHour:
    """The weather of an hour, lane 0."""
    now = weather.between(hour, hour + 1)
    wind = wind_at_two_meters(now.columns["wind_speed_m_s"], now.wind_height_m)
    rain = now.get("rain_mm")
    return AirHour(
        temperature_c=float(now.columns["air_temperature_c"][0, 0]),
        dew_point_c=float(now.columns["dew_point_c"][0, 0]),
        relative_humidity=float(relative_humidity(now)[0, 0]),
        wind_2m_m_s=float(wind[0, 0]),
        rain_mm=float("nan") if rain is None else float(rain[0, 0]),
    )


def _hay_hour(trajectory: WindrowTrajectory, hour: int) -> HayHour:
    """The windrow in an hour, lane 0; of the quarter-hour boundaries the ends count half."""

    def mean(boundaries: Floats) -> float:
        block = boundaries[QUARTERS * hour : QUARTERS * (hour + 1) + 1, 0]
        return float((block[:-1] + block[1:]).mean() / 2)

    return HayHour(
        windrow_wb=mean(trajectory.windrow_wb),
        leaf_wb=mean(trajectory.leaf_wb),
        stem_wb=mean(trajectory.stem_wb),
        free_water_mm=mean(trajectory.free_water_mm),
        skin_temperature_c=mean(trajectory.skin_temperature_c),
        skin_humidity=mean(100 * np.minimum(trajectory.skin_humidity, 1.0)),
    )
