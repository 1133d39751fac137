"""Panels of steps and bars: chances, water to add, rain."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from hayweather.baling.calls import Call
from hayweather.show.chart_axes import half_width_h, time_axis, unknown_hours
from hayweather.show.chart_scene import Scene
from hayweather.show.colors import CALL_LOOKS, INK, WATER
from hayweather.units import QUANTITIES
from hayweather.weather.record import Floats
from hayweather.windrow.trajectory import QUARTERS

WATER_HEADROOM = 1.4
RAIN_HEADROOM = 1.9
STACKED = (
    Call.NATURAL_DEW,
    Call.ADD_MOISTURE,
    Call.TOO_DRY,
    Call.NOT_CURED,
    Call.TOO_WET,
    Call.NO_DATA,
)


def draw_chances(axes: Axes, scene: Scene) -> None:
    """Chance of every call in each quarter, one upon the other, natural dew at the foot."""
    time_axis(axes, scene)
    axes.set_ylim(0.0, 100.0)
    axes.set_yticks([0, 50, 100])
    chances = scene.chances()
    if chances is None:
        return
    foot: Floats = np.zeros(chances.shape[1])
    for call in STACKED:
        look, top = CALL_LOOKS[call], foot + chances[call]
        if chances[call].any():
            edges = (np.append(foot, foot[-1]), np.append(top, top[-1]))
            area = axes.fill_between(scene.edges, *edges, step="post", zorder=2, label=call.word)
            area.set(facecolor=look.fill, edgecolor=look.line, hatch=look.hatch, linewidth=0.4)
        foot = top


def draw_water(axes: Axes, scene: Scene) -> None:
    """Water to add as steps, only where hay can be baled with it; ends written out."""
    time_axis(axes, scene)
    values = scene.water()
    axes.stairs(values, scene.edges, baseline=0.0, fill=True, color=WATER, alpha=0.25, zorder=2)
    axes.stairs(values, scene.edges, baseline=None, color=WATER, linewidth=1.6, zorder=3)
    axes.set_ylim(0.0, WATER_HEADROOM * float(np.nanmax(values)))
    axes.yaxis.set_major_locator(MaxNLocator(3, integer=True))
    for segment in scene.segments:
        rows = slice(round(QUARTERS * segment.first), round(QUARTERS * segment.past))
        if np.isfinite(values[rows]).all():
            _write_ends(axes, scene, values[rows], (segment.first, segment.past))
    unknown_hours(axes, scene, scene.no_call())


def _write_ends(axes: Axes, scene: Scene, block: Floats, stretch: tuple[float, float]) -> None:
    """The amounts at both ends of a window, above the steps they span, where both fit."""
    texts = [_number(value, "water_rate", scene) for value in (block[0], block[-1])]
    widths = [2 * half_width_h(text, scene) for text in texts]
    if sum(widths) + 1.0 > stretch[1] - stretch[0]:
        return
    spans = [int(np.ceil(QUARTERS * width)) for width in widths]
    tops = (block[: spans[0]].max(), block[-spans[1] :].max())
    for text, at, top, side in zip(texts, stretch, tops, ("left", "right"), strict=True):
        axes.annotate(
            text,
            (at, top),
            xytext=(0.0, 2.5),
            textcoords="offset points",
            size=scene.look.size_pt,
            color=INK,
            ha=side,
            va="bottom",
            zorder=5,
        )


def draw_rain(axes: Axes, scene: Scene) -> None:
    """Rain of every hour as bars, the largest with its amount."""
    time_axis(axes, scene)
    rain = scene.rain()
    values = np.zeros(scene.clock.hours) if rain is None else np.nan_to_num(rain)
    most = int(values.argmax())
    axes.set_ylim(0.0, max(RAIN_HEADROOM * values[most], 1e-6))
    axes.set_yticks([0.0])
    hours = np.flatnonzero(values > 0)
    if hours.size:
        axes.bar(hours + 0.5, values[hours], 0.9, color=WATER, edgecolor=INK, lw=0.5, zorder=3)
        text, place = _number(values[most], "rain", scene), (most + 0.5, values[most])
        half = half_width_h(text, scene)
        place = (min(max(place[0], half), scene.clock.hours - half), place[1])
        axes.text(*place, text, size=scene.look.size_pt, color=INK, ha="center", va="bottom")
    unknown_hours(axes, scene, scene.no_rain_known())


def _number(shown: float, quantity: str, scene: Scene) -> str:
    """A value that is already in shown units, with the digits people read."""
    us_digits, metric_digits = QUANTITIES[quantity].decimals
    return f"{shown:.{us_digits if scene.look.units == 'us' else metric_digits}f}"
