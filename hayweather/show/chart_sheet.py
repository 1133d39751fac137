"""A sheet: blocks of text and panels, one below the other, measured in inches."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from hayweather.show.chart_look import (
    EDGE_IN,
    LINE_SPACING,
    POINTS_PER_INCH,
    Look,
    plain_settings,
    wrap,
)
from hayweather.show.colors import INK, PAPER, CallLook

SWATCH_IN = 0.24
SWATCH_GAP_IN = 0.07


@dataclass(frozen=True)
class TextStyle:
    """How a block of text looks.

    Attributes
    ----------
    size_pt, weight, color
        Of its letters.
    ground
        Color behind it, None for the paper's.
    swatch
        A call whose pattern stands before the first line; the text is indented.
    """

    size_pt: float
    weight: str = "normal"
    color: str = INK
    ground: str | None = None
    swatch: CallLook | None = None

    @property
    def left_in(self) -> float:
        """Where its lines begin."""
        if self.swatch is not None:
            return EDGE_IN + SWATCH_IN + SWATCH_GAP_IN
        return EDGE_IN if self.ground is None else EDGE_IN + 0.04

    @property
    def line_in(self) -> float:
        """Height of a line."""
        return self.size_pt * LINE_SPACING / POINTS_PER_INCH


@dataclass(frozen=True)
class Place:
    """Where on a figure a block goes; `top_in` is counted from the upper edge."""

    figure: Figure
    look: Look
    top_in: float
    height_in: float

    def up(self, below_top_in: float) -> float:
        """A depth below the block's top as a part of the figure's height from its foot."""
        return 1 - (self.top_in + below_top_in) / self.figure.get_figheight()

    def across(self, left_in: float) -> float:
        """A distance from the left edge as a part of the figure's width."""
        return left_in / self.look.width_in

    def axes(self, label: str) -> Axes:
        """Axes that fill the block between the margins; `label` names them."""
        look, foot = self.look, self.up(self.height_in)
        box = (self.across(look.left_in), foot, self.across(look.axes_in), self.up(0.0) - foot)
        return self.figure.add_axes(box, label=label)

    def line(self, text: str, row: int, style: TextStyle) -> None:
        """One line of text, row 0 at the top of the block."""
        box = None if style.ground is None else {"facecolor": style.ground, "pad": 2.5, "lw": 0}
        self.figure.text(
            self.across(style.left_in),
            self.up((row + 0.5) * style.line_in),
            text,
            size=style.size_pt,
            weight=style.weight,
            color=style.color,
            va="center_baseline",
            bbox=box,
        )

    def swatch(self, call: CallLook, line_in: float) -> None:
        """The pattern of a call before the first line."""
        corner = (self.across(EDGE_IN), self.up(0.88 * line_in))
        size = (self.across(SWATCH_IN), self.up(0.12 * line_in) - corner[1])
        box = Rectangle(corner, *size, transform=self.figure.transFigure)
        box.set(facecolor=call.fill, edgecolor=call.line, hatch=call.hatch, linewidth=0.7)
        self.figure.add_artist(box)


@dataclass(frozen=True)
class Block:
    """A part of the sheet and how it is drawn."""

    height_in: float
    draw: Callable[[Place], None]


def gap(height_in: float) -> Block:
    """Empty room."""
    return Block(height_in, lambda place: None)


def text_block(text: str, look: Look, style: TextStyle) -> Block:
    """A text broken into as many lines as it needs."""
    room_in = look.width_in - style.left_in - EDGE_IN
    lines = wrap(text, room_in, style.size_pt, style.weight)

    def draw(place: Place) -> None:
        for row, line in enumerate(lines):
            place.line(line, row, style)
        if style.swatch is not None:
            place.swatch(style.swatch, style.line_in)

    return Block(len(lines) * style.line_in, draw)


def sheet(blocks: Sequence[Block], look: Look) -> Figure:
    """A figure with all blocks, just as high as they need."""
    height_in = sum(block.height_in for block in blocks) + 2 * EDGE_IN
    with plain_settings():
        figure = Figure(figsize=(look.width_in, height_in), facecolor=PAPER)
        FigureCanvasAgg(figure)
        top_in = EDGE_IN
        for block in blocks:
            block.draw(Place(figure, look, top_in, block.height_in))
            top_in += block.height_in
    return figure
