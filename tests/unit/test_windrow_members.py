"""Members around one forecast, and around a service's own runs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from hayweather.catalog import rigs
from hayweather.weather.record import HourlyWeather, Source
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.spread import (
    DRYING_SPREAD,
    ENSEMBLE_SHARE,
    ERRORS,
    ForecastErrors,
    HourlyError,
    Members,
    make_members,
)

HOURS = 30
WINDROW = WindrowParameters()
LINEAR = ("air_temperature_c", "wind_speed_m_s")
"""Columns in which errors are added, of wind to its logarithm, with no limit in reach."""


def weather(runs: int = 0) -> HourlyWeather:
    """A forecast, dry and half cloudy, and runs that each differ from it."""
    hour, lane = np.arange(HOURS)[:, None], np.arange(runs + 1)[None, :]
    wave = np.sin(hour / 24 * 2 * np.pi)
    columns = {
        "air_temperature_c": 25 + 8 * wave + 0.3 * lane,
        "dew_point_c": -20 + 0.2 * lane + 0 * hour,
        "wind_speed_m_s": 3 + wave + 0.1 * lane,
        "cloud_fraction": 0.5 + 0.0 * lane * hour,
        "rain_mm": 0.0 * lane * hour,
    }
    start = np.full(runs + 1, np.datetime64("2026-07-08T00:00:00"))
    return HourlyWeather(start, columns, 2.0, Source("made up"))


def with_gap(source: HourlyWeather, *lanes: int) -> HourlyWeather:
    """One hour of some lanes blank."""
    dew_point = source.columns["dew_point_c"].copy()
    dew_point[7, list(lanes)] = np.nan
    return replace(source, columns={**source.columns, "dew_point_c": dew_point})


def same_members(one: Members, other: Members) -> bool:
    """True when weather and windrow of all lanes are the same."""
    return all(
        np.array_equal(values, other.weather.columns[name], equal_nan=True)
        for name, values in one.weather.columns.items()
    ) and np.array_equal(one.windrow.dry_matter_kg_m2, other.windrow.dry_matter_kg_m2)


def notes(members: Members) -> list[tuple[str, dict[str, object]]]:
    return [(note.key, note.values) for note in members.weather.assumed]


def test_local_errors_on_top_of_runs_are_seven_tenths_of_those_of_one_forecast():
    """Runs that are all alike: what is left is the local part (design: 0.7, assumed)."""
    single = make_members(weather(), WINDROW, 20)
    alike = make_members(repeat_weather(weather(), [0] * 11), WINDROW, 20)
    assert single.weather.lanes == alike.weather.lanes == 21
    assert ENSEMBLE_SHARE == 0.7
    for name in LINEAR:
        one, other = single.weather.columns[name], alike.weather.columns[name]
        if name == "wind_speed_m_s":
            one, other = np.log(one), np.log(other)
        whole, part = one - one[:, :1], other - other[:, :1]
        assert np.abs(whole[:, 1:]).max() > 0.5
        np.testing.assert_allclose(part, 0.7 * whole, atol=1e-12)


def test_the_windrow_is_spread_around_runs_too():
    single, runs = (make_members(weather(count), WINDROW, 20) for count in (0, 10))
    mass = np.asarray(runs.windrow.dry_matter_kg_m2)
    np.testing.assert_array_equal(mass, single.windrow.dry_matter_kg_m2)
    assert mass[1:].std() > 0.1


def test_every_run_counts_the_same_number_of_times():
    source = weather(3)
    members = make_members(source, WINDROW, 200, size=0.0)
    assert members.weather.lanes == 1 + 3 * 67
    air = members.weather.columns["air_temperature_c"]
    for lane in range(1, 4):
        alike = np.isclose(air[0], source.columns["air_temperature_c"][0, lane])
        assert alike[1:].sum() == 67
    assert make_members(weather(40), WINDROW, 10).weather.lanes == 41
    assert notes(members) == [("spread_of_runs", {"count": "3", "share": "70"})]


@pytest.mark.parametrize("order", [[5, 4, 3, 2, 1], [2, 5, 1, 3, 4]])
def test_the_order_of_runs_changes_nothing(order):
    source = weather(5)
    mixed = repeat_weather(source, [0, *order])
    assert same_members(make_members(source, WINDROW, 20), make_members(mixed, WINDROW, 20))


def test_a_run_with_a_gap_is_dropped_and_counted():
    source = weather(5)
    found = make_members(with_gap(source, 2, 4), WINDROW, 12)
    fewer = make_members(repeat_weather(source, [0, 1, 3, 5]), WINDROW, 12)
    assert (found.dropped, fewer.dropped) == (2, 0)
    assert same_members(found, fewer)
    assert notes(found) == [("spread_of_runs", {"count": "3", "share": "70"})]


def test_a_gap_of_the_forecast_itself_drops_no_run():
    found = make_members(with_gap(weather(3), 0, 1, 2, 3), WINDROW, 6)
    assert found.dropped == 0
    assert found.weather.lanes == 7


def test_without_a_whole_run_the_errors_of_one_forecast_are_taken_whole():
    found = make_members(with_gap(weather(3), 1, 2, 3), WINDROW, 20)
    single = make_members(weather(), WINDROW, 20)
    assert found.dropped == 3
    assert same_members(found, single)
    assert notes(found) == notes(single) == [("spread_of_one", {})]


def test_no_members_no_word_of_their_spread():
    found = make_members(weather(3), WINDROW, 0)
    assert found.weather.lanes == 1
    assert notes(found) == []


def test_drying_rates_are_log_normal_and_drawn_once_a_run():
    """Rotz & Chen 1985: R2 of 0.64 leaves 0.6 of the spread of measured rates, 45 % (assumed)."""
    members = make_members(weather(), WINDROW, 400)
    factor = np.asarray(members.windrow.drying_factor)
    assert factor[0] == 1.0
    assert pytest.approx(0.6 * 0.45) == DRYING_SPREAD
    logs = np.log(factor[1:])
    assert abs(logs.mean()) < 0.01
    assert logs.std() == pytest.approx(DRYING_SPREAD, rel=0.03)
    again = make_members(weather(), WINDROW, 400)
    np.testing.assert_array_equal(again.windrow.drying_factor, factor)


def test_where_a_rigs_water_lands_is_drawn_between_its_ends():
    members = make_members(weather(), WINDROW, 200)
    for name, (low, high) in rigs.DRAWN.items():
        share = members.rig_shares[name]
        assert share[0] == rigs.DEFAULTS[name].value
        assert low <= share[1:].min() < low + 0.01
        assert high - 0.01 < share[1:].max() <= high
    apart = np.corrcoef(*(members.rig_shares[name][1:] for name in rigs.DRAWN))[0, 1]
    assert abs(apart) < 0.2


def test_fitted_bias_is_taken_off_every_lane_and_said():
    """A dew point forecast 1.5 K too damp is corrected on the forecast shown too, by lead."""
    dew = HourlyError(0.93, 2.2, (2.2,) * 5, (1.5, 1.5, 0.0, 0.0, 0.0), (30,) * 5)
    errors = ForecastErrors(
        {**ERRORS, "dew_point_c": dew}, nights=30, until=np.datetime64("2025-07-02")
    )
    source = weather()
    plain, found = (
        make_members(source, WINDROW, 8, errors=each, issued=source.start[0])
        for each in (ForecastErrors(), errors)
    )
    moved = found.weather.columns["dew_point_c"] - plain.weather.columns["dew_point_c"]
    given, air = source.columns["dew_point_c"], source.columns["air_temperature_c"]
    assert (given < air - 0.1).any()
    assert moved[:9, 0] == pytest.approx(np.full(9, -1.5)[: len(moved[:9])])
    assert moved[18:, 0] == pytest.approx(np.zeros(len(moved[18:])))
    assert notes(found) == [("spread_fitted", {"nights": "30", "until": "2025-07-02"})]
