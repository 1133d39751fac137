"""Windows of a field in one line a call, for pages, calendars and messages."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hayweather.baling.calls import READY, Call
from hayweather.baling.windows import Window
from hayweather.nights import FieldNight
from hayweather.show.voice import Voice


def tonight_lines(field: FieldNight, voice: Voice) -> list[tuple[Call, str]]:
    """``"natural dew: 1:15 am to 4:30 am"`` for each ready call with windows this night."""
    return window_lines((*field.headline.dew, *field.headline.rig), voice)


def window_lines(windows: Sequence[Window], voice: Voice) -> list[tuple[Call, str]]:
    """Windows in a line for each ready call that has some."""
    lines = []
    for call in READY:
        texts = [_window(item, voice) for item in windows if item.call == call]
        if texts:
            word = voice.call(call)
            lines.append((call, voice.say("chart_windows", call=word, windows="; ".join(texts))))
    return lines


def _window(window: Window, voice: Voice) -> str:
    """One window with the water to add and its chance."""
    span = voice.span(window.start, window.end)
    details = [*water_words(window, voice), *chance_words(window, voice)]
    if not details:
        return span
    return voice.say("chart_window_details", span=span, details=", ".join(details))


def water_words(window: Window, voice: Voice) -> list[str]:
    """Water to add: ``["6.5 to 24.0 gal/ton"]``; nothing on dew."""
    if window.water_l_t is None or not np.isfinite(window.water_l_t).all():
        return []
    return [voice.between(*window.water_l_t, "water_rate")]


def chance_words(window: Window, voice: Voice) -> list[str]:
    """Its chance: ``["chance about 70 %"]``; nothing without forecast runs."""
    if window.chance is None:
        return []
    return [voice.say("chart_window_chance", chance=voice.chance(window.chance))]
