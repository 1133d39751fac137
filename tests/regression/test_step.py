"""Twelve steps an hour where it is wet and four where it is dry against sixty: within 0.3 point wb.

On the test night everywhere, and at the 99th percentile of hours over real
summers, nights as lanes of 48 hours from 14:00 local in equilibrium, with rain
where the source has it.
"""

import numpy as np
import pytest
from support.nights import run_test_night
from support.seasons import default_run, read_season, run_season

from hayweather.windrow.parameters import WindrowParameters

FINE_STEPS = 60
ALLOWED_WB = 0.3


def test_step_on_the_test_night():
    coarse, fine = run_test_night(), run_test_night(steps=FINE_STEPS)
    assert np.abs(coarse.windrow_wb - fine.windrow_wb).max() < ALLOWED_WB


@pytest.mark.parametrize(
    "season",
    [
        "NW Colorado 2017",
        *(pytest.param(s, marks=pytest.mark.slow) for s in ("NW Colorado 2023", "JFK 2013")),
    ],
)
def test_step_over_a_summer(season):
    fine = run_season(read_season(season), WindrowParameters(), FINE_STEPS)
    difference = np.abs(default_run(season).windrow_wb[::4] - fine.windrow_wb[::4])
    assert np.isfinite(difference).mean() > 0.9
    assert np.nanpercentile(difference, 99) < ALLOWED_WB


def test_rain_is_on_in_the_humid_summer():
    assert np.nansum(default_run("JFK 2013").rain_caught_mm) > 100
