"""Two days with sun, rain and cloud run at all: what a slip must still do."""

import numpy as np
from support.nights import HIGH_PLACE, hourly

from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run


def test_two_days_run_to_their_end():
    hours = np.arange(48)
    warmth = np.cos(2 * np.pi * (hours - 20) / 24)
    weather = hourly(
        48,
        air_temperature_c=18 + 8 * warmth,
        shortwave_w_m2=np.maximum(800 * warmth, 0.0),
        cloud_fraction=0.3,
        rain_mm=np.where(hours == 30, 2.0, 0.0),
    )
    begins = np.zeros((48, 1), dtype=bool)
    begins[0] = True
    made = run(weather, HIGH_PLACE, WindrowParameters(), equilibrium_starts=begins)
    assert np.isfinite(made.windrow_db).all()
