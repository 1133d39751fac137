"""From names on the command line to a farm, its weather and the time that counts as now."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.cli.language import spoken_as_written
from hayweather.cli.options import as_given
from hayweather.errors import FarmFileError, OptionError, WeatherUnavailableError
from hayweather.farm import Farm, Site, read_farm
from hayweather.farm.clock import parse_time, to_utc
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.judge import judged
from hayweather.weather.record import HourlyWeather

DEFAULT_FARM = Path("farm.toml")


def farm_from(path: Path | None) -> Farm:
    """The farm file named, else ``farm.toml`` of the current folder.

    Raises
    ------
    OptionError
        If none is named and there is none here.
    FarmFileError
        If the file is wrong.
    """
    if path is None and not DEFAULT_FARM.exists():
        raise OptionError("no_farm_here")
    return farm_at(path or DEFAULT_FARM, os.environ)


def farm_at(path: Path, environ: Mapping[str, str] | None = None) -> Farm:
    """The farm file at `path`; what is wrong with it is said in the language that it names.

    Parameters
    ----------
    path
        The file.
    environ
        Of the process, where the farm's weather is going to be asked for.

    Raises
    ------
    FarmFileError
        If the file is wrong.
    """
    with spoken_as_written(path):
        return read_farm(path, environ)


def files_of(farm: Farm) -> list[Path | None]:
    """The farm file, its weather file and its log; None where there is none."""
    from hayweather.log.database import companions_of

    log = [] if farm.log is None else companions_of(farm.log)
    return [farm.path, farm.weather.file, *log]


def sites_of(farm: Farm, field: str | None) -> list[str]:
    """Names of the sites whose weather is needed, each once.

    Raises
    ------
    FarmFileError
        If there is no such field.
    """
    if field is None:
        return list(dict.fromkeys(item.site for item in farm.fields.values()))
    if field not in farm.fields:
        known = ", ".join(farm.fields)
        raise FarmFileError("no_such_field", str(farm.path or ""), value=field, known=known)
    return [farm.fields[field].site]


def weather_for(
    farm: Farm, sites: Iterable[str], *, offline: bool = False, url: str | None = None
) -> dict[str, HourlyWeather]:
    """Weather of some sites of a farm, by name, from its file or its service.

    Parameters
    ----------
    farm, sites
        The farm, and names of its sites.
    offline
        Use stored answers only.
    url
        Base address of the service, for this run.

    Raises
    ------
    FarmFileError
        If the farm file names neither.
    WeatherFileError, WeatherUnavailableError
        If the weather cannot be read, or had.
    """
    choice = farm.weather
    if choice.file is not None:
        return {name: _from_file(farm, farm.sites[name], choice.file) for name in sites}
    if choice.service is None:
        raise FarmFileError("no_weather_named", str(farm.path or ""))
    from hayweather.cli.service import forecast_for, settings_for

    settings, now, where = settings_for(choice.service, url), wall_clock(), str(farm.path or "")
    return {
        name: forecast_for(choice, farm.sites[name], settings, where, offline=offline, now=now)
        for name in sites
    }


def refuse_old_stored(
    weather: Mapping[str, HourlyWeather], now: np.datetime64, *, old: bool
) -> None:
    """Refuse a stored forecast of more than a day where no new one could be had.

    Parameters
    ----------
    weather
        By site.
    now
        UTC time of the outlook.
    old
        True to let an old one pass.

    Raises
    ------
    WeatherUnavailableError
        Saying why there is no new one (exit 3).
    """
    from hayweather.nights.trust import OLD_REFUSED_HOURS, forecast_age_h

    for record in weather.values():
        age = forecast_age_h(record.source, now)
        if old or not record.source.stored or age is None or age <= OLD_REFUSED_HOURS:
            continue
        why = next(note.key for note in record.assumed if note.key.startswith("stored_"))
        raise WeatherUnavailableError(f"old_{why}", record.source.name, hours=f"{age:.0f}")


def _from_file(farm: Farm, site: Site, path: Path) -> HourlyWeather:
    """The weather file for one site; the time of an invented file says nothing."""
    weather = judged(read_weather_file(path, file_options(farm, site))[0], site)
    if farm.weather.invented:
        return replace(weather, source=replace(weather.source, issued=None))
    return weather


def file_options(farm: Farm, site: Site) -> ReadOptions:
    """What the farm file says of its weather file."""
    choice = farm.weather
    return ReadOptions(
        timezone=choice.timezone,
        wind_height_m=choice.wind_height_m,
        hour=choice.hour,
        site_elevation_m=site.elevation_m,
    )


def wall_clock() -> np.datetime64:
    """The time now, UTC."""
    return np.datetime64(datetime.now(UTC).replace(tzinfo=None), "s")


def now_for(farm: Farm, option: str | None, timezone: str | None) -> np.datetime64:
    """The time that counts as now: the option, an invented sample's own, or the clock's.

    Parameters
    ----------
    farm
        The farm.
    option
        What ``--now`` was given, None when it was not.
    timezone
        Zone of the clock in which a time without an offset is meant.

    Raises
    ------
    OptionError
        If the option is no time.
    """
    if option is None:
        return wall_clock() if farm.weather.now is None else farm.weather.now
    moment = parse_time(option)
    if moment is None:
        raise OptionError("now_without_zone", "--now", value=as_given(option))
    return to_utc(moment, ZoneInfo(timezone or "UTC"))[0]


def until(farm: Farm, option: str | None) -> np.datetime64 | None:
    """The time up to which notes count, on the clock of the farm's first site; None: all.

    Raises
    ------
    OptionError
        If the option is no time.
    """
    zone = next(iter(farm.sites.values())).timezone
    return None if option is None else now_for(farm, option, zone)
