"""The trap: a calm clear night with dry air, where a reference-crop equation invents dew.

T 15.13 C, dew point -1.47 C at 1500 m: dew would need 16.6 K of cooling.
"""

import numpy as np
import pytest
from published import reference_et
from support.nights import HIGH_PLACE, hourly, run_from

from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run
from hayweather.windrow.starts import moisture_state
from hayweather.windrow.vapor import saturation_vapor_pressure

AIR_C, DEW_POINT_C, HOURS = 15.13, -1.47, 12


def calm_dry_night(wind_m_s: float):
    return hourly(HOURS, air_temperature_c=AIR_C, dew_point_c=DEW_POINT_C, wind_speed_m_s=wind_m_s)


@pytest.mark.parametrize("surface", [reference_et.SHORT, reference_et.TALL])
def test_reference_crop_equation_condenses_here(surface):
    """About -0.02 mm/h by both surfaces at 1500 m and 0.5 m/s under a clear sky (calculated)."""
    vapor_kpa = saturation_vapor_pressure(DEW_POINT_C)
    clear = 1.0
    found = reference_et.hourly_et(surface, AIR_C, vapor_kpa, 0.0, clear, 0.5, 2.0, 1500.0)
    assert found == pytest.approx(-0.02, abs=0.005)


@pytest.mark.parametrize("wind_m_s", [0.0, 0.5, 1.0])
@pytest.mark.parametrize(("leaf_wb", "stem_wb"), [(4, 4), (8, 8), (14, 20), (30, 40), (44, 60)])
def test_no_dew_from_any_start(wind_m_s, leaf_wb, stem_wb):
    found = run_from(calm_dry_night(wind_m_s), leaf_wb, stem_wb)
    assert found.dew_mm.max() == 0.0
    assert np.isfinite(found.windrow_db).all()


def test_no_dew_on_a_windrow_wet_with_rain():
    weather = calm_dry_night(0.0)
    weather.columns["rain_mm"][0] = 3.0
    found = run_from(weather)
    assert found.rain_caught_mm[0, 0] > 0.5
    assert found.dew_mm.max() == 0.0


def test_skin_never_falls_to_the_dew_point():
    found = run_from(calm_dry_night(0.0))
    assert found.skin_temperature_c.min() > DEW_POINT_C + 3
    assert found.skin_humidity[1:].max() < 0.9


def test_dry_ground_and_closed_ground_agree_on_no_dew():
    weather = calm_dry_night(0.0)
    air, dew_point = (weather.columns[name][0] for name in ("air_temperature_c", "dew_point_c"))
    first = moisture_state(8.0, 8.0, air, dew_point)
    closed = WindrowParameters(ground_resistance_s_m=1e12)
    assert run(weather, HIGH_PLACE, closed, {0: first}).dew_mm.max() == 0.0
