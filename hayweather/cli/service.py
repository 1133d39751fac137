"""From a choice of service to weather with its place filled in."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import numpy as np

from hayweather.errors import FarmFileError
from hayweather.farm.records import Site, WeatherChoice
from hayweather.weather.catalog import SERVICES, US_NWS
from hayweather.weather.record import HourlyWeather
from hayweather.weather.services import (
    ServiceError,
    ServiceSettings,
    fetch_site_weather,
    resolve_place,
)


def settings_for(service: str | None, url: str | None) -> ServiceSettings:
    """Settings from the environment; an address given for the service beats it.

    Raises
    ------
    OptionError
        If an address or the contact cannot be used.
    """
    return ServiceSettings.from_environment(
        options=dict.fromkeys(SERVICES[service or US_NWS.name].addresses, url)
    )


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
    weather = fetch_site_weather(choice, site, settings, offline=offline, now=now)
    elevation_m = weather.elevation_m
    if elevation_m is None and site.elevation_m is None:
        with suppress(ServiceError):
            place = resolve_place(choice, site, settings, offline=offline, now=now)
            elevation_m = place.elevation_m
        if elevation_m is None:
            raise FarmFileError("site_without_elevation", where, site=site.name)
    return replace(weather, elevation_m=elevation_m)
