"""The meter rules: what any reading, at any time, in any field may and may not change.

The made-up sample farm, a few members: these are laws of the answer, not of its skill.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from hayweather.baling.advice import Advice
from hayweather.baling.calls import BALED, Call
from hayweather.farm import read_farm
from hayweather.nights import night_of
from hayweather.weather.asked import weather_for
from hayweather.weather.record import HOUR
from hayweather.windrow.readings import Reading, joined

SAMPLE = Path(__file__).parents[2] / "sample_forecasts" / "sagebeck.toml"
DUSK = np.datetime64("2025-07-09T01:00", "s")  # 18:00 in Oregon
SUNRISE = np.datetime64("2025-07-09T12:35", "s")  # 5:35, by the almanac's rule of thumb
SUN = np.timedelta64(2 * 3600, "s")
CEILING, LOW, HIGH = 17.0, 12.0, 16.0  # of a large square bale, [catalog]
MINUTE = np.timedelta64(60, "s")
FIELDS = ("bench", "creek", "saddle")
MANY = settings(max_examples=120, deadline=None, derandomize=True, phases=[Phase.generate])

fields = st.sampled_from(FIELDS)
minutes = st.integers(0, 60 * 10)  # from 18:00 to 4 am
kinds = st.sampled_from(["windrow", "bale"])


@pytest.fixture(autouse=True, scope="module")
def _fewer_fresh_ones():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("hayweather.nights.drive.MOST_MEMBERS", 80)
        yield


@cache
def given_farm():
    farm = read_farm(SAMPLE)
    return farm, weather_for(farm, farm.sites)


@cache
def night(field, minute, *read):
    """The field half an hour after `minute`; `read` are (minutes later, moisture, kind)."""
    farm, weather = given_farm()
    begin = DUSK + minute * MINUTE
    readings = [Reading(begin + later * MINUTE, value, kind) for later, value, kind in read]
    now = begin + 30 * MINUTE
    return night_of(farm, weather, now, {field: readings}, field=field, members=40)[field]


def before_sun(found):
    return [hour for hour in found.hours if hour.start < SUNRISE + SUN]


def check_monotone(field, minute, low, high, kind):
    """A higher reading never makes an hour before sunrise drier, nor raises the water."""
    one, other = (night(field, minute, (0, value, kind)) for value in (low, high))
    for drier, wetter in zip(one.hours, other.hours, strict=True):
        if drier.start >= SUNRISE:
            break
        if np.isfinite(drier.hay.windrow_wb):
            assert wetter.hay.windrow_wb >= drier.hay.windrow_wb - 0.3
    sunrise = int((SUNRISE - one.hours[0].start) / HOUR) * 4
    dry, damp = (water_advised(found)[:sunrise] for found in (one, other))
    # Of hay too dry for the rig no water is advised either; dampened, the rig may reach it.
    reached = one.shown.quarters.call[:sunrise, 0] != Call.TOO_DRY
    assert (damp <= dry + 2.0)[reached].all()  # half a gallon a ton


def water_advised(found):
    """Water of every quarter [L/t]: the rate printed where the call is to add it, else none."""
    asked = found.shown.quarters.call[:, 0] == Call.ADD_MOISTURE
    return np.where(asked, np.nan_to_num(found.shown.printed), 0.0)


def check_ceiling(field, minute, value, kind):
    """Read near the ceiling or above: nothing goes, no water, until two hours of sun."""
    found = night(field, minute, (0, value, kind))
    hours = before_sun(found)
    assert hours
    for hour in hours:
        assert hour.advice != Advice.GO
        assert hour.call != Call.ADD_MOISTURE
    assert all(window.start >= SUNRISE + SUN for window in found.windows)


def check_band(field, minute, value, kind):
    """Read in the band: no water while the answer holds it there."""
    found = night(field, minute, (0, value, kind))
    held = True
    for quarter, moisture in enumerate(found.shown.quarters.windrow_wb[:, 0]):
        at = found.hours[0].start + quarter * 15 * MINUTE
        if at + 15 * MINUTE <= DUSK + minute * MINUTE:
            continue
        held = held and moisture >= LOW
        if held:
            assert found.shown.quarters.call[quarter, 0] != Call.ADD_MOISTURE


@pytest.mark.long
@MANY
@given(fields, minutes, st.floats(5.0, 38.0), st.floats(0.3, 12.0), kinds)
def test_a_higher_reading_never_dries_any_night(field, minute, low, more, kind):
    check_monotone(field, minute, low, min(low + more, 40.0), kind)


@pytest.mark.long
@MANY
@given(fields, minutes, st.floats(CEILING - 0.99, 40.0), kinds)
def test_read_near_the_ceiling_nothing_goes_in_any_night(field, minute, value, kind):
    check_ceiling(field, minute, value, kind)


@pytest.mark.long
@MANY
@given(fields, minutes, st.floats(LOW, HIGH), kinds)
def test_read_in_the_band_no_water_in_any_night(field, minute, value, kind):
    check_band(field, minute, value, kind)


@pytest.mark.slow
def test_a_later_lower_reading_lifts_the_hold():
    held = night("bench", 180, (0, 19.0, "windrow"))
    lifted = night("bench", 180, (0, 19.0, "windrow"), (25, 11.0, "windrow"))
    assert not any(hour.advice == Advice.GO for hour in before_sun(held))
    assert lifted.shown.held.sum() < held.shown.held.sum()
    assert any(hour.call in BALED for hour in before_sun(lifted))


def test_readings_within_twenty_minutes_are_one_with_their_spread():
    apart = night("bench", 180, (0, 11.0, "windrow"), (15, 15.0, "windrow"))
    (one,) = apart.readings
    assert one.values_wb == (11.0, 15.0)
    assert one.error_wb == pytest.approx(np.hypot(1.0, np.sqrt(8.0) / np.sqrt(2.0)))
    assert joined(apart.readings) == apart.readings


@pytest.mark.slow
def test_one_layers_reading_enters_that_layer():
    farm, weather = given_farm()
    now = DUSK + 5 * HOUR

    def parts(*readings):
        found = night_of(farm, weather, now, {"bench": list(readings)}, field="bench", members=40)
        hay = found["bench"].hours[0].hay
        return np.array([hay.top.leaf_wb, hay.bottom.leaf_wb])

    wet_top = parts(Reading(now, 45.0, layer="top")) - parts()
    wet_bottom = parts(Reading(now, 45.0, layer="bottom")) - parts()
    assert wet_top[0] > wet_top[1] + 5
    assert wet_bottom[1] > wet_bottom[0] + 5
