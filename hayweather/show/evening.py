"""An evening's folder in texts: pages, calendars, messages, data, and what keeps it without signal.

Nothing here writes: `evening_files` gives every file of a farm by its name, `farms_files`
those of the first page over several farms. `hayweather.delivery` puts them in their place.
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Literal

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.clock import Span, span_of
from hayweather.baling.windows import united
from hayweather.farm.records import Farm, UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.plan.sheet_record import MachineKind, RunSheet
from hayweather.show.calendar import outlook_calendar, runsheet_calendar, unknown_calendar
from hayweather.show.colors import variables
from hayweather.show.message import plain, runsheet_message
from hayweather.show.outlook_data import outlook_form
from hayweather.show.outlook_plan import Piece, sure_of
from hayweather.show.outlook_words import (
    AnswerLine,
    answer_lines,
    asks_for_stems,
    field_parts,
    field_title,
    field_voice,
    maybe_windows,
    night_hours,
    notes_of,
    rate_words,
    stems_sentence,
    unknown_runs,
    windows_by_baler,
)
from hayweather.show.outlook_words import field_sentences as outlook_sentences
from hayweather.show.page import (
    Folder,
    Frame,
    PageChart,
    milliseconds,
    outlook_frame,
    outlook_page,
    page_chart,
    render,
    runsheet_page,
    script_text,
)
from hayweather.show.runsheet_words import WorkSpan, missed_sentences, sheet_voice, title_of
from hayweather.show.screen import RATES, allowed_sentence, verdict
from hayweather.show.table import Column, Document, Json, Table, json_text
from hayweather.show.told import TOLD, Told, field_work, told_of
from hayweather.show.voice import (
    RAIN,
    RAIN_CHANCE,
    Voice,
    capital,
    near_safety,
    phrase,
    phrases,
    sentence,
    short_safety_texts,
)
from hayweather.show.weather_facts import made_lines, serves_until, weather_summary
from hayweather.units import symbol_of
from hayweather.words import Remark

State = Literal["planned", "unknown"]
HOME, CALENDAR, DATA, MESSAGE = "index.html", "night.ics", "night.json", "message.txt"
WORKER, MANIFEST, ICON = "sw.js", "manifest.webmanifest", "icon.svg"
FOLDER_SCRIPT = "folder.js"
MOST_LETTERS = 40
SAID = re.compile(r"<!--said-->.*?<!--/said-->", re.DOTALL)
"""Where a page says what went wrong after it was made."""


@dataclass(frozen=True)
class Evening:
    """What came of one farm's evening.

    Attributes
    ----------
    farm, now, units
        The farm, the time (UTC), and the units of what people see.
    sheet
        The run sheets, with the night they are made from; None where there is none.
    problem
        Why there is none, one line; empty where there is one.
    """

    farm: Farm
    now: np.datetime64
    units: UnitSystem
    sheet: RunSheet | None
    problem: str = ""

    @property
    def state(self) -> State:
        """Whether the night could be called."""
        return "unknown" if self.sheet is None else "planned"

    @property
    def night(self) -> Night | None:
        """The night."""
        return None if self.sheet is None else self.sheet.night

    @property
    def span(self) -> Span:
        """The hours of the night, on the clock of the first field."""
        return span_of(self.now, self.zone)

    @property
    def zone(self) -> str:
        """Zone of the first field; by its longitude where nobody has named one."""
        if self.night is not None:
            return self.night.timezone
        site = self.farm.sites[next(iter(self.farm.fields.values())).site]
        return site.timezone or f"Etc/GMT{-round(site.longitude / 15):+d}"

    @property
    def voice(self) -> Voice:
        """How to speak of it."""
        if self.sheet is not None:
            return sheet_voice(self.sheet, self.units)
        return Voice.of(self.farm, self.units, self.zone, self.span.evening)

    @property
    def told(self) -> list[Told]:
        """What it tells of each field."""
        if self.sheet is not None:
            return told_of(self.sheet)
        return [
            Told(name, self.span.last, unknown=((self.now, self.span.last),))
            for name in self.farm.fields
        ]

    @property
    def until(self) -> np.datetime64:
        """Until when it serves (UTC)."""
        return self.now if self.night is None else serves_until(self.night)

    @property
    def title(self) -> str:
        """``"Sagebeck, night of Tue 8 to Wed 9 July"``."""
        voice = self.voice
        night = voice.night(self.span.evening)
        return voice.say("page_title", farm=self.farm.name, night=night)


EVENING = Document(
    "hayweather/evening/1",
    Table(
        (
            Column("farm", "Name of the farm", "farm.name", kind="text"),
            Column("now", "When it was made", kind="time"),
            Column("until", "Until when it serves", kind="time"),
            Column("state", "Whether the night could be called", kind="text",
                   choices=("planned", "unknown")),
            Column("problem", "Why it could not; empty where it could", kind="text"),
            Column("invented", "True for a made-up sample", "farm.weather.invented", kind="truth"),
            Column("fields", "What is told of each field", "told", kind="rows", of=TOLD),
            Column("cautions", "Cautions that always show", kind="texts",
                   said=lambda _, voice: short_safety_texts(voice)),
            Column("outlook", "The outlook behind it (hayweather/outlook/2); null for none",
                   kind="any", said=lambda evening, voice: _outlook(evening, voice),
                   fits={"type": ["object", "null"]}),
        ),
        "What came of a farm's evening (hayweather evening).",
    ),
)  # fmt: skip


def _outlook(evening: Evening, voice: Voice) -> Json | None:
    """The outlook as data, every digit, so that it can be scored."""
    return None if evening.night is None else outlook_form(evening.night, voice.units, exact=True)


def evening_form(evening: Evening) -> Json:
    """The evening as plain dictionaries and lists."""
    return EVENING.form(evening, evening.voice)


def safe_name(name: str) -> str:
    """A name as part of a file's name and of an address; different for different names.

    Examples
    --------
    >>> safe_name("bench"), safe_name("north-40")
    ('bench', 'north-40')
    >>> safe_name("Ñu / ../x").startswith("nu-x-")
    True
    """
    letters = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = "-".join(re.findall("[a-z0-9]+", letters))[:MOST_LETTERS].rstrip("-")
    if slug and slug == name:
        return slug
    return f"{slug or 'x'}-{sha256(name.encode()).hexdigest()[:6]}"


def field_file(name: str) -> str:
    """Name of a field's page."""
    return f"field-{safe_name(name)}.html"


def machine_file(name: str, ending: str = ".html") -> str:
    """Name of a machine's sheet, or of its calendar."""
    return f"machine-{safe_name(name)}{ending}"


def evening_files(
    evening: Evening, before: Callable[[str], str | None] = lambda name: None
) -> dict[str, str]:
    """Every file of a farm's folder by its name.

    Parameters
    ----------
    before
        From a calendar's name to the one that it replaces, where there is one.
    """
    folder = _folder(evening)
    inside = replace(folder, home=(HOME, evening.voice.say("evening_home")))
    pages = {HOME: evening_page(evening, folder)}
    known = [name for name, _ in _machines(evening.farm)]
    fields = list(evening.farm.fields)
    sheet = evening.sheet
    if sheet is None:
        unknown = _unknown_page(evening, inside)
        pages |= {field_file(name): unknown for name in fields}
        pages |= {machine_file(name): unknown for name in known}
        said = "\n".join(message_lines(evening)) + "\n"
        calendars = {CALENDAR: _unknown_calendar(evening, before(CALENDAR), "outlook")}
        messages = {MESSAGE: said}
        for name in known:
            calendar = machine_file(name, ".ics")
            calendars[calendar] = _unknown_calendar(evening, before(calendar), "runsheet")
            messages[machine_file(name, ".txt")] = said
    else:
        pages |= {
            field_file(name): outlook_page(sheet.night, evening.units, field=name, folder=inside)
            for name in fields
        }
        sheets = {name: sheet.of_machine(name) for name in known}
        pages |= {
            machine_file(name): runsheet_page(own, evening.units, folder=inside)
            for name, own in sheets.items()
        }
        calendars = {CALENDAR: outlook_calendar(sheet.night, evening.units, before(CALENDAR))}
        messages = {MESSAGE: _parts(sheet, evening.units)}
        for name, own in sheets.items():
            calendar = machine_file(name, ".ics")
            calendars[calendar] = runsheet_calendar(own, evening.units, before(calendar))
            messages[machine_file(name, ".txt")] = _parts(own, evening.units, name)
    files = pages | calendars | messages | {DATA: json_text(evening_form(evening))}
    return kept_without_signal(files, evening.farm.name, evening.voice)


def farms_files(
    evenings: Mapping[str, Evening | None], problems: Mapping[str, str], voice: Voice
) -> dict[str, str]:
    """The files over several farms: the first page, and what keeps it without signal.

    Parameters
    ----------
    evenings
        By folder; None where the farm file could not be read, or its folder was left as it is.
    problems
        By folder: what went wrong, one line each.
    voice
        Of the first page: that of the first farm.
    """
    made = [each for each in evenings.values() if each is not None]
    first = made[0] if made else None
    folder = _folder(first) if first is not None else _plain_folder(voice)
    times = [each.now for each in made if not each.farm.weather.invented]
    if times:
        ends = min(each.until for each in made)
        folder = replace(folder, made=milliseconds(min(times)), until=milliseconds(ends))
    page = _farms_page(evenings, problems, voice, folder)
    return kept_without_signal({HOME: page}, voice.say("evening_farms"), voice)


def kept_without_signal(files: Mapping[str, str], name: str, voice: Voice) -> dict[str, str]:
    """Files with what lets a telephone keep them: icon, manifest, worker.

    Parameters
    ----------
    files
        By name.
    name
        What the telephone calls the folder.
    """
    colors = variables(night=False)
    manifest = {
        "name": name,
        "short_name": name[:12],
        "lang": voice.language,
        "start_url": ".",
        "scope": ".",
        "display": "standalone",
        "background_color": colors["paper"],
        "theme_color": colors["paper"],
        "icons": [{"src": ICON, "sizes": "any", "type": "image/svg+xml"}],
    }
    every = {
        **files,
        ICON: script_text(ICON) + "\n",
        MANIFEST: json.dumps(manifest, ensure_ascii=False, indent=1) + "\n",
    }
    return {**every, WORKER: worker(every)}


def worker(files: Mapping[str, str]) -> str:
    """The service worker that keeps these files: new in every letter where one of them is."""
    digest = sha256()
    for name, text in sorted(files.items()):
        digest.update(f"{name}\0{len(text)}\0{text}".encode())
    values = {"version": digest.hexdigest()[:16], "files": ["./", *files]}
    head = "".join(f"const {key} = {json.dumps(value)};\n" for key, value in values.items())
    return head + script_text(WORKER) + "\n"


def with_said(files: Mapping[str, str], text: str) -> dict[str, str]:
    """The same files whose pages say what went wrong since; an empty text says nothing more.

    The worker changes with them, so that telephones take them anew.
    """
    from markupsafe import escape

    said = f'<p class="mark">{escape(text)}</p>' if text else ""
    found = {
        name: SAID.sub(lambda _: f"<!--said-->{said}<!--/said-->", each)
        if name.endswith(".html")
        else each
        for name, each in files.items()
    }
    kept = {name: each for name, each in found.items() if name != WORKER}
    return {**kept, WORKER: worker(kept)} if WORKER in found else found


@dataclass(frozen=True)
class FieldTonight:
    """What the first page says of a field.

    Attributes
    ----------
    title, link
        Its name and area, and its page.
    glance
        Start, stop, with what and how sure, in one line or two.
    advice
        What the glance is about.
    lines
        Work, then where to probe first, then the unknown: start, stop, with what, how sure.
    stops
        When and why work stops, and dangers.
    notes
        What to probe and when.
    strip
        The calls of the hours before the night ends at 14:00; None where there are none.
    """

    title: str
    link: str
    glance: list[str]
    advice: Advice
    lines: list[AnswerLine]
    stops: list[str]
    notes: list[str]
    strip: PageChart | None


@dataclass(frozen=True)
class MachineLink:
    """A machine's sheet and calendar."""

    title: str
    sheet: str
    calendar: str


@dataclass(frozen=True)
class FarmTonight:
    """What the first page says of a farm, in its language; `begin` stands before its addresses."""

    voice: Voice
    name: str
    begin: str
    problem: str
    invented: str
    missed: list[str]
    fields: list[FieldTonight]
    cautions: list[str]
    machines: list[MachineLink]

    @property
    def language(self) -> str:
        """In which it is said."""
        return self.voice.language

    def say(self, key: str) -> str:
        """A word of the page about this farm."""
        return self.voice.say(key)


def field_tonight(
    field: FieldNight, sheet: RunSheet, voice: Voice, begin: str = ""
) -> FieldTonight:
    """What the first page says of a field."""
    own = field_voice(field, voice)
    work = field_work(sheet, field.name)
    several = len(sheet.night.farm.balers) > 1
    lines = [
        _work_line(
            name if several else "", span, _sure([(name, span)], field, sheet.night, own), own
        )
        for name, span in work
    ]
    lines += answer_lines(field, (), maybe_windows(field), own)
    allowed = allowed_sentence(field, sheet.night, own)
    notes = [*stems_sentence(field, own), *([allowed] if allowed else [])]
    if not lines:
        notes += outlook_sentences(field, own)[:1]
    notes += [text for kind, text in field_parts(field, own) if kind in NOTED]
    stops = [
        own.say(
            "evening_stop",
            reason=phrase(note.remark, own),
            spans=own.listed([own.span(*span) for span in note.spans]),
        )
        if note.is_stop
        else capital(phrase(note.remark, own))  # it names its own time
        for note in notes_of(night_hours(field))
        if note.is_stop or note.remark.key in (RAIN, RAIN_CHANCE)
    ]
    link = begin + field_file(field.name)
    advice, glance = _glance(field, work, sheet.night, own)
    return FieldTonight(
        field_title(field, own), link, glance, advice, lines, stops,
        list(dict.fromkeys(notes)), page_chart(field, own, tonight=True),
    )  # fmt: skip


NOTED = ("next", "check", "look", "doubt", "later", "warned")
"""What is told of a field beside its work, as on the screen: what to probe, what would change."""
PAUSE = np.timedelta64(30 * 60, "s")
"""Work that goes on within so much is one stretch at a glance."""


def _glance(
    field: FieldNight, work: Sequence[tuple[str, WorkSpan]], night: Night, voice: Voice
) -> tuple[Advice, list[str]]:
    """What a field's night comes to in a line or two, and what that is about."""
    if work:
        return Advice.GO, _work_glance(field, work, night, voice)
    unknown = unknown_runs(field)
    maybe = united([(item.start, item.end) for item in maybe_windows(field)], PAUSE)
    found = maybe or united([(run.start, run.end) for run in unknown], PAUSE)
    alone = [capital(verdict(field, voice))] if any(windows_by_baler(field).values()) else []
    if not found:
        return Advice.WAIT, alone or [voice.say("page_no_windows")]
    advice = Advice.PROBE_FIRST if maybe else Advice.UNKNOWN
    if maybe and asks_for_stems(field):
        return advice, [capital(verdict(field, voice))]
    spans = voice.listed([voice.span(*span) for span in found])
    return advice, [
        *alone, voice.say("evening_glance", advice=voice.advice(advice), spans=spans)
    ]  # fmt: skip


def _work_glance(
    field: FieldNight, work: Sequence[tuple[str, WorkSpan]], night: Night, voice: Voice
) -> list[str]:
    """Stretches of work with their ways, then how sure all of the first is."""
    texts = []
    stretches = united([(span.start, span.end) for _, span in work], PAUSE)
    for start, end in stretches:
        ways = [voice.say(f"fields_way_{s.way}") for _, s in work if start <= s.start < end]
        then = [way for way, before in zip(ways, ["", *ways], strict=False) if way != before]
        joined = voice.say("evening_then").join(then)
        texts.append(voice.say("evening_work", span=voice.span(start, end), way=joined))
    first = [each for each in work if each[1].start < stretches[0][1]]
    more = [*_sure(first, field, night, voice), *texts[1:]]
    return [texts[0], *(["; ".join(more)] if more else [])]


def _work_line(baler: str, span: WorkSpan, chances: list[str], voice: Voice) -> AnswerLine:
    """``"8 pm to 9:45 pm with the rig, 20.0 falling to 6.0 gal/ton; throughout 4 times ..."``."""
    rates = [dial.water_l_t for dial in span.dials if dial.water_l_t]
    unit, parts = symbol_of("water_rate", voice.units), []
    if rates:
        parts = [rate_words(rates, unit, voice, RATES)]
    areas = [piece.area_m2 for piece in span.pieces if piece.area_m2 is not None]
    if len(areas) == len(span.pieces):
        parts.append(voice.counted(sum(areas), "area"))
    parts += [baler] if baler else []
    text = voice.say(
        "evening_work",
        span=voice.span(span.start, span.end),
        way=voice.say(f"fields_way_{span.way}"),
    )
    said = ", ".join([text, *parts])
    return AnswerLine(span.call, Advice.GO, "; ".join([said, *chances]))


def _sure(
    work: Sequence[tuple[str, WorkSpan]], field: FieldNight, night: Night, voice: Voice
) -> list[str]:
    """How sure all of this work is, each piece in its way and with its machines."""
    pieces = [
        Piece(baler, span.pieces[0].rig, span.way, span.start, span.end) for baler, span in work
    ]
    shares = sure_of(field, night, pieces)
    if shares is None:
        return []
    tenths = {
        name: f"{10 * share:.0f}" for name, share in zip(("whole", "half"), shares, strict=True)
    }
    return [voice.say("window_chances_short", **tenths)]


def farm_tonight(evening: Evening, begin: str = "") -> FarmTonight:
    """What the first page says of a farm."""
    voice, sheet = evening.voice, evening.sheet
    invented = voice.say("outlook_invented") if evening.farm.weather.invented else ""
    if sheet is None:
        fields = [
            FieldTonight(name, begin + field_file(name), [], Advice.UNKNOWN, [], [], [], None)
            for name in evening.farm.fields
        ]
        problem = unknown_lines(evening)
        return FarmTonight(
            voice, evening.title, begin, " ".join(problem), invented, [], fields, [], []
        )
    return FarmTonight(
        voice=voice,
        name=evening.title,
        begin=begin,
        problem="",
        invented=invented,
        missed=missed_sentences(sheet, voice),
        fields=[field_tonight(field.night, sheet, voice, begin) for field in sheet.fields],
        cautions=phrases(sheet.cautions, voice),
        machines=[
            MachineLink(
                title_of(name, kind, voice),
                begin + machine_file(name),
                begin + machine_file(name, ".ics"),
            )
            for name, kind in _machines(evening.farm)
        ],
    )


def _machines(farm: Farm) -> list[tuple[str, MachineKind]]:
    """Name and kind of every machine, balers first."""
    return [
        *((name, "baler") for name in farm.balers),
        *((name, "rig") for name in farm.rigs or {}),
    ]


def unknown_lines(evening: Evening) -> list[str]:
    """That the night is unknown, why, and what to do."""
    voice = evening.voice
    said = voice.say("evening_unknown", reason=evening.problem.rstrip("."))
    return [said, voice.say("unknown_do")]


def evening_page(evening: Evening, folder: Folder) -> str:
    """The first page of a farm."""
    voice = evening.voice
    if evening.night is None:
        frame = _frame(evening, folder)
    else:
        around = outlook_frame(evening.night, voice, evening.title)
        behind = [*made_lines(evening.night, voice), *around.behind]
        frame = replace(around, made=(), behind=behind, folder=folder)
    farms = [replace(farm_tonight(evening), name="")]
    return render("evening.html", frame, farms=farms, problems=(), short=near_safety(voice))


def _farms_page(
    evenings: Mapping[str, Evening | None],
    problems: Mapping[str, str],
    voice: Voice,
    folder: Folder,
) -> str:
    """The first page over several farms."""
    frame = Frame(voice, voice.say("evening_farms"), (), "", folder=folder)
    behind = [
        f"{each.farm.name}: {weather_summary(each.night).attribution}"
        for each in evenings.values()
        if each is not None and each.night is not None and weather_summary(each.night).attribution
    ]
    farms = [farm_tonight(each, f"{name}/") for name, each in evenings.items() if each is not None]
    left = [(f"{name}/{HOME}" if name in evenings else "", text) for name, text in problems.items()]
    return render(
        "evening.html",
        replace(frame, behind=behind),
        farms=farms,
        problems=left,
        short=near_safety(voice),
    )


def _unknown_page(evening: Evening, folder: Folder) -> str:
    """A page in the place of one that could not be made."""
    farms = [replace(farm_tonight(evening), name="", fields=[])]
    frame = _frame(evening, folder)
    short = near_safety(evening.voice)
    return render("evening.html", frame, farms=farms, problems=(), short=short)


def _frame(evening: Evening, folder: Folder) -> Frame:
    """What stands around a night that nobody can call."""
    voice = evening.voice
    mark = voice.say("outlook_invented") if evening.farm.weather.invented else ""
    return Frame(voice, evening.title, (), mark, folder=folder)


def _folder(evening: Evening) -> Folder:
    """What every page of a farm's folder has beside."""
    voice = evening.voice
    dated = replace(voice, evening=None)
    has_age = not evening.farm.weather.invented
    said = voice.say("page_made", time=dated.when(evening.now))
    return replace(
        _plain_folder(voice),
        made=milliseconds(evening.now) if has_age else None,
        until=milliseconds(evening.until) if has_age else None,
        said=said,
    )


def _plain_folder(voice: Voice) -> Folder:
    """The same without an age."""
    words = {
        "minutes": voice.say("evening_age_minutes", count="%"),
        "hours": voice.say("evening_age_hours", count="%"),
        "days": voice.say("evening_age_days", count="%"),
        "over": voice.say("evening_over"),
        "away": voice.say("evening_no_signal"),
    }
    return Folder(script_text(FOLDER_SCRIPT), words, None, None, "")


def _parts(sheet: RunSheet, units: UnitSystem, machine: str = "") -> str:
    """The text messages of run sheets, or of one machine's, a line each."""
    return "\n".join(runsheet_message(sheet, units, machine)) + "\n"


def _unknown_calendar(evening: Evening, before: str | None, purpose: str) -> str:
    """A calendar that says unknown for every field."""
    lines = unknown_lines(evening)
    span = (evening.now, evening.span.last)
    farm, voice = evening.farm, evening.voice
    return unknown_calendar(farm, voice, span, lines, before, purpose=purpose)


def message_lines(evening: Evening, changed: Sequence[Remark] = ()) -> list[str]:
    """What is sent: title, what has changed, every field, dangers, age, cautions; a line each.

    Parameters
    ----------
    changed
        What has changed since it was last told; empty for the evening itself.
    """
    voice, sheet = evening.voice, evening.sheet
    lines = [evening.title]
    if evening.farm.weather.invented:
        lines.append(voice.say("outlook_invented"))
    if changed:
        lines.append(voice.say("evening_changed"))
        lines += [f"- {text}" for text in changed_texts(changed, voice)]
    if sheet is None:
        lines += [*unknown_lines(evening), voice.say("message_danger")]
        return [plain_line(line) for line in lines]
    lines += missed_sentences(sheet, voice)
    for field in sheet.fields:
        said = field_tonight(field.night, sheet, voice)
        waits = said.glance if said.advice == Advice.WAIT else []
        texts = [*waits, *(line.text for line in said.lines)]
        lines += [said.title, *(f"- {sentence(text)}" for text in texts)]
        lines += [f"- {sentence(text)}" for text in (*said.stops, *said.notes)]
    lines += [*made_lines(sheet.night, voice)]
    attribution = weather_summary(sheet.night).attribution
    lines += [attribution] if attribution else []
    return [*(plain_line(line) for line in lines), plain(voice.say("message_danger"))]


def plain_line(text: str) -> str:
    """A line without what would break it or a header."""
    return " ".join(text.split())


def changed_texts(changed: Sequence[Remark], voice: Voice) -> list[str]:
    """What has changed, as sentences."""
    return [sentence(text) for text in phrases(changed, voice)]
