"""A thousand nights of weather at and beyond the ends of what is ever measured.

Law: without a missing input there is no missing moisture; the ledger closes;
moisture and free water stay within what hay can hold.
"""

import numpy as np
import pytest
from support.nights import HIGH_PLACE, hourly

from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.starts import equilibrium_state
from hayweather.windrow.trajectory import FLUX_NAMES, STATE_NAMES

NIGHTS, HOURS = 250, 24
LEDGER_KG_M2 = 1e-9
# Leaf and stem take up to 4 kg/kg by rain (Rotz et al. 2014); a film of 1 kg/kg on top.
MOST_DB = {"leaf_db": 4.0, "stem_db": 4.0, "bottom_db": 4.0, "windrow_db": 5.0}
WINDROW = WindrowParameters()
KINDS = ("steady", "jumping", "wet", "calm")


def extreme_weather(kind: str):
    """Nights of one kind: -45 to 55 C, 0 to 100 %, 0 to 60 m/s, rain up to 80 mm an hour."""
    random = np.random.default_rng(KINDS.index(kind))
    shape = (1, NIGHTS) if kind == "steady" else (HOURS, NIGHTS)
    air = np.broadcast_to(random.uniform(-45, 55, shape), (HOURS, NIGHTS))
    humidity = np.clip(random.uniform(-20, 120, shape), 0.01, 100.0)
    if kind == "wet":
        humidity = np.maximum(humidity, 95.0)
    vapor = np.log(humidity / 100) + 17.27 * air / (air + 237.3)
    wind = random.uniform(0, 60, shape) * (kind != "calm")
    wind = np.where(random.random(shape) < 0.3, 0.0, wind)
    rain = np.where(random.random((HOURS, NIGHTS)) < 0.2, random.uniform(0, 80, NIGHTS), 0.0)
    return hourly(
        HOURS,
        NIGHTS,
        air_temperature_c=air,
        dew_point_c=np.minimum(237.3 * vapor / (17.27 - vapor), air),
        wind_speed_m_s=wind,
        cloud_fraction=random.integers(0, 2, (HOURS, NIGHTS)),
        shortwave_w_m2=random.uniform(0, 1200, (HOURS, NIGHTS)) * (random.random() < 0.5),
        rain_mm=rain * (kind in ("wet", "jumping")),
    )


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_no_number_is_lost_and_none_is_impossible(kind):
    weather = extreme_weather(kind)
    air, dew_point = (weather.columns[name][0] for name in ("air_temperature_c", "dew_point_c"))
    first = {0: equilibrium_state(air, dew_point, WINDROW)}
    followed = run(weather, HIGH_PLACE, WINDROW, first)
    for name in (*STATE_NAMES, *FLUX_NAMES):
        # at the very first boundary no balance has been solved yet
        values = getattr(followed, name)[name == "skin_humidity" :]
        assert np.isfinite(values).all(), name
    for name, most in MOST_DB.items():
        moisture = getattr(followed, name)
        assert moisture.min() > 0.0
        assert moisture.max() <= most
    assert followed.free_water_mm.min() >= 0.0
    assert followed.ledger_kg_m2.max() <= LEDGER_KG_M2
