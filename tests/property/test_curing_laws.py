"""Laws of hay between cutting and cured, through the whole drive: rain never brings it nearer.

Every example is one field in one weather, dry and with a rain or more added.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from support.fields import CURED, EVENING, TURN, days, farm_of

from hayweather.baling.advice import Advice
from hayweather.baling.calls import DANGER, Call
from hayweather.nights.night import night_of
from hayweather.weather.record import HOUR

FEW = settings(max_examples=4, deadline=None, derandomize=True, phases=[Phase.generate])
MANY = settings(FEW, max_examples=60)
HOURS, MEMBERS = 90, 24
BEGIN = TURN - 20 * HOUR

cuts = st.integers(0, 26)  # hours after the weather begins
masses = st.floats(1.0, 2.6)
seeds = st.integers(0, 2**32 - 1)
dew_points_c = st.floats(-2.0, 12.0)


def night(cut, mass, dew_point_c, rain, cured=None):
    """The field's night; the runs' errors are drawn as ever."""
    weather = days(HOURS, start=BEGIN, dew_point_c=dew_point_c, rain_mm=rain)
    field = replace(CURED, cured=cured, cut_at=BEGIN + cut * HOUR, windrow_mass_kg_m2=mass)
    farm = farm_of(field)
    return night_of(farm, {"home": weather}, EVENING, members=MEMBERS)["north"]


def rains(seed, cut):
    """Some rain after the cutting, and as much and more."""
    random = np.random.default_rng(seed)
    some, more = np.zeros(HOURS), np.zeros(HOURS)
    if random.random() < 0.5:
        some[random.integers(cut, 70)] = random.exponential(3.0)
    for _ in range(random.integers(1, 4)):
        more[random.integers(cut, 70)] += random.exponential(8.0)
    return some, some + more


def check_cure(seed, cut, mass, dew_point_c):
    """An hour may be advised more boldly only where the hay, but for the rain, was too dry."""
    less, more = (night(cut, mass, dew_point_c, rain) for rain in rains(seed, cut))
    first, second = (
        np.where(
            found.weighed.drawn.start.cured_hour < 0, np.inf, found.weighed.drawn.start.cured_hour
        )
        for found in (less, more)
    )
    assert (second >= first).all()
    assert (more.weighed.drawn.start.uncured | ~less.weighed.drawn.start.uncured).all()
    dry = np.isin(less.shown.quarters.call[:, 0], (Call.TOO_DRY, Call.ADD_MOISTURE))
    bolder = more.shown.advice > less.shown.advice
    assert not (bolder & ~dry).any()
    assert not (more.shown.advice == Advice.GO).any()


def check_runs(seed, cut, mass, dew_point_c):
    """Quarter by quarter, run by run: what is too wet to bale stays so with more rain."""
    less, more = (night(cut, mass, dew_point_c, rain) for rain in rains(seed, cut))
    calls = less.shown.quarters.call[:, 1:], more.shown.quarters.call[:, 1:]
    bad, still = (np.isin(call, DANGER) for call in calls)
    assert not (bad & ~still & (calls[1] != Call.NO_DATA)).any()


@pytest.mark.slow
@FEW
@given(seeds, cuts, masses, dew_points_c)
def test_more_rain_never_cures_sooner_nor_permits_an_hour(seed, cut, mass, dew_point_c):
    check_cure(seed, cut, mass, dew_point_c)


@pytest.mark.slow
@FEW
@given(seeds, cuts, masses, dew_points_c)
def test_in_no_run_does_rain_undo_not_cured_or_too_wet(seed, cut, mass, dew_point_c):
    check_runs(seed, cut, mass, dew_point_c)


@pytest.mark.long
@MANY
@given(seeds, cuts, masses, dew_points_c)
def test_more_rain_never_cures_sooner_in_any_weather(seed, cut, mass, dew_point_c):
    check_cure(seed, cut, mass, dew_point_c)


@pytest.mark.long
@MANY
@given(seeds, cuts, masses, dew_points_c)
def test_in_no_run_of_any_weather_does_rain_undo_it(seed, cut, mass, dew_point_c):
    check_runs(seed, cut, mass, dew_point_c)


@pytest.mark.slow
@pytest.mark.parametrize("hour", [44, 49, 52])
def test_two_inches_change_moistures_words_and_windows(hour):
    """Cut at noon of the day before: this afternoon, and at seven and ten of the evening."""
    rain = np.zeros(HOURS)
    rain[hour] = 50.0
    dry, wet = (night(18, 1.5, 4.0, values) for values in (np.zeros(HOURS), rain))
    assert dry.maybe
    after = int(max((BEGIN + hour * HOUR - dry.hours[0].start) / HOUR, 0)) + 1
    pairs = list(zip(dry.hours, wet.hours, strict=True))[after : after + 12]
    assert all(b.hay.windrow_wb > a.hay.windrow_wb + 5 for a, b in pairs)
    assert {b.call for _, b in pairs} <= set(DANGER)
    assert all(b.reasons != a.reasons for a, b in pairs)
    assert wet.maybe != dry.maybe
    ends = pairs[-1][0].start
    assert not any(window.start < ends and window.end > pairs[0][0].start for window in wet.maybe)


def test_hay_that_the_grower_calls_cured_takes_the_rain_up_in_leaf_and_stem():
    rain = np.zeros(HOURS)
    rain[52] = 50.0
    dry, wet = (night(2, 1.5, 9.0, values, cured=True) for values in (np.zeros(HOURS), rain))
    at = int((BEGIN + 55 * HOUR - dry.hours[0].start) / HOUR)
    for part in ("leaf_wb", "stem_wb", "windrow_wb"):
        assert getattr(wet.hours[at].hay, part) > getattr(dry.hours[at].hay, part) + 5
    assert wet.hours[at].call == Call.TOO_WET
    assert dry.windows != wet.windows


def test_no_rain_is_the_same_as_rain_of_nothing():
    """And a calculated cure never says go; the grower's own word does."""
    none = night(2, 1.5, 9.0, np.zeros(HOURS))
    again = night(2, 1.5, 9.0, 0.0)
    np.testing.assert_array_equal(none.shown.chances, again.shown.chances)
    assert not (none.shown.advice == Advice.GO).any()
    said = night(2, 1.5, 9.0, 0.0, cured=True)
    assert (said.shown.advice == Advice.GO).any()
