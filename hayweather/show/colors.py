"""Colors, patterns and lines of charts and pages, made for this project.

Each color is given as lightness, chroma and hue of OKLCH (Ottosson 2020) and is
turned into hex here. How they were chosen: word and pattern come first, so the
eight calls differ by lightness alone and stay apart in a gray print (steps of at
least 10 in CIE L*); the hues run from blue (ready) over plum and violet to sand,
without the green, yellow and red of a traffic light; the darkest, calmest fill
belongs to natural dew, because that is what people look for (at night, on dark
paper, the lightest). Lightness was set in even steps, and chroma and hue were
searched within these bounds for the largest least distance of any two fills as
seen with common eyes and with full protanopia, deuteranopia and tritanopia;
tests measure it.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np

from hayweather.baling.calls import Call

# Ottosson 2020, "A perceptual color space for image processing": OKLab to cone
# responses (cube roots), and these to linear sRGB.
_OKLAB_TO_CONES = np.array(
    [
        [1.0, 0.3963377774, 0.2158037573],
        [1.0, -0.1055613458, -0.0638541728],
        [1.0, -0.0894841775, -1.2914855480],
    ]
)
_CONES_TO_RGB = np.array(
    [
        [4.0767416621, -3.3077115913, 0.2309699292],
        [-1.2684380046, 2.6097574011, -0.3413193965],
        [-0.0041960863, -0.7034186147, 1.7076147010],
    ]
)


def oklch(lightness: float, chroma: float, hue_degrees: float) -> str:
    """The sRGB hex color of an OKLCH color, clipped to what a screen can show.

    Ottosson 2020; encoding of IEC 61966-2-1 (published).

    Examples
    --------
    >>> oklch(0.628, 0.2577, 29.23)
    '#ff0000'
    """
    hue = radians(hue_degrees)
    lab = np.array([lightness, chroma * cos(hue), chroma * sin(hue)])
    linear = np.clip(_CONES_TO_RGB @ (_OKLAB_TO_CONES @ lab) ** 3, 0.0, 1.0)
    encoded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return "#" + "".join(f"{round(255 * value):02x}" for value in encoded)


@dataclass(frozen=True)
class CallLook:
    """How a call is drawn.

    Attributes
    ----------
    fill
        Ground color.
    hatch
        Pattern in the letters of matplotlib; empty for a plain ground.
    line
        Color of the pattern and the outline.
    text
        Color of words on the ground.
    """

    fill: str
    hatch: str
    line: str
    text: str


@dataclass(frozen=True)
class LineLook:
    """How a curve is drawn: color, dashes (on, off, ... in line widths), width in points."""

    color: str
    dashes: tuple[float, ...] = ()
    width_pt: float = 1.6


INK = oklch(0.24, 0.025, 270)
PALE_INK = oklch(0.46, 0.02, 270)
PAPER = "#ffffff"
GRID = oklch(0.86, 0.005, 270)
DARK_HOURS = oklch(0.935, 0.008, 270)
BAND = oklch(0.88, 0.045, 262)
BAND_EDGE = oklch(0.50, 0.09, 262)
UNKNOWN = oklch(0.60, 0.0, 0)
MARK = oklch(0.42, 0.02, 270)
SPREAD = oklch(0.55, 0.02, 255)
ROW_FILL = oklch(0.80, 0.012, 270)
WATER = oklch(0.45, 0.12, 245)
WATERMARK = oklch(0.88, 0.015, 325)

CALL_LOOKS: dict[Call, CallLook] = {
    Call.NATURAL_DEW: CallLook(oklch(0.349, 0.08, 275), "", oklch(0.24, 0.06, 275), PAPER),
    Call.READY: CallLook(oklch(0.437, 0.14, 248), "++", oklch(0.80, 0.07, 248), PAPER),
    Call.TOO_WET: CallLook(oklch(0.543, 0.06, 335), "---", oklch(0.84, 0.04, 335), PAPER),
    Call.DAMP_BELOW: CallLook(oklch(0.634, 0.07, 280), "xx", oklch(0.40, 0.07, 280), INK),
    Call.NOT_CURED: CallLook(oklch(0.729, 0.077, 48), "||", oklch(0.50, 0.08, 48), INK),
    Call.ADD_MOISTURE: CallLook(oklch(0.808, 0.10, 245), "//", oklch(0.57, 0.11, 248), INK),
    Call.TOO_DRY: CallLook(oklch(0.902, 0.08, 80), "..", oklch(0.62, 0.08, 75), INK),
    Call.NO_DATA: CallLook(oklch(0.996, 0.0, 0), "\\\\\\", UNKNOWN, INK),
}

LINE_LOOKS: dict[str, LineLook] = {
    "air": LineLook(oklch(0.56, 0.13, 50)),
    "dew_point": LineLook(oklch(0.48, 0.13, 255), (5.0, 1.6)),
    "skin": LineLook(oklch(0.30, 0.06, 320), (1.2, 1.2), 1.8),
    "windrow": LineLook(oklch(0.28, 0.05, 255), (), 2.6),
    "leaf": LineLook(oklch(0.57, 0.12, 55), (5.0, 1.6)),
    "stem": LineLook(oklch(0.50, 0.11, 300), (1.2, 1.2), 1.8),
}


CURVES = ("windrow", "leaf", "stem")

DAY = {
    "ink": INK,
    "pale": PALE_INK,
    "paper": PAPER,
    "grid": GRID,
    "dark-hours": DARK_HOURS,
    "band": BAND,
    "band-edge": BAND_EDGE,
    **{name: LINE_LOOKS[name].color for name in CURVES},
}
NIGHT = {
    "ink": oklch(0.93, 0.008, 270),
    "pale": oklch(0.78, 0.012, 270),
    "paper": oklch(0.18, 0.012, 270),
    "grid": oklch(0.38, 0.01, 270),
    "dark-hours": oklch(0.13, 0.012, 270),
    "band": oklch(0.33, 0.06, 262),
    "band-edge": oklch(0.70, 0.09, 262),
    "windrow": oklch(0.95, 0.02, 255),
    "leaf": oklch(0.77, 0.11, 65),
    "stem": oklch(0.72, 0.11, 300),
}
NIGHT_LOOKS: dict[Call, CallLook] = {
    Call.NATURAL_DEW: CallLook(oklch(0.935, 0.07, 245), "", oklch(0.97, 0.02, 250), INK),
    Call.READY: CallLook(oklch(0.834, 0.10, 240), "++", oklch(0.50, 0.10, 245), INK),
    Call.TOO_WET: CallLook(oklch(0.757, 0.13, 335), "---", oklch(0.46, 0.10, 335), INK),
    Call.DAMP_BELOW: CallLook(oklch(0.645, 0.02, 310), "xx", oklch(0.36, 0.03, 310), INK),
    Call.NOT_CURED: CallLook(oklch(0.548, 0.077, 62), "||", oklch(0.82, 0.07, 62), PAPER),
    Call.ADD_MOISTURE: CallLook(oklch(0.438, 0.10, 231), "//", oklch(0.74, 0.09, 231), PAPER),
    Call.TOO_DRY: CallLook(oklch(0.354, 0.05, 80), "..", oklch(0.64, 0.06, 80), PAPER),
    Call.NO_DATA: CallLook(oklch(0.25, 0.0, 0), "\\\\\\", oklch(0.60, 0.0, 0), PAPER),
}


def variables(*, night: bool) -> dict[str, str]:
    """Values of the CSS variables of a page, by name without dashes before it."""
    looks = NIGHT_LOOKS if night else CALL_LOOKS
    found = dict(NIGHT if night else DAY)
    for call, look in looks.items():
        found |= {f"{class_of(call)}-fill": look.fill, f"{class_of(call)}-line": look.line}
    return found


def class_of(call: Call) -> str:
    """Name of a call in the page's style sheet.

    Examples
    --------
    >>> class_of(Call.NATURAL_DEW)
    'natural-dew'
    """
    return call.name.lower().replace("_", "-")
