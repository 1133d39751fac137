"""What ``hayweather fetch`` does: the place asked for, past hours, many sites, the store.

The cost of past hours is said first, a bar shown meanwhile.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from hayweather.cli import options as o
from hayweather.cli.options import Service, Speech, Terms, Units, as_given, days_of
from hayweather.cli.progress import progress_bar
from hayweather.cli.write import Destinations
from hayweather.errors import (
    FarmFileError,
    HayweatherError,
    OptionError,
    OutputError,
    WeatherUnavailableError,
)
from hayweather.farm.records import Farm, Site, WeatherChoice
from hayweather.show.fetch import SiteBias, bias_text
from hayweather.show.store import store_data, store_text
from hayweather.show.voice import Voice
from hayweather.weather.catalog import OPEN_METEO, SERVICES, US_NWS
from hayweather.weather.files import write_weather_csv
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.weather.services import ServiceSettings, open_meteo, resolve_place
from hayweather.weather.services.pull import CALLS_A_DAY, Pull, paced, pull_of, shortest_wait_s
from hayweather.weather.store import AnswerStore
from hayweather.words import default_language, say

if TYPE_CHECKING:
    from hayweather.seasons.record.sites import SeasonSite, Sites


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


@dataclass(frozen=True)
class SitesErrand:
    """Past hours of the sites of a file.

    Attributes
    ----------
    file
        Its sites.
    terms
        Of the command line; without them each site's own.
    days
        First and last day.
    folder
        Where a CSV of each site goes.
    """

    file: Sites
    terms: o.Terms | None
    days: tuple[date, date]
    folder: Path

    def of(self, place: SeasonSite) -> Errand:
        """The errand of one site."""
        choice = WeatherChoice(service=OPEN_METEO.name, terms=self.terms or place.weather.terms)
        return Errand(place.site, choice, self.file.language, self.file.units, place.site.name)

    def target(self, name: str) -> Path:
        """File of a site."""
        return self.folder / f"{name}.csv"


def sites_errand(
    file: Sites, years: str | None, terms: o.Terms | None, folder: Path | None, now: np.datetime64
) -> SitesErrand:
    """What the options ask of a sites file.

    Raises
    ------
    OptionError
        If years or the folder are not named.
    """
    if years is None:
        raise OptionError("fetch_sites_years", "--years")
    if folder is None:
        raise OptionError("fetch_sites_folder", "--to")
    return SitesErrand(
        file, terms, days_of(years, now.astype("datetime64[D]").astype(date)), folder
    )


def within_a_day(
    pulls: Mapping[str, Pull], settings: ServiceSettings
) -> tuple[list[str], list[str]]:
    """Sites whose hours fit into the allowance of a day, in order, and those that must wait."""
    now: list[str] = []
    later: list[str] = []
    calls = 0.0
    for name, pull in pulls.items():
        fits = settings.key is not None or calls + pull.calls <= CALLS_A_DAY
        if fits:
            calls += pull.calls
        (now if fits else later).append(name)
    return now, later


def fetch_sites(
    errand: SitesErrand,
    settings: ServiceSettings,
    where: Destinations,
    *,
    now: np.datetime64,
    offline: bool,
    yes: bool,
) -> None:
    """Pull, write a file a site as it comes, and say how each differs from its own station.

    What came is stored: the same command again asks only for what is missing.

    Raises
    ------
    HayweatherError
        The first of the sites that could not be had, after all others are written.
    """
    language = errand.file.language
    places = errand.file.sites
    try:
        errand.folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        raise OutputError("out_failed", str(errand.folder), reason=reason) from None
    where.check_also([str(errand.target(name)) for name in places])
    pulls = {
        name: Pull(()) if offline else pull_of(place.site, *errand.days, settings, now=now)
        for name, place in places.items()
    }
    todo, later = within_a_day(pulls, settings)
    if not todo:
        calls = f"{min(pull.calls for pull in pulls.values()):.0f}"
        raise OptionError("over_allowance", "--years", calls=calls, limit=f"{CALLS_A_DAY}")
    whole = Pull(tuple(cost for name in todo for cost in pulls[name].costs))
    first = errand.of(places[todo[0]])
    if not offline:
        free = settings.key is None
        text = (
            cost_text(whole, first, free=free)
            if whole.requests
            else say("fetch_cost_none", language)
        )
        print(text, file=sys.stderr)
        if whole.calls > CALLS_WORTH_ASKING and not yes:
            ask(first)
    done, problems = _sites_pulled(
        errand, todo, pulls, whole, settings, where, now=now, offline=offline
    )
    voice = Voice(language, where.units or errand.file.units, "UTC")
    where.write([(where.place, bias_text(done, voice, o.text_width()))])
    if later:
        print(say("fetch_sites_later", language, sites=", ".join(later)), file=sys.stderr)
    if problems:
        first_problem, *others = problems
        first_problem.others = tuple(others)
        raise first_problem


def _sites_pulled(
    errand: SitesErrand,
    todo: list[str],
    pulls: Mapping[str, Pull],
    whole: Pull,
    settings: ServiceSettings,
    where: Destinations,
    *,
    now: np.datetime64,
    offline: bool,
) -> tuple[list[SiteBias], list[HayweatherError]]:
    """Every site that can be had, written, with its bias; and what stopped the others."""
    done: list[SiteBias] = []
    problems: list[HayweatherError] = []
    language, before = errand.file.language, 0
    with progress_bar(lambda at, of: say("fetch_progress", language, done=at, of=of)) as show:
        pace = show if offline else paced(show, whole.costs, settings)
        for name in todo:
            place = errand.file.sites[name]
            offset, before = before, before + len(pulls[name].costs)
            one = errand.of(place)

            def step(at: int, _: int, offset: int = offset) -> None:
                pace(offset + at, len(whole.costs))

            try:
                found = resolve_place(one.choice, one.site, settings, offline=offline, now=now)
                weather = open_meteo.fetch_past(
                    one.site, *errand.days, settings, now=now, offline=offline, progress=step
                )
            except HayweatherError as problem:
                problems.append(problem)
                continue
            except KeyboardInterrupt:
                print(say("fetch_resume", language), file=sys.stderr)
                raise
            high = found.elevation_m if weather.elevation_m is None else weather.elevation_m
            weather = replace(weather, timezone=found.timezone, elevation_m=high)
            where.write([(str(errand.target(name)), hours_csv(weather))])
            bias, faults = bias_of(place, weather)
            done.append(bias)
            problems += faults
    return done, problems


def hours_csv(weather: HourlyWeather) -> str:
    """The hours as the file that outlook and inspect read back to the same numbers."""
    stream = io.StringIO()
    write_weather_csv(weather, 0, stream)
    return stream.getvalue()


def bias_of(place: SeasonSite, weather: HourlyWeather) -> tuple[SiteBias, list[HayweatherError]]:
    """How hours of a service differ from a site's own files, and what is wrong with these.

    Wind is left out where its heights differ.
    """
    from hayweather.seasons.past_hours import series_of

    name = place.site.name
    blank: dict[str, tuple[float, float]] = {}
    if not place.files:
        return SiteBias(name, weather.hours, 0, blank), []
    series, faults = series_of(place, None)
    differences: dict[str, list[np.ndarray]] = {}
    for own in series:
        offset = round(float((own.start[0] - weather.start[0]) / HOUR))
        first, last = max(offset, 0), min(offset + own.hours, weather.hours)
        if first >= last:
            continue
        for column in ("air_temperature_c", "dew_point_c", "wind_speed_m_s"):
            if column == "wind_speed_m_s" and own.wind_height_m != weather.wind_height_m:
                continue
            there = weather.columns[column][first:last, 0]
            here = own.columns[column][first - offset : last - offset, 0]
            differences.setdefault(column, []).append(there - here)
    found = {}
    hours = 0
    for column, parts in differences.items():
        values = np.concatenate(parts)
        values = values[np.isfinite(values)]
        if values.size:
            found[column] = (float(values.mean()), float(values.std()))
            hours = max(hours, values.size)
    return SiteBias(name, weather.hours, hours, found), faults


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
