"""One night, one truth: the sample farm and two laws of what is shown, hour by hour."""

from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from hayweather.baling.advice import Advice, Risk
from hayweather.baling.calls import AS_IT_LIES, BALED, Call
from hayweather.farm import read_farm
from hayweather.nights import night_of
from hayweather.weather.asked import weather_for
from hayweather.windrow.readings import Reading

SAMPLE = Path(__file__).parents[2] / "sample_forecasts" / "sagebeck.toml"
EVENING = np.datetime64("2025-07-09T00:00", "s")  # 17:00 in Oregon
LATE = np.datetime64("2025-07-09T06:30", "s")  # 23:30
READ = np.datetime64("2025-07-09T06:10", "s")  # 23:10


@pytest.fixture(autouse=True, scope="module")
def _fewer_fresh_ones():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("hayweather.nights.drive.MOST_MEMBERS", 80)
        yield


@cache
def sample(now=EVENING, read=None):
    farm = read_farm(SAMPLE)
    readings = {} if read is None else {"bench": [Reading(READ, read)]}
    return night_of(
        farm,
        weather_for(farm, farm.sites),
        now,
        readings,
        field=None if read is None else "bench",
        members=40,
    )


def hours():
    return [(field, hour) for field in sample() for hour in field.hours]


def test_no_word_is_shown_that_is_less_likely_than_another():
    for field, hour in hours():
        assert sum(hour.chance.values()) == pytest.approx(1.0)
        assert hour.chance[hour.call] >= max(hour.chance.values()) - 1e-9, (field.name, hour.start)
    for field in sample():
        course = field.shown
        likely = np.take_along_axis(course.chances, course.quarters.call[None, :, 0], axis=0)[0]
        assert (likely >= course.chances.max(axis=0) - 1e-8).all()


def test_go_is_what_the_windows_and_the_hours_say():
    """A quarter of go lies in just one window; an hour of go has most of its quarters in one."""
    for field in sample():
        start = field.shown.weather.start[0]
        inside = np.zeros(field.shown.advice.size, dtype=bool)
        for window in field.windows:
            first, past = (
                int((at - start) / np.timedelta64(900, "s")) for at in (window.start, window.end)
            )
            assert not inside[first:past].any()
            inside[first:past] = True
            assert set(field.shown.quarters.call[first:past, 0]) == {window.call}
        assert (inside == (field.shown.advice == Advice.GO)).all()
        for row, hour in enumerate(field.hours):
            if hour.advice == Advice.GO:
                assert hour.call in BALED
                assert inside[4 * row : 4 * row + 4].sum() >= 2


def test_go_keeps_its_odds():
    for field in sample():
        course, weights = field.shown, field.shown.weights.weights
        for row in np.flatnonzero(course.advice == Advice.GO):
            call = Call(int(course.way[row]))
            assert course.good(call)[row] @ weights >= Risk().ready - 1e-9
            if call in AS_IT_LIES:
                wet = course.chances[[Call.TOO_WET, Call.NOT_CURED], row].sum()
                assert wet <= Risk().wet + 1e-9


def test_creek_is_never_ready_in_a_dry_afternoon():
    for hour in sample()["creek"].hours:
        if hour.air.relative_humidity < 30 and hour.start > EVENING + np.timedelta64(15, "h"):
            assert hour.call not in (*AS_IT_LIES, Call.DAMP_BELOW) or hour.advice == Advice.WAIT
            assert hour.advice != Advice.GO or hour.call == Call.ADD_MOISTURE


def test_wet_on_top_and_dry_beneath_is_never_go_as_it_lies():
    for _, hour in hours():
        if hour.call in AS_IT_LIES and hour.advice == Advice.GO:
            assert hour.soft_share >= 0.5
            assert hour.wet_share <= 0.4
            assert hour.hay.bottom.leaf_wb > 10


def test_saddle_says_probe_the_stems_first():
    """Its cure is calculated: nobody has said so, nobody has read a stem."""
    saddle = sample()["saddle"]
    assert not saddle.windows
    assert saddle.maybe
    assert all(hour.advice != Advice.GO for hour in saddle.hours)
    assert [remark.key for remark in saddle.shown.limits_said] == ["advice_probe_stems"]


@pytest.mark.parametrize(
    "read", [16.0, *(pytest.param(read, marks=pytest.mark.slow) for read in (17.0, 20.0)), 30.0]
)
def test_read_near_the_ceiling_or_above_nothing_goes_until_two_hours_of_sun(read):
    bench = sample(LATE, read)["bench"]
    sunrise = np.datetime64("2025-07-09T12:35", "s")
    for hour in bench.hours:
        if hour.start < sunrise + np.timedelta64(2, "h"):
            assert hour.advice != Advice.GO
            assert hour.call != Call.ADD_MOISTURE
    assert all(window.start >= sunrise + np.timedelta64(2, "h") for window in bench.windows)


def test_read_in_the_band_no_water_is_added_while_it_holds_there():
    bench = sample(LATE, 15.0)["bench"]
    for hour in bench.hours[:4]:
        if hour.hay.windrow_wb >= 12:
            assert hour.call != Call.ADD_MOISTURE


def test_a_higher_reading_never_dries_the_night():
    rows = [
        np.array([hour.hay.windrow_wb for hour in sample(LATE, read)["bench"].hours[:6]])
        for read in (10.0, 13.0, 15.0, 16.0, 17.0, 20.0, 30.0)
    ]
    for low, high in pairwise(rows):
        assert (high >= low - 0.3).all()


@pytest.mark.slow
@pytest.mark.parametrize("minute", range(0, 60, 7))
def test_nothing_is_advised_before_the_minute_of_now(minute):
    """From half past midnight on, through the window's start and its end."""
    now = np.datetime64("2025-07-09T07:40", "s") + minute * np.timedelta64(120, "s")
    whole = sample()
    for field in sample(now):
        for window in (*field.windows, *field.maybe):
            assert now <= window.start < window.end
            if window.start_range is not None:
                assert now <= window.start_range[0] <= window.start <= window.start_range[1]
        assert all(now <= item.start < item.end for item in field.rake)
        before = sum(window.hours for window in whole[field.name].windows)
        assert sum(window.hours for window in field.windows) <= before + 1e-9
        assert field.hours[0].start <= now < field.hours[0].start + np.timedelta64(3600, "s")
