"""The table of hours of a page: a heading row, one group of rows a day."""

from __future__ import annotations

from dataclasses import dataclass

from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.nights import FieldNight
from hayweather.show.columns import Column, columns_of
from hayweather.show.phrases import phrase
from hayweather.show.runs import Note, call_runs, marks_of, notes_of
from hayweather.show.voice import Voice

PRINTED_HOURS = 24


@dataclass(frozen=True)
class HeadCell:
    """A heading; `extra` columns stand in the first table only where there is room."""

    text: str
    extra: bool
    is_text: bool


@dataclass(frozen=True)
class HourRow:
    """An hour: its call for the pattern, whether work stops, its cells in order.

    `later` hours are left out in print, where one sheet has to do.
    """

    call: Call
    stop: bool
    cells: tuple[str, ...]
    later: bool = False


@dataclass(frozen=True)
class DayRows:
    """The hours of one local date."""

    day: str
    rows: tuple[HourRow, ...]

    @property
    def later(self) -> bool:
        """Whether print leaves out the whole date."""
        return all(row.later for row in self.rows)


@dataclass(frozen=True)
class RunReason:
    """Why a run of hours has its call."""

    call: Call
    span: str
    word: str
    reasons: str


@dataclass(frozen=True)
class HoursTable:
    """The hours of one field, its notes and reasons.

    Attributes
    ----------
    heads
        Headings; the first two are hour and call.
    days
        Rows by date.
    notes
        Letter and text of what holds for some hours; the letter is empty where
        it holds for all.
    reasons
        Why each run of hours has its call.
    """

    heads: tuple[HeadCell, ...]
    days: tuple[DayRows, ...]
    notes: tuple[tuple[str, str], ...]
    reasons: tuple[RunReason, ...]

    @property
    def has_later(self) -> bool:
        """Whether print leaves out some hours."""
        return any(row.later for day in self.days for row in day.rows)

    @property
    def printed(self) -> int:
        """Number of hours that print shows at most."""
        return PRINTED_HOURS


def hours_rows(field: FieldNight, voice: Voice) -> HoursTable:
    """The table of hours of a field."""
    notes = notes_of(field.hours)
    letters = marks_of(notes)
    marks = [letters.get(hour.start, "") for hour in field.hours]
    columns = columns_of(field.hours, marks, voice)
    return HoursTable(
        heads=tuple(_head(column, voice) for column in columns),
        days=tuple(_days(field.hours, columns, voice)),
        notes=tuple((note.mark, _note(note, voice)) for note in notes),
        reasons=tuple(_reasons(field, voice)),
    )


def heading_text(column: Column) -> str:
    """The lines of a heading as one, words cut at a line's end put together.

    Examples
    --------
    >>> heading_text(Column(("", "coin-", "cide", "%"), ()))
    'coincide %'
    """
    joined = " ".join(line for line in column.heading if line)
    return joined.replace("- ", "").replace("/ ", "/")


def _head(column: Column, voice: Voice) -> HeadCell:
    """A heading; the letters of the notes get one as well."""
    text = heading_text(column) or voice.say("page_column_note")
    return HeadCell(text, column.drop > 0, column.is_text)


def _days(hours: tuple[HourCall, ...], columns: list[Column], voice: Voice) -> list[DayRows]:
    """Rows by local date."""
    found: dict[str, list[HourRow]] = {}
    for index, hour in enumerate(hours):
        cells = tuple(column.cells[index] for column in columns)
        row = HourRow(hour.call, hour.stop, cells, later=index >= PRINTED_HOURS)
        day = voice.date(voice.local(hour.start).date())
        found.setdefault(day, []).append(row)
    return [DayRows(day, tuple(rows)) for day, rows in found.items()]


def _note(note: Note, voice: Voice) -> str:
    """A stop or caution with its hours."""
    spans = ", ".join(voice.span(*span) for span in note.spans)
    held = spans if note.mark else voice.say("table_all_hours")
    return f"{phrase(note.remark, voice)} ({held})"


def _reasons(field: FieldNight, voice: Voice) -> list[RunReason]:
    """Why each run of hours has its call."""
    return [
        RunReason(
            run.call,
            voice.span(run.start, run.end),
            voice.call(run.call),
            "; ".join(phrase(remark, voice) for remark in run.reasons),
        )
        for run in call_runs(field.hours)
    ]
