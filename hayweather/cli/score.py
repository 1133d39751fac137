"""``hayweather score``: past outlooks against what happened."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.cli.tune import FarmArgument, NowOption
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.farm.records import Farm, UnitSystem
    from hayweather.learning.score import Score

DEFAULT_KEPT = Path("outlooks")
MOST_NAMED = 3  # files that are no outlooks, named on standard error
LogArgument = Annotated[Path, typer.Argument(metavar="LOG.csv", help=o.help_text("log_file"))]
KeptOption = Annotated[Path, typer.Option("--kept", metavar="DIR", help=o.help_text("kept"))]
ReadingsOption = Annotated[
    Path | None,
    typer.Option("--readings", metavar="READINGS.csv", help=o.help_text("score_readings")),
]


def score(
    farm_file: FarmArgument,
    log_file: LogArgument,
    kept: KeptOption = DEFAULT_KEPT,
    readings: ReadingsOption = None,
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
    now: NowOption = None,
    cautions: o.CautionsOption = False,
) -> None:
    """How past outlooks did against what happened."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from, files_of
    from hayweather.cli.write import SCREEN, check_places, write_all

    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        check_places([out or SCREEN], [*files_of(farm), log_file, readings])
        made = _scored(farm, log_file, kept, readings, now)
        text = _rendered(
            made, farm, units or farm.units, format_ or o.format_of(out), all_cautions=cautions
        )
        write_all([(out or SCREEN, text)], farm.language)


def _scored(
    farm: Farm, log_file: Path, folder: Path, readings_file: Path | None, now: str | None
) -> Score:
    """The score of the outlooks in a folder."""
    from hayweather.cli.load import until
    from hayweather.learning.keep import load_kept
    from hayweather.learning.logs import noted_before, read_log, read_readings
    from hayweather.learning.score import score as scored

    zones = {name: site.timezone for name, site in farm.sites.items()}
    last = until(farm, now)
    log = noted_before(read_log(log_file, farm, zones), last, log_file.name)
    readings = [] if readings_file is None else read_readings(readings_file, farm, zones)
    kept, other = load_kept(folder)
    if other:
        names = ", ".join(other[:MOST_NAMED])
        print(say("score_skipped", farm.language, count=len(other), names=names), file=sys.stderr)
    return scored(kept, log, [item for item in readings if last is None or item.end <= last])


def _rendered(
    made: Score, farm: Farm, units: UnitSystem, format_: o.Format, *, all_cautions: bool
) -> str:
    """The score in a format; units decide about the clock alone."""
    from hayweather.show.voice import Voice

    voice, invented = Voice(farm.language, units, "UTC"), farm.weather.invented
    if format_ == "json":
        from hayweather.show.score import score_json

        return score_json(made, voice, farm.name, invented=invented)
    if format_ == "csv":
        from hayweather.show.score import score_csv

        return score_csv(made, voice, farm.name)
    from hayweather.show.score import score_text

    return score_text(
        made, voice, farm.name, o.text_width(), invented=invented, all_cautions=all_cautions
    )
