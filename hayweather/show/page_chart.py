"""The chart of a page, measured in parts of its width, so that it fits every screen."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import Call
from hayweather.nights import FieldNight
from hayweather.show.chart_clock import QUARTER_H, Clock
from hayweather.show.page_colors import CURVES
from hayweather.show.page_windows import window_lines
from hayweather.show.voice import Voice
from hayweather.weather.record import Floats

TICK_HOURS = 6
LABEL_ROOM = 6.0  # percent of the width that half a label takes on a telephone
SCALE_TOP_WB = 20.0  # the scale of moisture reaches at least this far
SCALE_MOST_WB = 30.0  # and at most this far; wetter curves leave it, so that the band stays wide
SCALE_ROOM = 1.08


@dataclass(frozen=True)
class Part:
    """A stretch of the chart in percent of its width, with what stands in it."""

    left: float
    width: float
    name: str = ""


@dataclass(frozen=True)
class Level:
    """A height in percent from the top of the panel of moistures, with its label."""

    top: float
    label: str


@dataclass(frozen=True)
class PageChart:
    """What the chart of one field shows.

    Attributes
    ----------
    calls
        Runs of one call; the name is the call's word.
    kinds
        The call of each run.
    stops, dark, days
        Where work stops, from sunset to sunrise, local dates.
    ticks
        Hours of the clock.
    band
        Upper and lower end of the band.
    curves
        By name: lists of points ``x,y`` in percent, one list a part without gaps.
    summary
        What the chart shows in words.
    """

    calls: tuple[Part, ...]
    kinds: tuple[Call, ...]
    stops: tuple[Part, ...]
    dark: tuple[Part, ...]
    days: tuple[Part, ...]
    ticks: tuple[Part, ...]
    band: tuple[Level, Level]
    curves: dict[str, list[str]]
    summary: str


def page_chart(field: FieldNight, voice: Voice) -> PageChart:
    """The chart of one field's forecast as it stands."""
    weather, site = field.shown.weather, field.setting.site
    clock = Clock(weather.start[0], weather.hours, voice)
    runs = _runs(field)
    stops = [run for run in runs if run[3]]
    ticks = [_part(at, at, clock, clock.text(at)) for at in clock.ticks(TICK_HOURS)]
    top = _scale_top(field)
    return PageChart(
        calls=tuple(_part(first, past, clock, voice.call(call)) for first, past, call, _ in runs),
        kinds=tuple(call for _, _, call, _ in runs),
        stops=tuple(_part(first, past, clock) for first, past, _, _ in stops),
        dark=tuple(_part(*one, clock) for one in clock.dark(site.latitude, site.longitude)),
        days=tuple(_part(*stretch, clock, voice.date(day)) for stretch, day in clock.days()),
        ticks=tuple(tick for tick in ticks if LABEL_ROOM <= tick.left <= 100 - LABEL_ROOM),
        band=_band(field, top, voice),
        curves=_curves(field, top),
        summary=_summary(field, runs, clock, voice),
    )


def _runs(field: FieldNight) -> list[tuple[float, float, Call, bool]]:
    """First and past hour of every run of one call, and whether work stops there."""
    shown = field.shown
    call, stopped = shown.quarters.call[:, 0], shown.stopped[:, 0]
    new = np.flatnonzero((np.diff(call) != 0) | (np.diff(stopped.astype(np.int8)) != 0)) + 1
    firsts = [0, *(int(index) for index in new)]
    return [
        (first * QUARTER_H, past * QUARTER_H, Call(int(call[first])), bool(stopped[first]))
        for first, past in zip(firsts, [*firsts[1:], call.size], strict=True)
    ]


def _part(first: float, past: float, clock: Clock, name: str = "") -> Part:
    """Hours as percent of the width."""
    scale = 100 / clock.hours
    return Part(round(first * scale, 3), round((past - first) * scale, 3), name)


def _moistures(field: FieldNight) -> dict[str, Floats]:
    """Moisture at every quarter hour [% wet basis]."""
    run = field.shown.trajectory
    named = {"windrow": run.windrow_wb, "leaf": run.leaf_wb, "stem": run.stem_wb}
    return {name: named[name][:, 0] for name in CURVES}


def _scale_top(field: FieldNight) -> float:
    """Upper end of the scale of moistures [% wet basis]."""
    known = [values[np.isfinite(values)] for values in _moistures(field).values()]
    highest = max((float(values.max()) for values in known if values.size), default=0.0)
    least = max(SCALE_TOP_WB, field.setting.band.high_wb)
    return max(least, min(highest, SCALE_MOST_WB)) * SCALE_ROOM


def _band(field: FieldNight, top: float, voice: Voice) -> tuple[Level, Level]:
    """Upper and lower end of the band."""
    band = field.setting.band
    high, low = (
        Level(round(100 * (1 - value / top), 2), voice.amount(value, "percent"))
        for value in (band.high_wb, band.low_wb)
    )
    return high, low


def _curves(field: FieldNight, top: float) -> dict[str, list[str]]:
    """Points of the curves, parted where a value is not known."""
    return {name: _points(values, top) for name, values in _moistures(field).items()}


def _points(values: Floats, top: float) -> list[str]:
    """Points of one curve, one list a part without gaps."""
    parts: list[list[str]] = [[]]
    for index, value in enumerate(values):
        if np.isfinite(value):
            along, down = 100 * index / (values.size - 1), 100 * (1 - value / top)
            parts[-1].append(f"{along:.2f},{down:.2f}")
        elif parts[-1]:
            parts.append([])
    return [" ".join(part) for part in parts if len(part) > 1]


def _summary(
    field: FieldNight, runs: list[tuple[float, float, Call, bool]], clock: Clock, voice: Voice
) -> str:
    """What the chart shows, for those who cannot see it."""
    said = []
    for first, _, call, stopped in runs:
        word = voice.call(call)
        if stopped:
            word = voice.say("chart_described_stop", call=word)
        start = voice.when(clock.time(first))
        said.append(voice.say("chart_described_call", start=start, call=word))
    start = voice.when(clock.start)
    described = voice.say("chart_described", start=start, calls="; ".join(said))
    return " ".join([*(f"{line}." for _, line in window_lines(field.windows, voice)), described])
