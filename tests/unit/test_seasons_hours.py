"""Past hours of a site: joined only where they agree, asked of a service only with its terms."""

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from support.nights import hourly

from hayweather.errors import OptionError, WeatherFileError
from hayweather.farm.records import Site, WeatherChoice
from hayweather.seasons import past_hours
from hayweather.seasons.past_hours import fetch_archive, join_series, series_of
from hayweather.seasons.record.sites import SeasonSite
from hayweather.weather.record import HOUR, HourlyWeather, Source
from hayweather.weather.services import open_meteo

BEGIN = np.datetime64("2024-07-01T00:00", "s")
SITE = Site("bench", 40.0, -105.0, 1500.0, "America/Denver")


def series(name: str, first: int, count: int = 24, air_c: float = 20.0) -> HourlyWeather:
    """Some hours from the hour `first` on."""
    weather = hourly(count, air_temperature_c=air_c)
    begin = np.array([BEGIN + first * HOUR])
    return HourlyWeather(begin, weather.columns, 2.0, Source(name))


def test_hours_that_two_files_hold_must_agree():
    joined = join_series([series("a", 0), series("b", 12)])[0]
    assert joined.hours == 36
    assert joined.source.name == "a, b"
    later = series("b", 12)
    later.columns["air_temperature_c"][3] = 20.5
    with pytest.raises(WeatherFileError) as caught:
        join_series([series("a", 0), later])
    assert caught.value.key == "seasons_files_differ"
    assert "2024-07-01T15:00:00Z" in str(caught.value)
    assert "air_temperature_c" in str(caught.value)


def test_a_blank_hour_is_filled_from_the_file_that_has_it():
    holed = series("a", 0)
    holed.columns["air_temperature_c"][20] = np.nan
    joined = join_series([holed, series("b", 12)])[0]
    assert np.isfinite(joined.columns["air_temperature_c"]).all()


def test_of_many_files_the_first_and_the_last_are_named():
    parts = [series(f"{number}.csv", 24 * number) for number in range(5)]
    assert join_series(parts)[0].source.name == "0.csv … 4.csv (5)"


@pytest.mark.parametrize("typical", [(True, False), (True, True)])
def test_a_typical_year_stands_alone(monkeypatch, tmp_path, typical):
    found = {
        f"{number}.csv": replace(series(f"{number}.csv", 24 * number), typical_year=is_typical)
        for number, is_typical in enumerate(typical)
    }
    monkeypatch.setattr(past_hours, "_read", lambda path, place: found[path.name])
    files = tuple(tmp_path / name for name in found)
    place = SeasonSite(SITE, files, WeatherChoice(service=None))
    kept, (fault,) = series_of(place, None)
    assert kept == []
    assert fault.key == "seasons_typical_mixed"
    assert "bench" in str(fault)


def test_the_archive_is_asked_with_terms_only(monkeypatch):
    asked = []

    def fetch_past(site, first, last, settings, *, now):
        asked.append((site.name, first, last))
        return series("archive", 0)

    monkeypatch.setattr(open_meteo, "fetch_past", fetch_past)
    monkeypatch.delenv("HAYWEATHER_OPEN_METEO_KEY", raising=False)
    free = WeatherChoice(service="open-meteo", terms="non-commercial")
    place = SeasonSite(SITE, (), free)
    assert series_of(place, (2020, 2021))[0][0].source.name == "archive"
    assert asked == [("bench", date(2020, 1, 1), date(2021, 12, 31))]
    with pytest.raises(OptionError) as caught:
        fetch_archive(SITE, replace(free, terms=None), date(2020, 1, 1), date(2020, 1, 2))
    assert "[site.bench] terms" in str(caught.value)
    assert len(asked) == 1


def test_files_of_a_folder_are_read_in_order_of_name_and_hidden_ones_are_not(tmp_path):
    for name in ("b.csv", "a.csv", ".hidden"):
        (tmp_path / name).touch()
    (tmp_path / "inside").mkdir()
    place = SeasonSite(SITE, (tmp_path, Path("alone.csv")), WeatherChoice(service=None))
    assert [path.name for path in past_hours._files(place)] == ["a.csv", "b.csv", "alone.csv"]
