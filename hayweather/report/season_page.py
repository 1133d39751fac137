"""Seasons as one page: tables, sentences and pictures, nothing fetched from elsewhere."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from html import escape

from hayweather.farm.records import UnitSystem
from hayweather.report.chart_look import plain_settings
from hayweather.report.colors import GRID, INK, PALE_INK, PAPER
from hayweather.report.columns import Column
from hayweather.report.safety import safety_texts
from hayweather.report.season_chart import season_figures
from hayweather.report.season_phrases import months_text, season_voice, site_title
from hayweather.report.season_sentences import (
    comparison_sentences,
    counting_sentence,
    input_sentences,
    pays_sentences,
    rests_on,
    site_sentences,
)
from hayweather.report.season_table import month_rows, table_columns, year_rows
from hayweather.report.voice import Voice
from hayweather.seasons.record.results import Seasons, SiteSeasons

STYLE = f"""
body {{ font: 16px/1.45 sans-serif; color: {INK}; background: {PAPER};
  max-width: 60rem; margin: 1rem auto; padding: 0 1rem; }}
table {{ border-collapse: collapse; margin: .8rem 0; display: block; overflow-x: auto; }}
th, td {{ border-bottom: 1px solid {GRID}; padding: .25rem .6rem; text-align: right; }}
th:first-child, td:first-child {{ text-align: left; }}
.notes {{ color: {PALE_INK}; }}
svg {{ max-width: 100%; height: auto; }}
"""


def seasons_page(seasons: Seasons, units: UnitSystem | None = None) -> str:
    """The page as HTML text."""
    voice = season_voice(seasons, units)
    title = voice.say("seasons_page_title", name=seasons.file.name)
    parts = [_element("h1", title)]
    months = months_text(seasons.months, voice)
    parts.append(_element("p", voice.say("seasons_title", name=seasons.file.name, months=months)))
    if seasons.unfinished:
        parts.append(_element("p", voice.say("seasons_unfinished")))
    for site in seasons.sites:
        parts += _site(site, seasons, voice)
    parts.append(_element("p", counting_sentence(seasons, voice)))
    sections = (
        ("seasons_heading_sites", comparison_sentences(seasons, voice)),
        ("seasons_heading_inputs", input_sentences(seasons, voice)),
        ("seasons_heading_pays", pays_sentences(seasons, voice)),
        ("seasons_notes", rests_on(seasons, voice)),
        ("safety_heading", safety_texts(voice)),
    )
    for heading, said in sections:
        parts += [_element("h2", voice.say(heading)), _list(said)] if said else []
    body = "\n".join([*parts, *_pictures(seasons, units)])
    return (
        f'<!doctype html>\n<html lang="{voice.language}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n{body}\n</body>\n</html>\n"
    )


def _element(tag: str, text: str) -> str:
    """Text in an element, its signs made harmless."""
    return f"<{tag}>{escape(text)}</{tag}>"


def _list(texts: Iterable[str]) -> str:
    """Texts as a list."""
    return "<ul>" + "".join(_element("li", text) for text in texts) + "</ul>"


def _site(site: SiteSeasons, seasons: Seasons, voice: Voice) -> list[str]:
    """Title, tables and sentences of a site."""
    parts = [_element("h2", site_title(site, voice))]
    if not site.rain_known:
        parts.append(_element("p", voice.say("seasons_rain_unknown")))
    parts.append(_table(table_columns(month_rows(site, voice), voice)))
    years = year_rows(site)
    if years:
        parts.append(_table(table_columns(years, voice)))
    return [*parts, _list(site_sentences(site, seasons, voice))]


def _table(columns: Sequence[Column]) -> str:
    """A table; a heading's lines become one."""
    heads = "".join(_element("th", _heading(column)) for column in columns)
    rows = [
        "<tr>" + "".join(_element("td", column.cells[row]) for column in columns) + "</tr>"
        for row in range(len(columns[0].cells))
    ]
    return f"<table><tr>{heads}</tr>{''.join(rows)}</table>"


def _heading(column: Column) -> str:
    """The lines of a heading as one, words cut at a line's end put together."""
    return " ".join(line for line in column.heading if line).replace("- ", "").replace("/ ", "/")


def _pictures(seasons: Seasons, units: UnitSystem | None) -> list[str]:
    """Every picture as SVG inside the page."""
    drawn = []
    for _, draw in season_figures(seasons, units):
        stream = io.StringIO()
        with plain_settings():
            draw().savefig(stream, format="svg", metadata={"Date": None})
        text = stream.getvalue()
        drawn.append(text[text.index("<svg") :])
    return drawn
