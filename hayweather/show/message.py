"""The run sheet as a text message: plain letters, at most 480, the most important first."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from itertools import groupby

import numpy as np

from hayweather.baling.calls import Call
from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, RunSheet
from hayweather.show.outlook_words import (
    asks_for_stems,
    farm_voice,
    field_voice,
    night_hours,
    notes_of,
    unknown_runs,
)
from hayweather.show.runsheet_words import work_spans
from hayweather.show.voice import Voice, unique
from hayweather.units import symbol_of

MOST_CHARACTERS = 480
# Letters and signs that one septet of a message holds (GSM 03.38, basic table), blanks apart.
# Those that stand elsewhere in national tables, or take two septets, are left out.
PLAIN = frozenset(
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
    "!\"#%&'()*+,-./:;<=>?ÄÖÑÜäöñüàèéùìòÅåÆæØøÇß¿¡§£¥ "
)
INSTEAD = {"–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "[": "(", "]": ")"}
MOST_SPANS = 6
MOST_STEPS = 4
LONGEST_NAME = 24
SHORTEST_NAME = 8


def runsheet_message(sheet: RunSheet, units: UnitSystem) -> str:
    """The run sheet in at most 480 plain characters, no word cut.

    First when to work in each field, with fewer of its windows where not every field
    would be named, then when work stops, rates and fills; what does not fit is left
    out from the end, never the danger line.
    """
    voice = farm_voice(sheet.outlook, units)
    first = [plain(text) for text in _head(sheet, voice)]
    last = [plain(voice.say("message_danger"))]
    room = MOST_CHARACTERS - sum(len(text) + 1 for text in (*first, *last))
    more = plain(voice.say("message_more"))
    kept: list[str] = []
    for most in range(MOST_SPANS, 0, -1):
        said = [plain(text) for text in _ordered(sheet, voice, most)]
        kept = fitting_texts(said, room, more)
        if len(kept) >= min(len(sheet.fields) + 1, len(said)):
            break
    return " ".join([*first, *kept, *last])


def fitting_texts(texts: Sequence[str], room: int, more: str) -> list[str]:
    """The first of some texts that fit into `room`, each with the blank after it.

    Parameters
    ----------
    texts
        Most important first.
    more
        Said at the end where something is left out.

    Examples
    --------
    >>> fitting_texts(["one.", "two.", "three."], 16, "More.")
    ['one.', 'two.', 'More.']
    >>> fitting_texts(["one.", "two.", "three."], 17, "More.")
    ['one.', 'two.', 'three.']
    """
    if sum(len(text) + 1 for text in texts) <= room:
        return list(texts)
    kept: list[str] = []
    left = room - len(more) - 1
    for text in texts:
        if len(text) + 1 > left:
            break
        kept.append(text)
        left -= len(text) + 1
    return [*kept, more]


def plain(text: str) -> str:
    """A text in letters that every telephone shows, accents dropped where they must be.

    Examples
    --------
    >>> plain("Rocío a las 3 – campo “El Ñu” ☂")
    'Rocio a las 3 - campo "El Ñu" ?'
    """
    return " ".join("".join(_plain(letter) for letter in text).split())


def _plain(letter: str) -> str:
    """One letter, the nearest plain one, or a question mark."""
    if letter in PLAIN:
        return letter
    if letter in INSTEAD:
        return INSTEAD[letter]
    if letter.isspace():
        return " "
    apart = unicodedata.normalize("NFKD", letter)
    kept = "".join(sign for sign in apart if sign in PLAIN)
    return kept or ("" if unicodedata.combining(letter) else "?")


def _head(sheet: RunSheet, voice: Voice) -> list[str]:
    """Invented or not, which farm, made when."""
    outlook = sheet.outlook
    mark = [voice.say("message_invented")] if outlook.farm.weather.invented else []
    local = voice.local(outlook.now)
    made = f"{voice.day(local.date())} {voice.clock(outlook.now)}"
    return [*mark, voice.say("message_head", farm=short_name(outlook.farm.name), time=made)]


def short_name(name: str) -> str:
    """A name of at most 24 letters, cut between words where there are some.

    Examples
    --------
    >>> short_name("North forty behind the old grain elevator")
    'North forty behind the..'
    """
    name = plain(name)
    if len(name) <= LONGEST_NAME:
        return name
    cut = name[: LONGEST_NAME - 1]
    blank = cut.rfind(" ")
    return (cut[:blank] if blank >= SHORTEST_NAME else cut[:-1]).rstrip() + ".."


def _ordered(sheet: RunSheet, voice: Voice, most: int) -> list[str]:
    """What to do in all fields, when work stops, where to probe, then rates, then fills."""
    spoken = [(field, field_voice(field.outlook, voice)) for field in sheet.fields]
    windows = [text for field, own in spoken for text in _windows(field, own, most)]
    windows = [*_unknown(sheet.fields, voice), *windows]
    stops = [text for field, own in spoken for text in _stops(field, own)]
    maybe = [text for field, own in spoken if field.windows for text in _maybe(field, own, most)]
    rates = [text for field, own in spoken for text in _rates(field, own)]
    fills = [text for field, own in spoken for text in _fills(field, own)]
    return [*windows, *unique(stops), *maybe, *rates, *fills]


MESSAGE_WORDS = {
    Call.NATURAL_DEW: "message_dew",
    Call.READY: "message_ready",
    Call.ADD_MOISTURE: "message_rig",
}


def _unknown(fields: Sequence[FieldSheet], voice: Voice) -> list[str]:
    """What nobody can call tonight, fields with the same hours together."""
    found: dict[str, list[str]] = {}
    for field in fields:
        own = field_voice(field.outlook, voice)
        spans = [own.span(run.start, run.end) for run in unknown_runs(field.outlook)]
        if spans:
            found.setdefault(", ".join(first_few(spans)), []).append(short_name(field.name))
    return [
        voice.say("message_unknown", field=", ".join(names), spans=spans)
        for spans, names in found.items()
    ]


def _windows(field: FieldSheet, voice: Voice, most: int) -> list[str]:
    """``"bench: rig 8 pm to 1:30 am, dew 1:30 am to 2:45 am."``; else where to probe, or nothing.

    Nothing is said of a field of which hours are unknown: that was said before.
    """
    name = short_name(field.name)
    if not field.windows:
        said = _maybe(field, voice, most)
        silent = said or unknown_runs(field.outlook)
        return said if silent else [voice.say("message_none", field=name)]
    spans = []
    for span in work_spans(field):
        word = voice.say(MESSAGE_WORDS[span.call])
        spans.append(f"{word} {voice.span(span.start, span.end)}")
    return [voice.say("message_windows", field=name, windows=", ".join(first_few(spans, most)))]


def _maybe(field: FieldSheet, voice: Voice, most: int) -> list[str]:
    """Tonight's time to probe first, whatever the way; the stems where it hangs on them."""
    spans: list[tuple[np.datetime64, np.datetime64]] = []
    for window in field.outlook.headline.maybe:
        if spans and spans[-1][1] == window.start:
            spans[-1] = (spans[-1][0], window.end)
        else:
            spans.append((window.start, window.end))
    if not spans:
        return []
    key = "message_stems" if asks_for_stems(field.outlook) else "message_maybe"
    shown = ", ".join(first_few([voice.span(*span) for span in spans], most))
    return [voice.say(key, field=short_name(field.name), windows=shown)]


def first_few(parts: Sequence[str], most: int = MOST_SPANS) -> list[str]:
    """The first of some parts, with two dots where others follow.

    Examples
    --------
    >>> first_few(["one", "two", "three"], 2)
    ['one', 'two', '..']
    """
    return [*parts[:most], ".."] if len(parts) > most else list(parts)


def _stops(field: FieldSheet, voice: Voice) -> list[str]:
    """Why and when work stops this night."""
    return [
        voice.say(
            "message_stop",
            reason=voice.say(f"chart_{note.remark.key}"),
            spans=", ".join(voice.span(*span) for span in note.spans[:MOST_SPANS]),
        )
        for note in notes_of(night_hours(field.outlook))
        if note.is_stop
    ]


def _rates(field: FieldSheet, voice: Voice) -> list[str]:
    """The rate at the start of each piece where it changes; flow and speed at the first."""
    firsts = [piece.rate_steps[0] for piece in field.windows if piece.rate_steps]
    steps = [next(same) for _, same in groupby(firsts, key=lambda step: step.water_l_t)]
    if not steps:
        return []
    dialed = [
        f"{voice.when(step.start)} {voice.number(step.water_l_t, 'water_rate')}" for step in steps
    ]
    shown = ", ".join(first_few(dialed, MOST_STEPS))
    first, values = steps[0], [f"{shown} {symbol_of('water_rate', voice.units)}"]
    if first.flow_l_min is not None:
        values.append(voice.amount(first.flow_l_min, "flow"))
    if first.speed_m_s is not None:
        values.append(voice.amount(first.speed_m_s, "ground_speed"))
    return [voice.say("message_rate", field=short_name(field.name), values="; ".join(values))]


def _fills(field: FieldSheet, voice: Voice) -> list[str]:
    """When to fill."""
    times = [
        f"{voice.when(fill.start)} ({voice.amount(fill.minutes, 'minutes')})"
        for fill in field.fills
    ]
    if not times:
        return []
    shown = ", ".join(first_few(times))
    return [voice.say("message_fill", field=short_name(field.name), times=shown)]
