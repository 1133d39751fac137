"""Blocks of a grid shared out to workers in this process; what goes wrong is said in one line."""

import signal
import sys
import threading
from collections.abc import Iterator
from dataclasses import fields, replace
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import distributed
import numpy as np
import pytest
from distributed.scheduler import KilledWorker
from support.grids import choice, grid_weather, shared, written

from hayweather.errors import OptionError, WeatherFileError
from hayweather.seasons.grid import engine, sharing
from hayweather.seasons.grid.cells import GridJob
from hayweather.seasons.grid.engine import GridRequest, make_grid
from hayweather.seasons.grid.sharing import Tile, finished_tiles
from hayweather.seasons.record.grid import CellTallies

JULY = GridRequest(months=(7,), cores=1)
DIMS = ("latitude", "longitude")
FOUR = [Tile(DIMS, ((row, row + 1), (0, 2))) for row in range(4)]
in_threads = partial(distributed.LocalCluster, processes=False)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three days of July on four cells."""
    place = tmp_path_factory.mktemp("grid")
    written(grid_weather(2, 2, first="2021-07-01", days=3), place / "weather.nc")
    return place


@pytest.fixture
def job(folder: Path) -> GridJob:
    return GridJob(shared(folder), choice(folder / "weather.nc"), (7,), (2021,))


@pytest.fixture(scope="module")
def scheduler() -> Iterator[str]:
    """Address of a scheduler with two workers, threads of this process."""
    with in_threads(n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0") as running:
        yield running.scheduler_address


def counted(job: GridJob, tile: Tile) -> CellTallies:
    """Stands for the work on a block: its first row, as latitude."""
    row = np.full(2, float(tile.spans[0][0]))
    return CellTallies(*([row] * len(fields(CellTallies))))


def test_every_block_is_done_once_however_few_are_handed_out(scheduler, job, monkeypatch):
    monkeypatch.setattr(sharing, "tally_tile", counted)
    monkeypatch.setattr(sharing, "AHEAD", 1)  # two at a time of four
    found = dict(finished_tiles(FOUR, job, cores=1, scheduler=scheduler))
    assert set(found) == set(FOUR)
    assert all(made.latitude[0] == tile.spans[0][0] for tile, made in found.items())


def test_a_block_over_which_workers_end_is_said(scheduler, job, monkeypatch):
    def lost(job, tile):
        raise KilledWorker("block", SimpleNamespace(address="the last"), 3)

    monkeypatch.setattr(sharing, "tally_tile", lost)
    with pytest.raises(WeatherFileError, match="workers ended several times"):
        list(finished_tiles(FOUR, job, cores=1, scheduler=scheduler))


def test_workers_of_this_machine_end_with_the_work(job, monkeypatch):
    begun = []

    def recorded(**how):
        begun.append(in_threads(**how))
        return begun[0]

    monkeypatch.setattr(distributed, "LocalCluster", recorded)
    monkeypatch.setattr(sharing, "tally_tile", counted)
    found = dict(finished_tiles(FOUR, job, cores=2, scheduler=None))
    assert set(found) == set(FOUR)
    assert len(begun[0].workers) == 0
    assert begun[0].status == distributed.Status.closed


def test_an_address_that_is_none_is_named(job):
    with pytest.raises(OptionError, match="nowhere://x does not answer") as caught:
        list(finished_tiles(FOUR, job, cores=1, scheduler="nowhere://x"))
    assert "\n" not in caught.value.line("es")


def test_without_the_package_for_workers_the_extra_is_named(job, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(WeatherFileError, match=r"hayweather\[grid\]"):
        list(finished_tiles(FOUR, job, cores=2, scheduler=None))


def test_workers_do_not_hear_the_user_stop_while_they_begin():
    before = signal.getsignal(signal.SIGINT)
    with sharing._interrupts_left_to_parent():
        assert signal.getsignal(signal.SIGINT) == signal.SIG_IGN
    assert signal.getsignal(signal.SIGINT) == before
    heard = []

    def elsewhere() -> None:
        with sharing._interrupts_left_to_parent():
            heard.append(signal.getsignal(signal.SIGINT))

    thread = threading.Thread(target=elsewhere)  # where signals cannot be set
    thread.start()
    thread.join()
    assert heard == [before]


def test_stopped_before_any_block_is_a_stop(folder, monkeypatch):
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(engine, "finished_tiles", stopped)
    with pytest.raises(KeyboardInterrupt):
        make_grid(shared(folder), choice(folder / "weather.nc"), JULY)


def test_years_and_months_without_hours_and_those_that_are_asked_for(folder, monkeypatch):
    asked = []

    def seen(tiles, job, **_: object) -> Iterator[tuple[Tile, CellTallies]]:
        asked.append(job.years)
        yield from ((tile, counted(job, tile)) for tile in FOUR[:2])

    monkeypatch.setattr(engine, "finished_tiles", seen)
    picked = choice(folder / "weather.nc", timezone="America/Denver")
    made = make_grid(shared(folder), picked, replace(JULY, years=(2020, 2022)))
    assert asked == [(2020, 2021, 2022)]
    keys = {note.key for note in made.notes}
    assert "grid_zone_of_sun" not in keys
    assert {"cloud_from_sun", "cloud_unknown"}.isdisjoint(keys)
    assert "sun_from_cloud" in keys
    with pytest.raises(WeatherFileError, match="no hours in the months asked for"):
        make_grid(shared(folder), picked, replace(JULY, months=(1,)))
