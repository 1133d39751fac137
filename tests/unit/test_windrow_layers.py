"""One step: state in, state and fluxes out, the water accounted for."""

from dataclasses import fields, replace

import numpy as np
import pytest
from support.nights import run_test_night

from hayweather.windrow.column import State, follow_air, step
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import state_of
from hayweather.windrow.skin import Air
from hayweather.windrow.sky import sky_longwave
from hayweather.windrow.vapor import saturation_vapor_pressure

WINDROW = WindrowParameters()
MASS = WINDROW.organ_mass()
STEP_S = 300.0


def air_of(temperature_c=12.0, dew_point_c=8.0, wind_m_s=1.5, sun_w_m2=0.0, rain_mm_h=0.0) -> Air:
    air = np.array([float(temperature_c)])
    vapor = saturation_vapor_pressure(np.array([float(dew_point_c)]))
    wind, pressure, sun, rain = (
        np.array([float(value)]) for value in (wind_m_s, 85.0, sun_w_m2, rain_mm_h)
    )
    return Air.of(air, vapor, wind, pressure, sky_longwave(air, vapor, 0.0), sun, rain)


def hay(moisture_db=0.12, temperature_c=12.0, humidity=0.6, film=0.0) -> State:
    one = np.array([float(temperature_c)])
    state = state_of(np.array([moisture_db]), np.array([moisture_db]), one, np.array([humidity]))
    return replace(state, film_kg_m2=np.array([[film], [0.0], [0.0]]))


def walk(state: State, air: Air, count: int, windrow=WINDROW):
    moved = []
    for _ in range(count):
        state, fluxes = step(state, air, windrow, MASS, STEP_S)
        moved.append(fluxes)
    return state, moved


def total(moved, name: str) -> float:
    return float(sum(getattr(each, name)[0] for each in moved))


@pytest.mark.parametrize(
    "air",
    [
        air_of(),
        air_of(12.0, 11.8, 0.5),
        air_of(30.0, 2.0, 3.0, 800.0),
        air_of(10.0, 9.0, 2.0, 0.0, 4.0),
        air_of(-6.0, -7.0, 0.6),
    ],
    ids=["night", "dewy", "sun", "rain", "frost"],
)
@pytest.mark.parametrize("film", [0.0, 0.05, 3.0])
def test_ledger_closes(air, film):
    state = hay(film=film, temperature_c=float(air.temperature_c[0]))
    for _ in range(20):
        after, moved = step(state, air, WINDROW, MASS, STEP_S)
        net = moved.from_air + moved.from_ground + moved.rain_caught - moved.runoff
        change = after.water(MASS) - state.water(MASS)
        np.testing.assert_allclose(change, net, rtol=0, atol=1e-12)
        state = after


def test_dew_only_below_the_dew_point():
    dewy, dry = air_of(10.0, 9.9, 0.8), air_of(10.0, -5.0, 0.8)
    _, damp = walk(hay(), dewy, 60)
    _, none = walk(hay(), dry, 60)
    assert total(damp, "dew") > 0
    assert total(none, "dew") == 0
    assert damp[-1].skin_humidity > 1
    assert none[-1].skin_humidity < 1


def test_water_distilled_from_a_wet_inside_is_not_dew():
    state = hay(0.12)
    soaked = np.array([[0.0], [0.3], [0.5]])
    wet_inside = replace(state, film_kg_m2=soaked, interior_c=np.array([20.0]))
    slow = replace(WINDROW, interior_time_h=50.0)
    _, moved = walk(wet_inside, air_of(8.0, 3.0, 0.5), 36, slow)
    assert total(moved, "internal") > 0.001
    assert total(moved, "dew") == 0.0


def test_film_dries_off_in_the_sun_and_never_goes_below_nothing():
    state, _ = walk(hay(film=0.2, temperature_c=25.0), air_of(25.0, 5.0, 3.0, 700.0), 48)
    assert (state.film_kg_m2 == 0.0).all()


def test_rain_goes_to_the_top_and_then_down():
    state, moved = walk(hay(), air_of(12.0, 11.5, 2.0, 0.0, 20.0), 12)
    assert total(moved, "rain_caught") == pytest.approx(state.water(MASS)[0] - 0.18, abs=0.15)
    assert state.film_kg_m2[0] > 0
    assert state.film_kg_m2[1] > 0


def test_frost_stays_on_the_surface_and_enters_at_thaw():
    frosty = hay(0.12, -6.0, 0.9, film=0.1)
    cold, _ = walk(frosty, air_of(-6.0, -6.2, 0.6), 24)
    assert cold.skin_c < 0
    assert cold.film_kg_m2[0] > 0.1
    thawed, moved = walk(cold, air_of(8.0, 7.9, 2.0), 24)
    assert thawed.skin_c > 0
    gained = thawed.moisture_db[0, 0] - cold.moisture_db[0, 0]
    taken = (total(moved, "from_air") + 0.1) / MASS[0, 0, 0]
    assert 0.05 < gained < taken


def test_humidity_inside_never_passes_one():
    state = hay(0.5, 12.0, 0.9)
    for air in (air_of(25.0, 24.9, 0.5), air_of(5.0, 4.9, 0.5)):
        state, _ = walk(state, air, 24)
        assert state.humidity.max() <= 1.0


def test_interior_follows_the_air_in_its_time():
    start, air = np.array([20.0]), np.array([10.0])
    assert follow_air(start, air, 1.5, 1.5 * 3600) == pytest.approx(10 + 10 / np.e)
    assert follow_air(start, air, 1.5, 0.0) == 20.0


def test_wet_ground_feeds_the_bottom_and_dry_ground_in_damp_air_hardly():
    wet = replace(WINDROW, ground_resistance_s_m=300.0, ground_humidity=1.0)
    closed = replace(WINDROW, ground_resistance_s_m=1e12)
    _, fed = walk(hay(), air_of(), 24, wet)
    _, alone = walk(hay(), air_of(), 24, closed)
    assert total(fed, "from_ground") > 0.02
    assert abs(total(alone, "from_ground")) < 1e-9


def test_unknown_lane_stays_unknown_and_leaves_the_other_alone():
    state, air = hay(), air_of()
    two = State(*(np.concatenate([getattr(state, f.name)] * 2, axis=-1) for f in fields(State)))
    broken = replace(two, skin_c=np.array([12.0, np.nan]), moisture_db=two.moisture_db.copy())
    broken.moisture_db[..., 1] = np.nan
    wide = Air(*(np.concatenate([getattr(air, item.name)] * 2) for item in fields(Air)))
    after, _ = step(broken, wide, WINDROW, MASS, STEP_S)
    alone, _ = step(state, air, WINDROW, MASS, STEP_S)
    assert np.isnan(after.moisture_db[..., 1]).all()
    np.testing.assert_array_equal(after.moisture_db[..., 0], alone.moisture_db[..., 0])


@pytest.mark.parametrize("passes", [1, 2])
def test_ledger_closes_where_the_settling_passes_run_out(monkeypatch, passes):
    """Rain on warm hay in the sun: films are spent within the step, more than once."""
    monkeypatch.setattr("hayweather.windrow.vapor_flow.SETTLING_PASSES", passes)
    found = run_test_night(rain_mm=0.2, shortwave_w_m2=600.0, air_temperature_c=35.0)
    assert found.ledger_kg_m2.max() <= 1e-9
    assert np.isfinite(found.windrow_wb).all()
    assert (found.free_water_mm >= 0).all()
