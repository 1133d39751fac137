"""Laws of the windrow model that hold in any weather, from the tropics to frost.

Hypothesis draws the kind of weather and a seed; every example is a batch of
lanes, so that one run tries many nights.
"""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from support.nights import HIGH_PLACE, hourly

from hayweather.weather.record import HourlyWeather
from hayweather.windrow.column import State, column_of, step
from hayweather.windrow.forcing import prepare
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.skin import Air
from hayweather.windrow.starts import FINE_STEPS, equilibrium_state, moisture_state
from hayweather.windrow.trajectory import FLUX_NAMES, STATE_NAMES, WindrowTrajectory

LANES, HOURS = 24, 30
LEDGER_KG_M2 = 1e-9
BOTH_LOOPS_DB = 1e-9  # as far as the two loops agree
SHOWER_MOISTURE_WB, SHOWER_FILM_MM = 1.0, 0.05
FEW = settings(max_examples=4, deadline=None, derandomize=True, phases=[Phase.generate])

seeds = st.integers(0, 2**32 - 1)
mean_temperatures_c = st.floats(-15.0, 38.0)
rain_shares = st.sampled_from([0.0, 0.05, 0.3])
hours = st.integers(1, HOURS - 2)


def wander(random: np.random.Generator, size: float) -> np.ndarray:
    """A number that remembers, (HOURS, LANES)."""
    draws = random.standard_normal((HOURS, LANES))
    for hour in range(1, HOURS):
        draws[hour] = 0.9 * draws[hour - 1] + np.sqrt(1 - 0.81) * draws[hour]
    return size * draws


def draw_weather(seed: int, mean_c: float, rain_share: float) -> HourlyWeather:
    """A day and a bit from 18:00, each lane with its own dryness, wind and sky."""
    random = np.random.default_rng(seed)
    clock = (np.arange(HOURS) + 18) % 24
    swing = 8 * np.cos((clock - 15) / 24 * 2 * np.pi)
    air = mean_c + swing[:, None] + wander(random, 2.0)
    dryness = np.maximum(random.uniform(0, 20, LANES) + wander(random, 3.0), 0.0)
    cloud = np.clip(random.uniform(-0.5, 1.2, LANES) + wander(random, 0.3), 0.0, 1.0)
    sun = np.maximum(np.cos((clock - 12) / 24 * 2 * np.pi), 0.0)[:, None]
    falls = random.random((HOURS, LANES)) < rain_share
    return hourly(
        HOURS,
        LANES,
        air_temperature_c=air,
        dew_point_c=air - dryness,
        wind_speed_m_s=random.uniform(0, 6, LANES) * np.exp(wander(random, 0.5)),
        cloud_fraction=cloud,
        shortwave_w_m2=900 * sun * (1 - 0.75 * cloud**3.4),
        rain_mm=np.where(falls, random.exponential(3.0, (HOURS, LANES)), 0.0),
    )


def start_state(weather: HourlyWeather, hour: int = 0) -> State:
    """The windrow in equilibrium with the air of an hour."""
    columns = weather.columns
    return equilibrium_state(
        columns["air_temperature_c"][hour], columns["dew_point_c"][hour], WindrowParameters()
    )


def go(weather: HourlyWeather, steps: int | None = None, **starts) -> WindrowTrajectory:
    """The default windrow from equilibrium at the first hour."""
    first = {0: start_state(weather)}
    windrow = WindrowParameters()
    return run(weather, HIGH_PLACE, windrow, starts.get("starts", first), steps_per_hour=steps)


@FEW
@given(seeds, mean_temperatures_c, rain_shares)
def test_ledger_closes_in_every_step(seed, mean_c, rain_share):
    found = go(draw_weather(seed, mean_c, rain_share))
    assert found.ledger_kg_m2.max() <= LEDGER_KG_M2
    water = found.windrow_db[::4] * WindrowParameters().dry_matter_kg_m2
    moved = found.from_air_mm + found.from_ground_mm + found.rain_caught_mm - found.runoff_mm
    np.testing.assert_allclose(np.diff(water, axis=0), moved, rtol=0, atol=100 * LEDGER_KG_M2)


@FEW
@given(seeds, mean_temperatures_c, rain_shares)
def test_everything_stays_within_physical_bounds(seed, mean_c, rain_share):
    weather = draw_weather(seed, mean_c, rain_share)
    found = go(weather)
    for name in STATE_NAMES[:-1]:
        assert np.isfinite(getattr(found, name)).all(), name
    assert found.leaf_db.min() >= 0.01
    full = np.maximum(found.leaf_db[0], 0.8)  # equilibrium with saturated air starts above it
    assert (found.leaf_db <= full + 1e-9).all()
    assert found.stem_db.min() >= 0.01
    assert found.stem_db.max() <= 2.0 + 1e-9
    assert found.free_water_mm.min() >= 0.0
    assert found.windrow_wb.max() < 90.0
    for name in ("dew_mm", "internal_mm", "rain_caught_mm", "runoff_mm"):
        assert getattr(found, name).min() >= 0.0, name
    assert (found.rain_caught_mm <= weather.columns["rain_mm"] + 1e-12).all()
    over_air = found.skin_temperature_c[4::4] - weather.columns["air_temperature_c"]
    assert over_air.min() > -25
    assert over_air.max() < 60


@FEW
@given(seeds, mean_temperatures_c)
def test_no_dew_where_the_skin_is_above_the_dew_point(seed, mean_c):
    found = go(draw_weather(seed, mean_c, 0.0))
    warm = found.skin_humidity[1:].reshape(HOURS, 4, LANES).max(axis=1) < 0.95
    starts_warm = np.vstack([np.ones((1, LANES), bool), found.skin_humidity[4:-1:4] < 0.95])
    assert found.dew_mm[warm & starts_warm].max(initial=0.0) == 0.0


def state_at(weather: HourlyWeather, hour: int) -> State:
    """The state at an hour boundary, by the steps themselves."""
    forcing, state = prepare(weather, HIGH_PLACE), start_state(weather)
    column = column_of(WindrowParameters())
    for before in range(hour):
        air = forcing.steps(before, FINE_STEPS)
        for index in range(FINE_STEPS):
            now = Air(*(values[index] for values in air))
            state, _ = step(state, now, column, 3600 / FINE_STEPS)
    return state


@settings(FEW, max_examples=2)  # its steps are NumPy's
@given(seeds, mean_temperatures_c, rain_shares, hours)
def test_a_run_split_anywhere_equals_the_unsplit_one(seed, mean_c, rain_share, hour):
    weather = draw_weather(seed, mean_c, rain_share)
    whole = go(weather, FINE_STEPS)
    later = go(weather, FINE_STEPS, starts={hour: state_at(weather, hour)})
    assert np.isnan(later.windrow_db[: 4 * hour]).all()
    np.testing.assert_allclose(
        later.windrow_db[4 * hour :], whole.windrow_db[4 * hour :], rtol=0, atol=BOTH_LOOPS_DB
    )


@FEW
@given(seeds, mean_temperatures_c, hours)
def test_a_shower_never_lowers_moisture_later(seed, mean_c, hour):
    """Within what the linear step is good for: 1 point wet basis and 0.05 mm."""
    dry = draw_weather(seed, mean_c, 0.0)
    rain = dry.columns["rain_mm"].copy()
    rain[hour] = np.random.default_rng(seed).exponential(2.0, LANES)
    wet = replace(dry, columns={**dry.columns, "rain_mm": rain})
    without, with_shower = go(dry), go(wet)
    assert (with_shower.windrow_wb - without.windrow_wb).min() > -SHOWER_MOISTURE_WB
    assert (with_shower.free_water_mm - without.free_water_mm).min() > -SHOWER_FILM_MM
    after = with_shower.windrow_wb[4 * hour + 4] - without.windrow_wb[4 * hour + 4]
    assert np.median(after) > 0


@FEW
@given(
    seeds,
    mean_temperatures_c,
    st.sampled_from(["air_temperature_c", "dew_point_c", "wind_speed_m_s", "rain_mm"]),
    st.integers(2, 12),
    st.integers(14, HOURS - 2),
)
def test_a_missing_value_is_unknown_until_a_new_start(seed, mean_c, column, gap, again):
    weather = draw_weather(seed, mean_c, 0.05)
    weather.columns[column][gap, ::2] = np.nan
    found = go(weather, starts={0: start_state(weather), again: start_state(weather, again)})
    lost = found.windrow_db[:, ::2]
    assert np.isnan(lost[4 * gap + 4 : 4 * again]).all()
    assert np.isfinite(lost[: 4 * (gap - 1)]).all()
    assert np.isfinite(lost[4 * again :]).all()
    assert np.isfinite(found.windrow_db[: 4 * again, 1::2]).all()
    assert found.started[[0, again]].all()


@FEW
@given(seeds, mean_temperatures_c, rain_shares, st.randoms(use_true_random=False))
def test_order_of_lanes_changes_nothing(seed, mean_c, rain_share, random):
    weather = draw_weather(seed, mean_c, rain_share)
    order = random.sample(range(LANES), LANES)
    found, shuffled = go(weather), go(repeat_weather(weather, order))
    for name in (*STATE_NAMES, *FLUX_NAMES):
        ours, theirs = getattr(found, name)[:, order], getattr(shuffled, name)
        # NumPy's power rounds a number by its place in the array; a ledger is rounding alone.
        least = 1e-9 if "ledger" in name else 1e-12
        np.testing.assert_allclose(ours, theirs, rtol=1e-9, atol=least)


@FEW
@given(seeds, mean_temperatures_c, st.integers(1, 12))
def test_a_start_elsewhere_changes_no_other_lane(seed, mean_c, hour):
    weather = draw_weather(seed, mean_c, 0.05)
    first, second = start_state(weather), start_state(weather, hour)
    blank = np.arange(LANES) % 2 == 0
    some = second._replace(moisture_db=np.where(blank, np.nan, second.moisture_db))
    alone = go(weather)
    beside = go(weather, starts={0: first, hour: some})
    np.testing.assert_allclose(
        beside.windrow_db[:, blank], alone.windrow_db[:, blank], rtol=0, atol=1e-12
    )


@FEW
@given(seeds, st.floats(5.0, 30.0), st.floats(4.0, 40.0), st.floats(4.0, 60.0))
def test_moister_air_never_dries_the_windrow(seed, mean_c, leaf_wb, stem_wb):
    """Two kelvin more dew point, same start: the windrow ends at least as moist."""
    weather = draw_weather(seed, mean_c, 0.0)
    air = weather.columns["air_temperature_c"]
    moister = np.minimum(weather.columns["dew_point_c"] + 2.0, air)
    damp = replace(weather, columns={**weather.columns, "dew_point_c": moister})
    first = moisture_state(leaf_wb, stem_wb, air[0], weather.columns["dew_point_c"][0])
    before, after = (go(each, starts={0: first}).windrow_wb[-1] for each in (weather, damp))
    assert (after - before).min() > -SHOWER_MOISTURE_WB
    assert np.median(after - before) >= 0


def test_steps_per_hour_must_suit_quarter_hours():
    weather = draw_weather(1, 15.0, 0.0)
    with pytest.raises(ValueError, match="multiple of 4"):
        run(weather, HIGH_PLACE, WindrowParameters(), steps_per_hour=10)
