"""When a rig pays: money a year by hay made good, a line for each gain per ton."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from hayweather.seasons.record.results import Pays, Seasons
from hayweather.show.chart_look import Look
from hayweather.show.chart_sheet import Block, Place, gap
from hayweather.show.colors import INK, LINE_LOOKS, PALE_INK, PAPER
from hayweather.show.season_chart_parts import plain_axes, season_sheet
from hayweather.show.season_phrases import money_by_ton, money_text
from hayweather.show.voice import Voice
from hayweather.units import SHORT_TON_KG, symbol_of, to_shown

HEIGHT_IN = 3.8
GAINS_TON = (5.0, 10.0, 15.0, 20.0, 30.0)  # $ per ton shown, round steps
MARKERS = "oDs^vPX*"
LEAST_AXIS_KG = 1000 * SHORT_TON_KG


def fan_figure(seasons: Seasons, look: Look, voice: Voice) -> Figure:
    """The fan of break-even, each site where its average year lies and how far its years reach."""
    currency = seasons.file.money.currency

    def into(place: Place) -> None:
        axes = plain_axes(place.axes("break even"), look, grid="both")
        top = _lines(axes, seasons, look, voice)
        _sites(axes, seasons.pays, voice)
        axes.axhline(0.0, color=INK, linewidth=1.2, zorder=2)
        axes.set_xlim(0, top)
        ticks = axes.get_yticks()
        axes.set_yticks(ticks, [money_text(tick, voice, currency) for tick in ticks])
        unit = symbol_of("tons", voice.units)
        axes.set_xlabel(voice.say("seasons_chart_fan_x", unit=unit), size=look.size_pt, color=INK)
        axes.legend(loc="upper left", fontsize=look.size_pt, frameon=True, framealpha=0.9)

    title = voice.say("seasons_chart_fan")
    blocks = [gap(0.12), Block(HEIGHT_IN, into), gap(0.5)]
    lines = voice.say("seasons_chart_fan_lines")
    own = seasons.file.work.gain_per_kg is not None
    notes = [lines, voice.say("seasons_pays_gain_own" if own else "seasons_pays_gain_leaf")]
    return season_sheet(title, blocks, notes, look)


def _lines(axes: Axes, seasons: Seasons, look: Look, voice: Voice) -> float:
    """A line for each gain at the mean running cost; the right end of the axis."""
    pays = seasons.pays
    fixed = pays[0].fixed
    variable = float(np.mean([item.variable_t for item in pays]))
    top_kg = max(2 * seasons.file.work.year_kg, LEAST_AXIS_KG)
    top = float(to_shown(top_kg, "tons", voice.units))
    steps = [gain * 1000 / (SHORT_TON_KG if voice.units == "us" else 1000) for gain in GAINS_TON]
    line = LINE_LOOKS["windrow"]
    for gain in steps:
        end = top_kg / 1000 * (gain - variable) - fixed
        axes.plot([0, top], [-fixed, end], color=line.color, linewidth=1.1, zorder=1.5)
        axes.annotate(
            money_by_ton(gain, voice, seasons.file.money.currency),
            (top, end),
            xytext=(4, 0),
            textcoords="offset points",
            size=look.small_pt,
            color=PALE_INK,
            va="center",
            annotation_clip=False,
        )
    return top


def _sites(axes: Axes, pays: Sequence[Pays], voice: Voice) -> None:
    """Each site's average year, with the range of its years."""
    for number, item in enumerate(pays):
        x = to_shown(item.good_kg, "tons", voice.units)
        if len(item.years) > 1:
            years = sorted(item.years, key=lambda year: year.good_kg)
            ends = [float(to_shown(year.good_kg, "tons", voice.units)) for year in years]
            nets = [year.net for year in years]
            axes.plot(ends, nets, color=INK, linewidth=2.0, zorder=3)
        axes.plot(
            [x],
            [item.net],
            MARKERS[number % len(MARKERS)],
            color=PAPER,
            markeredgecolor=INK,
            markersize=7,
            linestyle="none",
            label=item.site,
            zorder=4,
            clip_on=False,
        )
