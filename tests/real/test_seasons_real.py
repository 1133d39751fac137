"""Seasons on real weather: the outlook hour for hour, any block, order of climates.

Where the files come from: tests/data/README.md. Typical years of Tucson and
Granada lie among the recorded weather named by HAYWEATHER_RECORDED.
"""

import tempfile
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from support.seasons import DATA, recorded_folder

from hayweather.baling.clock import hour_index, turn_of
from hayweather.baling.setting import setting_for
from hayweather.farm.records import Baler, Field, Site, WeatherChoice
from hayweather.nights import night_of
from hayweather.nights.drive import calls_of
from hayweather.seasons.blocks import Piece, block_of, run_nights
from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.nights import cuts_of, driven, evenings_between, nights_of
from hayweather.seasons.past_hours import series_of
from hayweather.seasons.record.nights import Missing, Nights, join_nights
from hayweather.seasons.record.results import Seasons, SiteSeasons
from hayweather.seasons.record.sites import ASSUMED_RIG, SeasonSite, Sites
from hayweather.seasons.sites import farm_of
from hayweather.show.voice import Voice, phrase
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.trajectory import QUARTERS
from real.five_summers import five_summers, markdown_table, rig_table, sites_text

COLORADO = Site("colorado", 40.53, -108.54, 2168.0, "America/Denver")
JFK = Site("jfk", 40.64, -73.78, 3.0, "America/New_York")


def place_of(site: Site, files: list[Path], wind_m: float) -> SeasonSite:
    return SeasonSite(site, tuple(files), WeatherChoice(wind_height_m=wind_m))


def extracts() -> dict[str, SeasonSite]:
    colorado = [DATA / f"nw_colorado_{year}_may_september.csv.gz" for year in (2017, 2023)]
    jfk = [DATA / "nyc_jfk_2013_may_september.csv.gz"]
    return {"colorado": place_of(COLORADO, colorado, 2.0), "jfk": place_of(JFK, jfk, 10.0)}


def file_of(places: dict[str, SeasonSite]) -> Sites:
    windrow = Field("windrow", "", cured=True)
    return Sites("real", places, windrow, Baler("baler"), ASSUMED_RIG, True)


@cache
def made(names: tuple[str, ...] = ("colorado", "jfk")) -> dict[str, SiteSeasons]:
    places = extracts()
    file = file_of({name: places[name] for name in names})
    return {site.site.name: site for site in make_seasons(file, Request(cores=1)).sites}


@cache
def series(name: str) -> HourlyWeather:
    return series_of(extracts()[name], None)[0][0]


def piece_of(name: str, evenings: list[date], label: int = 0) -> Piece:
    place = extracts()[name]
    site, farm = place.site, farm_of(file_of(extracts()), place)
    weather = series(name)
    setting = setting_for(farm, farm.fields["windrow"], site, weather.start[0])
    cuts = cuts_of(weather, str(site.timezone), site.latitude, site.longitude, evenings)
    return Piece(label, weather, cuts, setting, 13_000.0)


def dry_before(weather: HourlyWeather, hour: int) -> bool:
    """No rain in the days in which an outlook would begin its run earlier."""
    rain = weather.get("rain_mm")
    return rain is None or not np.nansum(rain[max(hour - 24 * 5, 0) : hour]) > 0.5


@pytest.mark.parametrize(
    ("name", "evenings"),
    [
        ("colorado", [date(2017, 8, 16), date(2023, 5, 23)]),
        pytest.param("jfk", [date(2013, 7, 18), date(2013, 5, 6)], marks=pytest.mark.slow),
    ],
)
def test_one_night_equals_the_outlook_hour_for_hour(name, evenings):
    piece = piece_of(name, evenings)
    block = block_of(piece)
    ran, trajectory = driven(block)
    quarters, _ = calls_of(ran.weather, trajectory, block.setting)
    shown_hours = nights_of(block).hours
    weather, site = series(name), extracts()[name].site
    farm = farm_of(file_of(extracts()), extracts()[name])
    compared = 0
    for lane, day in enumerate(evenings):
        now = turn_of(day, str(site.timezone))
        hour = hour_index(weather.start[0], now)
        if not dry_before(weather, hour):
            continue
        near = weather.between(hour - 60, hour + 60)
        field = night_of(farm, {name: near}, now, old=True, members=0).fields[0]
        outlook = field.shown
        first = int(piece.cuts.turn[lane])
        rows = slice(first, first + 24 * QUARTERS)
        assert np.array_equal(quarters.call[rows, lane], outlook.middle[: 24 * QUARTERS])
        for column in ("windrow_wb", "leaf_wb", "stem_wb", "free_water_mm"):
            mine = getattr(quarters, column)[rows, lane]
            theirs = getattr(outlook.quarters, column)[: 24 * QUARTERS, 0]
            assert np.abs(mine - theirs).max() < 1e-4  # past nights run in single precision
        assert shown_hours[lane].tolist() == [int(hour.call) for hour in field.hours[:24]]
        compared += 1
    assert compared >= 2


@cache
def all_nights(names: tuple[str, ...], size: int, cores: int = 1) -> dict[str, Nights]:
    """Nights by site, however they are cut into blocks."""
    evenings = [
        *evenings_between(date(2013, 7, 1), date(2013, 8, 14), (8,)),
        *evenings_between(date(2017, 5, 1), date(2017, 5, 12), (5,)),
    ]
    here = {"jfk": evenings[:14], "colorado": evenings[14:]}
    pieces = [piece_of(name, here[name], number) for number, name in enumerate(names)]
    outcomes = list(run_nights(pieces, size=size, cores=cores))
    labels = np.concatenate([labels for labels, _ in outcomes])
    joined = join_nights([nights for _, nights in outcomes])
    return {name: joined.only(labels == number) for number, name in enumerate(names)}


@pytest.mark.parametrize(
    ("names", "size", "cores"),
    [
        (("colorado", "jfk"), 10, 1),
        (("jfk", "colorado"), 1000, 1),
        (("jfk", "colorado"), 15, 2),
    ],
)
def test_blocks_order_and_cores_change_nothing(names, size, cores):
    """But for what rounds in single precision: a large block goes by the compiled loop."""
    whole = all_nights(("colorado", "jfk"), 1000)
    other = all_nights(names, size, cores)
    for site, nights in whole.items():
        assert np.array_equal(nights.hours, other[site].hours)
        assert np.array_equal(nights.missing, other[site].missing)
        for column in ("dew_h", "rig_h", "wet_h", "water_l_t", "rig_kg", "water_l", "dew_loss"):
            mine, theirs = getattr(nights, column), getattr(other[site], column)
            assert np.allclose(mine, theirs, rtol=1e-5, atol=1e-5, equal_nan=True)


def test_nights_with_a_gap_are_counted_out_by_name():
    year = made()["jfk"].years[0]
    assert year.whole.missing == len(year.gaps) > 0
    assert all(gap.causes & (Missing.RAIN | Missing.RAIN_BEFORE) for gap in year.gaps[1:])
    assert not year.left_out


def test_the_humid_coast_is_mostly_too_wet():
    whole = made()["jfk"].pooled
    assert whole.wet_h.median > whole.dew_h.median
    for month in (5, 6, 7, 8, 9):
        assert 5.5 <= made()["jfk"].months[month].wet_h.median <= 13.0


def test_high_semi_arid_summers_have_dew_in_may_and_little_in_july():
    years = {year.year: year for year in made()["colorado"].years}
    assert sorted(years) == [2017, 2023]
    for year in years.values():
        may, july = year.months[5], year.months[7]
        assert may.with_dew / may.counted > 0.8
        # Less than in May, as three programs of the old inside said too (there under a half).
        assert july.with_dew / july.counted < 0.75 * may.with_dew / may.counted
    assert years[2023].months[5].wet_h.median > years[2017].months[5].wet_h.median


@cache
def summers() -> Seasons:
    """The summers of the guide's table."""
    folder = recorded_folder()
    if folder is None:
        pytest.skip("HAYWEATHER_RECORDED names no recorded weather")
    with tempfile.TemporaryDirectory() as temporary:
        path = Path(temporary, "sites.toml")
        path.write_text(sites_text(folder))
        return five_summers(path)


@pytest.mark.slow
def test_the_hot_desert_has_no_dew_before_the_summer_rains():
    colorado, coast, tucson, _ = summers().sites
    assert tucson.months[5].with_dew == tucson.months[6].with_dew == 0
    assert tucson.months[8].with_dew > 0
    assert tucson.pooled.wet_h.median < coast.pooled.wet_h.median
    share = tucson.pooled.with_dew / tucson.pooled.counted
    assert share < colorado.pooled.with_dew / colorado.pooled.counted


def test_typical_years_are_read_and_are_no_years():
    *_, tucson, granada = summers().sites
    assert tucson.years[0].year is granada.years[0].year is None
    assert granada.pooled.counted == tucson.pooled.counted == 153
    assert {pair.first for pair in summers().pairs} == {"NW-Colorado"}


def test_a_stuck_sensor_is_said():
    # The wind of Granada's file is 6.7 m/s in every hour of the year.
    granada = summers().sites[3]
    assert any("stuck" in phrase(note, Voice("en", "us", "UTC")) for note in granada.assumed)


def test_the_table_has_a_row_for_every_summer():
    rows = markdown_table(summers()).splitlines()[2:]
    assert len(rows) == 5
    assert rows[3].startswith("| Tucson, typical year | 0 (0.0) | 0 (0.0) |")


def test_a_rig_gives_colorado_more_hours_than_dew_alone_in_every_month():
    """The hearsay of the trade is about twice; printed as found by ``python -m real rig``."""
    rows = rig_table(summers()).splitlines()[2:]
    assert len(rows) == 2
    for row in rows:
        times = [float(cell.split("(")[1].rstrip(") ")) for cell in row.split("|")[2:-1]]
        assert all(each >= 1.0 for each in times)
        assert times[-1] > 1.5
