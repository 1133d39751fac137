"""``hayweather tune``: fit the windrow to a farm's own readings."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.farm.records import Farm, UnitSystem
    from hayweather.learning.tune import Fit

FarmArgument = Annotated[
    Path, typer.Argument(metavar="FARM.toml", help=o.help_text("farm_file"), show_default=False)
]
ReadingsArgument = Annotated[
    Path,
    typer.Argument(metavar="READINGS.csv", help=o.help_text("readings_file"), show_default=False),
]
WriteOption = Annotated[bool, typer.Option("--write", help=o.help_text("write_tuning"))]
AtFieldOption = Annotated[bool, typer.Option("--weather-at-field", help=o.help_text("at_field"))]


def tune(
    farm_file: FarmArgument,
    readings_file: ReadingsArgument,
    write: WriteOption = False,
    at_field: AtFieldOption = False,
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
) -> None:
    """Fit the windrow to your own moisture readings."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from
    from hayweather.cli.write import SCREEN, write_all

    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        fit = _fitted(farm, readings_file, at_field=at_field)
        shown = _rendered(fit, farm, units or farm.units, format_ or "table")
        write_all([(out or SCREEN, shown)], farm.language)
        if write and fit.told:
            _write(farm_file, fit, farm)


def _fitted(farm: Farm, readings_file: Path, *, at_field: bool) -> Fit:
    """The fit of the readings in a file; their own errors come before the weather is fetched."""
    from hayweather.cli.load import weather_for
    from hayweather.learning.logs import fields_of, read_readings
    from hayweather.learning.tune import fit

    zones = {name: site.timezone for name, site in farm.sites.items()}
    readings = read_readings(readings_file, farm, zones)
    sites = dict.fromkeys(farm.fields[name].site for name in fields_of(readings))
    return fit(farm, weather_for(farm, sites), readings, at_field=at_field)


def _rendered(fit: Fit, farm: Farm, units: UnitSystem, format_: o.Format) -> str:
    """The fit in a format; the table to paste is always in the farm file's own units."""
    from hayweather.learning.tuning_text import fit_csv, fit_json, fit_text

    if format_ == "json":
        return fit_json(fit, farm)
    if format_ == "csv":
        return fit_csv(fit)
    return fit_text(fit, units, farm)


def _write(path: Path, fit: Fit, farm: Farm) -> None:
    """The table into the farm file."""
    from hayweather.learning.tuning_file import write_tuning

    backup = write_tuning(path, fit, farm.units)
    print(say("tune_written", farm.language, path=path, backup=backup), file=sys.stderr)
