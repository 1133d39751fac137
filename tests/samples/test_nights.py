"""Each sample night does what its name says: the windrow model, run on the file as it stands.

The samples are invented, so these tests say nothing about the model's worth;
they say that the samples show what the README of the samples promises.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from samples.make_samples import FOLDER, NIGHTS, VALLUMBRIA, VALLUMBRIA_PLACE
from samples.shapes import hours_of

from hayweather.farm import read_farm
from hayweather.farm.bands import band_for
from hayweather.farm.records import Farm
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.forcing import Place
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.run import run

DAYS = {night.name: night.day for night in (*NIGHTS, VALLUMBRIA)}


@dataclass(frozen=True)
class Run:
    """A night of the farm's first field, by quarter hours: local time and what the hay is."""

    day: date
    local: list[datetime]
    windrow_wb: np.ndarray
    leaf_wb: np.ndarray
    stem_wb: np.ndarray
    free_water_mm: np.ndarray
    skin_c: np.ndarray
    ready: np.ndarray
    weather: dict[str, np.ndarray]

    def hours(self, first: int, last: int) -> np.ndarray:
        """Mask of the quarter hours from `first` to `last`, hours from the evening's midnight."""
        zone = self.local[0].tzinfo
        midnight = datetime(self.day.year, self.day.month, self.day.day, tzinfo=zone)
        start, end = midnight + timedelta(hours=first), midnight + timedelta(hours=last)
        return np.array([start <= moment < end for moment in self.local])

    def ready_hours(self, first: int, last: int) -> float:
        """Hours ready on dew in between."""
        return float(self.ready[self.hours(first, last)].sum()) / 4


@cache
def night_of(name: str) -> Run:
    """Run the model on a sample file, from 14:00 local of the day before."""
    farm = read_farm(FOLDER / f"{name}.toml")
    field = next(iter(farm.fields.values()))
    site = farm.sites[field.site]
    weather = weather_of(farm)
    begin = np.zeros((weather.hours, 1), dtype=bool)
    zone = ZoneInfo(site.timezone)
    starts = [
        stamp.item().replace(tzinfo=ZoneInfo("UTC")).astimezone(zone)
        for stamp in weather.times()[:, 0]
    ]
    begin[[s.hour == 14 and s.date() == DAYS[name] - timedelta(days=1) for s in starts]] = True
    track = run(
        weather,
        Place(site.latitude, site.longitude, site.elevation_m),
        WindrowParameters(dry_matter_kg_m2=field.windrow_mass_kg_m2),
        equilibrium_starts=begin,
    )
    band = band_for(next(iter(farm.balers.values())), field)
    windrow, leaf, free = (
        track.windrow_wb[:-1, 0],
        track.leaf_wb[:-1, 0],
        track.free_water_mm[:-1, 0],
    )
    quarters = {key: np.repeat(values[:, 0], 4) for key, values in weather.columns.items()}
    ready = (leaf >= band.leaf_minimum_wb) & (windrow >= band.low_wb) & (windrow <= band.high_wb)
    ready &= (free <= 0.02) & (quarters["rain_mm"] < 0.1)
    local = [start + timedelta(minutes=15 * part) for start in starts for part in range(4)]
    return Run(DAYS[name], local, windrow, leaf, track.stem_wb[:-1, 0], free,
               track.skin_temperature_c[:-1, 0], ready, quarters)  # fmt: skip


def weather_of(farm: Farm) -> HourlyWeather:
    """The sample file, read as its farm file says."""
    choice = farm.weather
    options = ReadOptions(
        timezone=choice.timezone, wind_height_m=choice.wind_height_m, hour=choice.hour
    )
    return read_weather_file(choice.file, options)[0]


@pytest.mark.parametrize("name", DAYS)
def test_hay_is_dry_in_the_afternoon_before(name):
    night = night_of(name)
    assert np.nanmax(night.windrow_wb[night.hours(15, 18)]) < 10


def test_dewy_night_has_dew_in_band_a_wet_spell_and_a_second_window():
    night = night_of("sagebeck")
    assert night.ready_hours(22, 30) >= 2
    assert (night.windrow_wb[night.hours(28, 31)] > 16).any()
    assert night.ready_hours(30, 36) >= 1
    assert night.skin_c[night.hours(26, 29)].max() < 7  # as the sky sees it, not the top alone


def test_night_without_dew_gains_moisture_but_never_enough():
    night = night_of("sagebeck_no_dew")
    dark = night.hours(20, 32)
    assert night.ready_hours(18, 38) == 0
    assert night.free_water_mm[dark].max() == 0
    assert night.windrow_wb[dark].max() - night.windrow_wb[dark].min() > 3
    assert 8 < night.windrow_wb[dark].max() < 12


def test_shower_makes_the_windrow_too_wet_until_the_next_night():
    night = night_of("sagebeck_shower")
    assert night.weather["cloud_fraction"][night.hours(23, 28)].min() >= 0.7
    assert night.weather["rain_mm"][night.hours(24, 30)].sum() / 4 == pytest.approx(3.1)
    assert night.windrow_wb[night.hours(29, 37)].min() > 16


def test_hot_windy_night_stays_far_too_dry():
    night = night_of("sagebeck_hot_wind")
    assert night.windrow_wb[night.hours(17, 38)].max() < 8
    assert night.weather["air_temperature_c"][night.hours(14, 18)].max() > 31
    assert night.weather["wind_speed_m_s"][night.hours(18, 30)].min() > 3


def test_frost_night_freezes_then_thaws():
    night = night_of("sagebeck_frost")
    before_sunrise = night.hours(28, 31)
    assert night.weather["air_temperature_c"][before_sunrise].max() < 0
    assert night.skin_c[before_sunrise].max() < -4
    assert night.free_water_mm[night.hours(30, 32)].max() > 0.002
    assert night.skin_c[night.hours(33, 35)].min() > 0
    assert night.free_water_mm[night.hours(34, 36)].max() < 0.02
    leaf = night.leaf_wb
    assert leaf[night.hours(31, 33)].max() > leaf[before_sunrise].max() + 0.5


def test_the_other_form_of_file_reads_to_the_weather_that_was_made():
    """Decimal commas, local clock and km/h come back to within the last printed digit."""
    weather = weather_of(read_farm(FOLDER / "vallumbria.toml"))
    made = hours_of(VALLUMBRIA, VALLUMBRIA_PLACE)
    assert weather.times()[0, 0] == np.datetime64(made[0].time.replace(tzinfo=None))
    for column, name, digit in (
        ("air_temperature_c", "temp_c", 0.05),
        ("wind_speed_m_s", "wind_m_s", 0.05 / 3.6),
        ("dew_point_c", "dew_point_c", 0.4),  # half a percent of humidity at the driest hour
        ("rain_mm", "rain_mm", 0.05),
    ):
        expected = [getattr(hour, name) for hour in made]
        assert np.abs(weather.columns[column][:, 0] - expected).max() <= digit + 1e-9


def test_river_night_has_dew_in_band():
    night = night_of("vallumbria")
    assert night.ready_hours(24, 32) >= 2
    assert night.free_water_mm[night.hours(24, 36)].max() < 0.05
