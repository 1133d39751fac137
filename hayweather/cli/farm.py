"""``hayweather farm``: a farm file to start from."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from hayweather.cli.options import Speech, Units, command, help_text
from hayweather.words import default_language, say


@command
def farm(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help=help_text("folder"), show_default=False)
    ] = Path(),
    units: Annotated[Units, typer.Option("--units", help=help_text("starter_units"))] = "us",
    language: Annotated[
        Speech | None, typer.Option("--language", help=help_text("language"))
    ] = None,
) -> None:
    """Write farm.toml, a commented starter."""
    from hayweather.cli.language import spoken_in
    from hayweather.farm.starter import write_starter

    spoken = language or default_language()
    with spoken_in(spoken):
        path = write_starter(folder, units, spoken)
    print(say("farm_written", spoken, path=path), file=sys.stderr)
    print(say(f"farm_next_{units}", spoken), file=sys.stderr)
