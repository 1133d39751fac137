"""The weather services, each one record: what it is called, where it is, what it can do.

Light, so that the farm file and ``--help`` know the names; a service's own code is
loaded when it is asked. Adding a service touches this place, its text and its test.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib import import_module
from types import MappingProxyType
from typing import Any

Asked = Callable[..., Any] | str
"""A function, or where one stands: ``module:name``."""


CHECKS = ("clock", "sun", "humidity", "units", "place", "height")
"""What `hayweather.weather.judge` looks at, and ``believe`` in the farm file may name."""


@dataclass(frozen=True)
class Service:
    """One weather service.

    Attributes
    ----------
    name
        As the farm file and ``--service`` have it.
    label
        As outputs call it.
    fetch
        ``(site, settings, *, now, offline) -> HourlyWeather``, one lane.
    place
        ``(site, settings, *, now, offline) -> (zone name or None, elevation [m] or None)``.
    addresses
        ``{name of the setting: (variable of the environment, base address)}``.
    ready
        ``(terms, settings)``; raises `OptionError` where asking is not allowed.
    runs
        ``(forecast, site, settings, *, now, offline) -> HourlyWeather`` with the
        service's forecast runs as further lanes; None where it has none.
    attribution
        The line that the license of the data asks for; empty when none.
    key_variable
        Variable of the environment that holds a key.
    free_terms
        True where free use has to be called non-commercial.
    past
        True where it has past hours.
    us_only
        True where it covers the United States alone.
    """

    name: str
    label: str
    fetch: Asked
    place: Asked
    addresses: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    ready: Asked | None = None
    runs: Asked | None = None
    attribution: str = ""
    key_variable: str = ""
    free_terms: bool = False
    past: bool = False
    us_only: bool = False


OPEN_METEO = Service(
    "open-meteo",
    "Open-Meteo",
    fetch="hayweather.weather.services.open_meteo:fetch_forecast",
    place="hayweather.weather.services.open_meteo:ask_zone",
    addresses=MappingProxyType({
        "open_meteo_url": ("HAYWEATHER_OPEN_METEO_URL", "https://api.open-meteo.com"),
        "ensemble_url": (
            "HAYWEATHER_OPEN_METEO_ENSEMBLE_URL", "https://ensemble-api.open-meteo.com",
        ),
        "archive_url": (
            "HAYWEATHER_OPEN_METEO_ARCHIVE_URL", "https://archive-api.open-meteo.com",
        ),
        "previous_url": (
            "HAYWEATHER_OPEN_METEO_PREVIOUS_URL", "https://previous-runs-api.open-meteo.com",
        ),
    }),
    ready="hayweather.weather.services.open_meteo:require_terms",
    runs="hayweather.weather.services.runs:add_runs",
    attribution=(
        "Weather data by Open-Meteo.com (https://open-meteo.com/), license CC BY 4.0 "
        "(https://creativecommons.org/licenses/by/4.0/)"
    ),  # the wording, the name of the license and the link are what the license asks for
    key_variable="HAYWEATHER_OPEN_METEO_KEY",
    free_terms=True,
    past=True,
)  # fmt: skip
US_NWS = Service(
    "us-nws",
    "US National Weather Service",
    fetch="hayweather.weather.services.us_nws:fetch_forecast",
    place="hayweather.weather.services.us_nws:ask_zone",
    addresses=MappingProxyType({
        "us_nws_url": ("HAYWEATHER_US_NWS_URL", "https://api.weather.gov"),
    }),
    us_only=True,
)  # fmt: skip
SERVICES: dict[str, Service] = {service.name: service for service in (US_NWS, OPEN_METEO)}
PVGIS_ATTRIBUTION = "PVGIS (c) European Union"


def add_service(service: Service) -> None:
    """Let farm files name a service; one of the same name gives way."""
    SERVICES[service.name] = service


def addresses() -> dict[str, tuple[str, str]]:
    """Of all services, ``{name of the setting: (variable, base address)}``."""
    return {name: pair for each in SERVICES.values() for name, pair in each.addresses.items()}


def function_of(asked: Asked) -> Callable[..., Any]:
    """The function itself, loaded now where only its place is given."""
    if not isinstance(asked, str):
        return asked
    module, _, name = asked.partition(":")
    function: Callable[..., Any] = getattr(import_module(module), name)
    return function
