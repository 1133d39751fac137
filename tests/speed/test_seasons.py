"""Seasons beside yardsticks of the same machine: reference ET, pandas, their own size.

With the compiled loop (extra ``fast``). Its build is loaded before the clock
starts, as pandas and refet are; each test prints what was measured.
"""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Iterator
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
from speed.file_to_answer import YEARS, seconds, times_of_reading

from hayweather.baling.setting import setting_for
from hayweather.farm.records import Baler, Farm, Field, Site, WeatherChoice
from hayweather.seasons.blocks import Piece, block_of, run_nights
from hayweather.seasons.nights import LANE_HOURS, cuts_of, evenings_between, nights_of
from hayweather.seasons.record.sites import ASSUMED_RIG
from hayweather.weather.record import HourlyWeather, Source
from hayweather.windrow.run import run

pytest.importorskip("numba")

HOME = Site("home", 43.2, -120.6, 1320.0, "America/Los_Angeles")
# Share of refet's site-hours per second. The column of six layers, each with a temperature
# of its own, does about a third of what three layers without one did; a quarter is the aim.
LEAST_OF_REFERENCE, AIM = 0.05, 0.25
# Times `pandas.read_csv` of the same file, on one core: a goal, and what may never be passed.
GOAL_READINGS = {"auto": 20, "numpy": 60}
MOST_READINGS = {"auto": 26, "numpy": 75}
DOUBLED_TIMES, FLAT = 2.3, 1.15
NIGHTS_A_SITE = 459  # three summers


def years_of_hours(first: int, last: int) -> HourlyWeather:
    """Made-up hours of whole years: a daily and a yearly wave with noise."""
    begin = np.datetime64(f"{first}-01-01", "s")
    hours = int((np.datetime64(f"{last + 1}-01-01", "s") - begin) / np.timedelta64(3600, "s"))
    hour, rng = np.arange(hours), np.random.default_rng(1)
    air = 10 - 12 * np.cos(2 * np.pi * hour / 8766) - 9 * np.cos(2 * np.pi * (hour - 12) / 24)
    columns = {
        "air_temperature_c": air,
        "dew_point_c": np.minimum(air, 2 - 6 * np.cos(2 * np.pi * hour / 8766)),
        "wind_speed_m_s": 1 + rng.gamma(2.0, 0.8, hours),
        "cloud_fraction": np.clip(rng.normal(0.3, 0.3, hours), 0, 1),
        "rain_mm": np.where(rng.random(hours) < 0.005, 2.0, 0.0),
    }
    shaped = {name: values[:, None] for name, values in columns.items()}
    return HourlyWeather(np.array([begin]), shaped, 10.0, Source("speed"))


def piece_of(weather: HourlyWeather, first: int, last: int, label: int = 0) -> Piece:
    field = Field("windrow", "home", cured=True)
    farm = Farm(
        "speed", {"home": HOME}, {"windrow": field}, {"baler": Baler("baler")}, WeatherChoice(),
        rigs={"rig": ASSUMED_RIG},
    )  # fmt: skip
    setting = setting_for(farm, field, HOME, weather.start[0])
    days = evenings_between(date(first, 1, 1), date(last, 12, 31), range(5, 10))
    cuts = cuts_of(weather, str(HOME.timezone), HOME.latitude, HOME.longitude, days)
    return Piece(label, weather, cuts, setting, 13_000.0)


@pytest.fixture(scope="module", autouse=True)
def _loaded() -> None:
    """The compiled loop built or found again."""
    block = block_of(piece_of(years_of_hours(2000, 2000), 2000, 2000))
    begins = np.ones((LANE_HOURS, block.weather.lanes), dtype=bool)
    begin = time.perf_counter()
    place, windrow = block.setting.place, block.setting.windrow
    run(block.weather, place, windrow, equilibrium_starts=begins, loop="compiled")
    print(f"\ncompiled loop ready after {time.perf_counter() - begin:.1f} s")


@pytest.mark.speed
def test_the_windrow_beside_reference_et():
    import refet

    piece = piece_of(years_of_hours(2000, 2006), 2000, 2006)
    block = block_of(piece)
    lanes = block.weather.lanes
    count = LANE_HOURS * lanes
    begins = np.zeros((LANE_HOURS, lanes), dtype=bool)
    begins[0] = True
    setting = block.setting

    def windrow() -> object:
        return run(block.weather, setting.place, setting.windrow, equilibrium_starts=begins)

    rng = np.random.default_rng(2)
    given = {
        "tmean": rng.uniform(5, 30, count), "ea": rng.uniform(0.3, 1.5, count),
        "rs": rng.uniform(0, 3, count), "uz": rng.uniform(0.5, 5, count),
        "doy": rng.integers(120, 270, count), "time": rng.integers(0, 24, count),
    }  # fmt: skip

    def reference() -> object:
        return refet.Hourly(**given, zw=2.0, elev=1320.0, lat=43.2, lon=-120.6).etr()

    whole = count / seconds(lambda: nights_of(block), 1)
    pace, yardstick = count / seconds(windrow, 2), count / seconds(reference)
    ratio = pace / yardstick
    print(
        f"\n{lanes} lanes: windrow {pace:,.0f}, calls and counts with it {whole:,.0f}, "
        f"refet {yardstick:,.0f} site-hours/s; ratio {ratio:.3f}, aim {AIM}"
    )
    assert ratio >= LEAST_OF_REFERENCE


@pytest.mark.speed
@pytest.mark.parametrize("loop", GOAL_READINGS)
def test_years_from_file_to_answer(loop):
    """Read, judged, run, counted; seven columns; with the draws of the model's own doubt."""
    ratio, reading_s = times_of_reading(YEARS, loop)
    goal, most = GOAL_READINGS[loop], MOST_READINGS[loop]
    print(f"\n{YEARS} years by {loop}: {ratio:.1f} times reading ({reading_s:.3f} s); goal {goal}")
    assert ratio <= most


def pieces(sites: int, weather: HourlyWeather) -> Iterator[Piece]:
    """Sites one after the other, each of three years."""
    for number in range(sites):
        yield piece_of(weather, 2000, 2002, number)


@pytest.mark.speed
def test_twice_the_nights_take_twice_the_time_at_flat_memory():
    weather = years_of_hours(2000, 2002)

    def consume(sites: int) -> int:
        return sum(nights.count for _, nights in run_nights(pieces(sites, weather), cores=1))

    peaks, times = [], []
    for sites in (6, 12):
        times.append(seconds(lambda sites=sites: consume(sites), 2))
        tracemalloc.start()
        consume(sites)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    print(f"\ntime {times[1] / times[0]:.2f}, memory {peaks[0] / 1e6:.0f} {peaks[1] / 1e6:.0f} MB")
    assert times[1] / times[0] <= DOUBLED_TIMES
    assert peaks[1] / peaks[0] <= FLAT


@pytest.mark.long
def test_from_ten_thousand_nights_to_a_million():
    """Each doubling in at most 2.3 times the time; the process never grows by a sixth."""
    import resource

    weather = years_of_hours(2000, 2002)
    seconds_of, peak_of = {}, {}
    for count in (10_000, 20_000, 500_000, 1_000_000):
        begin = time.process_time()
        stream = run_nights(pieces(count // NIGHTS_A_SITE, weather), cores=1)
        found = sum(nights.count for _, nights in stream)
        seconds_of[found] = time.process_time() - begin
        peak_of[found] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        print(f"\n{found:,} nights: {seconds_of[found]:.1f} s, {peak_of[found] / 1024:.0f} MB")
    counts = list(seconds_of)
    for fewer, more in pairwise(counts):
        doublings = np.log2(more / fewer)
        assert seconds_of[more] / seconds_of[fewer] <= DOUBLED_TIMES**doublings
    assert peak_of[counts[-1]] / peak_of[counts[0]] <= FLAT
