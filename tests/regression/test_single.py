"""Single precision, in which nights of past years are run, against double: no call moves.

Real summers, nights as lanes of 48 hours; by either loop. A state is what the windrow
and its leaf say of 12, 18 and 24 % wet basis at a quarter hour.
"""

import numpy as np
import pytest
from support.seasons import NIGHT, known_nights, read_season

from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import has_compiled_loop, run

LEVELS_WB = (12.0, 18.0, 24.0)
SUMMERS = ("NW Colorado 2017", "NW Colorado 2023", "JFK 2013", "Granada", "Tucson")


def run_in(season, loop, single):
    begins = np.zeros((season.weather.hours, season.weather.lanes), dtype=bool)
    begins[0] = True
    return run(
        season.weather, season.place, WindrowParameters(), equilibrium_starts=begins,
        loop=loop, single=single,
    )  # fmt: skip


def states_of(trajectory):
    rows = slice(4 * NIGHT.start, 4 * NIGHT.stop)
    moistures = (trajectory.windrow_wb[rows], trajectory.leaf_wb[rows])
    return np.stack([moisture >= level for moisture in moistures for level in LEVELS_WB])


@pytest.mark.parametrize("loop", ["numpy", pytest.param("compiled", marks=pytest.mark.slow)])
@pytest.mark.parametrize(
    "name", [SUMMERS[0], *(pytest.param(name, marks=pytest.mark.slow) for name in SUMMERS[1:])]
)
def test_a_summer(name, loop):
    if loop == "compiled" and not has_compiled_loop():
        pytest.skip("needs the extra fast")
    double, single = (run_in(read_season(name), loop, narrow) for narrow in (False, True))
    np.testing.assert_array_equal(np.isnan(single.windrow_wb), np.isnan(double.windrow_wb))
    apart = np.abs(single.windrow_wb - double.windrow_wb)
    assert np.nanmax(apart) < 0.017
    assert np.nanpercentile(apart, 99.9) < 0.001
    known = known_nights(name)
    moved = (states_of(single) != states_of(double))[..., known]
    assert moved.mean() < 1e-4


@pytest.mark.slow
def test_both_loops_in_single_precision():
    """Apart from each other no further than from double."""
    numpy, compiled = (
        run_in(read_season("JFK 2013"), loop, single=True) for loop in ("numpy", "compiled")
    )
    apart = np.abs(numpy.windrow_wb - compiled.windrow_wb)
    assert np.nanmax(apart) < 0.017


def test_water_is_kept_to_single_precision():
    """What rounding takes from the ledger in any step [kg/m2], of one to ten of water."""
    ran = run_in(read_season("JFK 2013"), "numpy", single=True)
    assert 0 < np.nanmax(ran.ledger_kg_m2) < 1e-5
