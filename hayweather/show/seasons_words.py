"""Seasons in words: phrases that tables, pages and pictures share, the answer first, then why."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from itertools import groupby

import numpy as np

from hayweather.baling.value import RAIN_MM
from hayweather.catalog import kind_of
from hayweather.farm.bands import limits_remark
from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.nights import RAIN_NIGHT_MM, Missing
from hayweather.seasons.record.results import (
    Costs,
    Estimate,
    MeanSeason,
    MissingNight,
    Pair,
    Pays,
    Range,
    RigVerdict,
    Seasons,
    SiteSeasons,
    Threshold,
    Waiting,
    Year,
)
from hayweather.show.voice import (
    UNKNOWN,
    Signed,
    Voice,
    capital,
    money_by_ton,
    money_text,
    phrase,
    phrases,
)
from hayweather.units import ACRE_M2, HECTARE_M2, to_shown

_AFTERNOON = np.datetime64("2001-01-01T14:00", "s")
CAUSES = tuple(cause for cause in Missing if cause is not Missing.NONE)


def season_voice(seasons: Seasons, units: UnitSystem | None = None) -> Voice:
    """How to speak of seasons: as the file says; times are written local already."""
    file = seasons.file
    return Voice(file.language, units or file.units, "UTC", decimals=file.decimals)


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


def whole_season_years(site: SiteSeasons) -> list[int]:
    """Years in which whole seasons are counted: those that know rain, where any does."""
    return list(site.rain_years) or site_years(site)


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


def grouped(text: str, voice: Voice) -> str:
    """A text with the thousands of its numbers set apart, by this reader's sign.

    Examples
    --------
    >>> grouped("17250 tons (11500 acres)", Voice("en", "us", "UTC"))
    '17,250 tons (11,500 acres)'
    >>> grouped("17250,5 t", Voice("es", "metric", "UTC"))
    '17.250,5 t'
    """
    return Signed(
        re.sub(r"(?<![.,\d])\d{4,}", lambda found: voice.signed(f"{int(found[0]):,}"), text)
    )


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


MOST_YEARS_SAID = 10


def site_sentences(site: SiteSeasons, seasons: Seasons, voice: Voice) -> list[str]:
    """What stands below a site's table."""
    said = [*_amounts(site, seasons, voice), *_finish(site, seasons, voice), *_trend(site, voice)]
    if site.pooled.without_spin_up:
        said.append(voice.say("seasons_without_spin_up", count=site.pooled.without_spin_up))
    for year in site.years:
        if year.left_out:
            name = voice.say("seasons_typical") if year.year is None else year.year
            share = f"{100 * year.share_missing:.0f}"
            said.append(voice.say("seasons_left_out", year=name, share=share))
        if year.gaps and not (year.left_out and year.whole.counted == 0):
            said.append(missing_text(year, voice))
    return said


def _amounts(site: SiteSeasons, seasons: Seasons, voice: Voice) -> list[str]:
    """Hay, water and fuel of a mean season, gaps scaled; then how sure its figures are."""
    file, season = seasons.file, site.season
    if season is None:
        return []
    count = max(len(whole_season_years(site)), 1)
    dew_kg, rig_kg = season.dew_kg.range.value, season.rig_kg.range.value
    text = voice.say(
        "seasons_tons" if count > 1 else "seasons_tons_one",
        count=count,
        dew=voice.counted(dew_kg, "tons"),
        dew_area=voice.counted(dew_kg / file.work.yield_kg_m2, "area"),
        rig=voice.counted(rig_kg, "tons"),
        rig_area=voice.counted(rig_kg / file.work.yield_kg_m2, "area"),
        water=voice.amount(season.water_l, "volume"),
        capacity=voice.amount(file.capacity_kg_h, "capacity"),
    )
    said = [grouped(text, voice)]
    if math.isfinite(season.fuel_l):
        fuel = voice.say("seasons_fuel", fuel=voice.amount(season.fuel_l, "volume"))
        said.append(grouped(fuel, voice))
    if season.scaled:
        years = [
            f"{year} x {voice.signed(f'{factor:.2f}')}"
            for year, factor in season.scaled.items()
            if year
        ]
        said.append(voice.say("seasons_scaled", years=", ".join(years) or UNKNOWN))
    return [*said, *sureness(season, voice)]


def sureness(season: MeanSeason, voice: Voice) -> list[str]:
    """The range over years of a mean season, and apart from it the model's own doubt."""
    nights, dew, rig = season.dew_nights_percent, season.dew_hours, season.rig_hours
    tons = season.dew_kg
    said = []
    if None not in (nights.range.low, dew.range.low, rig.range.low, tons.range.low):
        key = "seasons_sure_years"
        years = (nights.range, dew.range, rig.range, tons.range)
        said.append(_ends(key, [(each.low, each.high) for each in years], season, voice))
    most = ((nights, 100.0), (dew, 24.0), (rig, 24.0), (tons, math.inf))
    ends = [doubted(each, limit) for each, limit in most]
    known = [pair for pair in ends if pair is not None]
    if len(known) == len(ends):
        said.append(_ends("seasons_sure_model", known, season, voice))
    return said


def doubted(found: Estimate, most: float) -> tuple[float, float] | None:
    """A figure at the ends of the model's own doubt, from 0 to `most`; None where not drawn."""
    low, high, value = found.doubt.low, found.doubt.high, found.range.value
    if low is None or high is None:
        return None
    return min(max(value + low, 0.0), most), min(max(value + high, 0.0), most)


def _ends(
    key: str,
    ends: Sequence[tuple[float | None, float | None]],
    season: MeanSeason,
    voice: Voice,
) -> str:
    """Ranges of nights, hours on dew, hours with the rig and hay on dew, in words."""
    (n0, n1), (d0, d1), (r0, r1), (t0, t1) = ends
    low, high = voice.number(t0 or 0.0, "tons"), voice.counted(t1 or 0.0, "tons")
    return voice.say(
        key,
        nights=voice.say("range", low=f"{n0:.0f}", high=f"{n1:.0f}"),
        dew=voice.say("range", low=f"{d0:.1f}", high=f"{d1:.1f}"),
        rig=voice.say("range", low=f"{r0:.1f}", high=f"{r1:.1f}"),
        tons=grouped(voice.say("range", low=low, high=high), voice),
        draws=season.draws,
        count=season.drawn_nights,
    )


def rain_note(site: SiteSeasons, voice: Voice) -> str | None:
    """That rain is not known at a site, or only in some of its years; None where it is."""
    if site.rain_known:
        return None
    if not site.rain_years:
        return voice.say("seasons_rain_unknown")
    return voice.say("seasons_rain_some", years=years_text(site.rain_years))


def _finish(site: SiteSeasons, seasons: Seasons, voice: Voice) -> list[str]:
    """The chance to finish the cutting."""
    found = site.finish
    if found is None:
        return []
    said = [
        voice.say(
            "seasons_finish",
            acres=voice.counted(seasons.file.work.area_m2, "area"),
            nights=found.nights,
            dew=_percent(found.within_dew),
            rig=_percent(found.within_rig),
            starts=found.starts,
        )
    ]
    if found.dry_dew is not None and found.dry_rig is not None:
        dew, rig = _percent(found.dry_dew), _percent(found.dry_rig)
        said.append(voice.say("seasons_finish_rain", dew=dew, rig=rig, starts=found.dry_starts))
    return said


def _percent(share: float) -> str:
    """A share as whole percent."""
    return f"{100 * share:.0f}"


def _trend(site: SiteSeasons, voice: Voice) -> list[str]:
    """The trend with its range, or that none is stated."""
    trend = site.trend
    if trend is None:
        several = sum(year.year is not None and not year.left_out for year in site.years) > 1
        return [voice.say("seasons_trend_none")] if several else []
    nights, hours = trend.dew_nights_percent, trend.dew_hours
    return [
        voice.say(
            "seasons_trend",
            first=trend.first,
            last=trend.last,
            nights=signed(nights.value),
            nights_low=signed(nights.low or 0.0),
            nights_high=signed(nights.high or 0.0),
            hours=signed(hours.value),
            hours_low=signed(hours.low or 0.0),
            hours_high=signed(hours.high or 0.0),
        )
    ]


def comparison_sentences(seasons: Seasons, voice: Voice) -> list[str]:
    """Sites against each other on the same nights."""
    said = [pair_sentence(pair, voice) for pair in seasons.pairs]
    typical = [site.site.name for site in seasons.sites if site.typical]
    if typical and len(seasons.sites) > 1:
        said.append(voice.say("seasons_pair_typical", sites=", ".join(typical)))
    return said


def pair_sentence(pair: Pair, voice: Voice) -> str:
    """Two sites against each other."""
    found = (pair.dew_hours, pair.rig_hours, pair.wet_hours, pair.dew_nights_percent)
    if any(item is None for item in found):
        return voice.say("seasons_pair_none", first=pair.first, second=pair.second)
    texts = [range_text(item, voice) for item in found if item is not None]
    ranged = found[0] is not None and found[0].low is not None
    end = voice.say("seasons_pair_range" if ranged else "seasons_pair_range_none")
    text = voice.say(
        "seasons_pair",
        first=pair.first,
        second=pair.second,
        dew=texts[0],
        rig=texts[1],
        wet=texts[2],
        nights=texts[3],
        count=pair.nights,
        years=years_text(pair.years),
    )
    return f"{text} {end}"


def pays_sentences(seasons: Seasons, voice: Voice) -> list[str]:
    """Whether a rig would pay, what that rests on, then site by site."""
    sites = [said for pays in seasons.pays for said in pays_site_sentences(pays, seasons, voice)]
    return [*pays_general(seasons, voice), *sites]


def pays_general(seasons: Seasons, voice: Voice) -> list[str]:
    """What the money of all sites rests on."""
    if not seasons.pays or seasons.costs is None:
        return []
    own = seasons.file.work.gain_per_kg is not None
    way = "own" if own else seasons.file.money.price_by
    said = [voice.say(f"seasons_pays_gain_{way}")]
    if seasons.file.rig.fuel_rate_l_h is None:
        said.append(voice.say("seasons_pays_no_fuel"))
    assumed = assumed_costs(seasons.costs, voice, seasons.file.money.currency)
    if assumed:
        said.append(voice.say("seasons_pays_assumed", names=", ".join(assumed)))
    return said


def pays_site_sentences(pays: Pays, seasons: Seasons, voice: Voice) -> list[str]:
    """Whether a rig would pay at one site."""
    currency = seasons.file.money.currency
    rain_known = any(site.rain_years for site in seasons.sites if site.site.name == pays.site)
    text = voice.say(
        "seasons_pays" if rain_known else "seasons_pays_no_rain",
        site=pays.site,
        nights=seasons.file.work.nights,
        dry=_percent(pays.dry_share),
        good=_percent(pays.good_share),
        tons=grouped(voice.counted(pays.good_kg, "tons"), voice),
        gain=money_by_ton(pays.gain_t, voice, currency),
        variable=money_by_ton(pays.variable_t, voice, currency),
        fixed=money_text(pays.fixed, voice, currency),
        net=money_text(pays.net, voice, currency),
    )
    said = [text]
    if pays.verdict is not None:
        said += verdict_sentences(pays.verdict, seasons, voice)
    if 1 < len(pays.years) <= MOST_YEARS_SAID:
        years = [
            voice.say(
                "seasons_pays_year", year=year.year, net=money_text(year.net, voice, currency)
            )
            for year in pays.years
        ]
        said.append(voice.say("seasons_pays_years", years=", ".join(years)))
    return said


def verdict_sentences(verdict: RigVerdict, seasons: Seasons, voice: Voice) -> list[str]:
    """From where on a rig pays: beside baling the rest dry, then beside another baler."""
    file, currency = seasons.file, seasons.file.money.currency

    def area(m2: float) -> str:
        return grouped(voice.counted(m2, "area"), voice)

    def number(value: float) -> str:
        return f"{value:,.1f}"

    def price(value: float) -> str:
        return grouped(money_by_ton(value, voice, currency), voice)

    way = "own" if file.work.gain_per_kg is not None else file.money.price_by
    here = area(verdict.season_area_m2)
    never = _never(verdict.area_m2)
    said = [
        voice.say("seasons_rig_never")
        if never
        else _from_on("seasons_rig_area", verdict.area_m2, area, voice, here=here),
        voice.say(
            f"seasons_rig_price_{way}",
            above=_threshold(verdict.price_t, price, voice),
            now=price(verdict.price_now_t),
        ),
    ]
    if verdict.dry_nights is not None and not never:
        shown = {"here": number(verdict.dry_nights_now), "nights": f"{verdict.nights:.0f}"}
        text = _from_on("seasons_rig_nights", verdict.dry_nights, number, voice, **shown)
        said.insert(2 if math.isfinite(verdict.dry_nights.value) else 1, text)
    if math.isfinite(verdict.most_rig_m2):
        most = {"dew": area(verdict.most_dew_m2), "rig": area(verdict.most_rig_m2)}
        said.append(voice.say("seasons_rig_capacity", **most))
        if verdict.season_area_m2 > verdict.most_rig_m2:
            said.append(voice.say("seasons_rig_too_much", here=here))
    shares = {"dew": _percent(verdict.done_dew), "rig": _percent(verdict.done_rig)}
    acres = {"acres": area(file.work.area_m2), "nights": file.work.nights}
    if verdict.balers is None or verdict.other_baler is None:
        key = "seasons_rig_no_baler" if verdict.balers is None else "seasons_rig_dew_enough"
        return [*said, voice.say(key, **shares, **acres)]
    other = [
        money_text(verdict.other_baler.value, voice, currency),
        *(
            f"({part})"
            for part in _over_years(
                verdict.other_baler, lambda x: money_text(x, voice, currency), voice
            )
        ),
    ]
    text = voice.say(
        "seasons_rig_balers", **shares, **acres, balers=verdict.balers, above=" ".join(other)
    )
    return [*said, text]


MOST_STEPS = 4
"""Nights after which it is said how much of a cutting is in."""


def waiting_sentences(pays: Pays, seasons: Seasons, voice: Voice) -> list[str]:
    """The rig beside waiting for dew: how much is in when, days and rain, from where it pays."""
    found = pays.waiting
    if found is None or seasons.costs is None:
        return []
    file, costs, currency = seasons.file, seasons.costs, seasons.file.money.currency

    def area(m2: float) -> str:
        return grouped(voice.counted(m2, "area"), voice)

    count = len(found.in_dew)
    nights = sorted({round(1 + (count - 1) * n / (MOST_STEPS - 1)) for n in range(MOST_STEPS)})
    steps = [
        voice.say(
            "seasons_wait_first" if number == 0 else "seasons_wait_next",
            night=night,
            dew=area(file.work.area_m2 * found.in_dew[night - 1]),
            rig=area(file.work.area_m2 * found.in_rig[night - 1]),
        )
        for number, night in enumerate(nights)
    ]
    said = [
        voice.say(
            "seasons_wait",
            site=pays.site,
            nights=count,
            acres=area(file.work.area_m2),
            steps="; ".join(steps),
            dew=voice.signed(f"{found.days_dew:.2f}"),
            rig=voice.signed(f"{found.days_rig:.2f}"),
            cost=money_by_ton(costs.wait_t_day, voice, currency),
            share=_percent(found.by_rig),
        )
    ]
    if found.rain_dew is None or found.rain_rig is None:
        said.append(voice.say("seasons_wait_rain_unknown"))
    elif costs.rain_loss_percent is None:
        said.append(voice.say("seasons_wait_rain_no_price"))
    else:
        dew, rig = (
            voice.signed(f"{costs.rain_loss_percent * mm / RAIN_MM:.1f}")
            for mm in (found.rain_dew, found.rain_rig)
        )
        dry = found.rain_dew == found.rain_rig == 0.0
        said.append(
            voice.say("seasons_wait_rain_none")
            if dry
            else voice.say("seasons_wait_rain", dew=dew, rig=rig)
        )
    if _never(found.area_m2):
        said.append(voice.say("seasons_wait_never"))
    else:
        here = area(file.work.year_kg / file.work.yield_kg_m2)
        said.append(_from_on("seasons_wait_area", found.area_m2, area, voice, here=here))
    return said


def _never(found: Threshold) -> bool:
    """Whether no amount is enough in any year at any loss of leaf."""
    return math.isinf(min(found.loss[0], *(found.years or (math.inf,))))


def _from_on(
    key: str, found: Threshold, shown: Callable[[float], str], voice: Voice, **values: str
) -> str:
    """From where on it pays; that it does not where no amount is enough on these figures."""
    if math.isfinite(found.value):
        return voice.say(key, above=_threshold(found, shown, voice), **values)
    return voice.say(f"{key}_none", ranges=_ranges(found, shown, voice), **values)


def _threshold(found: Threshold, shown: Callable[[float], str], voice: Voice) -> str:
    """A value with its ranges."""
    value, ranges = _amount(found.value, shown, voice), _ranges(found, shown, voice)
    return voice.say("seasons_rig_ranges", value=value, ranges=ranges)


def _ranges(found: Threshold, shown: Callable[[float], str], voice: Voice) -> str:
    """Its range over years, where there are several, and over losses of leaf."""
    loss = voice.say("seasons_rig_loss", loss=_low_high(found.loss, shown, voice))
    return "; ".join([*_over_years(found, shown, voice), loss])


def _over_years(found: Threshold, shown: Callable[[float], str], voice: Voice) -> list[str]:
    """The range over years, where there are several."""
    if found.years is None:
        return []
    return [voice.say("seasons_rig_years", years=_low_high(found.years, shown, voice))]


def _amount(value: float, shown: Callable[[float], str], voice: Voice) -> str:
    """A value; one that is infinite is no amount."""
    return shown(value) if math.isfinite(value) else voice.say("seasons_no_amount")


def _low_high(ends: tuple[float, float], shown: Callable[[float], str], voice: Voice) -> str:
    """Two ends; one that is infinite is no amount."""
    low, high = (_amount(end, shown, voice) for end in ends)
    return low if low == high else voice.say("range", low=low, high=high)


def assumed_costs(costs: Costs, voice: Voice, currency: str | None) -> list[str]:
    """The figures of money that were not given."""
    unit = currency or "$"

    def shown(name: str) -> str:
        value = getattr(costs, name)
        if name in ("lost_leaf_t", "wait_t_day"):
            return money_by_ton(value, voice, currency)
        if name.endswith("price_l"):
            return _by_volume(value, name, voice, unit)
        if name.endswith("percent"):
            return voice.signed(f"{value:g} %")
        return voice.signed(f"{value:g}") if name == "years" else money_text(value, voice, currency)

    return [voice.say(f"seasons_cost_{name}", value=shown(name)) for name in costs.assumed]


def _by_volume(per_l: float, name: str, voice: Voice, unit: str) -> str:
    """Price of fuel or water by volume."""
    price = to_shown(per_l, "price_by_volume", voice.units)
    if voice.units == "us":
        return voice.signed(f"{unit}{price:.2f}/gal")
    by_m3 = name.startswith("water")
    return voice.signed(f"{1000 * price:.2f} {unit}/m3" if by_m3 else f"{price:.2f} {unit}/L")


def rests_on(seasons: Seasons, voice: Voice) -> list[str]:
    """What all of it rests on: rig, baler, windrow, weather."""
    file = seasons.file
    basis = (limits_remark(file.baler, file.windrow), *file.notes)
    said = [capital(phrase(note, voice)) for note in basis]
    if file.rig_is_assumed:
        rig = voice.say(
            "seasons_rig_assumed",
            low=voice.amount(file.rig.rate_min_l_t, "water_rate"),
            high=voice.amount(file.rig.rate_max_l_t, "water_rate"),
            flow=voice.amount(file.rig.flow_max_l_min, "flow"),
            tank=voice.amount(file.rig.tank_l, "volume"),
            fill=voice.amount(file.rig.fill_minutes, "minutes"),
        )
        said.append(capital(grouped(rig, voice)))
    if file.baler.capacity_kg_h is None:
        capacity = voice.amount(file.capacity_kg_h, "capacity")
        measured = kind_of(file.baler.kind).capacity.source.status == "published"
        key = "seasons_capacity_assumed" if measured else "seasons_capacity_guessed"
        said.append(capital(voice.say(key, capacity=capacity)))
    for site in seasons.sites:
        notes = phrases(site.assumed, voice)
        said += [f"{site.site.name}: {note}" for note in notes]
        said += list(site.attributions)
    return [*dict.fromkeys(said), voice.say("seasons_no_measured_night")]


def counting_sentence(seasons: Seasons, voice: Voice) -> str:
    """How nights and hours are counted."""
    hours = f"{seasons.file.baler.useful_hours:g}"
    rain = voice.amount(RAIN_NIGHT_MM, "rain")
    return voice.say("seasons_counting", hours=hours, rain=rain)


MOST_NAMED = 6
"""Places named in a sentence; the tables hold all of them."""


def rig_sentences(seasons: Seasons, voice: Voice) -> list[str]:
    """Where a rig pays; from placeholder prices only from how many acres on, and no ranking."""
    if not seasons.pays or seasons.costs is None:
        return []
    placeholders = assumed_costs(seasons.costs, voice, seasons.file.money.currency)
    if placeholders:
        places = named([_above(pays, voice) for pays in seasons.pays], voice)
        return [
            voice.say(
                "seasons_answer_placeholders", places=places, names=named(placeholders, voice)
            )
        ]
    said = []
    for verdict in ("pays", "open", "not"):
        chosen = [pays for pays in seasons.pays if _says(pays) == verdict]
        if chosen:
            ranked = sorted(chosen, key=lambda pays: -pays.net)
            places = named([_above(pays, voice) for pays in ranked], voice)
            said.append(voice.say(f"seasons_answer_rig_{verdict}", places=places))
    return said


def _ways(pays: Pays) -> list[RigVerdict | Waiting]:
    """The rig beside dry hay, and beside waiting."""
    return [way for way in (pays.verdict, pays.waiting) if way is not None]


def _says(pays: Pays) -> str:
    """What holds beside every way to do without a rig."""
    found = {way.says for way in _ways(pays)}
    return found.pop() if len(found) == 1 else "open"


def _above(pays: Pays, voice: Voice) -> str:
    """A place and the areas from which on a rig pays there, beside dry hay / beside waiting.

    An area that one baler with the rig cannot do is no answer, and said so.
    """
    most = math.inf if pays.verdict is None else pays.verdict.most_rig_m2
    shown = []
    for area in (way.area_m2.value for way in _ways(pays)):
        if not math.isfinite(area):
            shown.append(voice.say("seasons_never"))
        elif area > most:
            text = grouped(voice.counted(most, "area"), voice)
            shown.append(voice.say("seasons_over_one_baler", area=text))
        else:
            shown.append(grouped(voice.counted(area, "area"), voice))
    return f"{pays.site} ({' / '.join(shown)})"


def named(parts: Sequence[str], voice: Voice) -> str:
    """The first places, and how many more there are."""
    more = len(parts) - MOST_NAMED
    shown = ", ".join(parts[:MOST_NAMED])
    return shown if more <= 0 else voice.say("seasons_answer_more", places=shown, count=more)
