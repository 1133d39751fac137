"""A crew's rest is as long in the night of a clock change as in any other."""

from itertools import pairwise

import numpy as np
import pytest

from hayweather.plan.crews import QUARTER_MINUTES, crews_of

QUARTER = np.timedelta64(900, "s")
NEED_H = 8.0


@pytest.mark.parametrize(
    ("timezone", "noon"),
    [
        ("Australia/Sydney", "2026-10-02T02:00"),  # forward on 4 October
        ("Europe/Madrid", "2026-10-23T10:00"),  # back on 25 October
        ("America/Phoenix", "2026-10-30T19:00"),  # never
    ],
)
@pytest.mark.parametrize("best", [8, 20, 60, 92])
def test_no_crew_works_longer_than_a_day_less_its_rest(timezone, noon, best):
    worth = np.exp(-(((np.arange(96) - best + 48) % 96 - 48) ** 2) / 200)
    crews = crews_of((), NEED_H, worth)
    starts = np.datetime64(noon, "s") + np.arange(3 * 96) * QUARTER
    works = np.flatnonzero(crews.may_work(starts, timezone))
    assert works.size > 2 * 60  # it still works
    begin, need = works[0], NEED_H * 60 / QUARTER_MINUTES
    for before, after in pairwise(works):
        if after - before - 1 >= need:
            begin = after
        assert after - begin < 96 - need
