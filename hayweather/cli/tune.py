"""``hayweather tune``: fit the windrow to a farm's own readings."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.farm.records import Farm, UnitSystem
    from hayweather.learning.tune import Fit

FarmArgument = Annotated[
    Path, typer.Argument(metavar="FARM.toml", help=o.help_text("learning_farm"))
]
ReadingsArgument = Annotated[
    Path, typer.Argument(metavar="READINGS.csv", help=o.help_text("readings_file"))
]
WriteOption = Annotated[bool, typer.Option("--write", help=o.help_text("write_tuning"))]
AtFieldOption = Annotated[bool, typer.Option("--weather-at-field", help=o.help_text("at_field"))]
WeatherOption = Annotated[
    Path | None,
    typer.Option("--weather", metavar="WEATHER.csv", help=o.help_text("tune_weather")),
]
NowOption = Annotated[
    str | None, typer.Option("--now", metavar="TIME", help=o.help_text("learning_now"))
]


def tune(
    farm_file: FarmArgument,
    readings_file: ReadingsArgument,
    write: WriteOption = False,
    weather: WeatherOption = None,
    at_field: AtFieldOption = False,
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
    now: NowOption = None,
    cautions: o.CautionsOption = False,
) -> None:
    """Fit the windrow to your own moisture readings."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from, files_of
    from hayweather.cli.write import SCREEN, check_places, write_all

    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        check_places([out or SCREEN], [*files_of(farm), readings_file, weather])
        fit = _fitted(farm, readings_file, weather, now, at_field=at_field)
        shown = _rendered(
            fit, farm, units or farm.units, format_ or o.format_of(out), all_cautions=cautions
        )
        write_all([(out or SCREEN, shown)], farm.language)
        if write:
            _write(farm_file, fit, farm)


def _fitted(
    farm: Farm, readings_file: Path, weather: Path | None, now: str | None, *, at_field: bool
) -> Fit:
    """The fit of the readings in a file; their own errors come before the weather is fetched."""
    from hayweather.cli.load import until, weather_for
    from hayweather.learning.logs import fields_of, noted_before, read_readings
    from hayweather.learning.tune import fit

    zones = {name: site.timezone for name, site in farm.sites.items()}
    readings = read_readings(readings_file, farm, zones)
    readings = noted_before(readings, until(farm, now), readings_file.name)
    sites = dict.fromkeys(farm.fields[name].site for name in fields_of(readings))
    if weather is not None:
        farm = replace(farm, weather=replace(farm.weather, file=weather))
    return fit(farm, weather_for(farm, sites), readings, at_field=at_field)


def _rendered(
    fit: Fit, farm: Farm, units: UnitSystem, format_: o.Format, *, all_cautions: bool
) -> str:
    """The fit in a format; the table to paste is always in the farm file's own units."""
    from hayweather.show.voice import Voice

    voice, invented = Voice(farm.language, units, "UTC"), farm.weather.invented
    if format_ == "json":
        from hayweather.show.tune import tune_json

        return tune_json(fit, voice, farm.name, farm.units, invented=invented)
    if format_ == "csv":
        from hayweather.show.tune import tune_csv

        return tune_csv(fit)
    from hayweather.show.tune import tune_text

    return tune_text(
        fit,
        voice,
        farm.name,
        farm.units,
        o.text_width(),
        invented=invented,
        all_cautions=all_cautions,
    )


def _write(path: Path, fit: Fit, farm: Farm) -> None:
    """The table into the farm file, where there is one to write."""
    from hayweather.learning.tuning_file import write_tuning

    if not fit.told:
        print(say("tune_not_needed", farm.language), file=sys.stderr)
        return
    backup = write_tuning(path, fit, farm.units)
    print(say("tune_written", farm.language, path=path, backup=backup), file=sys.stderr)
