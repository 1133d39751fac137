"""A grid on dask workers: same numbers as in one process, a killed worker loses nothing.

Some tens of cells here; `python -m endurance.grid` (from tests/) runs the full size.
"""

import os
import signal
import threading
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import psutil
import pytest
from support.grids import choice, grid_weather, shared, written

from hayweather.errors import OptionError
from hayweather.seasons.grid.engine import GridRequest, make_grid
from hayweather.seasons.record.grid import CellTallies, GridSeasons

pytestmark = [pytest.mark.long, pytest.mark.filterwarnings("ignore::ResourceWarning")]
JULY = GridRequest(months=(7,), cores=1, tile_cells=4)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("grid")
    weather = grid_weather(5, 8, first="2021-06-28", days=35)
    weather["t2m"][:, 4, 7] = np.nan
    written(weather, place / "weather.zarr", (420, 2, 4))
    written(weather, place / "weather.nc")
    return place


@pytest.fixture(scope="module")
def alone(folder: Path) -> GridSeasons:
    return make_grid(shared(folder), choice(folder / "weather.zarr"), JULY)


def same(left: CellTallies, right: CellTallies) -> bool:
    """Whether two answers agree to 1e-9 in every number."""
    return all(
        np.allclose(
            getattr(left, item.name), getattr(right, item.name), rtol=0, atol=1e-9, equal_nan=True
        )
        for item in fields(CellTallies)
    )


@pytest.mark.parametrize("kind", ["zarr", "nc"])
@pytest.mark.parametrize("cells", [7, 20])
def test_two_workers_give_what_one_process_gives(folder, alone, kind, cells):
    asked = replace(JULY, cores=2, tile_cells=cells)
    made = make_grid(shared(folder), choice(folder / f"weather.{kind}"), asked)
    assert same(made.tallies, alone.tallies)


def test_any_scheduler_serves(folder, alone):
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0"
    ) as cluster:
        asked = replace(JULY, cores=None, scheduler=cluster.scheduler_address)
        made = make_grid(shared(folder), choice(folder / "weather.zarr"), asked)
    assert same(made.tallies, alone.tallies)


def test_a_scheduler_that_does_not_answer_is_named(folder, monkeypatch):
    from hayweather.seasons.grid import sharing

    monkeypatch.setattr(sharing, "ANSWER_S", 1)
    asked = replace(JULY, scheduler="tcp://127.0.0.1:9")
    with pytest.raises(OptionError, match="does not answer"):
        make_grid(shared(folder), choice(folder / "weather.zarr"), asked)


def test_a_worker_killed_midway_loses_nothing(folder, alone, tmp_path):
    from distributed import LocalCluster

    killed = []
    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0"
    ) as cluster:
        victim = next(iter(cluster.workers.values())).pid

        def kill_once(done: int, total: int) -> None:
            if 0 < done < total and not killed:
                os.kill(victim, signal.SIGKILL)
                killed.append(done)

        asked = replace(
            JULY,
            scheduler=cluster.scheduler_address,
            keep=tmp_path / "kept",
            progress=kill_once,
        )
        made = make_grid(shared(folder), choice(folder / "weather.zarr"), asked)
        assert not psutil.pid_exists(victim) or psutil.Process(victim).status() == "zombie"
    assert killed
    assert not made.unfinished
    assert same(made.tallies, alone.tallies)
    assert len(list(asked.keep.glob("*.npz"))) == 12


def test_stopped_by_the_user_and_begun_again(folder, alone, tmp_path):
    """Ctrl-C in the middle: what is finished is kept, the rest follows on the next run."""
    asked = replace(JULY, cores=2, keep=tmp_path / "kept")
    main = threading.main_thread().ident
    assert main is not None

    def stop(done: int, total: int) -> None:
        if done:
            signal.pthread_kill(main, signal.SIGINT)

    stopped = make_grid(
        shared(folder), choice(folder / "weather.zarr"), replace(asked, progress=stop)
    )
    assert stopped.unfinished
    finished = len(list(asked.keep.glob("*.npz")))
    assert 0 < finished < 12
    whole = make_grid(shared(folder), choice(folder / "weather.zarr"), asked)
    assert same(whole.tallies, alone.tallies)
