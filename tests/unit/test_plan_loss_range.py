"""The range of the loss of leaf, carried to the gain of a plan: arithmetic, no claim on nature."""

import numpy as np
import pytest
from support.fields_farm import case_for, farm_with, field, weather_of

from hayweather.catalog import crop_of
from hayweather.farm.records import Baler, Rig
from hayweather.plan.candidates import choose, gain_range

RIG = Rig("rig", 4000.0, 8.0, 90.0, 60.0, 20.0)


def case_of_loss(**baler):
    farm = farm_with({"a": field("a", 60)}, {"b": Baler("b", capacity_kg_h=18_000.0, **baler)},
                     {"rig": RIG})  # fmt: skip
    return case_for(farm, weather_of(4))


def test_the_ends_are_the_same_work_on_farms_that_lose_so_much():
    """What a farm file with that loss says of the same schedule, found on another way."""
    case = case_of_loss()
    schedule = choose(case, 1.0).schedule
    loss = crop_of("alfalfa").loss
    found = gain_range(case, schedule, schedule.value(case.task))
    for end, level in zip(found, loss.level_range, strict=True):
        other = case_of_loss(leaf_loss=level / loss.level)
        assert end == pytest.approx(float(other.member_gains(schedule).mean()), rel=1e-6)
    assert found[0] != pytest.approx(found[1])


def test_where_the_farm_measured_its_loss_the_ends_are_its_own():
    case = case_of_loss(leaf_loss=1.0, leaf_loss_range=(1.0, 1.0))
    schedule = choose(case, 1.0).schedule
    gain = schedule.value(case.task)
    np.testing.assert_allclose(gain_range(case, schedule, gain), gain, rtol=1e-9)


def test_a_crop_of_unknown_loss_has_no_range():
    farm = farm_with({"a": field("a", 60, crop="grass")}, {"b": Baler("b", capacity_kg_h=18_000.0)},
                     {})  # fmt: skip
    case = case_for(farm, weather_of(4))
    schedule = choose(case, 1.0).schedule
    least, most = gain_range(case, schedule, 100.0)
    assert least == most == pytest.approx(100.0)
