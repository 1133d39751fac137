"""What is known of one site while its nights run: facts, evenings asked for, results so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np

from hayweather.baling.clock import to_local
from hayweather.baling.setting import Setting
from hayweather.farm.records import Site
from hayweather.seasons.hours import Years, derived_notes
from hayweather.seasons.nights import evenings_between, years_with_hours
from hayweather.seasons.record.nights import Missing, Nights, join_nights, unknown_nights
from hayweather.seasons.variants import Variant
from hayweather.weather.record import HOUR, Assumption, HourlyWeather

_DAY = timedelta(days=1)


@dataclass(frozen=True)
class Facts:
    """What must be said of the hours of a site after they are gone from memory.

    Attributes
    ----------
    typical
        True for a typical year.
    rain_known
        False where no series has rain.
    sources, attributions, assumed
        Of the weather.
    held
        First and last year of the hours.
    """

    typical: bool
    rain_known: bool
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
            rain_known=any(part.get("rain_mm") is not None for part in series),
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
    site, facts, setting, variants
        What holds there.
    evenings, outside
        Evenings that are run; evenings asked for beyond all hours of the site.
    parts
        Nights as they come, ``{variant: [Nights]}``; 0 is no change.
    """

    site: Site
    facts: Facts
    evenings: Sequence[date]
    outside: Sequence[date]
    variants: Sequence[Variant]
    setting: Setting
    parts: dict[int, list[Nights]] = field(default_factory=dict)

    def nights(self, variant: int = 0) -> Nights:
        """All nights in order, those without a result marked "not run"."""
        found = self.parts.get(variant, [])
        asked = np.array(self.evenings, dtype="datetime64[D]")
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


def with_hours(series: Sequence[HourlyWeather], evening: date) -> bool:
    """Whether any series reaches into the days about an evening."""
    spans = ((part.start[0].item().date(), part.end[0].item().date()) for part in series)
    return any(first <= evening + 2 * _DAY and evening - 2 * _DAY <= last for first, last in spans)
