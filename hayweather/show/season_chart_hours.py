"""Hours a night by month, as boxes with years as points, and sites side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from hayweather.baling.calls import Call
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.results import SiteSeasons
from hayweather.show.chart_look import Look
from hayweather.show.chart_sheet import Block, Place, gap
from hayweather.show.colors import CALL_LOOKS, INK, PAPER
from hayweather.show.season_chart_parts import (
    KeyEntry,
    key_block,
    part_axes,
    plain_axes,
    season_sheet,
)
from hayweather.show.season_phrases import site_title
from hayweather.show.voice import Voice
from hayweather.weather.record import Floats

PANEL_IN = 1.5
CAPTION_IN = 0.5
SITES_IN = 2.2
SITES_A_ROW = 3
BOX_WIDTH = 0.56
POINT_SPREAD = 0.22
LONGEST_NIGHT_H = 20  # from sunset to four hours after sunrise, in the seasons of hay
MEASURES = (
    ("dew_h", "seasons_chart_on_dew", Call.NATURAL_DEW),
    ("rig_h", "seasons_chart_with_rig", Call.ADD_MOISTURE),
    ("wet_h", "seasons_chart_too_wet", Call.TOO_WET),
)
STACKED = (
    ("dew_h", Call.NATURAL_DEW),
    ("rig_h", Call.ADD_MOISTURE),
    ("dry_h", Call.TOO_DRY),
    ("wet_h", Call.TOO_WET),
)


def months_figure(site: SiteSeasons, look: Look, voice: Voice) -> Figure:
    """Hours of each kind by month: boxes over all nights, a point for each year's median."""
    nights = counted_nights(site)
    blocks = []
    for name, words, call in MEASURES:
        panel = _Boxes(site, nights, name, voice.say(words), call)
        blocks += [gap(CAPTION_IN), Block(PANEL_IN, panel.draw(look, voice))]
    title = voice.say("seasons_chart_boxes", site=site_title(site, voice))
    notes = [voice.say("seasons_chart_boxes_key")]
    if not site.rain_known:
        notes.append(voice.say("seasons_rain_unknown"))
    return season_sheet(title, [*blocks, gap(0.3)], notes, look)


def counted_nights(site: SiteSeasons) -> Nights:
    """The nights of a site that count, of the years averaged in."""
    kept = [year.year for year in site.years if not year.left_out]
    nights = site.nights
    if not site.typical:
        nights = nights.only(np.isin(nights.year, [year for year in kept if year is not None]))
    return nights.only(nights.counted)


class _Boxes:
    """One panel of boxes."""

    def __init__(self, site: SiteSeasons, nights: Nights, name: str, word: str, call: Call) -> None:
        self.months = list(site.months)
        self.nights, self.name, self.word, self.call = nights, name, word, call

    def draw(self, look: Look, voice: Voice) -> Callable[[Place], None]:
        """How the panel is drawn into its block."""

        def into(place: Place) -> None:
            axes = plain_axes(place.axes(self.name), look)
            for at, month in enumerate(self.months):
                chosen = self.nights.only(self.nights.month == month)
                self._box(axes, at, getattr(chosen, self.name))
                self._points(axes, at, chosen)
            axes.set_xlim(-0.6, len(self.months) - 0.4)
            axes.set_ylim(0, None)
            axes.yaxis.set_major_locator(MaxNLocator(4, integer=True))
            _month_names(axes, self.months, voice)
            unit = voice.say("seasons_chart_hours")
            _caption(axes, f"{self.word}, {unit}", look)

        return into

    def _box(self, axes: Axes, at: int, values: Floats) -> None:
        """Middle half, median, eight nights in ten."""
        if values.size == 0:
            return
        low, quarter, middle, three, high = np.quantile(values, [0.1, 0.25, 0.5, 0.75, 0.9])
        look = CALL_LOOKS[self.call]
        left = at - BOX_WIDTH / 2
        axes.plot([at, at], [low, high], color=INK, linewidth=1.0, zorder=2)
        box = Rectangle((left, quarter), BOX_WIDTH, three - quarter)
        box.set(facecolor=look.fill, edgecolor=look.line, hatch=look.hatch, zorder=3)
        axes.add_patch(box)
        for color, width in ((PAPER, 4.0), (INK, 2.0)):
            ends = [left, left + BOX_WIDTH]
            axes.plot(ends, [middle] * 2, color=color, lw=width, zorder=4, clip_on=False)

    def _points(self, axes: Axes, at: int, nights: Nights) -> None:
        """The median of each year, side by side in order of time."""
        years = np.unique(nights.year)
        if years.size < 2:
            return
        places = at + np.linspace(-POINT_SPREAD, POINT_SPREAD, years.size)
        values = [float(np.median(getattr(nights, self.name)[nights.year == y])) for y in years]
        (points,) = axes.plot(places, values, "o", markersize=3.6, color=PAPER, zorder=5)
        points.set(markeredgecolor=INK, clip_on=False)


def _month_names(axes: Axes, months: Sequence[int], voice: Voice) -> None:
    """Short names below the months."""
    names = [voice.say(f"seasons_month_short_{month}") for month in months]
    axes.set_xticks(range(len(months)), names)


def _caption(axes: Axes, text: str, look: Look) -> None:
    """What a panel shows, above it."""
    axes.set_title(text, loc="left", size=look.size_pt, weight="bold", color=INK, pad=4)


def sites_figure(sites: Sequence[SiteSeasons], look: Look, voice: Voice) -> Figure:
    """Mean hours a night of every site by month, stacked by call."""
    blocks = []
    for first in range(0, len(sites), SITES_A_ROW):
        row = sites[first : first + SITES_A_ROW]
        blocks += [gap(0.34), Block(SITES_IN, _row_drawer(row, look, voice)), gap(0.3)]
    key = [KeyEntry(CALL_LOOKS[call], voice.call(call)) for _, call in STACKED]
    notes = [site_title(site, voice) for site in sites]
    title = voice.say("seasons_chart_sites")
    return season_sheet(title, [*blocks, key_block(key, look)], notes, look)


def _row_drawer(sites: Sequence[SiteSeasons], look: Look, voice: Voice) -> Callable[[Place], None]:
    """How a row of sites is drawn into its block."""

    def into(place: Place) -> None:
        for index, site in enumerate(sites):
            axes = part_axes(place, index, SITES_A_ROW, 0.28, site.site.name)
            plain_axes(axes, look)
            _stack(axes, site)
            axes.set_ylim(0, LONGEST_NIGHT_H)
            axes.set_yticks(range(0, LONGEST_NIGHT_H + 1, 4))
            _month_names(axes, list(site.months), voice)
            _caption(axes, site.site.name, look)
            if index:
                axes.tick_params(axis="y", labelleft=False)
            else:
                axes.set_ylabel(voice.say("seasons_chart_hours"), size=look.size_pt, color=INK)

    return into


def _stack(axes: Axes, site: SiteSeasons) -> None:
    """Mean hours of each call by month, one on the other."""
    nights = counted_nights(site)
    for at, month in enumerate(site.months):
        chosen, below = nights.only(nights.month == month), 0.0
        if chosen.count == 0:
            continue
        for name, call in STACKED:
            height = float(getattr(chosen, name).mean())
            look = CALL_LOOKS[call]
            bar = Rectangle((at - 0.38, below), 0.76, height)
            bar.set(facecolor=look.fill, edgecolor=look.line, hatch=look.hatch, lw=0.5, zorder=2)
            axes.add_patch(bar)
            below += height
    axes.set_xlim(-0.6, len(site.months) - 0.4)
