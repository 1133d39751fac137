"""SITES.toml: what it gives, what it refuses; errors in both languages in one line."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from support.nights import hourly

from hayweather.baling.setting import Setting
from hayweather.errors import HayweatherError
from hayweather.seasons.engine import Request, Variant, effect_of, make_seasons
from hayweather.seasons.past_hours import series_of
from hayweather.seasons.record.nights import Missing, unknown_nights
from hayweather.seasons.record.sites import ASSUMED_RIG
from hayweather.seasons.sites import farm_of, read_sites
from hayweather.show.seasons_words import season_voice
from hayweather.units import ACRE_M2
from hayweather.weather.record import HourlyWeather, Source

SITE = """
[site.bench]
latitude = 40.0
longitude = -105.0
elevation = "5000 ft"
timezone = "America/Denver"
"""
FILES = SITE + 'weather = "a.csv"\n'
SERVICE = SITE + 'service = "open-meteo"\nterms = "non-commercial"\n'


def read(tmp_path: Path, text: str):
    path = tmp_path / "sites.toml"
    path.write_text(text)
    return read_sites(path)


def test_what_is_not_said_has_a_default_that_is_called_assumed(tmp_path):
    file = read(tmp_path, FILES)
    assert file.rig == ASSUMED_RIG
    assert file.rig_is_assumed
    assert file.windrow.cured is True
    assert file.sites["bench"].files == (tmp_path / "a.csv",)
    assert file.notes[0].key == "seasons_mass_assumed"


def test_what_is_said_holds_for_all_sites(tmp_path):
    more = """
    weather = ["a.csv", "folder/"]
    wind_height = "10 m"
    tuning = { windrow_mass = 1.2, dew_point_offset = "-1 C" }
    [windrow]
    windrow_mass = "2 kg/m2"
    [baler]
    kind = "small-square"
    [rig]
    tank = 500
    rate_min = 5
    rate_max = 20
    flow_max = 8
    fill_time = 15
    [work]
    area = 80
    nights = 3
    [money]
    wage = 30
    """
    file = read(tmp_path, SITE + more)
    assert file.windrow.windrow_mass_kg_m2 == 2.0
    assert not file.rig_is_assumed
    assert file.work.area_m2 == pytest.approx(80 * ACRE_M2)
    assert file.money.wage_per_h == 30
    place = file.sites["bench"]
    assert len(place.files) == 2
    farm = farm_of(file, place)
    assert farm.tuning.windrow_mass == 1.2
    assert farm.tuning.dew_point_offset_k == pytest.approx(-1.0)
    assert place.weather.wind_height_m == pytest.approx(10.0)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('[farm]\nname = "x"\n', "seasons_no_site"),
        (SITE, "farm_seasons_source"),
        (FILES + 'service = "open-meteo"\n', "farm_seasons_source"),
        (SITE + "weather = 3\n", "farm_seasons_weather"),
        (FILES + "tuning = 3\n", "farm_seasons_tuning"),
        (FILES + "wether = 1\n", "farm_unknown_key"),
        (SITE + 'file = "a.csv"\n', "farm_unknown_key"),
        (FILES + "[riig]\n", "farm_unknown_table"),
        (FILES + "[rig]\ntank = 500\n", "farm_required"),
        (FILES.replace("-105.0", "105.0"), "farm_zone_far"),
        (FILES + 'file_timezone = "Middle/Earth"\n', "farm_zone"),
    ],
)
def test_slips_are_refused_in_one_line(tmp_path, text, key):
    with pytest.raises(HayweatherError) as problem:
        read(tmp_path, text)
    assert problem.value.key == key
    assert "\n" not in problem.value.line("es")


def past(start: str = "2023-06-01T00:00") -> HourlyWeather:
    weather = hourly(24 * 12)
    begin = np.array([np.datetime64(start, "s")])
    return HourlyWeather(begin, weather.columns, 2.0, Source("past"))


def test_a_service_is_asked_for_the_years_named(tmp_path):
    asked = []

    def fetch(site, choice, first, last):
        asked.append((site.name, choice.terms, first.isoformat(), last.isoformat()))
        return past()

    place = read(tmp_path, SERVICE).sites["bench"]
    series_of(place, (2020, 2023), fetch)
    assert asked == [("bench", "non-commercial", "2020-01-01", "2023-12-31")]
    kept, (fault,) = series_of(place, None, fetch)
    assert (kept, fault.key) == ([], "seasons_years_needed")


def made(tmp_path: Path, weather: HourlyWeather, **asked: object):
    file = read(tmp_path, SERVICE)
    request = Request(
        cores=1, months=(6,), fetch=lambda *_: weather, **{"years": (2023, 2023), **asked}
    )
    return make_seasons(file, request)


def test_nights_without_hours_are_missing_by_name(tmp_path):
    site = made(tmp_path, past()).sites[0]
    year = site.years[0]
    assert year.whole.nights == 30
    assert year.left_out  # twelve days of thirty
    assert len(year.gaps) == year.whole.missing
    assert site.pooled.nights == 0


def typical_file(tmp_path: Path):
    """A sites file whose one site says that its file is a typical year."""
    weather = past()
    names = ("air_temperature_c", "dew_point_c", "wind_speed_m_s")
    rows = zip(weather.times()[:, 0], *(weather.columns[name][:, 0] for name in names), strict=True)
    lines = ["time_utc,temp_c,dewpoint_c,wind_ms"]
    lines += [",".join([f"{time}Z", *map(str, values)]) for time, *values in rows]
    (tmp_path / "a.csv").write_text("\n".join(lines))
    return read(tmp_path, FILES + 'typical_year = true\nwind_height = "2 m"\n')


def test_a_typical_year_is_no_year(tmp_path):
    file = typical_file(tmp_path)
    site = make_seasons(file, Request(cores=1, months=(6,))).sites[0]
    assert site.typical
    assert [year.year for year in site.years] == [None]
    assert site.trend is None
    assert site.pooled.counted > 5
    with pytest.raises(HayweatherError) as problem:
        make_seasons(file, Request(cores=1, months=(6,), years=(2023, 2023)))
    assert problem.value.key == "seasons_typical_years"
    assert "bench" in problem.value.line("es")


def test_years_that_no_file_holds_are_refused_with_those_that_are_held(tmp_path):
    with pytest.raises(HayweatherError) as problem:
        made(tmp_path, past(), years=(1990, 1991))
    assert problem.value.key == "seasons_years_outside"
    assert "2023 to 2023" in str(problem.value)


def test_years_partly_held_are_missing_by_name(tmp_path):
    site = made(tmp_path, past(), years=(2022, 2023)).sites[0]
    assert [year.left_out for year in site.years] == [True, True]
    first = site.years[0]
    assert first.whole.missing == first.whole.nights == 30
    assert {gap.causes for gap in first.gaps} == {Missing.NO_HOURS}


def test_stopping_keeps_what_is_finished(tmp_path):
    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt

    found = made(tmp_path, past(), size=4, progress=stop)
    assert found.unfinished
    known = found.sites[0].nights.known
    assert 0 < known.sum() <= 4


@pytest.mark.slow
def test_finished_blocks_are_found_again(tmp_path, monkeypatch):
    keep = tmp_path / "kept"
    first = made(tmp_path, past(), size=8, keep=keep).sites[0].nights

    def never(*_: object) -> None:
        raise AssertionError("run again")

    monkeypatch.setattr("hayweather.seasons.blocks.nights_of", never)
    again = made(tmp_path, past(), size=8, keep=keep).sites[0].nights
    assert np.array_equal(first.dew_h, again.dew_h, equal_nan=True)
    assert np.array_equal(first.hours, again.hours)
    next(keep.iterdir()).write_bytes(b"broken")
    with pytest.raises(AssertionError, match="run again"):
        made(tmp_path, past(), size=8, keep=keep)


def test_inputs_are_tried_one_at_a_time(tmp_path):
    found = made(tmp_path, past(), inputs=True)
    assert {effect.key for effect in found.inputs} == {"mass", "dew_point", "band"}
    changes = [abs(effect.dew_hours) for effect in found.inputs]
    assert changes == sorted(changes, reverse=True)


def test_an_input_says_nothing_where_no_night_counts_both_times():
    def unused(setting: Setting) -> Setting:
        return setting

    variant = Variant("mass", (1.0, "windrow_mass"), unused)
    evening = np.datetime64("2024-07-01", "D") + np.arange(2)
    known, unknown = (
        replace(unknown_nights(evening, missing), rain_before_mm=np.zeros(2), dew_h=np.ones(2))
        for missing in (Missing.NONE, Missing.WIND)
    )
    assert effect_of("bench", variant, known, unknown, 2.0) is None
    assert effect_of("bench", variant, known, known, 2.0).dew_hours == 0.0


def test_the_sign_before_tenths_that_a_file_names_is_spoken(tmp_path):
    """As in a farm file: a comma, whatever language and units would bring."""
    file = read(tmp_path, '[farm]\ndecimals = "comma"\n' + FILES)
    assert season_voice(SimpleNamespace(file=file)).number(2.55, "percent") in ("2,5", "2,6")
    assert not season_voice(SimpleNamespace(file=read(tmp_path, FILES))).has_comma
