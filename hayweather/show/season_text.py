"""Seasons as text for a terminal: a table a site, then what it comes to."""

from __future__ import annotations

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.results import Seasons
from hayweather.show.layout import WIDEST_PROSE, bullets, paragraphs, wrapped
from hayweather.show.safety import shown_safety
from hayweather.show.season_answer import answer_sentences
from hayweather.show.season_parts import Part, closing_parts, head_texts, site_part
from hayweather.show.season_phrases import season_voice
from hayweather.show.season_sentences import counting_sentence
from hayweather.show.table_lines import table_lines


def seasons_text(
    seasons: Seasons, units: UnitSystem | None, width: int = 80, *, all_cautions: bool = False
) -> str:
    """The whole answer as text.

    Parameters
    ----------
    seasons
        What to show.
    units
        Of the reader; None for the file's.
    width
        Characters of a line.
    all_cautions
        True for the cautions in full.
    """
    voice = season_voice(seasons, units)
    prose = min(width, WIDEST_PROSE)
    lines = paragraphs(head_texts(seasons, voice), prose)
    lines += bullets(answer_sentences(seasons, voice), prose)
    for site in seasons.sites:
        lines += ["", *_part(site_part(site, seasons, voice), width)]
    lines += ["", *wrapped(counting_sentence(seasons, voice), prose)]
    for part in closing_parts(seasons, voice):
        lines += ["", *_part(part, width)]
    safety = shown_safety(voice, all_cautions)
    return "\n".join([*lines, "", *bullets(safety, prose)]) + "\n"


def _part(part: Part, width: int) -> list[str]:
    """Heading, tables and sentences."""
    prose = min(width, WIDEST_PROSE)
    lines = paragraphs((part.heading, *part.notes), prose)
    for number, (caption, columns) in enumerate(part.tables):
        lines += [""] if number else []
        lines += wrapped(caption, prose)
        lines += table_lines(columns, width)
    return [*lines, *bullets(part.said, prose)]
