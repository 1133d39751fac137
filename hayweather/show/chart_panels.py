"""The panels of a chart: calls, chances, water, moistures, rain, temperatures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.markers import TICKDOWN
from matplotlib.patches import Rectangle
from matplotlib.ticker import MaxNLocator

from hayweather.baling.calls import Call
from hayweather.show.chart_look import (
    EDGE_IN,
    POINTS_PER_INCH,
    Look,
    line_width_in,
    text_size_in,
    wrap,
)
from hayweather.show.chart_scene import Curve, Point, Row, Scene, Segment
from hayweather.show.clock import Stretch
from hayweather.show.colors import (
    BAND,
    BAND_EDGE,
    CALL_LOOKS,
    DARK_HOURS,
    GRID,
    INK,
    LINE_LOOKS,
    MARK,
    PALE_INK,
    PAPER,
    ROW_FILL,
    SPREAD,
    UNKNOWN,
    WATER,
    WATERMARK,
)
from hayweather.units import symbol_of, to_shown
from hayweather.weather.record import Floats
from hayweather.windrow.trajectory import QUARTERS
from hayweather.words import say

TICK_STEPS = (1, 2, 3, 4, 6, 12)
TICK_GAP_IN = 0.05  # between the words of two ticks
LABEL_PAD_IN = 0.04
CAPTION_PAD_PT = 3.0
DAYS_BELOW_IN = -0.36


def time_axis(axes: Axes, scene: Scene) -> None:
    """Hours, midnights, clock changes and dark hours; without words."""
    axes.set_xlim(0.0, scene.clock.hours)
    axes.set_xticks(scene.clock.ticks(tick_step(scene)))
    axes.set_axisbelow(True)
    axes.grid(axis="x", color=GRID, linewidth=0.6)
    size = scene.look.size_pt
    axes.tick_params(labelsize=size, labelbottom=False, colors=INK, length=3.5, width=0.7)
    _hour_marks(axes, scene)
    for name in ("top", "right"):
        axes.spines[name].set_visible(False)
    for first, past in scene.dark:
        axes.axvspan(first, past, facecolor=DARK_HOURS, edgecolor="none", zorder=0, label="dark")
    for (first, _), _ in scene.clock.days()[1:]:
        axes.axvline(first, color=PALE_INK, linewidth=0.9, zorder=0.6)
    for at, _ in scene.clock.changes():
        axes.axvline(at, color=INK, linewidth=1.1, linestyle=":", zorder=0.7, label="clock change")


def _hour_marks(axes: Axes, scene: Scene) -> None:
    """A small mark at every hour; one curve is drawn much faster than as many ticks."""
    hours, across = scene.clock.ticks(1), axes.get_xaxis_transform()
    (marks,) = axes.plot(hours, [0.0] * len(hours), transform=across, ls="none", marker=TICKDOWN)
    marks.set(markersize=2.0, markeredgewidth=0.5, color=INK, clip_on=False, label="hours")


def tick_step(scene: Scene) -> int:
    """Hours between two ticks with words: as few as there is room for."""
    for step in TICK_STEPS:
        ticks = scene.clock.ticks(step)
        widths = [line_width_in(scene.clock.text(at), scene.look.size_pt) for at in ticks]
        pairs = zip(ticks, ticks[1:], widths, widths[1:], strict=False)
        if all((b - a) * scene.hour_in >= (u + v) / 2 + TICK_GAP_IN for a, b, u, v in pairs):
            return step
    return 24


def write_time(axes: Axes, scene: Scene) -> None:
    """Write hours, days and clock changes below the axes."""
    ticks = scene.clock.ticks(tick_step(scene))
    axes.set_xticks(ticks, [scene.clock.text(at) for at in ticks])
    axes.tick_params(axis="x", labelbottom=True)
    for (first, past), day in scene.clock.days():
        for text in (scene.voice.date(day), scene.voice.day(day)):
            if fits(text, (past - first) * scene.hour_in, scene.look.size_pt):
                _below(axes, (first + past) / 2, text, scene)
                break


def _below(axes: Axes, at: float, text: str, scene: Scene) -> None:
    """Centered words below the ticks' own."""
    axes.annotate(
        text,
        (at, 0.0),
        xycoords=("data", "axes fraction"),
        xytext=(0.0, POINTS_PER_INCH * DAYS_BELOW_IN),
        textcoords="offset points",
        size=scene.look.size_pt,
        color=INK,
        ha="center",
        va="center",
    )


def caption_lines(text: str, look: Look) -> list[str]:
    """A panel's caption in as many lines as it needs."""
    return wrap(text, look.width_in - look.left_in - EDGE_IN, look.size_pt, "bold")


def caption(axes: Axes, text: str, look: Look) -> None:
    """The panel's own words above it."""
    axes.annotate(
        "\n".join(caption_lines(text, look)),
        (0.0, 1.0),
        xycoords="axes fraction",
        xytext=(0.0, CAPTION_PAD_PT),
        textcoords="offset points",
        size=look.size_pt,
        weight="bold",
        color=INK,
        va="bottom",
        linespacing=1.1,
    )


def fits(text: str, width_in: float, size_pt: float) -> bool:
    """True where a text is no wider than `width_in`, a little air included."""
    return text_size_in(text, size_pt)[0] + LABEL_PAD_IN <= width_in


def half_width_h(text: str, scene: Scene) -> float:
    """Half the width of a text, in hours of the time axis."""
    return text_size_in(text, scene.look.size_pt)[0] / scene.hour_in / 2


def height_in(axes: Axes) -> float:
    """Height of axes in inches."""
    return float(axes.bbox.height / axes.figure.dpi)


def unknown_hours(
    axes: Axes, scene: Scene, stretches: Sequence[Stretch], key: str = "call_no_data"
) -> None:
    """Hatch hours without data over the whole height, with the words where they fit."""
    size, word = scene.look.size_pt, scene.voice.say(key)
    for first, past in stretches:
        patch = Rectangle((first, 0.0), past - first, 1.0, transform=axes.get_xaxis_transform())
        patch.set(facecolor=PAPER, edgecolor=UNKNOWN, hatch="\\\\\\", linewidth=0.6, zorder=0.8)
        patch.set_label("no data")
        axes.add_patch(patch)
        upright = not fits(word, (past - first) * scene.hour_in, size)
        room_in = height_in(axes) if upright else (past - first) * scene.hour_in
        narrow = (past - first) * scene.hour_in < text_size_in(word, size)[1]
        if fits(word, room_in, size) and not narrow:
            _middle(axes, (first + past) / 2, word, scene, 90.0 if upright else 0.0)


def _middle(axes: Axes, at: float, text: str, scene: Scene, rotation: float) -> None:
    """Words on paper in the middle of the axes' height."""
    axes.text(
        at,
        0.5,
        text,
        transform=axes.get_xaxis_transform(),
        size=scene.look.size_pt,
        rotation=rotation,
        color=INK,
        ha="center",
        va="center",
        zorder=5,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.0},
    )


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


POINT_PT = 6.0
THIN_PT, DOT_PT = 0.8, 4.5
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
        color = LINE_LOOKS[point.curve].color
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


BAND_IN = {"wide": 1.15, "narrow": 1.25}
ROW_IN = 0.18
ROW_PITCH_IN = 0.22
FLAT, UPRIGHT = 0.0, 90.0
STOP_HATCH = "xx"
SWATCH_IN = 0.24
WORTH_A_WORD_PERCENT = 2.0  # a call less likely than this is not in the key
FILLED_ROWS = {"chart_row_stop": INK, "chart_row_dark": MARK}


def strip_height_in(scene: Scene) -> float:
    """Height of the strip and its rows."""
    return BAND_IN[scene.look.shape] + len(scene.rows()) * ROW_PITCH_IN + 0.04


def draw_strip(axes: Axes, scene: Scene) -> None:
    """Calls of every quarter hour with words, stops crossed, marks in rows below."""
    time_axis(axes, scene)
    write_time(axes, scene)
    axes.set_ylim(strip_height_in(scene), 0.0)
    axes.spines["left"].set_visible(False)
    for segment in scene.segments:
        _draw_segment(axes, scene, segment)
        _write_segment(axes, scene, segment)
    rows, top = scene.rows(), BAND_IN[scene.look.shape]
    middles = [top + ROW_PITCH_IN * (index + 0.5) + 0.02 for index in range(len(rows))]
    for row, middle in zip(rows, middles, strict=True):
        _draw_row(axes, scene, row, middle)
    axes.set_yticks(middles, [scene.voice.say(row.key) for row in rows])
    axes.tick_params(axis="y", length=0)


def _draw_segment(axes: Axes, scene: Scene, segment: Segment) -> None:
    """The ground and pattern of a run; crossed where work stops."""
    look, height = CALL_LOOKS[segment.call], BAND_IN[scene.look.shape]
    box = ((segment.first, 0.0), segment.past - segment.first, height)
    ground = Rectangle(*box, label=segment.call.word)
    ground.set(facecolor=look.fill, edgecolor=look.line, hatch=look.hatch, linewidth=0.7, zorder=2)
    axes.add_patch(ground)
    if segment.stopped:
        cross = Rectangle(*box, label="stop")
        cross.set(facecolor="none", edgecolor=INK, hatch=STOP_HATCH, linewidth=1.2, zorder=2.5)
        axes.add_patch(cross)


def _write_segment(axes: Axes, scene: Scene, segment: Segment) -> None:
    """The word of a run, with its times where it is a window, as much as fits."""
    chosen = segment_words(scene, segment)
    if chosen is None:
        return
    look = CALL_LOOKS[segment.call]
    axes.text(
        (segment.first + segment.past) / 2,
        BAND_IN[scene.look.shape] / 2,
        chosen[0],
        size=scene.look.size_pt,
        color=look.text,
        rotation=chosen[1],
        ha="center",
        va="center",
        linespacing=1.1,
        zorder=4,
        bbox={
            "facecolor": look.fill,
            "edgecolor": "none",
            "pad": 1.2 if chosen[1] == FLAT else 0.2,
        },
    )


def segment_words(scene: Scene, segment: Segment) -> tuple[str, float] | None:
    """The fullest of a run's texts that fits, flat before upright; None where none does."""
    word = scene.voice.call(segment.call)
    times = scene.clock.span_text((segment.first, segment.past))
    texts = [(word, FLAT), (word.replace(" ", "\n", 1), FLAT), (word, UPRIGHT)]
    if segment.window:
        texts = [(f"{word}\n{times}", FLAT), (f"{word}\n{times}", UPRIGHT), *texts]
    room_in = ((segment.past - segment.first) * scene.hour_in, BAND_IN[scene.look.shape])
    for text, rotation in texts:
        size_in = text_size_in(text, scene.look.size_pt)
        wide_in, high_in = size_in if rotation == FLAT else size_in[::-1]
        # An upright word may fill its run from edge to edge; a flat one needs air.
        pad_in = LABEL_PAD_IN if rotation == FLAT else 0.0
        if wide_in + pad_in <= room_in[0] and high_in + LABEL_PAD_IN <= room_in[1]:
            return text, rotation
    return None


def unwritten_calls(scene: Scene) -> list[Call]:
    """Calls of which some run is too short for its word, for a key below the strip."""
    short = {item.call for item in scene.segments if segment_words(scene, item) is None}
    chances = scene.chances()
    if chances is not None:
        written = {item.call for item in scene.segments}
        likely = chances.max(axis=1) >= WORTH_A_WORD_PERCENT
        short |= {call for call in Call if likely[call] and call not in written}
    return sorted(short)


def _draw_row(axes: Axes, scene: Scene, row: Row, middle: float) -> None:
    """One row of marks, words inside where they fit."""
    fill = FILLED_ROWS.get(row.key, ROW_FILL)
    inside: Sequence[str] = row.words or ("",) * len(row.stretches)
    for (first, past), word in zip(row.stretches, inside, strict=True):
        box = Rectangle((first, middle - ROW_IN / 2), past - first, ROW_IN, label=row.key)
        box.set(facecolor=fill, edgecolor=MARK, linewidth=0.8, zorder=2)
        axes.add_patch(box)
        text = scene.voice.say(word) if word.startswith("chart_") else word
        size = scene.look.size_pt
        if text and fits(text, (past - first) * scene.hour_in, size):
            color = INK if fill == ROW_FILL else PAPER
            words = axes.text((first + past) / 2, middle, text, size=size, color=color, zorder=3)
            words.set(ha="center", va="center_baseline")


def draw_key(axes: Axes, scene: Scene, calls: Sequence[Call]) -> None:
    """Pattern and word of some calls, for runs too short for words; lines as needed."""
    axes.set_axis_off()
    for call, at, row in key_places(scene, calls):
        look = CALL_LOOKS[call]
        box = Rectangle((at, row + 0.12), SWATCH_IN, 0.76, label=call.word)
        box.set(facecolor=look.fill, edgecolor=look.line, hatch=look.hatch, linewidth=0.7)
        axes.add_patch(box)
        place = (at + SWATCH_IN + 0.06, row + 0.5)
        word = scene.voice.call(call)
        axes.text(*place, word, size=scene.look.size_pt, color=INK, va="center_baseline")
    axes.set_xlim(0.0, scene.look.axes_in)
    axes.set_ylim(key_rows(scene, calls), 0.0)


def key_places(scene: Scene, calls: Sequence[Call]) -> list[tuple[Call, float, int]]:
    """Where each entry of the key begins: inches from the left, and its line."""
    places, at, row = [], 0.0, 0
    for call in calls:
        width = SWATCH_IN + 0.06 + text_size_in(scene.voice.call(call), scene.look.size_pt)[0]
        if at and at + width > scene.look.axes_in:
            at, row = 0.0, row + 1
        places.append((call, at, row))
        at += width + 0.16
    return places


def key_rows(scene: Scene, calls: Sequence[Call]) -> int:
    """Lines of the key."""
    return 1 + max(row for _, _, row in key_places(scene, calls))


WATER_HEADROOM = 1.4
RAIN_HEADROOM = 1.9
STACKED = (
    Call.NATURAL_DEW,
    Call.READY,
    Call.ADD_MOISTURE,
    Call.TOO_DRY,
    Call.DAMP_BELOW,
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
    applied = scene.water()
    values = to_shown(applied, "water_rate", scene.look.units)
    axes.stairs(values, scene.edges, baseline=0.0, fill=True, color=WATER, alpha=0.25, zorder=2)
    axes.stairs(values, scene.edges, baseline=None, color=WATER, linewidth=1.6, zorder=3)
    axes.set_ylim(0.0, WATER_HEADROOM * float(np.nanmax(values)))
    axes.yaxis.set_major_locator(MaxNLocator(3, integer=True))
    for segment in scene.segments:
        rows = slice(round(QUARTERS * segment.first), round(QUARTERS * segment.past))
        if np.isfinite(values[rows]).all():
            texts = [scene.voice.number(x, "water_rate") for x in applied[rows][[0, -1]]]
            _write_ends(axes, scene, texts, values[rows], (segment.first, segment.past))
    unknown_hours(axes, scene, scene.no_call())


def _write_ends(
    axes: Axes, scene: Scene, texts: Sequence[str], block: Floats, stretch: Stretch
) -> None:
    """The amounts at both ends of a window, above the steps they span, where both fit."""
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
    known = np.zeros(scene.clock.hours) if rain is None else np.nan_to_num(rain)
    values, most = to_shown(known, "rain", scene.look.units), int(known.argmax())
    axes.set_ylim(0.0, max(RAIN_HEADROOM * values[most], 1e-6))
    axes.set_yticks([0.0])
    hours = np.flatnonzero(values > 0)
    if hours.size:
        axes.bar(hours + 0.5, values[hours], 0.9, color=WATER, edgecolor=INK, lw=0.5, zorder=3)
        text, place = scene.voice.number(known[most], "rain"), (most + 0.5, values[most])
        half = half_width_h(text, scene)
        place = (min(max(place[0], half), scene.clock.hours - half), place[1])
        axes.text(*place, text, size=scene.look.size_pt, color=INK, ha="center", va="bottom")
    unknown_hours(axes, scene, scene.no_rain_known())


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
    low, high = (voice.signed(f"{limit:g}") for limit in (band.low_wb, band.high_wb))
    words = voice.say("chart_band", low=low, high=high)
    write_in_room(axes, scene, curves, words, (band.low_wb + band.high_wb) / 2, BAND_EDGE)
    leaf = band.leaf_minimum_wb
    if leaf is not None and leaf != band.low_wb:
        color = LINE_LOOKS["leaf"].color
        axes.axhline(leaf, color=color, linewidth=0.9, linestyle=(0, (2, 3)), zorder=0.7)
        words = voice.say("chart_leaf_minimum", limit=voice.signed(f"{leaf:g}"))
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
    beside = [*scene.forecast_alone(), *scene.measured()]
    low, high = limits([*curves, *beside], (cold, warm))
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
    _draw_station(axes, scene)
    unknown_hours(axes, scene, scene.no_weather())
    name_curves(axes, curves, scene.look)


def _draw_station(axes: Axes, scene: Scene) -> None:
    """The forecast alone as thin lines, what a station measured as dots."""
    for curve in scene.forecast_alone():
        color = LINE_LOOKS[curve.name].color
        (line,) = axes.plot(curve.at, curve.values, color=color, label="forecast alone")
        line.set(linewidth=THIN_PT, linestyle=(0, (1.5, 1.5)), zorder=2.5)
    for curve in scene.measured():
        color = LINE_LOOKS[curve.name].color
        (dots,) = axes.plot(curve.at, curve.values, "o", color=color, label="measured")
        dots.set(markersize=DOT_PT, clip_on=False, zorder=3.6)


def limits(curves: Sequence[Curve], fallback: tuple[float, float]) -> tuple[float, float]:
    """Least and largest known value of some curves."""
    known = np.concatenate([curve.values[np.isfinite(curve.values)] for curve in curves])
    return (float(known.min()), float(known.max())) if known.size else fallback


@dataclass(frozen=True)
class Panel:
    """One panel.

    Attributes
    ----------
    key
        Names its axes and its caption.
    quantity
        Whose unit stands in the caption; empty for none.
    height_in
        Inches, margins not counted.
    wanted
        False where a field has nothing to show in it.
    draw
        Draws it.
    """

    key: str
    quantity: str
    height_in: Callable[[Scene], float]
    wanted: Callable[[Scene], bool]
    draw: Callable[[Axes, Scene], None]

    def caption(self, scene: Scene) -> str:
        """The line above the panel."""
        unit = symbol_of(self.quantity, scene.look.units) if self.quantity else ""
        key = f"{self.key}_spread" if self is MOISTURE and _with_members(scene) else self.key
        words = scene.voice.say(key, unit=unit)
        if self is MOISTURE and scene.points():
            words += scene.voice.say("chart_readings")
        if self.draw is draw_temperature and scene.measured():
            words += scene.voice.say("chart_measured")
        for at, forward in scene.clock.changes() if self is CALLS else ():
            moved = "chart_clocks_forward" if forward else "chart_clocks_back"
            words += scene.voice.say(moved, time=scene.voice.when(scene.clock.time(at)))
        return words


def _always(scene: Scene) -> bool:
    """Shown for every field."""
    return True


def _with_members(scene: Scene) -> bool:
    """Shown where there are chances."""
    return bool(scene.members.any())


def _with_water(scene: Scene) -> bool:
    """Shown where some hour asks for water."""
    return bool(np.isfinite(scene.water()).any())


def _with_rain(scene: Scene) -> bool:
    """Shown where rain falls, or is not known in some hour."""
    rain = scene.rain()
    return rain is not None and not bool((rain == 0.0).all())


def _high(height_in: float) -> Callable[[Scene], float]:
    """The same height for every field."""
    return lambda scene: height_in


CALLS = Panel("chart_panel_calls", "", strip_height_in, _always, draw_strip)
MOISTURE = Panel("chart_panel_moisture", "", _high(2.1), _always, draw_moisture)
PANELS = (
    CALLS,
    Panel("chart_panel_chances", "", _high(0.8), _with_members, draw_chances),
    Panel("chart_panel_water", "water_rate", _high(0.8), _with_water, draw_water),
    MOISTURE,
    Panel("chart_panel_rain", "rain", _high(0.45), _with_rain, draw_rain),
    Panel("chart_panel_temperature", "temperature", _high(1.7), _always, draw_temperature),
)
