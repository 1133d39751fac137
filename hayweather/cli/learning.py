"""Commands that learn from what happened: ``hayweather tune``, ``score`` and ``learn``."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.cli.write import Destinations
    from hayweather.farm.records import Farm, UnitSystem
    from hayweather.learning.learn import Learned
    from hayweather.learning.score import Score
    from hayweather.learning.tune import Fit

FarmArgument = Annotated[
    Path, typer.Argument(metavar="FARM.toml", help=o.help_text("learning_farm"))
]
ReadingsArgument = Annotated[
    Path | None,
    typer.Argument(metavar="READINGS.csv", help=o.help_text("readings_file"), show_default=False),
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


@o.command
def tune(
    farm_file: FarmArgument,
    readings_file: ReadingsArgument = None,
    write: WriteOption = False,
    weather: WeatherOption = None,
    at_field: AtFieldOption = False,
    now: NowOption = None,
    *,
    output: o.Output,
    cautions: o.CautionsOption = False,
) -> None:
    """Fit the windrow to your own moisture readings."""
    from hayweather.cli.guard import check_kind
    from hayweather.cli.load import answering

    with answering("tune", farm_file, output, readings_file, weather) as (farm, where):
        if write:
            check_kind(farm_file)
        fit = _fitted(farm, readings_file, weather, now, at_field=at_field)
        shown = _tuned(fit, farm, output.units or farm.units, where, all_cautions=cautions)
        where.write([(where.place, shown)])
        if write:
            _write(farm_file, fit, farm)


def _fitted(
    farm: Farm, readings_file: Path | None, weather: Path | None, now: str | None, *, at_field: bool
) -> Fit:
    """The fit of readings; what is wrong with these is said before the weather is fetched."""
    from hayweather.cli.load import until
    from hayweather.learning.past import past_readings, sites_of
    from hayweather.learning.tune import fit
    from hayweather.weather.asked import weather_for

    readings = past_readings(farm, readings_file, until(farm, now))
    if weather is not None:
        farm = replace(farm, weather=replace(farm.weather, file=weather))
    return fit(farm, weather_for(farm, sites_of(farm, readings)), readings, at_field=at_field)


def _tuned(
    fit: Fit, farm: Farm, units: UnitSystem, where: Destinations, *, all_cautions: bool
) -> str:
    """The fit in a format; the table to paste is always in the farm file's own units."""
    from hayweather.show.voice import Voice

    voice, invented = Voice.of(farm, units, "UTC"), farm.weather.invented
    if where.form == "json":
        from hayweather.show.tune import tune_json

        return tune_json(fit, voice, farm.name, farm.units, invented=invented)
    if where.form == "csv":
        from hayweather.show.tune import tune_csv

        return tune_csv(fit, voice, raw=where.raw)
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


MOST_NAMED = 3  # files that are no outlooks, named on standard error
LogArgument = Annotated[
    Path | None,
    typer.Argument(metavar="LOG.csv", help=o.help_text("log_file"), show_default=False),
]
KeptOption = Annotated[Path | None, typer.Option("--kept", metavar="DIR", help=o.help_text("kept"))]
ReadingsOption = Annotated[
    Path | None,
    typer.Option("--readings", metavar="READINGS.csv", help=o.help_text("score_readings")),
]


@o.command
def score(
    farm_file: FarmArgument,
    log_file: LogArgument = None,
    kept: KeptOption = None,
    readings: ReadingsOption = None,
    now: NowOption = None,
    *,
    output: o.Output,
    cautions: o.CautionsOption = False,
) -> None:
    """How past outlooks did against what happened."""
    from hayweather.cli.load import answering
    from hayweather.learning.past import USUAL_FOLDER

    read = (log_file, readings, (kept or USUAL_FOLDER) / "*.json")
    with answering("score", farm_file, output, *read) as (farm, where):
        made = _scored(farm, log_file, kept, readings, now)
        text = _score(made, farm, output.units or farm.units, where, all_cautions=cautions)
        where.write([(where.place, text)])


def _scored(
    farm: Farm,
    log_file: Path | None,
    folder: Path | None,
    readings_file: Path | None,
    now: str | None,
) -> Score:
    """The score of the outlooks in the log and in a folder."""
    from hayweather.cli.load import until
    from hayweather.learning.past import past_of
    from hayweather.learning.score import score as scored

    past = past_of(farm, log_file, readings_file, folder, until(farm, now))
    if past.other:
        names = ", ".join(past.other[:MOST_NAMED])
        said = say("score_skipped", farm.language, count=len(past.other), names=names)
        print(said, file=sys.stderr)
    return scored(past.outlooks, past.events, past.readings)


def _score(
    made: Score, farm: Farm, units: UnitSystem, where: Destinations, *, all_cautions: bool
) -> str:
    """The score in a format; units decide about the clock alone."""
    from hayweather.show.voice import Voice

    voice, invented = Voice.of(farm, units, "UTC"), farm.weather.invented
    if where.form == "json":
        from hayweather.show.score import score_json

        return score_json(made, voice, farm.name, invented=invented)
    if where.form == "csv":
        from hayweather.show.score import score_csv

        return score_csv(made, voice, farm.name, raw=where.raw)
    from hayweather.show.score import score_text

    return score_text(
        made, voice, farm.name, o.text_width(), invented=invented, all_cautions=all_cautions
    )


MeasuredOption = Annotated[
    list[Path] | None,
    typer.Option("--measured", metavar="WEATHER.csv", help=o.help_text("learn_measured")),
]
ForecastsOption = Annotated[
    list[Path] | None,
    typer.Option("--forecasts", metavar="PATH", help=o.help_text("learn_forecasts")),
]
ForgetOption = Annotated[bool, typer.Option("--forget", help=o.help_text("learn_forget"))]


@o.command
def learn(
    farm_file: FarmArgument,
    measured: MeasuredOption = None,
    forecasts: ForecastsOption = None,
    forget: ForgetOption = False,
    offline: o.OfflineOption = False,
    weather_url: o.WeatherUrlOption = None,
    *,
    output: o.Output,
    cautions: o.CautionsOption = False,
) -> None:
    """Fit the errors of the forecast to what was measured."""
    from hayweather.cli.load import answering
    from hayweather.learning.learn import learn as learned
    from hayweather.learning.learned_file import forget_learned, learned_path

    read = (*(measured or ()), *(forecasts or ()), learned_path(farm_file))
    with answering("learn", farm_file, output, *read) as (farm, where):
        path = learned_path(Path(farm.path or farm_file))
        if forget:
            key = "learn_forgotten" if forget_learned(path) else "learn_none_to_forget"
            print(say(key, farm.language, path=path))
            return
        found = learned(farm, measured or (), forecasts or (), offline=offline, url=weather_url)
        shown = _learned(found, farm, output.units or farm.units, where, all_cautions=cautions)
        where.write([(where.place, shown)])
        _keep_learned(path, farm, found)


def _learned(
    found: list[Learned], farm: Farm, units: UnitSystem, where: Destinations, *, all_cautions: bool
) -> str:
    """What was learned in a format."""
    from hayweather.show.learn import learn_csv, learn_json, learn_text
    from hayweather.show.voice import Voice

    voice = Voice.of(farm, units, "UTC")
    if where.form == "json":
        return learn_json(farm, found, voice)
    if where.form == "csv":
        return learn_csv(found, voice, raw=where.raw)
    return learn_text(farm, found, voice, o.text_width(), all_cautions=all_cautions)


def _keep_learned(path: Path, farm: Farm, found: list[Learned]) -> None:
    """What enough nights stand behind into the learned file; older numbers stay otherwise."""
    from hayweather.learning.forecast_errors import LEAST_NIGHTS
    from hayweather.learning.learned_file import write_learned

    errors = {item.site: item.fitted.errors for item in found if item.fitted.errors.fitted}
    if not errors:
        print(say("learn_not_written", farm.language, least=LEAST_NIGHTS), file=sys.stderr)
        return
    write_learned(path, farm.sites, errors, {item.site: item.source for item in found})
    print(say("learn_written", farm.language, path=path), file=sys.stderr)
