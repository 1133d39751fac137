"""A map of a grid: which share of the nights has usable dew.

Data in, figure out; importing this module loads matplotlib.
"""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from hayweather.baling.calls import Call
from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.grid import GridSeasons
from hayweather.show.chart_look import Look
from hayweather.show.chart_sheet import Block, Place, gap
from hayweather.show.colors import CALL_LOOKS, INK, oklch
from hayweather.show.grid_sentences import (
    cell_sentences,
    grid_counting,
    grid_rests_on,
    grid_title,
    grid_voice,
    latitude_text,
    longitude_text,
)
from hayweather.show.season_chart_parts import KeyEntry, key_block, season_sheet
from hayweather.show.voice import Voice
from hayweather.weather.record import Floats

STEPS_PERCENT = tuple(range(0, 101, 10))
LIGHTEST, DARKEST = 0.95, 0.30
PALEST, STRONGEST = 0.02, 0.115
HUE = 262.0  # of natural dew
LOWEST_IN, HIGHEST_IN = 1.6, 6.0
KEY_IN = 0.42
MOST_TICKS = 6
NO_DATA = CALL_LOOKS[Call.NO_DATA]


def step_colors() -> list[str]:
    """One color a step, from pale to the blue of natural dew: darker is more, in print too."""
    count = len(STEPS_PERCENT) - 1
    shares = [place / (count - 1) for place in range(count)]
    return [
        oklch(
            LIGHTEST + (DARKEST - LIGHTEST) * share, PALEST + (STRONGEST - PALEST) * share**0.6, HUE
        )
        for share in shares
    ]


def grid_map(grid: GridSeasons, units: UnitSystem | None = None) -> Figure:
    """A map of the nights with usable dew, of all nights counted.

    Parameters
    ----------
    grid
        What to show.
    units
        Of the reader; None for the file's.
    """
    voice = grid_voice(grid, units)
    look = Look(voice.units, voice.language, invented=grid.file.invented)
    blocks = [
        gap(0.08),
        Block(_height_in(grid, look), lambda place: _draw(place, grid, voice)),
        gap(0.42),
        Block(KEY_IN, lambda place: _draw_key(place, voice)),
        gap(0.3),
        key_block([KeyEntry(NO_DATA, voice.say("grid_map_blank"))], look),
    ]
    notes = [*cell_sentences(grid, voice), grid_counting(grid, voice)]
    notes += grid_rests_on(grid, voice)
    return season_sheet(grid_title(grid, voice), blocks, notes, look)


def _height_in(grid: GridSeasons, look: Look) -> float:
    """Height of the map, as its degrees have it."""
    latitude, longitude = grid.tallies.latitude, grid.tallies.longitude
    high = max(float(np.ptp(latitude)), 0.1)
    wide = max(float(np.ptp(longitude)), 0.1) * _narrowing(latitude)
    return float(np.clip(look.axes_in * high / wide, LOWEST_IN, HIGHEST_IN))


def _narrowing(latitude: Floats) -> float:
    """How much shorter a degree of longitude is than one of latitude."""
    return max(float(np.cos(np.radians(np.mean(latitude)))), 0.1)


def _draw(place: Place, grid: GridSeasons, voice: Voice) -> None:
    """The cells, what lies between them hatched."""
    look = place.look
    axes = place.axes("map")
    axes.patch.set(facecolor=NO_DATA.fill, edgecolor=NO_DATA.line, hatch=NO_DATA.hatch)
    _cells(axes, grid)
    axes.set_aspect(1 / _narrowing(grid.tallies.latitude), adjustable="box", anchor="W")
    axes.tick_params(labelsize=look.size_pt, colors=INK, length=3, width=0.6)
    axes.locator_params(nbins=MOST_TICKS, steps=[1, 2, 2.5, 5, 10])
    axes.xaxis.set_major_formatter(lambda value, _: longitude_text(_round(value), voice))
    axes.yaxis.set_major_formatter(lambda value, _: latitude_text(_round(value), voice))


def _round(value: float) -> float:
    """Degrees without the dust of arithmetic."""
    return round(value, 6)


def _cells(axes: Axes, grid: GridSeasons) -> None:
    """Every cell in the color of its share; a mesh where the grid is whole, else points."""
    tallies, colors = grid.tallies, ListedColormap(step_colors())
    norm = BoundaryNorm(STEPS_PERCENT, colors.N)
    shares = np.ma.masked_invalid(tallies.dew_night_percent())
    whole = len(grid.shape) == 2 and min(grid.shape) > 1 and not grid.unfinished
    if whole:
        places = [values.reshape(grid.shape) for values in (tallies.longitude, tallies.latitude)]
        order = np.ix_(np.argsort(places[1][:, 0]), np.argsort(places[0][0]))
        x, y, shown = (values[order] for values in (*places, shares.reshape(grid.shape)))
        axes.pcolormesh(x, y, shown, cmap=colors, norm=norm, shading="nearest", rasterized=True)
        return
    known = ~np.ma.getmaskarray(shares)
    x, y = tallies.longitude, tallies.latitude
    axes.scatter(
        x[known], y[known], 60, c=shares[known], marker="s", cmap=colors, norm=norm,
        edgecolors=INK, linewidths=0.5,
    )  # fmt: skip
    axes.scatter(
        x[~known], y[~known], 60, marker="s", facecolors=NO_DATA.fill,
        edgecolors=NO_DATA.line, hatch=NO_DATA.hatch,
    )  # fmt: skip


def _draw_key(place: Place, voice: Voice) -> None:
    """The steps side by side with their limits below, what they measure above."""
    look = place.look
    axes = place.axes("steps")
    axes.set_yticks([])
    axes.set_xlim(STEPS_PERCENT[0], STEPS_PERCENT[-1])
    for left, right, color in zip(STEPS_PERCENT, STEPS_PERCENT[1:], step_colors(), strict=False):
        axes.add_patch(Rectangle((left, 0), right - left, 1, facecolor=color, edgecolor="none"))
    axes.set_xticks(STEPS_PERCENT)
    axes.tick_params(labelsize=look.size_pt, colors=INK, length=3, width=0.6)
    axes.set_title(voice.say("grid_map_key"), loc="left", size=look.size_pt, color=INK, pad=4)
