"""Seasons as JSON (schema ``hayweather/seasons/1``) and as CSV, one row a month.

Missing numbers are null, never NaN; every amount stands in SI and US units.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.results import Pair, Pays, Seasons, SiteSeasons
from hayweather.seasons.record.tallies import Range, Spread, Tally, Year
from hayweather.show.seasons_words import (
    CAUSES,
    clock_after,
    comparison_sentences,
    counting_sentence,
    pays_sentences,
    rests_on,
    season_voice,
    site_years,
)
from hayweather.show.table import Json, json_text, number, records_csv, twins
from hayweather.show.voice import Voice, safety_texts, short_safety_texts

SCHEMA = "hayweather/seasons/1"
_SPREADS = (("dew", "dew_h"), ("rig", "rig_h"), ("wet", "wet_h"), ("too_dry", "dry_h"))


def seasons_json(seasons: Seasons, units: UnitSystem | None = None) -> str:
    """Seasons as JSON text; `units` are those of the sentences in it.

    Parameters
    ----------
    seasons
        What to show.
    units
        Of the numbers that people read, and of sentences; None for those of the file.
    """
    return json_text(seasons_form(seasons, units))


def seasons_form(seasons: Seasons, units: UnitSystem | None = None) -> Json:
    """Seasons as plain dictionaries and lists."""
    voice = season_voice(seasons, units)
    return {
        "schema": SCHEMA,
        "name": seasons.file.name,
        "invented": seasons.file.invented,
        "units": voice.units,
        "months": list(seasons.months),
        "unfinished": seasons.unfinished,
        "useful_hours": seasons.file.baler.useful_hours,
        "sites": [_site(site, seasons.file.work.yield_kg_m2) for site in seasons.sites],
        "comparison": {
            "pairs": [_pair(pair) for pair in seasons.pairs],
            "inputs": [_rounded(asdict(effect)) for effect in seasons.inputs],
            "sentences": comparison_sentences(seasons, voice),
        },
        "pays": {
            "costs": None if seasons.costs is None else _rounded(asdict(seasons.costs)),
            "currency": seasons.file.money.currency or "$",
            "sites": [_pays(pays) for pays in seasons.pays],
            "sentences": pays_sentences(seasons, voice),
        },
        "counting": counting_sentence(seasons, voice),
        "rests_on": rests_on(seasons, voice),
        "cautions": safety_texts(voice),
    }


def _site(site: SiteSeasons, per_m2: float) -> Json:
    """One site."""
    place, trend = site.site, site.trend
    return {
        "name": place.name,
        "latitude": place.latitude,
        "longitude": place.longitude,
        "elevation_m": number(place.elevation_m),
        "timezone": place.timezone,
        "typical_year": site.typical,
        "rain_known": site.rain_known,
        "sources": list(site.sources),
        "attributions": list(site.attributions),
        "years": [_year(year, per_m2) for year in site.years],
        "all_years": {
            "years": site_years(site),
            **tally_form(site.pooled, per_m2),
            "months": [{"month": m, **tally_form(t, per_m2)} for m, t in site.months.items()],
        },
        "finish": None if site.finish is None else _rounded(asdict(site.finish)),
        "trend_per_ten_years": None
        if trend is None
        else {
            "first": trend.first,
            "last": trend.last,
            "years": trend.years,
            "dew_nights_percent": _range(trend.dew_nights_percent),
            "dew_hours": _range(trend.dew_hours),
        },
    }


def _year(year: Year, per_m2: float) -> Json:
    """One year, its months, its nights that cannot be told by name."""
    return {
        "year": year.year,
        "left_out": year.left_out,
        "share_missing": number(year.share_missing),
        **tally_form(year.whole, per_m2),
        "months": [
            {"month": month, **tally_form(tally, per_m2)} for month, tally in year.months.items()
        ],
        "missing": [
            {
                "evening": gap.evening.isoformat(),
                "causes": [(c.name or "").lower() for c in CAUSES if gap.causes & c],
            }
            for gap in year.gaps
        ],
    }


def tally_form(tally: Tally, yield_kg_m2: float) -> Json:
    """A tally by the names of the data, null where not known."""
    form: Json = {
        "nights": tally.nights,
        "nights_missing": tally.missing,
        "rain_nights": tally.rain_nights,
        "nights_counted": tally.counted,
        "nights_without_spin_up": tally.without_spin_up,
        "nights_with_dew": tally.with_dew,
        "longest_run_without_dew": tally.longest_without,
    }
    for name, attribute in _SPREADS:
        form |= _spread(name, getattr(tally, attribute))
    clocks = Voice("en", "metric", "UTC")
    for name, hours in (("first_on_dew", tally.first_h), ("last_on_dew", tally.last_h)):
        form[name] = None if number(hours) is None else clock_after(hours, clocks)
    form |= twins("water_l_per_t_median", "water_gal_per_ton_median", tally.water_l_t, "water_rate")
    form |= twins("hay_on_dew_t", "hay_on_dew_tons", tally.dew_kg, "tons")
    form |= twins("hay_with_rig_t", "hay_with_rig_tons", tally.rig_kg, "tons")
    for name, kg in (("hay_on_dew", tally.dew_kg), ("hay_with_rig", tally.rig_kg)):
        form |= twins(f"{name}_ha", f"{name}_acres", kg / yield_kg_m2, "area")
    form |= twins("water_l", "water_gal", tally.water_l, "volume")
    return form | twins("fuel_l", "fuel_gal", tally.fuel_l, "volume")


def _spread(name: str, spread: Spread) -> Json:
    """Median, quartiles and the two fifths of hours."""
    return {f"{name}_hours_{key}": number(value) for key, value in asdict(spread).items()}


def _range(found: Range | None) -> Json | None:
    """An estimate and its range."""
    return None if found is None else _rounded(asdict(found))


def _pair(pair: Pair) -> Json:
    """Two sites against each other: first less second."""
    names = ("dew_hours", "rig_hours", "wet_hours", "dew_nights_percent")
    return {
        "first": pair.first,
        "second": pair.second,
        "nights": pair.nights,
        "years": list(pair.years),
        **{name: _range(getattr(pair, name)) for name in names},
    }


def _pays(pays: Pays) -> Json:
    """One site's money."""
    form = _rounded(asdict(pays))
    form |= twins("good_t", "good_tons", pays.good_kg, "tons")
    form |= twins("break_even_t", "break_even_tons", pays.break_even_kg, "tons")
    for name, per_t in (("gain", pays.gain_t), ("variable", pays.variable_t)):
        form |= twins(f"{name}_per_t", f"{name}_per_ton", per_t / 1000, "price_by_mass")
    for sway, found in zip(form["sways"], pays.sways, strict=True):
        for name, kg in (("low", found.even_low_kg), ("high", found.even_high_kg)):
            sway |= twins(f"even_{name}_t", f"even_{name}_tons", kg, "tons")
    return form


def _rounded(value: Any) -> Any:
    """Numbers rounded, unknown and endless ones null, through lists and dictionaries."""
    if isinstance(value, dict):
        return {key: _rounded(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_rounded(item) for item in value]
    return number(value) if isinstance(value, float) else value


def seasons_csv(seasons: Seasons, units: UnitSystem | None = None) -> str:
    """Seasons as CSV: one row a site, year and month.

    Lines before the header begin with ``#``.

    Parameters
    ----------
    seasons
        What to show.
    units
        Of the numbers that people read, and of sentences; None for those of the file.
    """
    voice = season_voice(seasons, units)
    invented = [voice.say("seasons_invented")] if seasons.file.invented else []
    head = [*invented, counting_sentence(seasons, voice), *rests_on(seasons, voice)]
    return records_csv(list(_rows(seasons, voice.units)), (*head, *short_safety_texts(voice)))


_METRIC = (
    *("water_l_per_t_median", "hay_on_dew_t", "hay_with_rig_t"),
    *("hay_on_dew_ha", "hay_with_rig_ha", "water_l", "fuel_l"),
)
_US = (
    *("water_gal_per_ton_median", "hay_on_dew_tons", "hay_with_rig_tons"),
    *("hay_on_dew_acres", "hay_with_rig_acres", "water_gal", "fuel_gal"),
)


def _rows(seasons: Seasons, units: UnitSystem) -> Iterator[Json]:
    """Rows of the table of data in one unit system."""
    dropped = _METRIC if units == "us" else _US
    for site in seasons.sites:
        for year in site.years:
            for month, tally in year.months.items():
                form = tally_form(tally, seasons.file.work.yield_kg_m2)
                kept = {name: value for name, value in form.items() if name not in dropped}
                name = "typical" if year.year is None else year.year
                yield {"site": site.site.name, "year": name, "month": month, **kept,
                       "left_out": str(year.left_out).lower()}  # fmt: skip
