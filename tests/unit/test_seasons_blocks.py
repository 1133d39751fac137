"""Blocks of nights: cut to size, the same on one core or several, in order."""

import os
import pickle
import pickletools
import signal
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import fields, replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from support.nights import hourly

from hayweather.baling.setting import setting_for
from hayweather.farm.records import Baler, Field, Site, WeatherChoice
from hayweather.seasons import blocks, nights
from hayweather.seasons.blocks import Piece, batches_of, block_of, run_nights, usable_cores
from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.nights import Block, cuts_of, nights_of
from hayweather.seasons.record.nights import Missing, Nights, join_nights, unknown_nights
from hayweather.seasons.record.sites import ASSUMED_RIG, SeasonSite, Sites
from hayweather.seasons.sites import farm_of, read_sites
from hayweather.weather.record import HourlyWeather

SITE = Site("bench", 40.0, -105.0, 1500.0, "America/Denver")
CAPACITY = 13_000.0


def piece(nights: int = 5, label: int = 3, crop: str = "alfalfa") -> Piece:
    """Some nights of a made-up July whose dew point rises from dry to dewy."""
    hours = 24 * (nights + 4)
    clock = np.arange(hours)
    weather = hourly(
        hours,
        air_temperature_c=18 + 10 * np.cos(2 * np.pi * (clock - 22) / 24),
        dew_point_c=np.linspace(-5, 12, hours),
    )
    series = HourlyWeather(
        np.array([np.datetime64("2024-07-01", "s")]), weather.columns, 2.0, weather.source
    )
    days = [date(2024, 7, 3) + timedelta(days=number) for number in range(nights)]
    field = Field("windrow", "bench", cured=True, crop=crop)
    file = Sites("file", {}, field, Baler("baler"), ASSUMED_RIG, rig_is_assumed=True)
    farm = farm_of(file, SeasonSite(SITE, (), WeatherChoice(service=None)))
    setting = setting_for(farm, field, SITE, series.start[0])
    cuts = cuts_of(series, str(SITE.timezone), SITE.latitude, SITE.longitude, days)
    return Piece(label, series, cuts, setting, CAPACITY)


def same(left: Nights, right: Nights) -> bool:
    """Whether two answers agree in every number."""
    return all(
        np.array_equal(
            getattr(left, item.name),
            getattr(right, item.name),
            equal_nan=getattr(left, item.name).dtype.kind == "f",
        )
        for item in fields(Nights)
    )


@pytest.mark.parametrize(("size", "counts"), [(3, [3, 3, 2]), (4, [4, 4]), (8, [8]), (20, [8])])
def test_blocks_are_cut_to_size_and_none_is_empty(size, counts):
    cut = list(batches_of([piece(5, label=1), piece(3, label=2)], size))
    assert [batch.labels.size for batch in cut] == counts
    assert np.concatenate([batch.labels for batch in cut]).tolist() == [1] * 5 + [2] * 3


def test_nights_of_several_bands_run_together_and_are_called_each_by_its_own(monkeypatch):
    """As each gives in a block of its own, however many are called at a time."""
    first, second = piece(2, label=1), piece(4, label=2)
    band = second.setting.band
    higher = replace(band, low_wb=band.low_wb + 1, high_wb=band.high_wb + 1)
    second = replace(second, setting=replace(second.setting, band=higher))
    apart = [nights_of(block_of(each)) for each in (first, second, first)]
    assert not same(apart[1].only(np.arange(2)), apart[0])
    for called in (2, 1000):
        monkeypatch.setattr(nights, "CALLED", called)
        (batch,) = batches_of([first, second, first], 10)
        assert batch.labels.tolist() == [1, 1, 2, 2, 2, 2, 1, 1]
        assert same(nights_of(batch.block), join_nights(apart))


SAMPLES = Path(__file__).parents[2] / "sample_forecasts" / "seasons"


def test_what_is_kept_answers_until_an_hour_a_setting_or_the_version_changes(tmp_path, monkeypatch):
    """Files read anew each time; which sites are run is told by the blocks that are."""
    for name in ("bench", "meadow"):
        text = (SAMPLES / f"{name}_2023.csv").read_text()
        (tmp_path / f"{name}.csv").write_text(text)
    run: list[str] = []

    def seen(block: Block, loop: str) -> Nights:
        run.append(block.setting.site.name)
        return unknown_nights(block.cuts.evening, Missing.NOT_RUN)

    monkeypatch.setattr(blocks, "nights_of", seen)

    def ran(bench: str = "bench.csv", windrow: str = "") -> set[str]:
        """Sites of which any night is run."""
        place = 'elevation = 1320\nwind_height = 2\ntimezone = "America/Los_Angeles"\n'
        (tmp_path / "sites.toml").write_text(
            '[farm]\nname = "Two"\nunits = "metric"\n'
            f'[site.bench]\nlatitude = 43.2\nlongitude = -120.6\n{place}weather = "{bench}"\n'
            f"[site.meadow]\nlatitude = 43.0\nlongitude = -121.2\n{place}"
            f'weather = "meadow.csv"\n{windrow}'
        )
        run.clear()
        asked = Request(cores=1, keep=tmp_path / "kept", months=(7,))
        make_seasons(read_sites(tmp_path / "sites.toml"), asked)
        return set(run)

    assert ran() == {"bench", "meadow"}
    assert ran() == set()
    (tmp_path / "bench.csv").rename(tmp_path / "moved.csv")
    assert ran(bench="moved.csv") == set()
    text = (tmp_path / "moved.csv").read_text()
    at = text.index("2023-07-15T09:00")
    line = text[at : text.index("\n", at)]
    time, air, *rest = line.split(",")
    touched = ",".join([time, f"{float(air) + 0.1:.1f}", *rest])
    (tmp_path / "moved.csv").write_text(text.replace(line, touched))
    assert ran(bench="moved.csv") == {"bench"}
    assert ran(windrow="[windrow]\nndf = 39\n", bench="moved.csv") == {"bench", "meadow"}
    monkeypatch.setattr(blocks, "__version__", "another")
    assert ran(bench="moved.csv") == {"bench", "meadow"}
    assert ran(bench="moved.csv") == set()


def test_the_name_of_a_block_hangs_on_no_order_of_a_set():
    """Sets come in another order in every process; a name with one would never be found again."""
    content = pickle.dumps(block_of(piece()), protocol=5)
    codes = {code.name for code, _, _ in pickletools.genops(content)}
    assert not codes & {"EMPTY_SET", "ADDITEMS", "FROZENSET"}


def threads(cores: int) -> Executor:
    """A pool that begins at once, whether or not the compiled loop is there."""
    return ThreadPoolExecutor(cores)


@cache
def alone() -> Nights:
    """The nights of a piece as one block."""
    return nights_of(block_of(piece()))


def test_several_blocks_on_several_cores_give_what_one_gives_in_the_same_order(monkeypatch):
    monkeypatch.setattr(blocks, "_pool", threads)
    found = list(run_nights([piece()], size=3, cores=2))
    assert [labels.tolist() for labels, _ in found] == [[3] * 3, [3] * 2]
    assert np.unique(alone().dew_h).size > 2
    assert same(join_nights([nights for _, nights in found]), alone())


@pytest.mark.parametrize(("size", "loops"), [(2, ["auto", "later", "later"]), (20, ["auto"])])
@pytest.mark.parametrize("cores", [1, 2])
def test_the_first_block_alone_chooses_its_loop(monkeypatch, cores, size, loops):
    if cores == 2:  # the one block of a short run needs no second core
        monkeypatch.setattr(blocks, "_pool", threads)
        loops = ["later"] * 3 if len(loops) > 1 else loops
    chosen = []

    def seen(block, loop):
        chosen.append(loop)
        return unknown_nights(block.cuts.evening, Missing.NOT_RUN)

    monkeypatch.setattr(blocks, "nights_of", seen)
    monkeypatch.setattr(blocks, "loop_of_blocks", lambda hours: "later")
    found = list(run_nights([piece()], size=size, cores=cores))
    assert sum(labels.size for labels, _ in found) == 5
    assert chosen == loops


def test_a_run_that_is_given_up_runs_no_block_that_has_not_begun(monkeypatch):
    monkeypatch.setattr(blocks, "_pool", threads)
    run = []

    def counted(block, loop):
        run.append(block)
        return unknown_nights(block.cuts.evening, Missing.NOT_RUN)

    monkeypatch.setattr(blocks, "nights_of", counted)
    stream = run_nights([piece(40)], size=1, cores=2)
    _, first = next(stream)
    assert first.evening.tolist() == [date(2024, 7, 3)]
    stream.close()
    assert len(run) <= 1 + blocks.AHEAD * 2


def test_threads_for_the_compiled_loop_and_processes_without(monkeypatch):
    for compiled, kind in ((True, ThreadPoolExecutor), (False, ProcessPoolExecutor)):
        monkeypatch.setattr(blocks, "has_compiled_loop", lambda found=compiled: found)
        with blocks._pool(2) as pool:
            assert isinstance(pool, kind)


def test_a_process_of_the_pool_does_not_hear_the_user_stop():
    before = signal.getsignal(signal.SIGINT)
    try:
        blocks._leave_stopping_to_parent()
        assert signal.getsignal(signal.SIGINT) == signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


def test_cores_are_those_that_the_system_leaves_to_this_process(monkeypatch):
    monkeypatch.setattr(os, "sched_getaffinity", lambda process: {0, 3, 5}, raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 8)
    assert usable_cores() == 3


@pytest.mark.parametrize(("counted", "expected"), [(6, 6), (None, 1)])
def test_cores_are_counted_where_the_system_does_not_tell_which_are_ours(
    monkeypatch, counted, expected
):
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: counted)
    assert usable_cores() == expected


def test_losses_of_a_crop_that_has_no_published_ones_are_not_told():
    assert np.isfinite(alone().dew_loss).any()
    grass = nights_of(block_of(piece(1, crop="grass")))
    for name in ("dew_loss", "rig_loss", "dry_loss"):
        assert np.isnan(getattr(grass, name)).all()


def test_nights_without_a_rig_are_refused():
    made = block_of(piece(1))
    without = replace(made, setting=replace(made.setting, rig=None))
    with pytest.raises(ValueError, match="with a rig"):
        nights_of(without)
