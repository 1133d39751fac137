"""Small tables of seasons: months across, what inputs do, how money moves."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

from hayweather.seasons.record.results import InputEffect, Pays, SiteSeasons, Tally
from hayweather.show.columns import UNKNOWN, Column, evened
from hayweather.show.season_phrases import grouped, hours_text, money_text, signed
from hayweather.show.voice import Voice
from hayweather.units import symbol_of

MonthRow = tuple[str, Mapping[int, Tally], Tally]


def share_columns(rows: Sequence[MonthRow], months: Sequence[int], voice: Voice) -> list[Column]:
    """Nights with usable dew in a hundred that count, months across."""
    return _by_month(rows, months, voice, share_text)


def wet_columns(rows: Sequence[MonthRow], months: Sequence[int], voice: Voice) -> list[Column]:
    """Median hours too wet a night, months across."""
    return _by_month(rows, months, voice, lambda tally: hours_text(tally.wet_h.median))


def share_text(tally: Tally) -> str:
    """Nights with usable dew in a hundred that count."""
    return f"{100 * tally.with_dew / tally.counted:.0f}" if tally.counted else UNKNOWN


def _by_month(
    rows: Sequence[MonthRow], months: Sequence[int], voice: Voice, cell: Callable[[Tally], str]
) -> list[Column]:
    """A row of something, a column a month and one for all."""
    columns = [Column(("",), tuple(name for name, _, _ in rows), is_text=True)]
    for month in months:
        cells = tuple(cell(tallies[month]) for _, tallies, _ in rows)
        columns.append(Column((voice.say(f"seasons_month_short_{month}"),), cells))
    if len(months) > 1:
        columns.append(
            Column((voice.say("seasons_all"),), tuple(cell(whole) for _, _, whole in rows))
        )
    return columns


def year_shares(site: SiteSeasons, voice: Voice) -> list[MonthRow]:
    """The years of a site and all of them together, for tables with months across."""
    rows = [
        (year_name(year.year, left_out=year.left_out), year.months, year.whole)
        for year in site.years
        if year.year is not None
    ]
    return [*rows, (voice.say("seasons_all"), site.months, site.pooled)]


def year_name(year: int | None, *, left_out: bool) -> str:
    """A year, marked where it is not averaged in."""
    return f"{year}{'*' if left_out else ''}"


def input_columns(effects: Sequence[InputEffect], voice: Voice) -> list[Column]:
    """What each input does at one site, a row a change."""
    columns = [Column(("",), tuple(_change(effect, voice) for effect in effects), is_text=True)]
    for name in ("dew", "rig", "wet"):
        cells = tuple(signed(getattr(effect, f"{name}_hours")) for effect in effects)
        columns.append(Column((*voice.say(f"seasons_column_{name}").split(), "h"), cells))
    shares = tuple(signed(effect.dew_nights_percent, 0) for effect in effects)
    heading = (*voice.say("seasons_column_dew_nights").split(), "/100")
    return evened([*columns, Column(heading, shares)], below=True)


def _change(effect: InputEffect, voice: Voice) -> str:
    """An input and its change."""
    number, quantity = effect.change
    change = voice.amount(number, quantity)
    if effect.key != "mass" and number > 0:
        change = f"+{change}"
    return voice.say(f"seasons_input_{effect.key}", change=change)


def sway_columns(pays: Pays, voice: Voice, currency: str | None) -> list[Column]:
    """How the money of one site moves with each input, and from how much hay a rig would pay."""
    names = [voice.say("seasons_sway_none")]
    left = [money_text(pays.net, voice, currency)]
    even = [_tons(pays.break_even_kg, voice)]
    for sway in (sway for sway in pays.sways if round(sway.net_low) != round(sway.net_high)):
        names.append(voice.say(f"seasons_sway_{sway.key}"))
        low, high = sorted((sway.net_low, sway.net_high))
        left.append(
            _span(money_text(low, voice, currency), money_text(high, voice, currency), voice)
        )
        least, most = sorted((sway.even_low_kg, sway.even_high_kg))
        even.append(_span(_tons(least, voice), _tons(most, voice), voice))
    unit = symbol_of("tons", voice.units)
    return [
        Column(("",), tuple(names), is_text=True),
        Column((voice.say("seasons_column_left"),), tuple(left)),
        Column((voice.say("seasons_column_even", unit=unit),), tuple(even), drop=1),
    ]


def _tons(kg: float, voice: Voice) -> str:
    """Hay a year, or that no amount is enough."""
    if not math.isfinite(kg):
        return voice.say("seasons_never")
    return grouped(voice.number(kg, "tons"))


def _span(low: str, high: str, voice: Voice) -> str:
    """Two values, one where both look the same."""
    return low if low == high else voice.say("range", low=low, high=high)
