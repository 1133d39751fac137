"""Phrases that tables, pages and pictures of seasons share."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date, timedelta
from itertools import groupby

import numpy as np

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.nights import Missing
from hayweather.seasons.record.results import MissingNight, Range, Seasons, SiteSeasons, Year
from hayweather.show.columns import UNKNOWN
from hayweather.show.voice import Voice
from hayweather.units import ACRE_M2, HECTARE_M2, to_shown

_AFTERNOON = np.datetime64("2001-01-01T14:00", "s")
CAUSES = tuple(cause for cause in Missing if cause is not Missing.NONE)


def season_voice(seasons: Seasons, units: UnitSystem | None = None) -> Voice:
    """How to speak of seasons: the file's language and units; times are written local already."""
    return Voice(seasons.file.language, units or seasons.file.units, "UTC")


def months_text(months: Sequence[int], voice: Voice) -> str:
    """``"May to September"``."""
    first, last = (voice.say(f"month_{month}") for month in (months[0], months[-1]))
    if len(months) == 1:
        return first
    return voice.say("seasons_months", first=first, last=last)


def years_text(years: Sequence[int]) -> str:
    """Years as runs: ``"1991-2020, 2023"``."""
    runs: list[list[int]] = []
    for year in sorted(years):
        if runs and runs[-1][-1] == year - 1:
            runs[-1].append(year)
        else:
            runs.append([year])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}-{run[-1]}" for run in runs)


def site_years(site: SiteSeasons) -> list[int]:
    """Years of a site that are averaged in."""
    return [year.year for year in site.years if year.year is not None and not year.left_out]


def site_title(site: SiteSeasons, voice: Voice) -> str:
    """A site and its years."""
    if site.typical:
        return voice.say("seasons_site_typical", site=site.site.name)
    years = years_text([year.year for year in site.years if year.year is not None])
    return voice.say("seasons_site_years", site=site.site.name, years=years)


def clock_after(hours: float, voice: Voice, *, words: bool = False) -> str:
    """A time given in hours after 14:00 local, to the quarter hour; `words` for "noon"."""
    if not math.isfinite(hours):
        return UNKNOWN
    minutes = 15 * round(4 * hours)
    text = voice.clock(_AFTERNOON + np.timedelta64(minutes, "m"), words=words)
    return text.replace(" ", "")


def hours_text(hours: float) -> str:
    """Hours with one decimal, unknown ones marked."""
    return f"{hours:.1f}" if math.isfinite(hours) else UNKNOWN


def grouped(text: str) -> str:
    """A text with the thousands of its numbers set apart.

    Examples
    --------
    >>> grouped("17250 tons (11500 acres)")
    '17,250 tons (11,500 acres)'
    """
    return re.sub(r"(?<![.\d])\d{4,}", lambda found: f"{int(found[0]):,}", text)


def signed(value: float, decimals: int = 1) -> str:
    """A change with its sign."""
    text = f"{value:+.{decimals}f}"
    return text.lstrip("+-") if float(text) == 0 else text


def range_text(found: Range, voice: Voice) -> str:
    """A change with its range, alone where there is none."""
    if found.low is None or found.high is None:
        return signed(found.value)
    low, high = signed(found.low), signed(found.high)
    return voice.say("seasons_range", value=signed(found.value), low=low, high=high)


def money_text(value: float, voice: Voice, currency: str | None) -> str:
    """Money rounded to whole units: ``"-$12,300"``."""
    if not math.isfinite(value):
        return UNKNOWN
    sign = "-" if round(value) < 0 else ""
    unit = currency or "$"
    number = f"{abs(value):,.0f}"
    return f"{sign}{unit}{number}" if voice.units == "us" else f"{sign}{number} {unit}"


def money_by_ton(per_tonne: float, voice: Voice, currency: str | None) -> str:
    """Money by weight of hay, in the reader's ton."""
    shown = to_shown(per_tonne / 1000, "price_by_mass", voice.units)
    unit = currency or "$"
    ton = "ton" if voice.units == "us" else "t"
    return f"{unit}{shown:.2f}/{ton}" if voice.units == "us" else f"{shown:.2f} {unit}/{ton}"


def by_area(per_m2: float, voice: Voice) -> float:
    """Something by area, per acre or hectare."""
    return per_m2 * (ACRE_M2 if voice.units == "us" else HECTARE_M2)


def causes_text(causes: int, voice: Voice) -> str:
    """Why a night cannot be told."""
    named = [cause for cause in CAUSES if causes & cause]
    return ", ".join(voice.say(f"seasons_missing_{(cause.name or '').lower()}") for cause in named)


def missing_text(year: Year, voice: Voice) -> str:
    """Nights of a year that cannot be told, by name: runs of days and why."""
    items = []
    for causes, group in groupby(year.gaps, key=lambda gap: gap.causes):
        why = causes_text(causes, voice)
        items += [
            voice.say("seasons_missing_item", days=_days(days, voice), causes=why)
            for days in _runs(list(group))
        ]
    shown = voice.say("seasons_typical") if year.year is None else str(year.year)
    return voice.say("seasons_missing_nights", year=shown, nights="; ".join(items))


def _runs(gaps: Sequence[MissingNight]) -> list[list[date]]:
    """Days that follow each other."""
    runs: list[list[date]] = []
    for gap in gaps:
        if runs and runs[-1][-1] + timedelta(days=1) == gap.evening:
            runs[-1].append(gap.evening)
        else:
            runs.append([gap.evening])
    return runs


def _days(days: Sequence[date], voice: Voice) -> str:
    """``"10 Aug"`` or ``"10 to 18 Aug"``."""
    first, last = days[0], days[-1]
    month = voice.say(f"seasons_month_short_{last.month}")
    if first == last:
        return f"{last.day} {month}"
    if first.month == last.month:
        return f"{voice.say('range', low=first.day, high=last.day)} {month}"
    begin = f"{first.day} {voice.say(f'seasons_month_short_{first.month}')}"
    return voice.say("range", low=begin, high=f"{last.day} {month}")
