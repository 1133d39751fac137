"""The first screen of a field, in sentences a farmer reads at four in the morning."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.baling.windows import RAKE_LEAF_WB
from hayweather.catalog import crop_of
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.phrases import phrase
from hayweather.show.runs import Run, call_runs, notes_of
from hayweather.show.sentences_check import check_sentence, look_sentence
from hayweather.show.sentences_windows import (
    chance_sentence,
    dew_sentences,
    later_sentence,
    rig_sentences,
)
from hayweather.show.voice import Voice, capital
from hayweather.words import Remark

LEAST_DOUBT_HOURS = 0.25
FIRST_SCREEN_CAUTIONS = ("caution_rain_ahead", "caution_frost", "caution_rain_unknown")


def farm_voice(outlook: Night, units: UnitSystem) -> Voice:
    """How to speak of a whole farm: its language, zone and night of its first field."""
    first = outlook.fields[0]
    timezone = str(first.setting.site.timezone)
    return Voice(outlook.farm.language, units, timezone, first.headline.evening)


def field_voice(field: FieldNight, voice: Voice) -> Voice:
    """How to speak of one field: its own zone and night."""
    timezone = str(field.setting.site.timezone)
    return replace(voice, timezone=timezone, evening=field.headline.evening)


def field_title(field: FieldNight, voice: Voice) -> str:
    """Name, crop and area of a field."""
    record = field.setting.field
    crop = voice.say(crop_of(record.crop).text)
    if record.area_m2 is None:
        return voice.say("outlook_field_without_area", field=record.name, crop=crop)
    area = voice.counted(record.area_m2, "area")
    return voice.say("outlook_field", field=record.name, crop=crop, area=area)


def field_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """What the night brings to a field, most important first."""
    return [
        *_stops(field, voice),
        *(dew_sentences(field, voice) or _no_dew(field, voice)),
        *rig_sentences(field, voice),
        *_rake(field, voice),
        *_cautions(field, voice),
        *check_sentence(field, voice),
        *look_sentence(field, voice),
        *_doubt(field, voice),
        *later_sentence(field, voice),
        *(voice.say("outlook_note", note=phrase(remark, voice)) for remark in field.remarks),
    ]


def night_hours(field: FieldNight) -> list[HourCall]:
    """The hours before the night ends at 14:00."""
    return [hour for hour in field.hours if hour.start < field.headline.turn]


def _stops(field: FieldNight, voice: Voice) -> list[str]:
    """Why and when work stops."""
    return [
        voice.say(
            "outlook_stop",
            reason=phrase(note.remark, voice),
            spans=voice.listed([voice.span(*span) for span in note.spans]),
        )
        for note in notes_of(night_hours(field))
        if note.is_stop
    ]


def _cautions(field: FieldNight, voice: Voice) -> list[str]:
    """The cautions of the night that decide about going out."""
    found: dict[str, Remark] = {}
    for hour in night_hours(field):
        for remark in hour.cautions:
            if remark.key in FIRST_SCREEN_CAUTIONS:
                found[remark.key] = max(remark, found.get(remark.key, remark), key=_amount)
    return [capital(phrase(remark, voice)) + "." for remark in found.values()]


def _amount(remark: Remark) -> float:
    """The amount a caution names, to take the largest of several hours."""
    amount = remark.values.get("amount")
    return float(amount[0]) if isinstance(amount, tuple) else 0.0


def _no_dew(field: FieldNight, voice: Voice) -> list[str]:
    """Why there is no window on dew tonight, and when the next may be."""
    hours = night_hours(field)
    counts = Counter(hour.call for hour in hours)
    stopped = sum(hour.stop and hour.call == Call.NATURAL_DEW for hour in hours)
    sentences = [_why_none(field, hours, counts, stopped, voice)]
    if counts[Call.NO_DATA] == len(hours):
        return sentences
    if counts[Call.NOT_CURED] < len(hours):
        sentences += chance_sentence(field, voice)
    night = field.headline.next_night
    if night is None:
        return [*sentences, voice.say("outlook_next_none")]
    return [*sentences, voice.say("outlook_next", night=voice.night(night))]


def _why_none(
    field: FieldNight,
    hours: Sequence[HourCall],
    counts: Counter[Call],
    stopped: int,
    voice: Voice,
) -> str:
    """The one sentence on a night without dew to bale on."""
    most = max(counts, key=lambda call: counts[call])
    if most in (Call.NO_DATA, Call.NOT_CURED):
        run = next(run for run in call_runs(hours) if run.call == most)
        return _unknown_or_uncured(run, voice)
    if stopped:
        return voice.say("outlook_none_stop", hours=voice.hours(stopped))
    if counts[Call.TOO_WET]:
        return voice.say("outlook_none_wet", wet=counts[Call.TOO_WET])
    return _too_dry(field, hours, voice)


def _unknown_or_uncured(run: Run, voice: Voice) -> str:
    """A night that cannot be called, or of hay that is not cured."""
    if run.call == Call.NOT_CURED:
        return voice.say("outlook_none_uncured")
    reasons = voice.listed([phrase(remark, voice) for remark in run.reasons])
    return voice.say("outlook_none_no_data", reason=reasons)


def _too_dry(field: FieldNight, hours: Sequence[HourCall], voice: Voice) -> str:
    """How near a dry night comes."""
    band = field.setting.band
    highest = float(np.nanmax([hour.hay.windrow_wb for hour in hours]))
    low, high = voice.amount(band.low_wb, "percent"), voice.amount(band.high_wb, "percent")
    if highest < band.low_wb or band.leaf_minimum_wb is None:
        return voice.say("outlook_none_dry", highest=voice.amount(highest, "percent"), low=low)
    leaf = voice.amount(band.leaf_minimum_wb, "percent")
    return voice.say("outlook_none_leaf", leaf=leaf, low=low, high=high)


def _rake(field: FieldNight, voice: Voice) -> list[str]:
    """When to rake; that there is no time only where the hay is not yet raked."""
    tonight = [window for window in field.rake if window.start < field.headline.turn]
    if tonight:
        spans = voice.listed([voice.span(window.start, window.end) for window in tonight])
        return [voice.say("outlook_rake", spans=spans)]
    record = field.setting.field
    if record.cured is True or record.raked_at is not None or record.moisture_now_wb is not None:
        return []
    low, high = (voice.amount(value, "percent") for value in RAKE_LEAF_WB)
    return [voice.say("outlook_rake_none", low=low, high=high)]


def _doubt(field: FieldNight, voice: Voice) -> list[str]:
    """What the hours on dew hang on most."""
    doubt = field.headline.doubt
    if doubt is None or float(str(doubt.values["hours"])) < LEAST_DOUBT_HOURS:
        return []
    return [voice.say("outlook_doubt", doubt=phrase(doubt, voice))]
