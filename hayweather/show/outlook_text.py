"""An outlook as text for a terminal: first screen, hours, what stands behind it, cautions."""

from __future__ import annotations

from dataclasses import replace

from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.hours_table import hours_table
from hayweather.show.layout import WIDEST_PROSE, bulleted_sentences, paragraphs, wrapped
from hayweather.show.phrases import phrases
from hayweather.show.safety import shown_safety
from hayweather.show.sentences import farm_voice, field_sentences, field_title, field_voice
from hayweather.show.voice import Voice
from hayweather.show.weather_facts import weather_lines, weather_summary


def outlook_text(
    outlook: Night, units: UnitSystem, width: int = 80, *, all_cautions: bool = False
) -> str:
    """The whole outlook as text, no line wider than `width` where that can be kept.

    Parameters
    ----------
    outlook
        What to show.
    units
        Unit system of the reader.
    width
        Characters of a line; 80 is enough for everything needed.
    all_cautions
        True for the cautions in full instead of their short form.
    """
    prose = min(width, WIDEST_PROSE)
    voice = farm_voice(outlook, units)
    lines = head_lines("outlook_title", outlook, voice, prose)
    for field in outlook.fields:
        lines += ["", *_summary(field, field_voice(field, voice), prose)]
    lines += ["", *bulleted_sentences(phrases(outlook.cautions, voice), prose)]
    for field in outlook.fields:
        lines += ["", *hours_table(field, field_voice(field, voice), width)]
    lines += ["", *_behind(outlook, voice, prose), "", *_safety(voice, prose, all_cautions)]
    return "\n".join(lines) + "\n"


def head_lines(key: str, outlook: Night, voice: Voice, width: int) -> list[str]:
    """The title `key`: which farm and night, made when; an invented sample says so first."""
    texts = [voice.say("outlook_invented")] if outlook.farm.weather.invented else []
    night = voice.night(outlook.fields[0].headline.evening)
    made = replace(voice, evening=None).when(outlook.now)
    texts.append(voice.say(key, farm=outlook.farm.name, night=night, time=made))
    return paragraphs(texts, width)


def _summary(field: FieldNight, voice: Voice, width: int) -> list[str]:
    """The first screen of one field."""
    said = bulleted_sentences(field_sentences(field, voice), width)
    return [*wrapped(field_title(field, voice), width), *said]


def _behind(outlook: Night, voice: Voice, width: int) -> list[str]:
    """What stands behind the outlook: weather, its age, what was assumed."""
    facts = weather_lines(weather_summary(outlook), voice)
    return paragraphs([*facts, *farm_notes(outlook, voice)], width)


def farm_notes(outlook: Night, voice: Voice) -> list[str]:
    """What the farm file left open, for the fields shown, without the file's name."""
    farm = outlook.farm
    shown = {f"[field.{field.setting.field.name}]" for field in outlook.fields}
    others = {f"[field.{name}]" for name in farm.fields} - shown
    start = "" if farm.path is None else f"{farm.path.name}: "
    notes = [note for note in farm.notes if not any(other in note for other in others)]
    return [voice.say("outlook_from_file", note=note.removeprefix(start)) for note in notes]


def _safety(voice: Voice, width: int, all_cautions: bool) -> list[str]:
    """The cautions that always show, short or in full."""
    texts = shown_safety(voice, all_cautions)
    heading = wrapped(voice.say("safety_heading") + ":", width)
    return [*heading, *bulleted_sentences(texts, width)]
