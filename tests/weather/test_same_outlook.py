"""The same rounded values in several layouts give the same outlook; rounding shows its price.

Real hours of north-west Colorado (data/README.md). ``python -m weather.layouts`` in tests/
prints the second table for more nights.
"""

from __future__ import annotations

from functools import cache, partial

import numpy as np
import pytest
from weather.layout_outlooks import (
    HOURS,
    calls,
    differences,
    markdown_table,
    moistures,
    outlook_of,
    read,
)
from weather.layouts import WITHOUT_SUN, WRITERS, Series, real_series, record, rounded

from hayweather.nights import drive

NIGHT = "2017-06-25"
LAYOUTS = [name for name in WRITERS if name not in WITHOUT_SUN]
LARGEST_WB = 0.2
"""Points wet basis that rounding may take off a quarter hour: far below a meter's error of 1."""


@pytest.fixture(autouse=True)
def few_steps(monkeypatch):
    """Four steps an hour: the same for every outlook compared here, and a third of the time."""
    monkeypatch.setattr(drive, "run", partial(drive.run, steps_per_hour=4))


def coarse() -> Series:
    """The night rounded so that every layout can carry it whole."""
    return rounded(real_series(f"{NIGHT}T07:00", HOURS), 0.1, 0.1, 1.0)


@cache
def plain() -> tuple[np.ndarray, np.ndarray]:
    """Moistures and calls of the rounded night through no file."""
    outlook = outlook_of(record(coarse()))
    return moistures(outlook), calls(outlook)


@pytest.mark.parametrize("name", LAYOUTS)
def test_same_rounded_values_same_outlook(tmp_path, name):
    outlook = outlook_of(read(tmp_path, name, coarse()))
    expected, expected_calls = plain()
    assert np.isfinite(expected).all()
    assert np.ptp(expected) > 5
    np.testing.assert_allclose(moistures(outlook), expected, rtol=0, atol=1e-6)
    np.testing.assert_array_equal(calls(outlook), expected_calls)


@pytest.mark.slow
def test_what_a_layout_rounds_off_is_told(tmp_path, capsys):
    found = differences(tmp_path, [NIGHT])
    with capsys.disabled():
        print(f"\nagainst the unrounded hours of {NIGHT}, points wet basis:")
        print(markdown_table(found), end="")
    off = {each.layout: each for each in found}
    assert len(off) == len(WRITERS) + len(WITHOUT_SUN)
    for each in found:
        assert each.typical <= each.largest
        assert each.quarters == 80
    rounding = [each for each in found if not each.layout.endswith("sun missing too")]
    assert all(each.largest < LARGEST_WB for each in rounding)
    assert off["plain_start"].largest > 0
    # What a layout cannot carry at all weighs more than what it rounds.
    for name in WITHOUT_SUN:
        assert off[f"{name}, sun missing too"].largest > off[f"{name}, rounding alone"].largest
