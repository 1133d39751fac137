"""From a sites file to the whole answer: read, run side by side, count, compare."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from hayweather.errors import OptionError, WeatherFileError
from hayweather.nights.drive import setting_in
from hayweather.seasons.blocks import BLOCK_NIGHTS, Piece, run_nights
from hayweather.seasons.compare import pairs_of, trend_of
from hayweather.seasons.follow import finish_of, follow
from hayweather.seasons.hours import Fetch, Years, series_of
from hayweather.seasons.nights import causes_of, plan_nights
from hayweather.seasons.pays import costs_of, pays_of
from hayweather.seasons.record.nights import Missing
from hayweather.seasons.record.results import InputEffect, Seasons, SiteSeasons
from hayweather.seasons.record.sites import SeasonSite, Sites
from hayweather.seasons.sites import farm_of
from hayweather.seasons.tally import kept_nights, tally_of, year_of
from hayweather.seasons.variants import effect_of, most_telling, variants_of
from hayweather.seasons.work import Facts, SiteWork, evenings_asked, with_hours
from hayweather.weather.record import HourlyWeather

Progress = Callable[[int, int], None]
LABELS_A_SITE = 16  # base and variants


@dataclass(frozen=True)
class Request:
    """What is asked of the sites, and how the work is done.

    Attributes
    ----------
    months
        Months, 1 to 12.
    years
        First and last year; None for all that the files have.
    inputs
        True to try which inputs matter: every night is run seven times.
    cores, size, keep
        As `hayweather.seasons.blocks.run_nights`.
    fetch
        Asks the service for past hours; None is the archive.
    progress
        Called with nights done and nights known to be asked for.
    """

    months: tuple[int, ...] = (5, 6, 7, 8, 9)
    years: Years | None = None
    inputs: bool = False
    cores: int | None = None
    size: int = BLOCK_NIGHTS
    keep: Path | None = None
    fetch: Fetch | None = None
    progress: Progress | None = None


def make_seasons(file: Sites, request: Request | None = None) -> Seasons:
    """The seasons of all sites of a file.

    An interruption by the user keeps what is finished: the other nights are
    missing by name, and `Seasons.unfinished` is True.

    Parameters
    ----------
    file
        Sites and what they share.
    request
        Years, months, how the work is done.

    Raises
    ------
    FarmFileError, WeatherFileError, WeatherUnavailableError
        If a site's hours cannot be had.
    """
    asked = request or Request()
    works: list[SiteWork] = []
    unfinished = False
    try:
        _run(file, asked, works)
    except KeyboardInterrupt:
        unfinished = True
    sites = tuple(_site_seasons(file, asked, work) for work in works)
    costs = costs_of(file.money)
    return Seasons(
        file=file,
        months=asked.months,
        years=asked.years,
        sites=sites,
        pairs=pairs_of(sites, file.baler.useful_hours),
        inputs=tuple(effect for work in works for effect in _effects(file, work)),
        pays=tuple(pay for site in sites if (pay := pays_of(site, file, costs)) is not None),
        costs=costs,
        unfinished=unfinished,
    )


def _run(file: Sites, asked: Request, works: list[SiteWork]) -> None:
    """Run all nights; results go to the works of their sites as they come."""
    total = done = 0

    def pieces() -> Iterator[Piece]:
        nonlocal total
        for place in file.sites.values():
            series = series_of(place, asked.years, asked.fetch)
            work = _work_of(file, asked, place, series)
            works.append(work)
            total += len(work.evenings) * (1 + len(work.variants))
            yield from _pieces(file, work, series, len(works) - 1)
        _check_years(works, asked.years)

    stream = run_nights(pieces(), size=asked.size, cores=asked.cores, keep=asked.keep)
    for labels, nights in stream:
        for label in np.unique(labels).tolist():
            index, variant = divmod(label, LABELS_A_SITE)
            works[index].parts.setdefault(variant, []).append(nights.only(labels == label))
        done += nights.count
        if asked.progress is not None:
            asked.progress(done, total)


def _check_years(works: Sequence[SiteWork], years: Years | None) -> None:
    """Years asked for must be years, and some site must have hours in them."""
    if years is None:
        return
    if all(work.facts.typical for work in works):
        names = ", ".join(work.site.name for work in works)
        raise OptionError("seasons_typical_years", "--years", sites=names)
    if not any(work.evenings for work in works if not work.facts.typical):
        held = [year for work in works if not work.facts.typical for year in work.facts.held]
        first, last = years
        asked = str(first) if first == last else f"{first}:{last}"
        raise OptionError(
            "seasons_years_outside", "--years", value=asked, first=min(held), last=max(held)
        )


def _work_of(
    file: Sites, asked: Request, place: SeasonSite, series: Sequence[HourlyWeather]
) -> SiteWork:
    """A site and its evenings."""
    field = replace(file.windrow, site=place.site.name)
    setting = setting_in(farm_of(file, place), field, series[0], series[0].start[0])
    site = setting.site
    evenings = evenings_asked(series, str(site.timezone), asked.months, asked.years)
    if not evenings:
        raise WeatherFileError("seasons_no_evening", f"[site.{site.name}]")
    inside = [with_hours(series, day) for day in evenings]
    return SiteWork(
        site=site,
        facts=Facts.of(series, str(site.timezone)),
        evenings=[day for day, known in zip(evenings, inside, strict=True) if known],
        outside=[day for day, known in zip(evenings, inside, strict=True) if not known],
        variants=variants_of(setting) if asked.inputs else [],
        setting=setting,
    )


def _pieces(
    file: Sites, work: SiteWork, parts: Sequence[HourlyWeather], index: int
) -> Iterator[Piece]:
    """The nights of a site, each from the series that knows it best, and their variants."""
    zone = str(work.site.timezone)
    left = list(work.evenings)
    found = []
    for number, series in enumerate(parts, start=1):
        plan = plan_nights(series, zone, work.site.latitude, work.site.longitude, left)
        taken = causes_of(series, plan) == Missing.NONE
        taken |= number == len(parts)
        found.append((series, plan.only(taken)))
        left = [day for day, gone in zip(left, taken, strict=True) if not gone]
    settings = [work.setting, *(variant.apply(work.setting) for variant in work.variants)]
    for variant, setting in enumerate(settings):
        for series, plan in found:
            if plan.evening.size:
                label = index * LABELS_A_SITE + variant
                yield Piece(label, series, plan, setting, file.capacity_kg_h)


def _site_seasons(file: Sites, asked: Request, work: SiteWork) -> SiteSeasons:
    """Everything counted at one site."""
    nights, hours = work.nights(), file.baler.useful_hours
    facts = work.facts
    real = not facts.typical
    rest = (hours, file.rig, file.capacity_kg_h)
    names = [None] if facts.typical else np.unique(nights.year).tolist()
    years = tuple(
        year_of(nights.only(nights.year == year) if real else nights, year, asked.months, *rest)
        for year in names
    )
    kept = kept_nights(nights, years)
    runs = follow(kept, file.work, file.capacity_kg_h, real=real)
    return SiteSeasons(
        site=work.site,
        typical=facts.typical,
        rain_known=facts.rain_known,
        years=years,
        pooled=tally_of(kept, *rest, real=real),
        months={
            month: tally_of(kept.only(kept.month == month), *rest, real=real)
            for month in asked.months
        },
        finish=finish_of(runs, file.work, rain_known=facts.rain_known),
        trend=trend_of(years, nights),
        nights=nights,
        sources=facts.sources,
        attributions=facts.attributions,
        assumed=facts.assumed,
    )


def _effects(file: Sites, work: SiteWork) -> list[InputEffect]:
    """What each input does at a site."""
    base, hours = work.nights(), file.baler.useful_hours
    effects = [
        effect_of(work.site.name, variant, base, work.nights(number), hours)
        for number, variant in enumerate(work.variants, start=1)
    ]
    return most_telling([effect for effect in effects if effect is not None])
