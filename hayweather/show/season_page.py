"""Seasons as one page: tables, sentences and pictures, nothing fetched from elsewhere."""

from __future__ import annotations

import io
import re
from html import escape

from markupsafe import Markup

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.results import Seasons
from hayweather.show.chart_look import plain_settings
from hayweather.show.page_frame import Frame, render
from hayweather.show.season_answer import answer_sentences
from hayweather.show.season_chart import season_figures
from hayweather.show.season_parts import closing_parts, head_texts, site_part
from hayweather.show.season_phrases import season_voice
from hayweather.show.season_sentences import counting_sentence

_NAME = re.compile(r"""(\bid="|url\(#|href="#)""")


def seasons_page(seasons: Seasons, units: UnitSystem | None = None) -> str:
    """The page as HTML text.

    Parameters
    ----------
    seasons
        What to show.
    units
        Of the numbers that people read, and of sentences; None for those of the file.
    """
    voice = season_voice(seasons, units)
    title = voice.say("seasons_page_title", name=seasons.file.name)
    heads = head_texts(seasons, voice)
    mark = heads.pop(0) if seasons.file.invented else ""
    heads += answer_sentences(seasons, voice)
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
    drawn: list[str] = []
    for _, draw in season_figures(seasons, units):
        stream = io.StringIO()
        with plain_settings():
            figure = draw()
            figure.savefig(stream, format="svg", metadata={"Date": None})
        text = stream.getvalue()
        label = escape(str(figure.get_label()).splitlines()[0], quote=True)
        inside = own_names(text[text.index("<svg") + 4 :], f"picture-{len(drawn) + 1}")
        drawn.append(f'<svg role="img" aria-label="{label}"{inside}')
    return drawn


def own_names(picture: str, prefix: str) -> str:
    """A picture whose names inside begin with a prefix, so that no two pictures share one.

    Examples
    --------
    >>> own_names('<g id="a" clip-path="url(#b)"><use xlink:href="#c"/></g>', "p")
    '<g id="p-a" clip-path="url(#p-b)"><use xlink:href="#p-c"/></g>'
    """
    return _NAME.sub(rf"\1{prefix}-", picture)
