"""``hayweather seasons``: sites and years compared."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.cli.progress import progress_line
from hayweather.cli.spans import months_of, years_of
from hayweather.errors import OptionError, OutputError
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.cli.write import Written
    from hayweather.seasons.engine import Request
    from hayweather.seasons.record.results import Seasons
    from hayweather.seasons.record.sites import Sites

SitesFile = Annotated[
    Path, typer.Argument(metavar="SITES.toml", help=o.help_text("sites_file"), show_default=False)
]
YearsOption = Annotated[
    str | None, typer.Option("--years", metavar="A:B", help=o.help_text("seasons_years"))
]
MonthsOption = Annotated[str, typer.Option("--months", metavar="A:B", help=o.help_text("months"))]
InputsOption = Annotated[bool, typer.Option("--inputs", help=o.help_text("inputs"))]


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
ChartOption = Annotated[
    Path | None,
    typer.Option("--chart", metavar="PATH.png|.svg", help=o.help_text("seasons_chart")),
]
PageOption = Annotated[
    Path | None, typer.Option("--page", metavar="PATH.html", help=o.help_text("seasons_page"))
]


def seasons(
    sites_file: SitesFile,
    years: YearsOption = None,
    months: MonthsOption = "5:9",
    inputs: InputsOption = False,
    cores: CoresOption = None,
    keep: KeepOption = None,
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
    chart: ChartOption = None,
    page: PageOption = None,
    cautions: o.CautionsOption = False,
    scheduler: SchedulerOption = None,
) -> None:
    """Sites and years compared."""
    from hayweather.cli.carry import check_names
    from hayweather.cli.language import spoken_in
    from hayweather.cli.write import SCREEN, check_places
    from hayweather.seasons.engine import Request
    from hayweather.seasons.sites import read_sites

    file = read_sites(sites_file)
    with spoken_in(file.language):
        check_names(chart=chart, page=page)
        if cores is not None and cores < 1:
            raise OptionError("seasons_cores", "--cores", value=cores)
        check_places([out or SCREEN, *([str(page)] if page is not None else [])], [sites_file])
        asked = Request(
            months=months_of(months),
            years=None if years is None else years_of(years),
            inputs=inputs,
            cores=cores,
            keep=keep,
        )
        output = SeasonsOutput(units, format_, out or SCREEN, chart, page, cautions)
        if file.grid is not None or scheduler is not None:
            from hayweather.cli.grid import answer_grid

            answer_grid(file, asked, scheduler, output)
            return
        _answer(file, asked, output)


@dataclass(frozen=True)
class SeasonsOutput:
    """Where the answer goes and how it looks; without a format, the ending of `out` tells it."""

    units: o.Units | None
    format: o.Format | None
    out: str
    chart: Path | None
    page: Path | None
    all_cautions: bool


def _answer(file: Sites, asked: Request, output: SeasonsOutput) -> None:
    """Run all nights and write the answer; of a run that was stopped, what is finished.

    Raises
    ------
    KeyboardInterrupt
        After the answer is written, where the user stopped the run.
    """
    from hayweather.cli.write import write_all
    from hayweather.seasons.engine import make_seasons

    _check_keep(asked.keep)
    try:
        made = make_seasons(file, _with_progress(asked, file.language))
    except OSError as problem:
        raise _not_kept(asked.keep, problem) from None
    if made.unfinished:
        _say_stopped(made)
    if made.sites:
        results: Written = [(output.out, _rendered(made, output))]
        results += _pictures(made, output.units, output.chart)
        if output.page is not None:
            results.append((str(output.page), _page(made, output.units)))
        write_all(results, file.language)
    if made.unfinished:
        raise KeyboardInterrupt


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


def _rendered(made: Seasons, output: SeasonsOutput) -> str:
    """The answer in a format."""
    from hayweather.show.seasons_data import seasons_csv, seasons_json
    from hayweather.show.seasons_text import seasons_text

    if (form := output.format or o.format_of(output.out)) == "json":
        return seasons_json(made, output.units)
    if form == "csv":
        return seasons_csv(made, output.units)
    width = o.text_width()
    return seasons_text(made, output.units, width, all_cautions=output.all_cautions)


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
