"""The run sheets as text messages: plain letters, parts of 160, the most important first."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from hayweather.baling.windows import united
from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldWork, MachineSheet, RunSheet, Step
from hayweather.show.outlook_words import (
    asks_for_stems,
    field_voice,
    maybe_windows,
    night_hours,
    notes_of,
    unknown_runs,
)
from hayweather.show.runsheet_words import (
    machine_title,
    rates_text,
    sheet_voice,
    title_of,
    work_spans,
)
from hayweather.show.station_words import station_short
from hayweather.show.voice import Voice, phrases, unique

PART_CHARACTERS = 160
# Letters and signs that one septet of a message holds (GSM 03.38, basic table), blanks apart.
# Those that stand elsewhere in national tables, or take two septets, are left out.
PLAIN = frozenset(
    "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
    "!\"#%&'()*+,-./:;<=>?_ÄÖÑÜäöñüàèéùìòÅåÆæØøÇß¿¡§£¥ "
)
INSTEAD = {"–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "[": "(", "]": ")"}
LONGEST_NAME = 24
SHORTEST_NAME = 8


def runsheet_message(sheet: RunSheet, units: UnitSystem, machine: str = "") -> list[str]:
    """The run sheets in numbered parts of at most 160 plain characters, nothing left out.

    First the dates missed and what nobody knows, then every machine's work, rates
    and fills in its order, then when work stops, where to probe, and the danger line.

    Parameters
    ----------
    sheet, units
        Of one machine or all; the reader's units.
    machine
        Whose message it is; without work it is told so. Empty: everybody's.
    """
    voice = sheet_voice(sheet, units)
    *mark, head = _head(sheet, voice)
    said = [*mark, *(voice.say("message_text", text=t) for t in phrases(sheet.missed, voice)), head]
    said += _unknown(sheet.fields, voice)
    said += unique(
        text
        for field in sheet.fields
        for text in station_short(field.night, field_voice(field.night, voice))
    )
    said += _out(sheet, voice)
    if machine and not sheet.machines and machine not in dict(sheet.night.farm.out_of_order):
        said.append(voice.say("message_none", field=_titled(machine, sheet, voice)))
    alone = sum(each.kind == "baler" for each in sheet.machines) == 1
    for each in sheet.machines:
        said += _machine(each, voice, with_spans=each.kind == "baler" or not alone)
    stops = [text for field in sheet.fields for text in _stops(field, voice)]
    said += unique(stops)
    said += [text for field in sheet.fields for text in _others(field, voice)]
    words = [word for text in said for word in plain(text).split()]
    return parts_of(words, plain(voice.say("message_danger")))


def parts_of(words: Sequence[str], last: str, most: int = PART_CHARACTERS) -> list[str]:
    """Words in parts of at most so many characters, then a last one; each with its number before.

    A word too long for a part goes on in the next.

    Examples
    --------
    >>> parts_of(["one", "two", "three"], "end.", 14)
    ['(1/3) one two', '(2/3) three', '(3/3) end.']
    """
    for digits in (1, 2, 3):
        mark = len("(/) ") + 2 * digits
        parts = [*_filled(words, most - mark), last]
        if len(str(len(parts))) <= digits:
            break
    return [f"({number}/{len(parts)}) {part}" for number, part in enumerate(parts, start=1)]


def _filled(words: Sequence[str], room: int) -> list[str]:
    """Words in lines of at most `room` characters."""
    lines: list[str] = []
    for word in words:
        if lines and len(lines[-1]) + 1 + len(word) <= room:
            lines[-1] += f" {word}"
        else:
            lines += [word[at : at + room] for at in range(0, len(word), room)]
    return lines


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
    night = sheet.night
    mark = [voice.say("message_invented")] if night.farm.weather.invented else []
    local = voice.local(night.now)
    made = f"{voice.day(local.date())} {voice.clock(night.now)}"
    return [*mark, voice.say("message_head", farm=short_name(night.farm.name), time=made)]


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


def _machine(machine: MachineSheet, voice: Voice, *, with_spans: bool) -> list[str]:
    """``"RIG: bench 8 pm to 1:30 am; creek 2 am to 3 am."``, then its rates and fills.

    A rig that goes with the only baler works when that one says "rig".
    """
    title = machine_title(machine, voice).upper()
    spans = [
        voice.say(
            "message_span",
            field=short_name(span.field),
            way=voice.say(f"message_{span.way}"),
            span=voice.span(span.start, span.end),
        )
        for span in work_spans(machine)
    ]
    said = [voice.say("message_machine", machine=title, spans="; ".join(spans))]
    said = said if with_spans else []
    if machine.kind == "rig":
        said += _rates(machine, voice)
    return said


def _titled(name: str, sheet: RunSheet, voice: Voice) -> str:
    """A machine as its sheet calls it."""
    kind = "baler" if name in sheet.night.farm.balers else "rig"
    return title_of(name, kind, voice).upper()


def _out(sheet: RunSheet, voice: Voice) -> list[str]:
    """The machines that do not run, by the log."""
    return [
        voice.say("message_out", machine=_titled(name, sheet, voice), time=voice.when(since))
        for name, since in sheet.night.farm.out_of_order
    ]


def _rates(machine: MachineSheet, voice: Voice) -> list[str]:
    """Every rate where it changes, field by field, and the fills in order of time between them.

    Flow and speed stand at the first rate of each.
    """
    said: list[str] = []
    fills = list(machine.fills)
    for span in work_spans(machine):
        before = [fill for fill in fills if fill.start < span.start]
        inside = [fill for fill in fills if span.start <= fill.start < span.end]
        fills = fills[len(before) + len(inside) :]
        said += _fills(before, voice)
        dials = [dial for dial in span.dials if dial.water_l_t]
        if not dials:
            said += _fills(inside, voice)
            continue
        values, first = [rates_text(dials, voice)], dials[0]
        if first.flow_l_min is not None:
            values.append(voice.amount(first.flow_l_min, "flow"))
        if first.speed_m_s is not None:
            values.append(voice.amount(first.speed_m_s, "ground_speed"))
        if any(dial.heat is not None and dial.heat.refused for dial in dials):
            values.append(voice.say("message_burners"))
        field = short_name(span.field)
        said.append(voice.say("message_rate", field=field, values="; ".join(values)))
        said += _fills(inside, voice)
    return [*said, *_fills(fills, voice)]


def _fills(fills: Sequence[Step], voice: Voice) -> list[str]:
    """When to fill."""
    times = [
        f"{voice.when(fill.start)} ({voice.amount(round(fill.minutes), 'minutes')})"
        for fill in fills
    ]
    return [voice.say("message_fill", times=", ".join(times))] if times else []


def _unknown(fields: Sequence[FieldWork], voice: Voice) -> list[str]:
    """What nobody can call tonight, fields with the same hours together."""
    found: dict[str, list[str]] = {}
    for field in fields:
        own = field_voice(field.night, voice)
        spans = [own.span(run.start, run.end) for run in unknown_runs(field.night)]
        if spans:
            found.setdefault(", ".join(spans), []).append(short_name(field.name))
    return [
        voice.say("message_unknown", field=", ".join(names), spans=spans)
        for spans, names in found.items()
    ]


def _others(field: FieldWork, voice: Voice) -> list[str]:
    """Where to probe first; that a field has no work, where that is known."""
    own = field_voice(field.night, voice)
    said = _maybe(field, own)
    if field.totals.hours or said or unknown_runs(field.night):
        return said
    return [voice.say("message_none", field=short_name(field.name))]


def _maybe(field: FieldWork, voice: Voice) -> list[str]:
    """Tonight's time to probe first, whatever the way; the stems where it hangs on them."""
    spans = united((window.start, window.end) for window in maybe_windows(field.night))
    if not spans:
        return []
    key = "message_stems" if asks_for_stems(field.night) else "message_maybe"
    shown = ", ".join(voice.span(*span) for span in spans)
    return [voice.say(key, field=short_name(field.name), windows=shown)]


def _stops(field: FieldWork, voice: Voice) -> list[str]:
    """Why and when work stops this night."""
    own = field_voice(field.night, voice)
    return [
        voice.say(
            "message_stop",
            reason=voice.say(f"chart_{note.remark.key}"),
            spans=", ".join(own.span(*span) for span in note.spans),
        )
        for note in notes_of(night_hours(field.night))
        if note.is_stop
    ]
