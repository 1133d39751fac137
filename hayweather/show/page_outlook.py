"""The outlook as a page to carry."""

from __future__ import annotations

from dataclasses import dataclass

from hayweather.baling.calls import Call
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.hours_table import WIND_HEIGHT_M, table_title
from hayweather.show.outlook_text import farm_notes
from hayweather.show.page_chart import PageChart, page_chart
from hayweather.show.page_frame import Frame, render
from hayweather.show.page_made import made_lines
from hayweather.show.page_table import HoursTable, hours_rows
from hayweather.show.page_windows import tonight_lines
from hayweather.show.phrases import phrases
from hayweather.show.sentences import farm_voice, field_sentences, field_title, field_voice
from hayweather.show.voice import Voice
from hayweather.show.weather_facts import weather_lines, weather_summary


@dataclass(frozen=True)
class FieldPart:
    """What a page says of one field: windows and sentences, chart, hours."""

    title: str
    windows: list[tuple[Call, str]]
    sentences: list[str]
    chart: PageChart
    caption: str
    basis: str
    table: HoursTable


def outlook_page(outlook: Night, units: UnitSystem) -> str:
    """The outlook as one HTML file.

    Parameters
    ----------
    outlook
        What to show.
    units
        Unit system of the reader.
    """
    voice = farm_voice(outlook, units)
    night = voice.night(outlook.fields[0].headline.evening)
    title = voice.say("page_title", farm=outlook.farm.name, night=night)
    parts = [field_part(field, field_voice(field, voice)) for field in outlook.fields]
    return render("outlook.html", outlook_frame(outlook, voice, title), fields=parts)


def outlook_frame(outlook: Night, voice: Voice, title: str) -> Frame:
    """What stands around the fields of an outlook."""
    behind = weather_lines(weather_summary(outlook), voice)[1:]
    return Frame(
        voice=voice,
        title=title,
        made=made_lines(outlook, voice),
        mark=voice.say("outlook_invented") if outlook.farm.weather.invented else "",
        cautions=phrases(outlook.cautions, voice),
        behind=[*behind, *farm_notes(outlook, voice)],
    )


def field_part(field: FieldNight, voice: Voice) -> FieldPart:
    """What a page says of one field."""
    basis = voice.say("table_basis", height=voice.amount(WIND_HEIGHT_M, "length"))
    if any(hour.chance is not None for hour in field.hours):
        basis += " " + voice.say("table_agree")
    return FieldPart(
        title=field_title(field, voice),
        windows=tonight_lines(field, voice),
        sentences=field_sentences(field, voice),
        chart=page_chart(field, voice),
        caption=table_title(field, voice),
        basis=basis,
        table=hours_rows(field, voice),
    )
