"""Weather completed and moved to the field: what is derived, assumed and said."""

from dataclasses import replace

import numpy as np
import pytest
from support.nights import HIGH_PLACE, hourly

from hayweather.weather.record import HourlyWeather
from hayweather.windrow.forcing import Place, prepare
from hayweather.windrow.sky import (
    CLOUD_KEPT_BY_NIGHT,
    CLOUD_UNKNOWN,
    clear_sky_shortwave,
    extraterrestrial_shortwave,
    sun_elevation,
)
from hayweather.windrow.vapor import saturation_vapor_pressure, standard_pressure


def without(weather: HourlyWeather, *names: str) -> HourlyWeather:
    kept = {name: values for name, values in weather.columns.items() if name not in names}
    return replace(weather, columns=kept)


def assumed(weather: HourlyWeather, place: Place = HIGH_PLACE) -> set[str]:
    return {note.key for note in prepare(weather, place).assumed}


def test_complete_weather_needs_no_assumption():
    weather = hourly(24, pressure_kpa=85.0)
    assert assumed(weather) == set()


def test_missing_pressure_follows_from_elevation():
    found = prepare(hourly(6), HIGH_PLACE)
    np.testing.assert_allclose(found.pressure_kpa, standard_pressure(1500.0))
    assert "pressure_from_elevation" in {note.key for note in found.assumed}


def test_single_missing_pressure_is_filled_and_the_others_kept():
    pressure = np.full(6, 85.0)
    pressure[2] = np.nan
    found = prepare(hourly(6, pressure_kpa=pressure), HIGH_PLACE)
    assert found.pressure_kpa[1, 0] == 85.0
    assert found.pressure_kpa[2, 0] == pytest.approx(standard_pressure(1500.0))


def test_missing_sun_follows_from_cloud():
    weather = without(hourly(24, cloud_fraction=1.0, pressure_kpa=85.0), "shortwave_w_m2")
    found = prepare(weather, HIGH_PLACE)
    above = extraterrestrial_shortwave(weather.times(), 40.0, -105.0)
    np.testing.assert_allclose(found.shortwave_w_m2, 0.25 * clear_sky_shortwave(above, 1500.0))
    assert assumed(weather) == {"sun_from_cloud"}


def test_missing_cloud_follows_from_the_sun_and_is_held_at_night():
    weather = hourly(48, pressure_kpa=85.0)
    above = extraterrestrial_shortwave(weather.times(), 40.0, -105.0)
    weather.columns["shortwave_w_m2"][:] = 0.25 * clear_sky_shortwave(above, 1500.0)
    found = prepare(without(weather, "cloud_fraction"), HIGH_PLACE)
    dark = sun_elevation(weather.times(), 40.0, -105.0) < -0.3
    day = found.cloud_start[24:][~dark[24:]]
    assert found.cloud_start[24:][dark[24:]] == pytest.approx(CLOUD_KEPT_BY_NIGHT)
    assert np.isin(day, [1.0, CLOUD_KEPT_BY_NIGHT]).all()
    assert (day == 1.0).mean() > 0.7
    assert "cloud_from_sun" in {note.key for note in found.assumed}


def test_nothing_to_go_on_is_said():
    weather = without(hourly(24, pressure_kpa=85.0), "cloud_fraction", "shortwave_w_m2")
    found = prepare(weather, HIGH_PLACE)
    assert (found.cloud_start == CLOUD_UNKNOWN).all()
    assert {"cloud_unknown", "sun_from_cloud"} <= {note.key for note in found.assumed}


def test_no_rain_column_is_said_and_a_blank_in_it_stays_blank():
    assert "rain_unknown" in assumed(without(hourly(3), "rain_mm"))
    rain = np.array([0.0, np.nan, 1.0])
    assert np.isnan(prepare(hourly(3, rain_mm=rain), HIGH_PLACE).rain_mm[1, 0])


@pytest.mark.parametrize("name", ["air_temperature_c", "dew_point_c", "wind_speed_m_s"])
def test_what_is_needed_is_never_filled(name):
    weather = hourly(4)
    weather.columns[name][2] = np.nan
    air = prepare(weather, HIGH_PLACE).steps(2, 4)
    known = air.temperature_c + air.vapor_pressure_kpa + air.wind_2m_m_s
    assert np.isnan(known).all()


def test_dew_point_is_capped_at_the_air():
    found = prepare(hourly(3, air_temperature_c=10.0, dew_point_c=12.0), HIGH_PLACE)
    assert (found.dew_point_c == 10.0).all()


def test_instants_run_straight_between_the_hours_and_sums_stay():
    weather = hourly(3, air_temperature_c=np.array([10.0, 14.0, 14.0]), rain_mm=1.2)
    air = prepare(weather, HIGH_PLACE).steps(0, 4)
    np.testing.assert_allclose(air.temperature_c[:, 0], [10.7, 11.7, 12.7, 13.7])
    assert (air.rain_mm_h == 1.2).all()
    last = prepare(weather, HIGH_PLACE).steps(2, 4)
    assert (last.temperature_c == 14.0).all()


def test_dew_point_not_humidity_is_interpolated():
    weather = hourly(2, dew_point_c=np.array([0.0, 10.0]))
    air = prepare(weather, HIGH_PLACE).steps(0, 2)
    np.testing.assert_allclose(
        air.vapor_pressure_kpa[:, 0], saturation_vapor_pressure(np.array([3.5, 8.5]))
    )


class TestFieldOffsets:
    """The field is not the grid cell."""

    def test_dew_point_offset_is_added_and_named(self):
        found = prepare(hourly(3, dew_point_c=5.0), replace(HIGH_PLACE, dew_point_offset_k=-1.5))
        assert (found.dew_point_c == 3.5).all()
        assert "dew_point_offset" in {note.key for note in found.assumed}

    @pytest.mark.parametrize(
        ("wind_m_s", "cloud", "expected_c"), [(1.0, 0.0, 18.0), (1.0, 0.5, 19.0), (4.0, 0.0, 20.0)]
    )
    def test_night_offset_acts_in_calm_clear_nights(self, wind_m_s, cloud, expected_c):
        place = replace(HIGH_PLACE, clear_night_air_offset_k=-2.0)
        weather = hourly(8, wind_speed_m_s=wind_m_s, cloud_fraction=cloud)  # from 18:00 local
        found = prepare(weather, place)
        assert found.temperature_c[5, 0] == pytest.approx(expected_c)

    def test_night_offset_leaves_the_day_alone(self):
        place = replace(HIGH_PLACE, clear_night_air_offset_k=-2.0)
        noon = prepare(hourly(24), place).temperature_c[18, 0]
        assert noon == 20.0

    def test_no_offset_no_note(self):
        assert assumed(hourly(3, pressure_kpa=85.0)) == set()
