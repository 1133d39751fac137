"""Stops and cautions.

Limits: Fosberg index 50 (Fosberg 1978, published as significant; its values are
checked in tests/published), 35 for the caution and all others assumed.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, RIG, hay, setting_of
from support.nights import hourly

from hayweather.baling.cautions import (
    FIRE_STOP,
    dangers_of,
    fosberg_index,
    hour_cautions,
    relative_humidity,
    stop_reasons,
)
from hayweather.weather.record import HOUR

SPRAY = replace(RIG, spray_wind_limit_m_s=4.0)
WITH_LIMIT = setting_of(rig=SPRAY)
# At 12 % humidity and 30 C the index passes 35 and 50 with the wind.
HOT = {"air_temperature_c": 30.0, "dew_point_c": -1.9}


def weather_with(hours=1, **layers):
    """Mild weather with more columns, each (hours,) or a number."""
    weather = hourly(hours, **{k: v for k, v in layers.items() if k in hourly(1).columns})
    extra = {
        name: np.broadcast_to(np.asarray(value, dtype=float), hours)[:, None].copy()
        for name, value in layers.items()
        if name not in weather.columns
    }
    return replace(weather, columns={**weather.columns, **extra})


def stops(weather, setting=WITH_LIMIT, hour=0, rig_runs=False):
    found = stop_reasons(dangers_of(weather), hour, setting, rig_runs=rig_runs)
    return [remark.key for remark in found]


def cautions(weather, setting=WITH_LIMIT, hour=0, **changed):
    trajectory = hay(14.0, hours=weather.hours, **changed)
    return hour_cautions(weather, trajectory, dangers_of(weather), setting, hour)


def keys(found):
    return [remark.key for remark in found]


@pytest.mark.parametrize(
    ("layer", "value", "stop"),
    [
        ("lightning_level", 2, False),
        ("lightning_level", 3, True),
        ("thunder_chance_percent", 14.9, False),
        ("thunder_chance_percent", 15, True),
        ("weather_code", 94, False),
        ("weather_code", 95, True),
        ("weather_code", 99, True),
        ("weather_code", 100, False),
        ("weather_code", 61, False),
    ],
)
def test_each_layer_of_thunder_stops_everyone(layer, value, stop):
    weather = weather_with(**{layer: value})
    assert stops(weather) == (["stop_thunder"] if stop else [])
    assert dangers_of(weather).everyone().tolist() == [[stop]]


def test_layers_that_are_blank_or_absent_stop_nobody():
    layers = ("lightning_level", "thunder_chance_percent", "weather_code", "red_flag")
    assert stops(weather_with(**dict.fromkeys(layers, np.nan))) == []
    assert stops(weather_with()) == []


@pytest.mark.parametrize(("flag", "expected"), [(0, []), (1, ["stop_red_flag"])])
def test_a_red_flag_stops_everyone(flag, expected):
    assert stops(weather_with(red_flag=flag)) == expected


def test_only_the_hours_of_the_danger_stop():
    weather = weather_with(3, weather_code=np.array([0.0, 95.0, 0.0]))
    assert dangers_of(weather).everyone()[:, 0].tolist() == [False, True, False]


def test_fire_weather_stops_at_fifty_and_cautions_from_thirty_five():
    """Wind as at 20 ft for the index: from 2 m by the same log profile, FAO-56 Eq 47."""
    told = {}
    for wind in np.arange(1.0, 12.0, 0.5):
        weather = weather_with(wind_speed_m_s=wind, **HOT)
        index = float(dangers_of(weather).fire_index[0, 0])
        at_20_ft = wind * np.log(67.8 * 6.096 - 5.42) / 4.87
        humidity = float(relative_humidity(weather)[0, 0])
        assert index == pytest.approx(float(fosberg_index(30.0, humidity, at_20_ft)))
        told[index] = (stops(weather), keys(cautions(weather)))
    for index, (stop, caution) in told.items():
        assert stop == (["stop_fire"] if index >= FIRE_STOP else [])
        assert caution == (["caution_fire"] if 35 <= index < FIRE_STOP else [])
    assert min(told) < 35 < 50 < max(told)
    assert any(35 <= index < 50 for index in told)


def test_the_fire_stop_shows_index_and_limit():
    weather = weather_with(wind_speed_m_s=12.0, **HOT)
    remark = stop_reasons(dangers_of(weather), 0, WITH_LIMIT, rig_runs=False)[0]
    assert float(remark.values["index"]) >= 50
    assert remark.values["limit"] == "50"


def test_fire_index_is_capped_at_a_hundred_and_never_negative():
    """A 150 mph wind over bone-dry fuel; a wet calm day."""
    assert float(fosberg_index(45.0, 1.0, 70.0)) == 100.0
    assert 0 <= float(fosberg_index(10.0, 100.0, 0.0)) < 2


@pytest.mark.parametrize(
    ("wind", "rig_runs", "expected"),
    [
        (4.0, True, []),
        (4.01, True, ["stop_spray_wind"]),
        (4.01, False, []),
        (9.0, False, []),
    ],
)
def test_spray_wind_stops_only_the_rig(wind, rig_runs, expected):
    assert stops(weather_with(wind_speed_m_s=wind), rig_runs=rig_runs) == expected


def test_spray_wind_counts_the_worse_end_of_the_hour_and_the_height():
    weather = weather_with(3, wind_speed_m_s=np.array([3.0, 3.0, 5.0]))
    assert dangers_of(weather).rig_only(SPRAY)[:, 0].tolist() == [False, True, True]
    high = replace(weather, wind_height_m=10.0)  # 5 m/s at 10 m are 3.7 m/s at 2 m
    assert not dangers_of(high).rig_only(SPRAY).any()
    found = stop_reasons(dangers_of(weather), 1, WITH_LIMIT, rig_runs=True)[0]
    assert (found.values["wind"][0], found.values["limit"][0]) == (5.0, 4.0)


@pytest.mark.parametrize("rig", [None, RIG])
def test_no_rig_or_no_limit_is_no_spray_stop(rig):
    weather = weather_with(wind_speed_m_s=8.0)
    assert not dangers_of(weather).rig_only(rig).any()
    assert stops(weather, setting_of(rig=rig), rig_runs=True) == []


def test_all_stops_are_named():
    weather = weather_with(weather_code=95, red_flag=1, wind_speed_m_s=12.0, **HOT)
    named = ["stop_thunder", "stop_red_flag", "stop_fire", "stop_spray_wind"]
    assert stops(weather, rig_runs=True) == named


@pytest.mark.parametrize(("ahead", "told"), [(0, True), (1, True), (6, True), (7, False)])
def test_rain_within_six_hours(ahead, told):
    rain = np.zeros(10)
    rain[ahead : ahead + 2] = [0.4, 0.6]
    found = cautions(weather_with(10, rain_mm=rain))
    assert keys(found) == (["caution_rain_ahead"] if told else [])
    if told:
        assert found[0].values["time"] == hourly(1).start[0] + ahead * HOUR
        assert found[0].values["amount"][0] == pytest.approx(1.0)


def test_one_rain_has_one_amount_whenever_it_is_told():
    """A rain of five hours with a dry one in it, another a day later."""
    rain = np.zeros(40)
    rain[8:13] = [1.0, 2.0, 0.0, 3.0, 0.5]
    rain[34] = 9.0
    weather = weather_with(40, rain_mm=rain)
    told = [cautions(weather, hour=hour)[0].values for hour in range(2, 9)]
    assert {item["amount"][0] for item in told} == {6.5}
    assert len({item["time"] for item in told}) == 1


@pytest.mark.parametrize(("rain", "told"), [(0.09, False), (0.1, True)])
def test_a_trace_is_no_rain(rain, told):
    assert bool(cautions(weather_with(2, rain_mm=np.array([0.0, rain])))) == told


@pytest.mark.parametrize(("chance", "told"), [(29, False), (30, True)])
def test_a_chance_of_rain_serves_where_no_rain_is_forecast(chance, told):
    chances = np.array([0.0, np.nan, chance])
    found = cautions(weather_with(3, rain_chance_percent=chances))
    assert keys(found) == (["caution_rain_chance"] if told else [])
    both = cautions(weather_with(3, rain_chance_percent=chances, rain_mm=np.array([0, 0, 2.0])))
    assert keys(both) == ["caution_rain_ahead"]


def test_no_rain_column_is_a_caution_on_every_hour():
    weather = hourly(3)
    unknown = replace(weather, columns={k: v for k, v in weather.columns.items() if k != "rain_mm"})
    for hour in range(3):
        assert keys(cautions(unknown, hour=hour)) == ["caution_rain_unknown"]
    likely = {**unknown.columns, "rain_chance_percent": np.full((3, 1), 60.0)}
    found = cautions(replace(unknown, columns=likely))
    assert keys(found) == ["caution_rain_chance", "caution_rain_unknown"]


@pytest.mark.parametrize(
    ("air", "skin", "told"), [(2.0, 1.0, False), (2.0, -0.1, True), (0.0, 1.0, True)]
)
def test_frost_of_air_or_skin(air, skin, told):
    found = cautions(weather_with(air_temperature_c=air, dew_point_c=-3.0), skin_temperature_c=skin)
    assert keys(found) == (["caution_frost"] if told else [])


def test_frost_at_the_end_of_the_hour_counts():
    weather = weather_with(2, air_temperature_c=np.array([2.0, -1.0]), dew_point_c=-3.0)
    assert keys(cautions(weather)) == ["caution_frost"]


def test_unknown_skin_is_no_frost():
    assert keys(cautions(weather_with(), skin_temperature_c=np.nan)) == []


def test_filled_weather_and_dusty_crops():
    weather = weather_with(2)
    filled = replace(weather, repaired=np.array([[False], [True]]))
    assert keys(cautions(filled, hour=0)) == []
    assert keys(cautions(filled, hour=1)) == ["caution_filled"]
    grass = setting_of(replace(CURED, crop="grass"))
    assert keys(cautions(weather, grass)) == ["caution_dusty"]


def test_humidity_is_that_of_the_dew_point():
    """FAO-56: e0(15) = 1.705, e0(24.5) = 3.075 kPa."""
    weather = weather_with(air_temperature_c=24.5, dew_point_c=15.0)
    assert float(relative_humidity(weather)[0, 0]) == pytest.approx(100 * 1.705 / 3.075, abs=0.05)


@pytest.mark.parametrize(
    ("index", "stop", "caution"),
    [(34.9, False, False), (35.0, False, True), (49.9, False, True), (50.0, True, False)],
)
def test_fire_limits_are_met_exactly(index, stop, caution):
    weather = weather_with()
    dangers = replace(dangers_of(weather), fire_index=np.array([[index]]))
    assert bool(stop_reasons(dangers, 0, WITH_LIMIT, rig_runs=False)) == stop
    assert dangers.everyone().tolist() == [[stop]]
    found = hour_cautions(weather, hay(14.0), dangers, WITH_LIMIT, 0)
    assert keys(found) == (["caution_fire"] if caution else [])
