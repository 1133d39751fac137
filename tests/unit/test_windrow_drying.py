"""From cutting to cured; the rate itself is checked in tests/published."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.nights import HIGH_PLACE, hourly

from hayweather.windrow.column import organ_mass
from hayweather.windrow.drying import (
    CUT_MOISTURE_DB,
    HAND_OVER_DB,
    UNCONDITIONED_DRYING,
    Swath,
    dry_down,
    drying_rate,
    hand_over,
    hand_over_state,
    night_wetting,
    wet_rate,
)
from hayweather.windrow.forcing import prepare
from hayweather.windrow.hay import RAIN_HELD_MAX_DB
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air
from hayweather.windrow.sorption import wet_basis

CLOCK = (np.arange(96) + 11) % 24  # cut at eleven in the morning
SUNNY = 950.0 * np.maximum(np.cos((CLOCK - 13) * np.pi / 14), 0.0)
DENSITY_G_M2 = 450.0
SWATH, WINDROW = Swath(0, DENSITY_G_M2 / 1000), WindrowParameters()


def summer(lanes=1, **changed):
    """Four dry clear days, 12 to 30 C."""
    air = 21 + 9 * np.cos((CLOCK - 15) * np.pi / 12)
    named = {"air_temperature_c": air, "dew_point_c": 6.0, "shortwave_w_m2": SUNNY, **changed}
    return prepare(hourly(96, lanes, **named), HIGH_PLACE)


def dried(swath=SWATH, windrow=WINDROW, **changed):
    return dry_down(summer(**changed), swath, windrow)


def shower(hour, amount_mm):
    rain = np.zeros(96)
    rain[hour] = amount_mm
    return rain


def cured_after(water):
    """Hours from cutting to cured, lane 0."""
    hour = int(hand_over(water)[0])
    return hour if hour >= 0 else np.inf


def test_cut_hay_cures_within_days_of_summer():
    """In dry country two or three days, by a wide thin swath (common practice, no source)."""
    water = dried()
    assert water[0, 0] == CUT_MOISTURE_DB
    assert 24 <= cured_after(water) <= 72


def test_it_dries_by_day_and_takes_up_dew_and_damp_air_by_night():
    hours = np.diff(dried(dew_point_c=11.0)[:, 0])
    assert (hours[:7] < 0).all()
    night = slice(13, 19)  # midnight to six
    assert (hours[night] > 0.01).all()
    assert (np.diff(dried(dew_point_c=-5.0)[:, 0])[night] <= 0.001).all()


def test_before_the_cutting_nothing_is_known():
    water = dried(replace(SWATH, cut_hour=10))
    assert np.isnan(water[:10]).all()
    assert water[10, 0] == CUT_MOISTURE_DB


def test_swath_weight_conditioning_and_raking_count():
    plain = cured_after(dried())
    assert cured_after(dried(replace(SWATH, density_kg_m2=0.9))) > plain
    assert cured_after(dried(replace(SWATH, conditioned=False))) > plain
    raked = dried(replace(SWATH, raked_hour=20, raked_kg_m2=1.5))
    np.testing.assert_array_equal(raked[:21], dried()[:21])
    assert cured_after(raked) > plain


def test_every_lane_has_its_own_rate():
    factors = np.array([1.0, 0.6, UNCONDITIONED_DRYING, 1.5])
    hours = hand_over(dried(windrow=replace(WINDROW, drying_factor=factors), lanes=4))
    assert hours[1] > hours[0] > hours[3] > 0
    slow = dried(replace(SWATH, conditioned=False))
    assert hours[2] == hand_over(slow)[0]


@pytest.mark.parametrize("hour", [3, 12, 30])
def test_two_inches_wet_it_and_hold_it_back(hour):
    plain, rained = dried(), dried(rain_mm=shower(hour, 50.0))
    assert rained[hour + 1, 0] > min(plain[hour, 0] + 0.9, 0.9 * RAIN_HELD_MAX_DB)
    wet_hours = [(water[:, 0] > HAND_OVER_DB).sum() for water in (plain, rained)]
    assert wet_hours[1] >= wet_hours[0] + (8 if hour == 30 else 3)  # hot sun, a thin swath


def test_a_swath_fresh_from_the_cutter_has_no_room_for_rain():
    """At 80 % wet basis it is as wet as the published form says that rain can make it."""
    rained = dried(rain_mm=shower(0, 50.0))
    assert rained[1, 0] <= CUT_MOISTURE_DB


def test_a_shower_makes_cured_hay_uncured_and_it_dries_again():
    plain = dried()
    cured = int(cured_after(plain))
    rained = dried(rain_mm=shower(cured + 1, 3.0))
    assert rained[cured + 2, 0] > HAND_OVER_DB
    assert rained[cured : cured + 30, 0].min() < HAND_OVER_DB
    assert cured_after(rained) == cured


def check_rain(seed, density, conditioned, cut_hour):
    """A law, whatever the weather: each lane has the rain of the one before it and more."""
    random, lanes = np.random.default_rng(seed), 12
    falls = random.random((96, lanes)) < random.uniform(0.0, 0.1)
    falls[:, 0] &= random.random() < 0.5
    rain = np.cumsum(np.where(falls, random.exponential(4.0, (96, lanes)), 0.0), axis=1)
    dew_point = random.uniform(-5, 14) + random.normal(0, 1.5, (96, 1))
    cloud = random.uniform(0, 1)
    forcing = summer(
        lanes,
        rain_mm=rain,
        dew_point_c=np.minimum(dew_point, 12.0) + np.zeros((1, lanes)),
        shortwave_w_m2=SUNNY * (1 - 0.7 * cloud),
        cloud_fraction=cloud,
        wind_speed_m_s=random.uniform(0.2, 5),
    )
    raked = int(random.integers(0, 96)) if random.random() < 0.5 else None
    swath = Swath(cut_hour, density, raked, 1.5 * density, conditioned)
    water = dry_down(forcing, swath, WINDROW)[cut_hour:]
    assert (np.diff(water, axis=1) >= -1e-12).all()
    assert water.max() <= RAIN_HELD_MAX_DB + 1e-9
    cured = np.where(hand_over(water) < 0, np.inf, hand_over(water))
    assert (cured[1:] >= cured[:-1]).all()


SWATHS = (st.integers(0, 2**32 - 1), st.floats(0.2, 1.5), st.booleans(), st.integers(0, 40))


@settings(max_examples=15, deadline=None, derandomize=True)
@given(*SWATHS)
def test_more_rain_never_cures_hay_sooner(seed, density, conditioned, cut_hour):
    check_rain(seed, density, conditioned, cut_hour)


@pytest.mark.long
@settings(max_examples=300, deadline=None, derandomize=True)
@given(*SWATHS)
def test_more_rain_never_cures_any_hay_sooner(seed, density, conditioned, cut_hour):
    check_rain(seed, density, conditioned, cut_hour)


def test_a_missing_value_is_unknown_from_there_on():
    air = np.full(96, 28.0)
    air[20] = np.nan
    water = dried(air_temperature_c=air)
    assert np.isfinite(water[:19]).all()
    assert np.isnan(water[21:]).all()


def test_first_day_dries_faster_and_sun_and_dry_air_help():
    rate = drying_rate(500.0, 2.0, DENSITY_G_M2, first_day=True)
    assert rate > drying_rate(500.0, 2.0, DENSITY_G_M2, first_day=False)
    assert rate > drying_rate(100.0, 2.0, DENSITY_G_M2, first_day=True)
    assert rate > drying_rate(500.0, 0.5, DENSITY_G_M2, first_day=True)


def test_night_wetting_is_the_manuals():
    """USDA-ARS farm-model manual 2014: 13.4, 14.2, 15.2, 16.4 % from 10 % at 70 to 100 %."""
    start = np.array(0.1 / 0.9)
    for humidity, expected in ((0.7, 13.4), (0.8, 14.2), (0.9, 15.2), (1.0, 16.4)):
        after = night_wetting(start, np.array(humidity), np.array(1.0), 1500.0, 10)
        assert wet_basis(after) == pytest.approx(expected, abs=0.06)


def test_dew_falls_on_clear_damp_nights_only():
    def at(dew_point_c, cloud=0.0):
        weather = hourly(2, air_temperature_c=10.0, dew_point_c=dew_point_c, cloud_fraction=cloud,
                         wind_speed_m_s=1.0)  # fmt: skip
        air = Air(*(values[0] for values in prepare(weather, HIGH_PLACE).steps(0, 1)))
        return float(wet_rate(air, WINDROW)[0])

    assert 0.02 < at(9.0) < 0.08  # a clear night brings 0.1 to 0.5 mm (common knowledge, memory)
    assert at(-5.0) < 0.0
    assert at(9.0, cloud=1.0) < 0.4 * at(9.0)


def test_never_cured_is_told():
    cold = dried(shortwave_w_m2=0.0, air_temperature_c=5.0, dew_point_c=5.0)
    assert hand_over(cold).tolist() == [-1]


def test_windrow_takes_over_at_twenty_percent():
    windrow = WindrowParameters()
    state = hand_over_state(summer(), 40, windrow)
    whole = state.water(organ_mass(windrow)) / windrow.dry_matter_kg_m2
    assert whole == pytest.approx(HAND_OVER_DB)
    assert wet_basis(whole) == pytest.approx(20.0)
    assert (state.moisture_db[1] > state.moisture_db[0]).all()
