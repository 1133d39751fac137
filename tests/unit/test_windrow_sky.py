"""Sun, cloud and longwave: limits, signs and the derived cloud."""

import numpy as np
import pytest

from hayweather.windrow import sky

MIDSUMMER = np.datetime64("2024-06-21T00:00", "s")
DAY = MIDSUMMER + np.arange(24) * np.timedelta64(3600, "s")


def test_noon_is_by_longitude():
    height = sky.sun_elevation(DAY, 40.0, -105.0)
    assert DAY[height.argmax()] == np.datetime64("2024-06-21T19:00", "s")
    assert np.rad2deg(height.max()) == pytest.approx(90 - 40 + 23.4, abs=1.0)


def test_no_sun_above_the_atmosphere_at_night_and_never_negative():
    above = sky.extraterrestrial_shortwave(DAY, 40.0, 0.0)
    assert above.min() == 0.0
    assert (above == 0).sum() == pytest.approx(8.5, abs=1)
    assert above.max() < 1367


def test_polar_day_and_night():
    winter = DAY - np.timedelta64(183, "D")
    assert sky.extraterrestrial_shortwave(winter, 75.0, 0.0).max() == 0.0
    assert sky.extraterrestrial_shortwave(DAY, 75.0, 0.0).min() > 0.0


def test_shorter_periods_add_up_to_the_hour():
    start = np.array([np.datetime64("2024-06-21T04:00", "s")])
    quarters = start + np.arange(4) * np.timedelta64(900, "s")
    parts = sky.extraterrestrial_shortwave(quarters, 50.0, 0.0, hours=0.25)
    assert parts.mean() == pytest.approx(
        sky.extraterrestrial_shortwave(start, 50.0, 0.0)[0], rel=1e-3
    )


@pytest.mark.parametrize("latitude", [0.0, 40.0, -35.0, 68.0, 80.0])
@pytest.mark.parametrize("day", [DAY, DAY - np.timedelta64(90, "D")])
def test_the_sun_of_a_part_is_the_mean_of_its_seconds(latitude, day):
    """Also at sunrise, and where the polar sun passes midnight."""
    seconds = day[:, None] + np.arange(5, 3600, 10) * np.timedelta64(1, "s")
    height = np.maximum(sky.sun_sine(seconds, latitude, 20.0), 0.0).reshape(24, 4, 90)
    found, _ = sky.mean_heights(day, latitude, 20.0, parts=4)
    np.testing.assert_allclose(found.T, height.mean(axis=2), atol=2e-5)


def test_sun_under_cloud_and_cloud_from_sun():
    dimmed = sky.cloudy_shortwave(800.0, np.linspace(0, 1, 11))
    assert dimmed[0] == 800.0
    assert dimmed[-1] == pytest.approx(200.0)  # Kasten & Czeplak 1980: a quarter under overcast
    # ASCE-EWRI 2005 Eq 45: cloudiness 1.35 Rs/Rso - 0.35, so Rs/Rso 0.9 is 0.135 of cloud.
    found = sky.cloud_from_shortwave(np.array([720.0, 400.0, 200.0]), np.full(3, 800.0))
    np.testing.assert_allclose(found, [0.135, 0.675, 1.0], atol=1e-12)


def test_more_than_clear_sun_is_no_cloud_and_darkness_is_overcast():
    found = sky.cloud_from_shortwave(np.array([900.0, 0.0]), np.array([800.0, 800.0]))
    assert found.tolist() == [0.0, 1.0]


def test_cloud_warms_the_sky_and_overcast_is_nearly_black():
    longwave = sky.sky_longwave(10.0, 0.8, np.array([0.0, 0.5, 1.0]))
    assert (np.diff(longwave) > 0).all()
    black = sky.STEFAN_BOLTZMANN_W_M2_K4 * 283.15**4
    assert 0.95 * black < longwave[-1] < black


class TestDerivedCloud:
    """By day from the sun, held through the night, assumed before any sun."""

    def derive(self, shortwave, elevation):
        column = np.array(shortwave, dtype=float)[:, None]
        height = np.array(elevation, dtype=float)[:, None]
        cloud, unknown = sky.derive_cloud(column, np.full_like(column, 800.0), height)
        return cloud[:, 0], unknown[:, 0]

    def test_mean_of_the_last_three_hours_is_held(self):
        sun = [400.0, 800.0, 720.0, 640.0]
        cloud, unknown = self.derive([*sun, 0.0, 0.0], [0.5] * 4 + [0.1, -0.5])
        shares = [0.5, 0.75, 0.8, 0.9]  # of the clear sun, over the last three hours
        expected = [1.35 * (1 - share) for share in shares]
        held = [expected[-1], expected[-1] * sky.CLOUD_KEPT_BY_NIGHT]  # a low sun, then none
        np.testing.assert_allclose(cloud, [*expected, *held], atol=1e-9)
        assert not unknown.any()

    def test_low_sun_tells_nothing(self):
        cloud, unknown = self.derive([700.0, 700.0], [0.29, 0.1])
        assert cloud.tolist() == [sky.CLOUD_UNKNOWN] * 2
        assert unknown.all()

    def test_a_blank_hour_of_sun_is_bridged(self):
        cloud, unknown = self.derive([800.0, np.nan, 800.0], [0.5] * 3)
        assert cloud.tolist() == [0.0, 0.0, 0.0]
        assert not unknown.any()
