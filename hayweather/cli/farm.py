"""``hayweather farm`` and ``hayweather sample``: a file to start from, a whole farm to try."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.cli.options import Speech, Units, command, help_text
from hayweather.words import default_language, say

if TYPE_CHECKING:
    from hayweather.farm.records import Language, Site, UnitSystem

AtOption = Annotated[
    str | None, typer.Option("--at", metavar="LAT,LON", help=help_text("starter_at"))
]

NEXT = {"us-nws": "farm_next_us", "open-meteo": "farm_next_metric"}
"""What the service of the starter still wants."""


@command
def farm(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help=help_text("folder"), show_default=False)
    ] = Path(),
    at: AtOption = None,
    units: Annotated[Units, typer.Option("--units", help=help_text("starter_units"))] = "us",
    language: Annotated[
        Speech | None, typer.Option("--language", help=help_text("language"))
    ] = None,
    offline: o.OfflineOption = False,
    weather_url: o.WeatherUrlOption = None,
) -> None:
    """Write farm.toml, a commented starter."""
    from hayweather.cli.language import spoken_in
    from hayweather.farm.starter import service_for, write_starter

    spoken = language or default_language()
    with spoken_in(spoken):
        place = None if at is None else _place(at, units, spoken, offline, weather_url)
        path = write_starter(folder, units, spoken, place)
    print(say("farm_written" if place else "farm_written_no_place", spoken, path=path),
          file=sys.stderr)  # fmt: skip
    print(say(NEXT[service_for(units, place)], spoken), file=sys.stderr)


def _place(
    text: str, units: UnitSystem, language: Language, offline: bool, url: str | None
) -> Site:
    """The place of ``LAT,LON`` with the zone and elevation that the starter's service tells.

    Where it tells none, the service says both with its forecasts; it is said why.
    """
    from hayweather.cli.fetching import site_at
    from hayweather.errors import HayweatherError
    from hayweather.farm.records import WeatherChoice
    from hayweather.farm.starter import service_for
    from hayweather.weather.asked import settings_for, wall_clock
    from hayweather.weather.services import resolve_place

    site = site_at(text)
    choice = WeatherChoice(service=service_for(units, site))
    try:
        found = resolve_place(
            choice, site, settings_for(choice, url), offline=offline, now=wall_clock()
        )
    except HayweatherError as problem:
        reason = problem.line(language)
        print(say("farm_place_unknown", language, reason=reason), file=sys.stderr)
        return site
    return replace(site, timezone=found.timezone, elevation_m=found.elevation_m)


@command
def sample(
    folder: Annotated[
        Path, typer.Argument(metavar="DIR", help=help_text("sample_folder"), show_default=False)
    ] = Path("sample_forecasts"),
) -> None:
    """Write the sample farm."""
    from hayweather.sample import write_sample

    spoken = default_language()
    first = write_sample(folder)
    print(say("sample_written", spoken, folder=folder, path=first[spoken]), file=sys.stderr)
