"""``hayweather seasons``: sites and years compared."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.errors import OptionError
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.seasons.engine import Request
    from hayweather.seasons.record.results import Seasons

PAGE_ENDINGS = (".html", ".htm")
CHART_ENDINGS = (".png", ".svg")
MOST_OVER_NEW_YEAR = 6
SitesFile = Annotated[
    Path, typer.Argument(metavar="SITES.toml", help=o.help_text("sites_file"), show_default=False)
]
YearsOption = Annotated[
    str | None, typer.Option("--years", metavar="A:B", help=o.help_text("seasons_years"))
]
MonthsOption = Annotated[str, typer.Option("--months", metavar="A:B", help=o.help_text("months"))]
InputsOption = Annotated[bool, typer.Option("--inputs", help=o.help_text("inputs"))]
CoresOption = Annotated[int | None, typer.Option("--cores", help=o.help_text("cores"))]
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
    from hayweather.cli.language import spoken_in
    from hayweather.cli.write import SCREEN, check_places, write_all
    from hayweather.seasons.engine import Request, make_seasons
    from hayweather.seasons.sites import read_sites

    file = read_sites(sites_file)
    with spoken_in(file.language):
        _check_endings(chart, page)
        if cores is not None and cores < 1:
            raise OptionError("seasons_cores", "--cores", value=cores)
        check_places([out or SCREEN, *([str(page)] if page is not None else [])])
        asked = Request(
            months=months_of(months),
            years=None if years is None else years_of(years),
            inputs=inputs,
            cores=cores,
            keep=keep,
        )
        if file.grid is not None or scheduler is not None:
            from hayweather.cli.grid import GridOutput, answer_grid

            show = GridOutput(units, format_ or o.format_of(out), out or SCREEN, chart, cautions)
            answer_grid(file, asked, scheduler, show, page=page, inputs=inputs)
            return
        made = make_seasons(file, _with_progress(asked, file.language))
        if made.unfinished:
            _say_stopped(made)
        if not made.sites:
            raise KeyboardInterrupt
        text = _rendered(made, units, format_ or o.format_of(out), all_cautions=cautions)
        results: list[tuple[str, str | bytes]] = [(out or SCREEN, text)]
        results += _pictures(made, units, chart)
        if page is not None:
            results.append((str(page), _page(made, units)))
        write_all(results, file.language)
    if made.unfinished:
        raise KeyboardInterrupt


def _check_endings(chart: Path | None, page: Path | None) -> None:
    """Refuse names of pictures and pages that are none, before any work."""
    if chart is not None and chart.suffix.lower() not in CHART_ENDINGS:
        raise OptionError("chart_name", "--chart", value=chart.name)
    if page is not None and page.suffix.lower() not in PAGE_ENDINGS:
        raise OptionError("seasons_page_name", "--page", value=page.name)


def years_of(text: str) -> tuple[int, int]:
    """First and last year of ``A:B`` or ``A``.

    Raises
    ------
    OptionError
        If it is none, or the first comes after the last.
    """
    begin, _, end = text.partition(":")
    shown = " ".join(text.split())[:40]
    try:
        first, last = int(begin), int(end or begin)
    except ValueError:
        raise OptionError("seasons_years_unread", "--years", value=shown) from None
    if not 1800 <= first <= last <= 2200:
        raise OptionError("seasons_years_unread", "--years", value=shown)
    return first, last


def months_of(text: str) -> tuple[int, ...]:
    """Months of ``A:B`` or ``A``; over the new year where the first is the larger.

    Raises
    ------
    OptionError
        If it is no span of months, or one over the new year so long that it
        will be meant the other way round.

    Examples
    --------
    >>> months_of("11:2")
    (11, 12, 1, 2)
    """
    begin, _, end = text.partition(":")
    try:
        first, last = int(begin), int(end or begin)
    except ValueError:
        first = last = 0
    if not (1 <= first <= 12 and 1 <= last <= 12):
        shown = " ".join(text.split())[:40]
        raise OptionError("seasons_months_unread", "--months", value=shown)
    if first <= last:
        return tuple(range(first, last + 1))
    found = (*range(first, 13), *range(1, last + 1))
    if len(found) > MOST_OVER_NEW_YEAR:
        raise OptionError(
            "seasons_months_many",
            "--months",
            value=f"{first}:{last}",
            count=len(found),
            most=MOST_OVER_NEW_YEAR,
            other=f"{last}:{first}",
        )
    return found


def _with_progress(asked: Request, language: str) -> Request:
    """The request with a bar on standard error where that is a terminal."""
    from dataclasses import replace

    if not sys.stderr.isatty():
        return asked
    return replace(asked, progress=progress_line(language, time.monotonic))


def progress_line(
    language: str, clock: Callable[[], float], words: str = "seasons_progress"
) -> Callable[[int, int], None]:
    """Draws nights done, all nights, and the time left at the pace so far."""
    begin = clock()

    def show(done: int, total: int) -> None:
        filled = round(30 * done / max(total, 1))
        left = (clock() - begin) * (total - done) / max(done, 1)
        text = say(words, language, done=done, total=total, left=time_left(left))
        end = "\n" if done >= total else ""
        print(f"\r[{'#' * filled}{'.' * (30 - filled)}] {text}   ", end=end, file=sys.stderr)
        sys.stderr.flush()

    return show


def time_left(seconds: float) -> str:
    """A length of time, roughly.

    Examples
    --------
    >>> time_left(42.0), time_left(200.0), time_left(9000.0)
    ('42 s', '3 min', '2.5 h')
    """
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"


def _say_stopped(made: Seasons) -> None:
    """What a stopped run keeps."""
    done = sum(site.pooled.nights - site.pooled.missing for site in made.sites)
    print("\n" + say("seasons_stopped", made.file.language, done=done), file=sys.stderr)


def _rendered(
    made: Seasons, units: o.Units | None, format_: o.Format, *, all_cautions: bool
) -> str:
    """The answer in a format."""
    from hayweather.report.season_json import seasons_csv, seasons_json
    from hayweather.report.season_text import seasons_text

    if format_ == "json":
        return seasons_json(made, units)
    if format_ == "csv":
        return seasons_csv(made, units)
    return seasons_text(made, units, o.text_width(), all_cautions=all_cautions)


def _pictures(
    made: Seasons, units: o.Units | None, chart: Path | None
) -> list[tuple[str, str | bytes]]:
    """Every picture beside the name given, as the bytes of its file."""
    if chart is None:
        return []
    import tempfile

    from hayweather.report.chart import save_figure
    from hayweather.report.season_chart import season_figures

    found: list[tuple[str, str | bytes]] = []
    ending = chart.suffix.lower()
    with tempfile.TemporaryDirectory() as folder:
        drawn = Path(folder, f"picture{ending}")
        for name, draw in season_figures(made, units):
            save_figure(draw(), drawn)
            found.append((str(chart.with_name(f"{chart.stem}-{name}{ending}")), drawn.read_bytes()))
    return found


def _page(made: Seasons, units: o.Units | None) -> str:
    """The page."""
    from hayweather.report.season_page import seasons_page

    return seasons_page(made, units)
