"""What holds in a field: band, rig, windrow and ground, with the farm's tuning applied."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import BALER, CURED, EVENING, HOME, RIG, farm_of, setting_of

from hayweather.baling.setting import dial_step_l_t, ground_at, setting_for
from hayweather.farm.bands import band_for
from hayweather.farm.records import Baler, Tuning
from hayweather.windrow.parameters import GROUND_RESISTANCE_S_M
from hayweather.windrow.sorption import ALFALFA_LEAF, GRASS

DAY = np.timedelta64(1, "D")


def test_no_rig_is_no_rig():
    assert setting_of(rig=None).rig is None
    assert setting_for(farm_of(rigs=None), CURED, HOME, EVENING).rig is None


def test_the_first_baler_and_rig_work():
    second = {"a": BALER, "b": Baler("b", "round")}
    rigs = {"one": RIG, "two": replace(RIG, tank_l=1.0)}
    found = setting_for(farm_of(balers=second, rigs=rigs), CURED, HOME, EVENING)
    assert found.baler is BALER
    assert found.rig == replace(RIG, rate_step_l_t=dial_step_l_t(RIG, "us"))
    assert found.target_wb == 13.0


def test_target_of_the_rig():
    assert setting_of(rig=replace(RIG, target_wb=14.0)).target_wb == 14.0


def test_tuning_reaches_rig_windrow_and_dew_point():
    tuning = Tuning(1.2, 0.95, 0.5, 1.1, 0.9, rig_efficiency=0.7)
    site = replace(HOME, dew_point_offset_k=1.0, clear_night_air_offset_k=-2.0)
    found = setting_for(farm_of(tuning=tuning), CURED, site, EVENING)
    assert found.rig.efficiency == 0.7
    assert found.windrow.dry_matter_kg_m2 == pytest.approx(1.5 * 1.2)
    assert found.windrow.sky_view == 0.95
    assert found.windrow.leaf.amount == pytest.approx(1.1)
    assert found.windrow.stem.amount == pytest.approx(0.9)
    assert found.place.dew_point_offset_k == 1.5
    assert found.place.clear_night_air_offset_k == -2.0


def test_without_tuning_the_crops_own_curves_hold():
    assert setting_of().windrow.leaf == ALFALFA_LEAF
    grass = setting_of(replace(CURED, crop="grass"))
    assert grass.windrow.leaf == grass.windrow.stem == GRASS
    assert grass.band.leaf_minimum_wb is None


def test_an_unconditioned_stem_is_twice_as_slow():
    assert setting_of().windrow.stem_time_h == 4.0
    assert setting_of(replace(CURED, conditioned=False)).windrow.stem_time_h == 8.0


@pytest.mark.parametrize(
    ("days", "ground"),
    [(0, "wet"), (2.99, "wet"), (3, "damp"), (5.99, "damp"), (6, "dry"), (40, "dry")],
)
def test_irrigated_ground_dries_one_class_in_three_days(days, ground):
    """Assumed; see the design."""
    field = replace(CURED, irrigated_at=EVENING - np.timedelta64(round(86400 * days), "s"))
    assert ground_at(field, HOME, EVENING) == ground


@pytest.mark.parametrize(
    ("said", "days", "ground"),
    [("wet", 30, "wet"), ("damp", 0, "wet"), ("damp", 30, "damp"), ("dry", 4, "damp")],
)
def test_of_what_is_said_and_what_irrigation_makes_the_wetter_holds(said, days, ground):
    field = replace(CURED, ground=said, irrigated_at=EVENING - days * DAY)
    assert ground_at(field, HOME, EVENING) == ground


def test_ground_before_irrigation_and_without_is_as_said():
    assert ground_at(replace(CURED, irrigated_at=EVENING + DAY), HOME, EVENING) == "dry"
    assert ground_at(CURED, replace(HOME, ground="damp"), EVENING) == "damp"
    assert ground_at(replace(CURED, ground="dry"), replace(HOME, ground="wet"), EVENING) == "dry"


@pytest.mark.parametrize("ground", ["dry", "damp", "wet"])
def test_ground_reaches_the_windrow(ground):
    windrow = setting_of(replace(CURED, ground=ground)).windrow
    assert windrow.ground_resistance_s_m == GROUND_RESISTANCE_S_M[ground]
    assert np.isnan(windrow.ground_humidity) == (ground == "dry")


def test_a_site_without_elevation_lies_at_the_sea():
    assert setting_of(site=replace(HOME, elevation_m=None)).place.elevation_m == 0.0


def test_band_is_that_of_the_baler_in_this_field():
    field = replace(CURED, crop="alfalfa-grass")
    assert setting_of(field).band == band_for(BALER, field)
