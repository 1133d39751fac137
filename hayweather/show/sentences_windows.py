"""Windows in sentences: on natural dew, and with the rig."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.headline import Work
from hayweather.baling.windows import Window
from hayweather.nights import FieldNight
from hayweather.show.phrases import phrase
from hayweather.show.voice import Voice
from hayweather.weather.record import HOUR
from hayweather.windrow.sky import sun_elevation

AFTER = {
    Call.TOO_WET: "after_too_wet",
    Call.ADD_MOISTURE: "after_dry",
    Call.TOO_DRY: "after_dry",
    Call.NO_DATA: "after_no_data",
    Call.NOT_CURED: "after_not_cured",
}
DRY = (Call.TOO_DRY, Call.ADD_MOISTURE)
MUCH = 1.3  # a rate that changes by this factor is said to fall or rise
STEADY = 0.05  # a rate that changes by less than this share is said as one


def dew_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """When to bale on natural dew, and what that gets done; nothing where there is none."""
    dew = field.headline.dew
    if not dew:
        return []
    sentences = [_dew(field, dew, voice), *_sureness(field, voice)]
    if any(h.humid_air for h in field.hours if h.start < field.headline.turn):
        sentences.append(voice.say("outlook_humid"))
    return [*sentences, *_work(field, field.headline.dew_work, voice)]


def chance_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """The chance of a useful night; nothing where there is one forecast only."""
    share = field.headline.dew_chance
    if share is None:
        return []
    hours = voice.hours(field.setting.baler.useful_hours)
    return [voice.say("outlook_chance", hours=hours, chance=voice.chance(share))]


def _sureness(field: FieldNight, voice: Voice) -> list[str]:
    """The chance of a useful night, and how far the first start may move."""
    sentences = chance_sentence(field, voice)
    first = field.headline.dew[0]
    if first.start > field.span.first and first.start_range is not None:
        start, end = (voice.when(time) for time in first.start_range)
        sentences.append(voice.say("outlook_dew_start", start=start, end=end))
    return sentences


def _dew(field: FieldNight, dew: Sequence[Window], voice: Voice) -> str:
    """The windows on dew in one sentence."""
    spans = [_span(field, window, voice) for window in dew]
    hours = [voice.hours(window.hours) for window in dew]
    after = _after(field, dew[0], voice)
    if len(dew) > 2 or (len(dew) == 2 and after is None):
        total = voice.hours(sum(window.hours for window in dew))
        return voice.say("outlook_dew_many", spans=voice.listed(spans), hours=total)
    if len(dew) == 1:
        key = "outlook_dew_one_plain" if after is None else "outlook_dew_one"
        return voice.say(key, span=spans[0], hours=hours[0], after=after)
    key = "outlook_dew_two_sunrise" if _sun_rises_between(field, *dew) else "outlook_dew_two"
    return voice.say(
        key, first=spans[0], hours1=hours[0], after=after, second=spans[1], hours2=hours[1]
    )


def _span(field: FieldNight, window: Window, voice: Voice) -> str:
    """``"from 1:15 am to 4:30 am"``; open at the end where it outlasts the night."""
    now, on = window.start <= field.span.first, _goes_on(field, window)
    values = {"start": voice.when(window.start), "end": voice.when(window.end, is_end=True)}
    if on:
        return voice.say("span_now_on" if now else "span_on", **values)
    return voice.say("span_from_now" if now else "span_from_to", **values)


def _goes_on(field: FieldNight, window: Window) -> bool:
    """Whether a window of tonight was cut at the end of the night and lasts longer."""
    return any(
        whole.call == window.call and whole.start <= window.start and whole.end > window.end
        for whole in field.windows
    )


def _after(field: FieldNight, window: Window, voice: Voice) -> str | None:
    """What comes after a window; None where it outlasts the night or the weather."""
    hour = next((hour for hour in field.hours if hour.start + HOUR > window.end), None)
    if hour is None or window.end >= field.headline.turn:
        return None
    if hour.stop:
        return voice.say("after_stop")
    row = int((window.end - field.shown.weather.start[0]) / np.timedelta64(900, "s"))
    call, middle = Call(int(field.shown.quarters.call[row, 0])), int(field.shown.middle[row])
    if call == Call.TOO_DRY and middle not in DRY:
        return voice.say("after_wait")
    return None if call not in AFTER else voice.say(AFTER[call])


def _sun_rises_between(field: FieldNight, first: Window, second: Window) -> bool:
    """Whether the sun comes up after the first window began and before the second ends its hour."""
    place = field.setting.place
    times = np.array([[first.start], [second.start + HOUR]])
    height = sun_elevation(times, place.latitude, place.longitude)
    return bool(height[0, 0] < 0 < height[1, 0])


def _work(field: FieldNight, work: Work, voice: Voice) -> list[str]:
    """Acres and tons that the baler does in these hours."""
    capacity = field.setting.baler.capacity_kg_h
    if work.mass_kg is None or capacity is None:
        return []
    values = {
        "capacity": voice.amount(capacity, "capacity"),
        "mass": voice.counted(work.mass_kg, "tons"),
    }
    if work.area_m2 is None:
        return [voice.say("outlook_work_mass", **values)]
    values["area"] = voice.counted(work.area_m2, "area")
    if work.area_m2 == field.setting.field.area_m2:
        hours = voice.hours(round(work.mass_kg / capacity, 1))
        return [voice.say("outlook_work_all", **values, hours=hours)]
    return [voice.say("outlook_work", **values)]


def rig_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """When the rig can help and with how much water; why not, where a rig stands idle."""
    setting, rig = field.setting, field.headline.rig
    if setting.rig is None:
        return []
    if rig:
        windows = [_rig_window(field, window, voice) for window in rig]
        return [voice.say("outlook_rig", windows="; ".join(windows))]
    reason = _why_no_rig(field, voice)
    return [] if reason is None else [voice.say("outlook_rig_none", reason=reason)]


def later_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """Windows on dew of the night after, for planning."""
    turn = field.headline.turn
    later = [w for w in field.windows if w.call == Call.NATURAL_DEW and w.start >= turn]
    if not later:
        return []
    evening = field.headline.evening + timedelta(days=1)
    then = replace(voice, evening=evening)
    spans = [
        then.say(
            "span_from_to", start=then.when(window.start), end=then.when(window.end, is_end=True)
        )
        for window in later
    ]
    return [voice.say("outlook_later", night=voice.night(evening), spans=voice.listed(spans))]


def _rig_window(field: FieldNight, window: Window, voice: Voice) -> str:
    """One window with its gallons per ton, in the direction they go."""
    rates = [
        hour.water_l_t
        for hour in field.hours
        if window.start < hour.start + HOUR and hour.start < window.end
    ]
    rates = [rate for rate in rates if np.isfinite(rate)]
    span, unit = _span(field, window, voice), voice.say(f"amount_water_rate_{voice.units}")
    if not rates or window.water_l_t is None:
        return span
    low, high = window.water_l_t
    values = {"low": voice.number(low, "water_rate"), "high": voice.number(high, "water_rate")}
    if high - low < STEADY * high:
        return voice.say("outlook_rig_window", span=span, water=f"{values['high']} {unit}")
    return voice.say(_direction(rates), span=span, **values, unit=unit)


def _direction(rates: Sequence[float]) -> str:
    """Key of the text for a rate that falls, rises, or ends near where it began."""
    if rates[-1] < rates[0] / MUCH:
        return "outlook_rig_falling"
    return "outlook_rig_rising" if rates[-1] > rates[0] * MUCH else "outlook_rig_between"


def _why_no_rig(field: FieldNight, voice: Voice) -> str | None:
    """The commonest reason of the night's dry hours; None where none is too dry."""
    reasons = [
        hour.reasons[-1]
        for hour in field.hours
        if hour.call == Call.TOO_DRY and hour.start < field.headline.turn and not hour.stop
    ]
    keys = Counter(remark.key for remark in reasons)
    if not keys:
        return None
    key = keys.most_common(1)[0][0]
    return phrase(next(remark for remark in reasons if remark.key == key), voice)
