"""Members weighed by readings, where a run has gaps."""

import numpy as np
from support.fields import EVENING, hay

from hayweather.weather.record import HOUR
from hayweather.windrow.readings import Reading, weigh


def test_readings_that_leave_no_member_leave_no_weight():
    """One member is known in the first hours alone, the other in the last: none explains both."""
    moisture = np.full((17, 3), 12.0)
    moisture[9:, 1] = np.nan
    moisture[:9, 2] = np.nan
    trajectory = hay(moisture, hours=4, lanes=3, start=EVENING)
    early, late = Reading(EVENING + HOUR, 12.0), Reading(EVENING + 3 * HOUR, 12.0)
    found = weigh(trajectory, (early, late))
    assert not found.weights.any()
    assert found.effective == 0.0
    assert weigh(trajectory, (early,)).weights.tolist() == [0.0, 1.0, 0.0]
    assert weigh(trajectory, (late,)).weights.tolist() == [0.0, 0.0, 1.0]
