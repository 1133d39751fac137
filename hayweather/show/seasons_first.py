"""The first screen of seasons: sites ranked, what to know before comparing, what decides."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import dataclass

import numpy as np

from hayweather.farm.records import Site
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.results import Estimate, InputEffect, Seasons, SiteSeasons
from hayweather.show.seasons_words import (
    doubted,
    named,
    pair_sentence,
    rig_sentences,
    signed,
    site_years,
    whole_season_years,
    years_text,
)
from hayweather.show.voice import Voice, phrases
from hayweather.weather.record import Floats


@dataclass(frozen=True)
class Figure:
    """One figure of a site, and the two below it.

    Attributes
    ----------
    mean
        Over all nights that count, or a mean season; NaN where not known.
    low, high
        Ends of its range over years where `sure`, else the lowest and the highest year.
    years
        How many are averaged in.
    sure
        Whether they are a range that holds nine times in ten.
    """

    mean: float
    low: float
    high: float
    years: int
    sure: bool = False


@dataclass(frozen=True)
class Shown:
    """A column of the ranking: text ``seasons_first_<name>``, unit, order of dropping."""

    name: str
    unit: str = ""
    quantity: str = ""
    decimals: int = 1
    drop: int = 0


FIRST = (
    Shown("dew_nights", "/100", decimals=0),
    Shown("dew_mean", "h"),
    Shown("dew_median", "h"),
    Shown("rig_mean", "h", drop=1),
    Shown("water", quantity="water_rate", drop=2),
    Shown("dew_tons", quantity="tons"),
    Shown("rig_tons", quantity="tons"),
    Shown("done", "/100", decimals=0, drop=3),
)


def ranked(seasons: Seasons) -> list[tuple[str, Mapping[str, Figure]]]:
    """Sites with nights that count and their figures, most nights with usable dew first."""
    found = [
        (site.site.name, _figures(site))
        for site in seasons.sites
        if site.pooled.counted and site.season is not None
    ]
    return sorted(found, key=lambda item: -item[1]["dew_nights"].mean)


def _figures(site: SiteSeasons) -> dict[str, Figure]:
    """Every figure of a site."""
    nights = counted_nights(site)
    years = len(np.unique(nights.year))
    found = {
        "dew_median": _of_nights(nights, lambda n: n.dew_h, np.median),
        "water": _of_nights(nights, lambda n: n.water_l_t[np.isfinite(n.water_l_t)]),
    }
    if site.season is not None:
        seasons = 1 if site.typical else len(whole_season_years(site))
        found |= {
            name: _of_season(
                getattr(site.season, estimate), seasons if name in WHOLE_SEASONS else years
            )
            for name, estimate in _ESTIMATES.items()
        }
    nan = float("nan")
    for name in ("dew", "rig"):
        share = nan if site.finish is None else 100 * getattr(site.finish, f"within_{name}")
        found[f"done_{name}"] = Figure(share, nan, nan, years)
    return found


WHOLE_SEASONS = ("dew_tons", "rig_tons")
"""Columns of what a whole season comes to, which only years that know rain can tell."""


_ESTIMATES = {
    "dew_nights": "dew_nights_percent",
    "dew_mean": "dew_hours",
    "rig_mean": "rig_hours",
    "dew_tons": "dew_kg",
    "rig_tons": "both_kg",
}
"""Columns and the figures of a mean season that stand in them."""


def _of_season(found: Estimate, years: int) -> Figure:
    """A figure of a mean season with its range, or with its lowest and highest year."""
    low, high = found.range.low, found.range.high
    if low is None or high is None:
        return Figure(found.range.value, found.lowest, found.highest, years)
    return Figure(found.range.value, low, high, years, sure=True)


def counted_nights(site: SiteSeasons) -> Nights:
    """The nights of a site that count, of the years averaged in."""
    kept = [year.year for year in site.years if not year.left_out]
    nights = site.nights
    if not site.typical:
        nights = nights.only(np.isin(nights.year, [year for year in kept if year is not None]))
    return nights.only(nights.counted)


def _of_nights(
    nights: Nights,
    values: Callable[[Nights], Floats],
    middle: Callable[[Floats], float] = np.mean,
) -> Figure:
    """A mean or median over nights, and of each year."""
    names = np.unique(nights.year)
    each = [_middle(values(nights.only(nights.year == year)), middle) for year in names]
    known = [value for value in each if np.isfinite(value)] or [float("nan")]
    return Figure(_middle(values(nights), middle), min(known), max(known), len(names))


def _middle(values: Floats, middle: Callable[[Floats], float]) -> float:
    return float(middle(values)) if values.size else float("nan")


def first_sentences(seasons: Seasons, voice: Voice) -> list[str]:
    """How the ranking is to be read, then whether a rig pays."""
    found = ranked(seasons)
    if not found:
        return rig_sentences(seasons, voice)
    return [
        *_ranges_named(found, {s.site.name for s in seasons.sites if s.typical}, voice),
        voice.say("seasons_first_read", nights=seasons.file.work.nights),
        *_model(seasons, voice),
        *_made_up(seasons, voice),
        *rig_sentences(seasons, voice),
    ]


def _ranges_named(
    found: Sequence[tuple[str, Mapping[str, Figure]]], typical: Set[str], voice: Voice
) -> list[str]:
    """What stands below the figures, named by place where it is not the same for all."""
    kinds: dict[str, list[str]] = {}
    for name, figures in found:
        first = figures["dew_nights"]
        kind = "sure" if first.sure else "years" if first.years > 1 else "one_year"
        kind = "typical" if name in typical else kind
        kinds.setdefault(kind, []).append(name)
    if len(kinds) == 1:
        return [voice.say(f"seasons_first_{kind}") for kind in kinds]
    said = []
    for kind, names in kinds.items():
        text = voice.say(f"seasons_first_{kind}")
        text = text[0].lower() + text[1:]
        said.append(voice.say("seasons_first_of", sites=named(names, voice), text=text))
    return said


def _model(seasons: Seasons, voice: Voice) -> list[str]:
    """How far the model itself is in doubt about the nights with usable dew, place by place."""
    places, draws = [], 0
    for site in seasons.sites:
        if site.season is None or (ends := doubted(site.season.dew_nights_percent, 100.0)) is None:
            continue
        draws = max(draws, site.season.draws)
        low, high = (f"{end:.0f}" for end in ends)
        places.append(f"{site.site.name} {voice.say('range', low=low, high=high)}")
    if not places:
        return []
    return [voice.say("seasons_first_doubt", draws=draws, places=named(places, voice))]


def _made_up(seasons: Seasons, voice: Voice) -> list[str]:
    """That missing nights are made up for in the tons, and where most."""
    places = []
    for site in seasons.sites:
        if site.season is not None and (factors := site.season.scaled):
            year, factor = max(factors.items(), key=lambda item: item[1])
            shown = year or voice.say("seasons_typical")
            places.append(f"{site.site.name} ({shown} x {voice.signed(f'{factor:.2f}')})")
    if not places:
        return []
    return [voice.say("seasons_first_scaled", places=named(places, voice))]


def caveat_sentences(seasons: Seasons, voice: Voice) -> list[str]:
    """What is missing, doubtful or not comparable, and why, a line each."""
    said = []
    for out in seasons.left_out:
        key = "seasons_out_site" if out.whole else "seasons_out_files"
        count = len(out.problems)
        line = out.problems[0].line(voice.language)
        said.append(voice.say(key, site=out.site, count=count, problem=line))
    for site in seasons.sites:
        said += _of_site(site, voice)
        notes = [note for note in site.assumed if note.key in DOUBTFUL]
        said += [f"{site.site.name}: {note}" for note in phrases(notes, voice)]
    said += _of_rain(seasons, voice)
    said += _of_cloud(seasons, voice)
    said += _of_place(seasons, voice)
    typical = [site.site.name for site in seasons.sites if site.typical]
    if typical and len(seasons.sites) > 1:
        said.append(voice.say("seasons_pair_typical", sites=", ".join(typical)))
    names = {site.site.name for site in seasons.sites if site.pooled.counted} - set(typical)
    said += [
        pair_sentence(pair, voice)
        for pair in seasons.pairs
        if pair.dew_hours is None and {pair.first, pair.second} <= names
    ]
    return said


def _of_cloud(seasons: Seasons, voice: Voice) -> list[str]:
    """That the sky is known at some sites alone: a difference may be the sky taken, no place's."""
    counted = [site for site in seasons.sites if site.pooled.counted]
    taken = [s.site.name for s in counted if any(n.key == "cloud_unknown" for n in s.assumed)]
    known = [site.site.name for site in counted if site.site.name not in taken]
    if not taken or not known:
        return []
    values = {"taken": voice.listed(taken), "known": voice.listed(known)}
    return [voice.say("seasons_cloud_unequal", **values)]


def _of_place(seasons: Seasons, voice: Voice) -> list[str]:
    """Sites that are one place twice."""
    places: list[list[Site]] = []
    for site in (item.site for item in seasons.sites):
        here = [one for one in places if _near(one[0], site)]
        here[0].append(site) if here else places.append([site])
    return [
        voice.say("seasons_one_place", sites=voice.listed([site.name for site in place]))
        for place in places
        if len(place) > 1
    ]


def _near(one: Site, other: Site) -> bool:
    """Whether two sites lie within `ONE_PLACE_DEGREES`."""
    apart = abs(one.latitude - other.latitude), abs(one.longitude - other.longitude)
    return max(apart) < ONE_PLACE_DEGREES


def _of_site(site: SiteSeasons, voice: Voice) -> list[str]:
    """What of one site stands apart from the others."""
    name = site.site.name
    said = []
    if not site.pooled.counted:
        said.append(voice.say("seasons_out_none", site=name))
    left = [year for year in site.years if year.left_out and year.year is not None]
    if left:
        years = years_text([year.year for year in left if year.year is not None])
        least = min(100 * year.share_missing for year in left)
        most = max(100 * year.share_missing for year in left)
        share = f"{least:.0f}" if round(least) == round(most) else f"{least:.0f}-{most:.0f}"
        said.append(voice.say("seasons_out_years", site=name, years=years, share=share))
    without = [month for month, tally in site.months.items() if not tally.counted]
    if without and site.pooled.counted:
        months = ", ".join(voice.say(f"month_{month}") for month in without)
        said.append(voice.say("seasons_out_months", site=name, months=months))
    return said


ONE_PLACE_DEGREES = 0.005
"""Nearer sites are asked back as one place (some 500 m; assumed)."""
DOUBTFUL = (
    "place_differs",
    "elevation_differs",
    "air_out_of_season",
    "clock_an_hour_off",
    "believed",
    "dew_point_blanked",
    "stuck_air_temperature_c",
    "stuck_dew_point_c",
    "stuck_relative_humidity_percent",
    "stuck_wind_speed_m_s",
)
"""Notes on the weather of a site that a comparison may hang on; the others stand in the detail."""


def _of_rain(seasons: Seasons, voice: Voice) -> list[str]:
    """What is told of the years that know rain alone, and whose tons count wet nights as dry."""
    said = []
    without = [s for s in seasons.sites if s.pooled.counted and not s.rain_years]
    for site in seasons.sites:
        dry = sorted(set(site_years(site)) - set(site.rain_years))
        if site.rain_known or not site.rain_years or not dry or site.season is None:
            continue
        key = "seasons_out_rain_one"
        if site.season.dew_kg.range.low is not None:
            key = "seasons_out_rain_sure"
        elif len(whole_season_years(site)) > 1:
            key = "seasons_out_rain_years"
        said.append(
            voice.say(
                key,
                site=site.site.name,
                known=years_text(site.rain_years),
                unknown=years_text(dry),
            )
        )
    if without and len(without) < len(seasons.sites):
        names = ", ".join(site.site.name for site in without)
        said.append(voice.say("seasons_out_no_rain", sites=names))
    return said


DECIDING = 2


def deciding_sentences(seasons: Seasons, voice: Voice) -> list[str]:
    """The inputs that move hours on dew most, each changed alone."""
    effects: dict[str, list[InputEffect]] = {}
    for effect in seasons.inputs:
        effects.setdefault(effect.key, []).append(effect)
    weight = {
        key: float(np.mean([abs(effect.dew_hours) for effect in found]))
        for key, found in effects.items()
    }
    first = sorted(weight, key=lambda key: -weight[key])[:DECIDING]
    said = []
    for key in first:
        changes: dict[tuple[float, str], list[InputEffect]] = {}
        for effect in effects[key]:
            changes.setdefault(effect.change, []).append(effect)
        parts = [
            voice.say(
                "seasons_decides_change",
                change=_changed(effect[0], voice),
                hours=voice.signed(signed(float(np.mean([each.dew_hours for each in effect])))),
                nights=signed(float(np.mean([each.dew_nights_percent for each in effect])), 0),
            )
            for _, effect in sorted(changes.items())
        ]
        said.append(
            voice.say("seasons_decides", name=voice.say(f"seasons_decides_{key}"),
                      changes="; ".join(parts))
        )  # fmt: skip
    if said:
        nights = sum(max(e.nights for e in seasons.inputs if e.site == site.site.name)
                     for site in seasons.sites
                     if any(e.site == site.site.name for e in seasons.inputs))  # fmt: skip
        said.append(voice.say("seasons_decides_nights", count=nights))
    return said


def _changed(effect: InputEffect, voice: Voice) -> str:
    """The change of an input."""
    number, quantity = effect.change
    text = voice.amount(number, quantity)
    return f"+{text}" if effect.key != "mass" and number > 0 else text
