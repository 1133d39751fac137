"""Past hours for ``hayweather fetch``: the cost is said first, a bar shown meanwhile."""

from __future__ import annotations

import sys
from dataclasses import replace
from datetime import date

import numpy as np

from hayweather.cli.places import Errand
from hayweather.cli.progress import progress_bar
from hayweather.cli.spans import days_of
from hayweather.errors import OptionError, WeatherUnavailableError
from hayweather.weather.record import HourlyWeather
from hayweather.weather.services import ServiceSettings, open_meteo, resolve_place
from hayweather.weather.services.pull import CALLS_A_DAY, Pull, paced, pull_of, shortest_wait_s
from hayweather.words import say

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
    now
        UTC time of the clock on the wall.
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

        raise typer.Abort


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
