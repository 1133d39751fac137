"""What seasons come to, in sentences: sites, comparison, inputs, money, what it rests on."""

from __future__ import annotations

import math

from hayweather.catalog import kind_of
from hayweather.farm.bands import limits_remark
from hayweather.seasons.record.nights import RAIN_NIGHT_MM
from hayweather.seasons.record.results import Costs, Pair, Pays, Seasons, SiteSeasons
from hayweather.show.phrases import phrase, phrases
from hayweather.show.season_phrases import (
    grouped,
    missing_text,
    money_by_ton,
    money_text,
    range_text,
    signed,
    site_years,
    years_text,
)
from hayweather.show.voice import Voice, capital
from hayweather.units import to_shown

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
    """Hay, water and fuel of an average season."""
    file, pooled = seasons.file, site.pooled
    if not pooled.counted:
        return []
    count = max(len(site_years(site)), 1)
    dew_kg, rig_kg = pooled.dew_kg / count, pooled.rig_kg / count
    text = voice.say(
        "seasons_tons" if count > 1 else "seasons_tons_one",
        count=count,
        dew=voice.counted(dew_kg, "tons"),
        dew_area=voice.counted(dew_kg / file.work.yield_kg_m2, "area"),
        rig=voice.counted(rig_kg, "tons"),
        rig_area=voice.counted(rig_kg / file.work.yield_kg_m2, "area"),
        water=voice.amount(pooled.water_l / count, "volume"),
        capacity=voice.amount(file.capacity_kg_h, "capacity"),
    )
    if not math.isfinite(pooled.fuel_l):
        return [grouped(text)]
    fuel = voice.say("seasons_fuel", fuel=voice.amount(pooled.fuel_l / count, "volume"))
    return [grouped(text), grouped(fuel)]


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
        said.append(voice.say("seasons_finish_rain", dew=dew, rig=rig))
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
    said = [voice.say("seasons_pays_gain_own" if own else "seasons_pays_gain_leaf")]
    if seasons.file.rig.fuel_rate_l_h is None:
        said.append(voice.say("seasons_pays_no_fuel"))
    assumed = assumed_costs(seasons.costs, voice, seasons.file.money.currency)
    if assumed:
        said.append(voice.say("seasons_pays_assumed", names=", ".join(assumed)))
    return said


def pays_site_sentences(pays: Pays, seasons: Seasons, voice: Voice) -> list[str]:
    """Whether a rig would pay at one site."""
    currency = seasons.file.money.currency
    rain_known = any(site.rain_known for site in seasons.sites if site.site.name == pays.site)
    text = voice.say(
        "seasons_pays" if rain_known else "seasons_pays_no_rain",
        site=pays.site,
        nights=seasons.file.work.nights,
        dry=_percent(pays.dry_share),
        good=_percent(pays.good_share),
        tons=grouped(voice.counted(pays.good_kg, "tons")),
        gain=money_by_ton(pays.gain_t, voice, currency),
        variable=money_by_ton(pays.variable_t, voice, currency),
        fixed=money_text(pays.fixed, voice, currency),
        net=money_text(pays.net, voice, currency),
    )
    said = [text]
    if math.isfinite(pays.break_even_kg):
        tons = grouped(voice.counted(pays.break_even_kg, "tons"))
        said.append(voice.say("seasons_pays_even", tons=tons, hours=f"{pays.break_even_h:,.0f}"))
    else:
        said.append(voice.say("seasons_pays_never"))
    if 1 < len(pays.years) <= MOST_YEARS_SAID:
        years = [
            voice.say(
                "seasons_pays_year", year=year.year, net=money_text(year.net, voice, currency)
            )
            for year in pays.years
        ]
        said.append(voice.say("seasons_pays_years", years=", ".join(years)))
    return said


def assumed_costs(costs: Costs, voice: Voice, currency: str | None) -> list[str]:
    """The figures of money that were not given."""
    unit = currency or "$"

    def shown(name: str) -> str:
        value = getattr(costs, name)
        if name == "lost_leaf_t":
            return money_by_ton(value, voice, currency)
        if name.endswith("price_l"):
            return _by_volume(value, name, voice, unit)
        if name.endswith("percent"):
            return f"{value:g} %"
        return f"{value:g}" if name == "years" else money_text(value, voice, currency)

    return [voice.say(f"seasons_cost_{name}", value=shown(name)) for name in costs.assumed]


def _by_volume(per_l: float, name: str, voice: Voice, unit: str) -> str:
    """Price of fuel or water by volume."""
    price = to_shown(per_l, "price_by_volume", voice.units)
    if voice.units == "us":
        return f"{unit}{price:.2f}/gal"
    return f"{1000 * price:.2f} {unit}/m3" if name.startswith("water") else f"{price:.2f} {unit}/L"


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
        said.append(capital(grouped(rig)))
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
