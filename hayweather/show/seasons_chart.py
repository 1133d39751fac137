"""Pictures of seasons: calendars, months, sites, break-even, and the map of a grid.

Data in, figures out; importing this module loads matplotlib, so it is imported
where pictures are asked for.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import BoundaryNorm, ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from hayweather.baling.calls import Call
from hayweather.baling.clock import turn_of
from hayweather.baling.windows import stretches
from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.grid import GridSeasons
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.results import Pays, Seasons, SiteSeasons
from hayweather.show.chart_look import (
    SWATCH_IN,
    Block,
    Look,
    Place,
    TextStyle,
    gap,
    sheet,
    text_block,
    text_size_in,
)
from hayweather.show.colors import (
    CALL_LOOKS,
    GRID,
    INK,
    LINE_LOOKS,
    PALE_INK,
    PAPER,
    CallLook,
    oklch,
)
from hayweather.show.grid import (
    cell_sentences,
    grid_counting,
    grid_rests_on,
    grid_title,
    grid_voice,
    latitude_text,
    longitude_text,
)
from hayweather.show.seasons_first import counted_nights
from hayweather.show.seasons_words import (
    clock_after,
    grouped,
    rain_note,
    season_voice,
    site_title,
)
from hayweather.show.voice import Voice, money_by_ton, money_text
from hayweather.units import SHORT_TON_KG, symbol_of, to_shown
from hayweather.weather.record import Floats, Times
from hayweather.windrow.sky import sun_elevation
from hayweather.words import say

GAP_IN = 0.16
WORD_IN = 0.06


@dataclass(frozen=True)
class KeyEntry:
    """A pattern and its word."""

    look: CallLook
    word: str


def plain_axes(axes: Axes, look: Look, *, grid: str = "y") -> Axes:
    """Quiet axes: no frame above and right, a pale grid, letters of the sheet's size."""
    axes.set_axisbelow(True)
    axes.grid(axis=grid, color=GRID, linewidth=0.6)  # type: ignore[arg-type]
    axes.tick_params(labelsize=look.size_pt, colors=INK, length=3, width=0.6)
    for name in ("top", "right"):
        axes.spines[name].set_visible(False)
    return axes


def key_block(entries: Sequence[KeyEntry], look: Look) -> Block:
    """Patterns and words side by side, in as many lines as needed."""
    places: list[tuple[KeyEntry, float, int]] = []
    at, row = 0.0, 0
    for entry in entries:
        width = SWATCH_IN + WORD_IN + text_size_in(entry.word, look.size_pt)[0]
        if at and at + width > look.axes_in:
            at, row = 0.0, row + 1
        places.append((entry, at, row))
        at += width + GAP_IN

    def draw(place: Place) -> None:
        axes = place.axes("key")
        axes.set_axis_off()
        axes.set_xlim(0.0, look.axes_in)
        axes.set_ylim(row + 1, 0.0)
        for entry, left, line in places:
            axes.add_patch(_swatch(entry.look, left, line))
            x = left + SWATCH_IN + WORD_IN
            axes.text(x, line + 0.5, entry.word, size=look.size_pt, color=INK, va="center_baseline")

    return Block(0.2 * (row + 1), draw)


def _swatch(look: CallLook, left: float, line: int) -> Rectangle:
    """A piece of a pattern."""
    box = Rectangle((left, line + 0.12), SWATCH_IN, 0.76)
    box.set(facecolor=look.fill, edgecolor=look.line, hatch=look.hatch, linewidth=0.7)
    return box


def season_sheet(title: str, blocks: Sequence[Block], notes: Sequence[str], look: Look) -> Figure:
    """A figure with a title, some blocks and notes at its foot."""
    small = TextStyle(look.small_pt, color=PALE_INK)
    foot = [*notes, say("chart_safety", look.language)]
    banner = TextStyle(look.size_pt, "bold", PAPER, INK)
    words = say("seasons_invented", look.language)
    parts = [
        *([text_block(words, look, banner), gap(0.08)] if look.invented else []),
        text_block(title, look, TextStyle(look.title_pt, "bold")),
        *blocks,
        gap(0.08),
        *(text_block(note, look, small) for note in foot),
    ]
    figure = sheet(parts, look)
    figure.set_label("\n".join([title, *notes]))
    return figure


def part_axes(place: Place, index: int, count: int, gap_in: float, label: str) -> Axes:
    """One of `count` axes side by side in a block."""
    look = place.look
    width_in = (look.axes_in - gap_in * (count - 1)) / count
    left_in = look.left_in + index * (width_in + gap_in)
    foot = place.up(place.height_in)
    box = (place.across(left_in), foot, place.across(width_in), place.up(0.0) - foot)
    return place.figure.add_axes(box, label=label)


CALENDAR_HEIGHT_IN = 3.6
RAIN_IN = 0.12
HOUR_TICKS = (0, 4, 10, 16, 22)  # 14:00, 18:00, midnight, 06:00, noon
MINUTES = 10
MONTHS_WITH_DAYS = 2
DAYS_NAMED = (1, 8, 15, 22, 29)
CALLS = (
    Call.NATURAL_DEW,
    Call.READY,
    Call.ADD_MOISTURE,
    Call.TOO_DRY,
    Call.DAMP_BELOW,
    Call.TOO_WET,
    Call.NOT_CURED,
    Call.NO_DATA,
)


def calendar_figure(site: SiteSeasons, year: int | None, look: Look, voice: Voice) -> Figure:
    """The nights of one year of a site; `year` None for a typical year."""
    nights = site.nights if year is None else site.nights.only(site.nights.year == year)
    shown = voice.say("seasons_typical") if year is None else str(year)
    title = voice.say("seasons_chart_calendar", site=site.site.name, year=shown)
    used = [call for call in CALLS if (nights.hours == call).any()]
    key = [KeyEntry(CALL_LOOKS[call], voice.call(call)) for call in used]
    blocks = [
        gap(0.1),
        Block(RAIN_IN, lambda place: _rain(place, nights, voice)),
        Block(
            CALENDAR_HEIGHT_IN, lambda place: _calendar(place.axes("calendar"), site, nights, voice)
        ),
        gap(0.42),
        key_block(key, look),
    ]
    notes = [voice.say("seasons_chart_sun"), voice.say("seasons_chart_stops")]
    if (rain := rain_note(site, voice)) is not None:
        notes.append(rain)
    return season_sheet(title, blocks, notes, look)


def _calendar(axes: Axes, site: SiteSeasons, nights: Nights, voice: Voice) -> None:
    """The calendar itself with sunset and sunrise."""
    plain_axes(axes, Look(voice.units, voice.language), grid="x")
    days = nights.evening.astype(np.int64)
    first, last = int(days.min()), int(days.max())
    axes.set_xlim(first - 0.5, last + 0.5)
    axes.set_ylim(0, 24)
    for call in CALLS:
        _draw_call(axes, call, nights.hours, days)
    _sun_lines(axes, site, nights, days)
    axes.set_yticks(HOUR_TICKS, [clock_after(hour, voice, words=True) for hour in HOUR_TICKS])
    _month_ticks(axes, nights, voice)


def _draw_call(axes: Axes, call: Call, hours: NDArray[np.int8], days: NDArray[np.int64]) -> None:
    """All hours of one call as one shape, so that its pattern goes through."""
    vertices: list[tuple[float, float]] = []
    codes: list[np.uint8] = []
    for day, column in zip(days, hours, strict=True):
        for begin, past in stretches(column == call):
            left, right = day - 0.5, day + 0.5
            vertices += [(left, begin), (right, begin), (right, past), (left, past), (left, begin)]
            codes += [Path.MOVETO, Path.LINETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY]
    if not vertices:
        return
    look = CALL_LOOKS[call]
    patch = PathPatch(Path(vertices, codes), label=call.word)
    patch.set(facecolor=look.fill, edgecolor=look.line, hatch=look.hatch, linewidth=0.0, zorder=2)
    axes.add_patch(patch)


def _sun_lines(axes: Axes, site: SiteSeasons, nights: Nights, days: NDArray[np.int64]) -> None:
    """Sunset and sunrise."""
    sets, rises = sun_hours(site, nights)
    for hours in (sets, rises):
        for color, width in ((PAPER, 2.6), (INK, 1.1)):
            axes.plot(days, hours, color=color, linewidth=width, zorder=4, solid_capstyle="butt")


def sun_hours(site: SiteSeasons, nights: Nights) -> tuple[np.ndarray, np.ndarray]:
    """Sunset and sunrise of each night [h after 14:00 local], NaN where there is none."""
    zone, steps = str(site.site.timezone), np.arange(24 * 60 // MINUTES + 1)
    turns = [turn_of(day, zone) for day in nights.evening.tolist()]
    start = np.array(turns, dtype="datetime64[s]")
    times: Times = start + (60 * MINUTES * steps[:, None]).astype("timedelta64[s]")
    up = sun_elevation(times, site.site.latitude, site.site.longitude) > 0
    found = []
    for change in (up[:-1] & ~up[1:], ~up[:-1] & up[1:]):
        hours = (change.argmax(axis=0) + 1) * MINUTES / 60
        found.append(np.where(change.any(axis=0), hours, np.nan))
    return found[0], found[1]


def _month_ticks(axes: Axes, nights: Nights, voice: Voice) -> None:
    """Months at their first day, names in their middle; days too where months are few."""
    months = np.unique(nights.evening.astype("datetime64[M]"))
    edges = months.astype("datetime64[D]").astype(np.int64) - 0.5
    ends = (months + np.timedelta64(1, "M")).astype("datetime64[D]").astype(np.int64) - 0.5
    axes.set_xticks([*edges, ends[-1]], [""] * (len(months) + 1))
    days = len(months) <= MONTHS_WITH_DAYS
    if days:
        _day_ticks(axes, nights)
    for month, left, right in zip(months, edges, ends, strict=True):
        number = int(month.astype(np.int64)) % 12 + 1
        axes.annotate(
            voice.say(f"seasons_month_short_{number}"),
            ((left + right) / 2, 0.0),
            xycoords=("data", "axes fraction"),
            xytext=(0.0, -26.0 if days else -14.0),
            textcoords="offset points",
            ha="center",
            color=INK,
            size=Look().size_pt,
        )


def _day_ticks(axes: Axes, nights: Nights) -> None:
    """The first evening of each week of a month by its number."""
    evenings = [day for day in nights.evening.tolist() if day.day in DAYS_NAMED]
    places = np.array(evenings, dtype="datetime64[D]").astype(np.int64)
    axes.set_xticks(places, [str(day.day) for day in evenings], minor=True)
    axes.tick_params(axis="x", which="minor", labelsize=Look().small_pt, colors=INK, length=3)


def _rain(place: Place, nights: Nights, voice: Voice) -> None:
    """A mark above every rain night."""
    axes = place.axes("rain nights")
    axes.set_axis_off()
    days = nights.evening.astype(np.int64)
    axes.set_xlim(days.min() - 0.5, days.max() + 0.5)
    axes.set_ylim(0, 1)
    wet = days[nights.rain_night]
    if wet.size:
        axes.plot(wet, np.full(wet.size, 0.45), "v", color=INK, markersize=2.6, linestyle="none")
        word = voice.say("seasons_chart_rain_nights")
        axes.annotate(
            f"▼ {word}",
            (1.0, 1.0),
            xycoords="axes fraction",
            ha="right",
            va="bottom",
            color=INK,
            size=Look().small_pt,
        )


FAN_HEIGHT_IN = 3.8
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
        axes.xaxis.set_major_formatter(lambda tons, _: grouped(f"{tons:.0f}", voice))
        unit = symbol_of("tons", voice.units)
        axes.set_xlabel(voice.say("seasons_chart_fan_x", unit=unit), size=look.size_pt, color=INK)
        axes.legend(loc="upper left", fontsize=look.size_pt, frameon=True, framealpha=0.9)

    title = voice.say("seasons_chart_fan")
    blocks = [gap(0.12), Block(FAN_HEIGHT_IN, into), gap(0.5)]
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
    if (rain := rain_note(site, voice)) is not None:
        notes.append(rain)
    return season_sheet(title, [*blocks, gap(0.3)], notes, look)


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


MAP_IN = 4.2
LEAST_MAPPED = 3
"""Sites from which on a map tells more than a table."""


def map_figure(sites: Sequence[SiteSeasons], look: Look, voice: Voice) -> Figure:
    """Sites where they lie, colored by nights with usable dew in a hundred."""
    shown = [site for site in sites if site.pooled.counted]
    title = voice.say("seasons_chart_map")
    notes = [voice.say("seasons_chart_map_note")]
    return season_sheet(
        title,
        [gap(0.3), Block(MAP_IN, lambda place: _map(place, shown, voice)), gap(0.45)],
        notes,
        look,
    )


def _map(place: Place, sites: Sequence[SiteSeasons], voice: Voice) -> None:
    """Points with their names and figures on latitude and longitude, true to shape."""
    look = place.look
    axes = plain_axes(place.axes("map"), look, grid="both")
    across = np.array([site.site.longitude for site in sites])
    up = np.array([site.site.latitude for site in sites])
    narrowing = _narrowing(up)
    half = max(np.ptp(across) * narrowing, np.ptp(up), 0.02) * 0.7
    box_in = (look.axes_in, place.height_in)
    wide, high = (half * side / min(box_in) for side in box_in)
    left = (across.min() + across.max()) / 2 - wide / narrowing
    foot = (up.min() + up.max()) / 2 - high
    axes.set_xlim(left, left + 2 * wide / narrowing)
    axes.set_ylim(foot, foot + 2 * high)
    inches = box_in[0] * narrowing / (2 * wide), box_in[1] / (2 * high)
    spots = np.column_stack([(across - left) * inches[0], (up - foot) * inches[1]])
    shares = [100 * site.pooled.with_dew / site.pooled.counted for site in sites]
    texts = [f"{site.site.name} {share:.0f}" for site, share in zip(sites, shares, strict=True)]
    sizes = [text_size_in(text, look.size_pt) for text in texts]
    apart = np.abs(spots[:, None] - spots[None]).max(axis=2)
    under = np.triu(apart < POINT_IN / 2, k=1).sum(axis=1)  # rings where places share a spot
    widths = POINT_IN * (1 + 0.7 * under)
    labels = label_corners(spots, widths, sizes, box_in)
    colors = ListedColormap(step_colors())
    for at, (text, share, (x, y)) in enumerate(zip(texts, shares, labels, strict=True)):
        color = colors(min(int(share) * colors.N // 100, colors.N - 1))
        (point,) = axes.plot(across[at], up[at], "o", markersize=72 * widths[at], color=color)
        point.set(markeredgecolor=INK, markeredgewidth=0.9, zorder=3)
        axes.text(x / box_in[0], y / box_in[1], text, transform=axes.transAxes,
                  size=look.size_pt, color=INK, zorder=4, va="bottom")  # fmt: skip
    axes.xaxis.set_major_locator(MaxNLocator(5))
    axes.yaxis.set_major_locator(MaxNLocator(5))
    axes.xaxis.set_major_formatter(lambda value, _: longitude_text(_round(value), voice))
    axes.yaxis.set_major_formatter(lambda value, _: latitude_text(_round(value), voice))


POINT_IN = 0.15


def label_corners(
    spots: Floats,
    widths: Floats,
    sizes: Sequence[tuple[float, float]],
    box: tuple[float, float],
) -> list[tuple[float, float]]:
    """Lower left corners of labels beside their points, none on another or on a point.

    Parameters
    ----------
    spots
        Points, (count, 2) [in].
    widths
        Of the points, (count,) [in].
    sizes
        Width and height of each label [in].
    box
        Width and height of the picture [in]; a label leaves it only where there
        is no other room.
    """
    points = [
        (x - width / 2, y - width / 2, width, width)
        for (x, y), width in zip(spots.tolist(), widths.tolist(), strict=True)
    ]
    taken: list[tuple[float, float, float, float]] = []
    for (x, y), (width, height) in zip(spots.tolist(), sizes, strict=True):
        first, found = None, None
        beside = max(point[2] for point in points if _meet((x, y, 0.0, 0.0), point)) / 2 + 0.05
        for step in range(2 * len(sizes) + 1):
            rise = (-1) ** step * ((step + 1) // 2) * 1.15 * height - height / 4
            for corner in ((x + beside, y + rise), (x - beside - width, y + rise)):
                label = (*corner, width, height)
                inside = corner[0] >= 0 and corner[0] + width <= box[0]
                inside &= corner[1] >= 0 and corner[1] + height <= box[1]
                if any(_meet(label, other) for other in (*taken, *points)):
                    continue
                first = first or label
                found = found or (label if inside else None)
        chosen = found or first or (x, y, width, height)
        taken.append(chosen)
    return [label[:2] for label in taken]


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    """Whether two boxes, each left, foot, width and height, lie on each other."""
    return (
        one[0] < other[0] + other[2]
        and other[0] < one[0] + one[2]
        and one[1] < other[1] + other[3]
        and other[1] < one[1] + one[3]
    )


def season_figures(
    seasons: Seasons, units: UnitSystem | None = None
) -> Iterator[tuple[str, Callable[[], Figure]]]:
    """Name of each picture and how to draw it, so that one at a time is in memory."""
    voice = season_voice(seasons, units)
    look = Look(voice.units, voice.language, invented=seasons.file.invented)
    if len([site for site in seasons.sites if site.pooled.counted]) >= LEAST_MAPPED:
        yield "map", partial(map_figure, seasons.sites, look, voice)
    names = plain_names([site.site.name for site in seasons.sites])
    for name, site in zip(names, seasons.sites, strict=True):
        shown = [year for year in site.years if not year.left_out]
        for year in shown:
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


def plain_names(names: Sequence[str]) -> list[str]:
    """Names for files, no two alike also where case does not count.

    Examples
    --------
    >>> plain_names(["upper bench", "Upper-bench", "creek"])
    ['upper-bench', 'Upper-bench-2', 'creek']
    """
    found: list[str] = []
    for name in map(plain_name, names):
        number, free = 2, name
        while free.casefold() in (each.casefold() for each in found):
            number, free = number + 1, f"{name}-{number}"
        found.append(free)
    return found


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
    """A map of the nights with usable dew, of all nights counted."""
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
