"""Seasons in parts: a heading, its tables and what is said, the same for text and page."""

from __future__ import annotations

from dataclasses import dataclass

from hayweather.seasons.record.results import Pays, Seasons, SiteSeasons
from hayweather.show.columns import Column
from hayweather.show.season_phrases import months_text, site_title
from hayweather.show.season_sentences import (
    comparison_sentences,
    pays_general,
    pays_site_sentences,
    rests_on,
    site_sentences,
)
from hayweather.show.season_small import (
    input_columns,
    share_columns,
    sway_columns,
    wet_columns,
    year_shares,
)
from hayweather.show.season_table import month_rows, table_columns, year_rows
from hayweather.show.voice import Voice

Table = tuple[str, list[Column]]


@dataclass(frozen=True)
class Part:
    """One part of the answer.

    Attributes
    ----------
    heading
        Its title.
    notes
        What must be known before its tables.
    tables
        Captions, empty where none is needed, and columns.
    said
        Sentences below the tables.
    """

    heading: str
    notes: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    said: tuple[str, ...] = ()


def head_texts(seasons: Seasons, voice: Voice) -> list[str]:
    """What stands before everything: that it is invented, what it is about, that it was stopped."""
    texts = [voice.say("seasons_invented")] if seasons.file.invented else []
    months = months_text(seasons.months, voice)
    texts.append(voice.say("seasons_title", name=seasons.file.name, months=months))
    return [*texts, voice.say("seasons_unfinished")] if seasons.unfinished else texts


def site_part(site: SiteSeasons, seasons: Seasons, voice: Voice) -> Part:
    """One site: by month, by year, nights with dew by both, and what that comes to."""
    notes = () if site.rain_known else (voice.say("seasons_rain_unknown"),)
    tables: list[Table] = [("", table_columns(month_rows(site, voice), voice))]
    if years := year_rows(site):
        tables.append(("", table_columns(years, voice)))
    if years and len(seasons.months) > 1:
        shares = share_columns(year_shares(site, voice), seasons.months, voice)
        tables.append((voice.say("seasons_shares_years"), shares))
    said = tuple(site_sentences(site, seasons, voice))
    return Part(site_title(site, voice), notes, tuple(tables), said)


def closing_parts(seasons: Seasons, voice: Voice) -> list[Part]:
    """What stands after the sites; a part with nothing in it is left out."""
    parts = [
        _comparison(seasons, voice),
        Part(voice.say("seasons_heading_inputs"), tables=tuple(_inputs(seasons, voice))),
        Part(voice.say("seasons_heading_pays"), said=tuple(pays_general(seasons, voice))),
        *(_pays(pays, seasons, voice) for pays in seasons.pays),
        Part(voice.say("seasons_notes"), said=tuple(rests_on(seasons, voice))),
    ]
    return [part for part in parts if part.tables or part.said]


def _comparison(seasons: Seasons, voice: Voice) -> Part:
    """Sites side by side: by month, then on the same nights."""
    tables: list[Table] = []
    if len(seasons.sites) > 1:
        rows = [(site.site.name, site.months, site.pooled) for site in seasons.sites]
        for key, columns in (("shares", share_columns), ("wet", wet_columns)):
            tables.append((voice.say(f"seasons_{key}_sites"), columns(rows, seasons.months, voice)))
    said = tuple(comparison_sentences(seasons, voice))
    return Part(voice.say("seasons_heading_sites"), tables=tuple(tables), said=said)


def _inputs(seasons: Seasons, voice: Voice) -> list[Table]:
    """What each input does, a table a site."""
    tables = []
    for site in seasons.sites:
        effects = [effect for effect in seasons.inputs if effect.site == site.site.name]
        if effects:
            tables.append((site.site.name, input_columns(effects, voice)))
    return tables


def _pays(pays: Pays, seasons: Seasons, voice: Voice) -> Part:
    """Whether a rig pays at one site, and how that moves."""
    columns = sway_columns(pays, voice, seasons.file.money.currency)
    notes = tuple(pays_site_sentences(pays, seasons, voice))
    return Part(pays.site, notes, (("", columns),))
