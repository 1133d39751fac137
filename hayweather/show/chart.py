"""The chart of an outlook: calls, chances, water, moistures, temperatures.

Data in, figure out, and a figure as the bytes of its file. Importing this
module loads matplotlib, so import it where a chart is asked for. No state of
pyplot is used or changed.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from dataclasses import replace

from matplotlib.figure import Figure

from hayweather.baling.advice import Advice
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.chart_look import (
    HARD_SPACE,
    Block,
    Look,
    Place,
    Shape,
    TextStyle,
    gap,
    plain_settings,
    sheet,
    text_block,
)
from hayweather.show.chart_panels import (
    CALLS,
    PANELS,
    Panel,
    caption,
    caption_lines,
    draw_key,
    key_rows,
    unwritten_calls,
    write_time,
)
from hayweather.show.chart_scene import Scene, Segment
from hayweather.show.colors import CALL_LOOKS, INK, PALE_INK, PAPER
from hayweather.show.outlook_words import (
    AnswerLine,
    answer_lines,
    maybe_windows,
    notes_of,
    reading_words,
)
from hayweather.show.voice import capital, phrases, sentence
from hayweather.show.weather_facts import source_text


def title_of(name: str, scene: Scene) -> str:
    """``"bench, night of Tue 8 to Wed 9 July"``."""
    night = scene.voice.night(scene.outlook.span.evening)
    return scene.voice.say("chart_title", field=name, night=night)


_NUMBER = re.compile(r"(?<=\d) (?=(?:am|pm|%|gal/ton|L/t)\b|%)")


def answer(scene: Scene) -> list[AnswerLine]:
    """Windows, maybe windows and what is unknown, in a line for each call that has some.

    Numbers stay with their units.
    """
    field = scene.outlook
    lines = answer_lines(field, field.windows, maybe_windows(field, field.maybe), scene.voice)
    return [replace(line, text=_NUMBER.sub(HARD_SPACE, capital(line.text))) for line in lines]


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
    windows = [line.text for line in answer(scene)] or [voice.say("chart_no_windows")]
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
    told = [(item.time, reading_words(item, voice)) for item in scene.outlook.readings]
    return [voice.say("chart_reading", time=voice.when(time), value=wet) for time, wet in told]


def _described(segment: Segment, scene: Scene) -> str:
    """``"Thu 1:15 am natural dew"``."""
    call = scene.voice.call(segment.call)
    if segment.stopped:
        call = scene.voice.say("chart_described_stop", call=call)
    start = scene.voice.when(scene.clock.time(segment.first))
    return scene.voice.say("chart_described_call", start=start, call=call)


PNG_DPI = 150
OWN = "hayweather"  # says in a picture's file whose it is
TALLEST_PX = 30_000  # a taller picture is drawn coarser
CAPTION_IN = 0.27
CAPTION_LINE_IN = 0.15
TIME_WORDS_IN = 0.48
KEY_LINE_IN = 0.2
MOST_FULL_FIELDS = 4  # with more fields each shows its calls only


def look_for(outlook: Night, units: UnitSystem | None = None, *, shape: Shape = "wide") -> Look:
    """The look that an outlook's farm asks for; its cautions stand in the foot.

    Parameters
    ----------
    outlook
        Its farm says language and sign before tenths, and whether it is an invented sample.
    units
        Of the reader; None for the farm's own.
    shape
        "wide" for paper and screens, "narrow" for telephones.
    """
    farm = outlook.farm
    look = Look(
        units or farm.units, farm.language, shape, farm.weather.invented, decimals=farm.decimals
    )
    notes = phrases(outlook.cautions, Scene(outlook.fields[0], look).voice)
    return replace(look, notes=tuple(sentence(text) for text in notes))


def figure_of(field: FieldNight, look: Look | None = None, *, title: str | None = None) -> Figure:
    """The chart of one field.

    Parameters
    ----------
    look
        Units, language, shape, foot; US English and wide unless given.
    title
        Instead of the field and the night.
    """
    scene = Scene(field, look or Look())
    return _sheet([scene], title or title_of(field.setting.field.name, scene), PANELS)


def figure_of_all(outlook: Night, look: Look | None = None) -> Figure:
    """The charts of all fields of an outlook in one picture, one below the other."""
    look = look or look_for(outlook)
    if len(outlook.fields) == 1:
        return figure_of(outlook.fields[0], look)
    scenes = [Scene(field, look) for field in outlook.fields]
    panels = PANELS if len(scenes) <= MOST_FULL_FIELDS else (CALLS,)
    return _sheet(scenes, title_of(outlook.farm.name, scenes[0]), panels)


def _sheet(scenes: Sequence[Scene], title: str, panels: Sequence[Panel]) -> Figure:
    """The figure, which carries its title and description for readers that cannot see it."""
    look = scenes[0].look
    blocks = [text_block(title, look, TextStyle(look.title_pt, "bold"))]
    if look.invented:
        words = scenes[0].voice.say("outlook_invented")
        banner = TextStyle(look.size_pt, "bold", PAPER, INK)
        blocks = [text_block(words, look, banner), gap(0.08), *blocks]
    for scene in scenes:
        blocks += _field_blocks(scene, panels, named=len(scenes) > 1)
    foot = TextStyle(look.small_pt, color=PALE_INK)
    blocks += [gap(0.1), *(text_block(line, look, foot) for line in foot_lines(scenes))]
    figure = sheet(blocks, look)
    figure.set_label("\n".join([title, *(description(scene) for scene in scenes)]))
    return figure


def _field_blocks(scene: Scene, panels: Sequence[Panel], *, named: bool) -> list[Block]:
    """One field: its windows in words, then its panels."""
    look, blocks = scene.look, [gap(0.06)]
    if named:
        name = scene.outlook.setting.field.name
        blocks = [gap(0.2), text_block(name, look, TextStyle(look.title_pt, "bold"))]
    lines = answer(scene)
    for line in lines:
        weight = "bold" if line.advice == Advice.GO else "normal"
        style = TextStyle(look.size_pt, weight, swatch=CALL_LOOKS[line.call])
        blocks.append(text_block(line.text, look, style))
    if not lines:
        none = scene.voice.say("chart_no_windows")
        blocks.append(text_block(none, look, TextStyle(look.size_pt)))
    for text in stop_lines(scene):
        blocks.append(text_block(text, look, TextStyle(look.size_pt, "bold")))
    shown = [panel for panel in panels if panel.wanted(scene)]
    for panel in shown:
        blocks += _panel_blocks(panel, scene, last=panel is shown[-1])
    return blocks


def _panel_blocks(panel: Panel, scene: Scene, *, last: bool) -> list[Block]:
    """A panel with its caption; hours and days below the strip and the last; the key."""

    words = panel.caption(scene)

    def draw(place: Place) -> None:
        axes = place.axes(panel.key)
        panel.draw(axes, scene)
        caption(axes, words, scene.look)
        if last:
            write_time(axes, scene)

    more = len(caption_lines(words, scene.look)) - 1
    blocks = [gap(CAPTION_IN + more * CAPTION_LINE_IN), Block(panel.height_in(scene), draw)]
    blocks.append(gap(TIME_WORDS_IN if last or panel is CALLS else 0.06))
    known = {line.call for line in answer(scene)}
    calls = [call for call in unwritten_calls(scene) if call not in known]
    if panel is CALLS and calls:
        height_in = KEY_LINE_IN * key_rows(scene, calls)
        blocks.append(Block(height_in, lambda place: draw_key(place.axes("key"), scene, calls)))
    return blocks


def figure_bytes(figure: Figure, ending: str) -> bytes:
    """A figure as the bytes of its file; the same figure gives the same bytes.

    Parameters
    ----------
    figure
        Of this module, or of another that draws.
    ending
        Of the file's name, ".png" or ".svg".
    """
    kind, stream = ending.lower().removeprefix("."), io.BytesIO()
    with plain_settings():
        figure.savefig(stream, format=kind, dpi=_dpi(figure), metadata=_metadata(figure, kind))
    return stream.getvalue()


def _dpi(figure: Figure) -> float:
    """Dots per inch, fewer where the picture would be too tall."""
    return min(PNG_DPI, TALLEST_PX / figure.get_figheight())


def _metadata(figure: Figure, kind: str) -> dict[str, str | None]:
    """What drew it, title, description; no date or version, so that bytes hang on content alone."""
    title, _, described = str(figure.get_label()).partition("\n")
    words = {"Title": title, "Description": described}
    own = {"Software": OWN} if kind == "png" else {"Date": None, "Creator": OWN}
    return {**own, **words}
