"""``hayweather fetch SITES.toml``: past hours of many sites, a file each, and their bias."""

from __future__ import annotations

import io
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from hayweather.cli import options as o
from hayweather.cli.fetching import CALLS_WORTH_ASKING, Errand, ask, cost_text
from hayweather.cli.options import days_of
from hayweather.cli.progress import progress_bar
from hayweather.cli.write import Destinations
from hayweather.errors import HayweatherError, OptionError, OutputError
from hayweather.farm.records import WeatherChoice
from hayweather.seasons.past_hours import series_of
from hayweather.seasons.record.sites import SeasonSite, Sites
from hayweather.show.fetch import SiteBias, bias_text
from hayweather.show.voice import Voice
from hayweather.weather.catalog import OPEN_METEO
from hayweather.weather.files import write_weather_csv
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.weather.services import ServiceSettings, open_meteo, resolve_place
from hayweather.weather.services.pull import CALLS_A_DAY, Pull, paced, pull_of
from hayweather.words import say


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
    done, problems = _pulled(errand, todo, pulls, whole, settings, where, now=now, offline=offline)
    voice = Voice(language, where.units or errand.file.units, "UTC")
    where.write([(where.place, bias_text(done, voice, o.text_width()))])
    if later:
        print(say("fetch_sites_later", language, sites=", ".join(later)), file=sys.stderr)
    if problems:
        first_problem, *others = problems
        first_problem.others = tuple(others)
        raise first_problem


def _pulled(
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
            stream = io.StringIO()
            write_weather_csv(weather, 0, stream)
            where.write([(str(errand.target(name)), stream.getvalue())])
            bias, faults = bias_of(place, weather)
            done.append(bias)
            problems += faults
    return done, problems


def bias_of(place: SeasonSite, weather: HourlyWeather) -> tuple[SiteBias, list[HayweatherError]]:
    """How hours of a service differ from a site's own files, and what is wrong with these.

    Wind is left out where its heights differ.
    """
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
