"""The run sheet as a page to carry in the cab."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from hayweather.baling.calls import Call
from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, Fill, RunSheet, SheetWindow
from hayweather.show.columns import Column
from hayweather.show.page_chart import PageChart, page_chart
from hayweather.show.page_frame import Frame, render
from hayweather.show.page_outlook import outlook_frame
from hayweather.show.page_table import HeadCell, RunReason, heading_text
from hayweather.show.phrases import merge, phrases
from hayweather.show.runsheet_sentences import sheet_sentences
from hayweather.show.runsheet_table import dial_lines, sheet_columns
from hayweather.show.runsheet_text import work_runs
from hayweather.show.sentences import farm_voice, field_title, field_voice
from hayweather.show.voice import Voice

ON_TELEPHONES = 5  # columns that a narrow screen has room for
ONE_LINE = 100_000
SIGNS = ("start", "way", "stop")


@dataclass(frozen=True)
class WorkRow:
    """A piece of work with its cells after the start, or a fill with one text for all of them."""

    start: str
    call: Call | None
    cells: tuple[tuple[HeadCell, str], ...]
    fill: str = ""


@dataclass(frozen=True)
class WorkTable:
    """Pieces of work and fills by local date in order of time, their totals below."""

    heads: tuple[HeadCell, ...]
    days: dict[str, list[WorkRow]]
    totals: tuple[tuple[HeadCell, str], ...]


@dataclass(frozen=True)
class SheetPart:
    """What a page says of one field's work."""

    title: str
    sentences: list[str]
    chart: PageChart
    table: WorkTable | None
    dial: str
    reasons: list[RunReason]
    signs: dict[str, list[str]]
    relief: list[str]
    notes: list[str]


def runsheet_page(sheet: RunSheet, units: UnitSystem) -> str:
    """The run sheet as one HTML file.

    Parameters
    ----------
    sheet
        What to show.
    units
        Unit system of the reader.
    """
    outlook = sheet.outlook
    voice = farm_voice(outlook, units)
    night = voice.night(outlook.fields[0].headline.evening)
    title = voice.say("page_title_runsheet", farm=outlook.farm.name, night=night)
    parts = [_part(field, field_voice(field.outlook, voice)) for field in sheet.fields]
    return render("runsheet.html", _frame(sheet, voice, title), fields=parts)


def _frame(sheet: RunSheet, voice: Voice, title: str) -> Frame:
    """What stands around the fields."""
    around = outlook_frame(sheet.outlook, voice, title)
    cautions = phrases(sheet.cautions, voice)
    return Frame(voice, title, around.made, around.mark, cautions, around.behind)


def _part(field: FieldSheet, voice: Voice) -> SheetPart:
    """What a page says of one field."""
    return SheetPart(
        title=field_title(field.outlook, voice),
        sentences=sheet_sentences(field, voice),
        chart=page_chart(field.outlook, voice),
        table=work_table(field, voice) if field.windows else None,
        dial=" ".join(dial_lines(field, voice, ONE_LINE)),
        reasons=[_reason(run, voice) for run in work_runs(field.windows)],
        signs={name: phrases(getattr(field.signs, name), voice) for name in SIGNS},
        relief=phrases(field.relief, voice),
        notes=phrases(field.notes, voice),
    )


def work_table(field: FieldSheet, voice: Voice) -> WorkTable:
    """The table of a field with work."""
    columns = _with_spans(sheet_columns(field, voice), field, voice)
    kept = accumulate(int(column.drop == 0 or column.is_text) for column in columns)
    heads = tuple(
        HeadCell(
            heading_text(column),
            not column.is_text and (column.drop > 0 or number > ON_TELEPHONES),
            column.is_text,
        )
        for column, number in zip(columns, kept, strict=True)
    )
    totals = [column.cells[-1] for column in columns]
    return WorkTable(heads, _days(field, columns, heads, voice), _paired(heads, totals))


def _with_spans(columns: Sequence[Column], field: FieldSheet, voice: Voice) -> list[Column]:
    """The columns with start and end of a piece in one."""
    start, end, *others = columns
    spans = [_clock_span(window, voice) for window in field.windows]
    heading = (" ".join((heading_text(start), heading_text(end))),)
    return [Column(heading, (*spans, "")), *others]


def _clock_span(item: SheetWindow | Fill, voice: Voice) -> str:
    """``"8 pm to 9 pm"``."""
    start, end = (voice.clock(time, words=False) for time in (item.start, item.end))
    return voice.say("span_short", start=start, end=end)


def _paired(heads: Sequence[HeadCell], cells: Sequence[str]) -> tuple[tuple[HeadCell, str], ...]:
    """Each cell after the first with its heading."""
    return tuple(zip(heads[1:], cells[1:], strict=True))


def _days(
    field: FieldSheet, columns: Sequence[Column], heads: Sequence[HeadCell], voice: Voice
) -> dict[str, list[WorkRow]]:
    """Work and fills in order of time, by local date."""
    work = [
        (window.start, _work(window, [column.cells[index] for column in columns], heads))
        for index, window in enumerate(field.windows)
    ]
    fills = [(fill.start, _fill(fill, voice)) for fill in field.fills]
    found: dict[str, list[WorkRow]] = {}
    for start, row in sorted([*work, *fills], key=lambda pair: pair[0]):
        found.setdefault(voice.date(voice.local(start).date()), []).append(row)
    return found


def _work(window: SheetWindow, cells: Sequence[str], heads: Sequence[HeadCell]) -> WorkRow:
    """A piece of work as a row."""
    return WorkRow(cells[0], window.call, _paired(heads, cells))


def _fill(fill: Fill, voice: Voice) -> WorkRow:
    """A fill as a row."""
    key = "page_fill" if fill.baler_waits else "page_fill_idle"
    minutes = voice.amount(fill.minutes, "minutes")
    return WorkRow(_clock_span(fill, voice), None, (), voice.say(key, minutes=minutes))


def _reason(run: Sequence[SheetWindow], voice: Voice) -> RunReason:
    """Why a run of pieces has its call, and its cautions."""
    remarks = [remark for window in run for remark in (*window.reasons, *window.cautions)]
    word = voice.call(run[0].call)
    reasons = "; ".join(phrases(merge(remarks), voice))
    return RunReason(run[0].call, voice.span(run[0].start, run[-1].end), word, reasons)
