"""The loop over hours: starts, unknown lanes, what the trajectory holds."""

import numpy as np
import pytest
from support.nights import HIGH_PLACE, hourly, run_from, run_test_night

from hayweather.catalog import CROPS
from hayweather.windrow.column import column_of, layer_shares, organ_mass, skin_temperature
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.sorption import dry_basis, equilibrium_moisture, wet_basis
from hayweather.windrow.starts import equilibrium_state, moisture_state
from hayweather.windrow.trajectory import (
    FLUX_NAMES,
    STATE_NAMES,
    Layers,
    share_above,
    soft_share,
    wet_share,
)
from hayweather.windrow.vapor import saturation_vapor_pressure

WINDROW = WindrowParameters()


def test_trajectory_has_quarter_hours_and_hours():
    found = run_from(hourly(6, lanes=2))
    assert found.hours == 6
    for name in STATE_NAMES:
        assert getattr(found, name).shape == (25, 2)
    for name in FLUX_NAMES:
        assert getattr(found, name).shape == (6, 2)
    times = found.times()
    assert times[0, 0] == found.start[0]
    assert times[-1, 0] - times[0, 0] == np.timedelta64(6 * 3600, "s")


def test_without_a_start_nothing_is_known():
    found = run(hourly(4), HIGH_PLACE, WINDROW)
    assert np.isnan(found.windrow_db).all()
    assert np.isnan(found.from_air_mm).all()
    assert not found.started.any()


def test_given_moisture_is_the_first_state():
    found = run_from(hourly(3), leaf_wb=9.0, stem_wb=15.0)
    assert found.leaf_wb[0, 0] == pytest.approx(9.0)
    assert found.stem_wb[0, 0] == pytest.approx(15.0)
    share = WINDROW.leaf_share
    whole = share * 9 / 91 + (1 - share) * 15 / 85
    assert found.windrow_db[0, 0] == pytest.approx(whole)
    assert found.started[0, 0]


def test_equilibrium_start_is_on_the_drying_branch():
    air, dew_point = np.array([25.0]), np.array([8.0])
    state = equilibrium_state(air, dew_point, WINDROW)
    humidity = saturation_vapor_pressure(8.0) / saturation_vapor_pressure(25.0)
    assert state.moisture_db[0, :, 0] == pytest.approx(
        equilibrium_moisture(humidity, 25.0, WINDROW.leaf)
    )
    assert (state.film_kg_m2 == 0).all()


def test_equilibrium_in_steady_overcast_air_stays():
    """The sky then takes little, and hay in balance with its air hardly moves."""
    weather = hourly(6, air_temperature_c=20.0, dew_point_c=8.0, cloud_fraction=1.0)
    begins = np.zeros((6, 1), dtype=bool)
    begins[0] = True
    found = run(weather, HIGH_PLACE, WINDROW, equilibrium_starts=begins)
    assert np.abs(found.windrow_wb - found.windrow_wb[0]).max() < 1.0


def test_equilibrium_start_waits_for_known_air_and_for_an_unknown_lane():
    weather = hourly(6, lanes=2)
    weather.columns["dew_point_c"][0:2, 1] = np.nan
    always = np.ones((6, 2), dtype=bool)
    found = run(weather, HIGH_PLACE, WINDROW, equilibrium_starts=always)
    assert found.started[:, 0].tolist() == [True] + [False] * 5
    assert found.started[:, 1].tolist() == [False, False, True, False, False, False]


def test_a_given_state_goes_before_equilibrium():
    weather = hourly(4)
    air, dew_point = (weather.columns[name][0] for name in ("air_temperature_c", "dew_point_c"))
    given = {0: moisture_state(30.0, 30.0, air, dew_point)}
    found = run(weather, HIGH_PLACE, WINDROW, given, np.ones((4, 1), dtype=bool))
    assert found.windrow_wb[0, 0] == pytest.approx(30.0)


def test_fluxes_add_up_to_the_change_of_the_windrow():
    found = run_test_night()
    mass = WINDROW.dry_matter_kg_m2
    change = mass * (found.windrow_db[-1] - found.windrow_db[0])
    moved = found.from_air_mm + found.from_ground_mm + found.rain_caught_mm - found.runoff_mm
    assert moved.sum(axis=0) == pytest.approx(change, abs=1e-9)


def test_final_state_is_the_last_boundary():
    found = run_test_night()
    skin = skin_temperature(found.final.temperature_c, column_of(WINDROW).sky)
    assert skin == pytest.approx(found.skin_temperature_c[-1])
    assert found.final.water(organ_mass(WINDROW)) == pytest.approx(
        found.windrow_db[-1] * WINDROW.dry_matter_kg_m2
    )


def test_cut_out_hours_keep_both_ends():
    found = run_test_night()
    cut = found.between(3, 7)
    assert cut.hours == 4
    np.testing.assert_array_equal(cut.windrow_db, found.windrow_db[12:29])
    assert cut.start[0] - found.start[0] == np.timedelta64(3 * 3600, "s")


@pytest.mark.parametrize("crop", CROPS.values(), ids=lambda crop: crop.name)
def test_every_crop_takes_up_water_at_night(crop):
    windrow = WindrowParameters(leaf=crop.leaf, stem=crop.stem, leaf_share=crop.leaf_share)
    found = run_from(hourly(10, air_temperature_c=12.0, dew_point_c=9.0), windrow=windrow)
    assert found.windrow_wb[-1, 0] > found.windrow_wb[0, 0] + 1.0


def test_masses_of_layers_and_organs_add_up():
    mass = organ_mass(WindrowParameters(dry_matter_kg_m2=np.array([1.5, 3.0])))
    assert mass.sum(axis=(0, 1)) == pytest.approx([1.5, 3.0])
    assert mass[0].sum(axis=0) == pytest.approx(0.47 * np.array([1.5, 3.0]))


def test_named_parts_add_up_to_the_whole():
    found = run_test_night()
    for kind, whole in (("leaf", found.leaf_db), ("windrow", found.windrow_db)):
        parts = sum(
            share * dry_basis(found.layer_wb(part, kind))
            for part, share in (("top", 0.15), ("middle", 0.35), ("bottom", 0.5))
        )
        np.testing.assert_allclose(parts, whole, rtol=1e-6)


def test_layers_may_be_left_out_and_then_say_so():
    weather = hourly(3)
    found = run(weather, HIGH_PLACE, WINDROW, None, np.ones((3, 1), dtype=bool), keep_layers=False)
    assert found.layers is None
    assert np.isfinite(found.between(1, 2).windrow_db).all()
    with pytest.raises(ValueError, match="keep_layers=True"):
        found.layer_wb("top")


def profile(*wb: float) -> Layers:
    """Six layers of these leaf moistures, nothing else in them."""
    leaf = dry_basis(np.array(wb))[None, :, None].astype(np.float32)
    return Layers(layer_shares(), np.ones(1), leaf, leaf, 0 * leaf, 0 * leaf)


def test_share_above_is_that_of_a_straight_profile():
    """Straight from 30 % on top to 10 % at the ground: half of it lies above 20 %."""
    layers = profile(*(30 - 20 * (np.cumsum(layer_shares()) - layer_shares() / 2)))
    values = wet_basis(layers.leaf_db)
    for limit, share in ((20.0, 0.5), (25.0, 0.25), (12.0, 0.9), (9.0, 1.0), (31.0, 0.0)):
        assert share_above(layers, values, limit)[0, 0] == pytest.approx(share, abs=1e-5)


def test_shares_do_not_jump_as_the_hay_gets_moist():
    found = run_test_night()
    for limits, of in ((np.arange(8, 20, 0.05), soft_share), (np.arange(8, 20, 0.05), wet_share)):
        shares = np.stack([of(found.every_layer, limit)[44, 0] for limit in limits])
        assert (np.diff(shares) <= 1e-9).all()
        assert np.abs(np.diff(shares)).max() < 0.05
    assert np.isnan(share_above(profile(*[np.nan] * 6), profile(*[np.nan] * 6).leaf_db, 1.0)).all()
