"""What ``hayweather fetch`` does: the place asked for, past hours, the store of answers.

The cost of past hours is said first, a bar shown meanwhile.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Literal, NamedTuple
from urllib.parse import parse_qs, urlsplit

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
from hayweather.show.layout import named_values
from hayweather.show.table import Column, Document, Table
from hayweather.show.voice import Voice
from hayweather.weather.catalog import OPEN_METEO, SERVICES, US_NWS
from hayweather.weather.record import HourlyWeather
from hayweather.weather.services import ServiceSettings, open_meteo, resolve_place
from hayweather.weather.services.pull import CALLS_A_DAY, Pull, paced, pull_of, shortest_wait_s
from hayweather.weather.store import AnswerStore, StoreEntry
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
    print(_cost(pull, errand, free=settings.key is None), file=sys.stderr)
    if pull.calls > CALLS_WORTH_ASKING and not yes:
        _ask(errand)


def _cost(pull: Pull, errand: Errand, *, free: bool) -> str:
    """What a pull counts, and how long the free service makes it last."""
    calls, minutes = f"{pull.calls:.0f}", shortest_wait_s(pull.calls, pull.calls) / 60
    if not free:
        return say("fetch_cost_key", errand.language, requests=pull.requests, calls=calls)
    limit = f"{CALLS_A_DAY}"
    cost = say("fetch_cost", errand.language, requests=pull.requests, calls=calls, limit=limit)
    if minutes < MINUTES_WORTH_TELLING:
        return cost
    return f"{cost} {say('fetch_pace', errand.language, minutes=f'{minutes:.0f}')}"


def _ask(errand: Errand) -> None:
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


KINDS = {
    "/v1/archive": "past",
    "/v1/ensemble": "runs",
    "/v1/forecast": "forecast",
    "/points/": "place",
    "/gridpoints/": "forecast",
}
"""What is asked, by the beginning of the path."""


class Asked(NamedTuple):
    """What a stored answer is about: its kind, the place, the days where they are named."""

    kind: str
    place: str
    days: str


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
    text = _text(store, entries, language) if plain else _data(store, entries, where)
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


def asked_of(request: str) -> Asked:
    """What a stored request is about.

    Examples
    --------
    >>> asked_of("https://h/v1/archive?latitude=40.5&longitude=-108.5&start_date=2015-01-01"
    ...          "&end_date=2015-12-31")
    Asked(kind='past', place='40.5, -108.5', days='2015-01-01 - 2015-12-31')
    """
    parts = urlsplit(request)
    query = {name: values[0] for name, values in parse_qs(parts.query).items()}
    kind = next((kind for begin, kind in KINDS.items() if parts.path.startswith(begin)), "other")
    if query.get("timezone") == "auto":
        kind = "place"
    if "_previous_day" in query.get("hourly", ""):
        kind = "earlier"
    place = ", ".join(query[name] for name in ("latitude", "longitude") if name in query)
    days = " - ".join(query[name] for name in ("start_date", "end_date") if name in query)
    return Asked(kind, place or parts.path.partition("points/")[2], days)


def _text(store: AnswerStore, entries: tuple[StoreEntry, ...], language: str) -> str:
    """Every stored answer on a line."""
    total = f"{sum(entry.size_bytes for entry in entries) / 1e6:.1f}"
    title = say("store_folder", language, folder=store.folder, count=len(entries), size=total)
    pairs = [(_when(entry), _line(entry, language)) for entry in entries]
    return "\n".join([title, *named_values(pairs, o.text_width())]) + "\n"


def _when(entry: StoreEntry) -> str:
    """When an answer was fetched, to the minute; blank for a damaged one."""
    return "" if entry.fetched is None else f"{str(entry.fetched)[:16].replace('T', ' ')} UTC"


def _line(entry: StoreEntry, language: str) -> str:
    """What an answer is about, and its size."""
    size = f"{entry.size_bytes / 1000:.0f}"
    if entry.request is None:
        return say("store_damaged_file", language, name=entry.path.name, size=size)
    asked = asked_of(entry.request)
    kind = say(f"store_kind_{asked.kind}", language)
    text = ", ".join(part for part in (kind, asked.place, asked.days) if part)
    return say("store_kept" if entry.kept else "store_passing", language, text=text, size=size)


def _data(store: AnswerStore, entries: tuple[StoreEntry, ...], where: Destinations) -> str:
    """Every stored answer as data."""
    if where.form == "csv":
        return ANSWERS.csv(entries, _PLAIN, raw=where.raw)
    return STORE.text(Stored(str(store.folder), entries), _PLAIN)


class Stored(NamedTuple):
    """A store and what is in it."""

    folder: str
    answers: tuple[StoreEntry, ...]


def _asked(name: str) -> Callable[[StoreEntry], str]:
    """A part of what was asked; a damaged answer has no kind."""

    def found(entry: StoreEntry) -> str:
        asked = Asked("damaged", "", "") if entry.request is None else asked_of(entry.request)
        return str(getattr(asked, name))

    return found


_PLAIN = Voice("en", "metric", "UTC")
ANSWERS = Table(
    (
        Column("fetched", "When", kind="utc", null=True),
        Column("kind", "What was asked for", _asked("kind"), kind="text"),
        Column("place", "Latitude and longitude", _asked("place"), kind="text"),
        Column("days", "First and last, where they are named", _asked("days"), kind="text"),
        Column("kept", "Past hours, which stay", kind="truth"),
        Column("size_bytes", "Of its file", kind="count"),
        Column("file", "Its name", "path.name", kind="text"),
        Column("request", "The address, without a key", kind="text", null=True),
    ),
    "A stored answer.",
)
STORE = Document(
    "hayweather/store/1",
    Table(
        (
            Column("folder", "Where they are", kind="text"),
            Column("answers", "All of them", kind="rows", of=ANSWERS),
        ),
        "Stored answers of weather services (hayweather fetch --store show).",
    ),
)
