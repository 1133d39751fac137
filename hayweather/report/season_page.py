"""Seasons as one page: tables, sentences and pictures, nothing fetched from elsewhere."""

from __future__ import annotations

import io
from html import escape

from markupsafe import Markup

from hayweather.farm.records import UnitSystem
from hayweather.report.chart_look import plain_settings
from hayweather.report.page_frame import Frame, render
from hayweather.report.season_chart import season_figures
from hayweather.report.season_parts import closing_parts, head_texts, site_part
from hayweather.report.season_phrases import season_voice
from hayweather.report.season_sentences import counting_sentence
from hayweather.seasons.record.results import Seasons


def seasons_page(seasons: Seasons, units: UnitSystem | None = None) -> str:
    """The page as HTML text."""
    voice = season_voice(seasons, units)
    title = voice.say("seasons_page_title", name=seasons.file.name)
    heads = head_texts(seasons, voice)
    mark = heads.pop(0) if seasons.file.invented else ""
    return render(
        "seasons.html",
        Frame(voice, title, heads, mark),
        sites=[site_part(site, seasons, voice) for site in seasons.sites],
        counting=counting_sentence(seasons, voice),
        closing=closing_parts(seasons, voice),
        pictures=[Markup(picture) for picture in _pictures(seasons, units)],
    )


def _pictures(seasons: Seasons, units: UnitSystem | None) -> list[str]:
    """Every picture as SVG inside the page."""
    drawn = []
    for _, draw in season_figures(seasons, units):
        stream = io.StringIO()
        with plain_settings():
            figure = draw()
            figure.savefig(stream, format="svg", metadata={"Date": None})
        text = stream.getvalue()
        label = escape(str(figure.get_label()).splitlines()[0], quote=True)
        drawn.append(f'<svg role="img" aria-label="{label}"' + text[text.index("<svg") + 4 :])
    return drawn
