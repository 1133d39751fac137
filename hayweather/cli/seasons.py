"""``hayweather seasons``: sites and years compared."""

from __future__ import annotations

import glob
import sys
import time
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.cli.progress import progress_line
from hayweather.errors import OptionError, OutputError
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.cli.write import Destinations, Written
    from hayweather.seasons.engine import Request
    from hayweather.seasons.grid.engine import GridRequest
    from hayweather.seasons.record.grid import GridSeasons
    from hayweather.seasons.record.results import Seasons
    from hayweather.seasons.record.sites import Sites

SitesFile = Annotated[
    Path, typer.Argument(metavar="SITES.toml", help=o.help_text("sites_file"), show_default=False)
]
YearsOption = Annotated[
    str | None, typer.Option("--years", metavar="A:B", help=o.help_text("seasons_years"))
]
MonthsOption = Annotated[
    str | None, typer.Option("--months", metavar="A:B", help=o.help_text("months"))
]
InputsOption = Annotated[bool, typer.Option("--inputs", help=o.help_text("inputs"))]


DetailOption = Annotated[bool, typer.Option("--detail", help=o.help_text("seasons_detail"))]


def _cores(text: str) -> int:
    """The number of cores to use."""
    try:
        return int(text)
    except ValueError:
        raise OptionError("seasons_cores", "--cores", value=o.as_given(text)) from None


CoresOption = Annotated[
    int | None, typer.Option("--cores", metavar="N", parser=_cores, help=o.help_text("cores"))
]
KeepOption = Annotated[
    Path | None, typer.Option("--keep", metavar="DIR", help=o.help_text("keep_blocks"))
]
SchedulerOption = Annotated[
    str | None, typer.Option("--scheduler", metavar="ADDRESS", help=o.help_text("scheduler"))
]
PICTURES = ("map", "calendar-*", "months-*", "sites", "pays")
"""What is added to the chart's name, a picture each."""


@dataclass(frozen=True)
class SeasonsOutput(o.Output):
    """The same with the pictures of seasons."""

    chart: Annotated[
        Path | None,
        typer.Option("--chart", metavar="PATH.png|.svg", help=o.help_text("seasons_chart")),
    ] = None
    nights: Annotated[
        Path | None,
        typer.Option("--nights", metavar="PATH.csv|.parquet", help=o.help_text("seasons_nights")),
    ] = None
    page: Annotated[
        Path | None, typer.Option("--page", metavar="PATH.html", help=o.help_text("seasons_page"))
    ] = None


@o.command
def seasons(
    sites_file: SitesFile,
    years: YearsOption = None,
    months: MonthsOption = None,
    inputs: InputsOption = False,
    detail: DetailOption = False,
    cores: CoresOption = None,
    keep: KeepOption = None,
    scheduler: SchedulerOption = None,
    *,
    output: SeasonsOutput,
    cautions: o.CautionsOption = False,
) -> None:
    """Sites and years compared."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.write import checked
    from hayweather.seasons.sites import read_sites

    file = read_sites(sites_file)
    with spoken_in(file.language):
        kind = "seasons" if file.grid is None else "grid"
        where = checked(kind, _without_nights(output), _read(file, sites_file), file.language)
        nights = output.nights
        if nights is not None:
            _check_nights(nights, where, grid=file.grid is not None)
        if output.chart is not None and file.grid is None:
            where.check_also([str(path) for path in _beside(output.chart)])
        from hayweather.seasons.engine import Request  # after the places: it takes a second
        from hayweather.seasons.mean_season import DRAWS

        if cores is not None and cores < 1:
            raise OptionError("seasons_cores", "--cores", value=cores)
        asked = Request(
            months=None if months is None else o.months_of(months),
            years=None if years is None else o.years_of(years),
            inputs=inputs,
            draws=DRAWS,
            cores=cores,
            keep=keep,
        )
        if file.grid is not None or scheduler is not None:
            answer_grid(file, asked, scheduler, where, cautions)
            return
        shown = _Shown(detail or inputs, cautions, nights)
        _answer(file, asked, where, shown)


def _read(file: Sites, path: Path) -> list[Path]:
    """Everything that the run reads."""
    grid = [] if file.grid is None else [file.grid.file]
    return [path, *grid, *(source for site in file.sites.values() for source in site.files)]


def _beside(chart: Path) -> list[Path]:
    """Pictures of an earlier run that the next one would replace."""
    if not chart.parent.is_dir():
        return []
    names = (f"{glob.escape(chart.stem)}-{part}{chart.suffix}" for part in PICTURES)
    return [found for name in names for found in chart.parent.glob(name)]


@dataclass(frozen=True)
class _Shown:
    """How much of the answer is shown, and where every night goes."""

    detail: bool
    all_cautions: bool
    nights: Path | None


def _without_nights(output: SeasonsOutput) -> o.Pictures:
    """The places that every command has."""
    places = {name: value for name, value in vars(output).items() if name != "nights"}
    return o.Pictures(**places)


def _check_nights(path: Path, where: Destinations, *, grid: bool) -> None:
    """Refuse a place for the nights before any work."""
    from hayweather.show.seasons_nights import PARQUET

    if grid:
        raise OptionError("grid_only_sites", "--nights")
    if path.suffix.lower() not in (".csv", *PARQUET):
        raise OptionError("nights_name", "--nights", value=path.name)
    if path.suffix.lower() in PARQUET and find_spec("pyarrow") is None:
        raise OptionError("nights_needs", "--nights")
    where.check_also([str(path)])


def _nights(made: Seasons, where: Destinations, path: Path) -> str | bytes:
    """Every night as a row, in the format of the file's ending."""
    from hayweather.show.seasons_nights import PARQUET, nights_csv, nights_parquet

    if path.suffix.lower() in PARQUET:
        return nights_parquet(made, where.units)
    return nights_csv(made, where.units, raw=where.raw)


def _answer(file: Sites, asked: Request, where: Destinations, shown: _Shown) -> None:
    """Run all nights and write the answer; of a run that was stopped, what is finished.

    Raises
    ------
    KeyboardInterrupt
        After the answer is written, where the user stopped the run.
    """
    from hayweather.seasons.engine import make_seasons, together

    _check_keep(asked.keep)
    try:
        made = make_seasons(file, _with_progress(asked, file.language))
    except OSError as problem:
        raise _not_kept(asked.keep, problem) from None
    if made.unfinished:
        _say_stopped(made)
    if made.sites:
        results: Written = [(where.place, _rendered(made, where, shown))]
        if shown.nights is not None:
            results.append((str(shown.nights), _nights(made, where, shown.nights)))
        results += _pictures(made, where.units, where.chart)
        if where.page is not None:
            results.append((str(where.page), _page(made, where.units)))
        where.write(results)
    if made.unfinished:
        raise KeyboardInterrupt("said")
    if made.left_out:
        raise together(made.left_out)


def _check_keep(keep: Path | None) -> None:
    """Make the folder for finished nights, or refuse it before any work."""
    if keep is None:
        return
    try:
        keep.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise _not_kept(keep, problem) from None


def _not_kept(keep: Path | None, problem: OSError) -> Exception:
    """What to say of a folder that cannot be written; other trouble as it is."""
    if keep is None:
        return problem
    return OutputError("seasons_keep", str(keep), reason=problem.strerror or str(problem))


def _with_progress(asked: Request, language: str) -> Request:
    """The request with a bar on standard error where that is a terminal."""
    from dataclasses import replace

    if not sys.stderr.isatty():
        return asked
    return replace(asked, progress=progress_line(language, time.monotonic))


def _say_stopped(made: Seasons) -> None:
    """What a stopped run keeps."""
    done = sum(site.pooled.nights - site.pooled.missing for site in made.sites)
    print("\n" + say("seasons_stopped", made.file.language, done=done), file=sys.stderr)


def _rendered(made: Seasons, where: Destinations, shown: _Shown) -> str:
    """The answer in a format."""
    from hayweather.show.seasons_data import seasons_csv, seasons_json
    from hayweather.show.seasons_text import seasons_text

    if where.form == "json":
        return seasons_json(made, where.units)
    if where.form == "csv":
        return seasons_csv(made, where.units, raw=where.raw)
    return seasons_text(
        made, where.units, o.text_width(), detail=shown.detail, all_cautions=shown.all_cautions
    )


def _pictures(made: Seasons, units: o.Units | None, chart: Path | None) -> Written:
    """Every picture beside the name given, as the bytes of its file."""
    if chart is None:
        return []
    from hayweather.show.chart import figure_bytes
    from hayweather.show.seasons_chart import season_figures

    return [
        (str(chart.with_stem(f"{chart.stem}-{name}")), figure_bytes(draw(), chart.suffix))
        for name, draw in season_figures(made, units)
    ]


def _page(made: Seasons, units: o.Units | None) -> str:
    """The page."""
    from hayweather.show.page import seasons_page

    return seasons_page(made, units)


def answer_grid(
    file: Sites, asked: Request, scheduler: str | None, where: Destinations, all_cautions: bool
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
    where
        Where the answer goes.
    all_cautions
        Whether text ends with all cautions, not the short ones.

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
    for name, value in (("page", where.page), ("inputs", asked.inputs)):
        if value:
            raise OptionError("grid_only_sites", f"--{name}")
    made = make_grid(file, file.grid, _request(asked, scheduler, file.language))
    if made.unfinished and asked.keep is None:
        print("\n" + say("grid_stopped", file.language), file=sys.stderr)
    results: Written = [(where.place, _rendered_grid(made, where, all_cautions))]
    if where.chart is not None:
        results.append((str(where.chart), _picture(made, where.chart, where.units)))
    where.write(results)
    if made.unfinished:
        raise KeyboardInterrupt("said")


def _request(asked: Request, scheduler: str | None, language: str) -> GridRequest:
    """What is asked of a grid, with a bar on standard error where that is a terminal."""
    from hayweather.seasons.engine import SEASON_NORTH
    from hayweather.seasons.grid.engine import GridRequest

    bar = progress_line(language, time.monotonic, "grid_progress") if sys.stderr.isatty() else None
    return GridRequest(
        months=asked.months or SEASON_NORTH,
        years=asked.years,
        cores=asked.cores,
        scheduler=scheduler,
        keep=asked.keep,
        progress=bar,
    )


def _rendered_grid(made: GridSeasons, where: Destinations, all_cautions: bool) -> str | bytes:
    """The answer in a format."""
    from hayweather.show.grid import (
        ENDINGS,
        ZARR,
        grid_csv,
        grid_json,
        grid_netcdf,
        grid_text,
        grid_zarr,
    )

    if where.format is None and Path(where.out or "").suffix.lower() in ENDINGS:
        zipped = str(where.out).lower().endswith(ZARR)
        return grid_zarr(made, where.units) if zipped else grid_netcdf(made, where.units)
    if where.form == "json":
        return grid_json(made, where.units)
    if where.form == "csv":
        return grid_csv(made, where.units, raw=where.raw)
    return grid_text(made, where.units, o.text_width(), all_cautions=all_cautions)


def _picture(made: GridSeasons, path: Path, units: o.Units | None) -> bytes:
    """The map as the bytes of its file."""
    from hayweather.show.chart import figure_bytes
    from hayweather.show.seasons_chart import grid_map

    return figure_bytes(grid_map(made, units), path.suffix)
