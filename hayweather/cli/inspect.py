"""``hayweather inspect``: what was read from a file, and what is wrong with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from hayweather.cli import options as o
from hayweather.cli.language import spoken_in
from hayweather.errors import HayweatherError
from hayweather.words import default_language

if TYPE_CHECKING:
    from hayweather.cli.write import Destinations
    from hayweather.farm.records import Farm
    from hayweather.show.inspect import WeatherRead
    from hayweather.show.voice import Voice
    from hayweather.weather.files import ReadOptions
    from hayweather.weather.files.station import StationFile
    from hayweather.weather.observed import Observed
    from hayweather.windrow.spread import ForecastErrors

HourOption = Literal["start", "center", "end"]


@o.command
def inspect(
    file: Annotated[Path, typer.Argument(metavar="FILE", help=o.help_text("inspect_file"))],
    timezone: Annotated[
        str | None, typer.Option("--timezone", metavar="ZONE", help=o.help_text("timezone"))
    ] = None,
    wind_height: Annotated[
        str | None, typer.Option("--wind-height", metavar="HEIGHT", help=o.help_text("wind_height"))
    ] = None,
    hour: Annotated[HourOption | None, typer.Option("--hour", help=o.help_text("hour"))] = None,
    columns: Annotated[
        str | None, typer.Option("--columns", metavar="MAP", help=o.help_text("columns"))
    ] = None,
    rows: Annotated[bool, typer.Option("--rows", help=o.help_text("rows"))] = False,
    *,
    output: o.Output,
) -> None:
    """What was read from a weather or farm file, and what is wrong with it."""
    from hayweather.cli.load import names_sites
    from hayweather.cli.write import checked

    if file.suffix.lower() == ".toml":
        if names_sites(file):
            _inspect_sites(file, output, rows=rows)
        else:
            _inspect_farm(file, output)
        return
    language = default_language()
    where = checked("inspect", output, [file], language)
    with spoken_in(language):
        from hayweather.show.inspect import COLUMNS, WEATHER_FILE
        from hayweather.show.voice import Voice
        from hayweather.weather.files import ReadOptions

        system: o.Units = output.units or "us"
        options = ReadOptions(
            timezone=timezone,
            wind_height_m=_height(wind_height, system),
            hour=hour,
            columns=columns,
        )
        voice = Voice(language, system, timezone or "UTC")
        try:
            read = _weather(file, options)
        except HayweatherError as problem:
            station = _station(file, options, problem)
            if station is not None:
                where.write([(where.place, _station_shown(station, voice, where))])
                return
            if rows and problem.rows:
                print(*(row.line(language) for row in problem.rows), sep="\n")
            raise
        if where.form == "table":
            text = _weather_shown(read, voice)
            if rows:
                text += "".join(f"{row.line(language)}\n" for row in read.report.blanked)
        elif where.form == "json":
            text = WEATHER_FILE.text(read, voice)
        else:
            text = COLUMNS.csv(read.report.columns, voice, raw=where.raw)
        where.write([(where.place, text)])


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


def _weather(path: Path, options: ReadOptions) -> WeatherRead:
    """What a weather file holds."""
    from hayweather.show.inspect import WeatherRead
    from hayweather.weather.files import read_weather_file

    weather, report = read_weather_file(path, options)
    return WeatherRead(report, weather)


def _station(path: Path, options: ReadOptions, problem: HayweatherError) -> StationFile | None:
    """What a file without wind holds as a station's; None where it has one, or is none.

    A file that is being written ends in half a row, which is no fault of a station's.
    """
    from hayweather.weather.asked import wall_clock
    from hayweather.weather.files.station import CUT_ROW, LACKS_WIND, station_file

    try:
        found = station_file(path, options, wall_clock())
    except HayweatherError:
        if problem.key in (LACKS_WIND, CUT_ROW):
            raise
        return None
    return found if "wind_speed_m_s" in found.lacks else None


def _station_shown(station: StationFile, voice: Voice, where: Destinations) -> str:
    """A station's file in its format."""
    from hayweather.show.inspect_station import STATION_COLUMNS, STATION_FILE, station_text

    if where.form == "json":
        return STATION_FILE.text(station, voice)
    if where.form == "csv":
        return STATION_COLUMNS.csv(station.columns, voice, raw=where.raw)
    return station_text(station, voice, o.text_width())


def _weather_shown(read: WeatherRead, voice: Voice) -> str:
    """A weather file as text."""
    from hayweather.show.inspect import weather_text

    return weather_text(read.report, read.weather, voice, o.text_width())


def _inspect_farm(path: Path, output: o.Output) -> None:
    """What a farm file puts in force, and the weather file that it names.

    What is wrong with the latter does not hide the former.
    """
    from hayweather.cli.load import farm_at, files_of
    from hayweather.cli.write import checked
    from hayweather.show.voice import Voice

    farm = farm_at(path)
    with spoken_in(farm.language):
        where = checked("inspect", output, files_of(farm), farm.language)
        zone = next(iter(farm.sites.values())).timezone or "UTC"
        voice = Voice.of(farm, output.units or farm.units, zone)
        weather, problem = _weather_of(farm)
        where.write([(where.place, _farm(farm, weather, voice, where))])
        if problem is not None:
            raise problem


def _farm(farm: Farm, weather: WeatherRead | None, voice: Voice, where: Destinations) -> str:
    """A farm file in its format."""
    from hayweather.show.inspect import (
        FARM_FILE,
        SETTINGS,
        FarmRead,
        farm_text,
        in_force,
        learned_in_force,
    )
    from hayweather.show.learn import learned_lines, learned_numbers
    from hayweather.show.station_words import as_read_lines

    services, errors, stations = _services(farm), _learned(farm), _stations(farm)
    numbers = list(learned_numbers(errors))
    if where.form == "json":
        return FARM_FILE.text(FarmRead(farm, services, weather, numbers, stations), voice)
    if where.form == "csv":
        return SETTINGS.csv([*in_force(farm), *learned_in_force(numbers)], voice, raw=where.raw)
    width = o.text_width()
    text = farm_text(farm, services, voice, width)
    for lines in (as_read_lines(stations, voice, width), learned_lines(errors, voice, width)):
        text += "\n".join(["", *lines, ""]) if lines else ""
    return text if weather is None else f"{text}\n{_weather_shown(weather, voice)}"


def _stations(farm: Farm) -> list[Observed]:
    """What the farm's own stations hold."""
    from hayweather.log.joined import stations_logged
    from hayweather.weather.asked import wall_clock
    from hayweather.weather.stations import stations_as_read

    return stations_as_read(farm, stations_logged(farm, wall_clock())) if farm.stations else []


def _learned(farm: Farm) -> dict[str, ForecastErrors]:
    """What errors of the forecast were learned, by site."""
    from hayweather.learning.learned_file import learned_of
    from hayweather.weather.asked import wall_clock

    return learned_of(farm, wall_clock())


def _services(farm: Farm) -> list[tuple[str, str, str]]:
    """Settings of the weather service, where the farm names one."""
    if farm.weather.service is None:
        return []
    from hayweather.weather.services import ServiceSettings

    settings = ServiceSettings.from_environment(options={"contact": farm.weather.contact})
    return list(settings.describe(farm.language))


def _weather_of(farm: Farm) -> tuple[WeatherRead | None, HayweatherError | None]:
    """The weather file that a farm names, or what is wrong with it."""
    from hayweather.weather.asked import file_options

    if farm.weather.file is None:
        return None, None
    site = next(iter(farm.sites.values()))
    try:
        return _weather(farm.weather.file, file_options(farm, site)), None
    except HayweatherError as problem:
        return None, problem


def _inspect_sites(path: Path, output: o.Output, *, rows: bool) -> None:
    """Every site of a sites file, its weather read; all faults of all files, none the first alone.

    Raises
    ------
    HayweatherError
        After the answer is written, where something could not be read.
    """
    from hayweather.cli.write import checked
    from hayweather.seasons.engine import read_all
    from hayweather.seasons.sites import read_sites
    from hayweather.show.inspect_sites import SITES_FILE, SITES_READ, sites_text
    from hayweather.show.voice import Voice

    file = read_sites(path)
    with spoken_in(file.language):
        grid = [] if file.grid is None else [file.grid.file]
        read = [path, *grid, *(one for site in file.sites.values() for one in site.files)]
        where = checked("inspect", output, read, file.language)
        voice = Voice(file.language, output.units or file.units, "UTC", decimals=file.decimals)
        found = read_all(file)
        if where.form == "json":
            text = SITES_FILE.text(found, voice)
        elif where.form == "csv":
            text = SITES_READ.csv(found.sites, voice, raw=where.raw)
        else:
            text = sites_text(found, voice, o.text_width())
            wrong = [problem for site in found.sites for problem in site.problems]
            if rows:
                listed = [row.line(file.language) for each in wrong for row in each.rows]
                text += "".join(f"{line}\n" for line in listed)
        where.write([(where.place, text)])
        problems = [problem for site in found.sites for problem in site.problems]
        if problems:
            first, *others = problems
            first.others = tuple(others)
            raise first
