"""The weather that a farm names: from its file, or from its service."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from hayweather.errors import FarmFileError
from hayweather.farm.clock import wall_clock as wall_clock
from hayweather.farm.records import Farm, Site, WeatherChoice
from hayweather.weather.catalog import SERVICES, US_NWS
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.judge import judged
from hayweather.weather.record import HourlyWeather

if TYPE_CHECKING:
    from hayweather.weather.services import ServiceSettings


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
    settings, now, where = settings_for(choice, url), wall_clock(), str(farm.path or "")
    return {
        name: forecast_for(choice, farm.sites[name], settings, where, offline=offline, now=now)
        for name in sites
    }


def _from_file(farm: Farm, site: Site, path: Path) -> HourlyWeather:
    """The weather file for one site; the time of an invented file says nothing."""
    weather, _ = read_weather_file(path, file_options(farm, site))
    weather = judged(weather, site, believe=farm.weather.believe)
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
        columns=choice.columns,
    )


def settings_for(choice: WeatherChoice, url: str | None) -> ServiceSettings:
    """Settings from the environment; an address given, and the farm's contact, beat it.

    Raises
    ------
    OptionError
        If an address or the contact cannot be used.
    """
    from hayweather.weather.services import ServiceSettings

    addresses = dict.fromkeys(SERVICES[choice.service or US_NWS.name].addresses, url)
    return ServiceSettings.from_environment(options={**addresses, "contact": choice.contact})


def forecast_for(
    choice: WeatherChoice,
    site: Site,
    settings: ServiceSettings,
    where: str,
    *,
    offline: bool,
    now: np.datetime64,
) -> HourlyWeather:
    """Forecast of a site with the elevation and zone of its place.

    Parameters
    ----------
    choice, site, settings
        As in `fetch_site_weather`.
    where
        Where the user would write an elevation, for messages.
    offline
        Use the store alone.

    Raises
    ------
    FarmFileError
        If nobody tells the elevation.
    OptionError, ServiceError
        As `fetch_site_weather`.
    """
    from hayweather.weather.services import ServiceError, fetch_site_weather, resolve_place

    weather = fetch_site_weather(choice, site, settings, offline=offline, now=now)
    elevation_m = weather.elevation_m
    if elevation_m is None and site.elevation_m is None:
        with suppress(ServiceError):
            place = resolve_place(choice, site, settings, offline=offline, now=now)
            elevation_m = place.elevation_m
        if elevation_m is None:
            raise FarmFileError("site_without_elevation", where, site=site.name)
    return replace(weather, elevation_m=elevation_m)
