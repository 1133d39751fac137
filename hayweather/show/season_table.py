"""Tables of seasons: a row a month or a year."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from hayweather.seasons.record.results import SiteSeasons, Spread, Tally
from hayweather.show.columns import UNKNOWN, Column, evened
from hayweather.show.season_phrases import clock_after, hours_text
from hayweather.show.season_small import year_name
from hayweather.show.voice import Voice
from hayweather.units import symbol_of

Row = tuple[str, Tally]


@dataclass(frozen=True)
class _Shown:
    """A column: name of its heading, unit, cell of a tally, order of dropping."""

    name: str
    unit: str
    cell: Callable[[Tally, Voice], str]
    drop: int = 0


def _half(spread: Spread, voice: Voice) -> str:
    """Between which hours the middle half of the nights lies."""
    low, high = hours_text(spread.p25), hours_text(spread.p75)
    return UNKNOWN if low == UNKNOWN else f"{low}-{high}"


def _water(tally: Tally, voice: Voice) -> str:
    """Water to add."""
    known = math.isfinite(tally.water_l_t)
    return voice.number(tally.water_l_t, "water_rate") if known else UNKNOWN


COLUMNS = (
    _Shown("nights", "", lambda t, v: str(t.nights)),
    _Shown("missing", "", lambda t, v: str(t.missing), 7),
    _Shown("rain", "", lambda t, v: str(t.rain_nights), 6),
    _Shown("dew_nights", "", lambda t, v: str(t.with_dew)),
    _Shown("dew", "h", lambda t, v: hours_text(t.dew_h.median)),
    _Shown("half", "h", lambda t, v: _half(t.dew_h, v), 3),
    _Shown("dew_sure", "h", lambda t, v: hours_text(t.dew_h.p20), 9),
    _Shown("rig", "h", lambda t, v: hours_text(t.rig_h.median)),
    _Shown("half", "h", lambda t, v: _half(t.rig_h, v), 2),
    _Shown("wet", "h", lambda t, v: hours_text(t.wet_h.median)),
    _Shown("half", "h", lambda t, v: _half(t.wet_h, v), 1),
    _Shown("longest", "", lambda t, v: str(t.longest_without), 8),
    _Shown("first", "", lambda t, v: clock_after(t.first_h, v), 5),
    _Shown("last", "", lambda t, v: clock_after(t.last_h, v), 5),
    _Shown("water", "water_rate", _water, 4),
)


def month_rows(site: SiteSeasons, voice: Voice) -> list[Row]:
    """A row for each month over the years averaged in, and one for all."""
    rows = [
        (voice.say(f"seasons_month_short_{month}"), tally) for month, tally in site.months.items()
    ]
    return [*rows, (voice.say("seasons_all"), site.pooled)] if len(rows) > 1 else rows


def year_rows(site: SiteSeasons) -> list[Row]:
    """A row for each real year; none where there is only one."""
    named = [year for year in site.years if year.year is not None]
    if len(named) < 2:
        return []
    return [(year_name(year.year, left_out=year.left_out), year.whole) for year in named]


def table_columns(rows: Sequence[Row], voice: Voice) -> list[Column]:
    """The columns of some rows; what is zero throughout is left out."""
    columns = [Column(("",), tuple(name for name, _ in rows), is_text=True)]
    for shown in COLUMNS:
        cells = tuple(shown.cell(tally, voice) for _, tally in rows)
        if shown.name in ("missing", "rain") and set(cells) == {"0"}:
            continue
        words = voice.say(f"seasons_column_{shown.name}").split()
        unit = symbol_of("water_rate", voice.units) if shown.unit == "water_rate" else shown.unit
        top, slash, bottom = unit.partition("/")
        units = [f"{top}{slash}", bottom] if slash else [unit]
        columns.append(Column((*words, *(unit for unit in units if unit)), cells, shown.drop))
    return evened(columns, below=True)
