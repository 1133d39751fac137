"""Seasons as text: a table a site, then what it comes to; its parts serve pages too."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.results import InputEffect, Pays, Seasons, SiteSeasons, Spread, Tally
from hayweather.show.layout import (
    WIDEST_PROSE,
    TextColumn,
    bullets,
    evened,
    paragraphs,
    table_lines,
    wrapped,
)
from hayweather.show.seasons_first import (
    FIRST,
    Figure,
    caveat_sentences,
    deciding_sentences,
    first_sentences,
    ranked,
)
from hayweather.show.seasons_words import (
    clock_after,
    comparison_sentences,
    counting_sentence,
    grouped,
    hours_text,
    months_text,
    pays_general,
    pays_site_sentences,
    rain_note,
    rests_on,
    season_voice,
    signed,
    site_sentences,
    site_title,
    waiting_sentences,
    years_text,
)
from hayweather.show.voice import UNKNOWN, Voice, money_text, shown_safety
from hayweather.units import symbol_of

Row = tuple[str, Tally]


@dataclass(frozen=True)
class _Shown:
    """A column: name of its heading, unit, cell of a tally, order of dropping.

    `beside` is True for what is told beside nights and hours on dew: where no
    width drops columns, these stand in a table of their own.
    """

    name: str
    unit: str
    cell: Callable[[Tally, Voice], str]
    drop: int = 0
    beside: bool = False


def _half(spread: Spread, voice: Voice) -> str:
    """Between which hours the middle half of the nights lies."""
    low, high = hours_text(spread.p25), hours_text(spread.p75)
    return UNKNOWN if low == UNKNOWN else f"{low}-{high}"


def _water(tally: Tally, voice: Voice) -> str:
    """Water to add."""
    known = math.isfinite(tally.water_l_t)
    return voice.number(tally.water_l_t, "water_rate") if known else UNKNOWN


COLUMNS = (
    _Shown("nights", "", lambda t, v: str(t.nights), 8),
    _Shown("missing", "", lambda t, v: str(t.missing), 9),
    _Shown("rain", "", lambda t, v: UNKNOWN if t.rain_nights is None else str(t.rain_nights), 7),
    _Shown("dew_nights", "", lambda t, v: str(t.with_dew)),
    _Shown("dew_mean", "h", lambda t, v: hours_text(t.dew_h.mean)),
    _Shown("dew_median", "h", lambda t, v: hours_text(t.dew_h.median)),
    _Shown("half", "h", lambda t, v: _half(t.dew_h, v), 3),
    _Shown("dew_sure", "h", lambda t, v: hours_text(t.dew_h.p20), 11),
    _Shown("rig_mean", "h", lambda t, v: hours_text(t.rig_h.mean), beside=True),
    _Shown("rig_median", "h", lambda t, v: hours_text(t.rig_h.median), beside=True),
    _Shown("half", "h", lambda t, v: _half(t.rig_h, v), 2, beside=True),
    _Shown("wet_mean", "h", lambda t, v: hours_text(t.wet_h.mean), beside=True),
    _Shown("wet_median", "h", lambda t, v: hours_text(t.wet_h.median), beside=True),
    _Shown("half", "h", lambda t, v: _half(t.wet_h, v), 1, beside=True),
    _Shown("longest", "", lambda t, v: str(t.longest_without), 10),
    _Shown("first", "", lambda t, v: clock_after(t.first_h, v), 5),
    _Shown("last", "", lambda t, v: clock_after(t.last_h, v), 6),
    _Shown("water", "water_rate", _water, 4, beside=True),
)
NONE = "-"
"""Stands in a cell with nothing to tell, of a column in which others have something."""


def month_rows(site: SiteSeasons, voice: Voice) -> list[Row]:
    """A row for each month over the years averaged in, and one for all."""
    rows = [
        (voice.say(f"seasons_month_short_{month}"), tally)
        for month, tally in site.months.items()
        if tally.counted
    ]
    return [*rows, (voice.say("seasons_all"), site.pooled)] if len(rows) > 1 else rows


def year_rows(site: SiteSeasons) -> list[Row]:
    """A row for each real year; none where there is only one."""
    named = [year for year in site.years if year.year is not None and year.whole.counted]
    if len(named) < 2:
        return []
    return [(year_name(year.year, left_out=year.left_out), year.whole) for year in named]


def table_columns(
    rows: Sequence[Row], voice: Voice, shown_columns: Sequence[_Shown] = COLUMNS
) -> list[TextColumn]:
    """The columns of some rows; what is zero throughout is left out."""
    columns = [TextColumn(("",), tuple(name for name, _ in rows), is_text=True)]
    for shown in shown_columns:
        cells = tuple(shown.cell(tally, voice) for _, tally in rows)
        if set(cells) <= ({"0", UNKNOWN} if shown.name in ("missing", "rain") else {UNKNOWN}):
            continue
        if shown.unit == "h":
            cells = tuple(voice.signed(cell) for cell in cells)
        cells = tuple(NONE if cell == UNKNOWN else cell for cell in cells)
        words = voice.say(f"seasons_column_{shown.name}").split()
        unit = symbol_of("water_rate", voice.units) if shown.unit == "water_rate" else shown.unit
        top, slash, bottom = unit.partition("/")
        units = [f"{top}{slash}", bottom] if slash else [unit]
        columns.append(TextColumn((*words, *(unit for unit in units if unit)), cells, shown.drop))
    return evened(columns, below=True)


MonthRow = tuple[str, Mapping[int, Tally], Tally]


def share_columns(
    rows: Sequence[MonthRow], months: Sequence[int], voice: Voice
) -> list[TextColumn]:
    """Nights with usable dew in a hundred that count, months across."""
    return _by_month(rows, months, voice, share_text)


def wet_columns(rows: Sequence[MonthRow], months: Sequence[int], voice: Voice) -> list[TextColumn]:
    """Median hours too wet a night, months across."""
    return _by_month(rows, months, voice, lambda tally: hours_text(tally.wet_h.median))


def share_text(tally: Tally) -> str:
    """Nights with usable dew in a hundred that count."""
    return f"{100 * tally.with_dew / tally.counted:.0f}" if tally.counted else UNKNOWN


def _by_month(
    rows: Sequence[MonthRow], months: Sequence[int], voice: Voice, cell: Callable[[Tally], str]
) -> list[TextColumn]:
    """A row of something, a column a month and one for all."""

    def shown(tally: Tally | None) -> str:
        text = UNKNOWN if tally is None or not tally.counted else cell(tally)
        return NONE if text == UNKNOWN else voice.signed(text)

    columns = [TextColumn(("",), tuple(name for name, _, _ in rows), is_text=True)]
    for month in months:
        cells = tuple(shown(tallies.get(month)) for _, tallies, _ in rows)
        if set(cells) == {NONE}:
            continue
        columns.append(TextColumn((voice.say(f"seasons_month_short_{month}"),), cells))
    if len(months) > 1:
        columns.append(
            TextColumn((voice.say("seasons_all"),), tuple(shown(whole) for _, _, whole in rows))
        )
    return columns


def year_shares(site: SiteSeasons, voice: Voice) -> list[MonthRow]:
    """The years of a site and all of them together, for tables with months across."""
    rows = [
        (year_name(year.year, left_out=year.left_out), year.months, year.whole)
        for year in site.years
        if year.year is not None and year.whole.counted
    ]
    return [*rows, (voice.say("seasons_all"), site.months, site.pooled)]


def year_name(year: int | None, *, left_out: bool) -> str:
    """A year, marked where it is not averaged in."""
    return f"{year}{'*' if left_out else ''}"


def input_columns(effects: Sequence[InputEffect], voice: Voice) -> list[TextColumn]:
    """What each input does at one site, a row a change."""
    columns = [TextColumn(("",), tuple(_change(effect, voice) for effect in effects), is_text=True)]
    for name in ("dew", "rig", "wet"):
        changes = [signed(getattr(effect, f"{name}_hours")) for effect in effects]
        cells = tuple(voice.signed(change) for change in changes)
        columns.append(TextColumn((*voice.say(f"seasons_column_{name}").split(), "h"), cells))
    shares = tuple(signed(effect.dew_nights_percent, 0) for effect in effects)
    heading = (*voice.say("seasons_column_dew_nights").split(), "/100")
    return evened([*columns, TextColumn(heading, shares)], below=True)


def _change(effect: InputEffect, voice: Voice) -> str:
    """An input and its change."""
    number, quantity = effect.change
    change = voice.amount(number, quantity)
    if effect.key != "mass" and number > 0:
        change = f"+{change}"
    return voice.say(f"seasons_input_{effect.key}", change=change)


def sway_columns(pays: Pays, voice: Voice, currency: str | None) -> list[TextColumn]:
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
        TextColumn(("",), tuple(names), is_text=True),
        TextColumn((voice.say("seasons_column_left"),), tuple(left)),
        TextColumn((voice.say("seasons_column_even", unit=unit),), tuple(even), drop=1),
    ]


def waiting_columns(pays: Pays, voice: Voice, currency: str | None) -> list[TextColumn]:
    """What a rig brings and costs a year beside waiting for dew, and how that moves."""
    found = pays.waiting
    if found is None:
        return []
    saved = voice.signed(f"{found.days_dew - found.days_rig:.2f}")
    rows: list[tuple[str, float | None, tuple[float, float] | None]] = [
        (voice.say("seasons_wait_leaf"), found.leaf.value, found.leaf.years),
        (voice.say("seasons_wait_time", days=saved), found.time.value, found.time.years),
        (voice.say("seasons_wait_running"), found.running.value, found.running.years),
        (voice.say("seasons_wait_owning"), -pays.fixed, None),
        (voice.say("seasons_wait_left"), found.net.value, found.net.years),
        (voice.say("seasons_wait_left_loss"), None, found.net_loss),
        (voice.say("seasons_wait_left_day"), None, found.net_wait),
    ]
    if found.rain is not None and found.rain_dew:
        rows.insert(2, (voice.say("seasons_wait_less_rain"), found.rain.value, found.rain.years))

    def money(value: float) -> str:
        return money_text(value, voice, currency)

    ends = [
        "" if pair is None else _span(money(min(pair)), money(max(pair)), voice)
        for _, _, pair in rows
    ]
    return [
        TextColumn(("",), tuple(name for name, _, _ in rows), is_text=True),
        TextColumn(
            (voice.say("seasons_column_money"),),
            tuple("" if value is None else money(value) for _, value, _ in rows),
        ),
        TextColumn((voice.say("seasons_column_money_range"),), tuple(ends)),
    ]


def _tons(kg: float, voice: Voice) -> str:
    """Hay a year, or that no amount is enough."""
    if not math.isfinite(kg):
        return voice.say("seasons_never")
    return grouped(voice.number(kg, "tons"), voice)


def _span(low: str, high: str, voice: Voice) -> str:
    """Two values, one where both look the same."""
    return low if low == high else voice.say("range", low=low, high=high)


Table = tuple[str, list[TextColumn]]


@dataclass(frozen=True)
class Part:
    """One part of the answer.

    Attributes
    ----------
    heading
        Its title.
    notes
        What must be known before its tables.
    tables
        Captions, empty where none is needed, and columns.
    said
        Sentences below the tables.
    """

    heading: str
    notes: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    said: tuple[str, ...] = ()


def head_texts(seasons: Seasons, voice: Voice) -> list[str]:
    """What stands before everything: that it is invented, what it is about, that it was stopped."""
    texts = [voice.say("seasons_invented")] if seasons.file.invented else []
    months = months_text(seasons.months, voice)
    title = voice.say("seasons_title", name=seasons.file.name, months=months)
    if missing := [out.site for out in seasons.left_out if out.whole]:
        title = voice.say("seasons_title_without", title=title, sites=", ".join(missing))
    texts.append(title)
    lacking = [site for site in seasons.sites if not site.rain_known]
    if unknown := [site.site.name for site in lacking if not site.rain_years]:
        texts.append(voice.say("seasons_rain_not_known", sites=", ".join(unknown)))
    if partly := [f"{s.site.name} ({years_text(s.rain_years)})" for s in lacking if s.rain_years]:
        texts.append(voice.say("seasons_rain_in_part", sites=", ".join(partly)))
    return [*texts, voice.say("seasons_unfinished")] if seasons.unfinished else texts


def site_part(site: SiteSeasons, seasons: Seasons, voice: Voice, *, halved: bool = False) -> Part:
    """One site: by month, by year, nights with dew by both, and what that comes to.

    `halved` is for a page, where no column is dropped: nights and hours on dew in
    one table, hours with the rig and too wet in the next.
    """
    note = rain_note(site, voice)
    notes = () if note is None else (note,)
    years = year_rows(site)
    halves = [[shown for shown in COLUMNS if shown.beside is beside] for beside in (False, True)]
    tables: list[Table] = [
        ("", table_columns(rows, voice, columns))
        for rows in (month_rows(site, voice), years)
        for columns in (halves if halved else [COLUMNS])
        if rows
    ]
    if years and len(seasons.months) > 1:
        shares = share_columns(year_shares(site, voice), seasons.months, voice)
        tables.append((voice.say("seasons_shares_years"), shares))
    said = tuple(site_sentences(site, seasons, voice))
    return Part(site_title(site, voice), notes, tuple(tables), said)


def closing_parts(seasons: Seasons, voice: Voice) -> list[Part]:
    """What stands after the sites; a part with nothing in it is left out."""
    parts = [
        _comparison(seasons, voice),
        Part(voice.say("seasons_heading_inputs"), tables=tuple(_inputs(seasons, voice))),
        Part(voice.say("seasons_heading_pays"), said=tuple(pays_general(seasons, voice))),
        *(_pays(pays, seasons, voice) for pays in seasons.pays),
        Part(voice.say("seasons_notes"), said=tuple(rests_on(seasons, voice))),
    ]
    return [part for part in parts if part.tables or part.said]


def _comparison(seasons: Seasons, voice: Voice) -> Part:
    """Sites side by side: by month, then on the same nights."""
    tables: list[Table] = []
    if len(seasons.sites) > 1:
        rows = [(site.site.name, site.months, site.pooled) for site in seasons.sites]
        for key, columns in (("shares", share_columns), ("wet", wet_columns)):
            tables.append((voice.say(f"seasons_{key}_sites"), columns(rows, seasons.months, voice)))
    said = tuple(comparison_sentences(seasons, voice))
    return Part(voice.say("seasons_heading_sites"), tables=tuple(tables), said=said)


def _inputs(seasons: Seasons, voice: Voice) -> list[Table]:
    """What each input does, a table a site."""
    tables = []
    for site in seasons.sites:
        effects = [effect for effect in seasons.inputs if effect.site == site.site.name]
        if effects:
            tables.append((site.site.name, input_columns(effects, voice)))
    return tables


def _pays(pays: Pays, seasons: Seasons, voice: Voice) -> Part:
    """Whether a rig pays at one site, and how that moves."""
    columns = sway_columns(pays, voice, seasons.file.money.currency)
    tables: list[Table] = [("", columns)]
    notes = tuple(pays_site_sentences(pays, seasons, voice))
    if pays.waiting is not None:
        nights = len(pays.waiting.in_dew)
        caption = voice.say("seasons_wait_heading", nights=nights)
        tables.append((caption, waiting_columns(pays, voice, seasons.file.money.currency)))
    return Part(pays.site, notes, tuple(tables), tuple(waiting_sentences(pays, seasons, voice)))


def seasons_text(
    seasons: Seasons,
    units: UnitSystem | None,
    width: int = 80,
    *,
    detail: bool = False,
    all_cautions: bool = False,
) -> str:
    """The answer as text: the comparison, and with `detail` every site, month and year."""
    voice = season_voice(seasons, units)
    prose = min(width, WIDEST_PROSE)
    lines = paragraphs(head_texts(seasons, voice), prose)
    for part in first_parts(seasons, voice):
        lines += ["", *_part(part, width)]
    if detail:
        for site in seasons.sites:
            lines += ["", *_part(site_part(site, seasons, voice), width)]
        lines += ["", *wrapped(counting_sentence(seasons, voice), prose)]
        for part in closing_parts(seasons, voice):
            lines += ["", *_part(part, width)]
    else:
        lines += ["", *wrapped(voice.say("seasons_more"), prose)]
    safety = shown_safety(voice, all_cautions)
    return "\n".join([*lines, "", *bullets(safety, prose)]) + "\n"


def first_parts(seasons: Seasons, voice: Voice) -> list[Part]:
    """The comparison of all sites, what to know before it, and what decides."""
    parts = [
        Part(
            voice.say("seasons_heading_first", hours=f"{seasons.file.baler.useful_hours:g}"),
            tables=(("", ranked_columns(seasons, voice)),) if ranked(seasons) else (),
            said=tuple(first_sentences(seasons, voice)),
        ),
        Part(
            voice.say("seasons_heading_caveats"),
            said=tuple(caveat_sentences(seasons, voice)),
        ),
        Part(voice.say("seasons_heading_decides"), said=tuple(deciding_sentences(seasons, voice))),
    ]
    return [part for part in parts if part.tables or part.said]


def ranked_columns(seasons: Seasons, voice: Voice) -> list[TextColumn]:
    """Sites by nights with usable dew, most first; below each its lowest and highest year."""
    figures = ranked(seasons)
    names = [cell for name, found in figures for cell in _two(name, "", several=_several(found))]
    columns = [TextColumn(("",), tuple(names), is_text=True)]
    number = voice.number
    for shown in FIRST:
        unit = symbol_of(shown.quantity, voice.units) if shown.quantity else shown.unit
        cells: list[str] = []
        for _, found in figures:
            if shown.name == "done":
                cells += _two(_done(found), "", several=_several(found))
                continue
            figure = found[shown.name]
            texts = [
                NONE
                if not math.isfinite(value)
                else grouped(number(value, shown.quantity), voice)
                if shown.quantity
                else voice.signed(f"{value:.{shown.decimals}f}")
                for value in (figure.mean, figure.low, figure.high)
            ]
            span = (
                ""
                if NONE in texts[1:]
                else texts[1]
                if texts[1] == texts[2]
                else f"{texts[1]}-{texts[2]}"
            )
            cells += _two(texts[0], span, several=_several(found))
        if set(cells) <= {NONE, ""}:
            continue
        words = voice.say(f"seasons_first_{shown.name}", nights=seasons.file.work.nights)
        columns.append(TextColumn((*words.split("/"), unit), tuple(cells), shown.drop))
    return evened(columns)


def _done(found: Mapping[str, Figure]) -> str:
    """Cuttings done in time of a hundred, on dew and with the rig."""
    dew, rig = found["done_dew"].mean, found["done_rig"].mean
    return NONE if not math.isfinite(dew + rig) else f"{dew:.0f}, {rig:.0f}"


def _several(found: Mapping[str, Figure]) -> bool:
    """Whether a site has years to tell a range of."""
    return found["dew_nights"].years > 1


def _two(first: str, second: str, *, several: bool) -> tuple[str, ...]:
    """A cell and the one below it."""
    return (first, second) if several else (first,)


def _part(part: Part, width: int) -> list[str]:
    """Heading, tables and sentences."""
    prose = min(width, WIDEST_PROSE)
    lines = paragraphs((part.heading, *part.notes), prose)
    for number, (caption, columns) in enumerate(part.tables):
        lines += [""] if number else []
        lines += wrapped(caption, prose)
        lines += table_lines(columns, width)
    return [*lines, *bullets(part.said, prose)]
