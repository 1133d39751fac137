"""``hayweather inspect``: what was read from a file, and what is wrong with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from hayweather.cli import options as o
from hayweather.cli.language import spoken_in
from hayweather.errors import HayweatherError

if TYPE_CHECKING:
    from hayweather.farm.records import Farm
    from hayweather.show.voice import Voice
    from hayweather.weather.files import ReadOptions

SCHEMA = "hayweather/inspect/1"
HourOption = Literal["start", "center", "end"]


def inspect(
    file: Annotated[Path, typer.Argument(metavar="FILE", help=o.help_text("inspect_file"))],
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
    timezone: Annotated[
        str | None, typer.Option("--timezone", metavar="ZONE", help=o.help_text("timezone"))
    ] = None,
    wind_height: Annotated[
        str | None, typer.Option("--wind-height", metavar="HEIGHT", help=o.help_text("wind_height"))
    ] = None,
    hour: Annotated[HourOption | None, typer.Option("--hour", help=o.help_text("hour"))] = None,
) -> None:
    """What was read from a weather or farm file, and what is wrong with it."""
    from hayweather.cli.write import SCREEN, check_places

    form = format_ or o.format_of(out)
    check_places([out or SCREEN], [file])
    if file.suffix.lower() == ".toml":
        _inspect_farm(file, units, form, out)
        return
    language = o.default_language()
    with spoken_in(language):
        from hayweather.show.voice import Voice
        from hayweather.weather.files import ReadOptions

        system: o.Units = units or "us"
        options = ReadOptions(
            timezone=timezone, wind_height_m=_height(wind_height, system), hour=hour
        )
        voice = Voice(language, system, "UTC")
        _show(_weather(file, options, voice, form), form, out, language)


def _height(text: str | None, units: o.Units) -> float | None:
    """The wind height option in meters."""
    from hayweather.errors import OptionError
    from hayweather.units import parse

    if text is None:
        return None
    try:
        height_m = parse(text, "length", units)
    except (ValueError, KeyError):
        height_m = 0.0
    if not 0.3 <= height_m <= 150:
        raise OptionError("wind_height", "--wind-height", value=o.as_given(text))
    return height_m


def _weather(path: Path, options: ReadOptions, voice: Voice, form: o.Format) -> Any:
    """What a weather file holds: text for a table, else a form."""
    from hayweather.show import inspect as shown
    from hayweather.weather.files import read_weather_file

    weather, report = read_weather_file(path, options)
    if form == "table":
        return shown.weather_text(report, weather, voice, o.text_width())
    return {"schema": SCHEMA, "kind": "weather", **shown.weather_form(report, weather, voice)}


def _inspect_farm(path: Path, units: o.Units | None, form: o.Format, out: str | None) -> None:
    """What a farm file puts in force, and the weather file that it names."""
    from hayweather.cli.load import farm_at

    farm = farm_at(path)
    with spoken_in(farm.language):
        content, problem = _farm_content(farm, units or farm.units, form)
        _show(content, form, out, farm.language)
        if problem is not None:
            raise problem


def _farm_content(farm: Farm, units: o.Units, form: o.Format) -> tuple[Any, HayweatherError | None]:
    """The farm and its weather file; what is wrong with the latter does not hide the former."""
    from hayweather.show.inspect import farm_form, farm_text
    from hayweather.show.voice import Voice

    voice = Voice(farm.language, units, next(iter(farm.sites.values())).timezone or "UTC")
    services = _services(farm)
    weather, problem = _weather_of(farm, voice, form)
    if form == "table":
        text = farm_text(farm, services, voice, o.text_width())
        return (text if weather is None else f"{text}\n{weather}"), problem
    content = {"schema": SCHEMA, "kind": "farm", **farm_form(farm, services, units)}
    return {**content, "weather": weather}, problem


def _services(farm: Farm) -> list[tuple[str, str, str]]:
    """Settings of the weather service, where the farm names one."""
    if farm.weather.service is None:
        return []
    from hayweather.weather.services import ServiceSettings

    return list(ServiceSettings.from_environment().describe(farm.language))


def _weather_of(farm: Farm, voice: Voice, form: o.Format) -> tuple[Any, HayweatherError | None]:
    """The weather file that a farm names, or what is wrong with it."""
    from hayweather.cli.load import file_options

    if farm.weather.file is None:
        return None, None
    site = next(iter(farm.sites.values()))
    try:
        return _weather(farm.weather.file, file_options(farm, site), voice, form), None
    except HayweatherError as problem:
        return None, problem


def _show(content: Any, form: o.Format, out: str | None, language: str) -> None:
    """Write text, JSON or rows to their place."""
    from hayweather.cli.write import SCREEN, write_all

    write_all([(out or SCREEN, _text(content, form))], language)


def _text(content: Any, form: o.Format) -> str:
    """The content as text of its format; rows are the columns or the settings."""
    if isinstance(content, str):
        return content
    if form == "json":
        from hayweather.show.table import json_text

        return json_text(content)
    from hayweather.show.table import records_csv

    return records_csv(content["columns" if content["kind"] == "weather" else "settings"])
