"""A calendar of nights: date across, hour up, the call as color and pattern."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from numpy.typing import NDArray

from hayweather.baling.calls import Call
from hayweather.baling.clock import turn_of
from hayweather.baling.windows import stretches
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.results import SiteSeasons
from hayweather.show.chart_look import Look
from hayweather.show.chart_sheet import Block, Place, gap
from hayweather.show.colors import CALL_LOOKS, INK, PAPER
from hayweather.show.season_chart_parts import KeyEntry, key_block, plain_axes, season_sheet
from hayweather.show.season_phrases import clock_after
from hayweather.show.voice import Voice
from hayweather.weather.record import Times
from hayweather.windrow.sky import sun_elevation

HEIGHT_IN = 3.6
RAIN_IN = 0.12
HOUR_TICKS = (0, 4, 10, 16, 22)  # 14:00, 18:00, midnight, 06:00, noon
MINUTES = 10
MONTHS_WITH_DAYS = 2
DAYS_NAMED = (1, 8, 15, 22, 29)
CALLS = (
    Call.NATURAL_DEW,
    Call.ADD_MOISTURE,
    Call.TOO_DRY,
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
        Block(HEIGHT_IN, lambda place: _calendar(place.axes("calendar"), site, nights, voice)),
        gap(0.42),
        key_block(key, look),
    ]
    notes = [voice.say("seasons_chart_sun"), voice.say("seasons_chart_stops")]
    if not site.rain_known:
        notes.append(voice.say("seasons_rain_unknown"))
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
