"""A grid as text for a terminal: months over all cells, then what it comes to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.grid import GridSeasons
from hayweather.show.columns import UNKNOWN, Column
from hayweather.show.grid_sentences import (
    cell_sentences,
    grid_counting,
    grid_rests_on,
    grid_title,
    grid_voice,
)
from hayweather.show.layout import WIDEST_PROSE, bullets, wrapped
from hayweather.show.safety import shown_safety
from hayweather.show.table_lines import table_lines
from hayweather.show.voice import Voice
from hayweather.weather.record import Floats

_TENTHS = (10, 50, 90)


def grid_text(
    grid: GridSeasons, units: UnitSystem | None, width: int = 80, *, all_cautions: bool = False
) -> str:
    """The whole answer as text.

    Parameters
    ----------
    grid
        What to show.
    units
        Of the reader; None for the file's.
    width
        Characters of a line.
    all_cautions
        True for the cautions in full.
    """
    voice = grid_voice(grid, units)
    prose = min(width, WIDEST_PROSE)
    lines = wrapped(voice.say("seasons_invented"), prose) if grid.file.invented else []
    lines += wrapped(grid_title(grid, voice), prose)
    if not grid.rain_known:
        lines += wrapped(voice.say("seasons_rain_unknown"), prose)
    lines += ["", *table_lines(_columns(grid, voice), width), ""]
    lines += bullets(cell_sentences(grid, voice), prose)
    lines += ["", *wrapped(grid_counting(grid, voice), prose)]
    lines += ["", voice.say("seasons_notes"), *bullets(grid_rests_on(grid, voice), prose)]
    safety = shown_safety(voice, all_cautions)
    return "\n".join([*lines, "", *bullets(safety, prose)]) + "\n"


def _columns(grid: GridSeasons, voice: Voice) -> list[Column]:
    """A row a month and one for all: spread over the cells of shares and hours."""
    places: list[int | None] = [*range(len(grid.months)), None]
    names = [voice.say(f"seasons_month_short_{month}") for month in grid.months]
    if len(grid.months) == 1:
        places = [0]
    else:
        names.append(voice.say("seasons_all"))
    tallies = grid.tallies
    shares = [tallies.dew_night_percent(place) for place in places]
    columns = [Column(("", "", "", ""), tuple(names), is_text=True)]
    nights = tuple(f"{tallies.pooled('counted', place).sum():,.0f}" for place in places)
    columns.append(_column("grid_column_nights", "", nights, voice, 1))
    for tenth in _TENTHS:
        cells = tuple(_middle(share, tenth, "{:.0f}") for share in shares)
        columns.append(_column(f"grid_column_share_{tenth}", "%", cells, voice))
    for number, name in enumerate(("dew", "rig", "wet"), start=2):
        hours = tuple(_middle(tallies.mean(f"{name}_h", place), 50, "{:.1f}") for place in places)
        columns.append(_column(f"grid_column_{name}", "h", hours, voice, 0 if number < 4 else 2))
    return columns


def _column(key: str, unit: str, cells: Sequence[str], voice: Voice, drop: int = 0) -> Column:
    """A column whose heading stands in three lines and its unit in the fourth."""
    words = voice.say(key).split("|")
    return Column((*[""] * (3 - len(words)), *words, unit), tuple(cells), drop)


def _middle(values: Floats, tenth: int, form: str) -> str:
    """What so many percent of the cells with nights stay below."""
    known = values[np.isfinite(values)]
    return form.format(np.percentile(known, tenth)) if known.size else UNKNOWN
