"""Seasons as data: JSON ``hayweather/seasons/1``, CSV and a frame, one row a month."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.results import MissingNight, Pays, Seasons, SiteSeasons, Tally, Year
from hayweather.show.outlook_data import SITE as PLACE
from hayweather.show.outlook_data import UNITS
from hayweather.show.seasons_first import caveat_sentences
from hayweather.show.seasons_text import head_texts
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
from hayweather.show.table import Column, Document, Table, through_all
from hayweather.show.voice import Voice, safety_texts, short_safety_texts, unique

if TYPE_CHECKING:
    import pandas as pd

CLOCKS = Voice("en", "metric", "UTC")
YEARS_FIT = {"type": "array", "items": {"type": "integer"}}
PAIR_FIT = {"type": ["array", "null"], "items": {"type": ["number", "null"]}}


def _finite(ends: tuple[float, float] | None) -> list[float | None] | None:
    """Two ends, null where infinite."""
    return None if ends is None else [end if math.isfinite(end) else None for end in ends]


@dataclass(frozen=True)
class Counted:
    """Nights counted, and where and when they were; `yield_kg_m2` turns hay into area."""

    tally: Tally
    yield_kg_m2: float
    month: int = 0
    site: str = ""
    year: Year | None = None


@dataclass(frozen=True)
class Part:
    """A site or a year of seasons, with the yield that turns hay into area."""

    of: Any
    yield_kg_m2: float


_SPREAD_HELP = {
    "mean": "mean",
    "median": "median",
    "p20": "four nights in five reach or pass it",
    "p25": "lower quartile",
    "p75": "upper quartile",
    "p80": "one night in five reaches or passes it",
}


def _spread(name: str, attribute: str, what: str) -> tuple[Column, ...]:
    """How hours of a night spread over nights."""
    return tuple(
        Column(f"{name}_hours_{key}", f"{what}: {help_}", f"tally.{attribute}.{key}", unit="h")
        for key, help_ in _SPREAD_HELP.items()
    )


def _clock(attribute: str) -> Callable[[Counted], str | None]:
    """A time of day from hours after 14:00; None where not known."""

    def found(row: Counted) -> str | None:
        hours: float = getattr(row.tally, attribute)
        return clock_after(hours, CLOCKS) if math.isfinite(hours) else None

    return found


def _area(attribute: str) -> Callable[[Counted], float]:
    """Area of some hay [m2]."""
    return lambda row: getattr(row.tally, attribute) / row.yield_kg_m2


TALLY = (
    Column("nights", "Evenings asked for", "tally.nights", kind="count"),
    Column("nights_missing", "Nights that cannot be told", "tally.missing", kind="count"),
    Column("rain_nights", "Known nights after more than 1 mm of rain in 48 hours; null where"
           " rain is not known", "tally.rain_nights", kind="count", null=True),
    Column("nights_counted", "The others; all that follows is over these", "tally.counted",
           kind="count"),
    Column("nights_without_spin_up", "Of these, run from the afternoon before only",
           "tally.without_spin_up", kind="count"),
    Column("nights_with_dew", "Nights with usable dew", "tally.with_dew", kind="count"),
    Column("longest_run_without_dew", "Longest run of nights without usable dew",
           "tally.longest_without", kind="count"),
    *_spread("dew", "dew_h", "Hours on dew"),
    *_spread("rig", "rig_h", "Hours with the rig"),
    *_spread("wet", "wet_h", "Hours too wet"),
    *_spread("too_dry", "dry_h", "Hours too dry beyond the rig"),
    Column("first_on_dew", "Median first moment on dew, local clock", _clock("first_h"),
           kind="text", null=True),
    Column("last_on_dew", "Median last moment on dew, local clock", _clock("last_h"),
           kind="text", null=True),
    Column("water_l_per_t_median", "Median over nights of the mean water to add",
           "tally.water_l_t", "water_rate", us="water_gal_per_ton_median"),
    Column("hay_on_dew_t", "Hay that the baler does on dew", "tally.dew_kg", "tons",
           us="hay_on_dew_tons"),
    Column("hay_with_rig_t", "Hay that it does behind the rig besides", "tally.rig_kg", "tons",
           us="hay_with_rig_tons"),
    Column("hay_on_dew_ha", "The same as area", _area("dew_kg"), "area", us="hay_on_dew_acres"),
    Column("hay_with_rig_ha", "The same as area", _area("rig_kg"), "area",
           us="hay_with_rig_acres"),
    Column("water_l", "Water of the rig", "tally.water_l", "volume", us="water_gal"),
    Column("fuel_l", "Fuel of its burners", "tally.fuel_l", "volume", us="fuel_gal"),
)  # fmt: skip
_MONTH = Column("month", "Month of the year", kind="count")
MONTH = Table((_MONTH, *TALLY), "Nights of one month.")
ROWS = Table(
    (
        Column("site", "Name of the site", kind="text"),
        Column("year", "Of the calendar, or \"typical\"", kind="text",
               value=lambda row: "typical" if row.year.year is None else row.year.year),
        _MONTH,
        *TALLY,
        Column("left_out", "More than a fifth of its nights are missing: shown, not averaged in",
               "year.left_out", kind="truth"),
    ),
    "Nights of one month of one year at a site.",
)  # fmt: skip


def _of_whole(pick: Callable[[Part], Tally]) -> tuple[Column, ...]:
    """Columns of a tally from a part that holds one."""
    return through_all(TALLY, lambda part: Counted(pick(part), part.yield_kg_m2))


def _months(part: Part) -> list[Counted]:
    return [Counted(tally, part.yield_kg_m2, month) for month, tally in part.of.months.items()]


def _causes(gap: MissingNight) -> list[str]:
    return [(cause.name or "").lower() for cause in CAUSES if gap.causes & cause]


MISSING = Table(
    (
        Column("evening", "Local date", lambda gap: gap.evening.isoformat(), kind="text"),
        Column("causes", "Why it cannot be told", _causes, kind="texts"),
    ),
    "A night that cannot be told.",
)
YEAR = Table(
    (
        Column("year", "Of the calendar; null for a typical year", "of.year", kind="count",
               null=True),
        Column("left_out", "More than a fifth of its nights are missing: shown, not averaged in",
               "of.left_out", kind="truth"),
        Column("share_missing", "Share of nights that cannot be told", "of.share_missing",
               unit="1"),
        *_of_whole(lambda part: part.of.whole),
        Column("months", "By month", _months, kind="rows", of=MONTH),
        Column("missing", "Nights that cannot be told, by name", "of.gaps", kind="rows",
               of=MISSING),
    ),
    "One year of a site.",
)  # fmt: skip
ALL_YEARS = Table(
    (
        Column("years", "Years averaged in", lambda part: site_years(part.of), kind="any",
               fits=YEARS_FIT),
        *_of_whole(lambda part: part.of.pooled),
        Column("months", "By month", _months, kind="rows", of=MONTH),
    ),
    "The years that are not left out, together.",
)  # fmt: skip
RANGE = Table(
    (
        Column("value", "Best estimate"),
        Column("low", "Lower end of the range that holds it nine times in ten"),
        Column("high", "Upper end of that range"),
    ),
    "An estimate and its range.",
)
ESTIMATE = Table(
    (
        Column("value", "Best estimate", "range.value"),
        Column("low", "Lower end of its range over years, nine in ten", "range.low", null=True),
        Column("high", "Upper end of that range", "range.high", null=True),
        Column(
            "model_low",
            "What the model's assumed numbers add at their lower end, nine in ten "
            "draws; apart from the years",
            "doubt.low",
            null=True,
        ),
        Column("model_high", "At their upper end", "doubt.high", null=True),
        Column("lowest_year", "Of the lowest single year", "lowest"),
        Column("highest_year", "Of the highest single year", "highest"),
    ),
    "A mean of the years, its range over years, and apart from it the model's own doubt.",
)


def _estimate(name: str, help_: str) -> Column:
    return Column(name, help_, kind="row", of=ESTIMATE)


SEASON = Table(
    (
        _estimate("dew_nights_percent", "Nights with usable dew in a hundred"),
        _estimate("dew_hours", "Hours on dew a night"),
        _estimate("rig_hours", "Hours with the rig a night"),
        _estimate("wet_hours", "Hours too wet a night"),
        _estimate("dew_kg", "Hay that one baler does in a season on dew, kg"),
        _estimate("rig_kg", "Hay that it does behind the rig besides, kg"),
        _estimate("both_kg", "Both together, kg"),
        Column("water_l", "Water of the rig in a season", unit="L"),
        Column("fuel_l", "Fuel of its burners in a season", unit="L", null=True),
        Column("scaled", "Years with nights missing, and how much their amounts are scaled up",
               lambda season: {str(year): factor for year, factor in season.scaled.items()},
               kind="any", fits={"type": "object"}),
        Column("draws", "How often the assumed numbers were drawn", kind="count"),
        Column("drawn_nights", "On how many nights", kind="count"),
    ),
    "A season as it comes on average, gaps scaled.",
)  # fmt: skip
FINISH = Table(
    (
        Column("nights", "Nights within which it should be done", kind="count"),
        Column("starts", "Evenings from which so many known nights follow", kind="count"),
        Column("within_dew", "Share done in time on dew alone", unit="1"),
        Column("within_rig", "Share done in time with the rig", unit="1"),
        Column("dry_dew", "Share done in time and before rain on dew alone", unit="1"),
        Column("dry_rig", "Share done in time and before rain with the rig", unit="1"),
        Column("dry_starts", "Evenings of these from which rain is known", kind="count"),
    ),
    "Chance to bale the cutting, from runs of real nights.",
)


def _ranged(name: str, help_: str, *, null: bool = True) -> Column:
    """An estimate with its range."""
    return Column(name, help_, kind="row", of=RANGE, null=null)


TREND = Table(
    (
        Column("first", "First year", kind="count"),
        Column("last", "Last year", kind="count"),
        Column("years", "Number of years", kind="count"),
        _ranged("dew_nights_percent", "Nights with usable dew in a hundred"),
        _ranged("dew_hours", "Hours on dew a night"),
    ),
    "Change per ten years.",
)
SITE = Table(
    (
        *through_all(PLACE.columns, lambda part: part.of.site),
        Column("typical_year", "A typical year is no year", "of.typical", kind="truth"),
        Column("rain_known", "Whether rain is known in every year", "of.rain_known",
               kind="truth"),
        Column("rain_years", "Years in which it is; where there are any, whole seasons and what"
               " is done in time are counted in these alone", lambda part: list(part.of.rain_years),
               kind="any", fits=YEARS_FIT),
        Column("sources", "Of the weather", "of.sources", kind="texts"),
        Column("attributions", "What the sources ask to be said", "of.attributions",
               kind="texts"),
        Column("years", "Year by year", kind="rows", of=YEAR,
               value=lambda part: [Part(year, part.yield_kg_m2) for year in part.of.years]),
        Column("all_years", "All years together", lambda part: part, kind="row", of=ALL_YEARS),
        Column("mean_season", "A season as it comes on average", "of.season", kind="row",
               of=SEASON, null=True),
        Column("finish", "Chance to finish a cutting", "of.finish", kind="row", of=FINISH,
               null=True),
        Column("trend_per_ten_years", "Change over the years", "of.trend", kind="row", of=TREND,
               null=True),
    ),
    "One site.",
)  # fmt: skip
PAIRS = Table(
    (
        Column("first", "Name of the first site", kind="text"),
        Column("second", "Name of the second site", kind="text"),
        Column("nights", "Nights that both have", kind="count"),
        Column("years", "Years that both have", lambda pair: list(pair.years), kind="any",
               fits=YEARS_FIT),
        _ranged("dew_hours", "Hours on dew a night"),
        _ranged("rig_hours", "Hours with the rig a night"),
        _ranged("wet_hours", "Hours too wet a night"),
        _ranged("dew_nights_percent", "Nights with usable dew in a hundred"),
    ),
    "Two sites on the same nights: first less second.",
)  # fmt: skip
INPUTS = Table(
    (
        Column("site", "Name of the site", kind="text"),
        Column("key", "Name of the input", kind="text"),
        Column("change", "Number and quantity of its change", lambda e: list(e.change),
               kind="any", fits={"type": "array"}),
        Column("dew_hours", "Hours on dew a night", unit="h"),
        Column("rig_hours", "Hours with the rig a night", unit="h"),
        Column("wet_hours", "Hours too wet a night", unit="h"),
        Column("dew_nights_percent", "Nights with usable dew in a hundred"),
        Column("nights", "Nights on which it was tried", kind="count"),
    ),
    "What one input, changed alone, does to a site: new less old.",
)  # fmt: skip
LEFT_OUT = Table(
    (
        Column("site", "Name of the site", kind="text"),
        Column("whole", "True where nothing of the site is left", kind="truth"),
        Column("problems", "What is wrong with each of its files", kind="texts",
               said=lambda out, voice: [each.line(voice.language) for each in out.problems]),
    ),
    "A site, or files of it, that the comparison goes on without.",
)  # fmt: skip
COSTS = Table(
    (
        Column("price", "Of the rig"),
        Column("salvage", "What it is worth at the end"),
        Column("years", "How long it is kept"),
        Column("interest_percent", "Interest a year", unit="%"),
        Column("taxes_percent", "Taxes, insurance and housing a year", unit="%"),
        Column("repairs_percent", "Repairs a year", unit="%"),
        Column("fuel_price_l", "Per liter of fuel"),
        Column("water_price_l", "Per liter of water"),
        Column("wage_h", "Per hour of work"),
        Column("rig_cost_h", "Per hour of the rig"),
        Column("lost_leaf_t", "Per tonne of leaf lost; null by feed value or class", null=True),
        Column("hay_t", "Per tonne of hay, by feed value or class; else null", null=True),
        Column("wait_t_day", "Per tonne of hay that lies a day more"),
        Column(
            "rain_loss_percent",
            "Of its price, lost to 25 mm of rain; null without a price of hay",
            unit="%",
            null=True,
        ),
        Column("assumed", "Names of those that were not given", kind="texts"),
    ),
    "What the money rests on.",
)
PAYS_YEAR = Table(
    (
        Column("year", "Of the calendar; null for a typical year", kind="count", null=True),
        Column("good_kg", "Hay that the rig alone made good", unit="kg"),
        Column("net", "Money left"),
    ),
    "One year's money at a site.",
)
SWAY = Table(
    (
        Column("key", "Name of the input", kind="text"),
        Column("low", "Its low value"),
        Column("high", "Its high value"),
        Column("net_low", "Money left at the low value"),
        Column("net_high", "Money left at the high value"),
        Column("even_low_kg", "Hay a year at which it would pay there", unit="kg"),
        Column("even_high_kg", "Hay a year at which it would pay there", unit="kg"),
        Column("even_low_t", "The same", "even_low_kg", "tons", us="even_low_tons"),
        Column("even_high_t", "The same", "even_high_kg", "tons", us="even_high_tons"),
    ),
    "How the money of an average year moves with one input; null where no amount pays.",
)


def _per_kg(attribute: str) -> Callable[[Pays], float]:
    """Money per tonne as money per kg."""
    return lambda pays: getattr(pays, attribute) / 1000


def _threshold(name: str, help_: str) -> Column:
    return Column(name, help_, kind="row", of=THRESHOLD, null=True)


THRESHOLD = Table(
    (
        Column(
            "value",
            "In the mean year at the usual loss of leaf; null where none is enough",
            null=True,
        ),
        Column(
            "years",
            "With the rig used as in the year of most and of least hay made good",
            kind="any",
            fits=PAIR_FIT,
            value=lambda found: _finite(found.years),
        ),
        Column(
            "loss",
            "With the most and the least loss of leaf that is published or measured",
            kind="any",
            fits=PAIR_FIT,
            value=lambda found: _finite(found.loss),
        ),
    ),
    "A value above which a rig pays, and how it moves.",
)
VERDICT = Table(
    (
        _threshold("area_m2", "Area cut in a season"),
        _threshold(
            "price_t",
            "What a tonne of hay brings, of leaf or of own gain where that is what counts",
        ),
        Column("price_now_t", "What it is in the file"),
        _threshold("dry_nights", "Nights a season without usable dew"),
        Column("most_dew_m2", "Area that one baler does in a season on dew", unit="m2", null=True),
        Column("most_rig_m2", "Area that it does with the rig", unit="m2", null=True),
        Column("season_area_m2", "Area cut in a season, in the file", unit="m2"),
        Column("dry_nights_now", "Nights a season without usable dew, at the site"),
        Column("nights", "Nights of a season"),
        Column("done_dew", "Share baled in time on dew alone", unit="1"),
        Column("done_rig", "Share baled in time with the rig", unit="1"),
        Column(
            "balers", "Balers that do that on dew alone; null: not six", kind="count", null=True
        ),
        _threshold("other_baler", "What each further baler with its crew must cost a year"),
        Column("says", "pays, not or open: over all years and losses", kind="text"),
    ),
    "From where on a rig pays.",
)
YEAR_MONEY = Table(
    (
        Column("value", "In an average year"),
        Column("years", "In the year of least and of most", kind="any", fits=PAIR_FIT,
               value=lambda found: _finite(found.years)),
    ),
    "Money of a year.",
)  # fmt: skip


def _money(name: str, help_: str) -> Column:
    return Column(name, help_, kind="row", of=YEAR_MONEY, null=True)


SHARES_FIT = {"type": "array", "items": {"type": "number"}}
WAITING = Table(
    (
        Column("in_dew", "Share in after each night on dew",
               lambda found: [round(x, 4) for x in found.in_dew], kind="any", fits=SHARES_FIT),
        Column("in_rig", "Share in after each night with the rig",
               lambda found: [round(x, 4) for x in found.in_rig], kind="any", fits=SHARES_FIT),
        Column("days_dew", "Days that a ton lies on average, to the last night at most"),
        Column("days_rig", "The same with the rig"),
        Column("by_rig", "Share that the rig does", unit="1"),
        Column("rain_dew", "Rain on what still lay, times its share", unit="mm", null=True),
        Column("rain_rig", "The same with the rig", unit="mm", null=True),
        _money("leaf", "Leaf not lost by baling dry what is left"),
        _money("time", "Of the days that hay lies less"),
        _money("rain", "Rain that falls on less hay; null where it or the price is not known"),
        _money("running", "Running the rig"),
        _money("net", "What is left, the fixed cost paid"),
        Column("net_wait", "The same, a day of waiting free and double", kind="any", fits=PAIR_FIT,
               value=lambda found: list(found.net_wait)),
        Column("net_loss", "The same, least and most leaf lost", kind="any", fits=PAIR_FIT,
               value=lambda found: list(found.net_loss)),
        _threshold("area_m2", "Area cut in a season above which it pays"),
        Column("says", "pays, not or open: over all years, losses and costs of a day",
               kind="text"),
    ),
    "The rig beside waiting for dew as long as a cutting may, then baling the rest dry.",
)  # fmt: skip
PAYS = Table(
    (
        Column("site", "Name of the site", kind="text"),
        Column("dry_share", "Share of hay that dew does not serve in time", unit="1"),
        Column("good_share", "Share of hay that the rig serves of that", unit="1"),
        Column("good_kg", "Hay a year that the rig makes good", unit="kg"),
        Column("gain_t", "Gain per tonne made good"),
        Column("variable_t", "Variable cost per tonne made good"),
        Column("fixed", "Fixed cost a year"),
        Column("net", "Money left in an average year"),
        Column("break_even_kg", "Hay a year at which it pays", unit="kg"),
        Column("break_even_h", "Hours a year at which it pays", unit="h"),
        Column("verdict", "From where on it pays", kind="row", of=VERDICT, null=True),
        Column("waiting", "Beside waiting for dew", kind="row", of=WAITING, null=True),
        Column("years", "Year by year", kind="rows", of=PAYS_YEAR),
        Column("sways", "Inputs by how far they move the money", kind="rows", of=SWAY),
        Column("good_t", "Hay a year that the rig makes good", "good_kg", "tons",
               us="good_tons"),
        Column("break_even_t", "Hay a year at which it pays", "break_even_kg", "tons",
               us="break_even_tons"),
        Column("gain_per_t", "Gain by weight made good", _per_kg("gain_t"), "price_by_mass",
               us="gain_per_ton"),
        Column("variable_per_t", "Variable cost by weight made good", _per_kg("variable_t"),
               "price_by_mass", us="variable_per_ton"),
    ),
    "Whether a rig pays at one site; money in the file's currency, null where nothing pays.",
)  # fmt: skip


def _sites(seasons: Seasons) -> list[Part]:
    return [Part(site, seasons.file.work.yield_kg_m2) for site in seasons.sites]


SEASONS = Document(
    "hayweather/seasons/1",
    Table(
        (
            Column("name", "Of the sites file", "file.name", kind="text"),
            Column("invented", "True for a made-up sample", "file.invented", kind="truth"),
            UNITS,
            Column("months", "Months asked for", lambda made: list(made.months), kind="any",
                   fits=YEARS_FIT),
            Column("unfinished", "The run was stopped before the end", kind="truth"),
            Column("left_out", "Sites and files that could not be read", kind="rows", of=LEFT_OUT),
            Column("useful_hours", "Hours on dew that make a night useful",
                   "file.baler.useful_hours", unit="h"),
            Column("sites", "One entry a site", _sites, kind="rows", of=SITE),
            Column("pairs", "Two sites on the same nights", kind="rows", of=PAIRS,
                   group="comparison"),
            Column("inputs", "What each input does", kind="rows", of=INPUTS, group="comparison"),
            Column("sentences", "The same in words", kind="texts", said=comparison_sentences,
                   group="comparison"),
            Column("costs", "What the money rests on", kind="row", of=COSTS, null=True,
                   group="pays"),
            Column("currency", "Of all money", lambda made: made.file.money.currency or "$",
                   kind="text", group="pays"),
            Column("sites", "One entry a site", "pays", kind="rows", of=PAYS, group="pays"),
            Column("sentences", "The same in words", kind="texts", said=pays_sentences,
                   group="pays"),
            Column("counting", "How nights and hours are counted", kind="text",
                   said=counting_sentence),
            Column("rests_on", "What all of it rests on", kind="texts", said=rests_on),
            Column("cautions", "Cautions that always show", kind="texts",
                   said=lambda _, voice: safety_texts(voice)),
        ),
        "Sites and years compared (hayweather seasons).",
    ),
)  # fmt: skip


def seasons_json(seasons: Seasons, units: UnitSystem | None = None) -> str:
    """Seasons as JSON text; `units` are those of its sentences, None for the file's."""
    return SEASONS.text(seasons, season_voice(seasons, units))


def seasons_csv(seasons: Seasons, units: UnitSystem | None = None, *, raw: bool = False) -> str:
    """Seasons as CSV: one row a site, year and month; notes before begin with ``#``."""
    voice = season_voice(seasons, units)
    notes = (counting_sentence(seasons, voice), *rests_on(seasons, voice))
    return ROWS.csv(
        _rows(seasons),
        voice,
        unique([*before_rows(seasons, voice), *notes, *short_safety_texts(voice)]),
        raw=raw,
    )


def before_rows(seasons: Seasons, voice: Voice) -> list[str]:
    """What stands before rows: title, what is left out, what to know before comparing."""
    return [*head_texts(seasons, voice), *caveat_sentences(seasons, voice)]


def _rows(seasons: Seasons) -> Iterator[Counted]:
    """Every month of every year of every site."""
    for site in seasons.sites:
        yield from _site_rows(site, seasons.file.work.yield_kg_m2)


def _site_rows(site: SiteSeasons, yield_kg_m2: float) -> Iterator[Counted]:
    for year in site.years:
        for month, tally in year.months.items():
            yield Counted(tally, yield_kg_m2, month, site.site.name, year)


def months_frame(seasons: Seasons, units: UnitSystem = "metric") -> pd.DataFrame:
    """A row a site, year and month as a DataFrame; see `Table.frame`."""
    return ROWS.frame(_rows(seasons), season_voice(seasons, units))
