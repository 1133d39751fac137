"""A grid parted into blocks of cells, shared out to workers, and kept when finished."""

from __future__ import annotations

import logging
import signal
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice, product
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from hayweather.errors import OptionError, WeatherFileError
from hayweather.seasons.blocks import fingerprint, read_kept, write_kept
from hayweather.seasons.grid.axes import open_grid, stamp_of
from hayweather.seasons.grid.cells import GridJob, tally_cells
from hayweather.seasons.grid.columns import GridLayout
from hayweather.seasons.record.grid import CellTallies, Counts

if TYPE_CHECKING:
    import xarray as xr
    from distributed import Client


TILE_CELLS = 20  # finished and kept together; small enough to lose little


@dataclass(frozen=True)
class Tile:
    """A block of neighboring cells.

    Attributes
    ----------
    dims
        Dimensions of the grid besides time.
    spans
        First and one-past-last cell along each.
    """

    dims: tuple[str, ...]
    spans: tuple[tuple[int, int], ...]

    def of(self, dataset: xr.Dataset) -> xr.Dataset:
        """This block of a dataset, not read yet."""
        return dataset.isel(
            {dim: slice(*span) for dim, span in zip(self.dims, self.spans, strict=True)}
        )

    def cells(self, shape: Sequence[int]) -> Counts:
        """Places of its cells in the flattened grid."""
        if not shape:
            return np.zeros(1, dtype=np.int64)
        ranges = [np.arange(*span) for span in self.spans]
        return np.ravel_multi_index(np.ix_(*ranges), tuple(shape)).ravel().astype(np.int64)


def tiles_of(dataset: xr.Dataset, layout: GridLayout, cells: int = TILE_CELLS) -> list[Tile]:
    """The blocks of a grid, each of at most `cells` cells.

    Parameters
    ----------
    dataset, layout
        The file and what it says.
    cells
        Cells of a block; a chunk of the file is not parted unless it holds more.
    """
    dims, shape = layout.space.dims, layout.space.shape
    air = dataset[layout.variables["air_temperature_c"].name]
    chunks = air.encoding.get("preferred_chunks") or {}
    size = tile_shape(shape, [chunks.get(dim) for dim in dims], cells)
    starts = [range(0, whole, step) for whole, step in zip(shape, size, strict=True)]
    return [
        Tile(
            dims,
            tuple(
                (first, min(first + step, whole))
                for first, step, whole in zip(corner, size, shape, strict=True)
            ),
        )
        for corner in product(*starts)
    ]


def tile_shape(shape: Sequence[int], chunks: Sequence[int | None], cells: int) -> tuple[int, ...]:
    """Cells of a block along each dimension.

    A chunk, halved along its longest side until it holds no more than `cells`;
    where the file has no chunks, part of a row.

    Examples
    --------
    >>> tile_shape((40, 25), (10, 25), 50), tile_shape((40, 25), (None, None), 20)
    ((5, 7), (1, 20))
    """
    if any(chunk is None for chunk in chunks):
        return tuple(1 if place < len(shape) - 1 else min(cells, whole)
                     for place, whole in enumerate(shape))  # fmt: skip
    size = [min(int(chunk or 1), whole) for chunk, whole in zip(chunks, shape, strict=True)]
    while size and np.prod(size) > cells:
        longest = int(np.argmax(size))
        size[longest] = -(-size[longest] // 2)
        if max(size) == 1:
            break
    return tuple(size)


@dataclass(frozen=True)
class TallyStore:
    """A folder of finished blocks; `name` tells one job on one state of a file from another."""

    folder: Path
    name: str

    @classmethod
    def of(cls, folder: Path, job: GridJob) -> TallyStore:
        """The store of a job in a folder."""
        return cls(folder, fingerprint((job, stamp_of(job.choice.file))))

    def path(self, tile: Tile) -> Path:
        """Where a block is kept."""
        return self.folder / f"grid-{fingerprint((self.name, tile))}.npz"

    def read(self, tile: Tile) -> CellTallies | None:
        """A finished block; None where there is none, or its file is damaged."""
        return read_kept(self.path(tile), CellTallies)

    def write(self, tile: Tile, tallies: CellTallies) -> None:
        """Keep a finished block, whole or not at all."""
        write_kept(tallies, self.path(tile))


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
