"""The compiled loop against the NumPy step: 1e-9 on every state, flux and final state.

The cases are made up (seeded): what matters is that both loops walk the same way
through rain, frost, gaps, restarts, every crop and every parameter.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.nights import HIGH_PLACE, hourly, weather_of_test_night
from support.seasons import read_season

from hayweather.catalog import CROPS
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.column import State
from hayweather.windrow.forcing import Place
from hayweather.windrow.lanes import stack_states, unknown_state
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import LARGE_RUN, has_compiled_loop, run
from hayweather.windrow.sorption import Sorption
from hayweather.windrow.starts import equilibrium_state, moisture_state
from hayweather.windrow.trajectory import FLUX_NAMES, STATE_NAMES

pytest.importorskip("numba")

AGREE = 1e-9
LANES, HOURS = 45, 16  # more than one tile, the last not full


def both(weather, place=HIGH_PLACE, windrow=None, **how):
    """The same run by both loops; says where they part."""
    parameters = windrow or WindrowParameters()
    found, expected = (
        run(weather, place, parameters, loop=loop, **how) for loop in ("compiled", "numpy")
    )
    for name in (*STATE_NAMES, *FLUX_NAMES):
        same(getattr(found, name), getattr(expected, name), name)
    for name, ours, theirs in zip(State._fields, found.final, expected.final, strict=True):
        same(ours, theirs, name)
    for name in ("leaf_db", "stem_db", "film_db", "temperature_c"):
        single = 1e-5  # kept in single precision
        same(getattr(found.layers, name), getattr(expected.layers, name), name, single)
    np.testing.assert_array_equal(found.started, expected.started)
    assert found.assumed == expected.assumed
    return expected


def same(found, expected, name, within=AGREE):
    np.testing.assert_array_equal(np.isnan(found), np.isnan(expected), err_msg=name)
    np.testing.assert_allclose(
        np.asarray(found, float), np.asarray(expected, float), rtol=0, atol=within, err_msg=name
    )


def starts_of(weather: HourlyWeather, hour: int = 0) -> dict[int, State]:
    """In equilibrium with the air of one hour."""
    columns = weather.columns
    air, dew_point = columns["air_temperature_c"][hour], columns["dew_point_c"][hour]
    return {hour: equilibrium_state(air, dew_point, WindrowParameters())}


def changing(seed: int, low_c: float = -12.0, high_c: float = 40.0) -> HourlyWeather:
    """Hours that swing between frost and heat, dry and soaked, calm and storm."""
    random = np.random.default_rng(seed)
    shape = (HOURS, LANES)
    air = random.uniform(low_c, high_c, LANES) + 10 * np.sin(np.arange(HOURS) / 4)[:, None]
    air = air + random.normal(0, 1.5, shape)
    spread = random.choice([0.0, 0.5, 4.0, 15.0], shape)
    return hourly(
        HOURS,
        LANES,
        air_temperature_c=air,
        dew_point_c=air - spread,
        wind_speed_m_s=random.gamma(1.5, 1.5, shape) * (random.random(shape) < 0.8),
        cloud_fraction=random.random(shape),
        shortwave_w_m2=random.uniform(0, 900, shape) * (random.random(shape) < 0.5),
        rain_mm=random.exponential(4, shape) * (random.random(shape) < 0.15),
    )


def holes(weather: HourlyWeather, seed: int, name: str) -> HourlyWeather:
    """The weather with some values of a column missing."""
    random = np.random.default_rng(seed)
    values = weather.columns[name].copy()
    values[random.random(values.shape) < 0.04] = np.nan
    return replace(weather, columns={**weather.columns, name: values})


def any_windrow(seed: int) -> WindrowParameters:
    """Every parameter drawn, those that may differ by lane for each lane."""
    random = np.random.default_rng(seed)

    def drawn(low, high):
        return random.uniform(low, high, LANES)

    return WindrowParameters(
        dry_matter_kg_m2=drawn(0.5, 4),
        leaf=Sorption(drawn(0.25, 0.6), drawn(0.8, 1.2), drawn(0.8, 1.0)),
        stem=Sorption(drawn(0.25, 0.4), drawn(0.8, 1.2), drawn(0.8, 1.0)),
        leaf_share=0.4, leaf_time_h=drawn(0.1, 1), stem_time_h=drawn(2, 8),
        sky_view=drawn(0.85, 1), albedo=0.22, emissivity=0.95,
        air_resistance_s=drawn(110, 208), night_cap=drawn(1, 3),
        air_resistance_max_s_m=drawn(200, 400), wind_floor_m_s=drawn(0.2, 0.8),
        density_kg_m3=drawn(4, 8), hay_area_m2_kg=drawn(6, 14), clumping=drawn(0.4, 1),
        sun_extinction=drawn(0.5, 0.6), longwave_extinction=drawn(0.7, 1),
        still_mixing_m2_s=drawn(2e-5, 3e-5), wind_mixing=drawn(0.9, 4),
        wind_reach_m=drawn(0.05, 0.2),
        free_mixing=drawn(0, 40), permeability_m2=drawn(3e-6, 1e-4), side_flow_m_s=drawn(0, 0.007),
        soil_contact_w_m2_k=drawn(2, 5), soil_swing=drawn(0.2, 0.6), soil_lag_h=drawn(1, 4),
        soil_memory_h=40.0, soil_offset_k=drawn(-2, 3), heat_capacity_j_kg_k=drawn(1300, 1800),
        ground_resistance_s_m=random.choice([300.0, 600.0, 2000.0], LANES),
        ground_humidity=random.choice([np.nan, 0.9, 1.0], LANES),
        film_leaf_time_h=0.4, film_stem_time_h=9.0, drip_time_h=1.1,
    )  # fmt: skip


def any_place(seed: int) -> Place:
    random = np.random.default_rng(seed)
    return Place(
        random.uniform(-70, 70, LANES), random.uniform(-180, 180, LANES),
        random.uniform(0, 2500, LANES), random.normal(0, 1, LANES), 0.5,
    )  # fmt: skip


def test_on_the_test_night():
    weather = weather_of_test_night()
    first = moisture_state(8.0, 8.0, np.array([28.0]), np.array([7.0]))
    both(weather, starts={0: first})


def later(*values):
    """For the long lane: more of the same kind."""
    return [pytest.param(value, marks=pytest.mark.long) for value in values]


@pytest.mark.parametrize("season", ["JFK 2013", *later("NW Colorado 2017")])
def test_on_real_summers(season):
    given = read_season(season)
    begins = np.zeros((given.weather.hours, given.weather.lanes), dtype=bool)
    begins[[0, 24]] = True
    expected = both(given.weather, given.place, equilibrium_starts=begins)
    assert np.nanmax(expected.dew_mm) > 0.01


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, 1, *later(*range(2, 12))])
def test_on_changing_weather(seed):
    weather = changing(seed)
    expected = both(weather, starts=starts_of(weather))
    assert expected.runoff_mm.max() > 0
    assert (expected.skin_temperature_c < 0).any()
    assert expected.dew_mm.max() > 0


@pytest.mark.slow
@pytest.mark.parametrize("seed", [0, 1, *later(*range(2, 8))])
def test_with_every_parameter_and_place_of_its_own(seed):
    weather = changing(100 + seed)
    both(weather, any_place(seed), any_windrow(seed), starts=starts_of(weather))


@pytest.mark.slow
@pytest.mark.parametrize("crop", CROPS)
def test_with_every_crop(crop):
    leaf, stem = CROPS[crop].leaf, CROPS[crop].stem
    weather = changing(7, low_c=0.0)
    both(weather, windrow=WindrowParameters(leaf=leaf, stem=stem), starts=starts_of(weather))


@pytest.mark.parametrize(
    "name",
    ["rain_mm", *later("air_temperature_c", "dew_point_c", "wind_speed_m_s", "cloud_fraction")],
)
def test_with_gaps_and_new_starts(name):
    weather = holes(changing(11), 12, name)
    may = np.random.default_rng(13).random((HOURS, LANES)) < 0.3
    columns = weather.columns
    # Full hay in just saturated air stands on an edge: the last bit decides if dew begins.
    may &= columns["dew_point_c"] < columns["air_temperature_c"]
    expected = both(weather, equilibrium_starts=may)
    assert expected.started.any()
    assert np.isnan(expected.windrow_db).any()


def test_with_states_given_for_some_lanes_in_some_hours():
    weather = changing(21)
    wet = moisture_state(30.0, 22.0, np.full(LANES, 12.0), np.full(LANES, 8.0))
    half = stack_states([State(*(values[..., :20] for values in wet)), None],
                        [20, LANES - 20])  # fmt: skip
    expected = both(weather, starts={3: half, 9: wet, 15: unknown_state(LANES)})
    assert expected.started[3].sum() == 20
    assert expected.started[9].all()
    assert not expected.started[15].any()


@pytest.mark.long  # each number of layers is compiled for itself
@pytest.mark.parametrize("layers", [3, 9])
def test_with_other_layers(layers):
    weather = changing(29)
    columns = weather.columns
    air, dew_point = columns["air_temperature_c"][0], columns["dew_point_c"][0]
    first = equilibrium_state(air, dew_point, WindrowParameters(), layers)
    both(weather, starts={0: first}, layers=layers)


@pytest.mark.slow
@pytest.mark.parametrize("steps", [8, *later(20, 60)])
def test_with_other_steps(steps):
    weather = changing(31)
    both(weather, starts=starts_of(weather), steps_per_hour=steps)


@pytest.mark.slow
def test_over_a_new_year_in_the_far_north():
    weather = replace(changing(41), start=np.full(LANES, np.datetime64("2023-12-31T09:30", "s")))
    both(weather, Place(68.0, 20.0, 100.0), starts=starts_of(weather))


def test_a_lane_does_not_know_its_neighbors():
    weather = changing(51)
    alone = replace(
        weather,
        start=weather.start[40:41],
        columns={name: values[:, 40:41] for name, values in weather.columns.items()},
        repaired=weather.repaired[:, 40:41],
        basis=weather.basis[:, 40:41],
    )
    together, single = (
        run(each, HIGH_PLACE, WindrowParameters(), starts_of(each), loop="compiled")
        for each in (weather, alone)
    )
    # Not to the last bit: NumPy makes the weather, and rounds a number by its place in the array.
    ours, theirs = together.windrow_db[:, 40], single.windrow_db[:, 0]
    np.testing.assert_allclose(ours, theirs, rtol=1e-12)


def test_threads_change_nothing():
    weather = changing(61)
    one, two = (
        run(weather, HIGH_PLACE, WindrowParameters(), starts_of(weather), loop="compiled",
            threads=threads)
        for threads in (1, 2)
    )  # fmt: skip
    for name in STATE_NAMES:
        np.testing.assert_array_equal(getattr(one, name), getattr(two, name))


@pytest.mark.parametrize("loop", ["compiled", "numpy"])
def test_layers_kept_from_an_hour_on_are_those_of_the_whole_run(loop):
    """With gaps and new starts on both sides of that hour; what went before is refused."""
    weather, first = holes(changing(5), 5, "dew_point_c"), 7
    begins = np.ones((HOURS, LANES), dtype=bool)
    how = {"equilibrium_starts": begins, "loop": loop}
    whole, late = (
        run(weather, HIGH_PLACE, WindrowParameters(), layers_from=hour, **how)
        for hour in (0, first)
    )
    assert np.isnan(whole.leaf_db[4 * first :]).any()
    for name in STATE_NAMES:
        np.testing.assert_array_equal(getattr(late, name), getattr(whole, name))
    expected = whole.between(first, HOURS).every_layer
    for layers in (late.every_layer, late.between(first, HOURS).every_layer):
        np.testing.assert_array_equal(layers.leaf_db, expected.leaf_db)
        np.testing.assert_array_equal(layers.temperature_c, expected.temperature_c)
    with pytest.raises(ValueError, match=f"from hour {first} on"):
        late.between(first - 1, HOURS)


def test_small_runs_stay_with_numpy(monkeypatch):
    assert has_compiled_loop()
    assert HOURS * LANES < LARGE_RUN

    def refuse(*_):
        raise AssertionError("the compiled loop was taken")

    monkeypatch.setattr("hayweather.windrow.compiled.follow_lanes", refuse)
    weather = changing(71)
    run(weather, HIGH_PLACE, WindrowParameters(), starts_of(weather))
    monkeypatch.setattr("hayweather.windrow.run.LARGE_RUN", HOURS * LANES)
    with pytest.raises(AssertionError, match="was taken"):
        run(weather, HIGH_PLACE, WindrowParameters(), starts_of(weather))
