"""Pictures of seasons: calendars, months, sites, break-even.

Data in, figures out; importing this module loads matplotlib, so it is imported
where pictures are asked for.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import partial

from matplotlib.figure import Figure

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.results import Seasons
from hayweather.show.chart_look import Look
from hayweather.show.season_chart_calendar import calendar_figure
from hayweather.show.season_chart_fan import fan_figure
from hayweather.show.season_chart_hours import months_figure, sites_figure
from hayweather.show.season_phrases import season_voice

MOST_CALENDARS = 3  # of a site, its latest years; others on request by --years


def season_figures(
    seasons: Seasons, units: UnitSystem | None = None
) -> Iterator[tuple[str, Callable[[], Figure]]]:
    """Name of each picture and how to draw it, so that one at a time is in memory.

    Parameters
    ----------
    seasons
        What to draw.
    units
        Of the numbers that people read, and of sentences; None for those of the file.
    """
    voice = season_voice(seasons, units)
    look = Look(voice.units, voice.language, invented=seasons.file.invented)
    for site in seasons.sites:
        name = plain_name(site.site.name)
        shown = [year for year in site.years if not year.left_out]
        for year in shown[-MOST_CALENDARS:]:
            label = "typical" if year.year is None else str(year.year)
            drawn = partial(calendar_figure, site, year.year, look, voice)
            yield f"calendar-{name}-{label}", drawn
        if shown:
            yield f"months-{name}", partial(months_figure, site, look, voice)
    if len(seasons.sites) > 1:
        yield "sites", partial(sites_figure, seasons.sites, look, voice)
    if seasons.pays:
        yield "pays", partial(fan_figure, seasons, look, voice)


def plain_name(name: str) -> str:
    """A site's name for a file.

    Examples
    --------
    >>> plain_name("Upper bench #2")
    'Upper-bench-2'
    """
    return re.sub(r"[^\w]+", "-", name).strip("-") or "site"
