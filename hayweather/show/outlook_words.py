"""The outlook of a field in sentences that a farmer reads at four in the morning."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from itertools import groupby
from string import ascii_lowercase, ascii_uppercase

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.calls import AS_IT_LIES, BALED, Call
from hayweather.baling.clock import hour_index
from hayweather.baling.headline import Check, Work
from hayweather.baling.hours import HourCall
from hayweather.baling.setting import Setting, with_machines
from hayweather.baling.windows import RAKE_LEAF_WB, RakeWindow, Window
from hayweather.catalog import crop_of
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.station_words import station_sentences
from hayweather.show.voice import (
    RAIN,
    RAIN_CHANCE,
    Voice,
    capital,
    merge,
    night_of_local,
    phrase,
    rain_spells,
    sentence,
)
from hayweather.weather.record import HOUR
from hayweather.windrow.readings import Reading
from hayweather.windrow.sky import sun_elevation
from hayweather.windrow.trajectory import QUARTER
from hayweather.words import Remark


@dataclass(frozen=True)
class Run:
    """Consecutive hours with one call; UTC. Reasons of all hours, numbers as ranges."""

    call: Call
    start: np.datetime64
    end: np.datetime64
    reasons: tuple[Remark, ...]


@dataclass(frozen=True)
class Note:
    """A stop or caution and the hours it holds.

    Attributes
    ----------
    mark
        Letter in the table: large for a stop, small for a caution, empty where
        it holds in all hours.
    remark
        What it says, its numbers as ranges.
    spans
        (start, end) of its hours, UTC.
    is_stop
        True for a reason to stop.
    """

    mark: str
    remark: Remark
    spans: tuple[tuple[np.datetime64, np.datetime64], ...]
    is_stop: bool


def is_stop(remark: Remark) -> bool:
    """Whether a reason is one to stop."""
    return remark.key.startswith("stop_")


def call_runs(hours: Sequence[HourCall]) -> list[Run]:
    """Consecutive hours with one call for one kind of reason; stops stand in the notes."""
    found = []
    for (call, _), group in groupby(hours, key=lambda hour: (hour.call, _differs(hour))):
        block = list(group)
        reasons = [r for hour in block for r in hour.reasons if not is_stop(r)]
        found.append(Run(call, block[0].start, block[-1].start + HOUR, tuple(merge(reasons))))
    return found


def _differs(hour: HourCall) -> str:
    """Why the call is not that of the middle forecast; empty where it is."""
    return next((r.key for r in hour.reasons if r.key.startswith("reason_differs")), "")


def notes_of(hours: Sequence[HourCall]) -> list[Note]:
    """Every stop and caution of some hours once, stops first, with a letter each."""
    stops = _by_key(hours, stops=True)
    cautions = _by_key(hours, stops=False)
    return [
        *_lettered(stops, hours, ascii_uppercase, is_stop=True),
        *_lettered(cautions, hours, ascii_lowercase, is_stop=False),
    ]


def marks_of(notes: Sequence[Note]) -> dict[np.datetime64, str]:
    """Letters of each hour, by its UTC start."""
    marks: dict[np.datetime64, str] = {}
    for note in notes:
        for start, end in note.spans:
            for hour in np.arange(start, end, HOUR):
                marks[hour] = marks.get(hour, "") + note.mark
    return marks


def _by_key(hours: Sequence[HourCall], *, stops: bool) -> list[list[tuple[np.datetime64, Remark]]]:
    """Stops, or cautions, by text, each rain by itself, with the hours they stand in."""
    found: dict[tuple[str, int], list[tuple[np.datetime64, Remark]]] = {}
    said = [
        (hour.start, remark)
        for hour in hours
        for remark in (filter(is_stop, hour.reasons) if stops else hour.cautions)
    ]
    spells = rain_spells([remark for _, remark in said])
    for (start, remark), spell in zip(said, spells, strict=True):
        found.setdefault((remark.key, spell), []).append((start, remark))
    return list(found.values())


def _lettered(
    found: Sequence[Sequence[tuple[np.datetime64, Remark]]],
    hours: Sequence[HourCall],
    letters: str,
    *,
    is_stop: bool,
) -> list[Note]:
    """Notes with a letter each; what holds in all hours needs none."""
    notes, free = [], iter(letters)
    for items in found:
        everywhere = len(items) == len(hours) and not is_stop
        mark = "" if everywhere else next(free, "*")
        remark = merge([remark for _, remark in items])[0]
        notes.append(Note(mark, remark, _spans([start for start, _ in items]), is_stop))
    return notes


def _spans(starts: Sequence[np.datetime64]) -> tuple[tuple[np.datetime64, np.datetime64], ...]:
    """Consecutive hours as spans."""
    spans: list[tuple[np.datetime64, np.datetime64]] = []
    for start in starts:
        if spans and spans[-1][1] == start:
            spans[-1] = (spans[-1][0], start + HOUR)
        else:
            spans.append((start, start + HOUR))
    return tuple(spans)


@dataclass(frozen=True)
class AnswerLine:
    """``"natural dew: 1:15 am to 4:30 am"``: a call, what to do, its stretches of time."""

    call: Call
    advice: Advice
    text: str


def tonight_lines(field: FieldNight, voice: Voice, *, details: bool = True) -> list[AnswerLine]:
    """The night in a line a call: windows, then maybe windows, then what is unknown."""
    head = field.headline
    windows = (*head.dew, *head.ready, *head.rig)
    return answer_lines(field, windows, head.maybe, voice, details=details)


def answer_lines(
    field: FieldNight,
    windows: Sequence[Window],
    maybe: Sequence[Window],
    voice: Voice,
    *,
    details: bool = True,
) -> list[AnswerLine]:
    """A line for each ready call with windows of go, then with maybe windows, then the unknown.

    Empty where nothing can be baled and all of tonight is known. With `details`
    windows of go have their water and chances beside them.
    """
    lines = []
    for advice, key, found in (
        (Advice.GO, "chart_windows", windows),
        (Advice.PROBE_FIRST, "chart_maybe", maybe),
    ):
        for call in BALED:
            shown = [item for item in found if item.call == call]
            more = details and advice == Advice.GO
            texts = [_window(item, voice, details=more) for item in shown]
            if texts:
                text = voice.say(key, call=voice.call(call), windows="; ".join(texts))
                lines.append(AnswerLine(call, advice, text))
    unknown = [
        AnswerLine(run.call, Advice.UNKNOWN, unknown_text(run, voice))
        for run in unknown_runs(field)
    ]
    return [*lines, *unknown]


def _window(window: Window, voice: Voice, *, details: bool) -> str:
    """One window, on request with the water to add and its chances."""
    span, chances = voice.span(window.start, window.end), _tenths(window)
    told = [*water_words(window, voice)] if details else []
    if details and chances:
        told.append(voice.say("window_chances_short", **chances))
    if not told:
        return span
    return voice.say("chart_window_details", span=span, details=", ".join(told))


def water_words(window: Window, voice: Voice) -> list[str]:
    """Water to add: ``["6.5 to 24.0 gal/ton"]``; nothing on dew."""
    if window.water_l_t is None or not np.isfinite(window.water_l_t).all():
        return []
    return [voice.between(*window.water_l_t, "water_rate")]


def chance_words(window: Window, voice: Voice) -> list[str]:
    """Its chances, of all of it and of half; nothing without forecast runs."""
    chances = _tenths(window)
    return [voice.say("window_chances", **chances)] if chances else []


def _tenths(window: Window) -> dict[str, str]:
    """Chances of all of a window and of half of it, as times in ten; empty without runs."""
    whole, half = window.good_throughout, window.half_good
    if whole is None or half is None:
        return {}
    return {"whole": f"{10 * whole:.0f}", "half": f"{10 * half:.0f}"}


AFTER = {
    Call.TOO_WET: "after_too_wet",
    Call.DAMP_BELOW: "after_damp_below",
    Call.ADD_MOISTURE: "after_dry",
    Call.TOO_DRY: "after_dry",
    Call.NO_DATA: "after_no_data",
    Call.NOT_CURED: "after_not_cured",
}
MUCH = 1.3  # a rate that changes by this factor is said to fall or rise


def dew_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """When to bale as the hay lies, and what that gets done; nothing where there is no window."""
    head = field.headline
    if not head.as_it_lies:
        return []
    dew, ready = [], []
    if head.dew:
        dew = [_dew(field, head.dew, voice)]
    if head.ready:
        spans = voice.listed([_span(field, window, voice) for window in head.ready])
        hours = _length(sum(window.hours for window in head.ready), voice)
        ready = [voice.say("outlook_ready", spans=spans, hours=hours)]
    return [
        *dew,
        *ready,
        *_start(field, voice),
        *chance_sentence(field, voice),
        *_throughout(head.as_it_lies, voice),
        *(_work(field, head.dew_work, voice) if head.dew else []),
        *(_work(field, head.ready_work, voice) if head.ready else []),
    ]


def _length(hours: float, voice: Voice) -> str:
    """``"1.5 h"``, ``"15 min"``."""
    return voice.hours(hours) if hours >= 1 else voice.duration(hours)


def _throughout(windows: Sequence[Window], voice: Voice) -> list[str]:
    """How sure each window is as a whole."""
    told = [(window, _tenths(window)) for window in windows]
    told = [(window, chances) for window, chances in told if chances]
    if len(told) == 1:
        return [voice.say("outlook_good", **told[0][1])]
    texts = [
        voice.say(
            "outlook_good_more" if number else "outlook_good_first",
            start=voice.when(window.start),
            **chances,
        )
        for number, (window, chances) in enumerate(told)
    ]
    return ["; ".join(texts) + "."] if texts else []


MAYBE_WAYS = {
    Call.NATURAL_DEW: "maybe_dew",
    Call.READY: "maybe_ready",
    Call.ADD_MOISTURE: "maybe_rig",
}


def maybe_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """Windows of tonight in which to probe first, by way."""
    ways = []
    for call, key in MAYBE_WAYS.items():
        windows = [item for item in maybe_windows(field) if item.call == call]
        if windows:
            spans = voice.listed([_span(field, item, voice) for item in windows])
            ways.append(voice.say(key, spans=spans))
    return [voice.say("outlook_maybe", ways="; ".join(ways))] if ways else []


def asks_for_stems(field: FieldNight) -> bool:
    """Whether no hour is called go because nobody has said that the hay is cured."""
    return any(remark.key == "advice_probe_stems" for remark in field.shown.limits_said)


def held_only_by(field: FieldNight) -> Remark | None:
    """What alone keeps hours of tonight from being go: a reading near the ceiling, no rain told.

    None where some hour is go, or none would be without it.
    """
    course = field.shown
    free = replace(course, limits_said=(), held=np.zeros_like(course.held)).at_risk(field.risk)
    tonight = course.weather.start[0] + np.arange(course.advice.size) * QUARTER
    told = course.advice[tonight < field.headline.turn]
    would = (free.advice == Advice.GO)[: told.size] & (told == Advice.PROBE_FIRST)
    if not would.any() or (told == Advice.GO).any():
        return None
    if (would & course.held[: told.size]).any():
        return Remark("advice_near_ceiling")
    return course.limits_said[0] if course.limits_said else None


def may_have_dew(field: FieldNight) -> bool:
    """Whether the hay may be ready as it lies for a useful time, though no window is named."""
    chance = field.headline.dew_chance
    return chance is not None and chance >= field.risk.probe


def stems_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """That the stems are to be probed, where nobody has said that the hay is cured."""
    return [voice.say("outlook_probe_stems")] if asks_for_stems(field) else []


def unknown_runs(field: FieldNight) -> list[Run]:
    """The hours of tonight that nobody can call, those after the weather's end among them."""
    runs = [run for run in call_runs(night_hours(field)) if run.call == Call.NO_DATA]
    end, turn = field.shown.weather.end[0], field.headline.turn
    if end < turn:
        ends = Remark("reason_weather_ends", {"time": end})
        runs.append(Run(Call.NO_DATA, end, turn, (ends,)))
    return runs


def unknown_text(run: Run, voice: Voice) -> str:
    """Which hours nobody can call, why, and what to do, without a full stop."""
    missing = [item for item in run.reasons if item.key.startswith("reason_missing")]
    said = [phrase(item, voice) for item in missing or run.reasons]
    reason = voice.listed(said) if missing else "; ".join(said)
    return voice.say("unknown_hours", span=voice.span(run.start, run.end), reason=reason)


def unknown_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """What is unknown of tonight, and what to do; nothing where all hours are called."""
    texts = [capital(unknown_text(run, voice)) + "." for run in unknown_runs(field)]
    return [*texts, voice.say("unknown_do")] if texts else []


def reading_words(reading: Reading, voice: Voice) -> str:
    """``"14 %"``, or ``"14 % (3 readings, 12 to 16 %)"`` of several places taken together."""
    value = voice.amount(reading.true_wb, "percent")
    if not reading.values_wb:
        return value
    low, high = min(reading.values_wb), max(reading.values_wb)
    places = f"{voice.say('range', low=f'{low:.3g}', high=f'{high:.3g}')} %"
    return voice.say("reading_places", value=value, count=len(reading.values_wb), places=places)


def reading_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """What was read this night, and where."""
    told = [
        voice.say(
            "outlook_reading",
            part=voice.say(f"log_kind_{reading.kind}"),
            value=reading_words(reading, voice),
            time=voice.when(reading.time),
        )
        for reading in field.readings
    ]
    return [voice.say("outlook_readings", readings="; ".join(told))] if told else []


def chance_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """The chance of a useful night; nothing where there is one forecast only."""
    share = field.headline.dew_chance
    if share is None:
        return []
    useful, named = field.setting.baler.useful_hours, field.headline.as_it_lies
    if named and sum(window.hours for window in named) < useful:
        return []
    hours = voice.hours(useful)
    key = "outlook_chance_inside" if field.headline.as_it_lies else "outlook_chance"
    return [voice.say(key, hours=hours, chance=voice.chance(share))]


def _start(field: FieldNight, voice: Voice) -> list[str]:
    """How far the first start may move; nothing where it may not."""
    first = field.headline.as_it_lies[0]
    if first.start <= begins(field) or first.start_range is None:
        return []
    start, end = (voice.when(time) for time in first.start_range)
    key = "outlook_dew_start" if first.call == Call.NATURAL_DEW else "outlook_ready_start"
    return [voice.say(key, start=start, end=end)] if start != end else []


def _dew(field: FieldNight, dew: Sequence[Window], voice: Voice) -> str:
    """The windows on dew in one sentence."""
    spans = [_span(field, window, voice) for window in dew]
    hours = [_length(window.hours, voice) for window in dew]
    after = _after(field, dew[0], voice)
    if len(dew) > 2 or (len(dew) == 2 and after is None):
        total = _length(sum(window.hours for window in dew), voice)
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
    now, on = window.start <= begins(field), goes_on(field, window)
    values = {"start": voice.when(window.start), "end": voice.when(window.end, is_end=True)}
    if on:
        return voice.say("span_now_on" if now else "span_on", **values)
    return voice.say("span_from_now" if now else "span_from_to", **values)


def begins(field: FieldNight) -> np.datetime64:
    """The minute of now, or the first hour where none is told."""
    return field.span.first if field.shown.now is None else max(field.shown.now, field.span.first)


def goes_on(field: FieldNight, window: Window) -> bool:
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
    call = Call(int(field.shown.quarters.call[row, 0]))
    if field.shown.advice[row] == Advice.PROBE_FIRST:
        return voice.say("after_probe")
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
    if any(window.call == Call.ADD_MOISTURE for window in field.headline.maybe):
        return []
    if unknown_runs(field):
        return []
    reason = _why_no_rig(field, voice)
    return [] if reason is None else [voice.say("outlook_rig_none", reason=reason)]


def later_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """Windows on dew of the night after, for planning."""
    turn = field.headline.turn
    later = [w for w in field.windows if w.call in AS_IT_LIES and w.start >= turn]
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
    span, unit = _span(field, window, voice), voice.say(f"amount_water_rate_{voice.units}")
    water = rate_words(field.shown.rates_between(window.start, window.end), unit, voice)
    return voice.say("outlook_rig_window", span=span, water=water) if water else span


RATE_KEYS = ("outlook_rig_falling", "outlook_rig_rising", "outlook_rig_between")


def rate_words(
    rates: Sequence[float],
    unit: str,
    voice: Voice,
    keys: tuple[str, str, str] = RATE_KEYS,
) -> str:
    """``"24 falling to 4 gal/ton"``: the water of a stretch, in the direction it goes.

    Parameters
    ----------
    rates
        To dial in it, in order of time [L/t]; none: empty.
    unit
        Words of the unit.
    keys
        Of the texts for a rate that falls, rises, and ends near where it began.
    """
    if not rates:
        return ""
    low, high = (voice.short(rate, "water_rate") for rate in (min(rates), max(rates)))
    if low == high:
        return f"{high} {unit}"
    falling, rising, between = keys
    key = between
    if rates[-1] < rates[0] / MUCH:
        key = falling
    elif rates[-1] > rates[0] * MUCH:
        key = rising
    return voice.say(key, low=low, high=high, unit=unit)


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


def check_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """What a reading should show tonight, and what follows if it does not."""
    check = field.headline.check
    if check is None:
        return []
    lying = field.headline.as_it_lies
    lying = lying or tuple(item for item in field.headline.maybe if item.call in AS_IT_LIES)
    first = lying[0].start if lying else None
    low, high = shown_range(check)
    expected = f"{low} %" if low == high else f"{voice.say('range', low=low, high=high)} %"
    values = {"time": voice.when(check.time), "expected": expected}
    if first is None and unknown_runs(field):
        return [voice.say("outlook_check_alone", **values)]
    if first is None and check.dew_if_drier is None and check.dew_if_damper is None:
        if field.headline.look_at is None and not field.headline.rig:
            return []  # nothing hangs on it: one may sleep
        return [voice.say("outlook_check_never", **values)]
    drier, damper = (
        _drier(check, f"{low} %", first, voice),
        _damper(check, f"{high} %", first, voice, wet=high > field.setting.band.high_wb),
    )
    return [voice.say("outlook_check", **values, drier=drier, damper=damper)]


def shown_range(check: Check) -> tuple[int, int]:
    """Expected moistures in whole percent, the measured one certainly inside."""
    low = min(round(check.low_wb), round(check.expected_wb))
    return low, max(round(check.high_wb), round(check.expected_wb))


def _drier(check: Check, low: str, first: np.datetime64 | None, voice: Voice) -> str:
    """What a lower reading means."""
    comes = check.dew_if_drier
    if comes is None:
        return voice.say("check_drier_none", low=low)
    if (first is not None and comes <= first) or comes <= check.time:
        return voice.say("check_drier_same", low=low)
    return voice.say("check_drier_later", low=low, time=voice.when(comes))


def _damper(
    check: Check, high: str, first: np.datetime64 | None, voice: Voice, *, wet: bool
) -> str:
    """What a higher reading means; above the band (`wet`) nothing is baled on."""
    comes = check.dew_if_damper
    if comes is None:
        return voice.say("check_damper_none", high=high)
    if wet or (first is not None and comes >= first):
        return voice.say("check_damper_wet", high=high)
    if comes <= check.time:
        return voice.say("check_damper_there", high=high)
    if first is None:
        return voice.say("check_damper_comes", high=high, time=voice.when(comes))
    return voice.say("check_damper_earlier", high=high, time=voice.when(comes))


def look_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """When to go out and look, or that one may sleep; what is unknown says what to do itself."""
    look_at = field.headline.look_at
    if look_at is None and (unknown_runs(field) or may_have_dew(field)):
        return []
    if look_at is None:
        return [voice.say("outlook_rig_only" if field.headline.rig else "outlook_sleep")]
    if look_at <= begins(field):
        return [voice.say("outlook_look_now")]
    return [voice.say("outlook_look", time=voice.when(look_at))]


LEAST_DOUBT_HOURS = 0.25
FIRST_SCREEN_CAUTIONS = (RAIN, RAIN_CHANCE, "caution_frost", "caution_rain_unknown")


def farm_voice(outlook: Night, units: UnitSystem) -> Voice:
    """How to speak of a whole farm: its language, zone and night of its first field."""
    first = outlook.fields[0]
    timezone = str(first.setting.site.timezone)
    return Voice.of(outlook.farm, units, timezone, first.headline.evening)


def field_voice(field: FieldNight, voice: Voice) -> Voice:
    """How to speak of one field: its own zone and night."""
    timezone = str(field.setting.site.timezone)
    return replace(voice, timezone=timezone, evening=field.headline.evening)


def field_title(field: FieldNight, voice: Voice) -> str:
    """``"bench: alfalfa, 118 acres"``."""
    record = field.setting.field
    crop = voice.say(crop_of(record.crop).text)
    if record.area_m2 is None:
        return voice.say("outlook_field_without_area", field=record.name, crop=crop)
    area = voice.counted(record.area_m2, "area")
    return voice.say("outlook_field", field=record.name, crop=crop, area=area)


def field_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """What the night brings to a field, most important first."""
    return [text for _, text in field_parts(field, voice)]


def field_parts(field: FieldNight, voice: Voice) -> list[tuple[str, str]]:
    """The same sentences, each with what it speaks of: ``("check", "Probe at ...")``."""
    dew = dew_sentences(field, voice)
    return [
        (kind, text)
        for kind, texts in (
            ("stop", _stops(field, voice)),
            ("stems", stems_sentence(field, voice)),
            ("unknown", unknown_sentences(field, voice)),
            ("dew", dew),
            *(() if dew else _no_dew(field, voice)),
            ("rig", rig_sentences(field, voice)),
            ("maybe", maybe_sentences(field, voice)),
            ("rake", _rake(field, voice)),
            ("danger", _cautions(field, voice)),
            ("station", station_sentences(field, voice)),
            ("reading", reading_sentences(field, voice)),
            ("check", check_sentence(field, voice)),
            ("look", look_sentence(field, voice)),
            ("doubt", _doubt(field, voice)),
            ("later", later_sentence(field, voice)),
            ("warned", warned_sentences(field, voice)),
            ("note", _notes(field, voice)),
        )
        for text in texts
    ]


WARNED = (
    "reading_unexplained",
    "readings_apart",
    "members_dropped",
    "field_baled",
    "field_baled_before",
)
"""Notes that stand on the first screen however little room there is."""


def warned_sentences(field: FieldNight, voice: Voice) -> list[str]:
    """What is odd in the readings, and what has been baled by the log."""
    return _notes(field, voice, warned=True)


def _notes(field: FieldNight, voice: Voice, *, warned: bool = False) -> list[str]:
    """How the run began, what differs; not again why hours are unknown, or the cure's source."""
    said = {"start_from_cutting"} if asks_for_stems(field) else set()
    said |= {reason.key for run in unknown_runs(field) for reason in run.reasons}
    told = [
        remark
        for remark in field.remarks
        if remark.key not in said and (remark.key in WARNED) == warned
    ]
    return [voice.say("outlook_note", note=phrase(remark, voice)) for remark in told]


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
    return [
        capital(phrase(note.remark, voice)) + "."
        for note in notes_of(night_hours(field))
        if note.remark.key in FIRST_SCREEN_CAUTIONS
    ]


def _no_dew(field: FieldNight, voice: Voice) -> list[tuple[str, list[str]]]:
    """Why there is no window on dew tonight, its chance, and when the next may be."""
    hours = night_hours(field)
    counts = Counter(hour.call for hour in hours)
    found: list[tuple[str, list[str]]] = []
    if hours and counts.most_common(1)[0][0] == Call.NOT_CURED:
        key = "outlook_none_unsure" if field.maybe else "outlook_none_uncured"
        found = [("none", [voice.say(key)])]
    elif not unknown_runs(field):  # else nobody knows whether there is none
        others = _for_others(field, voice)
        why = others or _why_none(field, hours, counts, voice)
        found = [("none", why), ("chance", [] if others else chance_sentence(field, voice))]
    if counts[Call.NO_DATA] == len(hours):
        return found
    return [*found, ("next", [] if _for_others(field, voice) else _next(field, voice))]


def _next(field: FieldNight, voice: Voice) -> list[str]:
    """The next night with a window on dew, or one in which to probe first."""
    night = field.headline.next_night
    if night == field.headline.evening + timedelta(days=1) and later_sentence(field, voice):
        return []  # it is said with its hours
    if night is not None:
        return [voice.say("outlook_next", night=voice.night(night))]
    for window in field.maybe:
        if window.call in AS_IT_LIES and window.start >= field.headline.turn:
            evening = night_of_local(voice.local(window.start))
            return [voice.say("outlook_next_maybe", night=voice.night(evening))]
    return [voice.say("outlook_next_none")]


def windows_by_baler(field: FieldNight) -> dict[str, tuple[Window, ...]]:
    """Tonight's windows of go of each baler that may work there, the one shown first.

    Others only where their limits differ from those of the one shown.
    """
    head, setting = field.headline, field.setting
    found = {setting.baler.name: (*head.dew, *head.ready, *head.rig)}
    for baler in field.balers:
        other = with_machines(setting, baler, setting.rig)
        if baler.name in found or _limits(other) == _limits(setting):
            continue
        course = field.course(baler, setting.rig)
        hours = min(hour_index(course.weather.start[0], head.turn), course.weather.hours)
        found[baler.name] = tuple(course.between(0, hours).windows())
    return found


def maybe_windows(field: FieldNight, maybe: Sequence[Window] | None = None) -> list[Window]:
    """Windows in which to probe first, tonight's unless given, without what is go for another
    baler tonight."""
    found = list(field.headline.maybe if maybe is None else maybe)
    for windows in list(windows_by_baler(field).values())[1:]:
        for go in windows:
            found = [left for window in found for left in _without(window, go)]
    return found


def _without(window: Window, other: Window) -> list[Window]:
    """What is left of a window beside another."""
    sides = (
        (window.start, min(window.end, other.start)),
        (max(window.start, other.end), window.end),
    )
    return [replace(window, start=start, end=end) for start, end in sides if start < end]


def _limits(setting: Setting) -> tuple[object, ...]:
    """What decides whether a baler may bale as the hay lies."""
    return setting.band, setting.baler.soft_share, setting.baler.wet_share


def _for_others(field: FieldNight, voice: Voice) -> list[str]:
    """Where the baler shown has no hour on dew and another has: that one's."""
    shown, band = field.setting.baler.name, field.setting.band
    found = []
    for baler, windows in windows_by_baler(field).items():
        spans = [voice.span(w.start, w.end) for w in windows if w.call in AS_IT_LIES]
        if baler != shown and spans:
            low, high = (voice.amount(x, "percent") for x in (band.low_wb, band.high_wb))
            values = {"shown": shown, "low": low, "high": high, "spans": voice.listed(spans)}
            found.append(voice.say("outlook_none_but", baler=baler, **values))
    return found


def _why_none(
    field: FieldNight, hours: Sequence[HourCall], counts: Counter[Call], voice: Voice
) -> list[str]:
    """The one sentence on a night without dew to bale on; none where the stems say it all."""
    if any(window.call in AS_IT_LIES for window in field.headline.maybe):
        if asks_for_stems(field):
            return []
        held = held_only_by(field)
        return [voice.say("outlook_none_sure") if held is None
                else sentence(capital(phrase(held, voice)))]  # fmt: skip
    stopped = sum(hour.stop and hour.call in AS_IT_LIES for hour in hours)
    if stopped:
        return [voice.say("outlook_none_stop", hours=voice.hours(stopped))]
    if counts[Call.DAMP_BELOW]:
        return [voice.say("outlook_none_damp")]
    if counts[Call.TOO_WET]:
        return [voice.say("outlook_none_wet", wet=counts[Call.TOO_WET])]
    return [_too_dry(field, hours, voice)]


def _too_dry(field: FieldNight, hours: Sequence[HourCall], voice: Voice) -> str:
    """How near a dry night comes."""
    band = field.setting.band
    highest = float(np.nanmax([hour.hay.windrow_wb for hour in hours]))
    low, high = voice.amount(band.low_wb, "percent"), voice.amount(band.high_wb, "percent")
    if highest < band.low_wb or band.leaf_minimum_wb is None:
        return voice.say("outlook_none_dry", highest=voice.amount(highest, "percent"), low=low)
    leaf = voice.amount(band.leaf_minimum_wb, "percent")
    share = f"{100 * field.setting.baler.soft_share:.0f}"
    return voice.say("outlook_none_leaf", leaf=leaf, low=low, high=high, share=share)


def _rake(field: FieldNight, voice: Voice) -> list[str]:
    """When to rake; that there is no time only where the hay is not yet raked."""
    tonight = [window for window in field.rake if window.start < field.headline.turn]
    if tonight:
        spans = voice.listed([voice.span(window.start, window.end) for window in tonight])
        after = _after_raking(tonight[0], voice)
        return [voice.say("outlook_rake", spans=spans, after=after)]
    record = field.setting.field
    if record.cured is True or record.raked_at is not None or record.moisture_now_wb is not None:
        return []
    if unknown_runs(field):
        return []
    low, high = (voice.amount(value, "percent") for value in RAKE_LEAF_WB)
    return [voice.say("outlook_rake_none", low=low, high=high)]


def _after_raking(window: RakeWindow, voice: Voice) -> str:
    """What the layers are just after raking in the middle of a window."""
    parts = {
        part: voice.amount(round(getattr(window, f"{part}_wb")), "percent")
        for part in ("top", "middle", "bottom")
    }
    return voice.say("rake_after", time=voice.when(window.raked_at), **parts)


def _doubt(field: FieldNight, voice: Voice) -> list[str]:
    """What the hours on dew hang on most."""
    doubt = field.headline.doubt
    hours = 0.0 if doubt is None else float(str(doubt.values["hours"]))
    head = field.headline
    dew = head.as_it_lies or [item for item in head.maybe if item.call in AS_IT_LIES]
    if doubt is None or hours < LEAST_DOUBT_HOURS or not dew:
        return []
    text = voice.say(doubt.key, hours=voice.duration(round(4 * hours) / 4))
    return [voice.say("outlook_doubt", doubt=text)]
