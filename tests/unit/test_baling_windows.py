"""Windows: maximal, disjoint, in order, never in a stop; and when to rake."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import RIG, calls_of, hay, setting_of
from support.nights import hourly

from hayweather.baling.calls import BALED, Call
from hayweather.baling.cautions import dangers_of
from hayweather.baling.windows import (
    RakeWindow,
    Window,
    find_windows,
    rain_ahead,
    rake_windows,
    stopped_quarters,
    stretches,
    united,
)
from hayweather.weather.record import HOUR
from hayweather.windrow.sorption import dry_basis
from hayweather.windrow.trajectory import QUARTER, Layers, raked

BEGIN = hourly(1).start[0]
SPRAY = replace(RIG, spray_wind_limit_m_s=4.0)


def quarters_of(calls, setting=None):
    """Quarters whose calls are set to `calls`, a multiple of four of them."""
    quarters = calls_of(hay(9.0, hours=len(calls) // 4), setting or setting_of())
    return replace(quarters, call=np.array(calls, dtype=np.int8)[:, None])


def no_stops(calls):
    return np.zeros((len(calls), 1), dtype=bool)


def spans(windows):
    """Windows as first and past quarter."""
    return [(int((w.start - BEGIN) / QUARTER), int((w.end - BEGIN) / QUARTER)) for w in windows]


def test_windows_are_the_longest_runs_of_each_ready_call():
    D, A, W, T = Call.NATURAL_DEW, Call.ADD_MOISTURE, Call.TOO_WET, Call.TOO_DRY
    calls = [A, A, A, D, D, D, W, D, T, A, D, D]
    found = find_windows(BEGIN, np.array(calls))
    assert spans(found) == [(0, 3), (3, 6), (7, 8), (9, 10), (10, 12)]
    assert [window.call for window in found] == [A, D, D, A, D]
    assert [window.hours for window in found] == [0.75, 0.75, 0.25, 0.25, 0.5]


@pytest.mark.parametrize("seed", range(5))
def test_windows_are_disjoint_sorted_maximal_and_hold_every_ready_quarter(seed):
    random = np.random.default_rng(seed)
    calls = random.integers(0, 6, 96)
    stopped = (random.random(96) < 0.2)[:, None]
    found = find_windows(BEGIN, np.where(stopped[:, 0], -1, calls))
    covered = np.zeros(96, dtype=bool)
    for window, (first, past) in zip(found, spans(found), strict=True):
        assert not covered[first:past].any()
        covered[first:past] = True
        assert set(calls[first:past]) == {int(window.call)}
        for outside in (first - 1, past):
            if 0 <= outside < 96:
                assert calls[outside] != window.call or stopped[outside, 0]
    assert covered.tolist() == (np.isin(calls, BALED) & ~stopped[:, 0]).tolist()
    assert [w.start for w in found] == sorted(w.start for w in found)


def test_water_of_a_window_is_its_least_and_most():
    trajectory = hay(np.array([8.0, 9.0, 10.0, 10.5, 10.5]))
    quarters = calls_of(trajectory, setting_of())
    applied = quarters.dose.applied_l_t[:, 0]
    found = find_windows(BEGIN, quarters.call[:, 0], applied)
    assert found == [Window(Call.ADD_MOISTURE, BEGIN, BEGIN + HOUR, (applied[-1], applied[0]))]
    assert applied[0] > applied[-1]


def test_a_window_on_dew_has_no_water():
    quarters = calls_of(hay(14.0), setting_of())
    assert find_windows(BEGIN, quarters.call[:, 0])[0].water_l_t is None


def stopped_of(windrow_wb, setting, **columns):
    weather = hourly(2, **columns)
    return stopped_quarters(
        calls_of(hay(windrow_wb, hours=2), setting, weather), dangers_of(weather), setting
    )[:, 0].tolist()


def test_spray_wind_stops_rig_quarters_and_leaves_dew_alone():
    setting = setting_of(rig=SPRAY)
    windy = {"wind_speed_m_s": np.array([6.0, 6.0])}
    assert stopped_of(9.0, setting, **windy) == [True] * 8
    assert stopped_of(14.0, setting, **windy) == [False] * 8
    mixed = np.array([9.0] * 5 + [14.0] * 4)
    assert stopped_of(mixed, setting, **windy) == [True] * 5 + [False] * 3


def test_danger_to_everyone_stops_whole_hours_whatever_the_call():
    weather = hourly(2)
    thunder = {**weather.columns, "weather_code": np.array([[95.0], [0.0]])}
    weather = replace(weather, columns=thunder)
    for windrow_wb in (9.0, 14.0, 20.0):
        quarters = calls_of(hay(windrow_wb, hours=2), setting_of(), weather)
        found = stopped_quarters(quarters, dangers_of(weather), setting_of())
        assert found[:, 0].tolist() == [True] * 4 + [False] * 4
        kept = find_windows(BEGIN, np.where(found[:, 0], -1, quarters.call[:, 0]))
        assert all(window.start >= BEGIN + HOUR for window in kept)
        assert len(kept) == (windrow_wb < 16)


def test_runs_of_nothing_and_of_everything():
    assert stretches(np.zeros(3, dtype=bool)) == []
    assert stretches(np.ones(3, dtype=bool)) == [(0, 3)]


def raking(leaf_wb, first_ready=None, stopped=None, hours=4, **columns):
    """Rake windows as first and past quarter."""
    weather = hourly(columns.pop("weather_hours", hours), **columns)
    quarters = calls_of(hay(14.0, leaf_wb, hours=hours), setting_of(rig=None), hourly(hours))
    found = rake_windows(weather, quarters, first_ready, stopped)
    return spans(found)


@pytest.mark.parametrize(
    ("leaf_wb", "expected"),
    [(17.9, []), (18.1, [(0, 16)]), (39.9, [(0, 16)]), (40.1, [])],
)
def test_leaf_soft_enough_to_rake(leaf_wb, expected):
    """18-40 % wet basis, assumed."""
    assert raking(leaf_wb) == expected


def test_raking_ends_two_hours_before_the_first_ready_quarter():
    assert raking(25.0, first_ready=14) == [(0, 6)]
    assert raking(25.0, first_ready=9) == []  # a single quarter is too short
    assert raking(25.0, first_ready=10) == [(0, 2)]
    assert raking(25.0, first_ready=3) == []


def test_no_raking_with_rain_in_the_hour_or_the_six_after():
    rain = np.zeros(12)
    rain[8] = 0.2
    assert raking(25.0, hours=12, rain_mm=rain) == [(0, 8), (36, 48)]
    rain[8] = np.nan
    assert raking(25.0, hours=12, rain_mm=rain) == [(0, 8), (36, 48)]


def test_rain_after_the_last_hour_shown_counts():
    rain = np.zeros(6)
    rain[5] = 1.0
    assert raking(25.0, hours=4, weather_hours=6, rain_mm=rain) == []
    assert raking(25.0, hours=4, weather_hours=4) == [(0, 16)]


def test_no_raking_in_a_stop():
    stopped = np.zeros((16, 1), dtype=bool)
    stopped[4:8] = True
    assert raking(25.0, stopped=stopped) == [(0, 4), (8, 16)]


def test_unknown_leaf_is_not_raked():
    assert raking(np.nan) == []


def test_rain_ahead_without_a_rain_column_and_in_short_weather():
    weather = hourly(3, rain_mm=np.array([0.0, 0.0, 0.1]))
    assert rain_ahead(weather)[:, 0].tolist() == [True] * 3
    assert rain_ahead(hourly(3, rain_mm=0.099))[:, 0].tolist() == [False] * 3
    dry = replace(weather, columns={k: v for k, v in weather.columns.items() if k != "rain_mm"})
    assert rain_ahead(dry)[:, 0].tolist() == [False] * 3


def layered(*whole_wb):
    """Hay of three layers as said, without free water."""
    water = dry_basis(np.array(whole_wb))[None, :, None].astype(np.float32)
    nothing = np.zeros_like(water)
    return Layers(np.array([0.15, 0.35, 0.5]), np.array([0.47]), water, water, nothing, nothing)


def parts_of(hay):
    return [float(dry_basis(hay.part_wb(part)[0, 0])) for part in ("top", "middle", "bottom")]


def test_raking_turns_the_hay_over():
    """Whole: 15 % of the lower half comes on top, then the rest of it; the old top lies lowest."""
    before = layered(30.0, 15.0, 10.0)
    low, middle, top = (float(dry_basis(x)) for x in (10.0, 15.0, 30.0))
    turned = parts_of(raked(before, mixing=0.0))
    below = (0.35 * middle + 0.15 * top) / 0.5
    np.testing.assert_allclose(turned, [low, low, below], rtol=1e-5)
    mean = 0.15 * top + 0.35 * middle + 0.5 * low
    np.testing.assert_allclose(parts_of(raked(before, mixing=1.0)), [mean] * 3, rtol=1e-5)
    half = parts_of(raked(before))
    np.testing.assert_allclose(half, (np.array(turned) + mean) / 2, rtol=1e-5)
    assert np.dot([0.15, 0.35, 0.5], half) == pytest.approx(mean, rel=1e-5)  # none is lost


def test_leaves_are_soft_to_rake_only_where_half_of_the_runs_say_so():
    """After rain some runs are soaked and most are dry: their mean is neither."""
    quarters = calls_of(hay(25.0, 25.0, hours=4), setting_of(rig=None), hourly(4))
    dry = calls_of(hay(8.0, 8.0, hours=4), setting_of(rig=None), hourly(4))
    leaf = np.concatenate([quarters.leaf_wb, quarters.leaf_wb, dry.leaf_wb], axis=1)
    both = replace(quarters, leaf_wb=leaf)
    assert rake_windows(hourly(4), both, None, None, np.array([0.0, 0.6, 0.4]))
    assert not rake_windows(hourly(4), both, None, None, np.array([0.0, 0.4, 0.6]))


def test_a_rake_window_says_what_the_layers_are_after_it():
    weather = hourly(4)
    quarters = calls_of(hay(25.0, 25.0, 25.0, hours=4), setting_of(rig=None), weather)
    (found,) = rake_windows(weather, quarters, None)
    assert found.raked_at == BEGIN + 2 * HOUR
    np.testing.assert_allclose([found.top_wb, found.middle_wb, found.bottom_wb], 25.0, rtol=1e-5)


def minutes(*pairs):
    """Times so many minutes after the beginning."""
    return [tuple(BEGIN + np.timedelta64(round(60 * each), "s") for each in pair) for pair in pairs]


@pytest.mark.parametrize(
    ("spans", "pause", "expected"),
    [
        ([], 0, []),
        ([(0, 15), (15, 30)], 0, [(0, 30)]),
        ([(15, 30), (0, 15), (45, 60)], 0, [(0, 30), (45, 60)]),
        ([(0, 60), (15, 30)], 0, [(0, 60)]),
        ([(0, 10), (20, 60), (25, 30), (60, 70)], 0, [(0, 10), (20, 70)]),
        ([(0, 15), (15 + 1 / 60, 30)], 0, [(0, 15), (15 + 1 / 60, 30)]),
        ([(0, 15), (30, 45), (61, 75)], 15, [(0, 45), (61, 75)]),
    ],
)
def test_stretches_side_by_side_are_one(spans, pause, expected):
    found = (
        united(minutes(*spans), np.timedelta64(pause, "m")) if pause else united(minutes(*spans))
    )
    assert found == minutes(*expected)


def test_a_window_from_a_minute_on_has_nothing_before_it():
    ((start, end), (low, high), (now, late)) = minutes((0, 60), (5, 20), (10, 30))
    window = Window(Call.READY, start, end, start_range=(low, high), end_range=(end, end))
    cut = window.from_minute(now)
    assert (cut.start, cut.end) == (now, end)
    assert cut.start_range == (now, high)
    assert cut.end_range == (end, end)
    assert window.from_minute(late).start_range == (late, late)
    assert window.from_minute(start) == window
    assert Window(Call.READY, start, end).from_minute(now).start_range is None
    rake = RakeWindow(start, end, low, 20.0, 20.0, 20.0)
    assert rake.from_minute(now) == replace(rake, start=now, raked_at=now)
    assert rake.from_minute(start) == rake


def test_wind_too_much_for_spraying_leaves_every_other_call_alone():
    setting = setting_of(rig=SPRAY)
    windy = dangers_of(hourly(2, wind_speed_m_s=6.0))
    found = stopped_quarters(quarters_of(list(Call), setting), windy, setting)
    assert [call for call, stop in zip(Call, found[:, 0], strict=True) if stop] == [
        Call.ADD_MOISTURE
    ]


def test_two_dangers_do_not_cancel():
    weather = hourly(2, wind_speed_m_s=6.0)
    thunder = replace(weather, columns={**weather.columns, "weather_code": np.full((2, 1), 95.0)})
    setting = setting_of(rig=SPRAY)
    assert stopped_quarters(quarters_of([4] * 8), dangers_of(thunder), setting).all()


def test_only_a_window_of_the_rig_has_water_though_the_rate_is_known():
    D, A = Call.NATURAL_DEW, Call.ADD_MOISTURE
    found = find_windows(BEGIN, np.array([D, D, A, A]), np.array([1.0, 2.0, 3.0, 4.0]))
    assert [window.water_l_t for window in found] == [None, (3.0, 4.0)]


@pytest.mark.parametrize("limit", [18.0, 40.0])
def test_leaf_at_the_limits_is_raked(limit):
    quarters = calls_of(hay(14.0, 25.0), setting_of(rig=None), hourly(1))
    exact = replace(quarters, leaf_wb=np.full((4, 1), limit))
    assert len(rake_windows(hourly(1), exact, None)) == 1


def test_a_quarter_alone_is_too_short_to_rake_at_any_hour():
    stopped = np.ones((16, 1), dtype=bool)
    stopped[9] = False
    assert raking(25.0, stopped=stopped) == []
    stopped[10] = False
    assert raking(25.0, stopped=stopped) == [(9, 11)]


def test_half_of_the_runs_are_enough_to_rake():
    quarters = calls_of(hay(25.0, 25.0, hours=4), setting_of(rig=None), hourly(4))
    leaf = np.concatenate([quarters.leaf_wb, quarters.leaf_wb, 0 * quarters.leaf_wb + 8], axis=1)
    both = replace(quarters, leaf_wb=leaf)
    assert rake_windows(hourly(4), both, None, None, np.array([0.0, 0.5, 0.5]))


def test_raking_goes_by_the_first_lane():
    """Another lane with rain, stops and another clock changes nothing."""
    rain = np.array([[0.0, 5.0]] * 4)
    weather = hourly(4, 2, rain_mm=rain)
    weather = replace(weather, start=weather.start + np.array([0, 1]) * HOUR)
    quarters = calls_of(hay(25.0, 25.0, hours=4, lanes=2), setting_of(rig=None), hourly(4, 2))
    stopped = np.array([[False, True]] * 16)
    (found,) = rake_windows(weather, quarters, None, stopped)
    assert spans([found]) == [(0, 16)]
    assert found.top_wb == pytest.approx(25.0, rel=1e-5)
