"""The air at the field is the same whether or not the sky is worked out with it."""

import numpy as np
import pytest
from support.nights import HIGH_PLACE, hourly

from hayweather.windrow.forcing import Place, air_at_field, prepare


@pytest.mark.parametrize("offset_k", [0.0, -2.0])
@pytest.mark.parametrize("cloud", [0.0, 0.7, np.nan])
def test_air_is_that_of_the_whole_forcing(offset_k, cloud):
    place = Place(HIGH_PLACE.latitude, HIGH_PLACE.longitude, HIGH_PLACE.elevation_m, 1.5, offset_k)
    weather = hourly(
        12, 3, air_temperature_c=np.linspace(20, 8, 12), dew_point_c=7.5, cloud_fraction=cloud
    )
    whole = prepare(weather, place)
    found = air_at_field(weather, place)
    for got, asked in zip(
        found, (whole.temperature_c, whole.dew_point_c, whole.wind_2m_m_s), strict=True
    ):
        np.testing.assert_array_equal(got, asked)
