"""How a chart is laid out: sizes, room for words, blocks of text and panels on a sheet."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import matplotlib
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Rectangle
from matplotlib.textpath import text_to_path

from hayweather.farm.records import Decimals, Language, UnitSystem
from hayweather.show.colors import INK, PAPER, CallLook

Shape = Literal["wide", "narrow"]

LINE_SPACING = 1.25
HINTED = 0.96  # of a line that may be filled: letters drawn as dots come out a little wider
LETTERS = 1.05  # height of one line of letters, in sizes
POINTS_PER_INCH = 72.0
SMALLEST_PT = 8.0
FONT = "DejaVu Sans"  # comes with matplotlib
EDGE_IN = 0.14
MISSING_LETTER = "Glyph .* missing from"
HARD_SPACE = "\N{NO-BREAK SPACE}"
SETTINGS: dict[Any, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "hayweather",
    "font.family": "sans-serif",
    "font.sans-serif": [FONT],
    "hatch.linewidth": 0.8,
    "text.parse_math": False,
    "axes.unicode_minus": True,
}


@dataclass(frozen=True)
class _Measures:
    """Lengths of a shape in inches, sizes of its letters in points."""

    width_in: float
    left_in: float
    right_in: float
    size_pt: float
    title_pt: float


_SHAPES: dict[Shape, _Measures] = {
    "wide": _Measures(8.0, 0.95, 0.95, 9.0, 12.0),
    "narrow": _Measures(4.4, 0.80, 0.64, 8.0, 10.0),
}


@dataclass(frozen=True)
class Look:
    """For whom and on which paper a chart is drawn.

    Attributes
    ----------
    units, language
        Of the reader.
    shape
        "wide" for paper and screens, "narrow" for telephones.
    invented
        True for the samples; the chart then says so.
    notes
        Finished sentences for the foot.
    decimals
        Sign before tenths; None: as of the language and the units.
    """

    units: UnitSystem = "us"
    language: Language = "en"
    shape: Shape = "wide"
    invented: bool = False
    notes: tuple[str, ...] = ()
    decimals: Decimals | None = None

    @property
    def width_in(self) -> float:
        """Width of the picture."""
        return _SHAPES[self.shape].width_in

    @property
    def left_in(self) -> float:
        """Room left of the axes, for the names of rows and the numbers."""
        return _SHAPES[self.shape].left_in

    @property
    def right_in(self) -> float:
        """Room right of the axes, for the names of curves."""
        return _SHAPES[self.shape].right_in

    @property
    def axes_in(self) -> float:
        """Width of the axes."""
        return self.width_in - self.left_in - self.right_in

    @property
    def size_pt(self) -> float:
        """Size of the letters."""
        return _SHAPES[self.shape].size_pt

    @property
    def title_pt(self) -> float:
        """Size of the title's letters."""
        return _SHAPES[self.shape].title_pt

    @property
    def small_pt(self) -> float:
        """Size of the letters of the foot, never below 8."""
        return max(self.size_pt - 1.0, SMALLEST_PT)


@contextmanager
def plain_settings() -> Iterator[None]:
    """Draw and save with the same settings everywhere, whatever the user has set.

    A letter that the font lacks is drawn as a box and not complained of.
    """
    with matplotlib.rc_context(), warnings.catch_warnings():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(SETTINGS)
        warnings.filterwarnings("ignore", message=MISSING_LETTER)
        yield


@lru_cache(maxsize=2048)
def line_width_in(text: str, size_pt: float, weight: str = "normal") -> float:
    """Width of one line of text [inch] in matplotlib's own font."""
    font = FontProperties(
        family=FONT, style="normal", variant="normal", weight=weight, stretch="normal", size=size_pt
    )
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=MISSING_LETTER)
        width, _, _ = text_to_path.get_text_width_height_descent(text, font, False)
    return float(width) / POINTS_PER_INCH


def text_size_in(text: str, size_pt: float) -> tuple[float, float]:
    """Width and height [inch] of a text that may have several lines."""
    lines = text.split("\n")
    height = ((len(lines) - 1) * LINE_SPACING + LETTERS) * size_pt / POINTS_PER_INCH
    return max(line_width_in(line, size_pt) for line in lines), height


def wrap(text: str, width_in: float, size_pt: float, weight: str = "normal") -> list[str]:
    """Break a text at its blanks into lines no wider than `width_in`.

    Words held together by hard blanks are parted only where they are wider than a line.
    """
    lines: list[str] = []
    for word in _pieces(text, width_in, size_pt, weight):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and line_width_in(joined, size_pt, weight) <= width_in:
            lines[-1] = joined
        else:
            lines.append(word)
    return lines


def _pieces(text: str, width_in: float, size_pt: float, weight: str) -> list[str]:
    """What stays on one line: words, or several joined by hard blanks where they fit."""
    pieces: list[str] = []
    for word in text.split(" "):
        wide = line_width_in(word, size_pt, weight) > width_in
        pieces += word.split(HARD_SPACE) if wide else [word]
    return pieces


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
    room_in = HINTED * (look.width_in - style.left_in - EDGE_IN)
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
