"""``hayweather fetch``: a forecast or past hours, saved as CSV; and the store of answers."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from hayweather.cli import options as o
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.farm.records import Site, WeatherChoice
    from hayweather.weather.record import HourlyWeather
    from hayweather.weather.services import ServiceSettings

Service = Literal["us-nws", "open-meteo"]
StoreAction = Literal["show", "clear", "clear-all"]
CALLS_WORTH_ASKING = 10.0

FarmFile = Annotated[
    Path | None,
    typer.Argument(metavar="FARM.toml", help=o.help_text("farm_file"), show_default=False),
]
AtOption = Annotated[str | None, typer.Option("--at", metavar="LAT,LON", help=o.help_text("at"))]
YearsOption = Annotated[
    str | None, typer.Option("--years", metavar="A:B", help=o.help_text("years"))
]
SiteOption = Annotated[str | None, typer.Option("--site", metavar="NAME", help=o.help_text("site"))]
ServiceOption = Annotated[Service | None, typer.Option("--service", help=o.help_text("service"))]
TermsOption = Annotated[
    Literal["non-commercial"] | None, typer.Option("--terms", help=o.help_text("terms"))
]
YesOption = Annotated[bool, typer.Option("--yes", help=o.help_text("yes"))]
StoreOption = Annotated[StoreAction | None, typer.Option("--store", help=o.help_text("store"))]


def fetch(
    farm_file: FarmFile = None,
    at: AtOption = None,
    site: SiteOption = None,
    years: YearsOption = None,
    service: ServiceOption = None,
    terms: TermsOption = None,
    out: o.OutOption = None,
    offline: o.OfflineOption = False,
    yes: YesOption = False,
    store: StoreOption = None,
) -> None:
    """Get a forecast or past hours from a weather service, as CSV."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import wall_clock
    from hayweather.cli.places import place_and_choice
    from hayweather.cli.write import SCREEN, check_places, write_all
    from hayweather.weather.services import ServiceSettings, fetch_site_weather

    settings = ServiceSettings.from_environment()
    if store is not None:
        show_store(settings, store)
        return
    where, choice, language = place_and_choice(farm_file, at, site, service, terms, bool(years))
    with spoken_in(language):
        check_places([out or SCREEN])
        if years is None:
            weather = fetch_site_weather(choice, where, settings, offline=offline, now=wall_clock())
        else:
            weather = _past(where, choice, settings, years, language, offline=offline, yes=yes)
        write_all([(out or SCREEN, _csv(weather))], language)


def _csv(weather: HourlyWeather) -> str:
    """The hours as the file that outlook and inspect read back to the same numbers."""
    from hayweather.weather.files import write_weather_csv

    stream = io.StringIO()
    write_weather_csv(weather, 0, stream)
    return stream.getvalue()


def _past(
    site: Site,
    choice: WeatherChoice,
    settings: ServiceSettings,
    years: str,
    language: o.Speech,
    *,
    offline: bool,
    yes: bool,
) -> HourlyWeather:
    """Past hours of whole years; the cost is said first, progress while it lasts."""
    from hayweather.cli.load import wall_clock
    from hayweather.weather.services import open_meteo, resolve_place
    from hayweather.weather.services.open_meteo_days import cost_of_past

    open_meteo.require_terms(choice.terms, settings)
    now = wall_clock()
    first, last = _days(years, now.astype("datetime64[D]").astype(date))
    calls = cost_of_past(first, last)
    if not offline:
        print(say("fetch_cost", language, calls=f"{calls:.0f}"), file=sys.stderr)
        if calls > CALLS_WORTH_ASKING and sys.stdin.isatty() and not yes:
            typer.confirm(say("fetch_go_on", language), abort=True, err=True)
    place = resolve_place(choice, site, settings, offline=offline, now=now)
    weather = open_meteo.fetch_past(
        site, first, last, settings, now=now, offline=offline, progress=_bar(language)
    )
    elevation_m = place.elevation_m if weather.elevation_m is None else weather.elevation_m
    return replace(weather, timezone=place.timezone, elevation_m=elevation_m)


def _days(years: str, today: date) -> tuple[date, date]:
    """First and last day of ``A:B`` or ``A``; this year ends yesterday."""
    from hayweather.errors import OptionError

    begin, _, end = years.partition(":")
    try:
        first, last = date(int(begin), 1, 1), date(int(end or begin), 12, 31)
    except ValueError:
        raise OptionError("years_unread", "--years", value=" ".join(years.split())[:40]) from None
    if not first <= last or first >= today:
        raise OptionError("years_order", "--years", value=years, today=today.year)
    return first, min(last, today - timedelta(days=1))


def _bar(language: o.Speech) -> Callable[[int, int], None] | None:
    """A bar on standard error where that is a terminal, else nothing."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, of: int) -> None:
        filled = round(30 * done / of)
        text = say("fetch_progress", language, done=done, of=of)
        end = "\n" if done == of else ""
        print(f"\r[{'#' * filled}{'.' * (30 - filled)}] {text}", end=end, file=sys.stderr)
        sys.stderr.flush()

    return show


def show_store(settings: ServiceSettings, action: StoreAction) -> None:
    """List what is stored, or remove it; the key is in no name and no answer."""
    from hayweather.weather.store import AnswerStore

    language = o.default_language()
    kept = AnswerStore(settings.store_folder())
    if action != "show":
        count = kept.clear(past_too=action == "clear-all")
        print(say("store_cleared", language, count=count, folder=kept.folder), file=sys.stderr)
        return
    entries = kept.entries()
    print(say("store_folder", language, folder=kept.folder, count=len(entries)))
    for entry in entries:
        if entry.request is None:
            print(say("store_damaged_file", language, name=entry.path.name))
            continue
        key = "store_past" if entry.kept else "store_forecast"
        kilobytes = f"{entry.size_bytes / 1000:.0f}"
        print(
            say(key, language, fetched=f"{entry.fetched}Z", size=kilobytes, request=entry.request)
        )
