"""``hayweather seasons`` of a sites file with a grid: many cells in place of sites."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from hayweather.cli import options as o
from hayweather.cli.write import Written, check_places, write_all
from hayweather.errors import OptionError
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.cli.seasons import SeasonsOutput
    from hayweather.seasons.engine import Request
    from hayweather.seasons.grid.engine import GridRequest
    from hayweather.seasons.record.grid import GridSeasons
    from hayweather.seasons.record.sites import Sites


def answer_grid(file: Sites, asked: Request, scheduler: str | None, output: SeasonsOutput) -> None:
    """Run a grid and write its answer; what is finished is kept when the user stops it.

    Parameters
    ----------
    file
        A sites file with a grid.
    asked
        Months, years, cores and the folder of finished blocks.
    scheduler
        Address of a dask scheduler.
    output
        Where the answer goes.

    Raises
    ------
    OptionError
        If an option is given that a grid has no use for, or a scheduler for sites.
    KeyboardInterrupt
        After the answer is written, where the run was stopped.
    """
    from hayweather.seasons.grid.engine import make_grid

    if file.grid is None:
        raise OptionError("grid_not_for_sites", "--scheduler")
    for name, value in (("page", output.page), ("inputs", asked.inputs)):
        if value:
            raise OptionError("grid_only_sites", f"--{name}")
    places = [output.out, *([str(output.chart)] if output.chart is not None else [])]
    check_places(places, [file.grid.file])
    made = make_grid(file, file.grid, _request(asked, scheduler, file.language))
    if made.unfinished and asked.keep is None:
        print("\n" + say("grid_stopped", file.language), file=sys.stderr)
    results: Written = [(output.out, _rendered(made, output))]
    if output.chart is not None:
        results.append((str(output.chart), _picture(made, output.chart, output.units)))
    write_all(results, file.language)
    if made.unfinished:
        raise KeyboardInterrupt


def _request(asked: Request, scheduler: str | None, language: str) -> GridRequest:
    """What is asked of a grid, with a bar on standard error where that is a terminal."""
    import time

    from hayweather.cli.progress import progress_line
    from hayweather.seasons.grid.engine import GridRequest

    bar = progress_line(language, time.monotonic, "grid_progress") if sys.stderr.isatty() else None
    return GridRequest(
        months=asked.months,
        years=asked.years,
        cores=asked.cores,
        scheduler=scheduler,
        keep=asked.keep,
        progress=bar,
    )


def _rendered(made: GridSeasons, output: SeasonsOutput) -> str | bytes:
    """The answer in a format."""
    from hayweather.show.grid import ENDINGS, grid_csv, grid_json, grid_netcdf, grid_text

    if output.format is None and Path(output.out).suffix.lower() in ENDINGS:
        return grid_netcdf(made, output.units)
    if (form := output.format or o.format_of(output.out)) == "json":
        return grid_json(made, output.units)
    if form == "csv":
        return grid_csv(made, output.units)
    return grid_text(made, output.units, o.text_width(), all_cautions=output.all_cautions)


def _picture(made: GridSeasons, path: Path, units: o.Units | None) -> bytes:
    """The map as the bytes of its file."""
    from hayweather.show.chart import figure_bytes
    from hayweather.show.seasons_chart import grid_map

    return figure_bytes(grid_map(made, units), path.suffix)
