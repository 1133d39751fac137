"""Names beside curves and limits, placed so that none hides another."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes

from hayweather.show.chart_axes import half_width_h, height_in
from hayweather.show.chart_look import Look, line_width_in, text_size_in
from hayweather.show.chart_scene import Curve, Scene
from hayweather.show.colors import LINE_LOOKS, PAPER
from hayweather.words import say

END_GAP_IN = 0.06
ROOM_H = 0.2  # air at both sides of a label


def name_curves(axes: Axes, curves: Sequence[Curve], look: Look) -> None:
    """Write the name of every curve right of the axes, moved apart where they would touch."""
    ends = {curve.name: _end(curve) for curve in curves if np.isfinite(curve.values).any()}
    names = sorted(ends, key=lambda name: ends[name][1])
    texts = [_in_margin(say(f"chart_line_{name}", look.language), look) for name in names]
    low, high = axes.get_ylim()
    inch = (high - low) / height_in(axes)
    heights = [text_size_in(text, look.size_pt)[1] * inch for text in texts]
    middles = spread_out([ends[name][1] for name in names], heights, low, high)
    for name, text, middle in zip(names, texts, middles, strict=True):
        _name_at(axes, text, ends[name], middle, name, look)


def _end(curve: Curve) -> tuple[float, float]:
    """Position and value of the last known point."""
    last = int(np.flatnonzero(np.isfinite(curve.values))[-1])
    return float(curve.at[last]), float(curve.values[last])


def _in_margin(text: str, look: Look) -> str:
    """A name in as many lines as the right margin needs."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and line_width_in(joined, look.size_pt) <= look.right_in - 3 * END_GAP_IN:
            lines[-1] = joined
        else:
            lines.append(word)
    return "\n".join(lines)


def _name_at(
    axes: Axes, text: str, end: tuple[float, float], middle: float, name: str, look: Look
) -> None:
    """A name right of the axes, with a thin line from the curve's end to it."""
    hours, color = axes.get_xlim()[1], LINE_LOOKS[name].color
    edge = hours * (1.0 + END_GAP_IN / look.axes_in)
    (line,) = axes.plot((end[0], hours, edge), (end[1], end[1], middle), color=color, lw=0.8)
    line.set(clip_on=False, label="name line")
    axes.text(
        hours * (1.0 + 1.4 * END_GAP_IN / look.axes_in),
        middle,
        text,
        size=look.size_pt,
        color=color,
        va="center",
        linespacing=1.05,
    )
    axes.set_xlim(0.0, hours)


def spread_out(
    wanted: Sequence[float], heights: Sequence[float], low: float, high: float
) -> list[float]:
    """Middles of labels moved apart so that none overlap, as near as can be to `wanted`.

    Parameters
    ----------
    wanted
        Middles in rising order.
    heights
        Height of each label, same unit.
    low, high
        Limits; where not all fit the lowest go below.

    Examples
    --------
    >>> spread_out([1.0, 1.0, 9.5], [2.0, 2.0, 2.0], 0.0, 10.0)
    [1.0, 3.0, 9.0]
    """
    middles, floor = [], low
    for want, height in zip(wanted, heights, strict=True):
        middles.append(max(want, floor + height / 2))
        floor = middles[-1] + height / 2
    ceiling = high
    for index in reversed(range(len(middles))):
        middles[index] = min(middles[index], ceiling - heights[index] / 2)
        ceiling = middles[index] - heights[index] / 2
    return middles


def write_in_room(
    axes: Axes, scene: Scene, curves: Sequence[Curve], text: str, level: float, color: str
) -> None:
    """Write a text at a level where the curves are farthest from it."""
    half = half_width_h(text, scene) + ROOM_H
    low, high = axes.get_ylim()
    tall = text_size_in(text, scene.look.size_pt)[1] / height_in(axes) * (high - low)
    axes.text(
        roomiest(curves, level, half, scene.clock.hours),
        min(max(level, low + 0.7 * tall), high - 0.7 * tall),
        text,
        size=scene.look.size_pt,
        color=color,
        ha="center",
        va="center",
        zorder=2.5,
        bbox={"facecolor": PAPER, "alpha": 0.75, "edgecolor": "none", "pad": 1.0},
    )


def roomiest(curves: Sequence[Curve], level: float, half: float, hours: float) -> float:
    """Position [h] of a label of half width `half` with the most room to all curves.

    Where curves are unknown there is no room: words there would hide the hatching.
    """
    centers = np.arange(half, max(hours - half, half) + 0.125, 0.25)

    def room(center: float) -> float:
        near = [curve.values[np.abs(curve.at - center) <= half] for curve in curves]
        gaps = [np.abs(values - level).min(initial=np.inf) for values in near]
        return float(np.nan_to_num(min(gaps), nan=-1.0))

    return float(max(centers, key=room))
