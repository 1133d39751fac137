"""One step of the column: state in, state and fluxes out, water and energy accounted for."""

from dataclasses import replace

import numpy as np
import pytest
from support.nights import run_test_night

from hayweather.windrow.column import (
    Column,
    State,
    column_of,
    layer_shares,
    organ_mass,
    overturning_asked,
    skin_temperature,
    step,
)
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import Air, air_resistance, stability_factor
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4, sky_longwave
from hayweather.windrow.starts import state_of
from hayweather.windrow.vapor import KELVIN, saturation_vapor_pressure

WINDROW = WindrowParameters()
MASS = organ_mass(WINDROW)
COLUMN = column_of(WINDROW)
STEP_S = 300.0


def air_of(
    temperature_c=12.0, dew_point_c=8.0, wind_m_s=1.5, sun_w_m2=0.0, rain_mm_h=0.0, soil_c=None,
    cloud=0.0,
) -> Air:  # fmt: skip
    air = np.array([float(temperature_c)])
    vapor = saturation_vapor_pressure(np.array([float(dew_point_c)]))
    wind, pressure, sun, rain, soil = (
        np.array([float(value)])
        for value in (
            wind_m_s, 85.0, sun_w_m2, rain_mm_h, temperature_c if soil_c is None else soil_c,
        )
    )  # fmt: skip
    return Air.of(air, vapor, wind, pressure, sky_longwave(air, vapor, cloud), sun, rain, soil)


def hay(moisture_db=0.12, temperature_c=12.0, humidity=0.6, film=0.0) -> State:
    one = np.array([float(temperature_c)])
    state = state_of(np.array([moisture_db]), np.array([moisture_db]), one, np.array([humidity]))
    state.film_kg_m2[0] = film
    return state


def walk(state: State, air: Air, count: int, column: Column = COLUMN):
    moved = []
    for _ in range(count):
        state, fluxes = step(state, air, column, STEP_S)
        moved.append(fluxes)
    return state, moved


def total(moved, name: str) -> float:
    return float(sum(getattr(each, name)[0] for each in moved))


@pytest.mark.parametrize("layers", [3, 4, 6, 13])
def test_layers_add_up_and_lie_in_one_part_each(layers):
    shares = layer_shares(layers)
    assert shares.sum() == pytest.approx(1.0)
    ends = np.cumsum(shares)
    for edge in (0.15, 0.5):
        assert np.isclose(ends, edge).any()
    column = column_of(WINDROW, layers)
    assert column.organ_mass.sum() == pytest.approx(1.5)
    assert column.sky.sum() == pytest.approx(1.0)
    assert 0.99 < column.sun.sum() <= 1.0


def test_fewer_layers_than_parts_are_refused():
    with pytest.raises(ValueError, match="at least 3"):
        layer_shares(2)


@pytest.mark.parametrize(
    "air",
    [
        air_of(),
        air_of(12.0, 11.8, 0.5),
        air_of(30.0, 2.0, 3.0, 800.0),
        air_of(30.0, 2.0, 0.3, 1000.0, soil_c=25.0),
        air_of(10.0, 9.0, 2.0, 0.0, 4.0),
        air_of(-6.0, -7.0, 0.6, soil_c=3.0),
    ],
    ids=["night", "dewy", "sun", "calm sun", "rain", "frost"],
)
@pytest.mark.parametrize("film", [0.0, 0.05, 3.0])
def test_both_ledgers_close(air, film):
    """Water counted from the states themselves; energy from what crosses the edges."""
    state = hay(film=film, temperature_c=float(air.temperature_c[0]))
    for _ in range(20):
        after, moved = step(state, air, COLUMN, STEP_S)
        net = moved.from_air + moved.from_ground + moved.rain_caught - moved.runoff
        change = after.water(MASS) - state.water(MASS)
        np.testing.assert_allclose(change, net, rtol=0, atol=1e-12)
        assert moved.water_error[0] < 1e-12
        assert moved.energy_error[0] < 1e-9
        state = after


def test_energy_of_a_night_by_hand():
    """Dry, closed, still: what the sky takes is what the hay's cooling gives."""
    windrow = replace(
        WINDROW, ground_resistance_s_m=1e15, soil_contact_w_m2_k=1e-9, side_flow_m_s=0.0,
        air_resistance_s=1e9, air_resistance_max_s_m=1e9, leaf_time_h=1e9, stem_time_h=1e9,
    )  # fmt: skip
    column, air = column_of(windrow), air_of(15.0, -10.0)
    state = hay(0.1, 15.0, 0.5)
    lost, first = 0.0, state
    for _ in range(36):
        skin = skin_temperature(state.temperature_c, column.sky) + KELVIN
        seen = windrow.emissivity * windrow.sky_view
        state, _ = step(state, air, column, 10.0)
        later = skin_temperature(state.temperature_c, column.sky) + KELVIN
        emitted = STEFAN_BOLTZMANN_W_M2_K4 * (skin**4 + later**4) / 2
        lost += float((seen * (emitted - air.longwave_w_m2) * 10.0)[0])
    capacity = (1500.0 + 4186.0 * 0.1) * column.layer_mass
    given = float((capacity * (first.temperature_c - state.temperature_c)).sum())
    assert lost == pytest.approx(given, rel=0.03)


def test_the_sky_sees_all_layers_of_one_temperature_as_that():
    assert skin_temperature(np.full((6, 1), 7.0), COLUMN.sky) == pytest.approx(7.0)


def test_long_wave_passes_as_in_the_two_stream_equations():
    """A deep column between two temperatures: flux 2 x 4 sigma T^3 dT/dtau, as the limit has it."""
    windrow = replace(
        WINDROW, dry_matter_kg_m2=6.0, still_mixing_m2_s=1e-12, side_flow_m_s=0.0, sky_view=1.0,
        wind_mixing=0.0, free_mixing=0.0, soil_contact_w_m2_k=1e4, ground_resistance_s_m=1e15,
        air_resistance_s=1e9, air_resistance_max_s_m=1e9, leaf_time_h=1e9, stem_time_h=1e9,
    )  # fmt: skip
    column = column_of(windrow, 30)
    air = air_of(15.0, 5.0, soil_c=25.0)
    state = State(*(values * 1 for values in state_of(
        np.array([0.1]), np.array([0.1]), np.array([15.0]), np.array([0.5]), 30)))  # fmt: skip
    for _ in range(2000):
        before = state.temperature_c
        state, _ = step(state, air, column, 600.0)
        if np.abs(state.temperature_c - before).max() < 1e-9:
            break
    t = state.temperature_c[:, 0]
    thick = 6.0 * 11.0 * 0.6 * 0.85
    middles = np.cumsum(column.shares) - column.shares / 2
    gradient = np.diff(t) / np.diff(middles) / thick
    flux = 2 * 0.97 * 4 * STEFAN_BOLTZMANN_W_M2_K4 * (15.0 + KELVIN) ** 3 * gradient
    inside = flux[15:]
    np.testing.assert_allclose(inside, inside.mean(), rtol=1e-3)
    seen = 0.97 * (STEFAN_BOLTZMANN_W_M2_K4 * (t + KELVIN) ** 4 * column.sky[:, 0]).sum()
    assert inside.mean() == pytest.approx(seen - 0.97 * air.longwave_w_m2[0], rel=0.02)


def test_dew_only_below_the_dew_point():
    dewy, dry = air_of(10.0, 9.9, 0.8), air_of(10.0, -5.0, 0.8)
    _, damp = walk(hay(), dewy, 60)
    _, none = walk(hay(), dry, 60)
    assert total(damp, "dew") > 0
    assert total(none, "dew") == 0
    assert damp[-1].skin_humidity > 1
    assert none[-1].skin_humidity < 1


def test_water_distilled_from_a_wet_inside_is_not_dew():
    state = hay(0.12, 8.0)
    state.film_kg_m2[0], state.film_kg_m2[1:] = 0.02, 0.3
    state.temperature_c[1:] = 25.0
    _, moved = walk(state, air_of(8.0, 2.5, 0.5, soil_c=30.0), 36)
    assert total(moved, "internal") > 0.001
    assert total(moved, "dew") == 0.0


def test_film_dries_off_in_the_sun_and_never_goes_below_nothing():
    state, _ = walk(hay(film=0.2, temperature_c=25.0), air_of(25.0, 5.0, 3.0, 700.0), 48)
    assert (state.film_kg_m2 == 0.0).all()


def test_rain_goes_to_the_top_and_then_down():
    state, moved = walk(hay(), air_of(12.0, 11.5, 2.0, 0.0, 20.0), 12)
    kept = total(moved, "rain_caught") - total(moved, "runoff")
    assert kept == pytest.approx(state.water(MASS)[0] - 0.18, abs=0.15)
    assert (state.film_kg_m2[:3] > 0).all()


def test_frost_stays_on_the_surface_and_enters_at_thaw():
    frosty = hay(0.12, -6.0, 0.9, film=0.1)
    cold, _ = walk(frosty, air_of(-6.0, -6.2, 0.6), 24)
    assert cold.temperature_c[0] < 0
    assert cold.film_kg_m2.sum() > 0.09
    thawed, moved = walk(cold, air_of(8.0, 7.9, 2.0), 24)
    assert thawed.temperature_c[0] > 0
    gained = thawed.moisture_db[0, 0] - cold.moisture_db[0, 0]
    assert 0.05 < gained < (total(moved, "from_air") + 0.1) / MASS[0, 0, 0]


def test_humidity_inside_stays_between_nothing_and_one():
    state = hay(0.5, 12.0, 0.9)
    for air in (air_of(25.0, 24.9, 0.5), air_of(5.0, 4.9, 0.5), air_of(35.0, -5.0, 0.5, 1000.0)):
        state, _ = walk(state, air, 24)
        assert state.humidity.max() <= 1.0
        assert state.humidity.min() >= 0.0


def test_free_convection_is_judged_for_the_column():
    """It acts as deep as the hay below is warmer than the coldest layer above, not by neighbors."""
    night = np.array([[8.0], [7.0], [7.5], [9.0], [10.0], [11.0]])
    asked = overturning_asked(night, COLUMN)
    assert (asked[1:5] > 1).all()
    assert asked[5] == 0
    day = np.array([[40.0], [38.0], [35.0], [31.0], [28.0], [25.0]])
    assert (overturning_asked(day, COLUMN) == 0).all()
    assert overturning_asked(night + 0 * night, COLUMN).max() <= WINDROW.free_mixing


def test_it_grows_with_the_temperature_difference_up_to_its_most():
    rows = np.linspace(0, 1, 6)[:, None]
    found = [overturning_asked(10 + k * rows, COLUMN).max() for k in (0.1, 1.0, 3.0, 30.0)]
    assert found[0] == 0
    assert found[1] < found[2]
    assert found[3] == WINDROW.free_mixing


def test_mixing_feeds_the_inside_by_night():
    shut = column_of(replace(WINDROW, free_mixing=0.0))
    damp = air_of(10.0, 8.0, 1.0, soil_c=15.0)
    still, turned = (walk(hay(0.08, 12.0), damp, 30, column)[0] for column in (shut, COLUMN))
    assert turned.moisture_db[0, 4] > still.moisture_db[0, 4] + 0.01
    assert turned.moisture_db[0, 0] < still.moisture_db[0, 0]


def test_soil_warms_the_bottom_by_night_and_cools_it_by_day():
    night, _ = walk(hay(), air_of(12.0, 5.0, soil_c=17.0), 48)
    day, _ = walk(hay(0.1, 25.0, 0.3), air_of(28.0, 5.0, 2.0, 800.0, soil_c=20.0), 48)
    assert night.temperature_c[-1] > night.temperature_c[0] + 1
    assert day.temperature_c[-1] < day.temperature_c.max() - 5


def test_wet_ground_feeds_the_bottom_and_closed_ground_does_not():
    wet = replace(WINDROW, ground_resistance_s_m=300.0, ground_humidity=1.0)
    closed = replace(WINDROW, ground_resistance_s_m=1e12)
    warm = air_of(soil_c=18.0)
    _, fed = walk(hay(), warm, 24, column_of(wet))
    _, alone = walk(hay(), warm, 24, column_of(closed))
    assert total(fed, "from_ground") > 0.02
    assert abs(total(alone, "from_ground")) < 1e-9


def test_open_sides_bring_damp_air_in():
    open_, shut = (
        walk(hay(0.08), air_of(12.0, 11.5, 2.0), 48, column_of(replace(WINDROW, side_flow_m_s=s)))[
            0
        ]
        for s in (0.007, 0.0)
    )
    assert open_.moisture_db[0, 4] > shut.moisture_db[0, 4] + 0.005


def test_a_start_in_the_sun_makes_no_dew_and_no_leap():
    """Neutral air over hay at air temperature, 1000 W/m2: the linear step alone overshoots 20 K."""
    air = air_of(20.7, -4.7, 0.55, 1011.0)
    state, before = hay(0.05, 20.7, 0.2), None
    for number in range(24):
        after, moved = step(state, air, COLUMN, STEP_S)
        assert moved.dew[0] == 0.0
        assert moved.skin_humidity[0] > 0
        if number > 0:
            assert np.abs(after.temperature_c - state.temperature_c).max() < 15
        before, state = after.temperature_c, after
    assert before.max() < 75


def test_unknown_lane_stays_unknown_and_leaves_the_other_alone():
    state, air = hay(), air_of()
    two = State(*(np.concatenate([values] * 2, axis=-1) for values in state))
    for values in two:
        values[..., 1] = np.nan
    wide = Air(*(np.concatenate([values] * 2) for values in air))
    after, _ = step(two, wide, COLUMN, STEP_S)
    alone, _ = step(state, air, COLUMN, STEP_S)
    assert np.isnan(after.moisture_db[..., 1]).all()
    np.testing.assert_array_equal(after.moisture_db[..., 0], alone.moisture_db[..., 0])


@pytest.mark.parametrize("passes", [1, 2])
def test_ledger_closes_where_the_settling_passes_run_out(monkeypatch, passes):
    """Rain on warm hay in the sun: films are spent within the step, more than once."""
    monkeypatch.setattr("hayweather.windrow.column.SETTLING_PASSES", passes)
    found = run_test_night(rain_mm=0.2, shortwave_w_m2=600.0, air_temperature_c=35.0)
    assert found.ledger_kg_m2.max() <= 1e-9
    assert np.isfinite(found.windrow_wb).all()
    assert (found.free_water_mm >= 0).all()


def test_stability_factor_regimes():
    factor = stability_factor(np.array([0.0, 0.04, 0.15, -0.1]), np.array(2.0))
    assert factor[0] == pytest.approx(1.0)
    assert factor[1] == pytest.approx(0.8**-2)
    assert factor[2] == 2.0
    assert factor[3] == pytest.approx(2.6**-0.5)


def test_air_resistance_has_its_floor_of_wind_and_its_ceiling():
    def resistance(wind, skin=15.0, most=300.0):
        return air_resistance(*(np.array([v]) for v in (15.0, wind, skin, 143.0, 2.0, most, 0.5)))[
            0
        ]

    assert resistance(0.0) == resistance(0.5) == pytest.approx(143 / 0.5)
    assert resistance(0.5, 5.0) == 300.0
    assert resistance(0.5, 5.0, 1e9) == pytest.approx(572.0)
