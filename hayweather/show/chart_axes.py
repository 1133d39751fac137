"""What all panels of a chart share: time axis, dark hours, missing data, words that fit."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.markers import TICKDOWN
from matplotlib.patches import Rectangle

from hayweather.show.chart_clock import Stretch
from hayweather.show.chart_look import (
    EDGE_IN,
    POINTS_PER_INCH,
    Look,
    line_width_in,
    text_size_in,
    wrap,
)
from hayweather.show.chart_scene import Scene
from hayweather.show.colors import DARK_HOURS, GRID, INK, PALE_INK, PAPER, UNKNOWN

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
