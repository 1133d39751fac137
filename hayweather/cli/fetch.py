"""``hayweather fetch``: a forecast or past hours, saved as CSV; and the store of answers."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from hayweather.cli import options as o
from hayweather.weather.catalog import SERVICES
from hayweather.words import default_language

if TYPE_CHECKING:
    import numpy as np

    from hayweather.cli.fetching import Errand
    from hayweather.cli.write import Destinations
    from hayweather.weather.record import HourlyWeather
    from hayweather.weather.services import ServiceSettings

StoreAction = Literal["show", "clear", "clear-all"]

AtOption = Annotated[str | None, typer.Option("--at", metavar="LAT,LON", help=o.help_text("at"))]
YearsOption = Annotated[
    str | None, typer.Option("--years", metavar="A:B", help=o.help_text("years"))
]
SiteOption = Annotated[str | None, typer.Option("--site", metavar="NAME", help=o.help_text("site"))]
ServiceOption = Annotated[o.Service | None, typer.Option("--service", help=o.help_text("service"))]
TermsOption = Annotated[o.Terms | None, typer.Option("--terms", help=o.help_text("terms"))]
YesOption = Annotated[bool, typer.Option("--yes", help=o.help_text("yes"))]
StoreOption = Annotated[StoreAction | None, typer.Option("--store", help=o.help_text("store"))]
ToOption = Annotated[Path | None, typer.Option("--to", metavar="DIR", help=o.help_text("sites_to"))]


@dataclass(frozen=True)
class FetchOutput(o.Output):
    """The same, CSV where no format is named."""

    format: Annotated[
        o.Format | None, typer.Option("--format", help=o.help_text("fetch_format"))
    ] = None


@o.command
def fetch(
    farm_file: o.FarmFile = None,
    at: AtOption = None,
    site: SiteOption = None,
    years: YearsOption = None,
    service: ServiceOption = None,
    terms: TermsOption = None,
    weather_url: o.WeatherUrlOption = None,
    offline: o.OfflineOption = False,
    yes: YesOption = False,
    store: StoreOption = None,
    to: ToOption = None,
    *,
    output: FetchOutput,
) -> None:
    """Get a forecast or past hours from a weather service, as CSV."""
    from hayweather.cli.fetching import errand_of, past_hours, use_store
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import names_sites
    from hayweather.cli.write import checked

    if store is not None:
        _check_alone(farm_file, at, site, years, service)
        use_store(store, checked("store", output, language=default_language()))
        return
    if farm_file is not None and names_sites(farm_file):
        _many(farm_file, years, terms, to, weather_url, output, offline=offline, yes=yes)
        return
    errand = errand_of(farm_file, at, site, service, terms, years is not None)
    with spoken_in(errand.language):
        from hayweather.cli.guard import copies_of
        from hayweather.weather.asked import settings_for, wall_clock

        farm = farm_file or o.DEFAULT_FARM
        where = checked("fetch", output, [farm, copies_of(farm)], errand.language)
        settings, now = settings_for(errand.choice, weather_url), wall_clock()
        _check_terms(errand, settings)
        if years is None:
            weather = _forecast(errand, settings, now, offline=offline)
        else:
            weather = past_hours(errand, settings, years, now=now, offline=offline, yes=yes)
        _hand_over(weather, errand, now, where)


def _many(
    path: Path,
    years: str | None,
    terms: o.Terms | None,
    folder: Path | None,
    url: str | None,
    output: FetchOutput,
    *,
    offline: bool,
    yes: bool,
) -> None:
    """Past hours of every site of a sites file."""
    from hayweather.cli.fetching import fetch_sites, sites_errand
    from hayweather.cli.language import spoken_in
    from hayweather.cli.write import checked
    from hayweather.seasons.sites import read_sites
    from hayweather.weather.asked import settings_for, wall_clock

    file = read_sites(path)
    with spoken_in(file.language):
        now = wall_clock()
        errand = sites_errand(file, years, terms, folder, now)
        own = [one for place in file.sites.values() for one in place.files]
        where = checked("fetch", output, [path, *own], file.language)
        for place in file.sites.values():
            one = errand.of(place)
            settings = settings_for(one.choice, url)
            _check_terms(one, settings)
        fetch_sites(errand, settings, where, now=now, offline=offline, yes=yes)


def _check_alone(*others: object) -> None:
    """The store is not the store of one place: nothing else goes with it.

    Raises
    ------
    OptionError
        If a place, years or a service was given beside it.
    """
    from hayweather.errors import OptionError

    if any(other is not None for other in others):
        raise OptionError("store_alone", "--store")


def _check_terms(errand: Errand, settings: ServiceSettings) -> None:
    """Free use of the open weather API needs the word that it is non-commercial.

    Raises
    ------
    OptionError
        If there is neither that word nor a key.
    """
    from hayweather.errors import OptionError
    from hayweather.weather.services.open_meteo import TERMS
    from hayweather.weather.services.settings import KEY_VARIABLE

    choice = errand.choice
    if SERVICES[choice.service or ""].free_terms and choice.terms is None and settings.key is None:
        raise OptionError("fetch_terms", "--terms", link=TERMS, variable=KEY_VARIABLE)


def _forecast(
    errand: Errand, settings: ServiceSettings, now: np.datetime64, *, offline: bool
) -> HourlyWeather:
    """The forecast, with zone and elevation of the farm file where the service has none."""
    from dataclasses import replace

    from hayweather.errors import OptionError
    from hayweather.weather.asked import forecast_for

    site = errand.site
    try:
        weather = forecast_for(
            errand.choice, site, settings, errand.where, offline=offline, now=now
        )
    except OptionError as problem:
        if problem.key == "service_outside_us":
            raise OptionError(problem.key, errand.where, **problem.values) from None
        raise
    elevation_m = site.elevation_m if weather.elevation_m is None else weather.elevation_m
    timezone = site.timezone or weather.timezone
    return replace(weather, timezone=timezone, elevation_m=elevation_m)


def _hand_over(
    weather: HourlyWeather,
    errand: Errand,
    now: np.datetime64,
    where: Destinations,
) -> None:
    """Write the hours; say on standard error what should be known of them."""
    from hayweather.cli.fetching import hours_csv
    from hayweather.nights.trust import forecast_age_h
    from hayweather.show.fetch import about_lines, hours_json, hours_text
    from hayweather.show.voice import Voice

    plain: o.Format = "csv" if where.form == "table" else where.form
    form: o.Format = where.format or plain
    voice = Voice(errand.language, where.units or errand.units, weather.timezone or "UTC")
    age = forecast_age_h(weather.source, now)
    if form == "table":
        text = hours_text(weather, age, voice, o.text_width())
    else:
        text = hours_json(weather, age, voice) if form == "json" else hours_csv(weather)
        print(*about_lines(weather, age, voice), sep="\n", file=sys.stderr)
    where.write([(where.place, text)])
