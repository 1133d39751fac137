"""Which place a fetch speaks of: a site of a farm, or a latitude and longitude."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from hayweather.cli.options import Speech, default_language
from hayweather.errors import FarmFileError, OptionError
from hayweather.farm.records import Farm, Site, WeatherChoice

Service = Literal["us-nws", "open-meteo"]
Terms = Literal["non-commercial"]


def place_and_choice(
    farm_file: Path | None,
    at: str | None,
    site: str | None,
    service: Service | None,
    terms: Terms | None,
    past: bool,
) -> tuple[Site, WeatherChoice, Speech]:
    """The site, the service to ask, and the language to speak.

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
        if farm_file is not None:
            raise OptionError("at_and_farm", "--at")
        default: Service = "open-meteo" if past else "us-nws"
        choice = WeatherChoice(service=service or default, terms=terms)
        return _site_at(at), _for(choice, past), default_language()
    from hayweather.cli.load import farm_from

    farm = farm_from(farm_file)
    chosen = service or ("open-meteo" if past else farm.weather.service)
    if chosen is None:
        raise FarmFileError("fetch_no_service", str(farm.path or ""))
    choice = WeatherChoice(service=chosen, terms=terms or farm.weather.terms)
    return _site_of(farm, site), _for(choice, past), farm.language


def _for(choice: WeatherChoice, past: bool) -> WeatherChoice:
    """The choice, refused where the service has no past hours."""
    if past and choice.service != "open-meteo":
        raise OptionError("years_service", "--years", value=choice.service)
    return choice


def _site_at(text: str) -> Site:
    """A site from ``LAT,LON``."""
    parts = text.split(",")
    try:
        latitude, longitude = (float(part) for part in parts)
    except ValueError:
        raise OptionError("at_unread", "--at", value=" ".join(text.split())[:40]) from None
    if not (abs(latitude) <= 90 and abs(longitude) <= 180):
        raise OptionError("at_outside", "--at", value=" ".join(text.split())[:40])
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
