"""When a page or a calendar was made, of which forecast, and until when it serves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hayweather.nights import Night
from hayweather.nights.trust import OLD_CAUTION_HOURS
from hayweather.show.voice import Voice
from hayweather.show.weather_facts import source_text, weather_summary


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
