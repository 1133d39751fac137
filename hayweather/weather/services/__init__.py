"""Weather from services: one interface, whichever service the farm file names.

`fetch_site_weather` is what an outlook needs; `open_meteo` and `us_nws` hold
what only one of the services has. Loaded only by commands that ask a service.
"""

from __future__ import annotations

import zoneinfo
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from hayweather.farm.records import Site, WeatherChoice
from hayweather.weather.catalog import SERVICES, Service, function_of
from hayweather.weather.judge import judged
from hayweather.weather.record import HourlyWeather
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.settings import ServiceSettings

__all__ = ["Place", "ServiceError", "ServiceSettings", "fetch_site_weather", "resolve_place"]


class Place(NamedTuple):
    """What is known of a place: IANA zone and elevation [m], None when nobody says."""

    timezone: str | None
    elevation_m: float | None


def fetch_site_weather(
    choice: WeatherChoice,
    site: Site,
    settings: ServiceSettings,
    *,
    offline: bool = False,
    now: np.datetime64,
) -> HourlyWeather:
    """Forecast for a site from the service of the farm file, (hours, 1).

    With ``choice.forecast_runs`` the service's runs follow as further lanes.

    A stored forecast serves when the service fails and some of it lies ahead:
    ``source.stored`` is then True and `assumed` says why. The time zone is
    filled in where neither the site nor the forecast has one.

    Parameters
    ----------
    choice, site
        From the farm file; `choice` must name a service.
    settings
        Addresses, key, contact, store.
    offline
        Use the store alone.
    now
        UTC time of the fetch, written beside what is stored: the clock on the
        wall, not a time that somebody asks about.

    Raises
    ------
    OptionError
        If the terms, the contact or the place do not allow asking.
    ServiceError
        If neither the service nor the store has an answer that serves (exit 3).
    """
    if choice.service is None:
        raise ValueError("the farm file names no service")
    settings = replace(settings, believe=choice.believe)
    service = _allowed(choice, settings)
    weather: HourlyWeather = function_of(service.fetch)(site, settings, now=now, offline=offline)
    if choice.forecast_runs and service.runs is not None:
        add_runs = function_of(service.runs)
        weather = add_runs(weather, site, settings, now=now, offline=offline)
    weather = judged(weather, site, ServiceError, choice.believe)
    zone = weather.timezone
    if site.timezone is None and zone is None:
        zone = resolve_place(choice, site, settings, offline=offline, now=now).timezone
    return replace(weather, timezone=_known_zone(zone))


def resolve_place(
    choice: WeatherChoice,
    site: Site,
    settings: ServiceSettings,
    *,
    offline: bool = False,
    now: np.datetime64,
) -> Place:
    """Zone and elevation of a site: the farm file's, else the service's.

    Nothing is asked when the farm file has both, or names no service.

    Parameters
    ----------
    choice
        Which service.
    site
        What the farm file says of the place; what it says is kept.
    settings
        Addresses, contact, key, waits.
    offline
        True where nobody may be asked: what is stored serves.
    now
        UTC, for the age of what is stored.

    Raises
    ------
    OptionError, ServiceError
        As `fetch_site_weather`.
    """
    known = Place(site.timezone, site.elevation_m)
    if None not in known or choice.service is None:
        return known
    service = _allowed(choice, settings)
    zone, elevation_m = function_of(service.place)(site, settings, now=now, offline=offline)
    return Place(
        known.timezone or _known_zone(zone),
        elevation_m if known.elevation_m is None else known.elevation_m,
    )


def _allowed(choice: WeatherChoice, settings: ServiceSettings) -> Service:
    """The service that a farm file names, where it may be asked."""
    service = SERVICES[choice.service or ""]
    if service.ready is not None:
        function_of(service.ready)(choice.terms, settings)
    return service


def _known_zone(name: str | None) -> str | None:
    """`name` if it is a zone that clocks can be set by, else None."""
    try:
        return name if name and zoneinfo.ZoneInfo(name) else None
    except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
        return None
