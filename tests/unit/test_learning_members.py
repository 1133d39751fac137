"""Whole outlooks with readings: the same bytes again, whatever the order of forecast runs."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.fields import CURED, EVENING, days, farm_of

from hayweather.nights import night_of
from hayweather.show.outlook_data import outlook_json
from hayweather.weather.record import HOUR
from hayweather.windrow.readings import Reading

FARM = farm_of(CURED)
DAMPER_K = (0.0, -3.0, -1.0, 1.0, 2.5)
READINGS = {"north": [Reading(EVENING - 2 * HOUR, 8.2), Reading(EVENING, 10.5)]}


def runs(order):
    """A forecast and four runs, one damper than the other, in some order."""
    middle = days(36)
    lanes = [0, *order]
    columns = {name: np.repeat(values, 5, axis=1) for name, values in middle.columns.items()}
    columns["dew_point_c"] = columns["dew_point_c"] + np.array(DAMPER_K)[lanes]
    repaired = np.zeros((36, 5), dtype=bool)
    basis = np.repeat(middle.basis, 5, axis=1)
    start = np.repeat(middle.start, 5)
    return replace(middle, start=start, columns=columns, repaired=repaired, basis=basis)


def written(order, read):
    readings = READINGS if read else None
    made = night_of(FARM, {"home": runs(order)}, EVENING, readings=readings, members=8)
    return outlook_json(made, "us")


first_written = cache(written)


@pytest.fixture(autouse=True)
def _few_fresh_ones(monkeypatch):
    monkeypatch.setattr("hayweather.nights.drive.MOST_MEMBERS", 32)


@pytest.mark.parametrize("read", [False, True], ids=["plain", "read"])
def test_same_bytes_again_and_in_another_order(read):
    first = first_written((1, 2, 3, 4), read)
    assert written((1, 2, 3, 4), read) == first
    assert written((3, 1, 4, 2), read) == first


def test_readings_change_the_outlook():
    assert first_written((1, 2, 3, 4), True) != first_written((1, 2, 3, 4), False)
