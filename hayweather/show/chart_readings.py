"""The farm's own moisture readings as points on the panel of moistures."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes

from hayweather.show.chart_axes import height_in
from hayweather.show.chart_labels import spread_out
from hayweather.show.chart_look import text_size_in
from hayweather.show.chart_scene import Point, Scene
from hayweather.show.colors import INK, LINE_LOOKS, PAPER

POINT_PT = 6.0
BAR_PT = 1.1
GAP_IN = 0.08  # between a point at the left edge and its time
LABEL = "reading"


def draw_readings(axes: Axes, scene: Scene) -> None:
    """Every reading as a point in the color of what was read, with the error of the meter.

    Hollow where no forecast run fits. One taken before the chart begins stands at
    its left edge, with its time beside it.
    """
    points = scene.points()
    for point in points:
        color = LINE_LOOKS[point.kind].color
        drawn = axes.errorbar(
            max(point.at, 0.0),
            point.value,
            yerr=point.error,
            fmt="o",
            markersize=POINT_PT,
            color=color,
            markerfacecolor=color if point.fits else PAPER,
            elinewidth=BAR_PT,
            capsize=2.5,
            zorder=3.6,
            label=LABEL,
        )
        for part in (drawn.lines[0], *drawn.lines[1], *drawn.lines[2]):
            part.set_clip_on(False)
    _name_early(axes, scene, sorted((p for p in points if p.at < 0), key=lambda p: p.value))


def _name_early(axes: Axes, scene: Scene, points: Sequence[Point]) -> None:
    """Write the time beside points at the left edge, moved apart where they would touch."""
    size, (low, high) = scene.look.size_pt, axes.get_ylim()
    tall = text_size_in("0", size)[1] / height_in(axes) * (high - low)
    texts = [scene.clock.text(point.at) for point in points]
    wanted = [point.value for point in points]
    middles = spread_out(wanted, [1.3 * tall] * len(points), low, high)
    for text, middle in zip(texts, middles, strict=True):
        axes.text(
            GAP_IN / scene.hour_in,
            middle,
            text,
            size=size,
            color=INK,
            ha="left",
            va="center",
            zorder=3.5,
            bbox={"facecolor": PAPER, "alpha": 0.75, "edgecolor": "none", "pad": 0.5},
        )
