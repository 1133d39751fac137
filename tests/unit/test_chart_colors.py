"""Colors of charts: told apart with any eyes, in a gray print, and readable as grounds.

Dichromats are simulated by the matrices of Machado, Oliveira and Fernandes 2009,
"A physiologically-based model for simulation of color vision deficiency", for
severity 1.0, on linear sRGB. Distances are those of CIELAB (CIE 1976, white D65);
2.3 is just noticeable. Contrast is that of WCAG 2.1.
"""

import doctest
from itertools import combinations

import numpy as np
import pytest

from hayweather.baling.calls import Call
from hayweather.show import colors
from hayweather.show.colors import CALL_LOOKS, LINE_LOOKS, NIGHT_LOOKS, oklch

EYES = {
    "common": np.eye(3),
    "protanopia": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deuteranopia": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritanopia": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
# IEC 61966-2-1: linear sRGB to XYZ, and the white of D65.
RGB_TO_XYZ = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
D65 = np.array([0.95047, 1.0, 1.08883])
FAR_APART = 15.0
GRAY_STEP = 10.0
LOOKS = {"day": CALL_LOOKS, "night": NIGHT_LOOKS}
CURVES = (("air", "dew_point", "skin"), ("windrow", "leaf", "stem"))


def linear(color: str) -> np.ndarray:
    encoded = np.array([int(color[index : index + 2], 16) for index in (1, 3, 5)]) / 255
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def lab(color: str, eyes: str = "common") -> np.ndarray:
    """CIELAB of a color as some eyes see it."""
    part = RGB_TO_XYZ @ np.clip(EYES[eyes] @ linear(color), 0.0, 1.0) / D65
    f = np.where(part > 216 / 24389, np.cbrt(part), (24389 / 27 * part + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def contrast(one: str, other: str) -> float:
    light = sorted(float(RGB_TO_XYZ[1] @ linear(color)) for color in (one, other))
    return (light[1] + 0.05) / (light[0] + 0.05)


@pytest.mark.parametrize(
    ("color", "expected"),
    [
        # CSS Color Module Level 4, sample table of oklch(): red, green, black, white.
        ((0.62796, 0.25768, 29.234), "#ff0000"),
        ((0.51975, 0.17686, 142.495), "#008000"),
        ((0.0, 0.0, 0.0), "#000000"),
        ((1.0, 0.0, 0.0), "#ffffff"),
    ],
)
def test_colors_from_oklch(color: tuple[float, float, float], expected: str) -> None:
    assert oklch(*color) == expected


@pytest.mark.parametrize("hours", LOOKS)
@pytest.mark.parametrize("eyes", EYES)
def test_calls_are_told_apart_with_any_eyes(eyes: str, hours: str) -> None:
    looks = LOOKS[hours]
    for one, other in combinations(looks, 2):
        seen = [lab(looks[call].fill, eyes) for call in (one, other)]
        assert np.linalg.norm(seen[0] - seen[1]) >= FAR_APART, (one.word, other.word)


@pytest.mark.parametrize("eyes", EYES)
def test_curves_of_a_panel_are_told_apart_with_any_eyes(eyes: str) -> None:
    for names in CURVES:
        for one, other in combinations(names, 2):
            seen = [lab(LINE_LOOKS[name].color, eyes) for name in (one, other)]
            assert np.linalg.norm(seen[0] - seen[1]) >= FAR_APART, (one, other)
        assert len({LINE_LOOKS[name].dashes for name in names}) == len(names)


@pytest.mark.parametrize("hours", LOOKS)
def test_calls_step_in_a_gray_print(hours: str) -> None:
    lightness = sorted(lab(look.fill)[0] for look in LOOKS[hours].values())
    assert min(np.diff(lightness)) >= GRAY_STEP


@pytest.mark.parametrize("hours", LOOKS)
def test_patterns_differ_and_show_on_their_grounds(hours: str) -> None:
    """WCAG 2.1 asks 3 : 1 of parts that carry meaning; the fill and the word carry it here too."""
    looks = LOOKS[hours]
    assert len({look.hatch for look in looks.values()}) == len(looks) == len(Call)
    for call, look in looks.items():
        assert not look.hatch or contrast(look.line, look.fill) >= 2.0, call.word


def test_words_are_readable_on_their_grounds() -> None:
    for looks in LOOKS.values():
        for call, look in looks.items():
            assert contrast(look.text, look.fill) >= 4.5, call.word
    for look in LINE_LOOKS.values():
        assert contrast(look.color, colors.PAPER) >= 4.5
        assert contrast(look.color, colors.DARK_HOURS) >= 3.0
        assert contrast(look.color, colors.BAND) >= 3.0
    for ink in (colors.INK, colors.PALE_INK, colors.BAND_EDGE, colors.WATER, colors.MARK):
        assert contrast(ink, colors.PAPER) >= 4.5
    assert contrast(colors.INK, colors.ROW_FILL) >= 4.5


def test_no_traffic_light() -> None:
    for call, look in (*CALL_LOOKS.items(), *NIGHT_LOOKS.items()):
        _, toward_red, toward_yellow = lab(look.fill)
        hue = np.degrees(np.arctan2(toward_yellow, toward_red)) % 360
        strong = np.hypot(toward_red, toward_yellow) > 10
        green, red = 110 < hue < 190, hue < 45 or hue > 350
        assert not (strong and (green or red)), call.word


def test_examples() -> None:
    assert doctest.testmod(colors).failed == 0
