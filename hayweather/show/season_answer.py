"""The consultant's two questions answered first: which place has dew, and does a rig pay."""

from __future__ import annotations

from collections.abc import Sequence

from hayweather.seasons.record.results import Pays, Seasons
from hayweather.show.season_phrases import money_text
from hayweather.show.voice import Voice

MOST_NAMED = 6
"""Places named in a sentence; the tables hold all of them."""


def answer_sentences(seasons: Seasons, voice: Voice) -> list[str]:
    """Places by how often dew serves, then whether a rig pays; nothing where not known.

    Parameters
    ----------
    seasons
        What to show.
    voice
        Language and units of the reader.

    Returns
    -------
    list of str
        Sentences for the top of the answer, from the same figures as its tables.
    """
    return [*_dew(seasons, voice), *_rig(seasons, voice)]


def _dew(seasons: Seasons, voice: Voice) -> list[str]:
    """Nights with usable dew in a hundred that count, most first."""
    shares = {
        site.site.name: site.pooled.with_dew / site.pooled.counted
        for site in seasons.sites
        if site.pooled.counted
    }
    ranked = sorted(shares, key=lambda name: -shares[name])
    if not ranked:
        return []
    parts = [f"{name} ({100 * shares[name]:.0f})" for name in ranked]
    hours = f"{seasons.file.baler.useful_hours:g}"
    return [voice.say("seasons_answer_dew", hours=hours, places=_named(parts, voice))]


def _rig(seasons: Seasons, voice: Voice) -> list[str]:
    """Where a rig leaves money in an average year, and where it does not."""
    ranked = sorted(seasons.pays, key=lambda pays: -pays.net)
    said = []
    for key, chosen in (
        ("seasons_answer_pays", [pays for pays in ranked if pays.net > 0]),
        ("seasons_answer_pays_not", [pays for pays in ranked if not pays.net > 0]),
    ):
        if chosen:
            places = _named([_money(pays, seasons, voice) for pays in chosen], voice)
            said.append(voice.say(key, places=places))
    return said


def _money(pays: Pays, seasons: Seasons, voice: Voice) -> str:
    return f"{pays.site} ({money_text(pays.net, voice, seasons.file.money.currency)})"


def _named(parts: Sequence[str], voice: Voice) -> str:
    """The first places, and how many more there are."""
    more = len(parts) - MOST_NAMED
    shown = ", ".join(parts[:MOST_NAMED])
    return shown if more <= 0 else voice.say("seasons_answer_more", places=shown, count=more)
