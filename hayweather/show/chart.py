"""The chart of an outlook: calls, chances, water, moistures, temperatures.

Data in, figure out, and a figure as the bytes of its file. Importing this
module loads matplotlib, so import it where a chart is asked for. No state of
pyplot is used or changed.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

from matplotlib.figure import Figure

from hayweather.nights import FieldNight, Night
from hayweather.show.chart_axes import caption, caption_lines, write_time
from hayweather.show.chart_look import Look, Shape, plain_settings
from hayweather.show.chart_panels import CALLS, PANELS, Panel
from hayweather.show.chart_scene import Scene
from hayweather.show.chart_sheet import Block, Place, TextStyle, gap, sheet, text_block
from hayweather.show.chart_strip import draw_key, key_rows, unwritten_calls
from hayweather.show.chart_text import description, foot_lines, stop_lines, title_of, window_lines
from hayweather.show.colors import CALL_LOOKS, INK, PALE_INK, PAPER
from hayweather.show.phrases import phrases

PNG_DPI = 150
TALLEST_PX = 30_000  # a taller picture is drawn coarser
CAPTION_IN = 0.27
CAPTION_LINE_IN = 0.15
TIME_WORDS_IN = 0.48
KEY_LINE_IN = 0.2
MOST_FULL_FIELDS = 4  # with more fields each shows its calls only


def look_for(outlook: Night, *, shape: Shape = "wide") -> Look:
    """The look that an outlook's farm asks for; its cautions stand in the foot.

    Parameters
    ----------
    outlook
        Its farm says units and language, and whether it is an invented sample.
    shape
        "wide" for paper and screens, "narrow" for telephones.
    """
    farm = outlook.farm
    look = Look(farm.units, farm.language, shape, farm.weather.invented)
    voice = Scene(outlook.fields[0], look).voice
    notes = (f"{text[:1].upper()}{text[1:]}." for text in phrases(outlook.cautions, voice))
    return Look(farm.units, farm.language, shape, farm.weather.invented, tuple(notes))


def figure_of(field: FieldNight, look: Look | None = None, *, title: str | None = None) -> Figure:
    """The chart of one field.

    Parameters
    ----------
    field
        Its outlook.
    look
        Units, language, shape, foot; US English and wide unless given.
    title
        Instead of the field and the night.
    """
    scene = Scene(field, look or Look())
    return _sheet([scene], title or title_of(field.setting.field.name, scene), PANELS)


def figure_of_all(outlook: Night, look: Look | None = None) -> Figure:
    """The charts of all fields of an outlook in one picture, one below the other.

    Parameters
    ----------
    outlook
        What to draw.
    look
        Colors, sizes, language and units.
    """
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
    lines = window_lines(scene)
    for call, line in lines:
        blocks.append(text_block(line, look, TextStyle(look.size_pt, swatch=CALL_LOOKS[call])))
    if not lines:
        none = scene.voice.say("chart_no_windows")
        blocks.append(text_block(none, look, TextStyle(look.size_pt)))
    for line in stop_lines(scene):
        blocks.append(text_block(line, look, TextStyle(look.size_pt, "bold")))
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
    known = {call for call, _ in window_lines(scene)}
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
    """Title and description, without date or version, so that bytes hang on content alone."""
    title, _, described = str(figure.get_label()).partition("\n")
    words = {"Title": title, "Description": described}
    own = {"Software": None} if kind == "png" else {"Date": None, "Creator": "hayweather"}
    return {**words, **own}
