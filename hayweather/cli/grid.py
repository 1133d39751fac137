"""``hayweather seasons`` of a sites file with a grid: many cells in place of sites."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hayweather.cli import options as o
from hayweather.cli.write import check_places, write_all
from hayweather.errors import OptionError
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.seasons.engine import Request
    from hayweather.seasons.grid.engine import GridRequest
    from hayweather.seasons.record.grid import GridSeasons
    from hayweather.seasons.record.sites import Sites


@dataclass(frozen=True)
class GridOutput:
    """Where the answer of a grid goes and how it looks.

    `format` None leaves it to the ending of `out`, which may be that of NetCDF.
    """

    units: o.Units | None
    format: o.Format | None
    out: str
    chart: Path | None
    cautions: bool


def answer_grid(
    file: Sites, asked: Request, scheduler: str | None, output: GridOutput, **for_sites: object
) -> None:
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
    **for_sites
        Options that a grid has no use for.

    Raises
    ------
    OptionError
        If one of these is given, or a scheduler for sites.
    KeyboardInterrupt
        After the answer is written, where the run was stopped.
    """
    from hayweather.seasons.grid.engine import make_grid

    if file.grid is None:
        raise OptionError("grid_not_for_sites", "--scheduler")
    for name, value in for_sites.items():
        if value:
            raise OptionError("grid_only_sites", f"--{name}")
    check_places([output.out, *([str(output.chart)] if output.chart is not None else [])])
    made = make_grid(file, file.grid, _request(asked, scheduler, file.language))
    if made.unfinished and asked.keep is None:
        print("\n" + say("grid_stopped", file.language), file=sys.stderr)
    results: list[tuple[str, str | bytes]] = [(output.out, _rendered(made, output))]
    if output.chart is not None:
        results.append((str(output.chart), _picture(made, output.chart, output.units)))
    write_all(results, file.language)
    if made.unfinished:
        raise KeyboardInterrupt


def _request(asked: Request, scheduler: str | None, language: str) -> GridRequest:
    """What is asked of a grid, with a bar on standard error where that is a terminal."""
    import time

    from hayweather.cli.seasons import progress_line
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


def _rendered(made: GridSeasons, output: GridOutput) -> str | bytes:
    """The answer in a format."""
    from hayweather.report.grid_form import grid_csv, grid_json
    from hayweather.report.grid_netcdf import ENDINGS, grid_netcdf
    from hayweather.report.grid_text import grid_text

    if output.format is None and Path(output.out).suffix.lower() in ENDINGS:
        return grid_netcdf(made, output.units)
    if (form := output.format or o.format_of(output.out)) == "json":
        return grid_json(made, output.units)
    if form == "csv":
        return grid_csv(made, output.units)
    return grid_text(made, output.units, o.text_width(), all_cautions=output.cautions)


def _picture(made: GridSeasons, path: Path, units: o.Units | None) -> bytes:
    """The map as the bytes of its file."""
    import tempfile

    from hayweather.report.chart import save_figure
    from hayweather.report.grid_map import grid_map

    with tempfile.TemporaryDirectory() as folder:
        drawn = Path(folder, f"map{path.suffix.lower()}")
        save_figure(grid_map(made, units), drawn)
        return drawn.read_bytes()
