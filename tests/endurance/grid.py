"""A grid of full size through dask: 1,000 cells and 10 years of made-up weather.

``python -m endurance.grid FOLDER [ROWS COLUMNS YEARS [MONTH ...]]`` from tests/
writes the weather into a store, runs it in one process and on two workers of
which one is killed midway, compares both answers, prints what they took in time
and memory, and leaves the answer as NetCDF in the folder (for a CF checker).
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import fields
from datetime import date
from pathlib import Path

import numpy as np
import psutil
from support.grids import choice, grid_weather, shared

from hayweather.seasons.grid.engine import GridRequest, make_grid
from hayweather.seasons.record.grid import CellTallies, GridSeasons
from hayweather.show.grid import grid_netcdf

FIRST_YEAR = 2011
CHUNK = (1464, 5, 5)


@contextmanager
def largest_memory() -> Iterator[dict[str, float]]:
    """Largest resident memory [MB], looked at twice a second: of this process, of one worker."""
    here, over = psutil.Process(), threading.Event()
    found = {"this process": 0.0, "a worker": 0.0}

    def look() -> None:
        while not over.wait(0.5):
            found["this process"] = max(found["this process"], here.memory_info().rss / 1e6)
            for child in here.children(recursive=True):
                try:
                    found["a worker"] = max(found["a worker"], child.memory_info().rss / 1e6)
                except psutil.Error:  # the killed one
                    continue

    thread = threading.Thread(target=look)
    thread.start()
    try:
        yield found
    finally:
        over.set()
        thread.join()


def write_store(folder: Path, rows: int, columns: int, years: int) -> Path:
    """The weather of all years as a store, a year at a time; found again where it is whole."""
    path = folder / f"weather_{rows}_{columns}_{years}.zarr"
    if (folder / f"{path.name}.whole").exists():
        return path
    for year in range(FIRST_YEAR, FIRST_YEAR + years):
        days = (date(year + 1, 1, 1) - date(year, 1, 1)).days
        part = grid_weather(rows, columns, first=f"{year}-01-01", days=days, seed=year)
        if year == FIRST_YEAR:
            encoding = {name: {"chunks": CHUNK} for name in part.data_vars if name != "orog"}
            part.to_zarr(path, mode="w", encoding=encoding, consolidated=True, zarr_format=2)
        else:
            part.drop_vars("orog").to_zarr(path, append_dim="time", consolidated=True)
    (folder / f"{path.name}.whole").touch()
    return path


def with_a_killed_worker(
    folder: Path, path: Path, keep: Path, months: tuple[int, ...]
) -> tuple[GridSeasons, float, int]:
    """The answer of two workers of which one is killed at a third; seconds; cells done by then."""
    from distributed import LocalCluster

    killed: list[int] = []
    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address="127.0.0.1:0"
    ) as cluster:
        victim = next(iter(cluster.workers.values())).pid

        def kill_once(done: int, total: int) -> None:
            if 3 * done > total and not killed:
                os.kill(victim, signal.SIGKILL)
                killed.append(done)

        asked = GridRequest(
            months, scheduler=cluster.scheduler_address, keep=keep, progress=kill_once
        )
        begin = time.perf_counter()
        made = make_grid(shared(folder), choice(path), asked)
        return made, time.perf_counter() - begin, killed[0]


def apart(left: CellTallies, right: CellTallies) -> float:
    """Largest difference of any number; what is unknown in one must be in the other."""
    worst = 0.0
    for item in fields(CellTallies):
        a, b = getattr(left, item.name), getattr(right, item.name)
        if not np.array_equal(np.isnan(a), np.isnan(b)):
            return float("inf")
        worst = max(worst, float(np.nanmax(np.abs(a - b))))
    return worst


def main(folder: Path, rows: int = 40, columns: int = 25, years: int = 10, *months: int) -> None:
    """Write, run twice, compare, print."""
    folder.mkdir(parents=True, exist_ok=True)
    asked = months or GridRequest().months
    begin = time.perf_counter()
    path = write_store(folder, rows, columns, years)
    print(f"weather ready in {time.perf_counter() - begin:.0f} s", flush=True)
    begin = time.perf_counter()
    with largest_memory() as memory:
        alone = make_grid(shared(folder), choice(path), GridRequest(asked, cores=1))
    nights = int(alone.tallies.nights.sum())
    print(
        f"one process: {time.perf_counter() - begin:.0f} s, {nights:,} nights, {memory}", flush=True
    )
    keep = folder / f"kept_{time.time_ns()}"
    with largest_memory() as memory:
        made, seconds, done = with_a_killed_worker(folder, path, keep, asked)
    print(f"two workers, one killed after {done} cells: {seconds:.0f} s, {memory}")
    print(f"{len(list(keep.glob('*.npz')))} blocks kept")
    print(f"largest difference: {apart(made.tallies, alone.tallies):.3g}")
    (folder / "answer.nc").write_bytes(grid_netcdf(made))


if __name__ == "__main__":
    main(Path(sys.argv[1]), *(int(value) for value in sys.argv[2:]))
