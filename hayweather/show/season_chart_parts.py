"""What the pictures of seasons share: axes, keys, a sheet with title and foot."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from hayweather.show.chart_look import Look, text_size_in
from hayweather.show.chart_sheet import (
    SWATCH_IN,
    Block,
    Place,
    TextStyle,
    gap,
    sheet,
    text_block,
)
from hayweather.show.colors import GRID, INK, PALE_INK, PAPER, CallLook
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
