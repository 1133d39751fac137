"""``hayweather score``: past outlooks against what happened."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.errors import OptionError
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.farm.records import Farm
    from hayweather.learning.score import Score

DEFAULT_KEPT = Path("outlooks")
FarmArgument = Annotated[
    Path, typer.Argument(metavar="FARM.toml", help=o.help_text("farm_file"), show_default=False)
]
LogArgument = Annotated[
    Path, typer.Argument(metavar="LOG.csv", help=o.help_text("log_file"), show_default=False)
]
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
    format_: o.FormatOption = None,
    out: o.OutOption = None,
) -> None:
    """How past outlooks did against what happened."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from
    from hayweather.cli.write import SCREEN, write_all

    if format_ == "csv":
        raise OptionError("score_csv", "--format")
    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        made = _scored(farm, log_file, kept, readings)
        text = _rendered(made, farm, format_ or "table")
        write_all([(out or SCREEN, text)], farm.language)


def _scored(farm: Farm, log_file: Path, folder: Path, readings_file: Path | None) -> Score:
    """The score of the outlooks in a folder."""
    from hayweather.learning.keep import load_kept
    from hayweather.learning.logs import read_log, read_readings
    from hayweather.learning.score import score as scored

    zones = {name: site.timezone for name, site in farm.sites.items()}
    log = read_log(log_file, farm, zones)
    readings = [] if readings_file is None else read_readings(readings_file, farm, zones)
    kept, other = load_kept(folder)
    if other:
        names = ", ".join(other[:3])
        print(say("score_skipped", farm.language, count=len(other), names=names), file=sys.stderr)
    return scored(kept, log, readings)


def _rendered(made: Score, farm: Farm, format_: o.Format) -> str:
    """The score in a format."""
    from hayweather.learning.score_text import score_json, score_text

    return score_json(made, farm) if format_ == "json" else score_text(made, farm)
