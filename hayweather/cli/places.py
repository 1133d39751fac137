"""What a fetch is about: a site of a farm, or a latitude and longitude; and which service."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hayweather.cli.options import Service, Speech, Terms, Units, as_given, default_language
from hayweather.errors import FarmFileError, OptionError
from hayweather.farm.records import Farm, Site, WeatherChoice
from hayweather.weather.catalog import OPEN_METEO, SERVICES, US_NWS


@dataclass(frozen=True)
class Errand:
    """What is to be fetched, and for whom.

    Attributes
    ----------
    site, choice
        The place and the service to ask.
    language, units
        Of the reader.
    where
        Where the place was given, for messages.
    """

    site: Site
    choice: WeatherChoice
    language: Speech
    units: Units
    where: str


def errand_of(
    farm_file: Path | None,
    at: str | None,
    site: str | None,
    service: Service | None,
    terms: Terms | None,
    past: bool,
) -> Errand:
    """The errand that the options describe.

    Parameters
    ----------
    farm_file, at, site
        A farm file and one of its sites, or ``LAT,LON``.
    service, terms
        Of the command line; without them the farm file's.
    past
        Past hours come from the open weather API alone.

    Raises
    ------
    OptionError
        If the options do not fit together.
    FarmFileError
        If the farm file is wrong or names no service.
    """
    if at is not None:
        if farm_file is not None or site is not None:
            raise OptionError("at_and_farm", "--at")
        return _errand_at(at, service, terms, past)
    farm = _farm(farm_file)
    chosen = service or (OPEN_METEO.name if past else farm.weather.service)
    if chosen is None:
        raise FarmFileError("fetch_no_service", str(farm.path or ""))
    choice = WeatherChoice(service=chosen, terms=terms or farm.weather.terms)
    _check_past(choice, past)
    return Errand(_site_of(farm, site), choice, farm.language, farm.units, str(farm.path or ""))


def _errand_at(at: str, service: Service | None, terms: Terms | None, past: bool) -> Errand:
    """The errand of a place without a farm file."""
    from hayweather.farm.zones import in_us_boxes

    place = _site_at(at)
    default: Service = OPEN_METEO.name if past else US_NWS.name
    choice = WeatherChoice(service=service or default, terms=terms)
    _check_past(choice, past)
    if SERVICES[choice.service or ""].us_only and not in_us_boxes(place.latitude, place.longitude):
        raise OptionError("at_not_in_us", "--at", value=at.strip())
    return Errand(place, choice, default_language(), "us", "--at")


def _farm(path: Path | None) -> Farm:
    """The farm file named or here; its terms are judged with the options, not here."""
    from hayweather.cli.load import DEFAULT_FARM, farm_at

    if path is None and not DEFAULT_FARM.exists():
        raise OptionError("fetch_no_place")
    return farm_at(path or DEFAULT_FARM)


def _check_past(choice: WeatherChoice, past: bool) -> None:
    """Refuse past hours of a service that has none."""
    if past and not SERVICES[choice.service or ""].past:
        raise OptionError("years_service", "--years", value=choice.service)


def _site_at(text: str) -> Site:
    """A site from ``LAT,LON``."""
    parts = text.replace(";", ",").split(",")
    try:
        latitude, longitude = (float(part) for part in parts)
    except ValueError:
        raise OptionError("at_unread", "--at", value=as_given(text)) from None
    if not (abs(latitude) <= 90 and abs(longitude) <= 180):
        raise OptionError("at_outside", "--at", value=as_given(text))
    return Site("here", latitude, longitude)


def _site_of(farm: Farm, name: str | None) -> Site:
    """The site named, or the only one."""
    known = ", ".join(farm.sites)
    if name is None and len(farm.sites) > 1:
        raise OptionError("which_site", "--site", known=known)
    wanted = next(iter(farm.sites)) if name is None else name
    if wanted not in farm.sites:
        raise OptionError("no_such_site", "--site", value=wanted, known=known)
    return farm.sites[wanted]
