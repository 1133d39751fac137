"""From a gridded file to the whole answer: part it, share it out, keep it, join it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from hayweather.errors import WeatherFileError
from hayweather.seasons.blocks import usable_cores
from hayweather.seasons.grid.axes import open_grid
from hayweather.seasons.grid.cells import GridJob
from hayweather.seasons.grid.columns import GridLayout, layout_of
from hayweather.seasons.grid.sharing import (
    TILE_CELLS,
    Finished,
    TallyStore,
    Tile,
    finished_tiles,
    tiles_of,
)
from hayweather.seasons.nights import years_with_hours
from hayweather.seasons.past_hours import derived_notes
from hayweather.seasons.record.grid import CellTallies, GridSeasons, join_tallies
from hayweather.seasons.record.sites import GridChoice, Sites
from hayweather.words import Remark

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class GridRequest:
    """What is asked of a grid, and how the work is done.

    Attributes
    ----------
    months
        Months, 1 to 12.
    years
        First and last year; None for all that the file has.
    cores
        Workers on this machine; None is every core, 1 stays in this process.
    scheduler
        Address of a dask scheduler that does the work instead.
    keep
        A folder in which finished blocks are kept, and found again.
    tile_cells
        Cells of a block.
    progress
        Called with cells done and all cells.
    """

    months: tuple[int, ...] = (5, 6, 7, 8, 9)
    years: tuple[int, int] | None = None
    cores: int | None = None
    scheduler: str | None = None
    keep: Path | None = None
    tile_cells: int = TILE_CELLS
    progress: Progress | None = None


def make_grid(file: Sites, choice: GridChoice, request: GridRequest | None = None) -> GridSeasons:
    """The seasons of all cells of a gridded file.

    An interruption by the user keeps what is finished: the other cells are
    absent, and `GridSeasons.unfinished` is True.

    Parameters
    ----------
    file
        What the cells share: windrow, baler, rig.
    choice
        The weather, and what it does not tell itself.
    request
        Months, years, how the work is done.

    Raises
    ------
    WeatherFileError, OptionError
        If the weather cannot be read, or a scheduler does not answer.
    KeyboardInterrupt
        If the user stops it before anything is finished.
    """
    asked = request or GridRequest()
    with open_grid(choice.file) as dataset:
        layout = layout_of(dataset, choice)
        tiles = tiles_of(dataset, layout, asked.tile_cells)
    job = GridJob(file, choice, asked.months, _years(layout, asked))
    found: list[Finished] = []
    try:
        _run(tiles, job, asked, found, layout.space.count)
    except KeyboardInterrupt:
        if not found:
            raise
    cells, tallies = _in_order(found, layout.space.shape)
    return GridSeasons(
        file=file,
        choice=choice,
        months=asked.months,
        years=job.years,
        shape=layout.space.shape,
        cells=cells,
        tallies=tallies,
        rain_known="rain_mm" in layout.has,
        notes=_notes(layout),
    )


def _years(layout: GridLayout, asked: GridRequest) -> tuple[int, ...]:
    """Years asked for, or every year that has hours in the months asked for."""
    if asked.years is not None:
        first, last = asked.years
        return tuple(range(first, last + 1))
    years = years_with_hours(layout.clock.stamps, asked.months)
    if not years:
        raise WeatherFileError("grid_no_evening", layout.choice.file.name)
    return tuple(years)


def _run(
    tiles: list[Tile], job: GridJob, asked: GridRequest, found: list[Finished], total: int
) -> None:
    """Add every block to what was found, kept ones first."""
    store = None if asked.keep is None else TallyStore.of(asked.keep, job)
    kept = {} if store is None else {tile: store.read(tile) for tile in tiles}
    found += [(tile, tallies) for tile, tallies in kept.items() if tallies is not None]
    left = [tile for tile in tiles if kept.get(tile) is None]
    show = asked.progress or (lambda done, of: None)
    done = sum(tallies.count for _, tallies in found)
    show(done, total)
    cores = usable_cores() if asked.cores is None else asked.cores
    for tile, tallies in finished_tiles(left, job, cores=cores, scheduler=asked.scheduler):
        if store is not None:
            store.write(tile, tallies)
        found.append((tile, tallies))
        done += tallies.count
        show(done, total)


def _in_order(found: list[Finished], shape: tuple[int, ...]) -> tuple[np.ndarray, CellTallies]:
    """Cells in the order of the grid, whatever the order of the blocks."""
    cells = np.concatenate([tile.cells(shape) for tile, _ in found])
    joined = join_tallies([tallies for _, tallies in found])
    order = np.argsort(cells)
    return cells[order], joined.only(order)


def _notes(layout: GridLayout) -> tuple[Remark, ...]:
    """What was derived or assumed for all cells."""
    notes: list[Remark] = [*derived_notes(layout.has)]
    if layout.choice.timezone is None:
        notes.append(Remark("grid_zone_of_sun"))
    return tuple(notes)
