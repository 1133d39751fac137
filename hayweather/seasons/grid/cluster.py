"""Blocks of a grid shared out: in this process, on its cores, or on any dask scheduler."""

from __future__ import annotations

import logging
import signal
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from typing import TYPE_CHECKING

from hayweather.errors import OptionError, WeatherFileError
from hayweather.seasons.grid.cells import GridJob, tally_cells
from hayweather.seasons.grid.opening import open_grid
from hayweather.seasons.grid.tiles import Tile
from hayweather.seasons.record.grid import CellTallies

if TYPE_CHECKING:
    from distributed import Client

AHEAD = 3  # blocks handed out for each worker
ANSWER_S = 20

Finished = tuple[Tile, CellTallies]


def tally_tile(job: GridJob, tile: Tile) -> CellTallies:
    """One block from the file to its counts; what every worker runs.

    Parameters
    ----------
    job
        What is asked; a worker must reach its file under the same path.
    tile
        Which cells.
    """
    with open_grid(job.choice.file) as dataset:
        return tally_cells(tile.of(dataset), job)


def finished_tiles(
    tiles: Sequence[Tile], job: GridJob, *, cores: int, scheduler: str | None
) -> Iterator[Finished]:
    """Blocks as they are finished, in any order.

    Parameters
    ----------
    tiles, job
        What is to do.
    cores
        Workers on this machine; 1 needs no dask.
    scheduler
        Address of a dask scheduler; its workers do the work.

    Raises
    ------
    OptionError
        If the scheduler does not answer.
    WeatherFileError
        If a worker finds something wrong with the file, or several were lost
        over one block.
    """
    if scheduler is None and (cores == 1 or len(tiles) < 2):
        for tile in tiles:
            yield tile, tally_tile(job, tile)
        return
    with _client(cores, scheduler, job) as client:
        yield from _from_client(client, tiles, job)


@contextmanager
def _client(cores: int, scheduler: str | None, job: GridJob) -> Iterator[Client]:
    """A client of a scheduler, or of a cluster on this machine that ends with it."""
    try:
        from distributed import Client, LocalCluster
    except ImportError:
        raise WeatherFileError("grid_not_installed", job.choice.file.name) from None
    if scheduler is not None:
        try:
            client = Client(scheduler, timeout=ANSWER_S, set_as_default=False)
        except (OSError, ValueError) as problem:
            reason = " ".join(str(problem).split())[:120]
            where = "--scheduler"
            raise OptionError("grid_scheduler", where, value=scheduler, reason=reason) from None
        with client:
            yield client
        return
    with _interrupts_left_to_parent():
        cluster = LocalCluster(
            n_workers=cores,
            threads_per_worker=1,
            dashboard_address="127.0.0.1:0",
            silence_logs=logging.CRITICAL,
        )
    with cluster, Client(cluster, set_as_default=False) as client:
        yield client


@contextmanager
def _interrupts_left_to_parent() -> Iterator[None]:
    """Processes begun meanwhile do not hear Ctrl-C: the one that began them ends them."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _from_client(client: Client, tiles: Sequence[Tile], job: GridJob) -> Iterator[Finished]:
    """Blocks from the workers; a lost worker's blocks are done by another."""
    from distributed import as_completed
    from distributed.scheduler import KilledWorker

    left = iter(tiles)
    waiting = {}
    ahead = AHEAD * max(sum(client.nthreads().values()), 1)
    for tile in islice(left, ahead):
        waiting[client.submit(tally_tile, job, tile, pure=False)] = tile
    done = as_completed(list(waiting), loop=client.loop)
    for future in done:
        tile = waiting.pop(future)
        try:
            tallies = future.result()
        except KilledWorker:
            raise WeatherFileError("grid_worker_lost", job.choice.file.name) from None
        for following in islice(left, 1):
            submitted = client.submit(tally_tile, job, following, pure=False)
            waiting[submitted] = following
            done.add(submitted)
        yield tile, tallies
