"""One screen of the evening: a strip and the work of every field, what to probe, dangers, next.

All of it is drawn from the `Night`. What there is no room for goes by rank, reasons
first; that a sample is invented, dates missed, stops, the unknown, overrides and cautions
never do.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.calls import BALED, Call
from hayweather.baling.headline import Check
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.clock import Clock
from hayweather.show.layout import (
    WIDEST_PROSE,
    TextColumn,
    cell_lines,
    fitting,
    heading_lines,
    with_room,
    wrapped,
)
from hayweather.show.outlook_plan import (
    Stretch,
    cautions_of,
    missed_lines,
    missed_sentences,
    plan_of,
    shared_sentences,
    stretches_of,
)
from hayweather.show.outlook_words import (
    asks_for_stems,
    farm_voice,
    field_parts,
    field_voice,
    goes_on,
    held_only_by,
    may_have_dew,
    night_hours,
    rate_words,
    shown_range,
    unknown_runs,
    windows_by_baler,
)
from hayweather.show.voice import Voice, capital, phrase, phrases, sentence
from hayweather.show.weather_facts import weather_summary
from hayweather.units import symbol_of
from hayweather.windrow.trajectory import QUARTER

ONE_FIELD_LINES, SIX_FIELDS_LINES = 24, 40
SIX = 6
COMMON_LINES, FIELD_LINES = 16, 4
"""Beyond six fields."""
TICK_HOURS = 3
HELD = "\u00a0"
"""Keeps a sign and what it means in one line; printed as a blank."""
LONGEST_LABEL = 29
CELL_QUARTERS = (1, 2, 4)
UNMEASURED = "caution_no_measured_night"


def most_lines(fields: int) -> int:
    """Lines of the screen for so many fields.

    Examples
    --------
    >>> [most_lines(count) for count in (1, 2, 6, 12)]
    [24, 27, 40, 64]
    """
    if fields > SIX:
        return COMMON_LINES + FIELD_LINES * fields
    share = (fields - 1) / (SIX - 1)
    return ONE_FIELD_LINES + round(share * (SIX_FIELDS_LINES - ONE_FIELD_LINES))


@dataclass(frozen=True)
class Part:
    """Some lines that belong together.

    Attributes
    ----------
    lines
        As printed.
    rank
        0 stays whatever the room; the larger the sooner it goes.
    strong
        Printed with weight where the terminal has it.
    signs_from
        Where in the last line the signs begin, of which the large letters get weight,
        and the name before them; None: it has no signs.
    """

    lines: tuple[str, ...]
    rank: int = 0
    strong: bool = False
    signs_from: int | None = None


RANKS = {
    "stop": 0, "unknown": 0, "danger": 0, "warned": 0, "reading": 1, "none": 2, "check": 2,
    "station": 2, "doubt": 4, "next": 5, "rake": 5, "rig": 5, "look": 6,
    "maybe": 7, "chance": 8, "later": 9, "note": 10,
}  # fmt: skip
"""Of the sentences of a field; those not named are said by the table of work."""
SAVED_RANK, ALLOWED_RANK, MAYBE_RANK = 1, 2, 3


def screen_text(
    outlook: Night,
    units: UnitSystem,
    width: int = 80,
    *,
    farm_option: str = "",
    weight: bool = False,
    options: Sequence[str] = ("--hours", "--why", "--all"),
) -> str:
    """The screen.

    Parameters
    ----------
    outlook, units, width
        Night, reader's units, letters of a line.
    farm_option
        What a command needs to find the farm again: ``" --farm myfarm/farm.toml"``.
    weight
        Whether the terminal shows letters with weight.
    options
        Named as asking for more.
    """
    voice = farm_voice(outlook, units)
    parts = fitted(_parts(outlook, voice, width, farm_option, options), most_lines(len(outlook)))
    return "\n".join(line for part in parts for line in _printed(part, weight)) + "\n"


def fitted(parts: Sequence[Part], most: int) -> list[Part]:
    """The parts for which there is room, those of small rank first; rank 0 whatever the room."""
    kept: set[int] = set()
    used = 0
    for at in sorted(range(len(parts)), key=lambda at: parts[at].rank):
        part = parts[at]
        if part.rank == 0 or used + len(part.lines) <= most:
            kept.add(at)
            used += len(part.lines)
    return [part for at, part in enumerate(parts) if at in kept]


def _printed(part: Part, weight: bool) -> Iterator[str]:
    """Its lines, with the weight of a terminal on request."""
    if not weight:
        yield from part.lines
    elif part.strong:
        yield from map(_heavy, part.lines)
    elif part.signs_from is None:
        yield from part.lines
    else:
        *above, line = part.lines
        yield from above
        label, signs = line[: part.signs_from], line[part.signs_from :]
        yield _heavy(label) + re.sub("[A-Z]+", lambda found: _heavy(found[0]), signs)


def _heavy(text: str) -> str:
    """A text with weight, blanks around it left alone."""
    inner = text.strip()
    return text.replace(inner, f"\x1b[1m{inner}\x1b[0m", 1) if inner else text


def _parts(
    outlook: Night, voice: Voice, width: int, farm_option: str, options: Sequence[str]
) -> list[Part]:
    """Everything that the screen may say, in order."""
    prose = min(width, WIDEST_PROSE)
    strips = _strips(outlook, voice, width)
    tables = _tables(outlook, voice, width)
    said = _sentences(outlook, voice)
    parts = _head(outlook, voice, prose)
    axis, heading = "", tables.heading
    for field in outlook:
        name, label, cells, above = strips.rows[field.name]
        lines = [*name, *([above] if above != axis else []), f"{label}{cells}".rstrip()]
        axis = above
        parts.append(Part(tuple(lines), signs_from=len(label)))
        if tables.rows[field.name]:
            parts.append(Part((*heading, *tables.rows[field.name])))
            heading = ()
        else:
            own = field_voice(field, voice)
            parts.append(Part(tuple(wrapped(verdict(field, own), prose, "  ")), strong=True))
        parts += [_part([text], prose, rank, "  ") for rank, text in said[field.name]]
    parts.append(_part([strips.legend], prose))
    parts += [_part([text], prose, rank) for rank, text in said[""]]
    return [*parts, *_close(outlook, voice, prose, farm_option, options)]


def _part(
    texts: Sequence[str], width: int, rank: int = 0, indent: str = "", *, strong: bool = False
) -> Part:
    """Sentences as lines."""
    rest = indent + "  " if indent else ""
    lines = [line for text in texts for line in wrapped(sentence(text), width, indent, rest)]
    return Part(tuple(lines), rank, strong)


def _head(outlook: Night, voice: Voice, width: int) -> list[Part]:
    """Invented or not, dates missed, the night, how old the weather is."""
    texts = [voice.say("outlook_invented")] if outlook.farm.weather.invented else []
    texts += missed_lines(outlook, voice)
    parts = [_part([text], width, strong=True) for text in texts]
    parts += [_part([text], width, SAVED_RANK) for text in missed_sentences(outlook, voice)]
    night = voice.night(outlook.fields[0].headline.evening)
    head = voice.say(
        "screen_head",
        farm=outlook.farm.name,
        night=night,
        time=voice.when(outlook.now),
        weather="; ".join(weather_words(outlook, voice)),
    )
    return [*parts, _part([head], width)]


def weather_words(outlook: Night, voice: Voice) -> list[str]:
    """How old the weather is, and what has corrected it: the phrases of the head line."""
    age = weather_summary(outlook).age_hours
    if outlook.farm.weather.invented:
        return [voice.say("screen_made_up")]
    if age is None:
        return [voice.say("screen_age_unknown")]
    if age < 1:
        return [voice.say("screen_age_minutes", count=round(60 * age))]
    return [voice.say("screen_age_hours", hours=f"{age:.0f}")]


# The signs of the strip, the most cautious first: of equal shares of a cell it is shown.
UNKNOWN, STOP, WET, UNCURED, DAMP, DRY, UNSURE, PROBE = "?X~/_.-p"
NAMED = {
    UNKNOWN: "strip_named_unknown", STOP: "strip_named_stop", WET: "strip_named_too_wet",
    UNCURED: "strip_named_uncured", DAMP: "strip_named_damp", DRY: "strip_named_too_dry",
    UNSURE: "strip_named_unsure", PROBE: "strip_named_probe",
}  # fmt: skip
WAITING = {
    Call.TOO_WET: WET, Call.NOT_CURED: UNCURED, Call.DAMP_BELOW: DAMP, Call.TOO_DRY: DRY,
    Call.NO_DATA: UNKNOWN,
}  # fmt: skip
WAYS = {Call.NATURAL_DEW: "dew", Call.READY: "ready", Call.ADD_MOISTURE: "rig"}
"""Last parts of the keys that name a way to bale."""
WORK = ("dew", "ready", "rig", "dry")


@dataclass(frozen=True)
class Strips:
    """The night of every field in a line of signs.

    Attributes
    ----------
    legend
        What the signs mean, those that occur.
    rows
        By field: a line of its own for a long name, the label before the signs, the
        signs, and the line of hours that holds for them.
    """

    legend: str
    rows: dict[str, tuple[tuple[str, ...], str, str, str]]


def _strips(outlook: Night, voice: Voice, width: int) -> Strips:
    """The strips of all fields over the same hours."""
    names = {field.name: _label(field, outlook, voice) for field in outlook}
    longest = max((len(n) for n in names.values() if len(n) <= LONGEST_LABEL), default=0) + 1
    longest = max(longest, 2)
    ends = max(field.headline.turn for field in outlook)
    count, begin = 0, outlook.now
    for quarters in CELL_QUARTERS:
        size = quarters * QUARTER
        first = outlook.start
        begin = first + (outlook.now - first) // size * size
        count = int(np.ceil((ends - begin) / size))
        if longest + count <= width:
            break
    signs = {field.name: _signs(field, outlook, begin, ends) for field in outlook}
    used: dict[str, None] = {}
    rows: dict[str, tuple[tuple[str, ...], str, str, str]] = {}
    for field in outlook:
        own = field_voice(field, voice)
        cells = _cells(signs[field.name], quarters)
        used |= dict.fromkeys(cells)
        text = "".join(_shown(cell, voice) for cell in cells)
        label = names[field.name]
        above = " " * longest + _axis(begin, ends, quarters, own, width - longest)
        alone = (label,) if len(label) > LONGEST_LABEL else ()
        rows[field.name] = (alone, ("" if alone else label).ljust(longest), text, above)
    return Strips(_legend(list(used), quarters, voice), rows)


def _label(field: FieldNight, outlook: Night, voice: Voice) -> str:
    """``"bench, 72 of 118 acres"``: what of the field is done tonight."""
    area = field.setting.field.area_m2
    if area is None:
        return field.name
    whole = voice.counted(area, "area")
    areas = [item.area_m2 for item in stretches_of(field, outlook)]
    known = [value for value in areas if value is not None]
    if not known or len(known) < len(areas):
        return voice.say("screen_label", field=field.name, area=whole)
    done = voice.number(min(sum(known), area), "area")
    return voice.say("screen_label_done", field=field.name, done=done, area=whole)


def _signs(
    field: FieldNight, outlook: Night, begin: np.datetime64, ends: np.datetime64
) -> list[str]:
    """What stands for each quarter; the name of a way for work, with a blank before it where
    the hay would allow it and no machine is there."""
    shown = field.shown
    work = stretches_of(field, outlook)
    found = []
    for time in np.arange(begin, ends, QUARTER):
        row = int((time - shown.weather.start[0]) / QUARTER)
        done = next((_way(s) for s in work if s.window.start < time + QUARTER <= s.window.end
                     or s.window.start <= time < s.window.end), None)  # fmt: skip
        if time + QUARTER <= outlook.now or time >= field.headline.turn:
            found.append(" ")
        elif done is not None:
            found.append(done)
        elif row >= shown.advice.size or shown.advice[row] == Advice.UNKNOWN:
            found.append(UNKNOWN)
        elif shown.stopped[row, 0]:
            found.append(STOP)
        elif shown.advice[row] == Advice.PROBE_FIRST:
            found.append(PROBE)
        elif shown.advice[row] == Advice.GO:
            found.append(" " + WAYS[Call(int(shown.way[row]))])
        else:
            found.append(WAITING.get(Call(int(shown.quarters.call[row, 0])), UNSURE))
    return found


def _way(stretch: Stretch) -> str:
    """The name of its way."""
    return "dry" if stretch.dry else WAYS[stretch.window.call]


CAUTIOUS = " ?X~/_.-p"


def _cells(signs: Sequence[str], size: int) -> list[str]:
    """Quarters in cells: what most of them show, of equals the more cautious, then the earlier.

    Work that would vanish so is shown in the cell that has most of it.
    """
    groups = [signs[at : at + size] for at in range(0, len(signs), size)]

    def rank(sign: str) -> int:
        if sign in CAUTIOUS:
            return CAUTIOUS.index(sign)
        return len(CAUTIOUS) + (sign in WORK)

    cells = [max(g, key=lambda sign: (g.count(sign), -rank(sign))) for g in groups]
    at = 0
    while at < len(signs):
        past = at
        while past < len(signs) and signs[past] == signs[at]:
            past += 1
        inside = range(at // size, (past - 1) // size + 1)
        if signs[at] in WORK and not any(cells[cell] == signs[at] for cell in inside):
            most = max(inside, key=lambda cell: min(past, (cell + 1) * size) - max(at, cell * size))
            cells[most] = signs[at]
        at = past
    return cells


def _shown(cell: str, voice: Voice) -> str:
    """The sign of a cell."""
    if cell == PROBE:
        return voice.say("strip_probe")
    if cell.strip() in WORK:
        letter = voice.say(f"strip_{cell.strip()}")
        return letter if cell in WORK else letter.lower()
    return cell


def _legend(used: Sequence[str], quarters: int, voice: Voice) -> str:
    """What the signs that occur mean."""
    texts = [
        voice.say(f"strip_named_{way}", sign=_shown(way, voice)) for way in WORK if way in used
    ]
    small = [_shown(f" {way}", voice) for way in WORK if f" {way}" in used]
    if small:
        texts.append(voice.say("strip_named_small", signs=" ".join(small)))
    if PROBE in used:
        texts.append(voice.say("strip_named_probe", sign=_shown(PROBE, voice)))
    texts += [voice.say(NAMED[sign]) for sign in reversed(CAUTIOUS) if sign in used
              and sign in NAMED and sign != PROBE]  # fmt: skip
    start = voice.say("screen_each_letter", minutes=15 * quarters)
    held = ", ".join(text.replace(" = ", f"{HELD}={HELD}") for text in texts)
    return f"{capital(start)} {held}"


def _axis(
    begin: np.datetime64, ends: np.datetime64, quarters: int, voice: Voice, width: int
) -> str:
    """Hours of the clock over the strip, each at its own place behind a stroke."""
    hours = int(np.ceil((ends - begin) / np.timedelta64(1, "h")))
    clock = Clock(begin, hours, voice)
    line = ""
    for at in clock.ticks(TICK_HOURS):
        place, label = round(at * 4 / quarters), f"|{clock.text(at)}"
        if place >= len(line) and place + len(label) <= width:
            line = line.ljust(place) + label
    return line


@dataclass(frozen=True)
class WorkTable:
    """The work of all fields in the same columns.

    Attributes
    ----------
    heads
        Start, stop, with what, area, how sure; those that have something to show.
    rows
        By field, cells in their order; none where nobody works.
    columns
        The same for a terminal, the rows of all fields in order.
    """

    heads: tuple[str, ...]
    rows: dict[str, list[tuple[str, ...]]]
    columns: list[TextColumn]


def work_table(outlook: Night, voice: Voice) -> WorkTable:
    """Start, stop, with what, how much and how sure."""
    work = [(field, item) for field in outlook for item in stretches_of(field, outlook)]
    rows: dict[str, list[tuple[str, ...]]] = {field.name: [] for field in outlook}
    if not work:
        return WorkTable((), rows, [])
    cells = list(zip(*(_row(field, item, outlook, voice) for field, item in work), strict=True))
    keys = ("screen_column_start", "screen_column_stop", "screen_column_how")
    columns = [
        *(TextColumn((voice.say(key),), own, is_text=True)
          for key, own in zip(keys, cells[:3], strict=True)),
        TextColumn((voice.say(f"screen_column_area_{voice.units}"),), cells[3], drop=2),
        TextColumn((voice.say("screen_column_whole"),), cells[4]),
        TextColumn((voice.say("screen_column_half"),), cells[5], drop=1),
    ]  # fmt: skip
    columns = [column for column in columns if any(column.cells)]
    for at, (field, _) in enumerate(work):
        rows[field.name].append(tuple(column.cells[at] for column in columns))
    return WorkTable(tuple(column.heading[0] for column in columns), rows, columns)


@dataclass(frozen=True)
class Tables:
    """The work of the fields in lines under one heading."""

    heading: tuple[str, ...]
    rows: dict[str, tuple[str, ...]]


def _tables(outlook: Night, voice: Voice, width: int) -> Tables:
    """The table of work as lines of a terminal."""
    table = work_table(outlook, voice)
    if not table.columns:
        return Tables((), {field.name: () for field in outlook})
    kept, gap = fitting(with_room(table.columns, width - 2), width - 2)
    cells = cell_lines(kept, gap)
    indent = "  " if max(map(len, cells)) <= width - 2 else ""  # it goes where there is no room
    lines = iter(cells)
    rows = {
        name: tuple(f"{indent}{next(lines)}".rstrip() for _ in found)
        for name, found in table.rows.items()
    }
    return Tables(tuple(f"{indent}{line}".rstrip() for line in heading_lines(kept, gap)), rows)


def _row(field: FieldNight, item: Stretch, outlook: Night, voice: Voice) -> tuple[str, ...]:
    """The cells of one stretch of work."""
    own, window = field_voice(field, voice), item.window
    start = own.when(window.start)
    stop = own.when(window.end, is_end=True)
    if window.start <= outlook.now:
        start = voice.say("screen_now")
    if item.finishes:
        stop = voice.say("screen_done", time=stop)
    elif plan_of(outlook) is None and window.end >= field.headline.turn and goes_on(field, window):
        stop = voice.say("screen_goes_on", time=stop)
    chances = ("", "") if item.dry else tuple(
        "" if share is None else voice.say("screen_tenths", count=f"{10 * share:.0f}")
        for share in (window.good_throughout, window.half_good)
    )  # fmt: skip
    return (start, stop, _how(item, outlook, voice), _area(item, voice), *chances)


def _area(item: Stretch, voice: Voice) -> str:
    """Field done in it."""
    return "" if item.area_m2 is None else voice.number(item.area_m2, "area")


RATES = ("screen_rate_falling", "screen_rate_rising", "screen_rate_between")


def _how(item: Stretch, outlook: Night, voice: Voice) -> str:
    """With what: the machine where there are several, dew or rig, the water."""
    if _way(item) == "rig":
        unit = symbol_of("water_rate", voice.units)
        water = rate_words(item.rates_l_t, unit, voice, RATES)
        how = voice.say("screen_how_rig", water=water) if water else ""
        how = how or voice.say("screen_how_rig_alone")
    else:
        how = voice.say(f"screen_how_{_way(item)}")
    if len(outlook.farm.balers) > 1:
        return voice.say("screen_how_machine", machine=item.baler, how=how)
    return how


def _sentences(outlook: Night, voice: Voice) -> dict[str, list[tuple[int, str]]]:
    """Ranked sentences by field; those that several fields share stand under the name ""."""
    own: dict[str, list[tuple[int, str]]] = {}
    for field in outlook:
        own[field.name] = list(_of_field(field, outlook, field_voice(field, voice)))
    fields_of: dict[str, list[str]] = {}
    for name, said in own.items():
        for _, text in said:
            fields_of.setdefault(text, []).append(name)
    common: dict[str, int] = {}
    for name, said in own.items():
        own[name] = [(rank, text) for rank, text in said if len(fields_of[text]) == 1]
        common |= {text: rank for rank, text in said if len(fields_of[text]) > 1}
    shared = [
        (rank, text if len(fields_of[text]) == len(own)
         else voice.say("screen_of_fields", fields=voice.listed(fields_of[text]),
                        text=sentence(text)))
        for text, rank in common.items()
    ]  # fmt: skip
    others = [remark for remark in cautions_of(outlook) if remark.key != UNMEASURED]
    told = [(0, text) for text in (*shared_sentences(outlook, voice), *phrases(others, voice))]
    of_all = {sentence(text) for _, text in told}
    own = {name: [item for item in said if sentence(item[1]) not in of_all]
           for name, said in own.items()}  # fmt: skip
    once = {sentence(text): (rank, text) for rank, text in reversed([*told, *shared])}
    return {**own, "": list(reversed(once.values()))}


def _of_field(field: FieldNight, outlook: Night, voice: Voice) -> Iterator[tuple[int, str]]:
    """Ranked sentences of one field."""
    work = stretches_of(field, outlook)
    parts = field_parts(field, voice)
    answer = verdict(field, voice)
    allowed = allowed_sentence(field, outlook, voice)
    if allowed:
        yield ALLOWED_RANK, allowed
    for kind, text in parts:
        rank = RANKS.get(kind)
        if rank is None or (kind == "rig" and field.headline.rig):
            continue
        if kind == "none" and work:
            rank = RANKS["next"]
        if kind == "none" and not work and (
            answer == voice.say("screen_unsure") or sentence(capital(answer)) == text
        ):  # fmt: skip
            continue  # which says as much
        if kind == "maybe" and not work:
            rank = MAYBE_RANK
        yield rank, text


def verdict(field: FieldNight, voice: Voice) -> str:
    """What is told of a field where nobody works tonight, in a few words."""
    head = field.headline
    if field.setting.field.all_baled:
        return voice.say("screen_baled")
    unknown = unknown_runs(field)
    if head.rig or head.as_it_lies:
        return voice.say("screen_no_machine")
    others = [baler for baler, windows in windows_by_baler(field).items() if windows]
    if others:
        return voice.say("screen_others_alone", balers=voice.listed(others))
    if unknown and not head.maybe:
        spans = [voice.span(run.start, run.end) for run in unknown]
        return voice.say("screen_unknown", spans=voice.listed(spans))
    if head.maybe:
        held = held_only_by(field)
        if asks_for_stems(field):
            return voice.say("screen_stems")
        return voice.say("screen_unsure") if held is None else phrase(held, voice)
    calls = Counter(hour.call for hour in night_hours(field))
    why = calls.most_common(1)[0][0]
    if why != Call.NOT_CURED:
        why = next((call for call in (Call.DAMP_BELOW, Call.TOO_WET) if calls[call]), why)
    return voice.say("screen_wait", call=voice.call(why))


def allowed_sentence(field: FieldNight, outlook: Night, voice: Voice) -> str:
    """What the hay would allow, where there is a plan and its work is not just that."""
    if plan_of(outlook) is None:
        return ""
    head, work = field.headline, stretches_of(field, outlook)
    windows = (*head.dew, *head.ready, *head.rig)
    told = {(item.window.call, item.window.start, item.window.end) for item in work}
    if told == {(window.call, window.start, window.end) for window in windows}:
        return ""
    return hay_allows(field, voice)


def hay_allows(field: FieldNight, voice: Voice) -> str:
    """Tonight's windows of go, whatever machine is there; empty for none."""
    by_baler = windows_by_baler(field)
    said = []
    for baler, windows in by_baler.items():
        ways = []
        for call in BALED:
            spans = [voice.span(w.start, w.end) for w in windows if w.call == call]
            if spans:
                ways.append(voice.say(f"screen_way_{WAYS[call]}", spans=voice.listed(spans)))
        key = "screen_hay_allows_baler" if len(by_baler) > 1 else "screen_hay_allows"
        if ways:
            said.append(voice.say(key, ways="; ".join(ways), baler=baler))
    return " ".join(said)


def _close(
    outlook: Night, voice: Voice, width: int, farm_option: str, options: Sequence[str]
) -> list[Part]:
    """Dangers, what stands behind it, and what to do next."""
    summary = weather_summary(outlook)
    measured = any(remark.key == UNMEASURED for remark in outlook.cautions)
    drawn = any(field.weighed.weights.weights.any() for field in outlook)
    runs = [item.values["count"] for item in summary.assumed if item.key == "spread_of_runs"]
    values: dict[str, object] = {
        "source": summary.source,
        "measured": voice.say("screen_never_measured" if measured else "screen_tuned"),
    }
    fitted = next((item.values for item in summary.assumed if item.key == "spread_fitted"), None)
    if runs and fitted is not None:
        behind = voice.say("screen_behind_runs_fitted", count=runs[0], **fitted, **values)
    elif runs:
        behind = voice.say("screen_behind_runs", count=runs[0], **values)
    elif fitted is not None:
        behind = voice.say("screen_behind_fitted", **fitted, **values)
    else:
        behind = voice.say("screen_behind" if drawn else "screen_behind_one", **values)
    told = [behind, *([summary.attribution] if summary.attribution else [])]
    if options:
        told.append(voice.say("screen_more", options=" ".join(options)))
    text, command = next_step(outlook, voice, farm_option)
    lines = wrapped(f"{text} {command}", width)
    if len(lines) > 1:
        lines = [*wrapped(text, width), f"  {command}"]
    return [
        Part(tuple(wrapped(voice.say("screen_dangers"), width))),
        Part(tuple(wrapped(" ".join(told), width))),
        Part(tuple(lines), strong=True),
    ]


def next_step(outlook: Night, voice: Voice, farm_option: str = "") -> tuple[str, str]:
    """What to do next, and the command for it."""

    def said(key: str, command: str, **values: object) -> tuple[str, str]:
        text = voice.say(key, **values, command="").strip()
        return voice.say("screen_next", what=text), command

    working = [field for field in outlook if stretches_of(field, outlook)]
    unknown = [field for field in outlook if unknown_runs(field)]
    if unknown and not working:
        name = unknown[0].name
        return said("screen_next_unknown", _add(name, 10.5, farm_option), field=name)
    stems = [field for field in outlook if asks_for_stems(field) and field.headline.maybe]
    if stems and not working:
        name, limit = stems[0].name, stems[0].setting.band.stem_limit_wb
        command = _add(name, limit - 1, f" --part stem{farm_option}")
        return said("screen_next_stems", command, field=name)
    checked = [
        (_helps(check, stretches_of(field, outlook)), check.time, check, field)
        for field in outlook
        for check in [field.headline.check]
        if check is not None
        and (field.headline.as_it_lies or field.headline.maybe or field.headline.rig)
    ]
    if checked:
        _, time, check, field = min(checked, key=lambda item: item[:2])
        middle = sum(shown_range(check)) / 2
        when = field_voice(field, voice).when(time)
        command = _add(field.name, middle, farm_option)
        return said("screen_next_probe", command, field=field.name, time=when)
    path = farm_option.replace(" --farm", "")
    starts = [(item.window.start, field) for field in working
              for item in stretches_of(field, outlook)]  # fmt: skip
    if starts:
        start, field = min(starts, key=lambda item: item[0])
        if start - outlook.now > LONG_PAUSE:
            when = field_voice(field, voice).when(start)
            command = f"hayweather outlook{path}"
            return said("screen_next_pause", command, field=field.name, time=when)
    if any(field.headline.rig for field in outlook):
        return said("screen_next_rig", f"hayweather runsheet{path}")
    if working:
        return said("screen_next_work", f"hayweather runsheet{path}")
    looks = [
        (time, field)
        for field in outlook
        for window in field.headline.maybe
        for time in [max(window.start, outlook.now, *(r.time + PROBED for r in field.readings))]
        if time < window.end
    ]
    if looks and not working:
        time, field = min(looks, key=lambda item: item[0])
        command = _add(field.name, _expected_wb(field, time), farm_option)
        if time <= outlook.now:
            return said("screen_next_probe_now", command, field=field.name)
        when = field_voice(field, voice).when(time)
        return said("screen_next_probe", command, field=field.name, time=when)
    hoped = [field for field in outlook if may_have_dew(field)]
    if hoped and not working:
        name = hoped[0].name
        command = _add(name, _expected_wb(hoped[0], outlook.now), farm_option)
        return said("screen_next_unknown", command, field=name)
    is_morning = voice.local(outlook.now).date() > outlook.fields[0].headline.evening
    key = "screen_next_this_evening" if is_morning else "screen_next_sleep"
    return said(key, f"hayweather outlook{path}")


def _expected_wb(field: FieldNight, time: np.datetime64) -> float:
    """What the windrow is expected to read then [% wet basis]; 10.5 where nobody knows."""
    course = field.shown
    row = max(int((time - course.weather.start[0]) / QUARTER), 0)
    moistures = course.trajectory.windrow_wb[:, 0]
    value = float(moistures[min(row, moistures.size - 1)])
    return value if np.isfinite(value) else 10.5


PROBED = np.timedelta64(3600, "s")
"""A field that was read is not to be read again before so much time."""
LONG_PAUSE = np.timedelta64(3600, "s")
"""With no work before so much time, that is what is said."""


def _helps(check: Check, work: Sequence[Stretch]) -> int:
    """How much hangs on a reading, 0 most: work as the hay lies after it, other work after, none.

    What the rig is to add hangs on it less than whether dew has come at all.
    """
    after = [item for item in work if item.window.end > check.time]
    if any(item.window.call != Call.ADD_MOISTURE for item in after):
        return 0
    return 1 if after else 2


def _add(field: str, value: float, options: str) -> str:
    """The command that writes a reading down, as a shell takes it."""
    name = field if re.fullmatch(r"[\w.-]+", field) else f'"{field}"'
    return f"hayweather log add {name} {value:.1f}{options}"
