"""What stands behind an outlook: source of the weather, its age, until when it serves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from hayweather.nights import Night
from hayweather.nights.trust import OLD_CAUTION_HOURS, WeatherFacts
from hayweather.show.table import Column, Table
from hayweather.show.voice import Voice, phrases, unique
from hayweather.weather.record import Assumption


@dataclass(frozen=True)
class WeatherSummary:
    """The weather of all sites of an outlook together.

    Attributes
    ----------
    source, attribution
        Names and attributions, each once.
    issued, fetched
        The oldest, UTC; None where not known.
    age_hours
        Of the oldest forecast; None where not known.
    hours_missing
        Hours of the outlook without a needed value, all sites.
    assumed
        Assumptions and repairs, each once.
    stored
        True when a stored forecast serves for a site because the service did not.
    """

    source: str
    issued: np.datetime64 | None
    fetched: np.datetime64 | None
    age_hours: float | None
    attribution: str
    hours_missing: int
    assumed: tuple[Assumption, ...]
    stored: bool


WEATHER = Table(
    (
        Column("source", "Names of the sources", kind="text"),
        Column("issued", "When the oldest forecast was issued", kind="time", null=True),
        Column("fetched", "When the oldest forecast was fetched", kind="time", null=True),
        Column("age_hours", "Age of the oldest forecast", unit="h"),
        Column("stored", "A stored forecast serves because the service did not", kind="truth"),
        Column("attribution", "What the sources ask to be said", kind="text"),
        Column("hours_missing", "Hours without a needed value, all sites", kind="count"),
        Column("assumed", "Assumptions and repairs", kind="remarks"),
    ),
    "The weather of all sites together.",
)


def weather_summary(outlook: Night) -> WeatherSummary:
    """The weather of all sites together, the oldest age and the earliest end."""
    by_site = {field.setting.site.name: field.facts for field in outlook.fields}
    return summary_of(list(by_site.values()))


def summary_of(facts: Sequence[WeatherFacts]) -> WeatherSummary:
    """The weather of several sites together."""
    sources = [item.weather.source for item in facts]
    ages = [item.age_hours for item in facts if item.age_hours is not None]
    return WeatherSummary(
        source=", ".join(unique(source.name for source in sources)),
        issued=_oldest([source.issued for source in sources]),
        fetched=_oldest([source.fetched for source in sources]),
        age_hours=max(ages) if ages else None,
        attribution=" ".join(unique(s.attribution for s in sources if s.attribution)),
        hours_missing=sum(item.hours_missing for item in facts),
        assumed=_assumed(facts),
        stored=any(source.stored for source in sources),
    )


def _oldest(times: list[np.datetime64 | None]) -> np.datetime64 | None:
    """The earliest known time."""
    known = [time for time in times if time is not None]
    return min(known) if known else None


def _assumed(facts: Sequence[WeatherFacts]) -> tuple[Assumption, ...]:
    """Assumptions of all sites, each once."""
    found = {}
    for item in facts:
        for assumption in item.assumed:
            found[assumption.key, str(assumption.values)] = assumption
    return tuple(found.values())


def source_text(
    name: str,
    issued: np.datetime64 | None,
    fetched: np.datetime64 | None,
    age_hours: float | None,
    voice: Voice,
) -> str:
    """Source of the weather, when it was issued, else fetched, and how old it is."""
    time = fetched if issued is None else issued
    if time is None or age_hours is None:
        return voice.say("outlook_weather", source=name)
    key = "outlook_weather_fetched" if issued is None else "outlook_weather_issued"
    return voice.say(key, source=name, time=voice.when(time), age=f"{age_hours:.0f}")


def weather_lines(summary: WeatherSummary, voice: Voice) -> list[str]:
    """Source, age, attribution, gaps and assumptions as lines for people."""
    times = (summary.issued, summary.fetched)
    lines = [source_text(summary.source, *times, summary.age_hours, voice)]
    if summary.attribution:
        lines.append(summary.attribution)
    if summary.hours_missing:
        lines.append(voice.say("outlook_missing", count=summary.hours_missing))
    if summary.assumed:
        items = "; ".join(phrases(summary.assumed, voice))
        lines.append(voice.say("outlook_assumed", items=items))
    return lines


def serves_until(outlook: Night) -> np.datetime64:
    """UTC time after which a new outlook should be had.

    Twelve hours after the forecast was made (after now, where that is not
    known), and no later than the end of the first field's night.
    """
    summary = weather_summary(outlook)
    made = summary.fetched if summary.issued is None else summary.issued
    if made is None or outlook.farm.weather.invented:
        made = outlook.now
    old = made + np.timedelta64(round(3600 * OLD_CAUTION_HOURS), "s")
    return min(old, min(field.headline.turn for field in outlook.fields))


def made_lines(outlook: Night, voice: Voice) -> list[str]:
    """Made when, of which forecast, and when to get a new one."""
    dated = replace(voice, evening=None)
    summary = weather_summary(outlook)
    until = serves_until(outlook)
    times = (summary.issued, summary.fetched)
    lines = [
        voice.say("page_made", time=dated.when(outlook.now)),
        source_text(summary.source, *times, summary.age_hours, dated),
    ]
    if until <= outlook.now:
        return [*lines, voice.say("page_renew_now")]
    return [*lines, voice.say("page_renew", time=dated.when(until))]
