"""Pages to carry: the outlook, the run sheet, seasons; HTML without network."""

from __future__ import annotations

import io
import re
from base64 import b64encode
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from itertools import accumulate

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

from hayweather.baling.advice import Advice
from hayweather.baling.calls import Call
from hayweather.baling.hours import HourCall
from hayweather.baling.windows import stretches
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.plan.record import FieldsPlan
from hayweather.plan.sheet_record import Dial, FieldWork, MachineSheet, Piece, RunSheet, Step
from hayweather.seasons.record.results import Seasons
from hayweather.show import outlook_words, plan_words
from hayweather.show.clock import QUARTER_H, Clock
from hayweather.show.colors import CALL_LOOKS, CURVES, class_of, variables
from hayweather.show.layout import TextColumn, held
from hayweather.show.outlook_plan import (
    cautions_of,
    missed_lines,
    plan_sentences,
    shared_sentences,
)
from hayweather.show.outlook_text import WIND_HEIGHT_M, columns_of, farm_notes, table_title
from hayweather.show.outlook_words import (
    AnswerLine,
    Note,
    answer_lines,
    call_runs,
    farm_voice,
    field_title,
    field_voice,
    marks_of,
    maybe_windows,
    notes_of,
    tonight_lines,
)
from hayweather.show.plan_data import weather_of
from hayweather.show.plan_words import behind_sentences, caution_sentences, plan_voice
from hayweather.show.runsheet_text import (
    answer_columns,
    answer_rows,
    answer_units,
    dial_columns,
    run_remarks,
    sheet_columns,
    step_span,
    work_runs,
)
from hayweather.show.runsheet_words import (
    answer_text,
    burner_text,
    emergency_sentence,
    field_sentences,
    legend_of,
    machine_sentences,
    machine_title,
    missed_sentences,
    sheet_voice,
    step_text,
)
from hayweather.show.screen import next_step, verdict, work_table
from hayweather.show.seasons_text import closing_parts, first_parts, head_texts, site_part
from hayweather.show.seasons_words import counting_sentence, season_voice
from hayweather.show.voice import (
    Voice,
    merge,
    phrase,
    phrases,
    safety_texts,
    sentence,
    short_safety_texts,
)
from hayweather.show.weather_facts import made_lines, weather_lines, weather_summary
from hayweather.units import symbol_of
from hayweather.weather.record import Floats

PRINTED_HOURS = 24


@dataclass(frozen=True)
class HeadCell:
    """A heading; `extra` columns stand in the first table only where there is room."""

    text: str
    extra: bool
    is_text: bool


@dataclass(frozen=True)
class HourRow:
    """An hour: its call for the pattern, whether it says go or work stops, its cells in order.

    `later` hours are left out in print, where one sheet has to do.
    """

    call: Call
    go: bool
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
        heads=_heads(columns, voice),
        days=tuple(_table_days(field.hours, columns, voice)),
        notes=tuple((note.mark, _note(note, voice)) for note in notes),
        reasons=tuple(_reasons(field, voice)),
    )


def heading_text(column: TextColumn) -> str:
    """The lines of a heading as one, words cut at a line's end put together.

    Examples
    --------
    >>> heading_text(TextColumn(("", "coin-", "cide", "%"), ()))
    'coincide %'
    """
    joined = " ".join(line for line in column.heading if line)
    return joined.replace("- ", "").replace("/ ", "/")


HOURS_ON_TELEPHONES = 6  # columns of hours that a narrow screen has room for, notes apart


def _heads(columns: Sequence[TextColumn], voice: Voice) -> tuple[HeadCell, ...]:
    """Headings; the letters of the notes get one as well."""
    kept = accumulate(int(column.drop == 0) for column in columns)
    return tuple(
        HeadCell(
            heading_text(column) or voice.say("page_column_note"),
            column.drop > 0 or (not column.is_text and number > HOURS_ON_TELEPHONES),
            column.is_text,
        )
        for column, number in zip(columns, kept, strict=True)
    )


def _table_days(
    hours: tuple[HourCall, ...], columns: list[TextColumn], voice: Voice
) -> list[DayRows]:
    """Rows by local date."""
    found: dict[str, list[HourRow]] = {}
    for index, hour in enumerate(hours):
        cells = tuple(column.cells[index] for column in columns)
        go = hour.advice == Advice.GO and not hour.stop
        row = HourRow(hour.call, go, hour.stop, cells, later=index >= PRINTED_HOURS)
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


TICK_HOURS = 6
LABEL_ROOM = 6.0  # percent of the width that half a label takes on a telephone
SCALE_TOP_WB = 20.0  # the scale of moisture reaches at least this far
SCALE_MOST_WB = 30.0  # and at most this far; wetter curves leave it, so that the band stays wide
SCALE_ROOM = 1.08


@dataclass(frozen=True)
class Part:
    """A stretch of the chart in percent of its width, with what stands in it."""

    left: float
    width: float
    name: str = ""


@dataclass(frozen=True)
class Level:
    """A height in percent from the top of the panel of moistures, with its label."""

    top: float
    label: str


@dataclass(frozen=True)
class PageChart:
    """What the chart of one field shows.

    Attributes
    ----------
    calls
        Runs of one call; the name is the call's word.
    kinds
        The call of each run.
    advice
        Where to go, to probe first, and where nobody knows; the name is the
        word, empty where it has no room.
    advices
        The advice of each.
    stops, dark, days
        Where work stops, from sunset to sunrise, local dates.
    ticks
        Hours of the clock.
    band
        Upper and lower end of the band.
    curves
        By name: lists of points ``x,y`` in percent, one list a part without gaps.
    summary
        What the chart shows in words.
    """

    calls: tuple[Part, ...]
    kinds: tuple[Call, ...]
    advice: tuple[Part, ...]
    advices: tuple[Advice, ...]
    stops: tuple[Part, ...]
    dark: tuple[Part, ...]
    days: tuple[Part, ...]
    ticks: tuple[Part, ...]
    band: tuple[Level, Level]
    curves: dict[str, list[str]]
    summary: str


def page_chart(field: FieldNight, voice: Voice, *, tonight: bool = False) -> PageChart:
    """The chart of one field's forecast as it stands.

    Parameters
    ----------
    tonight
        Only the hours before the night ends at 14:00, and no curves.
    """
    weather, site = field.shown.weather, field.setting.site
    clock = Clock(weather.start[0], weather.hours, voice)
    if tonight:
        ends = round(clock.position(field.headline.turn))
        clock = replace(clock, hours=min(max(ends, 1), weather.hours))
    runs = [
        (first, min(past, clock.hours), call, stop)
        for first, past, call, stop in _runs(field)
        if first < clock.hours
    ]
    stops = [run for run in runs if run[3]]
    advised = [
        (first, min(past, clock.hours), advice)
        for first, past, advice in _advised(field)
        if first < clock.hours
    ]
    ticks = [_chart_part(at, at, clock, clock.text(at)) for at in clock.ticks(TICK_HOURS)]
    top = _scale_top(field)
    return PageChart(
        calls=tuple(
            _chart_part(first, past, clock, voice.call(call)) for first, past, call, _ in runs
        ),
        kinds=tuple(call for _, _, call, _ in runs),
        advice=tuple(
            _with_room(_chart_part(first, past, clock, voice.advice(advice)))
            for first, past, advice in advised
        ),
        advices=tuple(advice for _, _, advice in advised),
        stops=tuple(_chart_part(first, past, clock) for first, past, _, _ in stops),
        dark=tuple(_chart_part(*one, clock) for one in clock.dark(site.latitude, site.longitude)),
        days=tuple(_chart_part(*stretch, clock, voice.date(day)) for stretch, day in clock.days()),
        ticks=tuple(tick for tick in ticks if LABEL_ROOM <= tick.left <= 100 - LABEL_ROOM),
        band=_band(field, top, voice),
        curves={} if tonight else _curves(field, top),
        summary=_summary(field, runs, clock, voice),
    )


def _runs(field: FieldNight) -> list[tuple[float, float, Call, bool]]:
    """First and past hour of every run of one call, and whether work stops there."""
    shown = field.shown
    call, stopped = shown.quarters.call[:, 0], shown.stopped[:, 0]
    new = np.flatnonzero((np.diff(call) != 0) | (np.diff(stopped.astype(np.int8)) != 0)) + 1
    firsts = [0, *(int(index) for index in new)]
    return [
        (first * QUARTER_H, past * QUARTER_H, Call(int(call[first])), bool(stopped[first]))
        for first, past in zip(firsts, [*firsts[1:], call.size], strict=True)
    ]


def _advised(field: FieldNight) -> list[tuple[float, float, Advice]]:
    """First and past hour of every run of one advice other than to wait."""
    said = field.shown.advice
    return [
        (first * QUARTER_H, past * QUARTER_H, advice)
        for advice in (Advice.GO, Advice.PROBE_FIRST, Advice.UNKNOWN)
        for first, past in stretches(said == advice)
    ]


LETTER = 1.9  # percent of the width that a letter takes on a telephone


def _with_room(part: Part) -> Part:
    """A part without its word where that does not fit."""
    return part if LETTER * len(part.name) <= part.width else replace(part, name="")


def _chart_part(first: float, past: float, clock: Clock, name: str = "") -> Part:
    """Hours as percent of the width."""
    scale = 100 / clock.hours
    return Part(round(first * scale, 3), round((past - first) * scale, 3), name)


def _moistures(field: FieldNight) -> dict[str, Floats]:
    """Moisture at every quarter hour [% wet basis]."""
    run = field.shown.trajectory
    named = {"windrow": run.windrow_wb, "leaf": run.leaf_wb, "stem": run.stem_wb}
    return {name: named[name][:, 0] for name in CURVES}


def _scale_top(field: FieldNight) -> float:
    """Upper end of the scale of moistures [% wet basis]."""
    known = [values[np.isfinite(values)] for values in _moistures(field).values()]
    highest = max((float(values.max()) for values in known if values.size), default=0.0)
    least = max(SCALE_TOP_WB, field.setting.band.high_wb)
    return max(least, min(highest, SCALE_MOST_WB)) * SCALE_ROOM


def _band(field: FieldNight, top: float, voice: Voice) -> tuple[Level, Level]:
    """Upper and lower end of the band."""
    band = field.setting.band
    high, low = (
        Level(round(100 * (1 - value / top), 2), voice.amount(value, "percent"))
        for value in (band.high_wb, band.low_wb)
    )
    return high, low


def _curves(field: FieldNight, top: float) -> dict[str, list[str]]:
    """Points of the curves, parted where a value is not known."""
    return {name: _points(values, top) for name, values in _moistures(field).items()}


def _points(values: Floats, top: float) -> list[str]:
    """Points of one curve, one list a part without gaps."""
    parts: list[list[str]] = [[]]
    for index, value in enumerate(values):
        if np.isfinite(value):
            along, down = 100 * index / (values.size - 1), 100 * (1 - value / top)
            parts[-1].append(f"{along:.2f},{down:.2f}")
        elif parts[-1]:
            parts.append([])
    return [" ".join(part) for part in parts if len(part) > 1]


def _summary(
    field: FieldNight, runs: list[tuple[float, float, Call, bool]], clock: Clock, voice: Voice
) -> str:
    """What the chart shows, for those who cannot see it."""
    said = []
    for first, _, call, stopped in runs:
        word = voice.call(call)
        if stopped:
            word = voice.say("chart_described_stop", call=word)
        start = voice.when(clock.time(first))
        said.append(voice.say("chart_described_call", start=start, call=word))
    start = voice.when(clock.start)
    described = voice.say("chart_described", start=start, calls="; ".join(said))
    lines = answer_lines(field, field.windows, maybe_windows(field, field.maybe), voice)
    return " ".join([*(sentence(line.text) for line in lines), described])


@dataclass(frozen=True)
class Folder:
    """What a page of a served folder has beside: its age, the way back, a script of its own.

    Attributes
    ----------
    script
        Says the age by the reader's clock and keeps the folder for hours without signal.
    words
        What the script says, by name; ``%`` stands for a number.
    made, until
        Milliseconds since 1970: when it was made, until when it serves; None on an
        invented night, which has no age.
    said
        The age as it stands without the script.
    home
        Address of the first page and its name; None on that page itself.
    """

    script: str
    words: Mapping[str, str]
    made: int | None
    until: int | None
    said: str
    home: tuple[str, str] | None = None


@dataclass(frozen=True)
class Frame:
    """What stands around the contents of a page.

    Attributes
    ----------
    voice
        Language of the page.
    title
        Heading.
    made
        When it was made, of which forecast, until when it serves.
    mark
        The line that an invented sample begins with; empty for a real farm.
    cautions
        Finished sentences that hold for this page; the safety cautions follow in
        full.
    behind
        What stands behind it: weather, attribution, assumptions.
    script
        The script of the page, empty for none.
    missed
        Dates that fields miss, said before all else.
    folder
        What a page of a served folder has beside; None for a page to carry.
    names
        Names that a sentence may begin with and that stay as the user wrote them.
    """

    voice: Voice
    title: str
    made: Sequence[str]
    mark: str
    cautions: Sequence[str] = ()
    behind: Sequence[str] = ()
    script: str = ""
    missed: Sequence[str] = ()
    folder: Folder | None = None
    names: Collection[str] = ()

    @property
    def policy(self) -> str:
        """What the page may load: nothing, or its folder; it runs no script but its own."""
        beside = "" if self.folder is None else self.folder.script
        own = " ".join(f"'sha256-{_digest(text)}'" for text in (self.script, beside) if text)
        parts = ["default-src 'none'", "style-src 'unsafe-inline'"]
        parts += [f"script-src {own}"] if own else []
        if self.folder is not None:
            parts += ["img-src 'self'", "manifest-src 'self'", "worker-src 'self'"]
        return "; ".join(parts)

    @property
    def safety(self) -> list[str]:
        """The cautions that always show."""
        return safety_texts(self.voice)


def _digest(script: str) -> str:
    """Of a script, as a page's policy names it."""
    return b64encode(sha256(script.encode()).digest()).decode()


@dataclass
class Served:
    """What stands around a page that is served live, whatever page it is.

    Attributes
    ----------
    values
        What ``live.html`` shows.
    is_dark
        Whether the sun is down in the fields: the page is dark whatever the telephone says.
    policy
        What the page may load, known once it is rendered.
    """

    values: dict[str, object]
    is_dark: bool = False
    policy: str = ""


_SERVED: ContextVar[Served | None] = ContextVar("served", default=None)
OWN_SERVER = (
    "script-src 'self'{own}; connect-src 'self'; img-src 'self'; worker-src 'self'; "
    "form-action 'self'; base-uri 'none'"
)


@contextmanager
def served_as(served: Served) -> Iterator[Served]:
    """Pages rendered inside are for the browsers of a live server."""
    token = _SERVED.set(served)
    try:
        yield served
    finally:
        _SERVED.reset(token)


def _served_policy(frame: Frame) -> str:
    """What a served page may load: its own server's script, forms and news, and nothing else."""
    first, _, own = frame.policy.partition("; script-src")
    return f"{first}; {OWN_SERVER.format(own=own)}"


def render(template: str, frame: Frame, **values: object) -> str:
    """A page as HTML text.

    Parameters
    ----------
    template
        Name of a file of `templates` that extends ``frame.html``.
    **values
        What the template shows; every text in it is made harmless.
    """
    found = _environment().get_template(template)
    served = _SERVED.get()
    if served is not None:
        served.policy = _served_policy(frame)
        values |= {"live": served.values}
    return found.render(frame=frame, say=frame.voice.say, served=served, **values)


@pass_context
def _sentence(context: Context, text: str) -> str:
    """A text as a sentence; a name of the user's at its beginning keeps its letters."""
    return held(sentence(text, context["frame"].names if "frame" in context else ()))


@cache
def _environment() -> Environment:
    """The templates; a name that is not given is an error."""
    environment = Environment(
        loader=PackageLoader("hayweather.show"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "sentence": _sentence,
        "held": held,
        "class_of": class_of,
        "advice_class": lambda advice: advice.word.replace(" ", "-"),
        "breakable": breakable,
        "heading": heading_text,
    }
    environment.globals |= {
        "Markup": Markup,
        "day": variables(night=False),
        "night": variables(night=True),
        "calls": [class_of(call) for call in Call],
        "curves": CURVES,
    }
    return environment


def breakable(text: str) -> Markup:
    """A heading that may go on in the next line after a stroke, its signs made harmless.

    Examples
    --------
    >>> str(breakable("<gal/ton>"))
    '&lt;gal/<wbr>ton&gt;'
    """
    return escape(text).replace("/", Markup("/<wbr>"))


@dataclass(frozen=True)
class FieldPart:
    """What a page says of one field: what is told, windows, sentences, chart, hours."""

    name: str
    verdict: str
    title: str
    windows: list[AnswerLine]
    sentences: list[str]
    chart: PageChart
    caption: str
    basis: str
    table: HoursTable


def outlook_page(
    outlook: Night, units: UnitSystem, *, field: str | None = None, folder: Folder | None = None
) -> str:
    """The outlook as one HTML file.

    Parameters
    ----------
    field
        Only this field; the plan stays that of all.
    folder
        What the page has beside where it stands in a served folder.
    """
    voice = farm_voice(outlook, units)
    night = voice.night(outlook.fields[0].headline.evening)
    title = voice.say("page_title", farm=outlook.farm.name, night=night)
    shown = outlook.fields if field is None else [outlook[field]]
    parts = [field_part(item, field_voice(item, voice)) for item in shown]
    return render(
        "outlook.html",
        replace(
            outlook_frame(outlook, voice, title),
            missed=missed_lines(outlook, voice),
            folder=folder,
        ),
        fields=parts,
        work=work_table(outlook, voice),
        next_step=" ".join(next_step(outlook, voice)),
        shared=shared_sentences(outlook, voice),
        plan=plan_sentences(outlook, voice),
    )


def plan_page(plan: FieldsPlan, units: UnitSystem) -> str:
    """The plan as one HTML file: dates missed, work, visits, reasons."""
    from hayweather.show.plan_text import plan_parts

    voice = plan_voice(plan, units)
    dated = replace(voice, evening=None)
    times = {"time": dated.when(plan.now), "end": dated.when(plan.night.end)}
    facts = weather_lines(weather_of(plan), voice)
    frame = Frame(
        voice=voice,
        title=voice.say("fields_title", farm=plan.farm.name, **times),
        made=made_lines(plan.night, voice),
        mark=voice.say("outlook_invented") if plan.farm.weather.invented else "",
        cautions=caution_sentences(plan, voice),
        behind=[*facts[1:], *behind_sentences(plan, voice)],
    )
    frame = replace(frame, missed=plan_words.missed_lines(plan, voice))
    return render("plan.html", frame, sections=plan_parts(plan, voice))


def html_of(outlook: Night, units: UnitSystem | None = None) -> str:
    """The short answer as HTML for a notebook: windows and strip of each field, cautions.

    Parameters
    ----------
    units
        Unit system of the reader; None for the farm's.
    """
    voice = farm_voice(outlook, units or outlook.farm.units)
    night = voice.night(outlook.fields[0].headline.evening)
    title = voice.say("page_title", farm=outlook.farm.name, night=night)
    fields = [
        ShortPart(field_title(field, own), tonight_lines(field, own), page_chart(field, own))
        for field in outlook.fields
        for own in [field_voice(field, voice)]
    ]
    frame = outlook_frame(outlook, voice, title)
    safety = [*frame.cautions, *short_safety_texts(voice)]
    return render("short.html", frame, fields=fields, looks=CALL_LOOKS, safety=safety)


@dataclass(frozen=True)
class ShortPart:
    """What the short answer says of one field."""

    title: str
    windows: list[AnswerLine]
    chart: PageChart


def outlook_frame(outlook: Night, voice: Voice, title: str) -> Frame:
    """What stands around the fields of an outlook."""
    behind = weather_lines(weather_summary(outlook), voice)[1:]
    return Frame(
        voice=voice,
        title=title,
        made=made_lines(outlook, voice),
        mark=voice.say("outlook_invented") if outlook.farm.weather.invented else "",
        cautions=phrases(cautions_of(outlook), voice),
        behind=[*behind, *farm_notes(outlook, voice)],
    )


def field_part(field: FieldNight, voice: Voice) -> FieldPart:
    """What a page says of one field."""
    basis = voice.say("table_basis", height=voice.amount(WIND_HEIGHT_M, "length"))
    if any(hour.chance is not None for hour in field.hours):
        basis += " " + voice.say("table_agree")
    return FieldPart(
        name=field.name,
        verdict=verdict(field, voice),
        title=field_title(field, voice),
        windows=tonight_lines(field, voice, details=False),
        sentences=outlook_words.field_sentences(field, voice),
        chart=page_chart(field, voice),
        caption=table_title(field, voice),
        basis=basis,
        table=hours_rows(field, voice),
    )


SIGNS = ("start", "way", "stop")
HELD = "\u00a0"
CLOCK_SCRIPT = "runsheet.js"


@dataclass(frozen=True)
class Card:
    """One setting or step as a card: what is done now or next.

    Attributes
    ----------
    first, past
        Milliseconds since 1970, for the clock of the telephone.
    span, place
        Its time, and where.
    facts
        Name and value of what is dialed, the most important first.
    warning
        What must be said first; empty for nothing.
    text
        What else to do.
    answers
        What to dial where the meter reads otherwise.
    shown
        Label of a card that stands on the page as made: "first", "then" or none.
    """

    first: int
    past: int
    span: str
    place: str
    facts: tuple[tuple[str, str], ...]
    warning: str
    text: str
    answers: tuple[str, ...]
    shown: str = ""


@dataclass(frozen=True)
class SheetTable:
    """A table of a machine: headings, rows by local date, a row of one text for a step.

    Of `kept` columns a telephone has room; further ones stand in sums and sentences.
    """

    heads: tuple[str, ...]
    days: dict[str, list[tuple[str, ...]]]
    totals: tuple[str, ...] = ()
    kept: int = 100


@dataclass(frozen=True)
class SheetPart:
    """What a page says of one machine."""

    title: str
    cards: list[Card]
    sentences: list[str]
    dials: SheetTable
    answers: SheetTable | None
    answers_said: str
    work: SheetTable
    legend: str
    reasons: list[RunReason]
    signs: dict[str, list[str]]
    relief: list[str]
    notes: list[str]


@dataclass(frozen=True)
class FieldSaid:
    """What a page says of one field beside the machines' sheets."""

    title: str
    sentences: list[str]
    chart: PageChart


def runsheet_page(sheet: RunSheet, units: UnitSystem, *, folder: Folder | None = None) -> str:
    """The run sheets as one HTML file; a small script moves the cards with the clock.

    Without it, and on the page of an invented night, the first two from the time
    the page was made stand there with their times.

    Parameters
    ----------
    folder
        What the page has beside where it stands in a served folder.
    """
    voice = sheet_voice(sheet, units)
    evening = voice.night(sheet.night.fields[0].headline.evening)
    title = voice.say("page_title_runsheet", farm=sheet.night.farm.name, night=evening)
    script = "" if sheet.night.farm.weather.invented else script_text(CLOCK_SCRIPT)
    return render(
        "runsheet.html",
        replace(
            _frame(sheet, voice, title),
            script=script,
            missed=missed_sentences(sheet, voice),
            folder=folder,
        ),
        machines=[_sheet_part(machine, sheet, voice) for machine in sheet.machines],
        fields=[_field_said(field, voice) for field in sheet.fields],
        emergency=emergency_sentence(sheet, voice),
        script=Markup(script),
    )


def script_text(name: str) -> str:
    """A script, or another file of `templates`, as it stands."""
    loader = _environment().loader
    if loader is None:  # pragma: no cover - the environment has one; for the types
        return ""
    return loader.get_source(_environment(), name)[0].strip()


def _frame(sheet: RunSheet, voice: Voice, title: str) -> Frame:
    """What stands around the sheets."""
    around = outlook_frame(sheet.night, voice, title)
    cautions = phrases(sheet.cautions, voice)
    return Frame(voice, title, around.made, around.mark, cautions, around.behind)


def _sheet_part(machine: MachineSheet, sheet: RunSheet, voice: Voice) -> SheetPart:
    """What a page says of one machine."""
    says = bool(answer_rows(machine))
    return SheetPart(
        title=machine_title(machine, voice),
        cards=_cards(machine, sheet.night.now, voice),
        sentences=machine_sentences(machine, voice),
        dials=_dial_table(machine, voice),
        answers=_answer_table(machine, voice) if says else None,
        answers_said=voice.say("sheet_answers", **answer_units(voice)),
        work=_work_table(machine, voice),
        legend=voice.say(legend_of(machine, "page")),
        reasons=[_reason(run, voice) for run in work_runs(machine.pieces)],
        signs={name: phrases(getattr(machine.signs, name), voice) for name in SIGNS},
        relief=phrases(machine.relief, voice),
        notes=phrases(machine.notes, voice),
    )


def _field_said(field: FieldWork, voice: Voice) -> FieldSaid:
    """What a page says of one field."""
    own = field_voice(field.night, voice)
    said = field_sentences(field, voice)
    return FieldSaid(field_title(field.night, own), said, page_chart(field.night, own))


def _cards(machine: MachineSheet, now: np.datetime64, voice: Voice) -> list[Card]:
    """Every setting and step in order; those at and after `now` are marked as first and then."""
    cards: list[Card] = []
    for step in machine.steps:
        if isinstance(step, Piece):
            cards += [_dial_card(dial, step, machine, voice) for dial in step.dials]
        elif step.kind != "off":
            cards.append(_step_card(step, voice))
    labels = iter(("first", "then"))
    time = milliseconds(now)
    return [
        replace(card, shown=next(labels, "")) if max(card.past, card.first + 1) > time else card
        for card in cards
    ]


def milliseconds(time: np.datetime64) -> int:
    """Since 1970."""
    return 1000 * int(time.astype("datetime64[s]").astype(np.int64))


def _dial_card(dial: Dial, piece: Piece, machine: MachineSheet, voice: Voice) -> Card:
    """A setting as a card."""
    wet, rig = dial.water_l_t > 0, machine.kind == "rig"
    facts: list[tuple[str, str]] = []
    if rig and wet:
        facts.append((voice.say("card_rate"), voice.amount(dial.water_l_t, "water_rate")))
        if dial.flow_l_min:
            facts.append((voice.say("card_flow"), voice.amount(dial.flow_l_min, "flow")))
    if dial.speed_m_s is not None:
        facts.append((voice.say("card_speed"), voice.amount(dial.speed_m_s, "ground_speed")))
    if rig and dial.heat is not None:
        facts.append((voice.say("card_burner"), burner_text(dial.heat, voice)))
    facts.append((voice.say("card_reads"), voice.amount(dial.reads_wb, "percent")))
    if wet:
        facts.append((voice.say("card_after"), voice.amount(dial.after_wb, "percent")))
    refused = rig and dial.heat is not None and dial.heat.refused
    return Card(
        first=milliseconds(dial.start),
        past=milliseconds(dial.end),
        span=step_span(dial, voice),
        place=f"{piece.field}, {voice.say(f'sheet_way_{piece.way}')}",
        facts=tuple(facts),
        warning=voice.say("card_burner_down") if refused else "",
        text="",
        answers=tuple(answer_text(answer, voice) for answer in dial.answers),
    )


def _step_card(step: Step, voice: Voice) -> Card:
    """A step other than work as a card."""
    return Card(
        first=milliseconds(step.start),
        past=milliseconds(step.end),
        span=step_span(step, voice),
        place=voice.say(f"card_{step.kind}"),
        facts=(),
        warning="",
        text=step_text(step, voice),
        answers=(),
    )


def _by_day(
    rows: Sequence[tuple[np.datetime64, tuple[str, ...]]], voice: Voice
) -> dict[str, list[tuple[str, ...]]]:
    """Rows by local date, in order of time."""
    found: dict[str, list[tuple[str, ...]]] = {}
    for start, row in rows:
        found.setdefault(voice.date(voice.local(start).date()), []).append(row)
    return found


def _dial_table(machine: MachineSheet, voice: Voice) -> SheetTable:
    """Settings by the quarter, a row of one text where the field changes."""
    columns = dial_columns(machine, voice)
    cells = iter(zip(*(column.cells for column in columns), strict=True))
    several = len({piece.field for piece in machine.pieces}) > 1
    rows: list[tuple[np.datetime64, tuple[str, ...]]] = []
    field = ""
    for piece in machine.pieces:
        if several and piece.field != field:
            field = str(piece.field)
            rows.append((piece.start, (field,)))
        rows += [(dial.start, next(cells)) for dial in piece.dials]
    return SheetTable(tuple(map(heading_text, columns)), _by_day(rows, voice))


def _answer_table(machine: MachineSheet, voice: Voice) -> SheetTable:
    """What to dial where the meter reads otherwise, a row of one text where the field changes."""
    columns, fields = answer_columns(machine, voice)
    columns[0] = replace(columns[0], cells=tuple(map(_held, columns[0].cells)))
    rows: list[tuple[str, ...]] = []
    before = ""
    for field, row in zip(fields, zip(*(each.cells for each in columns), strict=True), strict=True):
        rows += [(field,), row] if field != before else [row]
        before = field
    return SheetTable(tuple(map(heading_text, columns)), {"": rows})


def _held(text: str) -> str:
    """A time with its half of the day in one line."""
    return re.sub(r"(?<=\d) (?=[ap]m\b)", HELD, text)


def _work_table(machine: MachineSheet, voice: Voice) -> SheetTable:
    """Steps in driving order; a row of two texts for what is no work, with the totals below."""
    start, _, *others = sheet_columns(machine, voice)
    cells = iter(zip(*(column.cells for column in others), strict=True))
    rows: list[tuple[np.datetime64, tuple[str, ...]]] = []
    for step in machine.steps:
        said = next(cells) if isinstance(step, Piece) else (step_text(step, voice),)
        rows.append((step.start, (_held(step_span(step, voice)), *said)))
    heads = (heading_text(start), *map(heading_text, others))
    moving = [n for n, column in enumerate(others, start=1) if column.heading[-1] == _speed(voice)]
    kept = moving[0] + 1 if moving else len(heads)
    return SheetTable(heads, _by_day(rows, voice), next(cells), kept)


def _speed(voice: Voice) -> str:
    """The unit of ground speed."""
    return symbol_of("ground_speed", voice.units)


def _reason(run: Sequence[Piece], voice: Voice) -> RunReason:
    """Why a run of pieces has its call, and its cautions."""
    reasons = "; ".join(phrases(merge(run_remarks(run)), voice))
    word = f"{run[0].field}, {voice.call(run[0].call)}"
    return RunReason(run[0].call, voice.span(run[0].start, run[-1].end), word, reasons)


_NAME = re.compile(r"""(\bid="|url\(#|href="#)""")


def seasons_page(seasons: Seasons, units: UnitSystem | None = None) -> str:
    """The page as HTML text."""
    voice = season_voice(seasons, units)
    title = voice.say("seasons_page_title", name=seasons.file.name)
    heads = head_texts(seasons, voice)
    mark = heads.pop(0) if seasons.file.invented else ""
    pictures, patterns = shared_patterns(_pictures(seasons, units))
    return render(
        "seasons.html",
        Frame(voice, title, heads, mark, names=[*seasons.file.sites, seasons.file.name]),
        first=first_parts(seasons, voice),
        sites=[site_part(site, seasons, voice, halved=True) for site in seasons.sites],
        counting=counting_sentence(seasons, voice),
        closing=closing_parts(seasons, voice),
        hatches=Markup(patterns),
        compared=[Markup(picture) for name, picture in pictures if name in COMPARED],
        pictures=[Markup(picture) for name, picture in pictures if name not in COMPARED],
    )


COMPARED = ("map", "sites")
"""Pictures that compare all sites, which stand before those of one."""


def _pictures(seasons: Seasons, units: UnitSystem | None) -> list[tuple[str, str]]:
    """Name of every picture, and the picture as SVG inside the page."""
    from hayweather.show.chart_look import plain_settings
    from hayweather.show.seasons_chart import season_figures

    drawn: list[tuple[str, str]] = []
    for name, draw in season_figures(seasons, units):
        stream = io.StringIO()
        with plain_settings():
            figure = draw()
            figure.savefig(stream, format="svg", metadata={"Date": None})
        text = stream.getvalue()
        label = escape(str(figure.get_label()).splitlines()[0])
        inside = own_names(slim(text[text.index("<svg") + 4 :]), f"picture-{len(drawn) + 1}")
        drawn.append((name, f'<svg role="img" aria-label="{label}"{inside}'))
    return drawn


def own_names(picture: str, prefix: str) -> str:
    """A picture whose names inside begin with a prefix, so that no two pictures share one.

    Examples
    --------
    >>> own_names('<g id="a" clip-path="url(#b)"><use xlink:href="#c"/></g>', "p")
    '<g id="p-a" clip-path="url(#p-b)"><use xlink:href="#p-c"/></g>'
    """
    return _NAME.sub(rf"\1{prefix}-", picture)


_PATTERN = re.compile(r'<pattern id="([^"]+)"(.*?</pattern>)\s*', re.DOTALL)


def shared_patterns(drawn: Sequence[tuple[str, str]]) -> tuple[list[tuple[str, str]], str]:
    """Named pictures without their own patterns of lines and dots, and each pattern once.

    Parameters
    ----------
    drawn
        Name and picture; no two have a name inside in common.
    """
    known: dict[str, str] = {}
    found = []
    for name, picture in drawn:
        for inner, content in _PATTERN.findall(picture):
            first = known.setdefault(content, inner)
            picture = picture.replace(f"url(#{inner})", f"url(#{first})")
        found.append((name, _PATTERN.sub("", picture)))
    return found, "".join(f'<pattern id="{name}"{content}' for content, name in known.items())


_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
_PATH = re.compile(r'(?<= d=")[MLz\-.\d\s]+(?=")')
_LONG_NUMBER = re.compile(r"(?<=[\s\"(,])(-?\d+\.\d{3,})(?=[\s\"),])")
LONG_PATH = 100
"""A path with more points than this is told to a tenth of a point, others to a hundredth."""


def slim(picture: str) -> str:
    """A picture that looks the same in a third of the letters: forty years stay one page.

    Straight paths go from point to point by steps, along an axis where they do;
    numbers keep as many places as show. What is drawn side by side keeps a
    common edge: points are rounded, then steps taken.

    Examples
    --------
    >>> slim('<path d="M 1.23456 2 \\nL 4 2 \\nL 4 9.5 \\nz\\n" x="1.23456"/>')
    '<path d="M1.23 2h2.77v7.5z" x="1.23"/>'
    """
    picture = _METADATA.sub("", picture)
    picture = _PATH.sub(lambda found: _steps(found[0]), picture)
    picture = _LONG_NUMBER.sub(lambda found: _shortest(round(float(found[1]), 2)), picture)
    return re.sub(r"\n\s*", "\n", picture)


def _steps(path: str) -> str:
    """A path of straight lines by steps."""
    tokens = path.split()
    places = 1 if len(tokens) > 3 * LONG_PATH else 2
    found: list[str] = []
    begin = at = (0.0, 0.0)
    for index, token in enumerate(tokens):
        if token == "z":
            found.append("z")
            at = begin
        if token not in ("M", "L"):
            continue
        point = (round(float(tokens[index + 1]), places), round(float(tokens[index + 2]), places))
        x, y = round(point[0] - at[0], places), round(point[1] - at[1], places)
        if token == "M":
            found.append(f"M{_shortest(point[0])} {_shortest(point[1])}")
            begin = point
        elif y == 0:
            found.append("h" + _shortest(x))
        elif x == 0:
            found.append(f"v{_shortest(y)}")
        else:
            found.append(f"l{_shortest(x)} {_shortest(y)}")
        at = point
    return "".join(found)


def _shortest(number: float) -> str:
    """A number in as few letters as tell it."""
    text = f"{number or 0.0:.2f}".rstrip("0").rstrip(".")
    return re.sub(r"^(-?)0\.", r"\1.", text)
