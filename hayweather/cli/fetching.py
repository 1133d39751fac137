"""What ``hayweather fetch`` does: the place asked for, past hours, the store of answers.

The cost of past hours is said first, a bar shown meanwhile.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal

import numpy as np

from hayweather.cli import options as o
from hayweather.cli.options import (
    Service,
    Speech,
    Terms,
    Units,
    as_given,
    days_of,
)
from hayweather.cli.progress import progress_bar
from hayweather.cli.write import Destinations
from hayweather.errors import FarmFileError, OptionError, OutputError, WeatherUnavailableError
from hayweather.farm.records import Farm, Site, WeatherChoice
from hayweather.show.store import store_data, store_text
from hayweather.weather.catalog import OPEN_METEO, SERVICES, US_NWS
from hayweather.weather.record import HourlyWeather
from hayweather.weather.services import ServiceSettings, open_meteo, resolve_place
from hayweather.weather.services.pull import CALLS_A_DAY, Pull, paced, pull_of, shortest_wait_s
from hayweather.weather.store import AnswerStore
from hayweather.words import default_language, say


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
    own = farm.weather
    choice = WeatherChoice(service=chosen, terms=terms or own.terms, contact=own.contact)
    _check_past(choice, past)
    return Errand(_site_of(farm, site), choice, farm.language, farm.units, str(farm.path or ""))


def _errand_at(at: str, service: Service | None, terms: Terms | None, past: bool) -> Errand:
    """The errand of a place without a farm file."""
    from hayweather.farm.zones import in_us_boxes

    place = site_at(at)
    default: Service = OPEN_METEO.name if past else US_NWS.name
    choice = WeatherChoice(service=service or default, terms=terms)
    _check_past(choice, past)
    if SERVICES[choice.service or ""].us_only and not in_us_boxes(place.latitude, place.longitude):
        raise OptionError("at_not_in_us", "--at", value=at.strip())
    return Errand(place, choice, default_language(), "us", "--at")


def _farm(path: Path | None) -> Farm:
    """The farm file named or here; its terms are judged with the options, not here."""
    from hayweather.cli.load import farm_at

    if path is None and not o.DEFAULT_FARM.exists():
        raise OptionError("fetch_no_place")
    return farm_at(path or o.DEFAULT_FARM)


def _check_past(choice: WeatherChoice, past: bool) -> None:
    """Refuse past hours of a service that has none."""
    if past and not SERVICES[choice.service or ""].past:
        raise OptionError("years_service", "--years", value=choice.service)


def site_at(text: str) -> Site:
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


CALLS_WORTH_ASKING = 10.0
MINUTES_WORTH_TELLING = 1.0


def past_hours(
    errand: Errand,
    settings: ServiceSettings,
    years: str,
    *,
    now: np.datetime64,
    offline: bool,
    yes: bool,
) -> HourlyWeather:
    """Past hours of whole years, with zone and elevation of the place.

    Parameters
    ----------
    errand, settings
        What to fetch, and how.
    years
        ``A:B`` or ``A``.
    offline, yes
        Use the store alone; do not ask before many calls.

    Raises
    ------
    OptionError
        If there are no such years, or a pull is beyond the free allowance.
    ServiceError
        If a year cannot be had; those before it are stored by then.
    """
    first, last = days_of(years, now.astype("datetime64[D]").astype(date))
    pull = Pull(()) if offline else pull_of(errand.site, first, last, settings, now=now)
    if not offline:
        _announce(pull, settings, errand, yes=yes)
    place = resolve_place(errand.choice, errand.site, settings, offline=offline, now=now)
    weather = _pulled(errand, settings, pull, (first, last), now=now, offline=offline)
    elevation_m = place.elevation_m if weather.elevation_m is None else weather.elevation_m
    return replace(weather, timezone=place.timezone, elevation_m=elevation_m)


def _announce(pull: Pull, settings: ServiceSettings, errand: Errand, *, yes: bool) -> None:
    """Say what a pull will count, refuse what is beyond the allowance, ask where that is possible.

    Raises
    ------
    OptionError
        If it is beyond the allowance of a day.
    """
    calls = f"{pull.calls:.0f}"
    if settings.key is None and pull.calls > CALLS_A_DAY:
        raise OptionError("over_allowance", "--years", calls=calls, limit=f"{CALLS_A_DAY}")
    if pull.requests == 0:
        print(say("fetch_cost_none", errand.language), file=sys.stderr)
        return
    print(cost_text(pull, errand, free=settings.key is None), file=sys.stderr)
    if pull.calls > CALLS_WORTH_ASKING and not yes:
        ask(errand)


def cost_text(pull: Pull, errand: Errand, *, free: bool) -> str:
    """What a pull counts, and how long the free service makes it last."""
    calls, minutes = f"{pull.calls:.0f}", shortest_wait_s(pull.calls, pull.calls) / 60
    if not free:
        return say("fetch_cost_key", errand.language, requests=pull.requests, calls=calls)
    limit = f"{CALLS_A_DAY}"
    cost = say("fetch_cost", errand.language, requests=pull.requests, calls=calls, limit=limit)
    if minutes < MINUTES_WORTH_TELLING:
        return cost
    return f"{cost} {say('fetch_pace', errand.language, minutes=f'{minutes:.0f}')}"


def ask(errand: Errand) -> None:
    """Let people stop; nobody is asked where there is no terminal."""
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        return
    print(say("fetch_go_on", errand.language), end=" ", file=sys.stderr, flush=True)
    if sys.stdin.readline().strip().casefold()[:1] not in ("y", "s"):
        import typer

        raise typer.Abort("no")


def _pulled(
    errand: Errand,
    settings: ServiceSettings,
    pull: Pull,
    days: tuple[date, date],
    *,
    now: np.datetime64,
    offline: bool,
) -> HourlyWeather:
    """The hours; when the pull breaks off, how to go on is said."""
    begun = False

    def step(done: int, of: int) -> None:
        nonlocal begun
        begun = True
        show(done, of)

    try:
        with progress_bar(lambda *n: _progress(errand, *n)) as show:
            pace = step if offline else paced(step, pull.costs, settings)
            return open_meteo.fetch_past(
                errand.site, *days, settings, now=now, offline=offline, progress=pace
            )
    except (WeatherUnavailableError, KeyboardInterrupt):
        if begun and not offline:
            print(say("fetch_resume", errand.language), file=sys.stderr)
        raise


def _progress(errand: Errand, done: int, of: int) -> str:
    """What stands behind the bar."""
    return say("fetch_progress", errand.language, done=done, of=of)


def use_store(action: Literal["show", "clear", "clear-all"], where: Destinations) -> None:
    """List what is stored, or remove it; the key is in no name and no answer.

    Raises
    ------
    OutputError
        If something that should go cannot be removed.
    """
    language = where.language
    store = AnswerStore(ServiceSettings.from_environment().store_folder())
    if action != "show":
        _clear(store, language, past_too=action == "clear-all")
        return
    entries = store.entries()
    plain = where.form == "table"
    if plain:
        text = store_text(store.folder, entries, language, o.text_width())
    else:
        text = store_data(store.folder, entries, csv=where.form == "csv", raw=where.raw)
    where.write([(where.place, text)])


def _clear(store: AnswerStore, language: str, *, past_too: bool) -> None:
    """Remove stored answers and say how many went and how many stay."""
    count = store.clear(past_too=past_too)
    left = store.entries()
    if any(past_too or not entry.kept for entry in left):
        raise OutputError("store_stuck", str(store.folder))
    text = say("store_cleared", language, count=count, folder=store.folder)
    if left:
        text = f"{text} {say('store_past_left', language, count=len(left))}"
    print(text, file=sys.stderr)
