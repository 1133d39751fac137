"""One night of spin-up is enough: a second moves the median hour by less than 0.2 point."""

import numpy as np
import pytest
from support.seasons import default_run, read_season, run_season

from hayweather.windrow.parameters import WindrowParameters

ALLOWED_WB = 0.2


@pytest.mark.parametrize("season", ["NW Colorado 2017", "NW Colorado 2023", "JFK 2013"])
def test_second_night_of_spin_up(season):
    longer = run_season(read_season(season, spin_up_hours=48), WindrowParameters())
    one, two = default_run(season).windrow_wb[96:], longer.windrow_wb[192:]
    assert one.shape[1] == two.shape[1] + 1  # the first evening has no second day before it
    assert np.nanmedian(np.abs(two - one[:, 1:])) < ALLOWED_WB
