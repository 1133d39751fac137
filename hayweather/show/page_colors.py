"""Colors of pages as CSS variables: by day those of the charts, by night their own.

By day a page takes the colors of `hayweather.show.colors`. By night the order
of lightness is turned round, so that natural dew, the darkest ground by day, is
the brightest one and the six calls still differ by lightness alone. Hues stay
as they are. Chosen by hand here, as lightness, chroma and hue of OKLCH.
"""

from __future__ import annotations

from hayweather.baling.calls import Call
from hayweather.show.colors import (
    BAND,
    BAND_EDGE,
    CALL_LOOKS,
    DARK_HOURS,
    GRID,
    INK,
    LINE_LOOKS,
    PALE_INK,
    PAPER,
    CallLook,
    oklch,
)

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
    Call.NATURAL_DEW: CallLook(oklch(0.89, 0.06, 250), "", oklch(0.97, 0.02, 250), INK),
    Call.TOO_WET: CallLook(oklch(0.74, 0.09, 325), "---", oklch(0.50, 0.08, 325), INK),
    Call.NOT_CURED: CallLook(oklch(0.60, 0.085, 50), "||", oklch(0.80, 0.07, 50), INK),
    Call.ADD_MOISTURE: CallLook(oklch(0.47, 0.085, 235), "//", oklch(0.76, 0.09, 235), PAPER),
    Call.TOO_DRY: CallLook(oklch(0.34, 0.045, 85), "..", oklch(0.62, 0.06, 85), PAPER),
    Call.NO_DATA: CallLook(oklch(0.20, 0.01, 270), "\\\\\\", oklch(0.60, 0.01, 270), PAPER),
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
