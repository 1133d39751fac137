"""Nights cut out of hours: where they begin, what is missing and why, half-hour zones."""

from datetime import date

import numpy as np
import pytest
from support.nights import hourly

from hayweather.seasons.nights import (
    LANE_HOURS,
    begins_of,
    causes_of,
    cut_lanes,
    cuts_of,
    evenings_between,
    rain_before,
)
from hayweather.seasons.past_hours import join_series
from hayweather.seasons.record.nights import Missing
from hayweather.weather.record import HOUR, HourlyWeather

DENVER = ("America/Denver", 40.0, -105.0)
BEGIN = np.datetime64("2024-07-01T00:00", "s")


def series(hours: int = 24 * 12, begin: np.datetime64 = BEGIN, **columns: object) -> HourlyWeather:
    weather = hourly(hours, **columns)
    return HourlyWeather(np.array([begin]), weather.columns, 2.0, weather.source)


def test_a_lane_begins_at_two_in_the_afternoon_of_the_day_before():
    cuts = cuts_of(series(), *DENVER, [date(2024, 7, 5)])
    begin = BEGIN + cuts.first[0] * HOUR
    assert begin == np.datetime64("2024-07-04T20:00", "s")  # 14:00 in Denver
    assert cuts.starts[0].tolist() == [0, 24]
    assert cuts.turn[0] == 96


def test_the_window_is_sunset_to_four_hours_after_sunrise():
    # Denver, 5 July: sunset 20:31, sunrise 05:37 by almanac, 15 minutes of grid and refraction.
    cuts = cuts_of(series(), *DENVER, [date(2024, 7, 5)])
    sunset_h = 14 + (cuts.window[0, 0] - cuts.turn[0]) / 4
    end_h = 14 + (cuts.window[0, 1] - cuts.turn[0]) / 4 - 24
    assert sunset_h == pytest.approx(20.5, abs=0.35)
    assert end_h == pytest.approx(9.6, abs=0.35)


def test_a_clock_change_moves_the_afternoon_by_an_hour():
    begin = np.datetime64("2024-10-28T00:00", "s")
    cuts = cuts_of(series(begin=begin), *DENVER, [date(2024, 11, 2)])
    assert cuts.starts[0].tolist() == [0, 24]
    assert (cuts.clock[0] >= 0).sum() == 25  # the night of 25 hours
    spring = np.datetime64("2024-03-05T00:00", "s")
    cuts = cuts_of(series(begin=spring), *DENVER, [date(2024, 3, 9), date(2024, 3, 10)])
    assert (cuts.clock >= 0).sum(axis=1).tolist() == [23, 24]
    assert cuts.starts.tolist() == [[0, 24], [0, 23]]


def test_in_a_half_hour_zone_the_run_starts_in_the_first_whole_hour_after_two():
    cuts = cuts_of(series(), "Asia/Kolkata", 26.0, 75.0, [date(2024, 7, 5)])
    assert cuts.starts[0].tolist() == [1, 25]
    assert sorted(cuts.clock[0][cuts.clock[0] >= 0]) == list(range(24))
    assert begins_of(cuts)[:, 0].nonzero()[0].tolist() == [1, 25]


def test_a_blank_hour_of_the_night_is_named():
    rows = int((np.datetime64("2024-07-06T06:00") - BEGIN) / HOUR)  # midnight of 5 July
    columns = {name: np.full(24 * 12, 5.0) for name in ("dew_point_c", "wind_speed_m_s")}
    columns["dew_point_c"][rows] = np.nan
    weather = series(**columns)
    days = [date(2024, 7, day) for day in (4, 5, 6)]
    causes = causes_of(weather, cuts_of(weather, *DENVER, days))
    assert causes.tolist() == [Missing.NONE, Missing.DEW_POINT, Missing.NONE]


def test_hours_outside_the_files_are_named():
    weather = series(24 * 4)
    cuts = cuts_of(weather, *DENVER, [date(2024, 6, 28), date(2024, 7, 2), date(2024, 7, 9)])
    causes = causes_of(weather, cuts)
    assert causes.tolist() == [Missing.NO_HOURS, Missing.NONE, Missing.NO_HOURS]


def test_a_summer_without_sunset_is_named():
    cuts = cuts_of(series(), "Europe/Oslo", 69.6, 18.9, [date(2024, 7, 5)])
    assert cuts.window[0].tolist() == [0, 0]
    assert causes_of(series(), cuts)[0] & Missing.NO_SUNSET


def test_rain_is_summed_over_the_48_hours_before_sunset():
    rain = np.zeros(24 * 12)
    sunset = int((np.datetime64("2024-07-06T02:00") - BEGIN) / HOUR)  # 20:00 in Denver
    rain[sunset - 47], rain[sunset - 50], rain[sunset + 1] = 0.4, 5.0, 7.0
    weather = series(rain_mm=rain)
    cuts = cuts_of(weather, *DENVER, [date(2024, 7, 5)])
    fallen, unknown = rain_before(weather, cuts)
    assert fallen[0] == pytest.approx(0.4)
    assert not unknown[0]
    rain[sunset - 20] = np.nan
    assert rain_before(series(rain_mm=rain), cuts)[1][0]


def test_lanes_hold_the_hours_they_should():
    weather = series(air_temperature_c=np.arange(24 * 12.0))
    cuts = cuts_of(weather, *DENVER, [date(2024, 7, 5), date(2024, 7, 12)])
    lanes = cut_lanes(weather, cuts)
    air = lanes.columns["air_temperature_c"]
    assert air.shape == (LANE_HOURS, 2)
    assert air[:, 0].tolist() == list(range(cuts.first[0], cuts.first[0] + LANE_HOURS))
    assert np.isnan(air[-24:, 1]).any()  # beyond the end of the hours


def test_evenings_lie_in_the_months():
    days = evenings_between(date(2024, 1, 1), date(2024, 12, 31), (5, 9))
    assert len(days) == 61
    assert {day.month for day in days} == {5, 9}


def test_parts_become_one_series_with_blanks_between():
    parts = [series(24, BEGIN + 72 * HOUR), series(24, BEGIN)]
    joined = join_series(parts)
    assert len(joined) == 1
    assert joined[0].hours == 96
    assert np.isnan(joined[0].columns["air_temperature_c"][24:72]).all()
    assert np.isfinite(joined[0].columns["air_temperature_c"][72:]).all()
