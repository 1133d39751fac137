"""The words around a chart: title, windows in a line, the foot, a description."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hayweather.baling.calls import READY, Call
from hayweather.baling.windows import Window
from hayweather.show.chart_look import HARD_SPACE
from hayweather.show.chart_scene import Scene, Segment
from hayweather.show.runs import notes_of
from hayweather.show.voice import Voice
from hayweather.show.weather_facts import source_text
from hayweather.units import symbol_of


def title_of(name: str, scene: Scene) -> str:
    """``"bench, night of Tue 8 to Wed 9 July"``."""
    night = scene.voice.night(scene.outlook.span.evening)
    return scene.voice.say("chart_title", field=name, night=night)


def window_lines(scene: Scene) -> list[tuple[Call, str]]:
    """One line with all windows for each ready call that has some."""
    lines = []
    for call in READY:
        windows = [item for item in scene.outlook.windows if item.call == call]
        if windows:
            texts = "; ".join(_window(window, scene.voice) for window in windows)
            word = scene.voice.call(call)
            lines.append((call, scene.voice.say("chart_windows", call=word, windows=texts)))
    return lines


def _window(window: Window, voice: Voice) -> str:
    """``"1:15 am to 4:30 am (chance 70 %)"``, in one piece; with the water to add."""
    span, details = voice.span(window.start, window.end), []
    if window.water_l_t is not None and np.isfinite(window.water_l_t).all():
        least, most = (voice.number(value, "water_rate") for value in window.water_l_t)
        unit = symbol_of("water_rate", voice.units)
        details.append(voice.say("chart_window_water", least=least, most=most, unit=unit))
    if window.chance is not None:
        details.append(voice.say("chart_window_chance", chance=voice.chance(window.chance)))
    if details:
        span = voice.say("chart_window_details", span=span, details=", ".join(details))
    return span.replace(" ", HARD_SPACE)


def stop_lines(scene: Scene) -> list[str]:
    """One line for each reason why work stops, with its hours."""
    lines = []
    for note in notes_of(scene.outlook.hours):
        if note.is_stop:
            reason = scene.voice.say(f"chart_{note.remark.key}")
            spans = [scene.voice.span(*span).replace(" ", HARD_SPACE) for span in note.spans]
            lines.append(scene.voice.say("chart_stops", reason=reason, spans="; ".join(spans)))
    return lines


def source_line(scene: Scene) -> str:
    """Where the weather comes from, when the forecast was made, whose data it is."""
    facts, voice = scene.outlook.facts, scene.voice
    source = facts.weather.source
    line = source_text(source.name, source.issued, source.fetched, facts.age_hours, voice)
    return "; ".join(part for part in (line, source.attribution) if part) + "."


def foot_lines(scenes: Sequence[Scene]) -> list[str]:
    """Source, the caller's notes and the safety line, each once."""
    look, voice = scenes[0].look, scenes[0].voice
    lines = [source_line(scene) for scene in scenes]
    return list(dict.fromkeys([*lines, *look.notes, voice.say("chart_safety")]))


def description(scene: Scene) -> str:
    """What the chart shows in words, for those who cannot see it."""
    voice = scene.voice
    windows = [line for _, line in window_lines(scene)] or [voice.say("chart_no_windows")]
    windows += stop_lines(scene)
    calls = "; ".join(_described(segment, scene) for segment in scene.segments)
    start = voice.when(scene.clock.start)
    name = title_of(scene.outlook.setting.field.name, scene)
    called = voice.say("chart_described", start=start, calls=calls)
    parts = [name, *windows, called, *_readings(scene)]
    return ". ".join(part.rstrip(".") for part in parts).replace(HARD_SPACE, " ") + "."


def _readings(scene: Scene) -> list[str]:
    """The readings drawn, in words."""
    voice = scene.voice
    told = [(item.time, voice.amount(item.true_wb, "percent")) for item in scene.outlook.readings]
    return [voice.say("chart_reading", time=voice.when(time), value=wet) for time, wet in told]


def _described(segment: Segment, scene: Scene) -> str:
    """``"Thu 1:15 am natural dew"``."""
    call = scene.voice.call(segment.call)
    if segment.stopped:
        call = scene.voice.say("chart_described_stop", call=call)
    start = scene.voice.when(scene.clock.time(segment.first))
    return scene.voice.say("chart_described_call", start=start, call=call)
