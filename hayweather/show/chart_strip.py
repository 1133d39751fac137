"""The strip of calls: pattern and word for every run, and rows of marks below it."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from hayweather.baling.calls import Call
from hayweather.show.chart_axes import LABEL_PAD_IN, fits, time_axis, write_time
from hayweather.show.chart_look import text_size_in
from hayweather.show.chart_scene import Row, Scene, Segment
from hayweather.show.colors import CALL_LOOKS, INK, MARK, PAPER, ROW_FILL

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
