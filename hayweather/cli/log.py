"""``hayweather log``: what was read and done on the farm, written down once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from hayweather.cli import options as o
from hayweather.errors import InputError

if TYPE_CHECKING:
    import numpy as np

    from hayweather.cli.write import Destinations
    from hayweather.farm.records import Farm
    from hayweather.log import Entry, Log
    from hayweather.log.records import LoggedReading
    from hayweather.show.voice import Voice

SCHEMA = "hayweather/log/1"
COPY_ENDING = ".sqlite"
SHORTEST_NOTE = 12
NUMBERS = ("number", "value")
HEADS = ("number", "time", "field", "what", "value", "note")
FLAT = (
    *("id", "what", "time", "end", "field", "moisture_wb", "kind", "layer", "meter_error", "bias"),
    *("method", "skin_temperature_c", "water_l_per_t", "event", "machine", "bales"),
    *("bale_mass_kg", "highest_wb", "bale_temperature_c", "note", "by", "made", "source"),
    *("uuid", "removed"),
)
"""Columns of entries of every kind in one table of data."""

Part = Literal["whole", "leaf", "stem", "bale"]
Depth = Literal["top", "middle", "bottom"]
Means = Literal["meter", "oven"]
Sheets = Literal["readings", "work", "bales"]
ALL_SHEETS: tuple[Sheets, ...] = ("readings", "work", "bales")

FarmOption = Annotated[
    Path | None,
    typer.Option("--farm", metavar="FARM.toml", help=o.help_text("farm_file"), show_default=False),
]
PartOption = Annotated[Part, typer.Option("--part", help=o.help_text("log_part"))]
LayerOption = Annotated[Depth | None, typer.Option("--layer", help=o.help_text("log_layer"))]
AtOption = Annotated[str | None, typer.Option("--at", metavar="TIME", help=o.help_text("log_at"))]
FromOption = Annotated[
    str | None, typer.Option("--from", metavar="TIME", help=o.help_text("log_from"))
]
ErrorOption = Annotated[
    float | None, typer.Option("--error", metavar="POINTS", help=o.help_text("log_error"))
]
BiasOption = Annotated[
    float, typer.Option("--bias", metavar="POINTS", help=o.help_text("log_bias"))
]
MethodOption = Annotated[Means | None, typer.Option("--method", help=o.help_text("log_method"))]
MachineOption = Annotated[
    str, typer.Option("--machine", metavar="NAME", help=o.help_text("log_machine"))
]
MoistureOption = Annotated[
    str | None, typer.Option("--moisture", metavar="VALUE", help=o.help_text("log_moisture"))
]
NoteOption = Annotated[str, typer.Option("--note", metavar="TEXT", help=o.help_text("log_note"))]
ByOption = Annotated[str, typer.Option("--by", metavar="NAME", help=o.help_text("log_by"))]
IdOption = Annotated[str | None, typer.Option("--id", metavar="UUID", help=o.help_text("log_id"))]
SureOption = Annotated[bool, typer.Option("--sure", help=o.help_text("log_sure"))]
FieldArgument = Annotated[
    str, typer.Argument(metavar="FIELD", help=o.help_text("log_field"), show_default=False)
]
ValueArgument = Annotated[
    str, typer.Argument(metavar="VALUE", help=o.help_text("log_value"), show_default=False)
]
NumberArgument = Annotated[
    int, typer.Argument(metavar="ID", help=o.help_text("log_number"), show_default=False)
]
SinceOption = Annotated[
    str | None, typer.Option("--since", metavar="TIME", help=o.help_text("log_since"))
]
UntilOption = Annotated[
    str | None, typer.Option("--until", metavar="TIME", help=o.help_text("log_until"))
]
RemovedOption = Annotated[bool, typer.Option("--removed", help=o.help_text("log_removed"))]
ExportPath = Annotated[
    str, typer.Argument(metavar="PATH", help=o.help_text("log_export_path"), show_default=False)
]
WhatOption = Annotated[Sheets, typer.Option("--what", help=o.help_text("log_what"))]
ImportPath = Annotated[
    Path, typer.Argument(metavar="PATH", help=o.help_text("log_import_path"), show_default=False)
]


@dataclass(frozen=True)
class Asked:
    """Whose log it is, the time that counts as now, and how much is said."""

    farm_file: FarmOption = None
    now: o.NowOption = None
    cautions: o.CautionsOption = False


log = typer.Typer(no_args_is_help=True, rich_markup_mode=None, add_completion=False)


@log.command("add", help=o.help_parts("log_add")[1], short_help=o.help_parts("log_add")[0])
@o.command
def add(
    field: FieldArgument,
    value: ValueArgument,
    part: PartOption = "whole",
    layer: LayerOption = None,
    at: AtOption = None,
    from_: FromOption = None,
    error: ErrorOption = None,
    bias: BiasOption = 0.0,
    method: MethodOption = None,
    machine: MachineOption = "",
    moisture: MoistureOption = None,
    note: NoteOption = "",
    by: ByOption = "",
    id_: IdOption = None,
    sure: SureOption = False,
    *,
    output: o.Output,
    asked: Asked,
) -> None:
    """Write down a reading, or what was done."""
    from hayweather.cli.load import answering, now_for
    from hayweather.log import open_log
    from hayweather.log.said import field_said, moisture_said, refuse_future, time_said, zone_of

    with answering("log", asked.farm_file, output) as (farm, where):
        name = field_said(field, farm)
        zone = zone_of(farm, name)
        last = now_for(farm, asked.now, zone)
        time, change = (last, None) if at is None else time_said(at, zone, last)
        refuse_future(time, last, zone)
        event = _event(value)
        common: dict[str, Any] = {
            "note": note,
            "by": by,
            "source": "hayweather log",
            "uuid": id_,
            "now": last,
            "time": time,
        }
        if event is None:
            _refuse_beside_reading(
                **{"--from": from_, "--moisture": moisture, "--machine": machine}
            )
            percent = moisture_said(value, sure=sure)
            with open_log(farm) as book:
                far = _far_from(book, name, part, layer, percent - bias, time)
                entry: Entry = book.add_reading(
                    name, percent, kind="windrow" if part == "whole" else part, layer=layer,
                    meter_error=error, bias=bias, method=method, sure=sure, **common,
                )  # fmt: skip
        else:
            far, begun = None, time if from_ is None else time_said(from_, zone, last, "--from")[0]
            over = None if from_ is None else time
            percent_ = None if moisture is None else moisture_said(moisture, where="--moisture")
            with open_log(farm) as book:
                entry = book.add_work(
                    name, event, end=over, machine=machine, moisture_wb=percent_,
                    **{**common, "time": begun},
                )  # fmt: skip
        voice = _voice(farm, output.units, name)
        said = [voice.say("log_added", entry=_sentence(entry, voice), id=entry.id)]
        if change == "doubled":
            said.append(voice.say("log_doubled", time=voice.iso(time)))
        if far is not None:
            said.append(voice.say("log_far", before=_sentence(far, voice), id=entry.id))
        _write(farm, [entry], said, voice, where, cautions=asked.cautions)


@log.command("remove", help=o.help_parts("log_remove")[1], short_help=o.help_parts("log_remove")[0])
@o.command
def remove(
    number: NumberArgument,
    *,
    output: o.Output,
    asked: Asked,
) -> None:
    """Take an entry out; it is marked, not lost."""
    from hayweather.cli.load import answering, now_for
    from hayweather.log import open_log

    with answering("log", asked.farm_file, output) as (farm, where):
        _refuse_without_file(farm, number)
        with open_log(farm) as book:
            entry = book.remove(number, now=now_for(farm, asked.now, _first_zone(farm)))
        voice = _voice(farm, output.units, entry.field)
        said = [voice.say("log_taken_out", entry=_sentence(entry, voice), id=number)]
        _write(farm, [entry], said, voice, where, cautions=asked.cautions)


@log.command("show", help=o.help_parts("log_show")[1], short_help=o.help_parts("log_show")[0])
@o.command
def show(
    field: o.FieldOption = None,
    since: SinceOption = None,
    until: UntilOption = None,
    removed: RemovedOption = False,
    *,
    output: o.Output,
    asked: Asked,
) -> None:
    """What stands in the log."""
    from hayweather.cli.load import answering, now_for
    from hayweather.log import open_log
    from hayweather.log.said import field_said

    with answering("log", asked.farm_file, output) as (farm, where):
        name = None if field is None else field_said(field, farm, "--field")
        last = now_for(farm, asked.now, _first_zone(farm))
        limits = [_limit(farm, text, name, last, where)
                  for text, where in ((since, "--since"), (until, "--until"))]  # fmt: skip
        with open_log(farm, only_read=True) as book:
            entries = _entries(book, name, *limits)
            beside = book.counts()
        voice = _voice(farm, output.units, name)
        shown = [entry for entry in entries if removed or entry.removed is None]
        out_again = sum(entry.removed is not None for entry in entries)
        said = [voice.say("log_title", farm=farm.name, count=len(shown), file=_file_name(farm))]
        if not entries:
            said.append(voice.say("log_empty", field=next(iter(farm.fields))))
        after = []
        if out_again:
            key = "log_removed_shown" if removed else "log_removed_left_out"
            after.append(voice.say(key, count=out_again))
        if any(beside.values()):
            after.append(voice.say("log_beside", **beside))
        _write(
            farm, shown, said, voice, where, cautions=asked.cautions, after=after, table=True
        )  # fmt: skip


@log.command("export", help=o.help_parts("log_export")[1], short_help=o.help_parts("log_export")[0])
@o.command
def export(
    path: ExportPath,
    what: WhatOption = "readings",
    farm_file: FarmOption = None,
    csv: o.CsvOption = "safe",
    replace: o.ReplaceOption = False,
) -> None:
    """Write the log as CSV, or copy it whole."""
    from hayweather.cli.load import answering
    from hayweather.cli.write import Written
    from hayweather.log import open_log
    from hayweather.log.sheets import FILE_NAMES

    output = o.Output(csv=csv, replace=replace)
    with (
        answering("log", farm_file, output) as (farm, where),
        open_log(farm, only_read=True) as book,
    ):
        sheets: dict[str, Sheets] = {path: what}
        if Path(path).is_dir():
            sheets = {str(Path(path) / FILE_NAMES[name]): name for name in ALL_SHEETS}
        where.check_also(list(sheets))
        results: Written
        if path in sheets and Path(path).suffix.lower() == COPY_ENDING:
            results = [(path, book.copy())]
        else:
            made = [(place, _sheet(book, name, raw=where.raw)) for place, name in sheets.items()]
            results = [(place, text) for place, text in made if text]
        if not results:
            raise InputError("log_nothing", _file_name(farm))
        where.write(results)


@log.command("import", help=o.help_parts("log_import")[1], short_help=o.help_parts("log_import")[0])
@o.command
def import_(
    path: ImportPath,
    field: o.FieldOption = None,
    *,
    output: o.Output,
    asked: Asked,
) -> None:
    """Read CSV into the log; what is there already is not added again."""
    from hayweather.cli.load import answering, now_for
    from hayweather.log import open_log
    from hayweather.log.said import field_said
    from hayweather.log.sheets import FILE_NAMES, read_entries

    read = [path / name for name in FILE_NAMES.values()] if path.is_dir() else [path]
    with answering("log", asked.farm_file, output, *read) as (farm, where):
        paths = _sheets_in(path)
        usual = None if field is None else field_said(field, farm, "--field")
        last = now_for(farm, asked.now, _first_zone(farm))
        zones = {name: site.timezone for name, site in farm.sites.items()}
        sheets = [read_entries(each, farm, zones, field=usual, now=last) for each in paths]
        sourced = [
            _from_file(entry, each.name)
            for each, sheet in zip(paths, sheets, strict=True)
            for entry in sheet.entries
        ]
        with open_log(farm) as book:
            added = book.add_all(sourced, last)
        new = [entry for entry, is_new in added if is_new]
        gone = sum(entry.removed is not None for entry, is_new in added if not is_new)
        voice = _voice(farm, output.units, usual)
        said = [
            voice.say("log_imported", file=path.name, new=len(new), known=len(added) - len(new))
        ]
        if gone:
            said.append(voice.say("log_imported_gone", count=gone))
        if doubled := sum(sheet.doubled for sheet in sheets):
            said.append(voice.say("log_imported_doubled", count=doubled))
        _write(farm, new, said, voice, where, cautions=asked.cautions)


def _far_from(
    book: Log, field: str, part: str, layer: str | None, moisture_wb: float, time: np.datetime64
) -> LoggedReading | None:
    """The last reading of the hour before, where this one can hardly stand beside it: a slip?"""
    from hayweather.nights.trust import FAR_APART_WB
    from hayweather.weather.record import HOUR

    kind = "windrow" if part == "whole" else part
    alike = [
        item
        for item in book.readings(field, time - HOUR, time)
        if item.kind == kind and item.layer == layer and item.moisture_wb is not None
    ]
    if not alike or abs(alike[-1].value - moisture_wb) <= FAR_APART_WB:
        return None
    return alike[-1]


def _event(value: str) -> Any:
    """The event that a value names; None for a number.

    Raises
    ------
    InputError
        If it is neither.
    """
    from hayweather.farm.document import shorten
    from hayweather.farm.nearest import nearest
    from hayweather.log.records import EVENTS

    word = "_".join(value.casefold().split())
    if word in EVENTS:
        return word
    if not any(letter.isdigit() for letter in word) and any(map(str.isalpha, word)):
        values = {"nearest": nearest(word, EVENTS), "known": ", ".join(EVENTS)}
        raise InputError("log_value", "VALUE", value=shorten(value, 40), **values)
    return None


def _refuse_beside_reading(**options: str | None) -> None:
    """Refuse options of work where a reading is written down."""
    for name, value in options.items():
        if value:
            raise InputError("log_of_work", name, value=o.as_given(value))


def _refuse_without_file(farm: Farm, number: int) -> None:
    """A log that is not there has no entry; none is made to find that out."""
    if farm.log is not None and not farm.log.exists():
        raise InputError("log_no_entry", _file_name(farm), value=number)


def _file_name(farm: Farm) -> str:
    """Name of the log's file."""
    return "" if farm.log is None else farm.log.name


def _first_zone(farm: Farm) -> str | None:
    """Zone of the farm's first site."""
    return next(iter(farm.sites.values())).timezone


def _voice(farm: Farm, units: o.Units | None, field: str | None) -> Voice:
    """How to speak of a field, else of the farm's first site."""
    from hayweather.log.said import zone_of
    from hayweather.show.voice import Voice

    zone = _first_zone(farm) if field is None else zone_of(farm, field)
    return Voice.of(farm, units or farm.units, zone or "UTC")


def _limit(
    farm: Farm, text: str | None, field: str | None, now: np.datetime64, where: str
) -> np.datetime64 | None:
    """A limit of time; a date alone is its midnight."""
    from hayweather.log.said import time_said, zone_of

    if text is None:
        return None
    zone = _first_zone(farm) if field is None else zone_of(farm, field)
    whole = f"{text.strip()}T00:00" if len(text.strip()) == len("2026-07-08") else text
    return time_said(whole, zone, now, where)[0]


def _entries(
    book: Log, field: str | None, since: np.datetime64 | None, until: np.datetime64 | None
) -> list[Entry]:
    """All entries within limits, removed ones too, in order of time."""
    found: list[Entry] = []
    for read in (book.readings, book.work, book.bales):
        found += read(field, since, until, removed=True)
    return sorted(found, key=lambda entry: (entry.time, entry.id))


def _sheets_in(path: Path) -> list[Path]:
    """The sheets meant: a file, or those of a folder that was exported."""
    from hayweather.log.sheets import FILE_NAMES

    if not path.is_dir():
        return [path]
    found = [path / name for name in FILE_NAMES.values() if (path / name).exists()]
    if not found:
        raise InputError("log_no_sheets", str(path), known=", ".join(FILE_NAMES.values()))
    return found


def _from_file(entry: Entry, name: str) -> Entry:
    """An entry with where it came from, unless it says so itself."""
    from dataclasses import replace

    return entry if entry.source else replace(entry, source=name)


def _sheet(book: Log, name: Sheets, *, raw: bool) -> str:
    """A sheet of the log as CSV; empty where there is no row."""
    from hayweather.log.said import zone_of
    from hayweather.log.sheets import COLUMNS, rows_of
    from hayweather.show.table import csv_text

    entries: Sequence[Entry] = (
        book.readings() if name == "readings" else (book.work() if name == "work" else book.bales())
    )
    if not entries:
        return ""
    rows = rows_of(name, entries, lambda field: zone_of(book.farm, field))
    notes = [*_heads(book.farm, _voice(book.farm, None, None)), *_safety(book.farm)]
    return csv_text(COLUMNS[name], rows, notes, raw=raw)


def _heads(farm: Farm, voice: Voice) -> list[str]:
    """What stands before anything else."""
    return [voice.say("outlook_invented")] if farm.weather.invented else []


def _safety(farm: Farm) -> list[str]:
    """The cautions, short."""
    from hayweather.show.voice import short_safety_texts

    return short_safety_texts(_voice(farm, None, None))


def _write(
    farm: Farm,
    entries: Sequence[Entry],
    said: Sequence[str],
    voice: Voice,
    where: Destinations,
    *,
    cautions: bool,
    after: Sequence[str] = (),
    table: bool = False,
) -> None:
    """Entries and what is said of them, in a format, to their place."""
    if where.form == "json":
        text = _json(farm, entries, [*said, *after], voice)
    elif where.form == "csv":
        text = _csv(farm, entries, [*said, *after], voice, raw=where.raw)
    else:
        text = _text(farm, entries if table else (), said, after, voice, all_cautions=cautions)
    where.write([(where.place, text)])


def _text(
    farm: Farm,
    entries: Sequence[Entry],
    said: Sequence[str],
    after: Sequence[str],
    voice: Voice,
    *,
    all_cautions: bool,
) -> str:
    """For a person: what is said, a table, the cautions."""
    from hayweather.show.layout import WIDEST_PROSE, bullets, paragraphs
    from hayweather.show.voice import shown_safety

    width = o.text_width()
    prose = min(width, WIDEST_PROSE)
    blocks = [
        paragraphs([*_heads(farm, voice), *said], prose),
        _table(farm, entries, voice, width) if entries else [],
        paragraphs(after, prose),
        bullets(shown_safety(voice, all_cautions), prose),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _table(farm: Farm, entries: Sequence[Entry], voice: Voice, width: int) -> list[str]:
    """A line for each entry."""
    from dataclasses import replace

    from hayweather.farm.document import shorten
    from hayweather.show.layout import TextColumn, table_lines

    rows = [_row(entry, _voice(farm, voice.units, entry.field)) for entry in entries]
    columns = [
        TextColumn((voice.say(f"log_column_{head}"),), cells, is_text=head not in NUMBERS)
        for head, cells in zip(HEADS, zip(*rows, strict=True), strict=True)
    ]
    *before, notes = columns
    if not any(notes.cells):
        return table_lines(before, width)
    room = width - sum(column.width + 2 for column in before)
    short = tuple(cell and shorten(cell, max(room, SHORTEST_NOTE)) for cell in notes.cells)
    return table_lines([*before, replace(notes, cells=short)], width)


def _row(entry: Entry, voice: Voice) -> tuple[str, ...]:
    """One entry in words, cell by cell."""
    what = _what(entry, voice)
    if entry.removed is not None:
        what = voice.say("log_marked_removed", what=what)
    when, value = _when(entry.time, voice), _value(entry, voice)
    return str(entry.id), when, entry.field, what, value, entry.note


def _sentence(entry: Entry, voice: Voice) -> str:
    """One entry in words: ``"bench, 2026-07-08 11:10 pm: whole windrow, 10.5 %"``."""
    what = ", ".join(text for text in (_what(entry, voice), _value(entry, voice)) if text)
    return f"{entry.field}, {_when(entry.time, voice)}: {what}"


def _when(time: np.datetime64, voice: Voice) -> str:
    """Date and time of day."""
    return f"{voice.local(time):%Y-%m-%d} {voice.clock(time)}"


def _what(entry: Entry, voice: Voice) -> str:
    """What was read or done."""
    from hayweather.log import LoggedReading, LoggedWork

    if isinstance(entry, LoggedReading):
        parts = [voice.say(f"log_kind_{entry.kind}")]
        parts += [voice.say(f"log_layer_{entry.layer}")] if entry.layer else []
        parts += [voice.say(f"log_method_{entry.method}")] if entry.method else []
    elif isinstance(entry, LoggedWork):
        parts = [voice.say(f"log_event_{entry.event}")]
        parts += [voice.say("log_until", end=voice.clock(entry.end))] if entry.end else []
        parts += [voice.machine(entry.machine)] if entry.machine else []
    else:
        parts = [voice.say("log_bales", count=getattr(entry, "count", None) or "?")]
    return ", ".join(parts)


def _value(entry: Entry, voice: Voice) -> str:
    """What was measured, as it was shown."""
    from hayweather.units import format_shown

    skin = getattr(entry, "skin_temperature_c", None)
    if skin is not None:
        return format_shown(skin, "temperature", voice.units)
    moisture = getattr(entry, "moisture_wb", None)
    return "" if moisture is None else f"{voice.signed(f'{moisture:g}')} %"


def _csv(
    farm: Farm, entries: Sequence[Entry], said: Sequence[str], voice: Voice, *, raw: bool
) -> str:
    """Every column of every entry."""
    from hayweather.show.table import csv_text

    rows = [[_cell(entry, name, farm) for name in FLAT] for entry in entries]
    return csv_text(FLAT, rows, [*_heads(farm, voice), *said, *_safety(farm)], raw=raw)


def _json(farm: Farm, entries: Sequence[Entry], said: Sequence[str], voice: Voice) -> str:
    """The same as data."""
    from hayweather.log.sheets import has_column
    from hayweather.show.table import json_text
    from hayweather.show.voice import safety_texts

    form = {
        "schema": SCHEMA,
        "farm": farm.name,
        "invented": farm.weather.invented,
        "log": _file_name(farm),
        "said": list(said),
        "entries": [
            {
                name: _cell(entry, name, farm)
                for name in FLAT
                if name == "what" or has_column(entry, name)
            }
            for entry in entries
        ],
        "cautions": safety_texts(voice),
    }
    return json_text(form)


def _cell(entry: Entry, name: str, farm: Farm) -> object:
    """One value for data."""
    from hayweather.log import LoggedReading, LoggedWork
    from hayweather.log.said import zone_of
    from hayweather.log.sheets import cell_of

    if name == "what":
        kinds = {LoggedReading: "reading", LoggedWork: "work"}
        return kinds.get(type(entry), "bales")
    return cell_of(entry, name, lambda field: zone_of(farm, field))
