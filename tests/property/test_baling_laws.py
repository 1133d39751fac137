"""Laws of the calls that hold in any weather.

Hypothesis draws the kind of weather and a seed; every example is a batch of
lanes, so that one run tries many nights.
"""

from dataclasses import replace

import numpy as np
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from support.fields import CURED, HOME, RIG, calls_of, hay, setting_of
from support.nights import hourly

from hayweather.baling.calls import BALED, Call, QuarterCalls, call_quarters, quarterly
from hayweather.baling.cause import Cause
from hayweather.baling.cautions import dangers_of, fosberg_index
from hayweather.baling.water import Landing, Limits, brought_in, dose
from hayweather.baling.windows import find_windows, stopped_quarters
from hayweather.weather.record import NEEDED, HourlyWeather
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.run import run
from hayweather.windrow.starts import moisture_state
from hayweather.windrow.trajectory import WindrowTrajectory

LANES, HOURS = 20, 26
# A shower also cools the hay, so that more rain may dry it by a little later on.
RAIN_MARGIN_WB, RAIN_MARGIN_MM = 1.0, 0.05
FEW = settings(max_examples=3, deadline=None, derandomize=True, phases=[Phase.generate])
COUPLE = settings(FEW, max_examples=2)
MANY = settings(max_examples=200, deadline=None, derandomize=True)

seeds = st.integers(0, 2**32 - 1)
mean_temperatures_c = st.floats(-5.0, 32.0)
rain_shares = st.sampled_from([0.05, 0.3])
SETTING = setting_of(rig=replace(RIG, spray_wind_limit_m_s=4.0))
UNKNOWN = setting_of(replace(CURED, cured=None), rig=RIG)


def draw_weather(seed: int, mean_c: float, rain_share: float = 0.0) -> HourlyWeather:
    """From 19:00 on, each lane with its own dryness, wind, sky and showers."""
    random = np.random.default_rng(seed)
    clock = (np.arange(HOURS) + 19) % 24
    air = mean_c + 9 * np.cos((clock - 15) / 12 * np.pi)[:, None] + random.normal(0, 2, LANES)
    dryness = np.abs(random.normal(0, 1, (HOURS, LANES)) + random.uniform(0, 18, LANES))
    cloud = np.clip(random.uniform(-0.5, 1.2, LANES), 0.0, 1.0)
    sun = np.maximum(np.cos((clock - 12.5) / 12 * np.pi), 0.0)[:, None]
    falls = random.random((HOURS, LANES)) < rain_share
    return hourly(
        HOURS,
        LANES,
        air_temperature_c=air,
        dew_point_c=air - dryness,
        wind_speed_m_s=random.uniform(0, 8, LANES) * random.uniform(0.5, 1.5, (HOURS, 1)),
        cloud_fraction=np.broadcast_to(cloud, (HOURS, LANES)),
        shortwave_w_m2=850 * sun * (1 - 0.75 * cloud**3.4),
        rain_mm=falls * random.exponential(0.5, (HOURS, LANES)),
    )


def follow(weather: HourlyWeather, seed: int) -> WindrowTrajectory:
    """Windrows of 6 to 14 % from the first hour on; those with a gap begin anew after 20 hours."""
    at_start = np.random.default_rng(seed).uniform(6, 14, weather.lanes)
    starts = {}
    for hour in (0, 20):
        air, dew_point = (weather.columns[name][hour] for name in NEEDED[:2])
        state = moisture_state(at_start, at_start, air, dew_point)
        starts[hour] = state
    begins = np.zeros((HOURS, weather.lanes), dtype=bool)
    begins[20] = True
    return run(weather, SETTING.place, SETTING.windrow, {0: starts[0]}, begins)


def calls(weather: HourlyWeather, seed: int, setting=SETTING) -> QuarterCalls:
    return call_quarters(weather, follow(weather, seed), setting)


def ready(found: QuarterCalls) -> np.ndarray:
    return np.isin(found.call, BALED)


@FEW
@given(seeds, mean_temperatures_c, rain_shares)
def test_an_hour_with_rain_is_never_ready(seed, mean_c, rain_share):
    weather = draw_weather(seed, mean_c, rain_share)
    found = calls(weather, seed)
    raining = quarterly(weather.columns["rain_mm"] >= 0.1)
    assert raining.any()
    assert not (ready(found) & raining).any()
    assert set(np.unique(found.call[raining])) == {int(Call.TOO_WET)}


@FEW
@given(seeds, mean_temperatures_c, st.sampled_from([*NEEDED, "rain_mm"]), st.integers(1, 16))
def test_a_blank_is_no_data_until_the_next_start_and_never_ready(seed, mean_c, column, gap):
    weather = draw_weather(seed, mean_c)
    weather.columns[column][gap, ::2] = np.nan
    found = calls(weather, seed)
    assert (found.call[4 * gap : 80, ::2] == Call.NO_DATA).all()
    if column != "rain_mm":
        assert (found.call[4 * gap - 4 : 4 * gap, ::2] == Call.NO_DATA).all()
    assert not (found.call[80:] == Call.NO_DATA).any()
    assert not (found.call[:, 1::2] == Call.NO_DATA).any()
    assert not (ready(found) & np.isnan(found.windrow_wb)).any()


@COUPLE
@given(seeds, mean_temperatures_c, rain_shares, st.integers(1, HOURS - 2))
def test_more_rain_never_makes_wet_hay_ready(seed, mean_c, rain_share, hour):
    """Also nowhere where it rained before; a margin for hay that lies just above a limit."""
    weather = draw_weather(seed, mean_c, rain_share)
    rain = weather.columns["rain_mm"] * 1.5
    rain[hour] += np.random.default_rng(seed).exponential(2.0, LANES)
    more = replace(weather, columns={**weather.columns, "rain_mm": rain})
    before, after = calls(weather, seed), calls(more, seed)
    wet = before.call == Call.TOO_WET
    clearly = (before.windrow_wb > SETTING.band.high_wb + RAIN_MARGIN_WB) | (
        before.free_water_mm > 0.02 + RAIN_MARGIN_MM
    )
    clearly |= before.rain_mm_h >= 0.1
    assert (wet & clearly).any()
    assert not (ready(after) & wet & clearly).any()


@FEW
@given(seeds, mean_temperatures_c, rain_shares)
def test_calls_keep_their_order_and_their_limits(seed, mean_c, rain_share):
    weather = draw_weather(seed, mean_c, rain_share)
    found, band = calls(weather, seed), SETTING.band
    dew, rig = found.call == Call.NATURAL_DEW, found.call == Call.ADD_MOISTURE
    for lowest, values, highest in (
        (band.low_wb, found.windrow_wb[dew], band.high_wb),
        (SETTING.baler.soft_share, found.soft_share[dew], 1.0),
        (0.0, found.wet_share[dew | rig], SETTING.baler.wet_share),
        (0.0, found.free_water_mm[dew | rig], 0.02),
        (RIG.rate_min_l_t, found.dose.applied_l_t[rig], RIG.rate_max_l_t),
        (band.low_wb - 1e-9, found.dose.after_wb[rig], band.high_wb + 1e-9),
    ):
        assert ((values >= lowest) & (values <= highest)).all()
    brought = np.isin(found.cause, (Cause.DEW, Cause.HUMID_AIR))
    assert not (dew & ~brought).any()
    assert not ((found.call == Call.READY) & brought).any()
    wet = (found.windrow_wb > band.high_wb) | (found.free_water_mm > 0.02)
    assert (found.call[wet] == Call.TOO_WET).all()


@COUPLE
@given(seeds, mean_temperatures_c)
def test_not_cured_by_the_driest_stem_alone(seed, mean_c):
    """Once cured, no night makes it uncured; the grower's word stands above all stems."""
    weather = draw_weather(seed, mean_c)
    trajectory = follow(weather, seed)
    found = call_quarters(weather, trajectory, UNKNOWN)
    uncured = found.call == Call.NOT_CURED
    assert (uncured[1:] <= uncured[:-1]).all()
    assert (uncured == (found.stem_driest_wb > UNKNOWN.band.stem_limit_wb)).all()
    assert not (call_quarters(weather, trajectory, SETTING).call == Call.NOT_CURED).any()


@COUPLE
@given(seeds, mean_temperatures_c, rain_shares)
def test_the_order_of_lanes_changes_nothing(seed, mean_c, rain_share):
    weather = draw_weather(seed, mean_c, rain_share)
    order = np.random.default_rng(seed).permutation(LANES)
    trajectory = follow(weather, seed)
    found = call_quarters(weather, trajectory, SETTING)
    turned_weather = repeat_weather(weather, order)
    turned = call_quarters(turned_weather, _reordered(trajectory, order), SETTING)
    np.testing.assert_array_equal(turned.call, found.call[:, order])
    np.testing.assert_array_equal(turned.dose.applied_l_t, found.dose.applied_l_t[:, order])
    stopped, turned_stopped = (
        stopped_quarters(each, dangers_of(air), SETTING)
        for each, air in ((found, weather), (turned, turned_weather))
    )
    for place, lane in enumerate(order[:5]):
        start = weather.start[lane]
        one, other = (
            find_windows(start, np.where(stops, -1, each.call)[:, column])
            for each, stops, column in ((found, stopped, lane), (turned, turned_stopped, place))
        )
        assert one == other


def _reordered(trajectory: WindrowTrajectory, order: np.ndarray) -> WindrowTrajectory:
    """The lanes of a run in another order."""
    return trajectory.lanes(order)


@COUPLE
@given(
    seeds,
    mean_temperatures_c,
    st.sampled_from(["Europe/Madrid", "Australia/Adelaide", "Pacific/Chatham", "UTC"]),
)
def test_the_zone_on_display_changes_nothing_in_utc(seed, mean_c, zone):
    """With the same starts; the sun, not the clock, tells the sunset."""
    weather = draw_weather(seed, mean_c)
    trajectory = follow(weather, seed)
    elsewhere = setting_of(rig=SETTING.rig, site=replace(HOME, timezone=zone))
    found, other = (call_quarters(weather, trajectory, each) for each in (SETTING, elsewhere))
    np.testing.assert_array_equal(found.call, other.call)
    np.testing.assert_array_equal(found.cause, other.cause)


moistures = st.floats(2.0, 60.0)


@MANY
@given(moistures, st.floats(0.0, 100.0), st.floats(0.1, 150.0), st.floats(0.2, 1.0), st.data())
def test_water_stays_in_the_rigs_range_and_the_band(moisture, least, range_, efficiency, data):
    low = data.draw(st.floats(8.0, 16.0))
    high = low + data.draw(st.floats(0.1, 6.0))
    target = data.draw(st.floats(low, high))
    rig = replace(RIG, rate_min_l_t=least, rate_max_l_t=least + range_)
    leaf_minimum = data.draw(st.sampled_from([None, 8.0, low]))
    limits = Limits(low, high, target, high, leaf_minimum, 0.6, 0.3)
    lying = hay(moisture, moisture, moisture).every_layer.quarters()
    windrow = np.full((4, 1), moisture)
    found = dose(lying, windrow, windrow < low, rig, limits, np.array(efficiency))
    applied, after = found.applied_l_t[0, 0], found.after_wb[0, 0]
    assert np.isnan(applied) == np.isnan(after)
    if np.isnan(applied):
        if moisture < low:  # nor does any other rate bring it in
            for rate in np.linspace(max(least, 1e-6), least + range_, 23):
                one = lying.cut(slice(0, 1), slice(None))
                kept = np.array([rate * efficiency])
                assert not brought_in(one, windrow[0], kept, Landing.of(rig), limits)[0]
        return
    assert least <= applied <= least + range_
    assert applied > 0
    assert low - 1e-6 <= after <= high + 1e-6
    if least < applied < least + range_:
        assert after >= target - 1e-6
        if leaf_minimum is None:
            assert after <= target + 1e-6


@MANY
@given(moistures, moistures, st.floats(0.0, 0.1), st.floats(0.0, 1.0), st.booleans())
def test_more_free_water_or_rain_never_makes_a_quarter_ready(
    windrow, leaf, free_water, rain, with_rig
):
    setting = setting_of(rig=RIG if with_rig else None)
    drier = calls_of(hay(windrow, leaf), setting)
    wetter = calls_of(hay(windrow, leaf, free_water_mm=free_water), setting, rain_mm=rain)
    assert (wetter.call == drier.call).all() or set(wetter.call.ravel()) == {int(Call.TOO_WET)}


@MANY
@given(st.floats(-30.0, 50.0), st.floats(0.0, 100.0), st.floats(0.0, 60.0))
def test_the_fire_index_rises_with_wind_and_stays_in_its_range(temperature, humidity, wind):
    calm, windy = fosberg_index(temperature, humidity, np.array([wind, wind + 1.0]))
    assert 0.0 <= calm <= windy <= 100.0
