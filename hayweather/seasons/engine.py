"""From a sites file to the whole answer: read, run side by side, count, compare."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cached_property
from pathlib import Path

import numpy as np

from hayweather.baling.clock import to_local
from hayweather.baling.setting import Setting
from hayweather.errors import HayweatherError, OptionError, WeatherFileError
from hayweather.farm.bands import target_of
from hayweather.farm.records import Site
from hayweather.nights.drive import drawn_windrows, setting_in
from hayweather.seasons.blocks import Piece, run_nights
from hayweather.seasons.compare import pairs_of, trend_of
from hayweather.seasons.mean_season import DRAWN_NIGHTS, SiteNights, mean_seasons
from hayweather.seasons.nights import (
    NightCuts,
    causes_of,
    cuts_of,
    evenings_between,
    months_with_hours,
    years_with_hours,
)
from hayweather.seasons.past_hours import Fetch, Years, derived_notes, series_of
from hayweather.seasons.pays import costs_of, pays_of
from hayweather.seasons.record.nights import Missing, Nights, join_nights, unknown_nights
from hayweather.seasons.record.results import InputEffect, LeftOut, Seasons, SiteSeasons
from hayweather.seasons.record.sites import SeasonSite, SiteRead, Sites, SitesRead
from hayweather.seasons.sites import farm_of
from hayweather.seasons.tally import finish_of, follow, kept_nights, tally_of, usable, year_of
from hayweather.weather.record import HOUR, NEEDED, Assumption, HourlyWeather, Times

MASS_FACTORS = (0.7, 1.4)  # as wide as the spread of forecasts has it (assumed)
DEW_POINT_SHIFTS_K = (-1.0, 1.0)
BAND_SHIFTS_WB = (-1.0, 1.0)


@dataclass(frozen=True)
class Variant:
    """One input changed; `key` and `change` as in `InputEffect`."""

    key: str
    change: tuple[float, str]
    apply: Callable[[Setting], Setting]


def variants_of(setting: Setting) -> list[Variant]:
    """The changes that are tried at a site; those that share a band stand together."""
    mass = float(np.asarray(setting.windrow.dry_matter_kg_m2))
    changes = [_mass(factor, mass) for factor in MASS_FACTORS]
    changes += [_dew_point(shift) for shift in DEW_POINT_SHIFTS_K]
    return changes + [_band(shift) for shift in BAND_SHIFTS_WB if _allowed(setting, shift)]


def _mass(factor: float, mass_kg_m2: float) -> Variant:
    """A lighter or heavier windrow."""
    new = factor * mass_kg_m2

    def apply(setting: Setting) -> Setting:
        return replace(setting, windrow=replace(setting.windrow, dry_matter_kg_m2=new))

    return Variant("mass", (new, "windrow_mass"), apply)


def _dew_point(shift_k: float) -> Variant:
    """A drier or moister field."""

    def apply(setting: Setting) -> Setting:
        offset = setting.place.dew_point_offset_k + shift_k
        return replace(setting, place=replace(setting.place, dew_point_offset_k=offset))

    return Variant("dew_point", (shift_k, "temperature_difference"), apply)


def _allowed(setting: Setting, shift_wb: float) -> bool:
    """Whether a shifted band stays below the ceiling."""
    return setting.band.high_wb + shift_wb <= setting.band.ceiling_wb


def _band(shift_wb: float) -> Variant:
    """A drier or moister band, the leaf minimum with it where the band sets it."""

    def apply(setting: Setting) -> Setting:
        old = setting.band
        low, leaf = old.low_wb + shift_wb, old.leaf_minimum_wb
        band = replace(
            old,
            low_wb=low,
            high_wb=old.high_wb + shift_wb,
            leaf_minimum_wb=low if leaf == old.low_wb else leaf,
        )
        target = setting.target_wb if setting.rig is None else target_of(setting.rig, low)
        return replace(setting, band=band, target_wb=target)

    return Variant("band", (shift_wb, "percent"), apply)


def effect_of(
    site: str, variant: Variant, base: Nights, changed: Nights, useful_hours: float
) -> InputEffect | None:
    """What a change does on the nights counted both times; None where there are none."""
    both = base.counted & changed.counted
    if not both.any():
        return None
    old, new = base.only(both), changed.only(both)
    good = usable(new, useful_hours).mean() - usable(old, useful_hours).mean()
    return InputEffect(
        site=site,
        key=variant.key,
        change=variant.change,
        dew_hours=float((new.dew_h - old.dew_h).mean()),
        rig_hours=float((new.rig_h - old.rig_h).mean()),
        wet_hours=float((new.wet_h - old.wet_h).mean()),
        dew_nights_percent=float(100 * good),
        nights=int(both.sum()),
    )


def most_telling(effects: Sequence[InputEffect]) -> list[InputEffect]:
    """Effects of one site, the largest change in hours on dew first."""
    return sorted(effects, key=lambda effect: -abs(effect.dew_hours))


_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Facts:
    """What must be said of the hours of a site after they are gone from memory.

    Attributes
    ----------
    typical
        True for a typical year.
    sources, attributions, assumed
        Of the weather.
    held
        First and last year of the hours.
    """

    typical: bool
    sources: tuple[str, ...]
    attributions: tuple[str, ...]
    assumed: tuple[Assumption, ...]
    held: Years

    @classmethod
    def of(cls, series: Sequence[HourlyWeather], timezone: str) -> Facts:
        """The facts of some series at a site in `timezone`."""
        named = [part.source.attribution for part in series if part.source.attribution]
        notes = [note for part in series for note in (*part.assumed, *derived_notes(part.columns))]
        ends = [
            to_local(time, timezone).year
            for part in series
            for time in (part.start[0], part.end[0] - HOUR)
        ]
        return cls(
            typical=series[0].typical_year,
            sources=tuple(dict.fromkeys(part.source.name for part in series)),
            attributions=tuple(dict.fromkeys(named)),
            assumed=tuple({note.key: note for note in notes}.values()),
            held=(min(ends), max(ends)),
        )


@dataclass
class SiteWork:
    """One site while the run goes on.

    Attributes
    ----------
    site, facts, setting, variants, months
        What holds there.
    tried
        Evenings on which the variants are run.
    evenings, outside
        Evenings that are run; evenings asked for beyond all hours of the site.
    draws
        How often the assumed numbers are drawn.
    parts
        Nights as they come, ``{variant: [Nights]}``; 0 is no change, those after
        the last of `variants` are draws.
    """

    site: Site
    facts: Facts
    evenings: Sequence[date]
    outside: Sequence[date]
    variants: Sequence[Variant]
    setting: Setting
    months: tuple[int, ...]
    tried: Times
    draws: int = 0
    parts: dict[int, list[Nights]] = field(default_factory=dict)

    @cached_property
    def evenings_run(self) -> Times:
        """The evenings that are run, ``datetime64[D]``."""
        return np.array(self.evenings, dtype="datetime64[D]")

    def drawn(self) -> list[Nights]:
        """The nights of each draw of the assumed numbers, as far as they were run."""
        first = 1 + len(self.variants)
        found = [self.parts.get(first + number, []) for number in range(self.draws)]
        return [join_nights(parts) for parts in found if parts]

    def nights(self, variant: int = 0) -> Nights:
        """All nights in order, those without a result marked "not run"."""
        found = self.parts.get(variant, [])
        asked = self.evenings_run
        beyond = np.array(self.outside, dtype="datetime64[D]")
        done = np.concatenate([part.evening for part in found]) if found else asked[:0]
        left = unknown_nights(np.setdiff1d(asked, done), Missing.NOT_RUN)
        nights = join_nights([*found, left, unknown_nights(beyond, Missing.NO_HOURS)])
        return nights.only(np.argsort(nights.evening, kind="stable"))


def evenings_asked(
    series: Sequence[HourlyWeather], timezone: str, months: Sequence[int], years: Years | None
) -> list[date]:
    """Evenings asked for: of the years given, or of every year with temperatures in these months.

    A typical year has no years to choose from: all its evenings count.
    """
    if series[0].typical_year:
        first, last = (
            to_local(time[0], timezone).date() for time in (series[0].start, series[0].end)
        )
        return evenings_between(first, last - _DAY, months)
    if years is not None:
        named = list(range(years[0], years[1] + 1))
    else:
        known = (np.isfinite(part.columns["air_temperature_c"][:, 0]) for part in series)
        times = [part.times()[rows, 0] for part, rows in zip(series, known, strict=True)]
        named = sorted({year for part in times for year in years_with_hours(part, months)})
    return [
        day
        for year in named
        for day in evenings_between(date(year, 1, 1), date(year, 12, 31), months)
    ]


def with_hours(series: Sequence[HourlyWeather], evenings: Sequence[date]) -> list[bool]:
    """Of each evening, whether any series reaches into the days about it."""
    near = 2 * _DAY
    spans = [
        (part.start[0].item().date() - near, part.end[0].item().date() + near) for part in series
    ]
    return [any(first <= evening <= last for first, last in spans) for evening in evenings]


SEASON_NORTH, SEASON_SOUTH = (5, 6, 7, 8, 9), (11, 12, 1, 2, 3)
"""Months of hay where none are asked for (common practice, no source)."""


def months_of(series: Sequence[HourlyWeather], latitude: float) -> tuple[int, ...]:
    """Months of the growing season that a site has data of; all with data where none is."""
    known = (np.isfinite(part.columns["air_temperature_c"][:, 0]) for part in series)
    times = [part.times()[rows, 0] for part, rows in zip(series, known, strict=True)]
    found = {month for part in times for month in months_with_hours(part)}
    season = SEASON_NORTH if latitude >= 0 else SEASON_SOUTH
    return tuple(month for month in season if month in found) or tuple(sorted(found))


SAMPLED_NIGHTS = 60
"""Nights of a site on which it is tried which inputs matter, unless all are asked for."""


def sampled(evenings: Sequence[date]) -> list[date]:
    """Some evenings, spread evenly over all."""
    step = max(1, len(evenings) // SAMPLED_NIGHTS)
    return list(evenings[step // 2 :: step])[:SAMPLED_NIGHTS]


def in_season(months: Collection[int]) -> tuple[int, ...]:
    """Months of several sites together, in the order of a season."""
    if months and set(months) <= set(SEASON_SOUTH):
        return tuple(month for month in SEASON_SOUTH if month in months)
    return tuple(sorted(months))


Progress = Callable[[int, int], None]
LABELS_A_SITE = 64  # base, variants and draws


@dataclass(frozen=True)
class Request:
    """What is asked of the sites, and how the work is done.

    Attributes
    ----------
    months
        Months, 1 to 12; None for those of the growing season that have data.
    years
        First and last year; None for all that the files have.
    inputs
        True to try which inputs matter on every night, which is then run seven
        times; else they are tried on a sample of nights.
    draws
        How often the model's assumed numbers are drawn, on some nights of each
        site; 0 tells no doubt of the model.
    cores, size, keep
        As `hayweather.seasons.blocks.run_nights`.
    fetch
        Asks the service for past hours; None is the archive.
    progress
        Called with nights done and nights known to be asked for.
    """

    months: tuple[int, ...] | None = None
    years: Years | None = None
    inputs: bool = False
    draws: int = 0
    cores: int | None = None
    size: int | None = None
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
        If the hours of no site can be had; `HayweatherError.others` holds what else is wrong.
    """
    asked = request or Request()
    works: list[SiteWork] = []
    left_out: list[LeftOut] = []
    unfinished = False
    try:
        _run(file, asked, works, left_out)
    except KeyboardInterrupt:
        unfinished = True
    if left_out and not works and not unfinished:
        raise together(left_out)
    if asked.months is None:
        asked = replace(asked, months=in_season({month for work in works for month in work.months}))
    sites = _with_seasons(file, [_site_seasons(file, asked, work) for work in works], works)
    costs = costs_of(file.money)
    return Seasons(
        file=file,
        months=asked.months or (),
        years=asked.years,
        sites=sites,
        pairs=pairs_of(sites, file.baler.useful_hours),
        inputs=tuple(effect for work in works for effect in _effects(file, work)),
        pays=tuple(pay for site in sites if (pay := pays_of(site, file, costs)) is not None),
        costs=costs,
        unfinished=unfinished,
        left_out=tuple(left_out),
    )


def read_all(file: Sites) -> SitesRead:
    """Read the weather of every site without running it; a service is not asked."""
    found = []
    for place in file.sites.values():
        series: list[HourlyWeather] = []
        faults: list[HayweatherError] = []
        if place.weather.service is None:
            series, faults = series_of(place, None)
        told = [_columns_told(part) for part in series]
        notes = [
            note
            for part, columns in zip(series, told, strict=True)
            for note in (*part.assumed, *derived_notes(columns))
        ]
        ends = [str(time)[:10] for part in series for time in (part.start[0], part.end[0] - HOUR)]
        found.append(
            SiteRead(
                place=place,
                hours=sum(_known_hours(part) for part in series),
                first=min(ends, default=""),
                last=max(ends, default=""),
                columns=tuple(dict.fromkeys(name for columns in told for name in columns)),
                notes=tuple({note.key: note for note in notes}.values()),
                problems=tuple(faults),
            )
        )
    return SitesRead(file, tuple(found))


def _known_hours(part: HourlyWeather) -> int:
    """Hours that a night can be made of: without rain it is only not told what rain did."""
    return int(np.all([np.isfinite(part.columns[name]) for name in NEEDED], axis=0).sum())


def _columns_told(part: HourlyWeather) -> tuple[str, ...]:
    """Columns with any value: one that is blank throughout tells nothing."""
    return tuple(name for name, values in part.columns.items() if np.isfinite(values).any())


def together(left_out: Sequence[LeftOut]) -> HayweatherError:
    """The first fault of all sites, with all others beside it."""
    first, *others = (problem for site in left_out for problem in site.problems)
    first.others = tuple(others)
    return first


def _run(file: Sites, asked: Request, works: list[SiteWork], left_out: list[LeftOut]) -> None:
    """Run all nights; results go to the works of their sites as they come."""
    total = done = 0

    def pieces() -> Iterator[Piece]:
        nonlocal total
        for place in file.sites.values():
            series, faults = series_of(place, asked.years, asked.fetch)
            work = None
            try:
                work = _work_of(file, asked, place, series) if series else None
            except HayweatherError as problem:
                faults = [*faults, problem]
            if faults:
                left_out.append(LeftOut(place.site.name, work is None, tuple(faults)))
            if work is None:
                continue
            works.append(work)
            total += len(work.evenings)
            total += len(work.variants) * int(np.isin(work.evenings_run, work.tried).sum())
            total += min(len(work.evenings), DRAWN_NIGHTS) * work.draws
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
    if years is None or not works:
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
    months = asked.months or months_of(series, site.latitude)
    evenings = evenings_asked(series, str(site.timezone), months, asked.years)
    if not evenings:
        raise WeatherFileError("seasons_no_evening", f"[site.{site.name}]")
    inside = with_hours(series, evenings)
    return SiteWork(
        site=site,
        facts=Facts.of(series, str(site.timezone)),
        evenings=[day for day, known in zip(evenings, inside, strict=True) if known],
        outside=[day for day, known in zip(evenings, inside, strict=True) if not known],
        variants=variants_of(setting),
        tried=np.array(evenings if asked.inputs else sampled(evenings), dtype="datetime64[D]"),
        setting=setting,
        months=months,
        draws=asked.draws,
    )


def _pieces(
    file: Sites, work: SiteWork, parts: Sequence[HourlyWeather], index: int
) -> Iterator[Piece]:
    """The nights of a site, each from the series that knows it best, and their variants."""
    zone = str(work.site.timezone)
    left = work.evenings_run
    found = []
    for number, series in enumerate(parts, start=1):
        cuts = cuts_of(series, zone, work.site.latitude, work.site.longitude, left)
        taken = causes_of(series, cuts) == Missing.NONE
        taken |= number == len(parts)
        found.append((series, cuts.only(taken)))
        left = left[~taken]
    settings = [work.setting, *(variant.apply(work.setting) for variant in work.variants)]
    for variant, setting in enumerate(settings):
        for series, cuts in found:
            if variant:
                cuts = cuts.only(np.isin(cuts.evening, work.tried))
            if cuts.evening.size:
                label = index * LABELS_A_SITE + variant
                yield Piece(label, series, cuts, setting, file.capacity_kg_h)
    sampled = [(series, cuts) for series, cuts in _sampled(found) if cuts.evening.size]
    for draw, windrow in enumerate(drawn_windrows(work.setting, work.draws), len(settings)):
        label, setting = index * LABELS_A_SITE + draw, replace(work.setting, windrow=windrow)
        for series, cuts in sampled:
            yield Piece(label, series, cuts, setting, file.capacity_kg_h)


def _sampled(
    found: Sequence[tuple[HourlyWeather, NightCuts]],
) -> Iterator[tuple[HourlyWeather, NightCuts]]:
    """Some nights of a site, evenly over all of them."""
    total = sum(cuts.evening.size for _, cuts in found)
    chosen = np.unique(np.linspace(0, total - 1, min(total, DRAWN_NIGHTS)).round().astype(int))
    first = 0
    for series, cuts in found:
        count = cuts.evening.size
        taken = np.isin(np.arange(first, first + count), chosen)
        yield series, cuts.only(taken)
        first += count


def _site_seasons(file: Sites, asked: Request, work: SiteWork) -> SiteSeasons:
    """Everything counted at one site."""
    nights, hours = work.nights(), file.baler.useful_hours
    facts = work.facts
    real, months = not facts.typical, asked.months or work.months
    rest = (hours, file.rig, file.capacity_kg_h)
    names = [None] if facts.typical else np.unique(nights.year).tolist()
    years = tuple(
        year_of(nights.only(nights.year == year) if real else nights, year, months, *rest)
        for year in names
    )
    kept = kept_nights(nights, years)
    told = kept if kept.known.any() else nights
    followed = follow(kept, file.work, file.capacity_kg_h, real=real)
    return SiteSeasons(
        site=work.site,
        typical=facts.typical,
        rain_known=bool(told.known.any()) and bool(told.rain_known[told.known].all()),
        years=years,
        pooled=tally_of(kept, *rest, real=real),
        months={
            month: tally_of(kept.only(kept.month == month), *rest, real=real) for month in months
        },
        finish=finish_of(followed, file.work),
        trend=trend_of(years, nights),
        nights=nights,
        sources=facts.sources,
        attributions=facts.attributions,
        assumed=facts.assumed,
        rain_years=tuple(np.unique(told.year[told.known & told.rain_known]).tolist()),
    )


def _with_seasons(
    file: Sites, sites: Sequence[SiteSeasons], works: Sequence[SiteWork]
) -> tuple[SiteSeasons, ...]:
    """The sites with a mean season each; they tell each other how much years differ."""
    taken = [
        SiteNights(site.nights, site.years, work.drawn())
        for site, work in zip(sites, works, strict=True)
    ]
    made = mean_seasons(taken, file.baler.useful_hours, file.rig, file.capacity_kg_h)
    return tuple(replace(site, season=season) for site, season in zip(sites, made, strict=True))


def _effects(file: Sites, work: SiteWork) -> list[InputEffect]:
    """What each input does at a site."""
    base, hours = work.nights(), file.baler.useful_hours
    effects = [
        effect_of(work.site.name, variant, base, work.nights(number), hours)
        for number, variant in enumerate(work.variants, start=1)
    ]
    return most_telling([effect for effect in effects if effect is not None])
