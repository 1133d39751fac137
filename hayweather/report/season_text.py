"""Seasons as text for a terminal: a table a site, then what it comes to."""

from __future__ import annotations

from collections.abc import Sequence

from hayweather.farm.records import UnitSystem
from hayweather.report.layout import bullets, wrapped
from hayweather.report.safety import safety_texts, short_safety_texts
from hayweather.report.season_phrases import months_text, season_voice, site_title
from hayweather.report.season_sentences import (
    comparison_sentences,
    counting_sentence,
    input_sentences,
    pays_sentences,
    rests_on,
    site_sentences,
)
from hayweather.report.season_table import month_rows, table_columns, table_lines, year_rows
from hayweather.report.voice import Voice
from hayweather.seasons.record.results import Seasons, SiteSeasons

WIDEST_PROSE = 100


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
    lines = wrapped(_title(seasons, voice), prose)
    if seasons.unfinished:
        lines += wrapped(voice.say("seasons_unfinished"), prose)
    for site in seasons.sites:
        lines += ["", *_site(site, seasons, voice, width)]
    lines += ["", *wrapped(counting_sentence(seasons, voice), prose)]
    parts = (
        ("seasons_heading_sites", comparison_sentences(seasons, voice)),
        ("seasons_heading_inputs", input_sentences(seasons, voice)),
        ("seasons_heading_pays", pays_sentences(seasons, voice)),
        ("seasons_notes", rests_on(seasons, voice)),
    )
    for heading, said in parts:
        lines += _part(voice.say(heading), said, prose)
    safety = safety_texts(voice) if all_cautions else short_safety_texts(voice)
    return "\n".join([*lines, "", *bullets(safety, prose)]) + "\n"


def _title(seasons: Seasons, voice: Voice) -> str:
    """What the answer is about."""
    months = months_text(seasons.months, voice)
    return voice.say("seasons_title", name=seasons.file.name, months=months)


def _part(heading: str, said: Sequence[str], width: int) -> list[str]:
    """A heading and what stands below it; nothing where nothing is said."""
    return ["", heading, *bullets(said, width)] if said else []


def _site(site: SiteSeasons, seasons: Seasons, voice: Voice, width: int) -> list[str]:
    """Title, tables and sentences of a site."""
    prose = min(width, WIDEST_PROSE)
    lines = wrapped(site_title(site, voice), prose)
    if not site.rain_known:
        lines += wrapped(voice.say("seasons_rain_unknown"), prose)
    lines += table_lines(table_columns(month_rows(site, voice), voice), width)
    years = year_rows(site)
    if years:
        lines += ["", *table_lines(table_columns(years, voice), width)]
    return [*lines, *bullets(site_sentences(site, seasons, voice), prose)]
