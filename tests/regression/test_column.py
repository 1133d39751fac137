"""How many layers: a quarter hour of twenty layers at every call, over real summers.

What a call hangs on is when the windrow passes 12 and 16 %, and the leaf of each part.
"""

import numpy as np
import pytest
from support.seasons import read_season

from hayweather.windrow.column import LAYERS
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.starts import FINE_STEPS
from hayweather.windrow.trajectory import WindrowTrajectory, soft_share, wet_share

MANY = 20
NIGHT = slice(112, 189)  # quarters from 18:00 to 13:00 of the night that counts
MOST_WB = 0.3  # whole windrow, 99th percentile of quarter hours
MOST_LEAF_WB = 0.8


def summer(name: str, layers: int) -> WindrowTrajectory:
    """The nights of a summer as lanes."""
    season = read_season(name)
    begins = np.zeros((season.weather.hours, season.weather.lanes), dtype=bool)
    begins[0] = True
    return run(season.weather, season.place, WindrowParameters(), None, begins, layers=layers,
               loop="numpy", steps_per_hour=FINE_STEPS)  # fmt: skip


def passes(values: np.ndarray, limit: float) -> np.ndarray:
    """First quarters in which each lane rises and falls through a limit; NaN for never."""
    found = []
    for up in (True, False):
        turn = (values[1:] >= limit) & (values[:-1] < limit)
        turn = turn if up else (values[1:] < limit) & (values[:-1] >= limit)
        found.append(np.where(turn.any(axis=0), turn.argmax(axis=0), np.nan))
    return np.stack(found)


@pytest.fixture(scope="module")
def both():
    return summer("NW Colorado 2017", LAYERS), summer("NW Colorado 2017", MANY)


@pytest.mark.slow
def test_whole_windrow_and_leaf_of_each_part(both):
    few, many = both
    off = np.abs(few.windrow_wb - many.windrow_wb)[NIGHT]
    assert np.nanpercentile(off, 99) < MOST_WB
    for part in ("top", "middle", "bottom"):
        leaf = np.abs(few.layer_wb(part, "leaf") - many.layer_wb(part, "leaf"))[NIGHT]
        assert np.nanpercentile(leaf, 99) < MOST_LEAF_WB


@pytest.mark.slow
@pytest.mark.parametrize("limit", [12.0, 16.0])
def test_band_is_passed_within_a_quarter_hour(both, limit):
    few, many = (passes(each.windrow_wb[NIGHT], limit) for each in both)
    # Seven nights of 304 only just reach the band, in one of the two columns.
    assert (np.isnan(few) == np.isnan(many)).mean() > 0.97
    assert np.nanmax(np.abs(few - many)) <= 1


@pytest.mark.slow
@pytest.mark.parametrize(
    ("share", "limit", "level"), [(soft_share, 11.0, 0.6), (wet_share, 16.0, 0.3)]
)
def test_shares_are_passed_within_a_quarter_hour(both, share, limit, level):
    few, many = (passes(share(each.every_layer, limit)[NIGHT], level) for each in both)
    off = np.abs(few - many)
    assert np.isfinite(off).any()
    assert np.nanpercentile(off, 95) <= 1
