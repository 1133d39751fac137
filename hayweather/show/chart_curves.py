"""Panels of curves: moistures with the band, temperatures with the freezing line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from hayweather.show.chart_axes import half_width_h, time_axis, unknown_hours
from hayweather.show.chart_labels import name_curves, write_in_room
from hayweather.show.chart_readings import draw_readings
from hayweather.show.chart_scene import Curve, Scene
from hayweather.show.colors import (
    BAND,
    BAND_EDGE,
    LINE_LOOKS,
    PALE_INK,
    PAPER,
    SPREAD,
    WATER,
    WATERMARK,
)
from hayweather.units import to_shown

MOISTURE_TOP_WB = 20.0  # the scale reaches at least this far
MOISTURE_ROOM = 1.08
FREE_WATER_PART = 0.06  # of the panel's height
FREEZING_C = 0.0
FALLBACK_C = (0.0, 30.0)  # scale of a panel without one known temperature


def draw_curves(axes: Axes, curves: Sequence[Curve]) -> None:
    """Draw every curve in its own color, dashes and width."""
    for curve in curves:
        look = LINE_LOOKS[curve.name]
        axes.plot(
            curve.at,
            curve.values,
            color=look.color,
            linewidth=look.width_pt,
            linestyle=(0, look.dashes) if look.dashes else "-",
            label=curve.name,
            zorder=3,
        )


def draw_moisture(axes: Axes, scene: Scene) -> None:
    """Leaf, stem and windrow with the band, the leaf minimum and free water."""
    time_axis(axes, scene)
    curves, band = scene.moistures(), scene.outlook.setting.band
    spread = scene.windrow_range()
    ends = [limits(curves, (0.0, 0.0))[1], 0.0 if spread is None else np.nan_to_num(spread).max()]
    ends += [point.value + point.error for point in scene.points()]
    top = max(MOISTURE_TOP_WB, band.high_wb, *ends) * MOISTURE_ROOM
    axes.set_ylim(0.0, top)
    axes.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    axes.axhspan(band.low_wb, band.high_wb, facecolor=BAND, edgecolor="none", zorder=0.5)
    for limit in (band.low_wb, band.high_wb):
        axes.axhline(limit, color=BAND_EDGE, linewidth=0.8, zorder=0.6)
    if spread is not None:
        area = axes.fill_between(scene.edges, spread[0], spread[1], zorder=1, label="spread")
        area.set(facecolor=SPREAD, edgecolor="none", alpha=0.3)
    draw_curves(axes, curves)
    draw_readings(axes, scene)
    _free_water(axes, scene)
    unknown_hours(axes, scene, scene.no_call())
    unknown_hours(axes, scene, scene.not_followed(), "chart_still_drying")
    _name_limits(axes, scene, curves)
    name_curves(axes, curves, scene.look)
    if scene.look.invented:
        _watermark(axes, scene)


def _name_limits(axes: Axes, scene: Scene, curves: Sequence[Curve]) -> None:
    """Write the band's name inside it, and draw a leaf minimum that is not its bottom."""
    band, voice = scene.outlook.setting.band, scene.voice
    words = voice.say("chart_band", low=f"{band.low_wb:g}", high=f"{band.high_wb:g}")
    write_in_room(axes, scene, curves, words, (band.low_wb + band.high_wb) / 2, BAND_EDGE)
    leaf = band.leaf_minimum_wb
    if leaf is not None and leaf != band.low_wb:
        color = LINE_LOOKS["leaf"].color
        axes.axhline(leaf, color=color, linewidth=0.9, linestyle=(0, (2, 3)), zorder=0.7)
        words = voice.say("chart_leaf_minimum", limit=f"{leaf:g}")
        write_in_room(axes, scene, curves, words, leaf, color)


def _free_water(axes: Axes, scene: Scene) -> None:
    """Bars at the foot of the panel where free water stands on the hay."""
    word, across = scene.voice.say("chart_free_water"), axes.get_xaxis_transform()
    half, last = half_width_h(word, scene), -np.inf
    for first, past in scene.free_water():
        bar = Rectangle((first, 0.0), past - first, FREE_WATER_PART, transform=across)
        bar.set(facecolor=PAPER, edgecolor=WATER, hatch="....", linewidth=0.9, zorder=2)
        bar.set_label("free water")
        axes.add_patch(bar)
        middle = min(max((first + past) / 2, half), scene.clock.hours - half)
        if middle - half > last:
            place = (middle, FREE_WATER_PART + 0.02)
            name = axes.text(*place, word, transform=across, color=WATER, zorder=4)
            name.set(size=scene.look.size_pt, ha="center", va="bottom")
            last = middle + half


def _watermark(axes: Axes, scene: Scene) -> None:
    """Say across the panel that the sample is invented, so that a cutting says it too."""
    axes.text(
        0.5,
        0.9,
        scene.voice.say("chart_watermark"),
        transform=axes.transAxes,
        size=1.8 * scene.look.size_pt,
        color=WATERMARK,
        weight="bold",
        ha="center",
        va="center",
        zorder=0.9,
    )


def draw_temperature(axes: Axes, scene: Scene) -> None:
    """Air, dew point and top of the hay; the freezing line where it is near."""
    time_axis(axes, scene)
    curves, units = scene.temperatures(), scene.look.units
    cold, warm = (float(to_shown(value, "temperature", units)) for value in FALLBACK_C)
    low, high = limits(curves, (cold, warm))
    air = max((high - low) * 0.06, 1.0)
    axes.set_ylim(low - air, high + air)
    axes.yaxis.set_major_locator(MaxNLocator(5, integer=True))
    freezing = float(to_shown(FREEZING_C, "temperature", units))
    surfaces = [curve for curve in curves if curve.name != "dew_point"]
    if limits(surfaces, (cold, warm))[0] - air < freezing < high + air:
        axes.axhline(freezing, color=PALE_INK, linewidth=0.9, linestyle=(0, (6, 3)), zorder=1)
        words = scene.voice.say("chart_freezing")
        write_in_room(axes, scene, curves, words, freezing, PALE_INK)
    draw_curves(axes, curves)
    unknown_hours(axes, scene, scene.no_weather())
    name_curves(axes, curves, scene.look)


def limits(curves: Sequence[Curve], fallback: tuple[float, float]) -> tuple[float, float]:
    """Least and largest known value of some curves."""
    known = np.concatenate([curve.values[np.isfinite(curve.values)] for curve in curves])
    return (float(known.min()), float(known.max())) if known.size else fallback
