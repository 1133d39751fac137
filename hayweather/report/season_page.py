"""Seasons as one page: tables, sentences and pictures, nothing fetched from elsewhere."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from html import escape

from hayweather.farm.records import UnitSystem
from hayweather.report.chart_look import plain_settings
from hayweather.report.colors import GRID, INK, PAPER
from hayweather.report.columns import Column
from hayweather.report.safety import safety_texts
from hayweather.report.season_chart import season_figures
from hayweather.report.season_parts import Part, closing_parts, head_texts, site_part
from hayweather.report.season_phrases import season_voice
from hayweather.report.season_sentences import counting_sentence
from hayweather.seasons.record.results import Seasons

STYLE = f"""
body {{ font: 16px/1.45 sans-serif; color: {INK}; background: {PAPER};
  max-width: 60rem; margin: 1rem auto; padding: 0 1rem; }}
table {{ border-collapse: collapse; margin: .8rem 0; display: block; overflow-x: auto; }}
th, td {{ border-bottom: 1px solid {GRID}; padding: .25rem .6rem; text-align: right; }}
th:first-child, td:first-child {{ text-align: left; }}
caption {{ text-align: left; font-weight: bold; white-space: nowrap; }}
svg {{ max-width: 100%; height: auto; }}
"""


def seasons_page(seasons: Seasons, units: UnitSystem | None = None) -> str:
    """The page as HTML text."""
    voice = season_voice(seasons, units)
    title = voice.say("seasons_page_title", name=seasons.file.name)
    heads = [_element("p", text) for text in head_texts(seasons, voice)]
    banner = heads[: int(seasons.file.invented)]
    parts = [*banner, _element("h1", title), *heads[len(banner) :]]
    for site in seasons.sites:
        parts += _part(site_part(site, seasons, voice))
    parts.append(_element("p", counting_sentence(seasons, voice)))
    safety = Part(voice.say("safety_heading"), said=tuple(safety_texts(voice)))
    for part in (*closing_parts(seasons, voice), safety):
        parts += _part(part)
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


def _part(part: Part) -> list[str]:
    """Heading, tables and sentences."""
    texts = [_element("h2", part.heading), *(_element("p", note) for note in part.notes)]
    texts += [_table(columns, caption) for caption, columns in part.tables]
    return [*texts, _list(part.said)] if part.said else texts


def _table(columns: Sequence[Column], caption: str) -> str:
    """A table with its caption; a heading's lines become one."""
    title = _element("caption", caption) if caption else ""
    heads = "".join(_element("th", _heading(column)) for column in columns)
    rows = [
        "<tr>" + "".join(_element("td", column.cells[row]) for column in columns) + "</tr>"
        for row in range(len(columns[0].cells))
    ]
    return f"<table>{title}<tr>{heads}</tr>{''.join(rows)}</table>"


def _heading(column: Column) -> str:
    """The lines of a heading as one, words cut at a line's end put together."""
    return " ".join(line for line in column.heading if line).replace("- ", "").replace("/ ", "/")


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
