"""What people were told of a night, as it is kept, and what has changed since.

A look in the night compares what it finds with what was last told, not with the
last look: a start that drifts by a quarter of an hour each time is said as soon as
it has come to half an hour.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from hayweather.baling.clock import to_utc
from hayweather.baling.windows import Stretch as Span
from hayweather.baling.windows import united
from hayweather.nights import FieldNight
from hayweather.plan.sheet_record import RunSheet
from hayweather.show.outlook_words import Note, night_hours, notes_of, unknown_runs
from hayweather.show.runsheet_words import WorkSpan, work_spans
from hayweather.show.table import Column, Json, Table
from hayweather.show.voice import RAIN
from hayweather.weather.record import HOUR
from hayweather.words import Remark

MOVED = np.timedelta64(30 * 60, "s")
"""A start that moves by so much, or so much of what was go, is said again."""
DANGERS = (
    "stop_thunder", "stop_red_flag", "stop_fire", "stop_spray_wind",
    "caution_rain_ahead", "caution_fire",
)  # fmt: skip
"""What, once it has come into the hours ahead, is a reason to stop and look."""


@dataclass(frozen=True)
class Work:
    """Work of a baler in a field; UTC."""

    machine: str
    way: str
    start: np.datetime64
    end: np.datetime64


@dataclass(frozen=True)
class Danger:
    """What stops the work or may stop it, by the key of its text, and its hours; UTC."""

    key: str
    start: np.datetime64
    end: np.datetime64


@dataclass(frozen=True)
class Told:
    """What was said of one field's night; UTC.

    Attributes
    ----------
    field
        Its name.
    turn
        When the night ends.
    work
        Of the balers, in order of time.
    go, maybe, unknown
        Stretches to bale, to probe first, and that nobody can call.
    dangers
        Each stretch of each.
    """

    field: str
    turn: np.datetime64
    work: tuple[Work, ...] = ()
    go: tuple[Span, ...] = ()
    maybe: tuple[Span, ...] = ()
    unknown: tuple[Span, ...] = ()
    dangers: tuple[Danger, ...] = ()


SPAN = Table(
    (
        Column("start", "Its start", lambda span: span[0], kind="time"),
        Column("end", "Its end", lambda span: span[1], kind="time"),
    ),
    "A stretch of time.",
)
TOLD = Table(
    (
        Column("field", "Name of the field", kind="text"),
        Column("turn", "When the night ends", kind="time"),
        Column("work", "Work of the balers", kind="rows", of=Table((
            Column("machine", "Name of the baler", kind="text"),
            Column("way", "On dew, behind the rig, or dry", kind="text"),
            Column("start", "Its start", kind="time"),
            Column("end", "Its end", kind="time"),
        ), "Work in one way without a pause.")),
        Column("go", "When it can be baled", kind="rows", of=SPAN),
        Column("maybe", "When it may be baled: probe first", kind="rows", of=SPAN),
        Column("unknown", "What nobody can call", kind="rows", of=SPAN),
        Column("dangers", "What stops the work, or may", kind="rows", of=Table((
            Column("key", "Which danger", kind="text", choices=DANGERS),
            Column("start", "Its start", kind="time"),
            Column("end", "Its end", kind="time"),
        ), "One danger.")),
    ),
    "What was told of one field's night.",
)  # fmt: skip


def told_of(sheet: RunSheet) -> list[Told]:
    """What the run sheets of a night tell of each field."""
    return [_told(field.night, sheet) for field in sheet.fields]


def _told(field: FieldNight, sheet: RunSheet) -> Told:
    """The same of one field."""
    head = field.headline
    found = notes_of(night_hours(field))
    return Told(
        field.name,
        head.turn,
        work=tuple(Work(name, span.way, span.start, span.end)
                   for name, span in field_work(sheet, field.name)),
        go=tuple(united((item.start, item.end) for item in (*head.dew, *head.ready, *head.rig))),
        maybe=tuple(united((item.start, item.end) for item in head.maybe)),
        unknown=tuple(united((run.start, run.end) for run in unknown_runs(field))),
        dangers=tuple(
            danger for note in found if note.remark.key in DANGERS for danger in _of_note(note)
        ),
    )  # fmt: skip


def _of_note(note: Note) -> Iterator[Danger]:
    """Its dangers; a rain lasts from its own first hour, not from the first that warns of it."""
    key, begin = note.remark.key, note.remark.values.get("time")
    if key == RAIN and isinstance(begin, np.datetime64):
        yield Danger(key, begin, max(note.spans[-1][1], begin + HOUR))
    else:
        yield from (Danger(key, *span) for span in note.spans)


def field_work(sheet: RunSheet, field: str) -> list[tuple[str, WorkSpan]]:
    """The work of the balers in a field, in order of time, each with the baler's name."""
    found = [
        (machine.name, span)
        for machine in sheet.machines
        if machine.kind == "baler"
        for span in work_spans(machine)
        if span.field == field
    ]
    return sorted(found, key=lambda pair: pair[1].start)


def told_from(form: Json) -> list[Told]:
    """What was told, from its JSON.

    Raises
    ------
    KeyError, TypeError, ValueError
        If it is none.
    """
    return [
        Told(
            field=str(each["field"]),
            turn=_time(each["turn"]),
            work=tuple(Work(str(w["machine"]), str(w["way"]), *_span(w)) for w in each["work"]),
            go=tuple(map(_span, each["go"])),
            maybe=tuple(map(_span, each["maybe"])),
            unknown=tuple(map(_span, each["unknown"])),
            dangers=tuple(Danger(str(d["key"]), *_span(d)) for d in each["dangers"]),
        )
        for each in form["fields"]
    ]


def _span(form: Json) -> Span:
    """Start and end."""
    return _time(form["start"]), _time(form["end"])


def _time(text: Any) -> np.datetime64:
    """A local time with its offset as UTC."""
    return to_utc(datetime.fromisoformat(text)).astype("datetime64[s]")


def changes(before: Sequence[Told], after: Sequence[Told], now: np.datetime64) -> list[Remark]:
    """What has changed of the hours ahead so that people must be told.

    A start moved by half an hour or more, work that is gone or new, half an hour or
    more of "go" that is none any longer, or no hour left to go or to probe, hours that
    became unknown, rain, thunder or fire weather that has come into the hours ahead or
    comes an hour or more sooner.
    What lies before now counts as neither moved nor lost.

    Parameters
    ----------
    before, after
        What was told last, and what is found now, of the same night.
    now
        UTC.
    """
    earlier = {told.field: told for told in before}
    found: list[Remark] = []
    for told in after:
        old = earlier.get(told.field)
        if old is None:
            found.append(Remark("changed_new_field", {"field": told.field}))
            continue
        starts, worse = list(_starts(old, told, now)), list(_worse(old, told, now))
        if any(said.key == "changed_no_work" for said in starts):
            worse = [said for said in worse if said.key == "changed_unknown"]
        found += [*_dangers(old, told, now), *starts, *worse]
    return found


def same_night(before: Sequence[Told], now: np.datetime64) -> bool:
    """Whether what was told holds for a night that has not ended."""
    return bool(before) and all(told.turn > now for told in before)


def _dangers(old: Told, new: Told, now: np.datetime64) -> Iterator[Remark]:
    """Dangers that have come, or come sooner."""
    for key in DANGERS:
        spans = _ahead([(d.start, d.end) for d in new.dangers if d.key == key], now)
        known = _ahead([(d.start, d.end) for d in old.dangers if d.key == key], now)
        if spans and (not known or known[0][0] - spans[0][0] >= HOUR):
            values: dict[str, object] = {"danger": Remark(f"changed_{key}"), "start": spans[0][0]}
            yield Remark("changed_danger", {"field": new.field, **values})


def _starts(old: Told, new: Told, now: np.datetime64) -> Iterator[Remark]:
    """Work that begins at another time, is gone, or is new."""
    was, will = (_ahead([(w.start, w.end) for w in told.work], now) for told in (old, new))
    field: dict[str, object] = {"field": new.field}
    if was and not will:
        if was[-1][1] - was[0][0] >= MOVED:
            yield Remark("changed_no_work", {**field, "before": was[0][0]})
    elif will and not was:
        yield Remark("changed_new_work", {**field, "start": will[0][0]})
    elif was and abs(was[0][0] - will[0][0]) >= MOVED:
        yield Remark("changed_start", {**field, "before": was[0][0], "start": will[0][0]})


def _worse(old: Told, new: Told, now: np.datetime64) -> Iterator[Remark]:
    """Hours that were go, or to probe, and are no longer."""
    field: dict[str, object] = {"field": new.field}
    was_said = _ahead((*old.go, *old.maybe), now)
    unknown = _length(_both(was_said, _ahead(new.unknown, now)))
    if unknown >= MOVED:
        yield Remark("changed_unknown", field)
        return
    go = _ahead(old.go, now)
    lost = _length(go) - _length(_both(go, _ahead(new.go, now)))
    if lost >= MOVED:
        yield Remark("changed_less_go", {**field, "lost": _duration(lost)})
        return
    left = _ahead((*new.go, *new.maybe), now)
    if was_said and not left and (not go or _length(was_said) >= MOVED):
        yield Remark("changed_no_maybe", field)


def _ahead(spans: Iterable[Span], now: np.datetime64) -> list[Span]:
    """What is left of stretches from now on, in order."""
    return united((max(start, now), end) for start, end in spans if end > now)


def _both(one: Sequence[Span], other: Sequence[Span]) -> list[Span]:
    """Where both are."""
    return [
        (max(a[0], b[0]), min(a[1], b[1]))
        for a in one
        for b in other
        if max(a[0], b[0]) < min(a[1], b[1])
    ]


def _length(spans: Iterable[Span]) -> np.timedelta64:
    """Of all together."""
    return sum((end - start for start, end in spans), np.timedelta64(0, "s"))


def _duration(length: np.timedelta64) -> tuple[float, str]:
    """A length as minutes for people."""
    return (float(length / np.timedelta64(60, "s")), "minutes")
