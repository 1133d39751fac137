"""A week on a large farm: how near a plan comes to the best there is in ten seconds.

Twelve fields, three balers, one rig, seven days of half hours; invented farms.
The gap is of what the plan brings above leaving all hay, the harder of the two
ways to state it. Its time is absolute, so it is started by hand on an idle machine:
``pytest -n 0 -s -m long tests/speed/test_fields.py``.
"""

import pytest
from support.tasks import summer_task

from hayweather.plan.solve import solve

SECONDS = 10.0
ENOUGH = 0.02
FARMS, MOST = 10, 8


@pytest.mark.long
def test_two_percent_in_ten_seconds_on_most_of_ten_farms():
    gaps = []
    for seed in range(FARMS):
        solved = solve(summer_task(seed), SECONDS)
        print(f"farm {seed}: gap {100 * solved.gap:.2f} % in {solved.seconds:.1f} s")
        assert solved.seconds < SECONDS + 5
        gaps.append(solved.gap)
    assert sum(gap <= ENOUGH for gap in gaps) >= MOST
